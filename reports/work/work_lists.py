"""The work lists: a page a day and a page a week for each crew, to print and to write on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

from model.planned.job_crews import Assignment
from model.planned.plan_tables import TINY, Plan, rows_of
from model.scenario.calendar import week_of
from model.scenario.choices import Task
from model.scenario.entities import Scenario
from reports.book import style
from reports.book.parts import DEFERS, Book, Cell, Sheet, SheetColumn, whole_file
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import TO_MIND, number, to_mind
from reports.book.writing import day_and_month, shown_day
from reports.plan.apart_words import kept_apart_on
from reports.plan.bench_words import ready_at_the_table
from reports.plan.figures import weekday
from reports.plan.pace_words import still_learning
from reports.plan.practice_words import practised_on
from reports.plan.role_words import hands_by_role, shift_hours_on
from reports.study.study import sheet_names

NO_CREW = "No crew"
"""Name for jobs without a crew: those without a labour standard, and ordering, receiving, delivering."""

WEEK = 7

DAY_CHARACTERS = 12.0
"""Width of a day's column on a week's page, so that its heading fits on one line."""

ABOUT_COUNTS = (
    "Trays and counts are rounded up. Counts of joins and plants are expected ones. Write what you find into "
    "the boxes: it makes the next plan better."
)


class _Page(NamedTuple):
    """A sheet to write: one crew on one day, or on the days of a week."""

    crew: str | None
    days: list[date]
    is_week: bool

    @property
    def called(self) -> str:
        return NO_CREW if self.crew is None else self.crew

    @property
    def short(self) -> str:
        """Name of the sheet. The day comes first, since a long name of a crew is cut."""
        return f"{self.days[0]}{' week,' if self.is_week else ''} {self.called}"


ByDay = dict[tuple[str | None, date], list[Assignment]]


class _CrewOnDay(NamedTuple):
    """Regular hours of a crew on a day, hours with new hands, temporary hands called, their overtime."""

    regular: float
    training: float
    called: float
    overtime: float


There = dict[tuple[str | None, date], _CrewOnDay]


def work_days(given: Sequence[Assignment]) -> list[date]:
    """Days with work on plants, in order."""
    return sorted({part.job.day for part in given if part.job.step.is_work})


def write_work_lists(
    scenario: Scenario, plan: Plan, given: Sequence[Assignment], path: Path, *, first: date, days: int
) -> None:
    """Write the lists of ``days`` days from ``first`` on to ``path``, whole or not at all.

    Each crew gets a sheet for every seven days, then a sheet for each day with work or new hands. A sheet
    prints on one page. Raises OSError if the file cannot be written.
    """
    span = [first + timedelta(days=n) for n in range(days)]
    by_day: ByDay = defaultdict(list)
    for part in given:
        if span[0] <= part.job.day <= span[-1]:
            by_day[part.crew, part.job.day].append(part)
    columns = ("regular_available", "training", "called", "temporary_overtime")
    there: There = {
        (crew, day): _CrewOnDay(*hours)
        for crew, day, *hours in rows_of(plan.crew_days, "crew", "day", *columns)
    }
    shifts = shift_hours_on(scenario)
    practised, learning = practised_on(scenario, plan), still_learning(scenario, plan)
    for (crew, day), on in there.items():
        busy = on.training + on.called > TINY or (crew, day) in practised
        if busy and span[0] <= day <= span[-1]:
            by_day.setdefault((crew, day), [])
    pages = _pages([*(crew.crew for crew in scenario.crews), None], span, by_day)
    with whole_file(path) as part_file:
        book = Book(part_file, f"Work lists of {scenario.nursery.name}", scenario.nursery)
        contents = book.sheet("Contents", "This list.")
        for name, page in zip(sheet_names("", [page.short for page in pages]), pages, strict=True):
            about = f"{page.called}: {'seven days from ' if page.is_week else ''}{_dated(page.days[0])}"
            sheet = book.sheet(name, about)
            sheet.one_page = True
            if page.is_week:
                _week(sheet, page, by_day, there)
            else:
                day = page.days[0]
                notes = [*kept_apart_on(plan, day), *practised.get((page.crew or "", day), "").splitlines()]
                parts = by_day[page.crew, day]
                by_role = hands_by_role(parts, shifts.get((page.crew or "", day), 0.0))
                notes = [*by_role, *ready_at_the_table(scenario, parts), *notes]
                if any(part.temporary > TINY for part in parts):
                    notes = [*learning.get((page.crew or "", week_of(day)), "").splitlines(), *notes]
                _day(sheet, page, parts, there, notes, retelling(scenario))
        contents.list_sheets()
        book.close()


def _pages(crews: Sequence[str | None], span: Sequence[date], by_day: ByDay) -> list[_Page]:
    pages: list[_Page] = []
    for crew in crews:
        for n in range(0, len(span), WEEK):
            week = list(span[n : n + WEEK])
            worked = [day for day in week if (crew, day) in by_day]
            if worked:
                pages += [_Page(crew, week, True), *(_Page(crew, [day], False) for day in worked)]
    return pages


def _dated(day: date) -> str:
    return f"{weekday(day)} {shown_day(day)}"


# A day


DAY_COLUMNS = (
    SheetColumn("done", "Done", box=True),
    SheetColumn("task", "Task"),
    SheetColumn("name", "What", widest=24),
    SheetColumn("detail", "Lots and details", widest=38),
    SheetColumn("where", "From, to", widest=18),
    SheetColumn("format", "Tray format", widest=10),
    SheetColumn("trays", "Trays", CellKind.COUNT),
    SheetColumn("seeds", "Seeds from stock", CellKind.COUNT),
    SheetColumn("count", "Count", CellKind.COUNT),
    SheetColumn("unit", "Of"),
    SheetColumn("hours", "Hours", CellKind.DECIMAL, total=True),
    SheetColumn("mind", "Cautions", widest=14),
    SheetColumn("found", "Count found", box=True),
)


def _day(
    sheet: Sheet,
    page: _Page,
    parts: Sequence[Assignment],
    there: There,
    more: Sequence[str],
    retell: Callable[[str], str],
) -> None:
    day = page.days[0]
    notes = [] if page.crew is None else [_hours(parts, there[page.crew, day])]
    sheet.open(f"{page.called}, {_dated(day)}", [*notes, *more, ABOUT_COUNTS])
    columns = [replace(column, total=column.total and page.crew is not None) for column in DAY_COLUMNS]
    sheet.table(columns, [_day_row(part, retell) for part in parts])
    _cautions(sheet, parts)


def _hours(parts: Sequence[Assignment], on: _CrewOnDay) -> str:
    own, temporary = sum(part.own for part in parts), sum(part.temporary for part in parts)
    words = f"Own hands work {number(own)} h; {number(on.regular)} regular hours are available."
    if on.training > TINY:
        words += f" They spend {number(on.training)} h more with new hands."
    if on.called > TINY:
        words += f" Temporary hands to call: {number(on.called)}."
    if temporary:
        longer = f", {number(on.overtime)} h of it overtime" if on.overtime > TINY else ""
        words += f" Temporary hands work {number(temporary)} h{longer}."
    return words


def _day_row(part: Assignment, retell: Callable[[str], str]) -> list[Cell]:
    job = part.job
    detail = retell(job.detail)
    detail = f"{detail} (shared with another crew)" if part.shared else detail
    return [
        None,
        job.task,
        job.name,
        detail or None,
        part.job.where or None,
        job.format or None,
        part.part(job.trays),
        part.part(job.seeds),
        part.part(job.count),
        job.unit or None,
        None if part.crew is None else part.hours,
        ", ".join(to_mind(job.step)) or None,
        None,
    ]


def _cautions(sheet: Sheet, parts: Sequence[Assignment]) -> None:
    """Write the cautions of the page's work, each once, in the order of work."""
    keys = list(dict.fromkeys(key for part in parts for key in to_mind(part.job.step)))
    for key in keys:
        sheet.lines(f"Caution, {key}: {TO_MIND[key]}", sheet.width, style.CAUTION)
    if keys:
        sheet.lines(DEFERS, sheet.width, style.CAUTION)


