"""Read a workbook into grids, with every fault of the file itself.

The zip directory, the sizes and the XML are checked before openpyxl opens the file and reads the values.
openpyxl ignores formulas that were never calculated, merged cells and dates out of range; a second pass over
the XML of each sheet finds these.
"""

from __future__ import annotations

import re
import warnings
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any
from xml.sax import SAXException
from xml.sax.handler import ContentHandler
from xml.sax.xmlreader import AttributesImpl

import defusedxml.sax
from defusedxml.common import DefusedXmlException
from openpyxl import load_workbook
from openpyxl.utils.cell import coordinate_to_tuple, get_column_letter
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.workbook.workbook import Workbook

from model.scenario.about_cells import Remark
from scenarios.cells.faults import Fault, ranges
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
from scenarios.cells.parse import FAULTED, Raw, Unreadable, is_blank

LARGEST_FILE = 50_000_000
LARGEST_EXPANDED = 100_000_000
"""Bytes of the file, and of all its parts once expanded."""
MOST_PARTS = 1000
MOST_MERGED = 100
STEEPEST, STEEP_FROM = 200, 1_000_000
"""A part of more than ``STEEP_FROM`` bytes that shrank by more than the factor ``STEEPEST`` is no table."""
LAST_SERIAL = 2_958_465
"""Serial number of the last day in a spreadsheet's calendar, 9999-12-31."""

ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
"""A workbook's escape of a character that XML cannot hold (ECMA-376, part 1, 22.9.2.19, ST_Xstring)."""

ZONED = re.compile(r"T.*([zZ]|[+-][0-9]{2}:?[0-9]{2})$")
"""The end of an ISO 8601 time with a time zone."""

OTHER_KINDS = {
    ".xls": "is a workbook of the old kind (.xls)",
    ".xlsm": "is a workbook with macros (.xlsm)",
    ".xlsb": "is a binary workbook (.xlsb)",
    ".ods": "is an OpenDocument workbook (.ods)",
    ".numbers": "is a Numbers document",
    ".csv": "is a single table",
}
SAVE_AS = "open it in a spreadsheet program and save it as .xlsx"


class _Scan(ContentHandler):
    """Facts of a sheet that openpyxl hides: formulas without a value, merged cells, extent, odd numbers."""

    def __init__(self) -> None:
        super().__init__()
        self.never_calculated: dict[tuple[int, int], str] = {}
        self.numbers: dict[tuple[int, int], str] = {}
        self.zoned: dict[tuple[int, int], str] = {}
        self.hidden_rows: set[int] = set()
        self.hidden_columns: set[int] = set()
        self.filled_rows: set[int] = set()
        self.filled_columns: set[int] = set()
        self.merged: list[str] = []
        self.last_row = self.last_column = 0
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
                self.hidden_rows.add(self._row)
        elif tag == "col":
            if _is_hidden(attrs, "width"):
                last = min(int(attrs.get("max", "0")), MOST_COLUMNS)
                self.hidden_columns.update(range(int(attrs.get("min", "1")), last + 1))
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
            self.merged.append(attrs.get("ref", ""))

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
            self.never_calculated[place] = "=" + "".join(self._formula)
        if value or self._formula is not None:
            if self._row > 1:  # below the heading
                self.filled_rows.add(self._row)
                self.filled_columns.add(self._column)
            self.last_row = max(self.last_row, self._row)
            self.last_column = max(self.last_column, self._column)
        if value and self._kind == "n" and not 0 <= float(value) <= LAST_SERIAL:
            self.numbers[place] = value
        if self._kind == "d" and ZONED.search(value):
            self.zoned[place] = value
        self._formula = self._value = self._text = None


def _is_hidden(attrs: AttributesImpl, size: str) -> bool:
    """Whether a row or column is hidden, or has no height or width."""
    return attrs.get("hidden", "0") in ("1", "true") or attrs.get(size, "1") in ("0", "0.0")


def _hidden(table: str, scan: _Scan, state: str) -> Iterator[Remark]:
    """Remarks on a hidden sheet, hidden rows and hidden columns, whose cells count like all others."""
    rows, columns = scan.hidden_rows & scan.filled_rows, scan.hidden_columns & scan.filled_columns
    if state != "visible" and scan.filled_rows:
        yield Remark(table, None, "the sheet", "", "", "is hidden; its rows count like all others")
    if rows:
        by = "hidden by hand or by a filter; what stands there counts like all else"
        yield Remark(table, None, ranges("row", rows), "", "", by)
    for column in sorted(columns):
        name = f"column {get_column_letter(column)}"
        yield Remark(table, None, name, "", "", "hidden; what stands there counts like all else")


