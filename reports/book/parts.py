"""The parts that every workbook is made of: a book, its sheets, tables, notes, links and charts.

A user's text is always written as text, whatever it starts with. Only this program writes formulas. A
formula names nothing but cells, and carries its value: a program that does not recalculate shows it.
"""

from __future__ import annotations

import os
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell

from model.currencies import decimals
from model.scenario.entities import Nursery
from reports.book import style
from reports.book.paper import paper_of
from reports.book.quick_page import QuickPage
from reports.book.stamp import written
from reports.book.style import CellKind

LONGEST_TEXT = 32_767
"""Characters that a cell of a workbook can hold."""

WIDEST_PORTRAIT = 115
"""Width in characters above which a page is turned on its side."""

LONGEST_FOOT = 60
"""Characters of a name in the foot of a page. A foot holds 255 characters; each & counts as two."""

TALLEST_ROW = 400.0
"""Height in points that a row may have."""

PIXELS_A_ROW = 20
"""Height of a row of the default height."""

TITLE_POINTS = 21
"""Height of the row of a title."""

LINE_POINTS = 13.0
"""Height of a line of text in a cell."""

DEFERS = "In all of this, local codes and licensed practice come first."
"""Stands below the cautions of a sheet."""

FREE = 2
"""First row under the title and the link to the contents."""

EMPTY_ROW = 1
"""A row whose cells beside the tables are empty: it stands below the title, with a link on its left alone."""

ON_SCREEN = (
    "Sheets for paper stand first. The others stay on the screen: their print area is one empty cell. To "
    "print one of them, clear its print area (Excel: Page Layout, Print Area, Clear; LibreOffice: Format, "
    "Print Ranges, Clear, for all selected sheets at once). To print all in Excel, choose Print Entire "
    "Workbook and Ignore Print Areas. If a program prints empty pages, ask it for the first pages alone."
)
"""How a reader prints the sheets that do not print unasked."""

NARROWEST_PAGE = 84
"""Width in characters of a page whose table is narrow, so that its notes have room."""


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula and its value. ``{key}`` stands for this row's cell in the column of that key.

    ``{above_key}`` stands for the cell above it.
    """

    text: str
    value: float | str | date


@dataclass(frozen=True, slots=True)
class OfKind:
    """A number with a kind of its own, in a column whose rows are of several kinds."""

    value: float | None
    kind: CellKind


Cell = str | float | int | date | Formula | OfKind | None

Row = Sequence[Cell] | Mapping[str, Cell]
"""Cells in the order of a table's columns, or by their keys, where cells without a column are left out."""


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """A column of a table: key for formulas, heading with unit, kind of value.

    ``change``: the reader may change its cells. ``box``: its cells are framed, and tall enough to write in
    by hand.
    """

    key: str
    heading: str
    kind: CellKind = CellKind.TEXT
    total: bool = False
    change: bool = False
    box: bool = False
    widest: int = 34
    """Width in characters from which a text wraps."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a table stands: for formulas and charts that refer to it."""

    sheet: str
    first: int
    count: int
    at: dict[str, int]

    def cell(self, key: str, row: int) -> str:
        """Reference to one cell; ``row`` counts from 0 below the heading."""
        return f"'{self.sheet}'!{xl_rowcol_to_cell(self.first + row, self.at[key], True, True)}"

    def total(self, key: str) -> str:
        """Reference to the total under a column."""
        return self.cell(key, self.count)

    def span(self, key: str, start: int = 0, stop: int | None = None) -> str:
        """Reference to the rows ``start`` up to, but without, ``stop`` of a column."""
        end = self.first + (self.count if stop is None else stop) - 1
        name = xl_col_to_name(self.at[key], True)
        return f"'{self.sheet}'!{name}${self.first + start + 1}:{name}${end + 1}"

    def series(self, key: str, start: int = 0, stop: int | None = None) -> list[Any]:
        """The rows ``start`` up to, but without, ``stop`` of a column, as a chart names them."""
        end = self.first + (self.count if stop is None else stop) - 1
        return [self.sheet, self.first + start, self.at[key], end, self.at[key]]


