"""The demo planned again from a day in March on which one graft day is known to have healed badly."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from model.scenario.choices import Happened
from model.scenario.entities import Progress, Scenario
from reports.plan.csv_tables import write_plan_tables
from scenarios.commands.command_line import DONE, SHORT, main
from scenarios.variants.by_name import read
from tests.demo import demo_plan

TODAY, GRAFTED, PRODUCT = date(2027, 3, 18), date(2027, 3, 10), "Amberfall on Stonebrook, 72"
FILE = "hollow_ash/records/progress.csv"


@pytest.fixture(scope="module")
def demo() -> Scenario:
    return read("hollow_ash", today=TODAY, progress=FILE)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("march")
    write_plan_tables(demo_plan(), folder / "plan" / "tables")
    told = ["--progress", FILE, "--today", str(TODAY)]
    last = ["--last", str(folder / "plan")]
    assert main(["replan", "hollow_ash", *last, *told, "-o", str(folder / "replan")]) == SHORT
    return folder


def poor(demo: Scenario) -> Progress:
    """The row of the joins that healed badly."""
    (row,) = (row for row in demo.progress if row.counted is not None)
    return row


def test_it_tells_what_was_done_in_whole_numbers(demo: Scenario) -> None:
    assert {row.what for row in demo.progress} == {
        Happened.SOWN,
        Happened.GRAFTED,
        Happened.PACKS,
        Happened.HIRED,
        Happened.BOUGHT_IN,
    }
    assert all(row.number.is_integer() and row.number > 0 and row.day < TODAY for row in demo.progress)


def test_three_fifths_of_one_graft_day_healed(demo: Scenario) -> None:
    row = poor(demo)
    assert (row.what, row.day, row.product) == (Happened.GRAFTED, GRAFTED, PRODUCT)
    assert row.counted == round(0.6 * row.number)
    assert row.note is not None
    assert "invented" in row.note


def test_the_new_plan_has_the_joins_as_counted(demo: Scenario, made: Path) -> None:
    row = poor(demo)
    flows = pd.read_csv(made / "replan" / "tables" / "flows.csv").set_index(["product", "graft_day"])
    flow = flows.loc[(PRODUCT, str(GRAFTED))]
    assert flow["joins"] == pytest.approx(row.number)
    assert flow["healed"] == pytest.approx(row.counted)


def test_only_the_order_that_waits_for_them_is_short_of_them(made: Path) -> None:
    orders = pd.read_csv(made / "replan" / "tables" / "orders.csv").set_index("order")
    short = orders.index[orders["short"] > 0].tolist()
    deliveries = pd.read_csv(made / "plan" / "tables" / "deliveries.csv")
    grafted = deliveries["graft_day"] == str(GRAFTED)
    waits = deliveries["order"][grafted & (deliveries["product"] == PRODUCT)]
    assert short == sorted(set(waits)) == ["HA-001"]


def test_a_later_delivery_of_the_rest_costs_least_of_the_cures(made: Path) -> None:
    rows = list(openpyxl.load_workbook(made / "replan" / "replan.xlsx", data_only=True)["Cures"].values)
    start = next(n for n, row in enumerate(rows) if row[0] == "Way")
    costs = {row[0]: row[2] for row in rows[start + 1 :] if row[0] and row[2] is not None}
    assert min(costs, key=lambda way: costs[way]) == "the rest 28 days later"


def test_work_and_replan_of_the_demo_run_one_after_the_other(tmp_path: Path) -> None:
    """The forecast of the first week's work is progress that the next plan takes, and nothing changes."""
    last, work, again = tmp_path / "plan", tmp_path / "work", tmp_path / "again"
    assert main(["plan", "hollow_ash", "-o", str(last)]) == DONE
    assert main(["work", "hollow_ash", "-o", str(work)]) == DONE
    told = str(work / "progress_as_planned.csv")
    assert main(["replan", "hollow_ash", "--last", str(last), "--progress", told, "-o", str(again)]) == DONE
    rows = dict(
        openpyxl.load_workbook(again / "replan.xlsx")["Answer"].iter_rows(max_col=2, values_only=True)
    )
    assert rows["Jobs that change"] == 0
    assert rows["Today"].date() == date(2027, 2, 24)
