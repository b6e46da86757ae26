"""The parts of the schema of the plan's tables, and the making of tables with the declared types.

A column is a ``Column`` as in the scenario's schema: name, type, unit, range, references. ``required`` is
False if a cell may be blank. ``low`` is None if a number may be negative.

Columns have these types in memory, also when a table has no rows:

| type | held as |
|---|---|
| number, share | ``float64`` |
| whole number | ``int64`` |
| yes or no | ``bool`` |
| day | objects: ``datetime.date`` |
| text, choice, reference | objects: ``str`` |
| any type that may be blank | objects: the same values, and ``None`` for a blank |
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from model.scenario.schema import Column, Type

FLOAT, OBJECT = np.dtype("float64"), np.dtype("object")
DTYPES = {Type.NUMBER: FLOAT, Type.SHARE: FLOAT, Type.WHOLE: np.dtype("int64"), Type.YES_NO: np.dtype("bool")}
"""Types in memory of columns of numbers without blanks; all others hold objects."""

MEASURES = ("currency", "days", "h")
"""Units that a heading shows. The heading of a count names what is counted."""


@dataclass(frozen=True, slots=True)
class PlanColumn(Column):
    """A column of a plan table.

    ``title`` is its heading for people, without the unit. ``end`` marks a day that ends a span and is not
    part of it, so it may follow the last day of the plan. ``early`` marks a day that may lie before the
    first, for what was on hand.
    """

    title: str = ""
    end: bool = False
    early: bool = False

    def titled(self, currency: str) -> str:
        """The heading for people; the unit follows in brackets if it is money, days or hours."""
        measure, _, per = self.unit.partition("/")
        if measure not in MEASURES:
            return self.title
        unit = currency if measure == "currency" else measure
        return f"{self.title} ({unit} a {per})" if per else f"{self.title} ({unit})"

    def series(self, values: Iterable[Any], index: pd.RangeIndex) -> pd.Series[Any]:
        """Values in this column's type. Raises ValueError or TypeError if one does not fit."""
        values = list(values)
        if self.required and None in values:
            raise ValueError(f"{self.name} has a blank")
        dtype = DTYPES.get(self.type)
        if dtype is None or self.required:
            return pd.Series(values, index, dtype or OBJECT)
        kind = int if self.type is Type.WHOLE else float
        return pd.Series([None if value is None else kind(value) for value in values], index, OBJECT)


@dataclass(frozen=True, slots=True)
class PlanTable:
    """A plan table: what it holds, the columns that make a row unique, and its columns."""

    name: str
    help: str
    key: tuple[str, ...]
    columns: tuple[PlanColumn, ...]
    by_name: dict[str, PlanColumn] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {column.name: column for column in self.columns})

    @property
    def names(self) -> list[str]:
        """Names of the columns, in order."""
        return list(self.by_name)

    def frame(self, rows: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
        """The table of these rows, each a value by column name.

        Raises ValueError if a row has missing or unknown columns, or a blank in a column that may not be
        blank; ValueError or TypeError if a value is not the number it should be.
        """
        rows = list(rows)
        for row in rows:
            if row.keys() != self.by_name.keys():
                odd = ", ".join(sorted(row.keys() ^ self.by_name.keys()))
                raise ValueError(f"{self.name}: columns missing or unknown: {odd}")
        index = pd.RangeIndex(len(rows))  # one for all columns, so that pandas need not match them
        columns = {c.name: c.series([row[c.name] for row in rows], index) for c in self.columns}
        return pd.DataFrame(columns, index)


def table(name: str, help: str, key: tuple[str, ...], *columns: PlanColumn) -> PlanTable:
    return PlanTable(name, help, key, columns)


def text(name: str, title: str, help: str, *, blank: bool = False) -> PlanColumn:
    return PlanColumn(name, Type.TEXT, help, title=title, required=not blank)


def ref(name: str, title: str, help: str, *targets: tuple[str, str], blank: bool = False) -> PlanColumn:
    """The name of a row of one of these tables, of the plan or the scenario."""
    return PlanColumn(name, Type.REFERENCE, help, title=title, required=not blank, references=targets)


def choice(name: str, title: str, help: str, choices: Iterable[str]) -> PlanColumn:
    return PlanColumn(name, Type.CHOICE, help, title=title, choices=tuple(choices))


def day(
    name: str, title: str, help: str, *, blank: bool = False, end: bool = False, early: bool = False
) -> PlanColumn:
    return PlanColumn(name, Type.DATE, help, title=title, required=not blank, end=end, early=early)


def number(
    name: str,
    title: str,
    help: str,
    unit: str,
    *,
    blank: bool = False,
    signed: bool = False,
    above_zero: bool = False,
    type: Type = Type.NUMBER,
) -> PlanColumn:
    """A number of 0 or more unless ``signed``."""
    low = None if signed else 0
    return PlanColumn(name, type, help, unit, not blank, low=low, above_low=above_zero, title=title)


def money(name: str, title: str, help: str) -> PlanColumn:
    """An amount in currency, which may be negative."""
    return number(name, title, help, "currency", signed=True)


def whole(name: str, title: str, help: str, unit: str, *, blank: bool = False) -> PlanColumn:
    return number(name, title, help, unit, blank=blank, type=Type.WHOLE)


def share(name: str, title: str, help: str, *, above_zero: bool = False) -> PlanColumn:
    return number(name, title, help, "share", above_zero=above_zero, type=Type.SHARE)


def yes_no(name: str, title: str, help: str) -> PlanColumn:
    return PlanColumn(name, Type.YES_NO, help, title=title)
