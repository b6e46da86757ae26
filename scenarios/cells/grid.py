"""The raw cells of a scenario's files as grids, before they are converted."""

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
"""Sheets and files whose names start with this are for people; the reader skips them."""


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells of one table: numbered rows, the heading first. ``typed``: the cells come from a workbook."""

    table: str
    rows: list[tuple[int, list[Raw]]]
    typed: bool


@dataclass(slots=True)
class TableSource:
    """All grids of a scenario, and the faults found while reading them.

    ``unread``: tables that exist but could not be read, so that rules skip their rows.
    ``hidden``: remarks on cells that count but do not show when the workbook is opened.
    """

    grids: dict[str, Grid] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)
    hidden: list[Remark] = field(default_factory=list)


class FileFault(Exception):
    """A fault that keeps a file from being read; ``row`` and ``value``: its place, where it has one."""

    def __init__(self, wrong: str, remedy: str, row: int | None = None, value: str = "") -> None:
        super().__init__(wrong)
        self.row, self.value, self.wrong, self.remedy = row, value, wrong, remedy


def file_fault(value: str, wrong: str, remedy: str) -> Fault:
    """A fault of a file as a whole."""
    return Fault("", None, "", value, wrong, remedy)


def table_fault(table: str, wrong: str, remedy: str, row: int | None = None, value: str = "") -> Fault:
    """A fault of a table, or of a row of it, that is in no column."""
    return Fault(table, row, "", value, wrong, remedy)


def tables_named(names: Iterable[str], kind: str, source: TableSource) -> list[str]:
    """The names of ``names`` that are tables; each other name is a fault, and the table meant is unread."""
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
        source.faults.append(table_fault(name, f"is not the name of a table ({kind})", remedy))
    return known
