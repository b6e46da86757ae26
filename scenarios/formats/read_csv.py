"""Read a table from a text file (CSV), with every fault of the file itself."""

from __future__ import annotations

import csv
import io
from contextlib import suppress
from pathlib import Path

from model.planned.tables.plan_schema import PlanTable
from model.scenario.tables import Table
from scenarios.cells.grid import (
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    FileFault,
    Grid,
    TableSource,
    table_fault,
)
from scenarios.cells.headings import name_and_unit
from scenarios.cells.parse import Raw
from scenarios.formats.decoded import decoded
from scenarios.formats.held import unreadable
from scenarios.formats.settings import Settings, settings_of

LARGEST_FILE = 50_000_000
"""Bytes of one CSV file."""

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "'|'"}
"""Signs between cells, the more common first."""

RAGGED = "separate cells by {0}, and put double quotes round a text that holds one"

FEW_COLUMNS = 2
"""In a table of more columns, a line with a single cell may be a remark."""


def read_text_table(table: Table | PlanTable, path: Path, source: TableSource) -> None:
    """Read one table's text file; add its grid, or the fault of the file, to the source."""
    name = table.name
    try:
        text = decoded(_bytes(path))
        source.grids[name] = _grid(table, text.text, source)
        if text.how:
            source.tell(text.how, name)
    except FileFault as fault:
        source.faults.append(table_fault(name, fault.wrong, fault.remedy, fault.row, fault.value))
        source.unread.add(name)


def _bytes(path: Path) -> bytes:
    """The file's content; raises ``FileFault``."""
    if path.is_symlink():
        raise FileFault("is a symbolic link", "put the file itself in the folder")
    if not path.is_file():
        raise FileFault("is not a file", "put a CSV file in its place")
    try:
        if path.stat().st_size > LARGEST_FILE:
            wrong = f"is larger than {LARGEST_FILE:,} bytes"
            raise FileFault(wrong, "keep only rows and columns of the table")
        return path.read_bytes()
    except OSError as error:
        raise FileFault(*unreadable(path, error)) from None


def _grid(table: Table | PlanTable, text: str, source: TableSource) -> Grid:
    """The numbered rows of the file; raises ``FileFault`` where it cannot be split into cells."""
    if not text.strip():
        raise FileFault("is an empty file", "write a heading row and rows, or take the file away")
    settings = settings_of(text)
    separator = _separator(table, text, settings)
    if separator != ",":
        source.tell(f"cells separated by {SEPARATORS[separator]}", table.name)
    rows = _rows(table, text, settings.lines, separator, source)
    return Grid(table.name, rows, False, settings.lines + 1, separator, settings.told)


def _separator(table: Table | PlanTable, text: str, settings: Settings) -> str:
    """The sign between cells: the one by which the heading splits into most of the table's columns.

    Raises ``FileFault`` where a line above the heading names another.
    """
    lines = text.splitlines()
    heading = lines[settings.lines] if len(lines) > settings.lines else ""

    def known(separator: str) -> int:
        with suppress(csv.Error):
            (names,) = csv.reader([heading], delimiter=separator) if heading else ([],)
            return sum(name_and_unit(name, table.by_name)[0] in table.by_name for name in names)
        return 0

    found = max(SEPARATORS, key=known)
    if settings.separator is not None and known(settings.separator) < known(found):
        wrong = (
            f"names {SEPARATORS[settings.separator]} between cells, but the heading has {SEPARATORS[found]}"
        )
        raise FileFault(wrong, f"write sep={found}, or take that line away", 1)
    return settings.separator or found


def _rows(
    table: Table | PlanTable, text: str, skipped: int, separator: str, source: TableSource
) -> list[tuple[int, list[Raw]]]:
    """The rows below ``skipped`` lines; raises ``FileFault``.

    A row with too few or too many cells is a fault, and is left out: its cells may be in the wrong columns.
    Not so where only blank cells are too many, or where a single cell is filled, as in a remark under the
    table.
    """
    rows: list[tuple[int, list[Raw]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    number = width = 0
    try:
        for number, cells in enumerate(reader, 1):
            if number <= skipped:
                continue
            if number > MOST_ROWS:
                raise FileFault(f"has more than {MOST_ROWS:,} rows", "keep only rows of the table")
            if number * width > MOST_CELLS:
                raise FileFault(f"has more than {MOST_CELLS:,} cells", "keep only rows of the table")
            if number == skipped + 1:
                width = len(cells)
            if not any(cell.strip() for cell in cells):
                if number == skipped + 1:
                    break
                continue
            if width > MOST_COLUMNS:
                raise FileFault(f"has {width:,} columns", "keep only columns of the table", 1)
            fitted = _fitted(cells, width, separator)
            if len(fitted) != width:
                wrong = f"has {len(cells)} cells, the heading {width}"
                remedy = RAGGED.format(SEPARATORS[separator])
                source.faults.append(table_fault(table.name, wrong, remedy, number))
                source.unread.add(table.name)
                continue
            rows.append((number, list(fitted)))
    except csv.Error as error:
        raise _csv_fault(error, number + 1) from None
    return rows


def _fitted(cells: list[str], width: int, separator: str) -> list[str]:
    """The cells without blank ones beyond the heading; a single filled cell with blank ones behind it.

    Not so where another sign splits the single cell into a row of the table.
    """
    if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
        return cells[:width]
    other = max(cells[0].count(sign) for sign in SEPARATORS if sign != separator)
    if len(cells) == 1 and width > FEW_COLUMNS and other < width - 1:
        return cells + [""] * (width - 1)
    return cells


def _csv_fault(error: csv.Error, row: int) -> FileFault:
    if "field larger" in str(error):
        wrong = f"has a cell of more than {csv.field_size_limit():,} characters"
        return FileFault(wrong, "close the double quotes, or shorten it", row)
    remedy = "put double quotes round the whole text, and write each one within it twice"
    return FileFault("has double quotes that do not fit", remedy, row)
