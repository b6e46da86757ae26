"""Read an .xlsx workbook into grids: its values by openpyxl, all else from its XML.

openpyxl ignores formulas that were never calculated, merged cells and dates out of range; a second pass over
the XML of each sheet finds these.
"""

from __future__ import annotations

import re
import warnings
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import IO, Any
from xml.sax.handler import ContentHandler
from xml.sax.xmlreader import AttributesImpl

from openpyxl import load_workbook
from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.workbook.workbook import Workbook

from scenarios.cells.grid import MOST_COLUMNS, Grid, TableSource, file_fault, table_fault
from scenarios.cells.parse import Raw, Unreadable
from scenarios.formats.sheet_facts import SheetFacts, error_value, never_calculated, zoned
from scenarios.formats.zip_checks import parse

LAST_SERIAL = 2_958_465
"""Serial number of the last day in a spreadsheet's calendar, 9999-12-31."""

ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
"""A workbook's escape of a character that XML cannot hold (ECMA-376, part 1, 22.9.2.19, ST_Xstring)."""

ZONED = re.compile(r"T.*([zZ]|[+-][0-9]{2}:?[0-9]{2})$")
"""The end of an ISO 8601 time with a time zone."""


class _Scan(ContentHandler):
    """Facts of a sheet that openpyxl hides, and numbers that are no days of a spreadsheet's calendar."""

    def __init__(self) -> None:
        super().__init__()
        self.facts = SheetFacts()
        self.numbers: dict[tuple[int, int], str] = {}
        self._row = self._column = 0
        self._kind = ""
        self._formula: list[str] | None = None
        self._value: list[str] | None = None
        self._text: list[str] | None = None

    def startElement(self, name: str, attrs: AttributesImpl) -> None:  # noqa: N802 - the base class's name
        tag = name.rpartition(":")[2]
        if tag == "row":
            self._row = int(attrs.get("r", str(self._row + 1)))
            self._column = 0
            if _is_hidden(attrs, "ht"):
                self.facts.hidden_rows.add(self._row)
        elif tag == "col":
            if _is_hidden(attrs, "width"):
                last = min(int(attrs.get("max", "0")), MOST_COLUMNS)
                self.facts.hidden_columns.update(range(int(attrs.get("min", "1")), last + 1))
        elif tag == "c":
            place = attrs.get("r")
            self._row, self._column = coordinate_to_tuple(place) if place else (self._row, self._column + 1)
            self._kind = attrs.get("t", "n")
            self._formula = self._value = self._text = None
        elif tag == "f":
            self._formula = self._text = []
        elif tag in ("v", "is"):
            self._value = self._text = []
        elif tag == "mergeCell":
            self.facts.merged.append(_bounds(attrs.get("ref", "")))

    def characters(self, content: str) -> None:
        if self._text is not None:
            self._text.append(content)

    def endElement(self, name: str) -> None:  # noqa: N802 - the base class's name
        if name.rpartition(":")[2] == "c":
            self._end_cell()

    def _end_cell(self) -> None:
        value = "".join(self._value or ()).strip()
        place = self._row, self._column
        if self._formula is not None and not value and self._kind != "str":
            self.facts.unreadable[place] = never_calculated("=" + "".join(self._formula))
        if value or self._formula is not None:
            self.facts.fill(*place)
        if value and self._kind == "n" and not 0 <= float(value) <= LAST_SERIAL:
            self.numbers[place] = value
        if self._kind == "d" and ZONED.search(value):
            self.facts.unreadable[place] = zoned(value)
        self._formula = self._value = self._text = None


def _is_hidden(attrs: AttributesImpl, size: str) -> bool:
    """Whether a row or column is hidden, or has no height or width."""
    return attrs.get("hidden", "0") in ("1", "true") or attrs.get(size, "1") in ("0", "0.0")


def read_xlsx(
    file: IO[bytes],
    archive: zipfile.ZipFile,
    choice: Callable[[Sequence[str]], Mapping[str, str]],
    source: TableSource,
) -> None:
    """Read the chosen sheets; raises what openpyxl raises on a damaged file."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(file, read_only=True, data_only=True, keep_links=False)
        _grids(book, archive, choice, source)


def _grids(
    book: Workbook,
    archive: zipfile.ZipFile,
    choice: Callable[[Sequence[str]], Mapping[str, str]],
    source: TableSource,
) -> None:
    if book.epoch == CALENDAR_MAC_1904:
        remedy = "switch off the 1904 date system, write dates again"
        source.faults.append(file_fault("", "the workbook counts its dates from 1904", remedy))
    for title, table in choice(book.sheetnames).items():
        sheet: Any = book[title]
        if not hasattr(sheet, "iter_rows"):
            wrong, remedy = "is a chart, not a table", "put the table in its place"
            source.faults.append(table_fault(table, wrong, remedy))
            source.unread.add(table)
            continue
        scan = _Scan()
        part: str = sheet._worksheet_path  # openpyxl has no public name for it
        parse(archive, part, scan)
        excess = scan.facts.excess(table)
        if excess is not None:
            source.faults.append(excess)
            source.unread.add(table)
            continue
        source.grids[table] = Grid(table, scan.facts.rows(table, _values(sheet, scan), source), typed=True)
        source.remarks += scan.facts.hidden(table, sheet.sheet_state == "visible")


def _values(sheet: Any, scan: _Scan) -> Iterator[list[Raw]]:
    """The rows of a sheet from its first cell to its last filled one."""
    if not scan.facts.last_row:
        return
    last_row, last_column = scan.facts.last_row, scan.facts.last_column
    cells = sheet.iter_rows(min_row=1, max_row=last_row, min_col=1, max_col=last_column)
    for number, row in enumerate(cells, 1):
        yield [_raw(cell, (number, column), scan) for column, cell in enumerate(row, 1)]


def _bounds(reference: str) -> tuple[int, int, int, int]:
    """First column and row, last column and row of a range of cells."""
    first, _, last = reference.partition(":")
    (top, left), (bottom, right) = coordinate_to_tuple(first), coordinate_to_tuple(last or first)
    return left, top, right, bottom


def _raw(cell: Any, place: tuple[int, int], scan: _Scan) -> Raw:
    """The content of a cell, or an ``Unreadable`` with the reason why it cannot be used."""
    if place in scan.numbers and cell.data_type in ("e", "d"):
        wrong = "is formatted as a date, but no such day is known"
        return Unreadable(scan.numbers[place], wrong, "write a date")
    if cell.data_type == "e":
        return error_value(str(cell.value))
    value: Raw = cell.value
    return ESCAPED.sub(lambda code: chr(int(code[1], 16)), value) if isinstance(value, str) else value
