"""The verb that writes the crews' work, as a user meets it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest
from icalendar import Calendar

from model.scenario.choices import ZoneUse
from scenarios.commands.command_line import BAD_INPUT, DONE, SHORT, main
from scenarios.commands.work_files import write_work
from scenarios.files.write_scenario import write_folder
from tests.demo import demo, demo_plan
from tests.places import visible
from tests.rfc5545 import faults
from tests.scenario_parts import pool
from tests.strategies import base_scenario

FILES = [
    "calendar.ics",
    "dispatch_notes.xlsx",
    "progress_as_planned.csv",
    "tray_tags.xlsx",
    "work_lists.xlsx",
]


@pytest.fixture
def small(tmp_path: Path) -> str:
    write_folder(base_scenario(), tmp_path / "small")
    return str(tmp_path / "small")


def test_work_of_the_demo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "work"
    assert main(["work", "hollow_ash", "-o", str(folder), "--from", "2027-03-22", "--days", "3"]) == DONE
    told = capsys.readouterr().out
    assert "3 days from 2027-03-22" in told
    assert visible(folder) == FILES
    assert all(name in told for name in FILES)
    titles = openpyxl.load_workbook(folder / "work_lists.xlsx").sheetnames
    assert {"2027-03-22 grafters", "2027-03-24 grafters", "2027-03-22 week, grafters"} <= set(titles)
    assert "2027-03-25 grafters" not in titles
    feed = (folder / "calendar.ics").read_bytes()
    assert faults(feed) == []
    days = [event["dtstart"].dt for event in Calendar.from_ical(feed).walk("VEVENT")]
    assert max(days) - min(days) > timedelta(days=60)


def test_notes_of_the_demo_are_those_of_the_orders_packed_in_the_span(tmp_path: Path) -> None:
    folder, first = tmp_path / "work", date(2027, 3, 29)
    folder.mkdir()
    write_work(demo(), demo_plan(), folder, earlier=None, first=first, days=5)
    orders = [order for order in demo().orders if 0 <= (order.due_day - first).days < 5]
    assert len(orders) > 1
    titles = openpyxl.load_workbook(folder / "dispatch_notes.xlsx").sheetnames
    assert sorted(titles) == sorted(f"{order.due_day} {order.order}" for order in orders), (
        "all due on working days"
    )


def test_an_order_moved_moves_its_entry_and_leaves_other_orders_alone(tmp_path: Path) -> None:
    base = base_scenario()
    other = replace(base.orders[0], order="O-2", quantity=40)
    due = base.orders[0].due_day
    folder = tmp_path / "work"
    for n, moved in enumerate((due, due - timedelta(days=1))):
        orders = (replace(base.orders[0], due_day=moved), other)
        write_folder(replace(base, orders=orders), tmp_path / f"plan {n}")
        assert main(["work", str(tmp_path / f"plan {n}"), "-o", str(folder)]) in (DONE, SHORT)
        feed = (folder / "calendar.ics").read_bytes()
        assert faults(feed) == []
        found = {
            str(event["summary"]).split(": ")[-1]: (event["dtstart"].dt, int(event["sequence"]), event["uid"])
            for event in Calendar.from_ical(feed).walk("VEVENT")
            if event["categories"].cats[0] == "deliver"
        }
        if n == 0:
            before = found
    assert set(found) == set(before) == {base.orders[0].order, "O-2"}
    first = base.orders[0].order
    assert found["O-2"] == before["O-2"]
    assert found[first] == (due - timedelta(days=1), 1, before[first][2])


def test_a_short_plan_is_written_and_says_so(tmp_path: Path) -> None:
    base = base_scenario()
    chamber = pool("Chamber", ZoneUse.HEALING, 2.0)
    zones = tuple(chamber if zone.zone == "Chamber" else zone for zone in base.zones)
    write_folder(replace(base, zones=zones), tmp_path / "short")
    assert main(["work", str(tmp_path / "short"), "-o", str(tmp_path / "out")]) == SHORT
    assert visible(tmp_path / "out") == FILES


@pytest.mark.parametrize("more", [["--days", "0"], ["--days", "x"]])
def test_wishes_that_make_no_sense_are_refused(small: str, tmp_path: Path, more: list[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["work", small, "-o", str(tmp_path / "out"), *more])
    assert stop.value.code == BAD_INPUT
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("day", ["22.3.2027", "2027-02-30"])
def test_a_day_that_is_none_is_refused(
    small: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], day: str
) -> None:
    """What is a day depends on the scenario's locale, so it is told once the scenario is read."""
    assert main(["work", small, "-o", str(tmp_path / "out"), "--from", day]) == BAD_INPUT
    assert f"{day} is not a date such as 2027-04-20" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_days_without_work_are_refused(
    small: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    idle = ["--from", str(date(2027, 3, 20)), "--days", "2"]
    assert main(["work", small, "-o", str(tmp_path / "out"), *idle]) == BAD_INPUT
    assert "work goes from 2027-" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_foreign_calendar_is_refused(
    small: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "out" / "calendar.ics"
    mine.parent.mkdir()
    mine.write_text("not a calendar")
    assert main(["work", small, "-o", str(mine.parent)]) == BAD_INPUT
    assert "move it away" in capsys.readouterr().err
    assert mine.read_text() == "not a calendar"
