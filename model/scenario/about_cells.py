"""What is said about single cells of a scenario: what a variant changed, and remarks on unusual figures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class CellChange:
    """A cell that a variant, or one that it builds on, has changed.

    ``row`` is the row's key as text. ``before`` is None where the cell was blank or the row is new,
    ``after`` where the cell is blank now or the row is gone. ``file`` is the name of the variant's file.
    """

    table: str
    row: str
    column: str
    before: str | float | int | date | None
    after: str | float | int | date | None
    file: str


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to look at: a cell, its value, what is remarkable, and the source of a published figure.

    ``row`` is the spreadsheet's row where the tables are written without blank rows, the heading being
    row 1; None where no single row is meant. ``name`` is what the row is about, or which rows are meant.
    ``column`` is blank where no single column is meant.
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
        """What is remarkable, with the source where there is one."""
        return f"{self.message} ({self.source})" if self.source else self.message
