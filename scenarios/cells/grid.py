"""What a scenario's file holds before it is understood: grids of raw cells."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from model.scenario.about_cells import Remark
from model.scenario.tables import BY_NAME
from scenarios.cells.faults import Fault, nearest
from scenarios.cells.parse import Raw

MOST_ROWS, MOST_COLUMNS, MOST_CELLS = 100_000, 200, 2_000_000
"""Most rows, columns and cells of a table; no order book comes near, and more would only cost memory."""

NO_TABLE = "#"
"""Sheets and files whose names start so are for people; the tool writes a sheet that explains the tables."""


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells of one table: numbered rows, the heading first. ``typed`` cells are a workbook's."""

    table: str
    rows: list[tuple[int, list[Raw]]]
    typed: bool


@dataclass(slots=True)
class TableSource:
    """All grids of a scenario, and the faults found on the way to them.

    ``unread`` names tables that are there but could not be read, so that nothing is said of their rows.
    ``hidden`` are remarks on what counts and does not show where the file is opened.
    """

    grids: dict[str, Grid] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)
    hidden: list[Remark] = field(default_factory=list)


def file_fault(value: str, wrong: str, remedy: str) -> Fault:
    """A fault of a file as a whole."""
    return Fault("", None, "", value, wrong, remedy)


def tables_named(names: Iterable[str], kind: str, source: TableSource) -> list[str]:
    """Which of ``names`` are tables; the others are faults, and the table meant counts as unread."""
    known = []
    names = list(names)
    for name in names:
        if name in BY_NAME:
            known.append(name)
            continue
        near = nearest(name, set(BY_NAME).difference(names))
        if near is not None:
            source.unread.add(near)
        remedy = f"name it '{near}', or take it away" if near else f"the tables are {', '.join(BY_NAME)}"
        source.faults.append(Fault(name, None, "", "", f"is not the name of a table ({kind})", remedy))
    return known
