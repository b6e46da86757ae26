"""The verb that plans again from today, as a user meets it; runs that are killed, and two runs at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from icalendar import Calendar

from model.planned.plan_tables import PLAN_TABLES, Plan
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.season.as_planned import as_planned
from model.solve import plan
from scenarios.commands.command_line import BAD_INPUT, DONE, SHORT, main
from scenarios.files.write_scenario import write_folder
from tests.places import visible
from tests.strategies import base_scenario, with_nursery


@cache
def planned() -> tuple[Scenario, Plan]:
    scenario = base_scenario()
    return scenario, plan(scenario)


def on(place: Path, days: int, healed: float | None = None) -> str:
    """The scenario's folder from a day after the graft day, all as planned but for the joins healed."""
    scenario, before = planned()
    today = before.flows["graft_day"].max() + timedelta(days=days)
    rows = tuple(
        replace(row, counted=round(row.number * healed))
        if healed is not None and row.what is Happened.GRAFTED
        else row
        for row in as_planned(before, today)
    )
    whole = tuple(replace(row, number=float(round(row.number))) for row in rows)
    write_folder(with_nursery(replace(scenario, progress=whole), today=today), place)
    return str(place)


@pytest.fixture
def last(tmp_path: Path) -> Path:
    write_folder(planned()[0], tmp_path / "book")
    assert main(["plan", str(tmp_path / "book"), "-o", str(tmp_path / "last")]) == DONE
    return tmp_path / "last"


def test_a_plan_carried_on(last: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    later, out = on(tmp_path / "later", 2), tmp_path / "again"
    assert main(["replan", later, "--last", str(last), "-o", str(out)]) in (DONE, SHORT)
    told = capsys.readouterr().out
    assert "keep the last plan" in told
    made = set(visible(out))
    assert {"replan.xlsx", "replan.html", "plan.xlsx", "tables", "calendar.ics", "work_lists.xlsx"} <= made
    assert all(name in told for name in made)
    sheets = openpyxl.load_workbook(out / "replan.xlsx").sheetnames
    assert sheets[1:3] == ["Costs", "Orders"]
    assert "Changes" in sheets  # without a row, so not on paper
    assert {path.stem for path in (out / "tables").iterdir()} == {*PLAN_TABLES, "facts"}


def test_a_failed_graft_day(last: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    later, out = on(tmp_path / "later", 2, healed=0.4), tmp_path / "again"
    assert main(["replan", later, "--last", str(last), "-o", str(out), "--upset", "5"]) == SHORT
    assert "the last plan leaves 1 order short that it filled before (O-1)" in capsys.readouterr().out
    book = openpyxl.load_workbook(out / "replan.xlsx", data_only=True)
    rows = list(book["Cures"].values)
    assert {"ship part", "buy in", "sow again", "the rest 7 days later"} <= {row[0] for row in rows}
    _tells_costs_without_penalties(rows, before=float(planned()[1].cost))
    front = [row for row in book["Answer"].iter_rows(max_col=2, values_only=True) if row[0]]
    at = [name for name, _ in front].index("Cost if the last plan is kept, without penalties (USD)")
    assert front[at + 1][0] == "Cost if the last plan is kept, with penalties for plants short (USD)"
    start = next(n for n, row in enumerate(rows) if row[0] == "Way")
    part = dict(zip(rows[start], next(row for row in rows if row[0] == "ship part"), strict=True))
    assert front[at][1] == pytest.approx(part["Cost of the season, without penalties (USD)"], rel=0.05)
    orders = pd.read_csv(out / "tables" / "orders.csv")
    assert orders["short"].sum() > 0


def _tells_costs_without_penalties(rows: list[tuple[Any, ...]], before: float) -> None:
    """Each way's cost and each difference less its penalties; the last plan had none."""
    start = next(n for n, row in enumerate(rows) if row[0] == "Way")
    heads = rows[start]
    ways = [dict(zip(heads, row, strict=True)) for row in rows[start + 1 :] if row[0] and row[2] is not None]
    part, penalty = ways[0], planned()[0].nursery.shortfall_penalty
    penalties, cost_of = "Penalties for plants short (USD)", "Cost of the season, with penalties (USD)"
    assert part[penalties] > 0
    for way in ways:
        assert way[penalties] == pytest.approx(penalty * way["Short in all (plants)"])
        for what, cost, penal in (
            ("Against the last plan", before, 0.0),
            ("Against shipping part", part[cost_of], part[penalties]),
        ):
            more = way[cost_of] - cost
            assert way[f"{what}, with penalties (USD)"] == pytest.approx(more)
            assert way[f"{what}, without penalties (USD)"] == pytest.approx(more - way[penalties] + penal)


def test_a_calendar_is_updated_not_doubled(last: Path, tmp_path: Path) -> None:
    out = tmp_path / "again"
    feeds = []
    for days in (1, 2):
        later = on(tmp_path / f"later {days}", days)
        assert main(["replan", later, "--last", str(last), "-o", str(out)]) in (DONE, SHORT)
        feeds.append(Calendar.from_ical((out / "calendar.ics").read_bytes()).walk("VEVENT"))
    uids = [[str(event["uid"]) for event in feed] for feed in feeds]
    assert set(uids[0]) <= set(uids[1])
    assert len(uids[1]) == len(set(uids[1]))


def test_a_replan_without_today_or_last_is_refused(last: Path, tmp_path: Path) -> None:
    out = tmp_path / "again"
    assert main(["replan", str(tmp_path / "book"), "--last", str(last), "-o", str(out)]) == BAD_INPUT
    later = on(tmp_path / "later", 2)
    assert main(["replan", later, "--last", str(tmp_path / "nowhere"), "-o", str(out)]) == BAD_INPUT
    assert not out.exists()


def test_the_same_day_gives_the_same_plan(last: Path, tmp_path: Path) -> None:
    later = on(tmp_path / "later", 2, healed=0.6)
    for name in ("one", "two"):
        main(["replan", later, "--last", str(last), "-o", str(tmp_path / name)])
    for table in PLAN_TABLES:
        one, two = ((tmp_path / name / "tables" / f"{table}.csv").read_bytes() for name in ("one", "two"))
        assert one == two
