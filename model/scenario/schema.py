"""The parts of a table's schema: tables, columns, types, and short functions for common columns."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field, fields
from datetime import date
from enum import Enum
from types import NoneType
from typing import Any, get_args, get_type_hints

from model.scenario.ranges import AMOUNT, UNIT_PRICE

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

LONGEST = 366
"""Days of the longest window, stage or wait. A year is ample: seedlings live for weeks."""

NOTE = "Source of the row's figures, or anything else to remember."
"""Help of a column of notes."""

EnumClass = type[Enum]

Settings = dict[str, Any]
"""Settings of a column by their names in ``Column``."""


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


TYPES = {str: Type.TEXT, date: Type.DATE, bool: Type.YES_NO}
"""Columns of attributes whose types say all but the help."""


def table_of(name: str, record: type[Any], *key: str, required: bool = False) -> Table:
    """The table of a record class.

    The class's docstring is the table's help. Each attribute is a column. Its ``Annotated`` type holds the
    column's help and, unless the type says the rest, what a function below returns. The default is the
    attribute's, if it has one, else the column's. A cell may be blank if there is a default or the type
    allows None.
    """
    types = get_type_hints(record, include_extras=True)
    columns = []
    for attribute in fields(record):
        held = types[attribute.name].__origin__
        help, *more = types[attribute.name].__metadata__
        settings = _of_type(held)
        for further in more:
            settings |= further
        if attribute.default is not MISSING:
            settings["default"] = attribute.default
        may_be_blank = settings.get("default") is not None or NoneType in get_args(held)
        columns.append(Column(attribute.name, help=help, required=not may_be_blank, **settings))
    return Table(name, record, key, " ".join((record.__doc__ or "").split()), tuple(columns), required)


def _of_type(held: Any) -> Settings:
    """What an attribute's type says of its column."""
    for kind in (held, *get_args(held)):
        if isinstance(kind, type) and issubclass(kind, Enum):
            return {"type": Type.CHOICE, "enum": kind, "choices": tuple(member.value for member in kind)}
    kinds = [TYPES[kind] for kind in (held, *get_args(held)) if kind in TYPES]
    return {"type": kinds[0]} if kinds else {}


def number(
    unit: str,
    default: float | None = None,
    *,
    low: float | None = 0,
    high: float | None = None,
    above_low: bool = False,
    type: Type = Type.NUMBER,
) -> Settings:
    """A number of 0 or more, unless ``low`` says otherwise. With a default the cell may be blank."""
    range_ = {"low": low, "high": high, "above_low": above_low}
    return {"type": type, "unit": unit, "default": default, **range_}


def price(per: str, default: float | None = None, **more: Any) -> Settings:
    """Currency for a plant, an hour, a slot-day ..."""
    return number(f"currency/{per}", default, high=UNIT_PRICE, **more)


def amount(per: str = "", default: float | None = None) -> Settings:
    """A sum of currency, in all or for each pack, module ..."""
    return number(f"currency/{per}" if per else "currency", default, high=AMOUNT)


def whole(unit: str, default: int | None = None, **more: Any) -> Settings:
    return number(unit, default, type=Type.WHOLE, **more)


def days(default: int | None = None, **more: Any) -> Settings:
    """Whole days, at most ``LONGEST``."""
    return whole("days", default, **({"high": LONGEST} | more))


def share(default: float | None = None, **more: Any) -> Settings:
    return number("share", default, type=Type.SHARE, **({"high": 1} | more))


def blank(means: Any) -> Settings:
    """A cell that may be blank although the attribute has no default."""
    return {"default": means}


def choices(*words: str) -> Settings:
    """Several words in one cell: each one of ``words``, or any word if none are given."""
    return {"type": Type.CHOICES, "choices": words}


def weekdays() -> Settings:
    return choices(*WEEKDAYS)


def ref(*targets: tuple[str, str]) -> Settings:
    """The name of a row of one of these tables."""
    return {"type": Type.REFERENCE, "references": targets}


def refs(*targets: tuple[str, str]) -> Settings:
    """Names of rows of these tables, separated by ';'."""
    return {"type": Type.REFERENCES, "references": targets}
