"""Limits that may be exceeded: their rows, what their relief weighs and costs, and what it cannot do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from model.network.expansion import expand
from model.program.build import build
from model.program.program import Program
from model.scenario.choices import MethodKind, Source
from model.scenario.entities import Scenario, ZoneDay
from model.scenario.records.people import CrewDay
from model.scenario.records.trade import BuyInOffer
from model.shortage.elastic import (
    Elastic,
    LimitOn,
    filled,
    hour_at_most,
    most_there_is,
    optimum,
    rows_of_limits,
    short_orders,
)
from model.solver.compiled import Compiled, compile_program
from tests.scenario_parts import WEEK, WORK, crew, day, lot, method, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

GRAFT = 11
"""The one graft day of 100 plants due on day 16 that may not be held."""

TRAY = 8.1 * 0.9 * 0.8 * 0.95
"""Plants of a tray of rootstock."""


def scenario(slots: float = 10.0, quantity: int = 100, penalty: float = 50.0, **changes: Any) -> Scenario:
    """An order that may not be held, and so many slots in the chamber."""
    held = method("splice", MethodKind.ON_TRAY, holding_limit_days=0)
    asked = order("O-1", "Red on Stout", quantity, 16, shortfall_penalty=penalty)
    made = base_scenario(methods=(held,), orders=(asked,), **changes)
    return with_rows(made, "zones", lambda z: replace(z, slots=slots) if z.zone == "Chamber" else z)


def offer(most: int | None, price: float = 3.0, least: int = 0) -> BuyInOffer:
    return BuyInOffer("Neighbour", "Red on Stout", price, 1, WEEK, day(16), day(16), least, most)


def made(of: Scenario) -> tuple[Program, Compiled]:
    program = build(expand(of))
    return program, compile_program(program)


def elastic(of: Scenario) -> Elastic:
    return Elastic(*made(of))


CHAMBER = {LimitOn("slots", "Chamber", day(GRAFT + n)) for n in range(3)}
MORE = LimitOn("buy-in", "Neighbour", day(16))


def test_each_limit_has_its_rows() -> None:
    """Slots by day, the most of a delivery but not its least, and stock of what cannot be bought in time."""
    program, compiled = made(scenario(buy_in_offers=(offer(80, least=30),)))
    rows = rows_of_limits(program, compiled)
    chamber = {limit: at for limit, at in rows.items() if limit.name == "Chamber"}
    assert chamber == {
        LimitOn("slots", "Chamber", day(t)): [compiled.rows["slots"]["Chamber", str(day(t))]]
        for t in range(GRAFT, GRAFT + 3)
    }
    assert rows[MORE] == [compiled.rows["buy_in_quantity"]["Neighbour", str(day(16)), "most"]]
    assert {limit.kind for limit in rows} == {"slots", "buy-in"}
    assert len({row for at in rows.values() for row in at}) == len(rows)


def test_stock_that_cannot_be_bought_is_one_limit_of_all_its_rows() -> None:
    """Red A is in stock, and not for sale; Stout A is on sale, from day 19 on."""
    lots = (lot("Red A", "Red", stock=50), lot("Stout A", "Stout", stock=0, lead_days=19))
    of = scenario(1000.0, seed_lots=lots, packs=base_scenario().packs[1:])
    program, compiled = made(of)
    rows = rows_of_limits(program, compiled)
    stock = {limit: at for limit, at in rows.items() if limit.kind == "stock"}
    labels = {group: compiled.rows.get(group, {}) for group in ("stock", "packs")}
    assert set(stock) == {LimitOn("stock", "Red A", None), LimitOn("stock", "Stout A", None)}
    red = {row for group in labels.values() for label, row in group.items() if label[0] == "Red A"}
    stout = {row for label, row in labels["stock"].items() if label[0] == "Stout A"}
    assert set(stock[LimitOn("stock", "Red A", None)]) == red
    assert set(stock[LimitOn("stock", "Stout A", None)]) == stout
    assert ("Stout A",) in labels["packs"]


def worked() -> Scenario:
    """Two crews that graft and one that does not, on different pay, with a day of more hands or pay."""
    return scenario(
        labour_standards=WORK,
        crews=(
            crew(
                "Slow",
                "grafting",
                heads=2.0,
                pay_per_hour=20.0,
                pace=0.5,
                overtime_hours_per_head_day=1.0,
                overtime_pay_per_hour=35.0,
            ),
            crew("Fast", "grafting", "general", heads=1.0, pay_per_hour=50.0),
            crew("Growers", "general", heads=9.0, pay_per_hour=99.0),
        ),
        crew_days=(CrewDay("Fast", day(5), 3.0, None), CrewDay("Fast", day(6), None, 65.0)),
        zone_days=(ZoneDay("Chamber", day(9), 12.0),),
        buy_in_offers=(offer(80), replace(offer(None), offer="No most")),
    )


@pytest.mark.parametrize(
    "limit, most",
    [
        (LimitOn("slots", "Chamber", day(GRAFT)), 12.0),
        (LimitOn("slots", "House", day(GRAFT)), 1000.0),
        # 2 hands of 9 hours at half the pace, and 3 hands of 8 on day 5.
        (LimitOn("hours", "grafting", day(GRAFT)), 2 * 9 * 0.5 + 3 * 8),
        (LimitOn("hours", "general", day(GRAFT)), 9 * 8 + 3 * 8),
        (LimitOn("buy-in", "Neighbour", day(16)), 80.0),
        (LimitOn("buy-in", "No most", day(16)), 0.0),
    ],
)
def test_the_largest_value_of_a_limit(limit: LimitOn, most: float) -> None:
    assert most_there_is(made(worked())[0], limit) == pytest.approx(most)


def test_the_largest_value_of_stock_and_units() -> None:
    program, _ = made(SPECIMENS["packs"])
    assert most_there_is(program, LimitOn("stock", "Stout A", None)) == 120.0
    program, _ = made(replace(SPECIMENS["units"], modules=()))
    assert most_there_is(program, LimitOn("units", "Chamber", day(9))) == 1.0


def test_an_hour_costs_what_the_dearest_hour_of_any_crew_costs_at_the_standard_pace() -> None:
    """Overtime of the slow crew is 35 for half an hour's work."""
    program, _ = made(worked())
    assert hour_at_most(program, "grafting") == 70.0
    assert hour_at_most(program, "general") == 99.0
    assert hour_at_most(program, "unknown") == 0.0
    dear = with_rows(worked(), "crews", lambda row: replace(row, overtime_pay_per_hour=None))
    assert hour_at_most(made(dear)[0], "grafting") == 65.0


