"""Read an OpenDocument workbook (.ods): its values by python-calamine, all else from its XML.

python-calamine does not tell hidden rows and columns or merged cells, and reads the errors of formulas and
formulas that were never calculated as blanks. It expands repeated rows in memory, so their number is checked
before it opens the file. Names of elements and attributes: OpenDocument 1.3, part 3 (OASIS, 2021).
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable, Mapping, Sequence
from typing import IO, Any
from xml.sax.handler import ContentHandler
from xml.sax.xmlreader import AttributesImpl

from scenarios.cells.grid import MOST_COLUMNS, MOST_ROWS, FileFault, Grid, TableSource
from scenarios.cells.parse import Raw
from scenarios.formats.sheet_facts import SheetFacts, error_value, never_calculated, zoned
from scenarios.formats.zip_checks import parse

CONTENT = "content.xml"

ZONED = re.compile(r"T.*([zZ]|[+-][0-9]{2}:?[0-9]{2})$")
"""The end of an ISO 8601 time with a time zone."""


class _Scan(ContentHandler):
    """The facts of every sheet, and the sheets that do not show."""

    def __init__(self) -> None:
        super().__init__()
        self.sheets: dict[str, SheetFacts] = {}
        self.unseen: set[str] = set()
        self._styles: set[str] = set()
        self._style = ""
        self._title = ""
        self._row = self._column = self._rows = self._at_column = 0
        self._cell: AttributesImpl | None = None
        self._text: list[str] = []
        self._aside = 0
        """How deep the parser stands in a comment, whose text is none of the cell's."""

    def startElement(self, name: str, attrs: AttributesImpl) -> None:  # noqa: N802 - the base class's name
        if self._aside or name in ("office:annotation", "table:tracked-changes", "table:dde-links"):
            self._aside += 1
        elif name == "style:style":
            self._style = attrs.get("style:name", "")
        elif name == "style:table-properties" and attrs.get("table:display") == "false":
            self._styles.add(self._style)
        elif name == "table:table":
            self._title = attrs.get("table:name", "")
            self.sheets[self._title] = SheetFacts()
            self._row = self._rows = self._at_column = 0
            if attrs.get("table:style-name") in self._styles:
                self.unseen.add(self._title)
        elif name == "table:table-column":
            repeated = _count(attrs, "columns-repeated")
            first = self._at_column + 1
            self._at_column += repeated
            if attrs.get("table:visibility", "visible") != "visible" and first <= MOST_COLUMNS:
                last = min(self._at_column, MOST_COLUMNS)
                self._facts.hidden_columns.update(range(first, last + 1))
        elif name == "table:table-row":
            self._row += self._rows or 1
            self._rows, self._column = _count(attrs, "rows-repeated"), 0
            if attrs.get("table:visibility", "visible") != "visible" and self._row <= MOST_ROWS:
                last = min(self._row + self._rows - 1, MOST_ROWS)
                self._facts.hidden_rows.update(range(self._row, last + 1))
        elif name in ("table:table-cell", "table:covered-table-cell"):
            self._column += 1
            self._cell, self._text = attrs, []

    def characters(self, content: str) -> None:
        if self._cell is not None and not self._aside:
            self._text.append(content)

    def endElement(self, name: str) -> None:  # noqa: N802 - the base class's name
        if self._aside:
            self._aside -= 1
        elif name in ("table:table-cell", "table:covered-table-cell") and self._cell is not None:
            self._end_cell(self._cell, "".join(self._text).strip())
            self._cell = None

    @property
    def _facts(self) -> SheetFacts:
        return self.sheets.setdefault(self._title, SheetFacts())

    def _end_cell(self, attrs: AttributesImpl, text: str) -> None:
        facts, row, column = self._facts, self._row, self._column
        repeated = _count(attrs, "columns-repeated")
        kind, formula = attrs.get("office:value-type"), attrs.get("table:formula")
        if kind is not None or formula is not None or text:
            facts.fill(row, column, self._rows, repeated)
        odd = None
        if attrs.get("calcext:value-type") == "error":
            odd = error_value(text or formula or "")
        elif formula is not None and kind is None:
            odd = never_calculated("=" + formula.partition("=")[2])
        elif ZONED.search(attrs.get("office:date-value", "")):
            odd = zoned(attrs.get("office:date-value", ""))
        if odd is not None:
            facts.unreadable[row, column] = odd
        right = column + _count(attrs, "columns-spanned") - 1
        bottom = row + _count(attrs, "rows-spanned") - 1
        if right > column or bottom > row:
            facts.merged.append((column, row, right, bottom))
        self._column += repeated - 1


def values_of(book: Any, title: str) -> list[list[Raw]]:
    """The values of a sheet by row and column, from its first row and column on; None for a blank cell."""
    rows = book.get_sheet_by_name(title).to_python(skip_empty_area=False)
    return [[None if cell == "" else cell for cell in row] for row in rows]


def _count(attrs: AttributesImpl, name: str) -> int:
    return max(1, int(attrs.get(f"table:number-{name}", "1")))


def read_ods(
    file: IO[bytes],
    archive: zipfile.ZipFile,
    choice: Callable[[Sequence[str]], Mapping[str, str]],
    source: TableSource,
) -> None:
    """Read the chosen sheets; raises what its readers raise on a damaged file."""
    from python_calamine import CalamineWorkbook

    if CONTENT not in archive.namelist():
        raise FileFault("is a zip file, but not a workbook", "open it in a spreadsheet program and save it")
    scan = _Scan()
    parse(archive, CONTENT, scan)
    tables = choice(list(scan.sheets))
    for title, facts in scan.sheets.items():
        excess = facts.excess(tables.get(title, title))
        if excess is not None:
            source.faults.append(excess)
            source.unread.update(tables.values())
            return
    file.seek(0)
    book = CalamineWorkbook.from_filelike(file)
    for title, table in tables.items():
        facts = scan.sheets[title]
        values = values_of(book, title)
        width = facts.last_column
        rows = [[*row[:width], *[None] * (width - len(row))] for row in values[: facts.last_row]]
        rows += [[None] * width] * (facts.last_row - len(rows))
        source.grids[table] = Grid(table, facts.rows(table, rows, source), typed=True)
        source.remarks += facts.hidden(table, title not in scan.unseen)
