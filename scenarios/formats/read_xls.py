"""Read a workbook of the old kind (.xls), by xlrd.

xlrd is plain Python: a damaged file makes it raise. Faster readers in other languages were tried, and a few
changed bytes made one end the whole process.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import time
from typing import IO, Any

from scenarios.cells.grid import FileFault, Grid, TableSource, file_fault
from scenarios.cells.parse import Raw, Unreadable
from scenarios.formats.sheet_facts import SheetFacts, error_value
from scenarios.formats.zip_checks import SAVE_AS


def read_xls(
    file: IO[bytes], choice: Callable[[Sequence[str]], Mapping[str, str]], source: TableSource
) -> None:
    """Read the chosen sheets; raises what its reader raises on a damaged file."""
    import xlrd
    from xlrd.compdoc import CompDocError

    file.seek(0)
    try:
        book = xlrd.open_workbook(
            file_contents=file.read(), logfile=io.StringIO(), formatting_info=True, ragged_rows=True
        )
    except (xlrd.XLRDError, CompDocError) as error:
        if "encrypted" in str(error):
            raise FileFault("is protected by a password", "save it without a password") from None
        raise FileFault(f"is damaged: {error}", SAVE_AS) from None
    if book.datemode:
        remedy = "switch off the 1904 date system, write dates again"
        source.faults.append(file_fault("", "the workbook counts its dates from 1904", remedy))
    for title, table in choice(book.sheet_names()).items():
        sheet = book.sheet_by_name(title)
        facts = _facts(sheet)
        excess = facts.excess(table)
        if excess is not None:
            source.faults.append(excess)
            source.unread.add(table)
            continue
        source.grids[table] = Grid(table, facts.rows(table, _values(sheet, facts), source), typed=True)
        source.remarks += facts.hidden(table, not sheet.visibility)


def _facts(sheet: Any) -> SheetFacts:
    facts = SheetFacts()
    for row in range(sheet.nrows):
        for column, kind in enumerate(sheet.row_types(row)):
            if kind not in (0, 6):  # neither empty nor only formatted
                facts.fill(row + 1, column + 1)
    facts.hidden_rows.update(row + 1 for row, info in sheet.rowinfo_map.items() if info.hidden)
    facts.hidden_columns.update(column + 1 for column, info in sheet.colinfo_map.items() if info.hidden)
    facts.merged += [(left + 1, top + 1, right, bottom) for top, bottom, left, right in sheet.merged_cells]
    return facts


def _values(sheet: Any, facts: SheetFacts) -> Iterator[list[Raw]]:
    """The rows of a sheet from its first cell to its last filled one."""
    for row in range(facts.last_row):
        cells = [_raw(sheet.book, cell) for cell in sheet.row(row)[: facts.last_column]]
        yield cells + [None] * (facts.last_column - len(cells))


def _raw(book: Any, cell: Any) -> Raw:
    """The content of a cell, or an ``Unreadable`` with the reason why it cannot be used."""
    import xlrd

    value: Any = cell.value
    if cell.ctype == xlrd.XL_CELL_ERROR:
        return error_value(xlrd.error_text_from_code.get(value, "an error"))
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return bool(value)
    if cell.ctype == xlrd.XL_CELL_DATE:
        try:
            day = xlrd.xldate.xldate_as_datetime(value, book.datemode)
        except (ValueError, OverflowError, xlrd.xldate.XLDateError):
            wrong = "is formatted as a date, but no such day is known"
            return Unreadable(f"{value:g}", wrong, "write a date")
        return time(day.hour, day.minute, day.second) if value < 1 else day
    return None if value == "" else value