class Book:
    """A workbook being written, for a nursery, whose name stands at the foot of each page."""

    def __init__(self, path: Path, title: str, nursery: Nursery) -> None:
        self.foot = foot = nursery.name
        self.decimals = decimals(nursery.currency)
        self.paper = paper_of(nursery.currency)
        self._formats: dict[tuple[tuple[str, Any], ...], Any] = {}
        self.workbook = xlsxwriter.Workbook(
            str(path),
            {
                "tmpdir": str(path.parent),  # of its temporary files, which a killed run leaves
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
                "default_format_properties": {"font_name": style.FONT, "font_size": style.FONT_SIZE},
            },
        )
        self.workbook.set_properties(
            {"title": title, "subject": foot, "comments": "Written by Graftwright.", "created": written()}
        )
        self.sheets: list[Sheet] = []

    def format(self, **properties: Any) -> Any:
        """The cell format of these properties, made once."""
        properties = {"font_name": style.FONT, "font_size": style.FONT_SIZE, **properties}
        key = tuple(sorted(properties.items()))
        if key not in self._formats:
            self._formats[key] = self.workbook.add_format(properties)
        return self._formats[key]

    def sheet(self, name: str, about: str) -> Sheet:
        """A new sheet at the end; ``about`` says in the contents what it holds."""
        made = Sheet(self, name, about)
        self.sheets.append(made)
        return made

    def close(self) -> None:
        """Finish every sheet and write the file."""
        for sheet in self.sheets:
            sheet.finish()
        self.workbook.close()


