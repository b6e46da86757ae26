"""What a table's schema is made of: tables, columns, their types, and short ways to state common columns."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import Any

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

LONGEST = 366
"""Days of the longest window, stage or wait; seedlings live for weeks."""

EnumClass = type[Enum]


class Type(Enum):
    """How a cell is read. Lists stand in one cell, parted by ';'."""

    TEXT = "text"
    DATE = "date"
    WHOLE = "whole number"
    NUMBER = "number"
    SHARE = "share"
    YES_NO = "yes or no"
    CHOICE = "choice"
    CHOICES = "choices"
    REFERENCE = "reference"
    REFERENCES = "references"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its type, unit, range, default and help.

    ``required`` columns may not be blank. A blank cell of another column takes ``default``.
    ``low`` and ``high`` are inclusive unless ``above_low``. ``references`` names table and column
    (several tables where the value may stand in any of them).
    """

    name: str
    type: Type
    help: str
    unit: str = ""
    required: bool = True
    default: Any = None
    low: float | None = None
    high: float | None = None
    above_low: bool = False
    choices: tuple[str, ...] = ()
    references: tuple[tuple[str, str], ...] = ()
    enum: EnumClass | None = None

    @property
    def heading(self) -> str:
        """The heading written to a file: the name, and the unit in brackets."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns, the columns that make a row unique, its record class and help."""

    name: str
    record: type[Any]
    key: tuple[str, ...]
    help: str
    columns: tuple[Column, ...]
    required: bool = False
    by_name: dict[str, Column] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {c.name: c for c in self.columns})


def text(name: str, help: str, required: bool = True) -> Column:
    return Column(name, Type.TEXT, help, required=required)


def note() -> Column:
    return text("note", "Where the figures of this row come from, or anything else to remember.", False)


def number(
    name: str,
    help: str,
    unit: str,
    default: float | None = None,
    *,
    low: float | None = 0,
    high: float | None = None,
    above_low: bool = False,
    required: bool | None = None,
    type: Type = Type.NUMBER,
) -> Column:
    """A number from 0 up unless said; one with a default need not be given."""
    return Column(
        name,
        type,
        help,
        unit=unit,
        required=(default is None) if required is None else required,
        default=default,
        low=low,
        high=high,
        above_low=above_low,
    )


def whole(name: str, help: str, unit: str, default: int | None = None, **more: Any) -> Column:
    return number(name, help, unit, default, type=Type.WHOLE, **more)


def days(name: str, help: str, default: int | None = None, **more: Any) -> Column:
    """Whole days, at most ``LONGEST``."""
    return whole(name, help, "days", default, **({"high": LONGEST} | more))


def share(name: str, help: str, default: float | None = None, **more: Any) -> Column:
    return number(name, help, "share", default, type=Type.SHARE, **({"high": 1} | more))


def choice(name: str, help: str, enum: type[Enum], default: Enum | None = None) -> Column:
    choices = tuple(str(member.value) for member in enum)
    return Column(
        name, Type.CHOICE, help, required=default is None, default=default, choices=choices, enum=enum
    )


def weekdays(name: str, help: str) -> Column:
    return Column(name, Type.CHOICES, help, choices=WEEKDAYS)


def ref(name: str, help: str, *targets: tuple[str, str], required: bool = True) -> Column:
    return Column(name, Type.REFERENCE, help, required=required, references=targets)


def refs(name: str, help: str, *targets: tuple[str, str]) -> Column:
    return Column(name, Type.REFERENCES, help, required=False, default=(), references=targets)


def day(name: str, help: str, required: bool = True) -> Column:
    return Column(name, Type.DATE, help, required=required)
