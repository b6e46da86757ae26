"""The same order and day, asked of five verbs: one number, read from the workbooks that they write."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from model.scenario.choices import Decline, OverheadRule, Task
from model.scenario.entities import Scenario
from model.scenario.records.people import LabourStandard, Shift
from model.scenario.records.trade import Customer, Run
from model.shortage.why_short import LUMPY
from scenarios.commands.command_line import DONE, SHORT, main
from scenarios.files.write_scenario import write_folder
from tests.scenario_parts import BAYS, crew
from tests.strategies import base_scenario, with_nursery, with_rows

PLANTS, OVERHEAD = 60, 100.0
DAY = "2027-03-19"
"""A Friday, the last working day of its week: `prices` asks for it too."""


def book(*, booked: bool, rule: OverheadRule, decline: Decline = Decline.NO) -> Scenario:
    """The base with a fixed cost of each wave and overhead; with the order booked or not.

    Joining takes a minute; the booked order of the base is grown twice over. With overhead by hours it has
    ``with_newer`` too.
    """
    base = with_nursery(
        base_scenario(),
        wave_cost=30.0,
        overhead=OVERHEAD,
        overhead_by=rule,
        working_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"),
    )
    base = replace(
        base,
        orders=(replace(base.orders[0], graft_margin=1.0),),
        crews=(crew("Growers", "work", heads=9.0),),
        labour_standards=(LabourStandard(Task.GRAFT, "work", None, None, 60.0),),
    )
    late = base.orders[0].due_day.fromisoformat(DAY)
    base = with_newer(base) if rule is OverheadRule.HOURS else base
    asked = replace(
        base.orders[0],
        order="asked",
        quantity=PLANTS,
        due_day=late,
        price=9.0,
        decline=decline,
        graft_margin=None,
    )
    return replace(base, orders=(*base.orders, asked)) if booked else base


def with_newer(made: Scenario) -> Scenario:
    """The book with a run, bays, a short Thursday, and seed of the scion that its customer sends."""
    (farm,) = {order.customer for order in made.orders}
    return replace(
        with_rows(made, "zones", lambda zone: replace(zone, cost_per_slot_day=0.05)),
        customers=(Customer(farm, run="coast"),),
        runs=(Run("coast", ("Wed", "Fri"), 30.0, 0.5, 40),),
        bays=BAYS,
        shifts=(Shift("Growers", ("Thu",), 5.0),),
        seed_lots=tuple(replace(row, customer=farm) if row.lot == "Red A" else row for row in made.seed_lots),
        packs=tuple(replace(row, price=0.0) if row.item == "Red A" else row for row in made.packs),
    )


def told(path: Path, sheet: str, **wanted: Any) -> dict[str, Any]:
    """The one row of a sheet, by heading, whose cells are as wanted."""
    rows = list(openpyxl.load_workbook(path, data_only=True)[sheet].iter_rows(values_only=True))
    for n, heads in enumerate(rows):
        if set(wanted) <= set(heads):
            of = [dict(zip(heads, row, strict=True)) for row in rows[n + 1 :]]
            return next(row for row in of if all(str(row[k]).startswith(v) for k, v in wanted.items()))
    raise AssertionError(f"no row of {sheet} has {wanted}")


def all_asked(place: Path, without: Scenario, with_it: Scenario, choice: Scenario, *quote: str) -> Path:
    """A folder with what six verbs write of an order.

    It is asked for beyond the book ``without``, booked last in ``with_it``, may be declined in ``choice``.
    """
    for name, scenario in {"without": without, "with": with_it, "choice": choice}.items():
        write_folder(scenario, place / name)
    it = with_it.orders[-1]
    quantity, who = ("--quantity", str(it.quantity)), ("--customer", it.customer)
    for verb, *books in (
        ("quote", "without", "--product", it.product, *quantity, "--due", str(it.due_day), *who, *quote),
        ("prices", "without", *quantity),
        ("costs", "with"),
        ("accept", "choice"),
        ("compare", "without", "with"),
        ("plan", "with"),
    ):
        given = [str(place / word) if word in ("without", "with", "choice") else word for word in books]
        assert main([verb, *given, "-o", str(place / "out")]) in (DONE, SHORT)
    return place / "out"


@pytest.fixture(scope="module", params=[OverheadRule.SLOT_DAYS, OverheadRule.HOURS])
def out(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what the verbs wrote, by each of two rules of overhead."""
    return all_asked(
        tmp_path_factory.mktemp("asked"),
        book(booked=False, rule=request.param),
        book(booked=True, rule=request.param),
        book(booked=True, rule=request.param, decline=Decline.WHOLE),
        "--price=9",
    )


