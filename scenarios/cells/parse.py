"""Convert raw cells into values, by the schema of the tables alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import isfinite, isinf
from typing import Any

from model.csv_text import uncover
from model.scenario.tables import TABLES, Column, Type
from scenarios.cells.faults import meant, nearest, shown

LONGEST_NAME, LONGEST_NOTE = 200, 2000
LARGEST = 1e12
"""No figure of a nursery is larger; a larger number is a mistake in typing."""
FIRST_YEAR, LAST_YEAR = 2000, 2100

NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
ISO_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
ISO_TIME = re.compile(r"[T ][0-9]{2}:[0-9]{2}\S*")
TIME_ZONE = re.compile(r"([T ][0-9]{2}:[0-9]{2}[0-9:.,]*)? ?([zZ]|[+-][0-9]{2}:?[0-9]{2})")
THOUSANDS = re.compile(
    r"[+-]?[1-9][0-9]{0,2}(?:([,' \u00a0\u2009\u202f’])[0-9]{3})(?:\1[0-9]{3})*(\.[0-9]+)?"
)
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+|[+-]?[0-9]*,[0-9]+")
PERCENT = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)?)\s*%")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
LINE_BREAK = re.compile(r"[\t\n\u2028\u2029]")

AS_TEXT = "format the cell as text and write the text again"
NO_DATE = "is not a date of the form year-month-day", "write it with year, month, day, as 2026-03-31"

LISTED = {
    target for table in TABLES for c in table.columns if c.type is Type.REFERENCES for target in c.references
}
LISTED |= {("labour_standards", "skill")}
"""Columns whose texts other cells list, separated by ';', so that these texts may not hold a ';'."""


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A cell for which its file gives no usable value."""

    value: str
    wrong: str
    remedy: str


FAULTED = Unreadable("", "", "")
"""A cell whose fault has been reported already."""

Raw = str | int | float | bool | datetime | date | time | timedelta | Unreadable | None
"""The content of a cell: always a text in a CSV file, a typed value in a workbook."""