@dataclass
class Sheet:
    """A sheet being written from top to bottom: title, notes, then tables."""

    book: Book
    name: str
    about: str
    one_page: bool = False
    prints: bool = True
    """Whether it prints unasked. If not, an empty cell is its print area: see ``ON_SCREEN``."""
    paper_rows: int | None = None
    """Rows of its first table that print, with all above them; None for the whole sheet."""
    row: int = 0
    widths: dict[int, float] = field(default_factory=dict)
    headings: list[int] = field(default_factory=list)
    last: tuple[int, int] = (0, 0)
    filtered: tuple[int, int] | None = None
    notes: list[str] = field(default_factory=list)
    """Notes and cautions at the head, as written."""
    tables: list[tuple[Sequence[SheetColumn], Sequence[Sequence[Cell]]]] = field(default_factory=list)
    """Columns and rows of the tables, as written; for reports in other forms."""

    def __post_init__(self) -> None:
        self.page = self.book.workbook.add_worksheet(self.name, QuickPage)
        self._opening: tuple[str, list[tuple[str, bool]]] | None = None
        self._room = 0

    # Cells

    def write(self, row: int, column: int, value: Cell, **properties: Any) -> None:
        """Write one cell. The type of the value decides how; what a text looks like never does."""
        self.last = (max(self.last[0], row), max(self.last[1], column))
        self._put(row, column, value, self.book.format(**properties))

    def _put(self, row: int, column: int, value: Cell, look: Any) -> None:
        value = value.value if isinstance(value, OfKind) else value
        if isinstance(value, str):
            self.page.write_string(row, column, value[:LONGEST_TEXT], look)
        elif value is None:
            self.page.write_blank(row, column, None, look)
        elif isinstance(value, Formula):
            self.page.write_formula(row, column, value.text, look, _held(value.value))
        elif isinstance(value, date):
            self.page.write_number(row, column, _held(value), look)
        else:
            self.page.write_number(row, column, value, look)

    def link(
        self, row: int, column: int, sheet: str, words: str, at: tuple[int, int] = (0, 0), **more: Any
    ) -> None:
        """Write a link to the cell ``at`` (row, column) of a sheet of this book; ``more``: its look."""
        look = self.book.format(**style.LINKED, **more)
        to = xl_rowcol_to_cell(*at)
        self.page.write_url(row, column, f"internal:'{sheet}'!{to}", look, words, f"Go to {sheet}")
        self.last = (max(self.last[0], row), max(self.last[1], column))

    # Title and notes

    def open(
        self, title: str, notes: Sequence[str] = (), cautions: Sequence[str] = (), room: int = 0
    ) -> None:
        """Set title, notes and cautions of the sheet. The first table sets their width and writes them.

        ``room``: rows left free for links, from the third on.
        """
        lines = [(note, False) for note in notes]
        lines += [(f"Caution: {caution}", True) for caution in cautions]
        lines += [(DEFERS, True)] if cautions else []
        self._opening = (title, lines)
        self.notes = [line for line, _ in lines]
        self._room = room

    def head(self, title: str) -> None:
        """Write the title of the sheet."""
        self.write(0, 0, title, **style.TITLE)
        self.page.set_row(0, TITLE_POINTS)

    def _write_opening(self, width: float) -> None:
        if self._opening is None:
            return
        (title, notes), self._opening = self._opening, None
        self.head(title)
        self.link(1, 0, "Contents", "Contents")
        self.row = FREE + self._room
        for note, caution in notes:
            self.lines(note, width, style.CAUTION if caution else style.NOTE)
        self.row += 1

    def lines(
        self, text: str, width: float, look: dict[str, Any] = style.CELL, most: int | None = None
    ) -> None:
        """Write a text in lines of ``width`` characters, a row each, at most ``most``."""
        for line in textwrap.wrap(text, max(int(width), 20), max_lines=most, placeholder=" ..."):
            self.write(self.row, 0, line, **look)
            self.row += 1

    # Tables

    def table(self, columns: Sequence[SheetColumn], rows: Sequence[Row]) -> Placed:
        """Write a table below the last row, with totals under the columns that ask for them."""
        return self._table(columns, [_cells(columns, row) for row in rows])

    def _table(self, columns: Sequence[SheetColumn], rows: list[Sequence[Cell]]) -> Placed:
        self.tables.append((columns, rows))
        self._widen(columns, rows)
        self._write_opening(max(self.width, NARROWEST_PAGE))
        self._write_headings(columns)
        placed = Placed(self.name, self.row, len(rows), {column.key: n for n, column in enumerate(columns)})
        looks = [self.book.format(**self._look(column, first=n == 0)) for n, column in enumerate(columns)]
        letters = {column.key: xl_col_to_name(n) for n, column in enumerate(columns)}
        wrapped = [n for n, column in enumerate(columns) if column.kind in WRAPPED]
        least = style.BOX_POINTS if any(column.box for column in columns) else 0.0
        for values in rows:
            here: dict[str, str] = {}
            for n, value in enumerate(values):
                look = looks[n]
                if isinstance(value, Formula):
                    here = here or {
                        f"{of}{key}": f"{letter}{row}"
                        for of, row in (("", self.row + 1), ("above_", self.row))
                        for key, letter in letters.items()
                    }
                    value = Formula(value.text.format(**here), value.value)
                elif isinstance(value, OfKind):
                    of_its_own = replace(columns[n], kind=value.kind)
                    look = self.book.format(**self._look(of_its_own, first=n == 0))
                self._put(self.row, n, value, look)
            self._heighten(values, wrapped, least)
            self.row += 1
        self.last = (max(self.last[0], self.row - 1), max(self.last[1], len(columns) - 1))
        if rows:
            self.filtered = (self.row - 1, len(columns) - 1)
        if not rows:
            self.write(self.row, 0, "none", **style.NOTE)
            self.row += 1
        elif any(column.total for column in columns):
            self._write_totals(columns, rows, placed)
        self.row += 1
        return placed

    @property
    def width(self) -> float:
        """Width of all columns so far, in characters."""
        return sum(self.widths.values())

    def _look(self, column: SheetColumn, *, first: bool) -> dict[str, Any]:
        look = {
            **style.CELL,
            "num_format": style.number_format(column.kind, self.book.decimals),
            "text_wrap": column.kind in WRAPPED,
            **_side(column, first=first),
        }
        look |= style.BOX if column.box else {}
        return {**look, **style.CHANGE} if column.change else look

    def _heighten(self, values: Sequence[Cell], wrapped: Sequence[int], least: float) -> None:
        """Set the height of a row whose text wraps: not every spreadsheet program does so itself.

        ``wrapped``: columns whose text wraps.
        """
        tallest = 1
        for n in wrapped:
            value = values[n]
            if isinstance(value, str) and len(value) > self.widths[n] - 1:
                tallest = max(tallest, len(textwrap.wrap(value, int(self.widths[n] - 1))))
        if tallest > 1 or least:
            self.page.set_row(self.row, min(max(LINE_POINTS * tallest + 2, least), TALLEST_ROW))

    def _widen(self, columns: Sequence[SheetColumn], rows: Sequence[Sequence[Cell]]) -> None:
        for n, column in enumerate(columns):
            longest = self._longest([row[n] for row in rows], column.kind)
            if column.total:
                longest = max(longest, len(self._shown(column_total(rows, n), column.kind)))
            word = max(len(part) for part in column.heading.split())
            if column.kind in WRAPPED:
                longest = min(longest, column.widest)
            self.widths[n] = max(self.widths.get(n, 0), longest + 2.5, word + 3.5, 7)

    def _longest(self, cells: Sequence[Cell], kind: CellKind) -> int:
        """Characters of the longest cell as shown.

        Of numbers with the same decimals that is the least or the greatest, so that few are written out; a
        day is written out once.
        """
        if not cells:
            return 4
        longest, numbers, days = 0, list[float](), set[date]()
        for cell in cells:
            value = cell.value if isinstance(cell, Formula) else cell
            if isinstance(value, str):
                longest = max(longest, len(value))
            elif isinstance(value, int | float) and kind is not CellKind.FIGURE:
                numbers.append(value)
            elif isinstance(value, date):
                days.add(value)
            else:
                longest = max(longest, len(self._shown(value, kind)))
        longest = max([longest, *(len(self._shown(day, kind)) for day in days)])
        ends = (min(numbers), max(numbers)) if numbers else ()
        return max(longest, *(len(self._shown(value, kind)) for value in ends), 0)

    def _shown(self, cell: Cell, kind: CellKind) -> str:
        return style.shown(value_of(cell), kind_of(cell, kind), self.book.decimals)

    def _write_headings(self, columns: Sequence[SheetColumn]) -> None:
        self.headings.append(self.row)
        tallest = 1
        for n, column in enumerate(columns):
            heading = column.heading + (style.CHANGE_MARK if column.change else "")
            self.write(self.row, n, heading, **style.HEADING, **_side(column, first=n == 0))
            tallest = max(tallest, len(textwrap.wrap(heading, int(self.widths[n] - 2))))
        self.page.set_row(self.row, min(LINE_POINTS * tallest + 4, TALLEST_ROW))
        self.row += 1

    def _write_totals(
        self, columns: Sequence[SheetColumn], rows: Sequence[Sequence[Cell]], placed: Placed
    ) -> None:
        for n, column in enumerate(columns):
            look = {
                **style.TOTAL,
                "num_format": style.number_format(column.kind, self.book.decimals),
                **_side(column, first=n == 0),
            }
            value: Cell = "Total" if n == 0 else None
            if column.total:
                own = placed.span(column.key).split("!")[1]
                value = Formula(f"=SUM({own})", column_total(rows, n))
            self.write(self.row, n, value, **look)
        self.row += 1

    def list_sheets(self) -> None:
        """Write the contents of the book: each sheet with a link and what it holds. They do not print."""
        self.prints = False
        others = [sheet for sheet in self.book.sheets if sheet is not self]
        self.open("Contents", [] if all(sheet.prints for sheet in others) else [ON_SCREEN])
        columns = [
            SheetColumn("sheet", "Sheet"),
            SheetColumn("about", "What it holds", widest=90),
            SheetColumn("paper", "Prints"),
        ]
        rows = [[sheet.name, sheet.about, "yes" if sheet.prints else None] for sheet in self.book.sheets]
        placed = self.table(columns, rows)
        for n, sheet in enumerate(self.book.sheets):
            self.link(placed.first + n, 0, sheet.name, sheet.name)

    # Charts

    def chart(self, row: int, column: int, picture: tuple[Any, str], size: tuple[int, int]) -> None:
        """Insert a chart with its upper left corner in a cell; ``size``: width and height in pixels."""
        chart, alt = picture
        below = row + size[1] // PIXELS_A_ROW + 1
        self.last = (max(self.last[0], below), self.last[1])
        chart.set_size({"width": size[0], "height": size[1]})
        self.page.insert_chart(row, column, chart, {"description": alt, "object_position": 2})

    # Page set-up

    def finish(self) -> None:
        """Set widths, print set-up, frozen and repeated headings."""
        self._write_opening(NARROWEST_PAGE)
        last_row, last_column = self.last
        if self.widths:
            missing = NARROWEST_PAGE - self.width
            if missing > 0 and self.headings:
                last_column = max(last_column, max(self.widths) + 1)
                self.widths[last_column] = missing
        for column, width in self.widths.items():
            self.page.set_column(column, column, width)
        page = self.page
        page.set_paper(self.book.paper.number)
        if self.width > WIDEST_PORTRAIT:
            page.set_landscape()
        else:
            page.set_portrait()
        page.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
        page.fit_to_pages(1, 1 if self.one_page else 0)
        if not self.prints:
            page.print_area(EMPTY_ROW, last_column + 1, EMPTY_ROW, last_column + 1)
        elif self.paper_rows is None:
            page.print_area(0, 0, last_row, last_column)
        else:
            page.print_area(0, 0, min(self.headings[0] + self.paper_rows, last_row), last_column)
        foot, name = (text.replace("&", "&&") for text in (self.book.foot[:LONGEST_FOOT], self.name))
        small = f'&8&"{style.FONT},Regular"'
        page.set_footer(f"&L{small}{foot}&C{small}{name}&R{small}page &P of &N")
        page.hide_gridlines(2)
        if len(self.headings) == 1:
            heading = self.headings[0]
            page.repeat_rows(heading)
            page.freeze_panes(heading + 1, 1)
            if self.filtered is not None:
                page.autofilter(heading, 0, *self.filtered)


