"""What the schema of the plan's tables is made of, and how rows become a table of the declared types.

A column is a ``Column`` as in the scenario's schema: name, type, unit, range, references. ``required`` is
False where a cell may be blank; ``low`` is None where a number may be negative.

How columns are held, whatever the rows and also when there are none:

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

import pandas as pd

from model.scenario.schema import Column, Type

DTYPES = {
    Type.NUMBER: "float64",
    Type.SHARE: "float64",
    Type.WHOLE: "int64",
    Type.YES_NO: "bool",
}
"""How numbers without blanks are held; all else is held as objects."""

MEASURES = ("currency", "days", "h")
"""Units that a heading shows; a count is named by the heading itself."""


@dataclass(frozen=True, slots=True)
class PlanColumn(Column):
    """A column of a plan table.

    ``title`` is its heading for people, without the unit. ``end``: a day that is not counted in, so that
    it may follow the last day of the plan.
    """

    title: str = ""
    end: bool = False

    def titled(self, currency: str) -> str:
        """The heading for people, with the unit in brackets where it is money, days or hours."""
        measure, _, per = self.unit.partition("/")
        if measure not in MEASURES:
            return self.title
        unit = currency if measure == "currency" else measure
        return f"{self.title} ({unit} a {per})" if per else f"{self.title} ({unit})"

    def series(self, values: Iterable[Any]) -> pd.Series[Any]:
        """Values as this column holds them; raises ValueError or TypeError where one does not fit."""
        values = list(values)
        if any(value is None for value in values) and self.required:
            raise ValueError(f"{self.name} has a blank")
        dtype = DTYPES.get(self.type)
        if dtype is None or self.required:
            return pd.Series(values, dtype=dtype or "object")
        kind = int if self.type is Type.WHOLE else float
        return pd.Series([None if value is None else kind(value) for value in values], dtype="object")


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

        Raises ValueError where a row lacks a column, has another, or has a blank where none may be, and
        ValueError or TypeError where a number is none.
        """
        rows = list(rows)
        for row in rows:
            if row.keys() != self.by_name.keys():
                odd = ", ".join(sorted(row.keys() ^ self.by_name.keys()))
                raise ValueError(f"{self.name}: columns missing or unknown: {odd}")
        return pd.DataFrame(
            {column.name: column.series(row[column.name] for row in rows) for column in self.columns}
        )


def table(name: str, help: str, key: tuple[str, ...], *columns: PlanColumn) -> PlanTable:
    return PlanTable(name, help, key, columns)


def text(name: str, title: str, help: str, *, blank: bool = False) -> PlanColumn:
    return PlanColumn(name, Type.TEXT, help, title=title, required=not blank)


def ref(name: str, title: str, help: str, *targets: tuple[str, str], blank: bool = False) -> PlanColumn:
    """The name of a row of one of these tables, of the plan or the scenario."""
    return PlanColumn(name, Type.REFERENCE, help, title=title, required=not blank, references=targets)


def choice(name: str, title: str, help: str, choices: Iterable[str]) -> PlanColumn:
    return PlanColumn(name, Type.CHOICE, help, title=title, choices=tuple(choices))


def day(name: str, title: str, help: str, *, blank: bool = False, end: bool = False) -> PlanColumn:
    return PlanColumn(name, Type.DATE, help, title=title, required=not blank, end=end)


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
