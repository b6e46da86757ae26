"""Notes on single cells of a scenario: the changes of a variant, and remarks on unusual figures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class CellChange:
    """A cell that a variant, or a variant it builds on, has changed.

    ``row`` is the row's key as text. ``before`` is None if the cell was blank or the row is new.
    ``after`` is None if the cell is now blank or the row is removed. ``file`` names the variant's file.
    """

    table: str
    row: str
    column: str
    before: str | float | int | date | None
    after: str | float | int | date | None
    file: str


@dataclass(frozen=True, slots=True)
class Remark:
    """An unusual figure: its cell, its value, what is unusual, and the source of a published range.

    ``row`` is the spreadsheet's row if the table has no blank rows and its heading is row 1. ``row`` is None
    if the remark is not on a single row. ``name`` is the row's own name, or says which rows are meant.
    ``column`` is blank if the remark is not on a single column.
    """

    table: str
    row: int | None
    name: str
    column: str
    value: str
    message: str
    source: str = ""

    @property
    def sentence(self) -> str:
        """The message, followed by its source if it has one."""
        return f"{self.message} ({self.source})" if self.source else self.message
