"""An order asked of six verbs, in nurseries unlike the demo: one number or a named difference."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from model.scenario.choices import Decline
from model.scenario.entities import Order, Scenario
from tests.end_to_end.test_one_number import all_asked, told
from tests.nurseries import NURSERIES


@pytest.fixture(scope="module", params=NURSERIES)
def made(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Scenario, Order, Path]:
    """The nursery with the order booked, the order, and a folder with what the verbs wrote."""
    nursery, order = NURSERIES[request.param]
    without = nursery()
    with_it = replace(without, orders=(*without.orders, order))
    choice = replace(without, orders=(*without.orders, replace(order, decline=Decline.WHOLE)))
    place = tmp_path_factory.mktemp(request.param)
    return with_it, order, all_asked(place, without, with_it, choice, f"--price={order.price}")


def test_what_the_order_adds_is_one_number(made: tuple[Scenario, Order, Path]) -> None:
    scenario, order, out = made
    money = scenario.nursery.currency
    adds, each = f"Adds ({money})", f"Adds a plant ({money})"
    quote = told(out / "quote.xlsx", "Quote", Product=order.product)
    delivered = quote["Plants deliverable"]
    assert quote[each] == pytest.approx(quote[adds] / delivered)
    costs = told(out / "costs.xlsx", "Orders", Order="asked")
    assert (costs["Delivered"], costs[adds]) == pytest.approx((delivered, quote[adds]))
    planned = told(out / "plan.xlsx", "Orders", Order="asked")
    assert planned["Short"] == pytest.approx(order.quantity - delivered)
    rows = openpyxl.load_workbook(out / "compare.xlsx", data_only=True)["Side by side"].values
    beside = {row[0]: row[3] for row in rows}
    plain = "Cost less the base's"
    compared = beside["Cost without penalties less the base's"] if plain not in beside else beside[plain]
    assert compared == pytest.approx(quote[adds])
    prices = told(out / "prices.xlsx", "All weeks", Product=order.product, **{"Due day": str(order.due_day)})
    assert prices["Plants deliverable"] == pytest.approx(delivered)
    assert prices[each] == pytest.approx(quote[each])
    price = f"Price at profit margin ({money} a plant)"
    assert prices[price] == pytest.approx(quote[price])
    assert costs[price] == pytest.approx(quote[price])


def test_what_the_whole_order_adds_is_named_where_the_plan_leaves_some_of_it_short(
    made: tuple[Scenario, Order, Path],
) -> None:
    """``accept`` tells what the whole order adds. ``quote`` tells the same, and calls it all of the order."""
    scenario, order, out = made
    money = scenario.nursery.currency
    quote = told(out / "quote.xlsx", "Quote", Product=order.product)
    accept = told(out / "accept.xlsx", "Orders", Order="asked")[f"Worth taking from ({money} a plant)"]
    rows = openpyxl.load_workbook(out / "quote.xlsx", data_only=True)["Answer"].values
    answer = " ".join(str(row[0]) for row in rows if row[0])
    named = re.search(rf"All {order.quantity} of it can be delivered too.* add\s+([\d,.]+)", answer)
    whole = quote["Plants deliverable"] == order.quantity
    assert (named is None) is whole
    if named is None:
        assert accept == pytest.approx(quote[f"Adds a plant ({money})"])
    else:
        assert round(accept * order.quantity) == pytest.approx(float(named[1].replace(",", "")), abs=0.6)


def test_every_booked_order_adds_what_a_quote_of_it_would(made: tuple[Scenario, Order, Path]) -> None:
    """None is left out, though some order may be shorter in the book with it than without."""
    scenario, _, out = made
    for order in scenario.orders:
        costs = told(out / "costs.xlsx", "Orders", Order=order.order)
        assert costs[f"Adds ({scenario.nursery.currency})"] > 0


def test_no_sheet_shows_less_than_nothing_for_nothing(made: tuple[Scenario, Order, Path]) -> None:
    for path in made[-1].glob("*.xlsx"):
        for sheet in openpyxl.load_workbook(path, data_only=True):
            for cell in (cell for row in sheet.iter_rows() for cell in row):
                if isinstance(cell.value, float):
                    assert cell.value >= 0 or cell.value < -1e-9, (path.name, sheet.title, cell.coordinate)
                elif isinstance(cell.value, str):
                    assert re.search(r"-0(\.0+)?(?![\d.-])", cell.value) is None or "20" in cell.value
