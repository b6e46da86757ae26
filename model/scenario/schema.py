"""The parts of a table's schema: tables, columns, types, and short functions for common columns."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field, fields, replace
from enum import Enum
from types import NoneType
from typing import Any, get_args, get_type_hints

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

LONGEST = 366
"""Days of the longest window, stage or wait. A year is ample: seedlings live for weeks."""

EnumClass = type[Enum]


class Type(Enum):
    """How a cell is read. A list stands in one cell, its parts separated by ';'."""

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

    A ``required`` column may not be blank. A blank cell of any other column takes ``default``.
    ``low`` and ``high`` are inclusive; with ``above_low`` the value must exceed ``low``. ``references``
    lists pairs of table and column; the value must be in one of them.
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


def table_of(name: str, record: type[Any], *key: str, required: bool = False) -> Table:
    """The table of a record class.

    The class's docstring is the table's help. Each attribute is a column, whose ``Annotated`` type holds a
    ``Column`` made by a function below. The default is the attribute's, if it has one, else the column's.
    A cell may be blank if there is a default or the type allows None.
    """
    types = get_type_hints(record, include_extras=True)
    columns = []
    for attribute in fields(record):
        held = types[attribute.name]
        (column,) = held.__metadata__
        default = column.default if attribute.default is MISSING else attribute.default
        blank = default is not None or NoneType in get_args(held.__origin__)
        more: dict[str, Any] = {}
        if column.type is Type.CHOICE:
            more = {"enum": held.__origin__, "choices": tuple(member.value for member in held.__origin__)}
        columns.append(replace(column, name=attribute.name, default=default, required=not blank, **more))
    return Table(name, record, key, record.__doc__ or "", tuple(columns), required)


def text(help: str) -> Column:
    return Column("", Type.TEXT, help)


def note() -> Column:
    return text("Source of the row's figures, or anything else to remember.")


def number(
    help: str,
    unit: str,
    default: float | None = None,
    *,
    low: float | None = 0,
    high: float | None = None,
    above_low: bool = False,
    type: Type = Type.NUMBER,
) -> Column:
    """A number of 0 or more, unless ``low`` says otherwise. With a default the cell may be blank."""
    return Column("", type, help, unit, default=default, low=low, high=high, above_low=above_low)


def whole(help: str, unit: str, default: int | None = None, **more: Any) -> Column:
    return number(help, unit, default, type=Type.WHOLE, **more)


def days(help: str, default: int | None = None, **more: Any) -> Column:
    """Whole days, at most ``LONGEST``."""
    return whole(help, "days", default, **({"high": LONGEST} | more))


def share(help: str, default: float | None = None, **more: Any) -> Column:
    return number(help, "share", default, type=Type.SHARE, **({"high": 1} | more))


def choice(help: str, default: Enum | None = None) -> Column:
    """One word of the attribute's enumeration."""
    return Column("", Type.CHOICE, help, default=default)


def choices(help: str, *words: str) -> Column:
    """Several words in one cell: each one of ``words``, or any word if none are given."""
    return Column("", Type.CHOICES, help, choices=words)


def weekdays(help: str) -> Column:
    return choices(help, *WEEKDAYS)


def yes_no(help: str, default: bool) -> Column:
    return Column("", Type.YES_NO, help, default=default)


def ref(help: str, *targets: tuple[str, str]) -> Column:
    """The name of a row of one of these tables."""
    return Column("", Type.REFERENCE, help, references=targets)


def refs(help: str, *targets: tuple[str, str]) -> Column:
    """Names of rows of these tables, separated by ';'."""
    return Column("", Type.REFERENCES, help, references=targets)


def day(help: str) -> Column:
    return Column("", Type.DATE, help)
