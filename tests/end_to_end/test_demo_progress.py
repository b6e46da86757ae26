"""The demo planned again from a day in March on which one graft day is known to have healed badly."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from reports.plan.csv_tables import write_plan_tables
from scenarios.commands.command_line import DONE, main
from scenarios.variants.by_name import read
from tests.demo import demo_plan

TODAY, GRAFTED, PRODUCT = date(2027, 3, 22), date(2027, 3, 10), "Amberfall on Stonebrook, 72"
OFFER = "tomato at short notice, 72"
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
    assert main(["replan", "hollow_ash", *last, *told, "-o", str(folder / "replan")]) == DONE
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


def test_the_order_that_waits_for_them_gets_plants_at_short_notice(made: Path) -> None:
    """It alone: no order is short, and nobody else is served by the offer."""
    last, new = (pd.read_csv(made / name / "tables" / "deliveries.csv") for name in ("plan", "replan"))
    waits = last["order"][(last["graft_day"] == str(GRAFTED)) & (last["product"] == PRODUCT)]
    bought = new[new["offer"] == OFFER]
    assert bought["order"].tolist() == sorted(set(waits)) == ["HA-001"]
    assert not (last["offer"] == OFFER).any()
    orders = pd.read_csv(made / "replan" / "tables" / "orders.csv").set_index("order")
    assert orders["short"].max() == 0
    assert orders["bought"]["HA-001"] == bought["plants"].sum() > 1000


def cures(made: Path) -> pd.DataFrame:
    """The ways to go on as the workbook tells them, by their names."""
    rows = list(openpyxl.load_workbook(made / "replan" / "replan.xlsx", data_only=True)["Cures"].values)
    start = next(n for n, row in enumerate(rows) if row[0] == "Way")
    return pd.DataFrame(rows[start + 1 :], columns=rows[start]).dropna(subset="Way").set_index("Way")


def test_without_a_cure_that_order_alone_is_short_of_them(made: Path, demo: Scenario) -> None:
    """By the joins lost that would have been finished, less the plants that were margin."""
    left = cures(made).loc["ship part"]
    short = [column for column in left.index if column.endswith(", short (plants)")]
    assert short == ["HA-001, short (plants)"]
    row = poor(demo)
    flows = pd.read_csv(made / "plan" / "tables" / "flows.csv").set_index(["product", "graft_day"])
    flow = flows.loc[(PRODUCT, str(GRAFTED))]
    assert row.counted is not None
    lost = (flow["healed"] - row.counted) * flow["finished"] / flow["healed"]
    deliveries = pd.read_csv(made / "plan" / "tables" / "deliveries.csv")
    margin = deliveries["margin_plants"][deliveries["graft_day"] == str(GRAFTED)].sum()
    assert left[short[0]] == pytest.approx(lost - margin, rel=0.01)


def test_a_later_delivery_of_the_rest_is_the_cheapest_cure_and_leaves_most(made: Path) -> None:
    """Buying in fills the order too, for more; shipping part is dearest by its penalties."""
    told = cures(made)
    costs, result = told["Cost of the season, with penalties (USD)"].dropna(), told["Result (USD)"].dropna()
    assert costs.idxmin() == result.idxmax() == "the rest 28 days later"
    assert told["Short in all (plants)"][["buy in", "the rest 28 days later"]].tolist() == [0, 0]
    assert costs["the rest 28 days later"] < costs["buy in"] < costs["ship part"] == costs.max()


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
