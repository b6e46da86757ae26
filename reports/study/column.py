"""Columns declared with what they show: ``column.money("cost", "Cost (EUR)", lambda row: row.cost)``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar

from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.study.study import Chart, Section

Record = TypeVar("Record")

Column = tuple[SheetColumn, Callable[[Record], Cell]]
"""A column with the cell that it shows of a record."""


class Kind:
    """Makes the columns of one kind."""

    def __init__(self, kind: CellKind) -> None:
        self.kind = kind

    def __call__(
        self,
        key: str,
        heading: str,
        value: Callable[[Record], Cell],
        formula: str = "",
        **look: Any,
    ) -> Column[Record]:
        """A column with the ``value`` of each record.

        ``formula``: how a workbook works the value out, as for ``Formula``. ``look``: the rest of a
        ``SheetColumn``.
        """

        def cell(record: Record) -> Cell:
            found = value(record)
            return Formula(formula, found) if formula and isinstance(found, float) else found

        return SheetColumn(key, heading, self.kind, **look), cell


text, day, count, decimal = map(Kind, (CellKind.TEXT, CellKind.DAY, CellKind.COUNT, CellKind.DECIMAL))
money, price, each = map(Kind, (CellKind.MONEY, CellKind.PRICE, CellKind.EACH))
share, factor = map(Kind, (CellKind.SHARE, CellKind.FACTOR))


def section(
    name: str,
    about: str,
    notes: Sequence[str],
    records: Iterable[Record],
    columns: Sequence[Column[Record]],
    *charts: Chart,
    prints: bool = True,
) -> Section:
    """A section with a row for each record."""
    rows = [[cell(record) for _, cell in columns] for record in records]
    return Section(name, about, notes, [shown for shown, _ in columns], rows, charts, prints)
