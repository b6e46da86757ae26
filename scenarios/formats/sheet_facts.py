"""What a sheet holds besides values: hidden parts, merged cells, cells without a usable value."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from openpyxl.utils.cell import get_column_letter

from model.scenario.about_cells import Remark
from scenarios.cells.faults import Fault, ranges
from scenarios.cells.grid import MOST_CELLS, MOST_COLUMNS, MOST_ROWS, TableSource, table_fault
from scenarios.cells.parse import FAULTED, Raw, Unreadable, is_blank

MOST_MERGED = 100

Place = tuple[int, int]
"""Row and column, both from 1."""


@dataclass(slots=True)
class SheetFacts:
    """Facts of one sheet; rows and columns are counted from 1.

    ``unreadable``: cells for which the file gives no usable value. ``merged``: left, top, right, bottom.
    """

    unreadable: dict[Place, Unreadable] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    filled_rows: set[int] = field(default_factory=set)
    filled_columns: set[int] = field(default_factory=set)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    last_row: int = 0
    last_column: int = 0

    def fill(self, row: int, column: int, rows: int = 1, columns: int = 1) -> None:
        """Note that cells are filled: ``rows`` times ``columns`` of them from this place on."""
        self.last_row = max(self.last_row, row + rows - 1)
        self.last_column = max(self.last_column, column + columns - 1)
        if self.last_row <= MOST_ROWS and row + rows - 1 > 1:  # below the heading
            self.filled_rows.update(range(max(row, 2), row + rows))
            self.filled_columns.update(range(column, min(column + columns, MOST_COLUMNS + 1)))

    def hidden(self, table: str, visible: bool) -> Iterator[Remark]:
        """Remarks on a hidden sheet, hidden rows and hidden columns, whose cells count like all others."""
        rows, columns = self.hidden_rows & self.filled_rows, self.hidden_columns & self.filled_columns
        if not visible and self.filled_rows:
            yield Remark(table, None, "the sheet", "", "", "is hidden; its rows count like all others")
        if rows:
            by = "hidden by hand or by a filter; what stands there counts like all else"
            yield Remark(table, None, ranges("row", rows), "", "", by)
        for column in sorted(columns):
            name = f"column {get_column_letter(column)}"
            yield Remark(table, None, name, "", "", "hidden; what stands there counts like all else")

    def excess(self, table: str) -> Fault | None:
        """The fault of a sheet that is too large to be a table; None where it is not."""
        for count, most, what in (
            (self.last_row, MOST_ROWS, "rows"),
            (self.last_column, MOST_COLUMNS, "columns"),
            (self.last_row * self.last_column, MOST_CELLS, "cells"),
            (len(self.merged), MOST_MERGED, "merged ranges"),
        ):
            if count > most:
                return table_fault(table, f"has {count:,} {what}", f"keep only the {what} of the table")
        return None

    def rows(
        self, table: str, cells: Iterable[Sequence[Raw]], source: TableSource
    ) -> list[tuple[int, list[Raw]]]:
        """The numbered rows of a sheet that are not blank, the heading first; merged cells are faults."""
        if not self.last_row:
            return []
        rows: list[tuple[int, list[Raw]]] = []
        for number, row in enumerate(cells, 1):
            values = [self.unreadable.get((number, column), cell) for column, cell in enumerate(row, 1)]
            for left, top, right, bottom in self.merged:
                if top <= number <= bottom:
                    values[left - 1 : right] = [FAULTED] * len(values[left - 1 : right])
            if number == 1 or not all(map(is_blank, values)):
                rows.append((number, values))
        headings = rows[0][1]
        for left, top, right, bottom in self.merged:
            heading = headings[left - 1] if left <= len(headings) else None
            column = heading.split(" [")[0] if isinstance(heading, str) else get_column_letter(left)
            reference = f"{get_column_letter(left)}{top}:{get_column_letter(right)}{bottom}"
            remedy = "unmerge them and fill each cell"
            source.faults.append(Fault(table, top, column, reference, "is merged cells", remedy))
        return rows


def never_calculated(formula: str) -> Unreadable:
    """A cell with a formula whose value its file does not hold."""
    remedy = "open the file in a spreadsheet program and save it, or write the value"
    return Unreadable(formula, "is a formula that was never calculated", remedy)


def error_value(shown: str) -> Unreadable:
    """A cell whose formula gave an error."""
    return Unreadable(shown, "is the error of a formula", "mend the formula, or write the value")


def zoned(value: str) -> Unreadable:
    """A day with a time zone."""
    return Unreadable(value, "has a time zone", "write the day at the nursery alone")
