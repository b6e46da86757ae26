"""What a variant changes, cell by cell, as a table for any workbook."""

from __future__ import annotations

from datetime import date

from model.scenario.about_cells import CellChange
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.writing import shown_day

CHANGES = "Changes"
ABOUT = "Every cell changed by the variant and by the variants that it builds on."
NOTE = "Changes in the order in which they were made. A new row has no Before, a row taken away no After."

COLUMNS = (
    SheetColumn("table", "Table"),
    SheetColumn("row", "Row"),
    SheetColumn("column", "Column"),
    SheetColumn("before", "Before", CellKind.FIGURE),
    SheetColumn("after", "After", CellKind.FIGURE),
    SheetColumn("file", "File"),
)


def change_cells(change: CellChange) -> list[Cell]:
    """The cells of one change, in the order of ``COLUMNS``."""
    before, after = (
        shown_day(value) if isinstance(value, date) else value for value in (change.before, change.after)
    )
    return [change.table, change.row, change.column, before, after, change.file]