def test_what_the_order_adds_is_one_number(out: Path) -> None:
    quote = told(out / "quote.xlsx", "Quote", Product="Red")
    adds, each = quote["Adds (USD)"], quote["Adds a plant (USD)"]
    assert adds > 0
    assert each == pytest.approx(adds / PLANTS)
    costs = told(out / "costs.xlsx", "Orders", Order="asked")
    assert costs["Adds (USD)"] == pytest.approx(adds)
    assert costs["Adds a plant (USD)"] == pytest.approx(each)
    compared = told(out / "compare.xlsx", "Causes", **{"Cause (cost line)": "total"})
    assert compared["Difference (USD)"] == pytest.approx(adds)
    accept = told(out / "accept.xlsx", "Orders", Order="asked")
    assert accept["Worth taking from (USD a plant)"] == pytest.approx(each)
    prices = told(out / "prices.xlsx", "All weeks", **{"Due day": DAY})
    assert prices["Adds a plant (USD)"] == pytest.approx(each)


def test_the_result_is_one_number(out: Path) -> None:
    """Page one, the statement, the sums over orders, customers and products, and the comparison."""
    plan = out / "plan.xlsx"
    rows = openpyxl.load_workbook(plan, data_only=True)["Result"].iter_rows(max_col=2, values_only=True)
    left = dict(rows)["Result"]
    assert left == pytest.approx(PLANTS * 9.0 - told(plan, "Costs", **{"Cost line": "Total"})["Amount (USD)"])
    for sheet, heading in (("order", "Customer"), ("customer", "Customer"), ("product", "Product")):
        total = told(plan, f"Result by {sheet}", **{heading: "Total"})
        assert total["Result (USD)"] == pytest.approx(left), sheet
    page = {row[0]: row[2] for row in openpyxl.load_workbook(plan, data_only=True)["Summary"].values}
    assert page["Result (USD)"] == pytest.approx(left)
    rows = openpyxl.load_workbook(out / "compare.xlsx", data_only=True)["Side by side"].values
    beside = next(row for row in rows if row[0] == "Result")
    assert beside[3] == pytest.approx(left)


def test_the_price_is_one_number(out: Path) -> None:
    price = told(out / "quote.xlsx", "Quote", Product="Red")["Price at profit margin (USD a plant)"]
    assert price > 0
    costs = told(out / "costs.xlsx", "Orders", Order="asked")
    assert costs["Price at profit margin (USD a plant)"] == pytest.approx(price)
    prices = told(out / "prices.xlsx", "All weeks", **{"Due day": DAY})
    assert prices["Price at profit margin (USD a plant)"] == pytest.approx(price)


def test_overhead_is_shared_by_one_rule(out: Path) -> None:
    """Prices bear it all; the plan's sheet tells for the product what costs tells for its orders."""
    asked = told(out / "costs.xlsx", "Orders", Order="asked")
    other = told(out / "costs.xlsx", "Orders", Order="O-1")
    borne = [row["Overhead a plant (USD)"] * row["Delivered"] for row in (asked, other)]
    assert sum(borne) == pytest.approx(OVERHEAD)
    quote = told(out / "quote.xlsx", "Quote", Product="Red")
    assert quote["Overhead a plant (USD)"] == pytest.approx(asked["Overhead a plant (USD)"])
    product = told(out / "plan.xlsx", "Products", Product="Red")
    assert product["Traced cost (USD)"] == pytest.approx(
        asked["Traced cost (USD)"] + other["Traced cost (USD)"]
    )
    assert product["Cost (USD a plant)"] > OVERHEAD / product["Plants delivered"]


def test_why_an_order_is_short_is_the_same_everywhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A hundred plants need a tray more than 99, which cost less with one short; the penalty is 8."""
    write_folder(with_nursery(base_scenario(), shortfall_penalty=8.0), tmp_path / "book")
    assert main(["plan", str(tmp_path / "book"), "-o", str(tmp_path / "out")]) == SHORT
    terminal = " ".join(capsys.readouterr().out.split())
    why = told(tmp_path / "out" / "plan.xlsx", "Orders", Order="O-1")["Why short"]
    assert why == LUMPY[True]
    assert "(proved)" in why
    assert why in terminal
    page = (tmp_path / "out" / "plan.html").read_text(encoding="utf-8")
    assert why in page
    front = openpyxl.load_workbook(tmp_path / "out" / "plan.xlsx").worksheets[0]
    lines = [str(cell.value) for row in front.iter_rows() for cell in row if cell.value]
    assert why in " ".join(lines)
