"""The page for the customer: what it says, what it refuses, and that its workbook follows the numbers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from model.scenario.entities import Product, Scenario
from reports.study.study import Study, write_study
from scenarios.cells.faults import Refused
from scenarios.studies.payback import Field, payback_study
from tests.scenario_parts import order
from tests.strategies import base_scenario
from tests.workbooks import find, formula_cells, recalculated

GIVEN: dict[str, Any] = {
    "product": None,
    "grafted_price": 0.75,
    "own_root_price": 0.175,
    "plants": 2_000.0,
    "grafted_plants": None,
    "own_root_yield": 40.0,
    "grafted_yield": 56.0,
    "fruit_price": 400.0,
    "harvest_cost": 20.0,
    "other_costs": -300.0,
    "area": "ha",
    "unit": "t",
}


def study(scenario: Scenario | None = None, **changes: Any) -> Study:
    return payback_study(scenario or base_scenario(), **(GIVEN | changes))


def test_the_answer_says_gain_break_even_price_and_plants() -> None:
    """1,150 more for plants, 850 in all; a tonne leaves 380: 2.24 t. 16 t leave 6,080: 5,230 are gained."""
    first, second, third, price, plants = study().answer
    assert first == (
        "At 56.00 t against 40.00 t a ha, grafted plants pay: the customer gains 5,230.00 USD a ha."
    )
    assert second.startswith("They pay from 42.24 t a ha on, 2.24 t more than own-root, at 380.0000 USD a t")
    assert third == "Grafted plants cost 1,150.00 USD a ha more, all costs together 850.00 USD."
    assert "that pays at the yield expected is 3.3650 USD" in price
    assert "Up to 8,973.3 grafted plants a ha pay at the yield expected, 349% more" in plants


def test_without_more_yield_only_fewer_plants_pay() -> None:
    """At the same yield 2,000 own-root plants at 0.175, and 300 saved, pay for 866.7 grafted ones."""
    told = study(grafted_yield=None).answer
    assert told[0].startswith("They pay from 42.24 t")
    assert "Up to 866.7 grafted plants a ha pay at the same yield, 57% fewer than the 2,000" in told[-1]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"harvest_cost": 400.0}, "More yield never pays"),
        ({"grafted_plants": 500.0}, "They pay without any more yield: they save 275.00 USD a ha."),
        ({"grafted_yield": 20.0}, "Even free plants would not pay at the yield expected."),
        ({"grafted_yield": 41.0}, "the customer loses 470.00 USD a ha"),
    ],
)
def test_cases_without_a_break_even_say_so(changes: dict[str, Any], says: str) -> None:
    assert says in " ".join(study(**changes).answer)


def test_prices_come_from_the_order_book() -> None:
    """Mean prices by plants: 1.40 for the grafted product, 0.30 for its scion on its own roots."""
    base = base_scenario()
    own = Product("Red own-root", "tomato", "Red", None, "splice", "ten")
    priced = (
        replace(base.orders[0], price=1.5, quantity=30),
        order("more", base.orders[0].product, 10, 15, price=1.1),
        order("own", own.product, 50, 15, price=0.3),
    )
    book = replace(base, orders=priced, products=(*base.products, own))
    found = study(book, product=base.orders[0].product, grafted_price=None, own_root_price=None)
    assert [given.value for given in found.inputs[:2]] == [pytest.approx(1.4), pytest.approx(0.3)]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"grafted_price": None}, "--product"),
        ({"grafted_price": None, "product": "Rde"}, "there is no product 'Rde'"),
        ({"grafted_price": None, "product": "Red on Stout"}, "--grafted-price"),
        ({"own_root_price": None, "product": "Red on Stout"}, "--own-root-price"),
    ],
)
def test_a_missing_price_is_refused_with_a_remedy(changes: dict[str, Any], says: str) -> None:
    base = base_scenario()
    book = replace(base, orders=tuple(replace(o, price=None) for o in base.orders))
    with pytest.raises(Refused, match=says):
        study(book, **changes)


def test_the_workbook_follows_its_numbers(tmp_path: Path) -> None:
    """Every formula comes to its value; with other numbers typed in, to those of the program."""
    path = tmp_path / "payback.xlsx"
    write_study(study(), path)
    value = recalculated(path)
    held = formula_cells(path)
    assert len(held) > 60
    assert {at: value(*at) for at in held} == {at: pytest.approx(v, abs=1e-6) for at, v in held.items()}
    book = openpyxl.load_workbook(path)
    page, typed = book["Answer"], {"Price of a grafted plant (USD)": 1.1, "Grafted plants a ha": 1_500.0}
    for label, number in typed.items():
        row, column = find(page, label)
        page.cell(row, column + 1).value = number
    book.save(tmp_path / "typed.xlsx")
    again = recalculated(tmp_path / "typed.xlsx")
    field = Field(1.1, 0.175, 1_500.0, 2_000.0, 40.0, 400.0, 20.0, -300.0, 56.0)
    for label, wanted in {
        "Break-even yield, all costs (t a ha)": field.break_even_yield,
        "Gain at the yield expected (USD a ha)": field.gain,
        "Highest price of a grafted plant that pays (USD)": field.highest_price,
        "Most grafted plants that pay (a ha)": field.most_plants,
    }.items():
        row, column = find(page, label)
        assert again("Answer", page.cell(row, column + 1).coordinate) == pytest.approx(wanted), label