def read_workbook(path: Path) -> TableSource:
    """Read all sheets of a workbook as grids; skip sheets whose names start with '#'."""
    source = TableSource()
    try:
        _check_kind(path)
        with path.open("rb") as file:
            _check_first_bytes(file)
            _read(file, source)
    except FileFault as refused:
        return TableSource(faults=[file_fault(path.name, refused.wrong, refused.remedy)])
    except OSError as error:
        wrong = f"cannot be read: {error.strerror or error}"
        source.faults.append(file_fault(path.name, wrong, "give it to be read"))
    return source


def _check_kind(path: Path) -> None:
    suffix = path.suffix.lower()
    if suffix == ".csv":
        raise FileFault(OTHER_KINDS[suffix], "name the folder in which it stands")
    if suffix != ".xlsx":
        raise FileFault(OTHER_KINDS.get(suffix, "is neither a workbook (.xlsx) nor a folder"), SAVE_AS)
    if not path.is_file():
        raise FileFault("is not a file", "name a workbook")
    size = path.stat().st_size
    if size == 0:
        raise FileFault("is an empty file", "write a blank workbook and fill it in")
    if size > LARGEST_FILE:
        raise FileFault(f"is larger than {LARGEST_FILE:,} bytes", "keep only the tables in it")


def _check_first_bytes(file: IO[bytes]) -> None:
    """Raise ``FileFault`` where the file is not a zip file, as workbooks are, and say what it is."""
    head = file.read(8)
    if head == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        if "EncryptedPackage".encode("utf-16-le") in file.read():
            raise FileFault("is protected by a password", "save it without a password")
        raise FileFault(OTHER_KINDS[".xls"], SAVE_AS)
    if not head.startswith(b"PK\x03\x04"):
        raise FileFault("is not a workbook, whatever its name", SAVE_AS)
    file.seek(0)


def _read(file: IO[bytes], source: TableSource) -> None:
    try:
        with zipfile.ZipFile(file) as archive:
            _check_parts(archive)
            _check_xml(archive)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                book = load_workbook(file, read_only=True, data_only=True, keep_links=False)
                _grids(book, archive, source)
    except FileFault:
        raise
    except (zipfile.BadZipFile, EOFError) as error:
        raise FileFault(f"is damaged: {error}", SAVE_AS) from None
    except DefusedXmlException:
        raise FileFault("declares XML entities, which no workbook needs", SAVE_AS) from None
    except Exception as error:  # whatever a forged or damaged workbook makes its reader raise
        raise FileFault(f"cannot be read as a workbook ({type(error).__name__}: {error})", SAVE_AS) from None


def _check_parts(archive: zipfile.ZipFile) -> None:
    """Refuse a file that is no workbook or is too large when expanded, from the zip directory alone."""
    parts = archive.infolist()
    if len(parts) > MOST_PARTS:
        raise FileFault(f"has {len(parts):,} parts", "keep only the tables in it")
    if sum(part.file_size for part in parts) > LARGEST_EXPANDED:
        wrong = f"is larger than {LARGEST_EXPANDED:,} bytes when expanded"
        raise FileFault(wrong, "keep only the tables in it")
    for part in parts:
        if part.file_size > max(STEEP_FROM, STEEPEST * part.compress_size):
            wrong = f"is packed more than {STEEPEST} times: a zip bomb"
            raise FileFault(wrong, "name a workbook that you know")
        if part.flag_bits & 1:
            raise FileFault("is protected by a password", "save it without a password")
    names = {part.filename for part in parts}
    if "mimetype" in names and b"opendocument" in archive.read("mimetype"):
        raise FileFault(OTHER_KINDS[".ods"], SAVE_AS)
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        raise FileFault("is a zip file, but not a workbook", SAVE_AS)
    if any(name.endswith("vbaProject.bin") for name in names):
        raise FileFault("is a workbook with macros", SAVE_AS)
    if "xl/workbook.bin" in names:
        raise FileFault(OTHER_KINDS[".xlsb"], SAVE_AS)


def _check_xml(archive: zipfile.ZipFile) -> None:
    """Refuse document types, and so XML entities, in any part, before any other code parses it."""
    for name in archive.namelist():
        if name.endswith((".xml", ".rels")):
            _parse(archive, name, ContentHandler())