class CellFault(Exception):
    """A cell that cannot be converted: what is wrong, and the remedy."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(wrong, remedy)
        self.wrong, self.remedy = wrong, remedy


def is_blank(raw: Raw) -> bool:
    """Whether the cell is blank or holds only spaces."""
    return raw is None or (isinstance(raw, str) and not raw.strip())


def shown_value(raw: Raw) -> str:
    """The text of the cell for a message."""
    if isinstance(raw, Unreadable):
        return raw.value
    if isinstance(raw, bool):
        return "TRUE" if raw else "FALSE"
    if isinstance(raw, datetime) and raw.time() == time():
        return raw.date().isoformat()
    return "" if raw is None else str(raw).strip()


def convert(table: str, column: Column, raw: Raw, typed: bool) -> Any:
    """The value of a cell; a blank gives the default. Raises ``CellFault``.

    ``typed`` cells come from a workbook, where no apostrophe covers a text.
    """
    if isinstance(raw, Unreadable):
        raise CellFault(raw.wrong, raw.remedy)
    if is_blank(raw):
        if column.required:
            raise CellFault("is blank", wanted(column))
        return column.default
    return _CONVERT[column.type](table, column, raw, typed)


def wanted(column: Column) -> str:
    """An instruction that says what a cell of the column should hold."""
    if column.type in (Type.WHOLE, Type.NUMBER):
        return f"write a {column.type.value}{_range(column)}"
    if column.type is Type.SHARE:
        return f"write a share{_range(column)}, such as 0.85"
    if column.choices:
        several = "one or more of" if column.type is Type.CHOICES else "one of"
        separated = ", separated by ';'" if column.type is Type.CHOICES else ""
        return f"write {several} {', '.join(column.choices)}{separated}"
    if column.references:
        return f"write {'a name' if column.type is Type.REFERENCE else 'names'} from {_sources(column)}" + (
            ", separated by ';'" if column.type is Type.REFERENCES else ""
        )
    return {
        Type.TEXT: "write a text",
        Type.DATE: "write a date as 2026-03-31",
        Type.YES_NO: "write yes or no",
        Type.CHOICES: "write one or more names, separated by ';'",
    }[column.type]


def _sources(column: Column) -> str:
    return " or ".join(f"table {table}, column {name}" for table, name in column.references)


def _range(column: Column) -> str:
    low = "" if column.low is None else f"{'above' if column.above_low else 'from'} {plain(column.low)}"
    to = "to" if low.startswith("from") else "up to"
    high = "" if column.high is None else f"{to} {plain(column.high)}"
    return "".join(f" {part}" for part in (low, high) if part)


def plain(number: float) -> str:
    """A number as a person writes it: without exponent, with a thousands separator."""
    return f"{number:,.0f}" if float(number).is_integer() else f"{number:g}"


def _text(table: str, column: Column, raw: Raw, typed: bool) -> str:
    text = _plain_text(raw)
    if not typed:
        text = uncover(text)
    _check_text(column, text)
    if (table, column.name) in LISTED and ";" in text:
        raise CellFault("holds a ';', which separates the items of lists", "choose a name without ';'")
    return text


def _plain_text(raw: Raw) -> str:
    if isinstance(raw, str):
        return raw.replace("\r\n", "\n").replace("\r", "\n").strip()
    if isinstance(raw, bool):
        raise CellFault("is a truth value where a text belongs", AS_TEXT)
    if isinstance(raw, int):
        return str(raw)
    if isinstance(raw, float):
        return str(int(raw)) if raw.is_integer() else repr(raw)
    wrong = "is a date where a text belongs: the spreadsheet has changed the text into one"
    raise CellFault(wrong, AS_TEXT)


def _check_text(column: Column, text: str) -> None:
    if CONTROL.search(text):
        raise CellFault("holds a control character", "write the text again by hand")
    note = column.name == "note"
    if not note and LINE_BREAK.search(text):
        raise CellFault("holds a line break or tab", "write it in one line")
    longest = LONGEST_NOTE if note else LONGEST_NAME
    if len(text) > longest:
        raise CellFault(f"is {len(text)} characters long", f"write at most {longest} characters")


def _date(table: str, column: Column, raw: Raw, typed: bool) -> date:
    if isinstance(raw, datetime):
        if raw.time() != time():
            raise CellFault("has a time of day", f"write the date alone: {raw.date().isoformat()}")
        return _known_year(raw.date())
    if isinstance(raw, date):
        return _known_year(raw)
    if isinstance(raw, bool):
        raise CellFault("is a truth value where a date belongs", wanted(column))
    if isinstance(raw, (int, float)):
        remedy = _day_of_serial(raw) or wanted(column)
        raise CellFault("is a number where a date belongs", f"format the cell as a date and {remedy}")
    if isinstance(raw, (time, timedelta)):
        raise CellFault("is a time of day where a date belongs", wanted(column))
    return _date_of_text(column, str(raw).strip())


def _date_of_text(column: Column, text: str) -> date:
    if NUMBER.fullmatch(text):
        remedy = _day_of_serial(float(text)) or wanted(column)
        raise CellFault("is a number where a date belongs", remedy)
    match = ISO_DATE.match(text)
    if match is None:
        raise CellFault(*NO_DATE)
    rest = text[match.end() :]
    if TIME_ZONE.fullmatch(rest):
        remedy = f"write the day at the nursery alone, such as {match.group()}: elsewhere it may be another"
        raise CellFault("has a time zone", remedy)
    if ISO_TIME.fullmatch(rest):
        raise CellFault("has a time of day", f"write the date alone: {match.group()}")
    if rest:
        raise CellFault(*NO_DATE)
    try:
        return _known_year(date(*map(int, match.groups())))
    except ValueError:
        raise CellFault("is no day of the calendar", "write a day that exists") from None


def _day_of_serial(serial: float) -> str:
    """The remedy where a spreadsheet's day number stands in place of a date; blank where it is none."""
    first = date(1899, 12, 30)
    if not (date(FIRST_YEAR, 1, 1) - first).days <= serial <= (date(LAST_YEAR, 1, 1) - first).days:
        return ""
    return f"write {first + timedelta(days=int(serial))}, if that day is meant"


def _known_year(day: date) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise CellFault(f"is in the year {day.year}", f"write a date from {FIRST_YEAR} to {LAST_YEAR}")
    return day


