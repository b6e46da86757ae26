"""What a variant changes, cell by cell, as a table for any workbook."""

from __future__ import annotations

from datetime import date
from typing import Protocol

from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind

CHANGES = "Changes"
ABOUT = "Every cell that the variant changes, those of the variants that it builds on included."
NOTE = "In the order in which they were made. Before is blank for new rows, after for rows taken away."

COLUMNS = (
    SheetColumn("table", "Table"),
    SheetColumn("row", "Row"),
    SheetColumn("column", "Column"),
    SheetColumn("before", "Before", CellKind.FIGURE),
    SheetColumn("after", "After", CellKind.FIGURE),
    SheetColumn("file", "File"),
)


class Change(Protocol):
    """One cell changed; ``row`` is the row's key as text, ``file`` the variant's file."""

    @property
    def table(self) -> str: ...
    @property
    def row(self) -> str: ...
    @property
    def column(self) -> str: ...
    @property
    def before(self) -> str | float | int | date | None: ...
    @property
    def after(self) -> str | float | int | date | None: ...
    @property
    def file(self) -> str: ...


def change_cells(change: Change) -> list[Cell]:
    """The cells of one change, in the order of ``COLUMNS``."""
    before, after = (
        value.isoformat() if isinstance(value, date) else value for value in (change.before, change.after)
    )
    return [change.table, change.row, change.column, before, after, change.file]
