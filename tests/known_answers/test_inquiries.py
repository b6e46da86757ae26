"""Plants held for inquiries: a newsvendor's table, and books worked by hand.

Source: the example of ordering calendars at a bookstore, Albright and Winston, Business Analytics (the table
of expected profits read in a course's copy). A calendar costs 7.50, sells at 10 and is taken back at 2.50;
100 to 300 are asked for with the chances below. Expected profits of ordering 100, 150 ... are printed: 250,
262.50, 200, 25, -206.25; best 150.

Mapping: a calendar is a plant, its cost that of its seed. The numbers asked for are rows of one inquiry,
which exclude each other. Taken back: salvage.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from model.inquiries.demand import demands
from model.inquiries.expected import expected_of
from model.scenario.entities import Scenario
from model.scenario.records.trade import Inquiry
from model.solve import plan, solve
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder
from scenarios.holding.hold import cancellable, hold_study, holding
from scenarios.variants.variants import read_case
from tests.known_answers.build import day, lot, order, own_root, seed_price, through_tables

CHANCES = {100: 0.30, 150: 0.20, 200: 0.30, 250: 0.15, 300: 0.05}
PROFITS = {100: 250.0, 150: 262.50, 200: 200.0, 250: 25.0, 300: -206.25}
COST = 7.5


def inquiry(name: str, quantity: int, price: float, chance: float, grows: str | None = None) -> Inquiry:
    """An inquiry for plants due on day 3."""
    return Inquiry(name, "customer", "plant", quantity, day(3), price, chance, grows)


def book(cost: float, *inquiries: Inquiry, **changes: Any) -> Scenario:
    """An order of 20 plants due on day 3 at a price of 2, changed; a plant costs what its seed costs."""
    made = own_root(5, [order("booked", 20, 3, price=2.0, **changes)], packs=(seed_price(cost),))
    return replace(made, inquiries=inquiries, seed_lots=(lot(stock=0),))


def test_expected_profits_of_the_bookstore(tmp_path: Path) -> None:
    asked = [inquiry("calendars", quantity, 10.0, chance) for quantity, chance in CHANCES.items()]
    plain = book(COST, *asked)
    taken_back = replace(plain.products[0], salvage_price=2.5, salvage_most=1000)
    scenario = through_tables(replace(plain, products=(taken_back,)), tmp_path)
    (demand,) = demands(scenario)
    profits = {quantity: demand.sales(quantity) - COST * quantity for quantity in CHANCES}
    assert profits == pytest.approx(PROFITS)
    found = holding(scenario, solve(scenario))
    assert found.held.plants == 150
    assert found.gain == pytest.approx(262.50)
    assert found.held.result - found.nothing.result == pytest.approx(262.50)


BOTH = inquiry("A", 100, 2.0, 0.5), inquiry("B", 60, 3.0, 0.4)
"""Asked for: 0, 60, 100 or 160 plants with chances 0.3, 0.2, 0.3 and 0.2.

A plant earns 0.4 · 3 + 0.3 · 2 = 1.80 up to 60, 0.5 · 2 = 1.00 up to 100, 0.2 · 2 = 0.40 up to 160."""


@pytest.mark.parametrize(
    ("cost", "plants", "earned"), [(1.9, 0, 0), (1.2, 60, 36), (0.9, 100, 58), (0.3, 160, 124)]
)
def test_two_inquiries_by_hand(tmp_path: Path, cost: float, plants: int, earned: float) -> None:
    scenario = through_tables(book(cost, *BOTH), tmp_path)
    (demand,) = demands(scenario)
    assert demand.steps(9) == [(60, pytest.approx(1.8)), (40, pytest.approx(1.0)), (60, pytest.approx(0.4))]
    found = holding(scenario, solve(scenario))
    assert found.held.plants == plants
    assert found.gain == pytest.approx(earned)
    assert found.nothing.booked.result == pytest.approx(20 * (2 - cost))
    assert found.held.booked.result == pytest.approx(20 * (2 - cost) - plants * cost)
    assert demand.all_sold(100) == pytest.approx(0.5)
    assert demand.sold(100) == pytest.approx(0.2 * 60 + 0.5 * 100)


def test_plants_of_a_cancelled_order_serve_inquiries(tmp_path: Path) -> None:
    """20 plants free with the chance 0.2, and an inquiry for 30 at 3 with the chance 0.5.

    Freed and asked for: 20 are resold at 3, chance 0.1: 6. Beyond those freed, 30 are asked for with the
    chance 0.4 and 10 with 0.1: a plant held earns 1.50 up to 10 and 1.20 up to 30.
    """
    asked = inquiry("A", 30, 3.0, 0.5)
    scenario = through_tables(book(1.3, asked, cancel_chance=0.2, cancel_kept=0.25), tmp_path)
    found = holding(scenario, solve(scenario))
    assert found.held.plants == 10
    assert found.held.resold == pytest.approx(6.0)
    assert found.held.cancelled == pytest.approx(0.2 * 0.75 * 40)
    assert found.held.result == pytest.approx(20 * (2 - 1.3) - 6 + 6 + 10 * (1.5 - 1.3))


def test_an_order_cancelled_does_not_grow(tmp_path: Path) -> None:
    """30 more are asked for with the chance 0.5 where the order stands: 0.4 in all, and nothing is resold."""
    scenario = through_tables(book(1.1, inquiry("A", 30, 3.0, 0.5, "booked"), cancel_chance=0.2), tmp_path)
    (demand,) = demands(scenario)
    assert demand.steps(9) == [(30, pytest.approx(1.2))]
    assert demand.resold == 0


@pytest.mark.parametrize(("kept", "earned"), [(0.0, -10 / 5), (0.2, 0.0), (0.3, 5 / 5)])
def test_a_deposit_by_hand(tmp_path: Path, kept: float, earned: float) -> None:
    """20 plants at 2, cancelled with the chance 0.25, cost 1.60 each: 30 expected, 32 spent.

    A fifth of the price kept, 8, with the chance 0.25 makes it even.
    """
    scenario = through_tables(book(1.6, cancel_chance=0.25, cancel_kept=kept), tmp_path)
    (risky,) = cancellable(scenario, plan(scenario), workers=1)
    assert risky.least_kept == pytest.approx(0.2)
    assert risky.deposit_worth == pytest.approx(0.25 * kept * 40)
    assert risky.earned == pytest.approx(earned)


def test_the_variant_holds_the_plants(tmp_path: Path) -> None:
    """Its plan has the plants as an order without a price, and leaves what the study says; once is enough."""
    write_folder(book(0.9, *BOTH), tmp_path / "book")
    study = hold_study(read_scenario(tmp_path / "book"), parent="book", workers=1)
    ((file, text),) = study.files
    (tmp_path / file).write_text(text, encoding="utf-8")
    held = read_case(tmp_path / file).scenario
    (mine,) = (row for row in held.orders if row.held)
    assert (mine.quantity, mine.price, mine.due_day) == (100, None, day(3))
    found = expected_of(held, plan(held))
    told = {figure.label: figure.value for figure in study.figures}
    assert told["Result expected (USD)"] == pytest.approx(found.result)
    assert told["Result as booked, plants held and not sold (USD)"] == pytest.approx(found.booked.result)
    again = hold_study(held, parent=file, workers=1)
    assert [figure.value for figure in again.figures] == [figure.value for figure in study.figures]
