"""Read a folder of CSV files into grids, with every fault of the files themselves."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from model.planned.plan_schema import PlanTable
from model.scenario.tables import BY_NAME, Table
from scenarios.cells.faults import Fault
from scenarios.cells.grid import (
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    NO_TABLE,
    Grid,
    TableSource,
    file_fault,
    tables_named,
)
from scenarios.cells.parse import Raw

LARGEST_FILE = 50_000_000
"""Bytes of one CSV file."""

SAVE_AS = "save it as 'CSV UTF-8, comma delimited'"


class _FileFault(Exception):
    """A fault that keeps a file from being read: row, value, what is wrong, remedy."""

    def __init__(self, wrong: str, remedy: str, row: int | None = None, value: str = "") -> None:
        super().__init__(wrong)
        self.row, self.value, self.wrong, self.remedy = row, value, wrong, remedy


def read_folder(folder: Path) -> TableSource:
    """Read all CSV files of a folder as grids; skip files that are hidden or not CSV."""
    source = TableSource()
    try:
        paths = [
            path
            for path in sorted(folder.iterdir())
            if path.suffix.lower() == ".csv" and not path.name.startswith((".", NO_TABLE))
        ]
    except OSError as error:
        source.faults.append(
            file_fault(str(folder), f"cannot be read: {error.strerror}", "give it to be read")
        )
        return source
    if not paths:
        source.faults.append(
            file_fault(str(folder), "holds no table", "name a folder with nursery.csv, orders.csv and so on")
        )
    files = {path.stem: path for path in paths}
    for path in paths:
        if files[path.stem] != path:
            twice = Fault(path.stem, None, "", path.name, "is the same table again", "keep one of the files")
            source.faults.append(twice)
    for name in tables_named(files, "CSV file", source):
        read_table_file(BY_NAME[name], files[name], source)
    return source


def read_table_file(table: Table | PlanTable, path: Path, source: TableSource) -> None:
    """Read one table's CSV file; add its grid, or the fault of the file, to the source."""
    name = table.name
    try:
        source.grids[name] = Grid(name, _rows(table, _text(path), source), typed=False)
    except _FileFault as fault:
        source.faults.append(Fault(name, fault.row, "", fault.value, fault.wrong, fault.remedy))
        source.unread.add(name)


def _text(path: Path) -> str:
    """The file's text; raises ``_FileFault``."""
    if path.is_symlink():
        raise _FileFault("is a symbolic link", "put the file itself in the folder")
    if not path.is_file():
        raise _FileFault("is not a file", "put a CSV file in its place")
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise _FileFault(
                f"is larger than {LARGEST_FILE:,} bytes", "keep only rows and columns of the table"
            )
        data = path.read_bytes()
    except OSError as error:
        raise _FileFault(f"cannot be read: {error.strerror}", "give it to be read") from None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _FileFault("is UTF-16 text", SAVE_AS)
    if b"\0" in data:
        raise _FileFault("holds a NUL byte: it is not a text file", SAVE_AS)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        wrong = f"is not UTF-8 text (byte {data[error.start]:#04x})"
        raise _FileFault(wrong, SAVE_AS, row) from None
    if not text.strip():
        raise _FileFault("is an empty file", "write a heading row and rows, or take the file away")
    return text


def _rows(table: Table | PlanTable, text: str, source: TableSource) -> list[tuple[int, list[Raw]]]:
    """The numbered rows of the file; raises ``_FileFault`` where it cannot be split into cells.

    A row with too few or too many cells is a fault, and is left out: its cells may be in the wrong columns.
    """
    _check_delimiter(table, text)
    rows: list[tuple[int, list[Raw]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    number = width = 0
    try:
        for number, cells in enumerate(reader, 1):
            if number > MOST_ROWS:
                raise _FileFault(f"has more than {MOST_ROWS:,} rows", "keep only rows of the table")
            if number * width > MOST_CELLS:
                raise _FileFault(f"has more than {MOST_CELLS:,} cells", "keep only rows of the table")
            if number == 1:
                width = len(cells)
                if not any(cell.strip() for cell in cells):
                    break
            elif not any(cell.strip() for cell in cells):
                continue
            if width > MOST_COLUMNS:
                raise _FileFault(f"has {width:,} columns", "keep only columns of the table", 1)
            if len(cells) != width:
                source.faults.append(_ragged(table.name, number, len(cells), width))
                source.unread.add(table.name)
                continue
            rows.append((number, list(cells)))
    except csv.Error as error:
        raise _csv_fault(error, number + 1) from None
    return rows


def _ragged(table: str, row: int, cells: int, width: int) -> Fault:
    wrong = f"has {cells} cells, the heading {width}"
    remedy = "write a comma between two cells, and double quotes round a text that holds a comma"
    return Fault(table, row, "", "", wrong, remedy)


def _csv_fault(error: csv.Error, row: int) -> _FileFault:
    if "field larger" in str(error):
        limit = csv.field_size_limit()
        return _FileFault(
            f"has a cell of more than {limit:,} characters", "close the double quotes, or shorten it", row
        )
    return _FileFault(
        "has double quotes that do not fit",
        "put double quotes round the whole text, and write each one within it twice",
        row,
    )


def _check_delimiter(table: Table | PlanTable, text: str) -> None:
    """Raise ``_FileFault`` where the cells of the heading are not separated by commas."""
    heading = text.lstrip("\ufeff").splitlines()[0]
    if "," in heading:
        return
    for mark, name in ((";", "';'"), ("\t", "tabs"), ("|", "'|'")):
        first = heading.split(mark)[0].strip().strip('"')
        if mark in heading and first.split(" [")[0] in table.by_name:
            wrong, remedy = f"has cells separated by {name}", f"separate cells by commas: {SAVE_AS}"
            raise _FileFault(wrong, remedy, 1, heading)