@pytest.mark.parametrize("most, kind", [(18, "slots"), (19, "buy-in")])
def test_relief_is_weighed_by_its_share_of_the_limit(most: int, kind: str) -> None:
    """A plant takes 3 slot days of 10 for a part of 1 / 5.54 of a tray, or one plant of those delivered."""
    assert 18 < 10 * TRAY / 3 < 19
    relief, short = elastic(scenario(quantity=200, buy_in_offers=(offer(most),))).solve(["O-1"], None)
    assert {limit.kind for limit in relief} == {kind}
    assert short == {}
    over = 200 - most - 10 * TRAY
    if kind == "slots":
        assert relief == pytest.approx(dict.fromkeys(CHAMBER, over / TRAY))
    else:
        assert relief == pytest.approx({MORE: over})


def test_relief_alone_minds_no_cost_and_relief_at_a_price_does() -> None:
    """Plants at 1,000 spare the slots where cost does not count."""
    dear = elastic(scenario(buy_in_offers=(offer(None, 1000.0),)))
    assert dear.solve(["O-1"], None) == ({}, {})
    relief, short = dear.solve(["O-1"], 0.0)
    assert (set(relief), short) == (CHAMBER, {})
    assert relief == pytest.approx(dict.fromkeys(CHAMBER, 100 / TRAY - 10))


@pytest.mark.parametrize("price, short", [(890.0, False), (906.0, True)])
def test_relief_is_used_while_it_costs_less_than_the_penalty(price: float, short: bool) -> None:
    """A plant costs 1.354 of seed and 3 / 10 / 5.54 of the price; its penalty is 50."""
    limit = (50 - 0.75 / (0.8 * 0.95 * 0.9 * 0.81)) * 10 * TRAY / 3
    assert 890 < limit < 906
    relief, left = elastic(scenario()).solve((), price)
    assert left == (pytest.approx({"O-1": 100 - 10 * TRAY}) if short else {})
    assert set(relief) == (set() if short else CHAMBER)


@pytest.mark.parametrize("penalty, short", [(8.6, True), (8.7, False)])
def test_extra_hours_are_paid(penalty: float, short: bool) -> None:
    """Grafting a plant takes 200 seconds / .76 at 100 an hour: 7.31, and 1.354 of seed."""
    of = scenario(
        1000.0,
        penalty=penalty,
        labour_standards=tuple(row for row in WORK if row.skill == "grafting"),
        crews=(crew("Grafters", "grafting", heads=0.5, pay_per_hour=100.0),),
    )
    relief, left = elastic(of).solve((), 0.001)
    hours = 100 / 0.76 * 200 / 3600 - 4
    assert left == (pytest.approx({"O-1": 100}) if short else {})
    assert relief == ({} if short else pytest.approx({LimitOn("hours", "grafting", day(GRAFT)): hours}))


def test_orders_short_whatever_the_limits_and_the_cost() -> None:
    """Neither no slots nor a penalty below the cost makes an order unfillable; no way to it does."""
    early = order("early", "Red on Stout", 10, 2)
    both = scenario(0.0, penalty=0.1)
    assert elastic(both).unfillable() == set()
    assert elastic(replace(both, orders=(*both.orders, early))).unfillable() == {"early"}
    bought = with_rows(
        scenario(buy_in_offers=(offer(0),)), "products", lambda p: replace(p, source=Source.BUY)
    )
    assert elastic(bought).unfillable() == set()


def test_orders_named_may_not_be_short_and_others_may() -> None:
    of = scenario(1000.0, penalty=0.1)
    of = replace(of, orders=(*of.orders, replace(of.orders[0], order="O-2", quantity=40)))
    program, compiled = made(with_nursery(of, overhead=7.0))
    assert short_orders(program, compiled, optimum(compiled)) == pytest.approx({"O-1": 100, "O-2": 40})
    forced = filled(program, compiled, ["O-2"])
    assert short_orders(program, compiled, optimum(forced)) == pytest.approx({"O-1": 100})
    columns = compiled.position["short"]
    assert (forced.lower[columns[1]], forced.upper[columns[1]]) == (0.0, 0.0)
    changed = np.flatnonzero((forced.upper != compiled.upper) | (forced.lower != compiled.lower))
    assert changed.tolist() == [columns[1]]