def _cells(columns: Sequence[SheetColumn], row: Row) -> Sequence[Cell]:
    """The cells of a row in the order of the columns."""
    return [row[column.key] for column in columns] if isinstance(row, Mapping) else row


WRAPPED = (CellKind.TEXT, CellKind.FIGURE)


def _side(column: SheetColumn, *, first: bool) -> dict[str, Any]:
    """Side of the cell. A text is indented, since a figure may end just before it."""
    side = style.side(column.kind)
    return {"align": side, "indent": 1 if side == "left" and not first else 0}


def column_total(rows: Sequence[Sequence[Cell]], n: int) -> float:
    """Sum of the numbers in a column."""
    return sum(_number(row[n]) for row in rows)


def _number(cell: Cell) -> float:
    value = value_of(cell)
    return float(value) if isinstance(value, int | float) else 0.0


def _held(value: float | str | date) -> float | str:
    """A formula's value as a workbook holds it: a day as the number of days since 30 December 1899."""
    return (value - date(1899, 12, 30)).days if isinstance(value, date) else value


def value_of(cell: Cell) -> str | float | int | date | None:
    """The value that a cell shows."""
    return cell.value if isinstance(cell, Formula | OfKind) else cell


def kind_of(cell: Cell, kind: CellKind) -> CellKind:
    """The kind of a cell in a column of a kind."""
    return cell.kind if isinstance(cell, OfKind) else kind


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a temporary path beside ``path``; move it to ``path`` once the file is whole."""
    part = path.with_name(f".{path.stem}-{os.urandom(4).hex()}{path.suffix}")
    try:
        yield part
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