def _number_of_text(column: Column, text: str) -> float:
    """The number written as text; raises the ``CellFault`` that best describes the mistake."""
    if NUMBER.fullmatch(text):
        return float(text)
    word = text.casefold().lstrip("+-")
    if word in ("nan", "na", "n/a", "#n/a"):
        raise CellFault("is not a number", wanted(column))
    if word in ("inf", "infinity", "∞"):
        raise CellFault("is infinite", wanted(column))
    percent = PERCENT.fullmatch(text)
    if percent:
        raise CellFault("is a percentage written as text", _as_share(float(percent[1].replace(",", "."))))
    if THOUSANDS.fullmatch(text):
        plain = re.sub(r"[^0-9.+-]", "", text)
        raise CellFault("has a thousands separator", f"write {plain}")
    if DECIMAL_COMMA.fullmatch(text):
        plain = text.replace(".", "").replace(",", ".")
        raise CellFault("has a decimal comma", f"write {plain}, with a decimal point")
    raise CellFault("is text where a number belongs", wanted(column))


def _as_share(percent: float) -> str:
    return f"write {percent / 100:g}"


def _number(table: str, column: Column, raw: Raw, typed: bool) -> float:
    if isinstance(raw, str):
        number: float = _number_of_text(column, raw.strip())
    elif isinstance(raw, bool):
        raise CellFault("is a truth value where a number belongs", wanted(column))
    elif isinstance(raw, (int, float)):
        number = raw
    else:
        remedy = f"format the cell as a number and {wanted(column)}"
        raise CellFault("is a date where a number belongs", remedy)
    if not isfinite(number):
        raise CellFault("is infinite" if isinf(number) else "is not a number", wanted(column))
    _check_range(column, number)
    return float(number)


def _check_range(column: Column, number: float) -> None:
    if column.low is not None and (number < column.low or (column.above_low and number == column.low)):
        if number < 0 <= column.low:
            raise CellFault("is negative", wanted(column))
        if number == column.low:
            raise CellFault(f"is not above {plain(column.low)}", wanted(column))
        raise CellFault(f"is below {plain(column.low)}", wanted(column))
    high = LARGEST if column.high is None else column.high
    if number > high:
        if column.type is Type.SHARE and number <= 100:
            raise CellFault("is above 1; a share is a part of 1, not of 100", _as_share(number))
        remedy = f"write at most {plain(LARGEST)}" if column.high is None else wanted(column)
        raise CellFault(f"is above {plain(high)}", remedy)


def _whole(table: str, column: Column, raw: Raw, typed: bool) -> int:
    number = _number(table, column, raw, typed)
    if not number.is_integer():
        raise CellFault("is not a whole number", f"{wanted(column)}, such as {round(number)}")
    return int(number)


def _yes_no(table: str, column: Column, raw: Raw, typed: bool) -> bool:
    if isinstance(raw, bool):
        return raw
    word = shown_value(raw).casefold()
    if word in ("yes", "true"):
        return True
    if word in ("no", "false"):
        return False
    raise CellFault("is neither yes nor no", wanted(column))


def _choice(table: str, column: Column, raw: Raw, typed: bool) -> Any:
    text = _plain_text(raw)
    if text not in column.choices:
        raise CellFault("is not one of the choices", _meant_choice(column, text))
    return text if column.enum is None else column.enum(text)


def _meant_choice(column: Column, text: str) -> str:
    near = nearest(text, column.choices)
    return wanted(column) if near is None else f"did you mean '{near}'? {wanted(column)}"


def _items(table: str, column: Column, raw: Raw, typed: bool) -> tuple[str, ...]:
    text = _plain_text(raw)
    if not typed:
        text = uncover(text)
    items = [item.strip() for item in text.split(";")]
    if not all(items):
        raise CellFault("has an empty item", "write one ';' between two items and none at the ends")
    for item in items:
        _check_text(column, item)
        if items.count(item) > 1:
            raise CellFault(f"names '{shown(item)}' twice", "name each item once")
    for item in items:
        if column.choices and item not in column.choices:
            wrong = "is not one of the choices"
            if len(items) > 1:
                wrong = f"holds '{shown(item)}', which {wrong}"
            raise CellFault(wrong, meant(item, column.choices, wanted(column)))
    return tuple(items)


_CONVERT: dict[Type, Callable[[str, Column, Raw, bool], Any]] = {
    Type.TEXT: _text,
    Type.DATE: _date,
    Type.WHOLE: _whole,
    Type.NUMBER: _number,
    Type.SHARE: _number,
    Type.YES_NO: _yes_no,
    Type.CHOICE: _choice,
    Type.CHOICES: _items,
    Type.REFERENCE: _text,
    Type.REFERENCES: _items,
}