# A week


def _week(sheet: Sheet, page: _Page, by_day: ByDay, there: There) -> None:
    """Write a week: a line for each task, thing and format; amounts as on the days' pages."""
    training = [there[page.crew, day].training if (page.crew, day) in there else 0.0 for day in page.days]
    with_new = ", those that own hands spend with new ones too" if sum(training) > TINY else ""
    about = f"Trays, joins or plants to do on each day. The last line gives hours by the clock{with_new}."
    sheet.open(f"{page.called}, seven days from {_dated(page.days[0])}", [about])
    found = [part for day in page.days for part in by_day.get((page.crew, day), [])]
    sums: dict[tuple[int, str, str, str, str, str], dict[date, int]] = defaultdict(lambda: defaultdict(int))
    for part in found:
        job = part.job
        moved = job.step.task == Task.MOVE.value
        to = job.to_zone if moved else ""
        trays = job.trays is not None and (job.count is None or moved)
        unit = "trays" if trays else job.unit
        amount = part.part(job.trays if trays else job.count)
        sums[job.step.position, job.task, job.name, to, job.format, unit][job.day] += amount or 0
    rows: list[list[Cell]] = [
        [task, name, to or None, format_ or None, unit, *(amounts.get(day) for day in page.days)]
        for (_, task, name, to, format_, unit), amounts in sorted(sums.items())
    ]
    hours = [
        sum(part.hours for part in by_day.get((page.crew, day), [])) + with_hands
        for day, with_hands in zip(page.days, training, strict=True)
    ]
    columns = [
        SheetColumn("task", "Task"),
        SheetColumn("name", "What", widest=36),
        SheetColumn("to", "To", widest=20),
        SheetColumn("format", "Tray format", widest=16),
        SheetColumn("unit", "Of"),
        *(SheetColumn(f"{day}", f"{weekday(day)} {day_and_month(day)}", CellKind.COUNT) for day in page.days),
    ]
    placed = sheet.table(columns, rows)
    for day in page.days:
        sheet.widths[placed.at[f"{day}"]] = max(sheet.widths[placed.at[f"{day}"]], DAY_CHARACTERS)
    if page.crew is not None:
        sheet.row -= 1
        look = {**style.TOTAL, "num_format": style.NUMBER_FORMATS[CellKind.DECIMAL]}
        for n in range(len(columns)):
            sheet.write(sheet.row, n, "hours" if n == 0 else None, **look)
        for n, worked in enumerate(hours):
            sheet.write(sheet.row, placed.at[f"{page.days[n]}"], worked, **look, align="right")
        sheet.row += 2
        sheet.lines(f"Caution, pay: {TO_MIND['pay']}", sheet.width, style.CAUTION)
    _cautions(sheet, found)