def _parse(archive: zipfile.ZipFile, name: str, handler: ContentHandler) -> None:
    with archive.open(name) as part:
        try:
            defusedxml.sax.parse(part, handler, forbid_dtd=True)
        except SAXException as error:
            raise FileFault(f"is damaged: {name}: {error}", SAVE_AS) from None


def _grids(book: Workbook, archive: zipfile.ZipFile, source: TableSource) -> None:
    if book.epoch == CALENDAR_MAC_1904:
        remedy = "switch off the 1904 date system, write dates again"
        source.faults.append(file_fault("", "the workbook counts its dates from 1904", remedy))
    titles = [title for title in book.sheetnames if not title.startswith(NO_TABLE)]
    for title in tables_named(titles, "sheet", source):
        sheet: Any = book[title]
        if not hasattr(sheet, "iter_rows"):
            wrong, remedy = "is a chart, not a table", "put the table in its place"
            source.faults.append(table_fault(title, wrong, remedy))
            source.unread.add(title)
            continue
        scan = _Scan()
        part: str = sheet._worksheet_path  # openpyxl has no public name for it
        _parse(archive, part, scan)
        excess = _excess(title, scan)
        if excess is not None:
            source.faults.append(excess)
            source.unread.add(title)
            continue
        source.grids[title] = Grid(title, _rows(sheet, scan, source), typed=True)
        source.hidden += _hidden(title, scan, sheet.sheet_state)


def _excess(table: str, scan: _Scan) -> Fault | None:
    """The fault of a sheet that is too large to be a table; None where it is not."""
    for count, most, what in (
        (scan.last_row, MOST_ROWS, "rows"),
        (scan.last_column, MOST_COLUMNS, "columns"),
        (scan.last_row * scan.last_column, MOST_CELLS, "cells"),
        (len(scan.merged), MOST_MERGED, "merged ranges"),
    ):
        if count > most:
            return table_fault(table, f"has {count:,} {what}", f"keep only the {what} of the table")
    return None


def _rows(sheet: Any, scan: _Scan, source: TableSource) -> list[tuple[int, list[Raw]]]:
    """The numbered rows of a sheet that are not blank, the heading first."""
    if not scan.last_row:
        return []
    merged = [(_bounds(reference), reference) for reference in scan.merged]
    rows: list[tuple[int, list[Raw]]] = []
    cells = sheet.iter_rows(min_row=1, max_row=scan.last_row, min_col=1, max_col=scan.last_column)
    for number, row in enumerate(cells, 1):
        values = [_raw(cell, (number, column), scan) for column, cell in enumerate(row, 1)]
        for (left, top, right, bottom), _ in merged:
            if top <= number <= bottom:
                values[left - 1 : right] = [FAULTED] * len(values[left - 1 : right])
        if number == 1 or not all(map(is_blank, values)):
            rows.append((number, values))
    headings = rows[0][1]
    for (left, top, _, _), reference in merged:
        heading = headings[left - 1] if left <= len(headings) else None
        column = heading.split(" [")[0] if isinstance(heading, str) else get_column_letter(left)
        remedy = "unmerge them and fill each cell"
        source.faults.append(Fault(sheet.title, top, column, reference, "is merged cells", remedy))
    return rows


def _bounds(reference: str) -> tuple[int, int, int, int]:
    """First column and row, last column and row of a range of cells."""
    first, _, last = reference.partition(":")
    (top, left), (bottom, right) = coordinate_to_tuple(first), coordinate_to_tuple(last or first)
    return left, top, right, bottom


def _raw(cell: Any, place: tuple[int, int], scan: _Scan) -> Raw:
    """The content of a cell, or an ``Unreadable`` with the reason why it cannot be used."""
    if place in scan.never_calculated:
        remedy = "open the file in a spreadsheet program and save it, or write the value"
        return Unreadable(scan.never_calculated[place], "is a formula that was never calculated", remedy)
    if place in scan.zoned:
        return Unreadable(scan.zoned[place], "has a time zone", "write the day at the nursery alone")
    if place in scan.numbers and cell.data_type in ("e", "d"):
        wrong = "is formatted as a date, but no such day is known"
        return Unreadable(scan.numbers[place], wrong, "write a date")
    if cell.data_type == "e":
        remedy = "mend the formula, or write the value"
        return Unreadable(str(cell.value), "is the error of a formula", remedy)
    value: Raw = cell.value
    return ESCAPED.sub(lambda code: chr(int(code[1], 16)), value) if isinstance(value, str) else value
