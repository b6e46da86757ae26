"""Work lists and tray tags as an owner prints them: crews, days, boxes, cautions, labels."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from model.planned.job_crews import Assignment, assigned, assignments
from model.planned.jobs import Job, jobs_of
from model.planned.tables.job_tables import Step
from model.scenario.choices import Task
from model.scenario.records.people import LabourStandard
from model.solve import plan
from reports.work.tray_tags import ACROSS, DOWN, LINES, tags
from reports.work.work_lists import work_days
from scenarios.cells.faults import Refused
from scenarios.commands.work_files import (
    CALENDAR,
    FILES,
    LISTS,
    NOTES,
    TAGS,
    NoWork,
    earlier_feed,
    write_work,
)
from tests.demo import demo, demo_plan
from tests.report_scenario import HOSTILE, report_plan, report_scenario
from tests.scenario_parts import crew
from tests.strategies import base_scenario, with_nursery

WEEKS = 28


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("work")
    write_work(report_scenario(), report_plan(), made, earlier=None, first=None, days=WEEKS)
    return made


@pytest.fixture(scope="module")
def lists(folder: Path) -> openpyxl.Workbook:
    return openpyxl.load_workbook(folder / LISTS)


def text_of(sheet: Worksheet) -> str:
    return "\n".join(
        str(cell) for row in sheet.iter_rows(values_only=True) for cell in row if cell is not None
    )


def table_of(sheet: Worksheet, first: str) -> list[dict[str, Any]]:
    """Rows under the heading that begins with ``first``, down to the first without a task."""
    rows = list(sheet.iter_rows(values_only=True))
    (at,) = [n for n, row in enumerate(rows) if row[0] == first]
    found = []
    for row in rows[at + 1 :]:
        if row[rows[at].index("Task")] in (None, "hours"):
            break
        found.append(dict(zip(rows[at], row, strict=True)))
    return found


# Lists


def test_every_crew_has_a_page_for_each_day_with_work_and_each_week(lists: openpyxl.Workbook) -> None:
    given = assignments(report_plan())
    first = work_days(given)[0]
    days = {(part.crew or "No crew", part.job.day) for part in given if part.job.day >= first}
    weeks = {(crew, first + timedelta(days=(day - first).days // 7 * 7)) for crew, day in days}
    expected = {f"{day} {crew}" for crew, day in days} | {f"{day} week, {crew}" for crew, day in weeks}
    assert set(lists.sheetnames) == {"Contents", *expected}


def test_every_page_fits_on_one_sheet_of_paper(lists: openpyxl.Workbook) -> None:
    for sheet in lists.worksheets[1:]:
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        pages = (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight)
        assert pages in ((None, None), (1, 1)), "1 where a file leaves it out"
        assert sheet.print_area


def test_a_days_page_lists_the_jobs_in_the_order_of_work_with_boxes(lists: openpyxl.Workbook) -> None:
    given = assignments(report_plan())
    busiest = max(
        ((part.crew, part.job.day) for part in given if part.crew),
        key=lambda at: sum((part.crew, part.job.day) == at for part in given),
    )
    sheet = lists[f"{busiest[1]} {busiest[0]}"]
    rows = table_of(sheet, "Done")
    expected = [part for part in given if (part.crew, part.job.day) == busiest]
    assert [(row["Task"], row["What"]) for row in rows] == [(p.job.task, p.job.name) for p in expected]
    assert [row["Hours"] for row in rows] == [pytest.approx(part.hours) for part in expected]
    (at,) = [row[0].row for row in sheet.iter_rows() if row[0].value == "Done"]
    headings = {cell.value: cell.column for cell in sheet[at]}
    for n in range(len(rows)):
        for heading in ("Done", "Count found"):
            box = sheet.cell(at + 1 + n, headings[heading])
            assert box.value is None
            assert {box.border.left.style, box.border.bottom.style, box.border.top.style} == {"thin"}
        assert sheet.row_dimensions[at + 1 + n].height >= 20


def test_sowing_says_how_many_seeds_to_take(lists: openpyxl.Workbook) -> None:
    rows = [
        row
        for sheet in lists.worksheets[1:]
        if " week, " not in sheet.title
        for row in table_of(sheet, "Done")
        if row["Task"] == "sow"
    ]
    assert sum(row["Seeds from stock"] for row in rows) == report_plan().waves["seeds"].sum()
    assert sum(row["Trays"] for row in rows) == report_plan().waves["trays"].sum()


@pytest.mark.parametrize(
    ("task", "words"),
    [
        ("sow", "as their label says, with gloves and fresh air"),
        ("sow", "variety rights"),
        ("graft", "Cut away from hands"),
        ("graft", "fresh or sanitised blade for each lot"),
        ("graft", "breaks, shade and water"),
        ("tend", "RCD, GFCI"),
        ("tend", "licensed electrician"),
        ("pack", "Lift with two hands"),
    ],
)
def test_cautions_stand_on_the_pages_of_the_work(lists: openpyxl.Workbook, task: str, words: str) -> None:
    pages = [
        sheet
        for sheet in lists.worksheets[1:]
        if any(
            row["Task"].split(":")[0] == task
            for row in table_of(sheet, "Task" if " week, " in sheet.title else "Done")
        )
    ]
    assert pages
    for sheet in pages:
        text = " ".join(text_of(sheet).split())
        assert words in text
        assert "local codes and licensed practice come first" in text


def test_a_weeks_page_adds_up_to_its_days(lists: openpyxl.Workbook) -> None:
    given = assignments(report_plan())
    weeks = [sheet for sheet in lists.worksheets if " week, " in sheet.title and "No crew" not in sheet.title]
    hours = [row for sheet in weeks for row in sheet.iter_rows(values_only=True) if row[0] == "hours"]
    assert len(hours) == len(weeks) > 3
    total = sum(cell for row in hours for cell in row[1:] if isinstance(cell, int | float))
    assert total == pytest.approx(sum(part.hours for part in given))
    sown = sum(
        cell
        for sheet in weeks
        for row in table_of(sheet, "Task")
        if row["Task"] == "sow"
        for cell in row.values()
        if isinstance(cell, int | float)
    )
    assert sown == report_plan().waves["trays"].sum()


def test_a_users_text_is_text(folder: Path) -> None:
    for name in (LISTS, TAGS, NOTES):
        book = openpyxl.load_workbook(folder / name)
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
        texts = {cell.value for cell in cells if isinstance(cell.value, str)}
        assert any(text.startswith(HOSTILE) for text in texts)
        formulas = {cell.value for cell in cells if cell.data_type == "f"}
        assert all(formula.startswith("=SUM(") for formula in formulas)
        assert not any(cell.hyperlink and cell.hyperlink.target for cell in cells)


# Crews


def job(name: str, hours: float) -> Job:
    return Job(date(2027, 3, 1), Step.SOW, ("SOW", name), name, trays=10.0, skill="grow", hours=hours)


def test_a_task_of_two_crews_is_handed_out_in_order_and_shared_once() -> None:
    """Hands by hand: 6 hours of jobs; the first crew works 2 h at pace 1, the second 2 h at pace 2."""
    base = base_scenario()
    crews = (crew("First", "grow", pace=1.0), crew("Second", "grow", pace=2.0))
    rows = {"crew": ["First", "Second"], "hands": ["own"] * 2, "day": [date(2027, 3, 1)] * 2}
    rows |= {"skill": ["grow"] * 2, "task": ["sow"] * 2, "hours": [2.0, 2.0]}
    hours = report_plan().hours.iloc[:0].reindex(range(2)).assign(**rows)
    found = [job("a", 1.0), job("b", 4.0), job("c", 1.0)]
    by_job = assigned(replace(base, crews=crews), {"hours": hours}, found)
    given = [part for parts in by_job for part in parts]
    assert [(p.job.name, p.crew, p.start, p.end, p.own) for p in given] == [
        ("a", "First", 0.0, 1.0, 1.0),
        ("b", "First", 0.0, 0.25, 1.0),
        ("b", "Second", 0.25, 1.0, 1.5),
        ("c", "Second", 0.0, 1.0, 0.5),
    ]
    assert [p.part(p.job.trays) for p in given] == [10, 2, 8, 10]
    assert [p.shared for p in given] == [False, True, True, False]


def test_work_without_a_labour_standard_is_nobodys_and_still_listed(tmp_path: Path) -> None:
    base = base_scenario()
    scenario = replace(
        base,
        crews=(crew("Growers", "grow"),),
        labour_standards=(LabourStandard(Task.SOW, "grow", None, None, 60.0),),
    )
    write_work(scenario, plan(scenario), tmp_path, earlier=None, first=None, days=WEEKS)
    book = openpyxl.load_workbook(tmp_path / LISTS)
    nobody = {
        row["Task"]
        for sheet in book.worksheets
        if sheet.title.endswith("No crew") and " week, " not in sheet.title
        for row in table_of(sheet, "Done")
    }
    assert {"graft", "move", "care", "grade", "pack", "deliver"} <= nobody
    assert "sow" not in nobody


# Tags


def test_every_tray_sown_and_loaded_in_the_span_gets_a_tag() -> None:
    scenario, result = demo(), demo_plan()
    first, days = date(2027, 3, 22), 4
    last = first + timedelta(days=days - 1)
    found = tags(scenario, result, first=first, days=days)
    waves = result.waves[(result.waves["sow_day"] >= first) & (result.waves["sow_day"] <= last)]
    sown = [tag for tag in found if "Sown" in tag.lines[1]]
    assert sum(tag.trays for tag in sown) == waves["trays"].sum()
    flows = result.flows[(result.flows["graft_day"] >= first) & (result.flows["graft_day"] <= last)]
    grafted = [tag for tag in found if "grafted" in tag.lines[0]]
    loaded = flows[~flows["method"].str.startswith("own-root")]["trays_loaded"].sum()
    assert loaded <= sum(tag.trays for tag in grafted) < loaded + len(grafted)


def test_tags_stand_three_across_and_eight_down_a_page_a_day_a_sheet(folder: Path) -> None:
    book = openpyxl.load_workbook(folder / TAGS)
    found = tags(report_scenario(), report_plan(), first=report_scenario().nursery.first_day, days=WEEKS)
    assert book.sheetnames == sorted({str(tag.day) for tag in found})
    for sheet in book:
        here = [tag for tag in found if str(tag.day) == sheet.title]
        number = sum(tag.trays for tag in here)
        headings = [
            cell.value for row in sheet.iter_rows(min_row=1) for cell in row if (row[0].row - 1) % LINES == 0
        ]
        assert [text for text in headings if text] == [tag.heading for tag in here for _ in range(tag.trays)]
        breaks = [line.id for line in sheet.row_breaks.brk]
        pages = -(-number // (ACROSS * DOWN))
        assert breaks == [n * DOWN * LINES for n in range(1, pages)]
        numbers = [
            cell.value for row in sheet.iter_rows() for cell in row if str(cell.value).startswith("Tray ")
        ]
        assert numbers == [f"Tray {n} of {tag.trays}" for tag in here for n in range(1, tag.trays + 1)]


def test_tags_name_waves_so_that_a_plan_made_again_keeps_them() -> None:
    scenario, result = demo(), demo_plan()
    for tag in tags(scenario, result, first=date(2027, 3, 22), days=7):
        assert not any(name in " ".join(tag.lines) for name in result.waves["wave"])
        assert str(tag.day) in " ".join(tag.lines)


def test_the_climate_of_each_stage_stands_on_tags_and_with_the_care() -> None:
    """A chamber in which two methods stand names both climates."""
    scenario, result = demo(), demo_plan()
    dark, ramp = "27 °C, 95 % humidity, dark", "26 °C, 88 % humidity, 75 µmol/m²/s for 12 h a day"
    grafted = [
        tag for tag in tags(scenario, result, first=date(2027, 3, 22), days=7) if "graft" in tag.lines[0]
    ]
    assert grafted
    for tag in grafted:
        assert tag.lines[5].startswith(f"dark {dark}; ramp {ramp}; hardening 21 °C")
    care = {job.detail for job in jobs_of(result).values() if job.step is Step.CARE}
    assert care == {f"dark: {dark}", f"ramp: {ramp}", f"dark: {dark}; ramp: {ramp}"}


# Files


def test_written_again_the_feed_is_the_same(tmp_path: Path) -> None:
    scenario, result = report_scenario(), report_plan()
    first = write_work(scenario, result, tmp_path, earlier=None, first=None, days=7)
    feed = earlier_feed(tmp_path)
    later = first + timedelta(days=7)
    write_work(scenario, result, tmp_path, earlier=feed, first=later, days=7)
    assert (tmp_path / CALENDAR).read_bytes() == feed
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(FILES)


def test_a_span_without_work_is_refused_and_nothing_written(tmp_path: Path) -> None:
    late = date(2030, 1, 1)
    with pytest.raises(NoWork, match="work goes from"):
        write_work(report_scenario(), report_plan(), tmp_path, earlier=None, first=late, days=7)
    assert not list(tmp_path.iterdir())


def test_a_plan_without_work_is_refused(tmp_path: Path) -> None:
    scenario = with_nursery(base_scenario(), shortfall_penalty=0.0)
    with pytest.raises(NoWork, match="no work in this plan"):
        write_work(scenario, plan(scenario), tmp_path, earlier=None, first=None, days=7)


def test_a_calendar_of_the_users_own_is_refused(tmp_path: Path) -> None:
    mine = tmp_path / CALENDAR
    assert earlier_feed(tmp_path) is None
    mine.write_bytes(b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//mine//EN\r\nEND:VCALENDAR\r\n")
    with pytest.raises(Refused, match="move it away"):
        earlier_feed(tmp_path)


def test_a_part_of_an_amount_is_whole() -> None:
    whole_job = replace(job("a", 1.0), trays=2.2)
    parts = [
        Assignment(whole_job, "x", start, end, 1.0, 0.0) for start, end in ((0, 0.4), (0.4, 0.9), (0.9, 1))
    ]
    assert sum(part.part(2.2) or 0 for part in parts) == 3
    assert parts[0].part(None) is None
