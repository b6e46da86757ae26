"""Read a folder of CSV files into grids, with every fault of the files themselves."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from model.planned.plan_schema import PlanTable
from model.scenario.tables import BY_NAME, Table
from scenarios.cells.grid import (
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    NO_TABLE,
    FileFault,
    Grid,
    TableSource,
    file_fault,
    table_fault,
    tables_named,
)
from scenarios.cells.parse import Raw

LARGEST_FILE = 50_000_000
"""Bytes of one CSV file."""

RAGGED = "write a comma between two cells, and double quotes round a text that holds a comma"
SAVE_AS = "save it as 'CSV UTF-8, comma delimited'"


def read_folder(folder: Path) -> TableSource:
    """Read all CSV files of a folder as grids; skip files that are hidden or not CSV."""
    source = TableSource()
    try:
        names = sorted(folder.iterdir())
    except OSError as error:
        wrong = f"cannot be read: {error.strerror}"
        source.faults.append(file_fault(str(folder), wrong, "give it to be read"))
        return source
    paths = [
        path for path in names if path.suffix.lower() == ".csv" and not path.name.startswith((".", NO_TABLE))
    ]
    if not paths:
        remedy = "name a folder with nursery.csv, orders.csv and so on"
        source.faults.append(file_fault(str(folder), "holds no table", remedy))
    files = {path.stem: path for path in paths}
    for path in paths:
        if files[path.stem] != path:
            wrong, remedy = "is the same table again", "keep one of the files"
            source.faults.append(table_fault(path.stem, wrong, remedy, value=path.name))
    for name in tables_named(files, "CSV file", source):
        read_table_file(BY_NAME[name], files[name], source)
    return source


def read_table_file(table: Table | PlanTable, path: Path, source: TableSource) -> None:
    """Read one table's CSV file; add its grid, or the fault of the file, to the source."""
    name = table.name
    try:
        source.grids[name] = Grid(name, _rows(table, _text(path), source), typed=False)
    except FileFault as fault:
        source.faults.append(table_fault(name, fault.wrong, fault.remedy, fault.row, fault.value))
        source.unread.add(name)


def _text(path: Path) -> str:
    """The file's text; raises ``FileFault``."""
    if path.is_symlink():
        raise FileFault("is a symbolic link", "put the file itself in the folder")
    if not path.is_file():
        raise FileFault("is not a file", "put a CSV file in its place")
    try:
        if path.stat().st_size > LARGEST_FILE:
            wrong = f"is larger than {LARGEST_FILE:,} bytes"
            raise FileFault(wrong, "keep only rows and columns of the table")
        data = path.read_bytes()
    except OSError as error:
        raise FileFault(f"cannot be read: {error.strerror}", "give it to be read") from None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise FileFault("is UTF-16 text", SAVE_AS)
    if b"\0" in data:
        raise FileFault("holds a NUL byte: it is not a text file", SAVE_AS)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        wrong = f"is not UTF-8 text (byte {data[error.start]:#04x})"
        raise FileFault(wrong, SAVE_AS, row) from None
    if not text.strip():
        raise FileFault("is an empty file", "write a heading row and rows, or take the file away")
    return text


def _rows(table: Table | PlanTable, text: str, source: TableSource) -> list[tuple[int, list[Raw]]]:
    """The numbered rows of the file; raises ``FileFault`` where it cannot be split into cells.

    A row with too few or too many cells is a fault, and is left out: its cells may be in the wrong columns.
    """
    _check_delimiter(table, text)
    rows: list[tuple[int, list[Raw]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    number = width = 0
    try:
        for number, cells in enumerate(reader, 1):
            if number > MOST_ROWS:
                raise FileFault(f"has more than {MOST_ROWS:,} rows", "keep only rows of the table")
            if number * width > MOST_CELLS:
                raise FileFault(f"has more than {MOST_CELLS:,} cells", "keep only rows of the table")
            if number == 1:
                width = len(cells)
            if not any(cell.strip() for cell in cells):
                if number == 1:
                    break
                continue
            if width > MOST_COLUMNS:
                raise FileFault(f"has {width:,} columns", "keep only columns of the table", 1)
            if len(cells) != width:
                wrong = f"has {len(cells)} cells, the heading {width}"
                source.faults.append(table_fault(table.name, wrong, RAGGED, number))
                source.unread.add(table.name)
                continue
            rows.append((number, list(cells)))
    except csv.Error as error:
        raise _csv_fault(error, number + 1) from None
    return rows


def _csv_fault(error: csv.Error, row: int) -> FileFault:
    if "field larger" in str(error):
        wrong = f"has a cell of more than {csv.field_size_limit():,} characters"
        return FileFault(wrong, "close the double quotes, or shorten it", row)
    remedy = "put double quotes round the whole text, and write each one within it twice"
    return FileFault("has double quotes that do not fit", remedy, row)


def _check_delimiter(table: Table | PlanTable, text: str) -> None:
    """Raise ``FileFault`` where the cells of the heading are not separated by commas."""
    heading = text.lstrip("\ufeff").splitlines()[0]
    if "," in heading:
        return
    for mark, name in ((";", "';'"), ("\t", "tabs"), ("|", "'|'")):
        first = heading.split(mark)[0].strip().strip('"')
        if mark in heading and first.split(" [")[0] in table.by_name:
            wrong, remedy = f"has cells separated by {name}", f"separate cells by commas: {SAVE_AS}"
            raise FileFault(wrong, remedy, 1, heading)
