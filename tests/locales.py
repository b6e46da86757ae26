"""Tables as spreadsheet programs of several countries write them to text files."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

Sheets = Mapping[str, Sequence[Sequence[Any]]]
"""Rows by table, the heading first."""


@dataclass(frozen=True, slots=True)
class Locale:
    """How a country writes: code page, sign between cells, decimal sign, day; and a name with its letters."""

    code_page: str
    separator: str
    decimal: str
    day: Callable[[date], str]
    order: str
    customer: str


LOCALES = {
    "Germany": Locale(
        "windows-1252", ";", ",", lambda d: f"{d:%d.%m.%Y}", "day/month/year", "Gärtnerei Müßig"
    ),
    "France": Locale(
        "windows-1252", ";", ",", lambda d: f"{d:%d/%m/%Y}", "day/month/year", "Pépinière du Château"
    ),
    "United States": Locale(
        "windows-1252", ",", ".", lambda d: f"{d.month}/{d.day}/{d.year}", "month/day/year", "Cañon Farm"
    ),
    "Poland": Locale("windows-1250", ";", ",", lambda d: f"{d:%d.%m.%Y}", "day/month/year", "Łąka spółka"),
    "Netherlands": Locale(
        "windows-1252", ";", ",", lambda d: f"{d.day}-{d.month}-{d.year}", "day/month/year", "Kwekerij Zoë"
    ),
    "Bulgaria": Locale(
        "windows-1251", ";", ",", lambda d: f"{d.day}.{d.month:02}.{d.year}", "day/month/year", "Разсадник"
    ),
}

CODECS = {"windows-1252": "cp1252", "windows-1250": "cp1250", "windows-1251": "cp1251"}


def text_as(locale: Locale, rows: Sequence[Sequence[Any]], separator: str = "") -> str:
    """Rows as the country writes them."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=separator or locale.separator, lineterminator="\r\n")
    writer.writerows([_cell(locale, cell) for cell in row] for row in rows)
    return text.getvalue()


def _cell(locale: Locale, cell: Any) -> str:
    if isinstance(cell, date):
        return locale.day(cell)
    if isinstance(cell, float):
        return repr(cell).removesuffix(".0").replace(".", locale.decimal)
    return "" if cell is None else str(cell)


def write_as(locale: Locale, sheets: Sheets, folder: Path, encoding: str, separator: str = "") -> Path:
    """The tables as text files of the country in a folder."""
    folder.mkdir(exist_ok=True)
    for name, rows in sheets.items():
        data = text_as(locale, rows, separator).encode(encoding)
        (folder / f"{name}.csv").write_bytes(data)
    return folder


def ambiguous(rows: Sequence[Sequence[Any]], column: int) -> bool:
    """Whether day and month could change places in every cell of a column of days, and that would matter."""
    days = [row[column] for row in rows[1:] if isinstance(row[column], date)]
    return bool(days) and all(day.day <= 12 for day in days) and any(day.day != day.month for day in days)
