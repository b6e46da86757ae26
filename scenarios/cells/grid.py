"""The raw cells of a scenario's files as grids, before they are converted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from model.scenario.about_cells import Remark
from model.scenario.tables import BY_NAME
from scenarios.cells.faults import Fault, nearest, shown
from scenarios.cells.parse import Raw

MOST_ROWS, MOST_COLUMNS, MOST_CELLS = 100_000, 200, 2_000_000
"""Most rows, columns and cells of a table; no order book comes near, and more would only cost memory."""

FEW_TABLES = 5
"""Tables that a remark on whole files names; it counts more."""

NO_TABLE = "#"
"""Sheets and files whose names start with this are for people; the reader skips them."""


ALIKE = 0.7
"""Names of sheets and files so much like a table's may be meant for it."""

DMY, MDY, YMD = DATES = ("day/month/year", "month/day/year", "year/month/day")
"""Orders of a date."""

POINT, COMMA = DECIMALS = ("point", "comma")
"""Decimal signs."""


@dataclass(frozen=True, slots=True)
class Told:
    """What lines above the heading say of a file: its decimal sign, the order of its dates; None: nothing."""

    decimal: str | None = None
    dates: str | None = None


NOTHING = Told()


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells of one table: numbered rows, the heading first.

    ``typed``: the cells come from a workbook. Of a text file: ``heading``, the number of the row in which its
    heading belongs, ``separator``, what stands between its cells, and ``told``.
    """

    table: str
    rows: list[tuple[int, list[Raw]]]
    typed: bool
    heading: int = 1
    separator: str = ""
    told: Told = NOTHING


@dataclass(slots=True)
class TableSource:
    """All grids of a scenario, and the faults found while reading them.

    ``unread``: tables that exist but could not be read, so that rules skip their rows.
    ``remarks``: on cells that count but do not show when the workbook is opened, and on what was passed over.
    ``how``: in words how cells were read that are not written as the program writes them; the tables, and the
    columns of each.
    """

    grids: dict[str, Grid] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)
    remarks: list[Remark] = field(default_factory=list)
    how: dict[str, dict[str, list[str]]] = field(default_factory=dict)

    def tell(self, how: str, table: str, columns: Iterable[str] = ()) -> None:
        """Note how a table, or columns of it, were read."""
        self.how.setdefault(how, {}).setdefault(table, []).extend(columns)

    def told(self) -> list[Remark]:
        """All remarks: one for each way of reading, with its tables and columns, then the others."""
        made = []
        for how, tables in self.how.items():
            named = [
                f"{table} ({', '.join(columns)})" if columns else table for table, columns in tables.items()
            ]
            few = len(named) <= FEW_TABLES or any(tables.values())
            made.append(Remark("", None, how, "", "", ", ".join(named) if few else f"{len(named)} tables"))
        return made + self.remarks


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
    """The names of ``names`` that are tables; others are passed over, and that is told.

    A name that resembles a table's, or holds it as a word, is a fault, and the table meant is unread.
    """
    known, strange = [], []
    names = list(names)
    for name in names:
        if name in BY_NAME:
            known.append(name)
            continue
        near = nearest(name, set(BY_NAME).difference(names), ALIKE) or nearest(name, BY_NAME, ALIKE)
        near = near or next((table for table in BY_NAME if table in name.casefold().split()), None)
        if near is None:
            strange.append(shown(name))
            continue
        if near not in names:
            source.unread.add(near)
        remedy = f"name it '{near}', take it away, or begin its name with '{NO_TABLE}'"
        source.faults.append(table_fault(name, f"is not the name of a table ({kind})", remedy))
    if strange:
        says = "is no table: passed over" if len(strange) == 1 else "are no tables: passed over"
        source.remarks.append(Remark("", None, f"{kind} {', '.join(strange)}", "", "", says))
    return known
