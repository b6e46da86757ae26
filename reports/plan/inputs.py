"""The inputs of a scenario as a flat list: table, row, input, value, unit, note."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from enum import Enum
from typing import Any, NamedTuple

from model.scenario.entities import Scenario
from model.scenario.tables import TABLES, records_of
from reports.book.writing import figure, shown_day


class InputCell(NamedTuple):
    """One filled cell of a scenario; ``number`` counts the rows of its table from 0."""

    table: str
    number: int
    row: str
    column: str
    value: str | float | date
    unit: str
    note: str | None


UNSAID = ("role",)
"""Columns of keys that are left unsaid where they are blank: most tasks are in no roles."""


def inputs(scenario: Scenario) -> Iterator[InputCell]:
    """Every filled cell but keys and notes; the first cell of a row carries the row's note."""
    for table in TABLES:
        for number, record in enumerate(records_of(scenario, table)):
            keys = ((key, getattr(record, key)) for key in table.key)
            row = ", ".join(_words(part) for key, part in keys if part is not None or key not in UNSAID)
            note = getattr(record, "note", None)
            for column in table.columns:
                value = getattr(record, column.name)
                if column.name in (*table.key, "note") or value is None or value == ():
                    continue
                yield InputCell(table.name, number, row, column.name, _cell(value), column.unit, note)
                note = None


def _cell(value: Any) -> str | float | date:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, int | float | date) else _words(value)


def _words(value: Any) -> str:
    if value is None:
        return "all"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, date):
        return shown_day(value)
    if isinstance(value, tuple):
        return "; ".join(map(str, value))
    return figure(value) if isinstance(value, float) else str(value)
