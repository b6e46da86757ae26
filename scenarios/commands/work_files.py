"""Write the papers for the crews: work lists, tray tags, dispatch notes, the season's calendar feed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from model.planned.job_crews import assignments
from model.planned.plan_tables import Plan
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.scenario.tables import BY_NAME
from model.season.as_planned import as_planned
from reports.book.writing import shown_day
from reports.plan.apart_words import cleanings
from reports.work.calendar_feed import NotAFeed, calendar_feed, events_of
from reports.work.dispatch_notes import write_dispatch_notes
from reports.work.tray_tags import write_tray_tags
from reports.work.work_lists import work_days, write_work_lists
from scenarios.cells.faults import Refused
from scenarios.files.write_scenario import write_table


class NoWork(Refused):
    """The plan has no work on the days asked for."""


LISTS, TAGS, NOTES = "work_lists.xlsx", "tray_tags.xlsx", "dispatch_notes.xlsx"
CALENDAR, AS_PLANNED = "calendar.ics", "progress_as_planned.csv"
FILES = (LISTS, TAGS, NOTES, CALENDAR, AS_PLANNED)


def write_work(
    scenario: Scenario, plan: Plan, folder: Path, *, earlier: bytes | None, first: date | None, days: int
) -> date:
    """Write lists, tags and dispatch notes for ``days`` days from ``first`` on, and the season's calendar.

    Also writes the rows of progress that today and the days up to the last of these give if all goes as
    planned, for the user to correct.

    ``first``: None for the first day with work, on or after today where the scenario has a today.
    ``earlier``: the calendar feed of the last plan, for ``calendar_feed``. New and changed entries carry the
    first day of the lists as their stamp. Returns the first day.

    Raises ``NoWork`` where there is no work on those days, and then writes nothing.
    """
    given = assignments(plan)
    worked = work_days(given)
    if not worked:
        raise NoWork("there is no work in this plan: no plant is grown or packed")
    today = scenario.nursery.today or worked[0]
    start = first or min((day for day in worked if day >= today), default=today)
    last = start + timedelta(days=days - 1)
    if not any(start <= day <= last for day in worked):
        there = f"{shown_day(start)} to {shown_day(last)}"
        works = f"{shown_day(worked[0])} to {shown_day(worked[-1])}"
        raise NoWork(f"there is no work from {there}: work goes from {works}")
    write_work_lists(scenario, plan, given, folder / LISTS, first=start, days=days)
    write_tray_tags(scenario, plan, folder / TAGS, first=start, days=days)
    write_dispatch_notes(scenario, plan, folder / NOTES, first=start, days=days)
    feed = calendar_feed(scenario, given, stamped=start, earlier=earlier, cleaned=cleanings(plan))
    (folder / CALENDAR).write_bytes(feed)
    settled = scenario.nursery.today or scenario.nursery.first_day
    planned = as_planned(plan, last + timedelta(days=1), since=min(settled, start))
    write_table(BY_NAME["progress"], in_wholes(planned), folder / AS_PLANNED)
    return start


def earlier_feed(folder: Path) -> bytes | None:
    """The calendar feed in an output folder; None where there is none.

    Raises ``Refused`` where another program wrote it.
    """
    before = folder / CALENDAR
    earlier = before.read_bytes() if before.is_file() else None
    try:
        events_of(earlier)
    except NotAFeed as why:
        raise Refused(f"{before} is {why}; move it away, or name another folder") from None
    return earlier


def in_wholes(rows: Iterable[Progress]) -> tuple[Progress, ...]:
    """Rows of progress rounded to whole trays, joins, plants, packs and hands, without rows of 0."""
    whole = (replace(row, number=float(round(row.number))) for row in rows)
    return tuple(row for row in whole if row.number > 0)
