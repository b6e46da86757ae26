"""One order by the list, with all that is charged or not: one price, read from what six verbs write."""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from model.scenario.choices import Decline, OverheadRule
from model.scenario.entities import Scenario
from model.scenario.records.trade import ListPrice
from tests.end_to_end.test_one_number import DAY, all_asked, told
from tests.end_to_end.test_one_number import book as plain_book
from tests.strategies import with_nursery

PLANTS, EXTRA = 64, ceil(64 * 0.05)
CHARGE = 5.0 * (64 * 9 / 10) * (1 - 0.1) + 12.0
"""64 plants in trays of ten billed as nine, 5.00 each, a tenth off for an early order, and a part tray."""
EACH = CHARGE / PLANTS
HEAD = "Price offered or listed (USD a plant)*"


def book(*, booked: bool, decline: Decline = Decline.NO) -> Scenario:
    """The book of one number, where the order asked for has the list's price instead of its own."""
    made = plain_book(booked=booked, rule=OverheadRule.PLANTS, decline=decline)
    first = replace(made.orders[0], price=2.0, extra_share=0.0)
    asked = [
        replace(order, price=None, quantity=PLANTS, ordered_day=made.nursery.first_day)
        for order in made.orders[1:]
    ]
    made = replace(
        made,
        orders=(first, *asked),
        list_prices=(ListPrice(first.product, 1, None, 5.0), ListPrice(first.product, 65, None, 3.0)),
        tray_formats=tuple(replace(t, billed=9) if t.format == "ten" else t for t in made.tray_formats),
    )
    charged: dict[str, Any] = {"least_charge": 200.0, "part_tray_charge": 12.0, "extra_share": 0.05}
    return with_nursery(made, **charged, early_discount=0.1, early_days=14)


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what the verbs wrote."""
    return all_asked(
        tmp_path_factory.mktemp("charged"),
        book(booked=False),
        book(booked=True),
        book(booked=True, decline=Decline.WHOLE),
    )


def test_the_charge_is_one_number(out: Path) -> None:
    """A plant billed: quote, prices, costs, accept, the offer sheet and the plan's sheet of orders."""
    assert told(out / "quote.xlsx", "Quote", Product="Red")[HEAD] == pytest.approx(EACH)
    prices = told(out / "prices.xlsx", "All weeks", **{"Due day": DAY})
    assert prices["Price by the list (USD a plant)*"] == pytest.approx(EACH)
    costs = told(out / "costs.xlsx", "Orders", Order="asked")
    assert costs["Its price (USD a plant)*"] == pytest.approx(EACH)
    assert told(out / "accept.xlsx", "Orders", Order="asked")["Price (USD a plant)*"] == pytest.approx(EACH)
    order = told(out / "plan.xlsx", "Orders", Order="asked")
    assert order["Price (USD a plant billed)"] == pytest.approx(EACH)
    assert order["Value delivered (USD)"] == pytest.approx(CHARGE)


def test_extra_plants_are_told_everywhere(out: Path) -> None:
    """They are delivered, and their cost is in what a plant billed adds."""
    order = told(out / "plan.xlsx", "Orders", Order="asked")
    assert (order["Plants ordered"], order["Of them extra"]) == (PLANTS + EXTRA, EXTRA)
    assert order["Own"] == PLANTS + EXTRA
    quote = told(out / "quote.xlsx", "Quote", Product="Red")
    assert (quote["Plants asked for"], quote["Of them extra, unbilled"]) == (PLANTS + EXTRA, EXTRA)
    each = quote["Adds (USD)"] / PLANTS
    assert quote["Adds a plant (USD)"] == pytest.approx(each)
    prices = told(out / "prices.xlsx", "All weeks", **{"Due day": DAY})
    assert prices["Adds a plant (USD)"] == pytest.approx(each)
    costs = told(out / "costs.xlsx", "Orders", Order="asked")
    assert costs["Adds a plant (USD)"] == pytest.approx(each)
    assert costs["Earns (USD)"] == pytest.approx(CHARGE - quote["Adds (USD)"])
    accept = told(out / "accept.xlsx", "Orders", Order="asked")
    assert accept["Worth taking from (USD a plant)"] == pytest.approx(each)


def test_sales_receipts_and_offer_are_the_charge(out: Path) -> None:
    """Result, receipts and cash hold the list's charge and the 200 of the order booked before."""
    result = openpyxl.load_workbook(out / "plan.xlsx", data_only=True)["Result"]
    sales = dict(result.iter_rows(max_col=2, values_only=True))["Sales"]
    assert sales == pytest.approx(CHARGE + 100 * 2.0)
    page = {
        row[0]: row[2] for row in openpyxl.load_workbook(out / "plan.xlsx", data_only=True)["Summary"].values
    }
    assert (page["Plants ordered"], page["Of them extra, not billed"]) == (100 + PLANTS + EXTRA, EXTRA)
    receipt = told(out / "plan.xlsx", "Receipts", Order="asked")
    assert receipt["Sales less late discount (USD)"] == pytest.approx(CHARGE)
    book_ = openpyxl.load_workbook(out / "offers.xlsx", data_only=True)
    cells = [[cell for cell in row if cell is not None] for row in book_.worksheets[0].values]
    said = {row[0]: row[1] for row in cells if len(row) > 1}
    assert said["Plants"] == f"{PLANTS} and {EXTRA} extra, not billed"
    assert said["Early order"].endswith("10.0% off the list price")
    money = next(row for row in cells if row and row[0] == PLANTS)
    assert money == pytest.approx([PLANTS, EACH, CHARGE])
