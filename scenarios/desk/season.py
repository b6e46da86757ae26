"""The season at the desk: tick what was done, type what was counted, and it stands in the progress file."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import cast

from model.csv_text import cover, uncover
from model.scenario.choices import Happened
from model.scenario.records.past import Progress
from model.scenario.tables import BY_NAME
from model.season.as_planned import Decisions, as_planned
from scenarios.cells.draft import text_of
from scenarios.cells.faults import Refused
from scenarios.cells.typed import number_typed
from scenarios.desk.workplace import written
from scenarios.files.read_plan import read_last

HEADINGS = [column.heading for column in BY_NAME["progress"].columns]
NAMES = [column.name for column in BY_NAME["progress"].columns]
COUNTED = {Happened.SOWN: "usable seedlings", Happened.GRAFTED: "joins that healed"}
"""What may be counted later, by what happened."""


@dataclass(frozen=True, slots=True)
class Task:
    """A row of progress that the plan foresees. ``key`` names it on the page."""

    key: str
    row: Progress
    words: str
    number: str
    counts: str
    """What may be counted; blank where nothing is."""


def tasks(plan: Path, season: Path, until: date, first: date = date.min) -> list[Task]:
    """What a plan foresees up to and with a day and the season's file does not tell yet, by day.

    ``first``: first day of the scenario. ``plan``: folder of the plan. Raises ``BadInput`` where its tables
    cannot be read.
    """
    decisions = cast(Decisions, SimpleNamespace(**read_last(plan)))
    foreseen = as_planned(decisions, until + timedelta(days=1), since=first)
    told = {_about(row) for row in rows_of(season)}
    found = []
    for row in foreseen:
        cells = {name: text_of(getattr(row, name)) for name in NAMES}
        if _about(cells) not in told and (round(row.number) > 0 or row.what is Happened.OVERTIME):
            number = text_of(row.number) if row.what is Happened.OVERTIME else f"{row.number:.0f}"
            found.append(Task("|".join(_about(cells)), row, _words(row), number, COUNTED.get(row.what, "")))
    return found


def rows_of(season: Path) -> list[dict[str, str]]:
    """Rows of the season's file as texts by column; none where there is no file.

    Raises ``Refused`` where the file's heading is not that of the table progress.
    """
    if not season.is_file():
        return []
    lines = list(csv.reader(io.StringIO(season.read_text(encoding="utf-8-sig"))))
    if not lines or [heading.split(" [")[0] for heading in lines[0]] != NAMES:
        raise Refused(
            f"{season.name} was not written at the desk: its heading is not that of the table progress. "
            "Move it away, or write its rows into the workbook"
        )
    return [dict(zip(NAMES, line, strict=False)) for line in lines[1:] if any(line)]


def add(season: Path, done: Sequence[Progress]) -> None:
    """Add rows to the season's file, whole or not at all."""
    _write(
        season, [*_lines(rows_of(season)), *([text_of(getattr(row, name)) for name in NAMES] for row in done)]
    )


def count(season: Path, counts: Mapping[int, str]) -> None:
    """Write counts into rows of the season's file, by their position; raises ``ValueError`` for no number."""
    rows = rows_of(season)
    for n, told in counts.items():
        rows[n]["counted"] = f"{_number(told):g}"
    _write(season, _lines(rows))


def _lines(rows: Sequence[Mapping[str, str]]) -> list[list[str]]:
    return [[uncover(row.get(name, "")) for name in NAMES] for row in rows]


def _write(season: Path, lines: Sequence[Sequence[str]]) -> None:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEADINGS)
    writer.writerows([cover(cell) for cell in line] for line in lines)
    written(season, text.getvalue().encode())


def ticked(task: Task, number: str, count: str) -> Progress:
    """The row of a task as it was done; raises ``ValueError`` where a number is none."""
    row = replace(task.row, number=_number(number) if number.strip() else task.row.number)
    return replace(row, counted=_number(count)) if count.strip() else row


def _number(text: str) -> float:
    """A number as a person types it; raises ``ValueError`` with what is wrong."""
    try:
        value = number_typed(text)
    except ValueError as error:
        raise ValueError(f"'{text}' {'; '.join(error.args)}") from None
    if not 0 <= value < 1e9:
        raise ValueError(f"'{text}' is out of range; write a number from 0 up")
    return value


def _about(row: Progress | Mapping[str, str]) -> tuple[str, ...]:
    """What tells one row from another: all but number, count and note."""
    names = [name for name in NAMES if name not in ("number", "counted", "note")]
    if isinstance(row, Progress):
        return tuple(text_of(getattr(row, name)) for name in names)
    return tuple(uncover(row.get(name, "")) for name in names)


def _words(row: Progress) -> str:
    """A task in words."""
    if row.what is Happened.SOWN:
        where = f", to germinate in {row.in_zones}" if row.in_zones else ""
        return f"sow trays of {row.lot} in {row.format}{where}"
    if row.what is Happened.GRAFTED:
        sides = f"{row.rootstock_lot} and {row.lot}" if row.rootstock_lot else f"{row.lot}"
        return f"graft or move on {row.product}, from {sides}"
    if row.what is Happened.DELIVERED:
        return f"deliver plants of {row.product} to order {row.order}"
    if row.what is Happened.BOUGHT_IN:
        return f"order plants of offer {row.offer} for order {row.order}"
    if row.what is Happened.PACKS:
        return f"order packs of {row.item}, {row.size:g} each"
    if row.what is Happened.CALLED:
        return f"call temporary hands of {row.crew} for the day"
    if row.what is Happened.OVERTIME:
        return f"hours of overtime of temporary hands of {row.crew}"
    return f"temporary hands of {row.crew} for the week"
