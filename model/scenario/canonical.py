"""The rows of a scenario in one fixed order, whatever their order in the files."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from enum import Enum
from functools import partial
from typing import Any

from model.scenario.choices import ZoneUse
from model.scenario.entities import Scenario, Zone
from model.scenario.tables import TABLES, Table, records_of


def canonical(scenario: Scenario) -> Scenario:
    """The scenario with the rows of every table sorted: by the columns of the key, then by the others.

    Zones are sorted by use first, in the order in which plants pass through them. Sums are then formed in one
    order, so the plan is the same to the last digit however the files are sorted.
    """
    ordered: dict[str, Any] = {
        table.name: tuple(sorted(records_of(scenario, table), key=partial(_place, table)))
        for table in TABLES
        if table.name != "nursery"
    }
    return replace(scenario, **ordered)


def _place(table: Table, row: Any) -> tuple[tuple[int, Any], ...]:
    """Sort key of a row: its cells as comparable values, those of the table's key first."""
    first = (list(ZoneUse).index(row.use),) if isinstance(row, Zone) else ()
    others = [name for name in table.by_name if name not in table.key]
    cells = (getattr(row, name) for name in (*table.key, *others))
    return tuple(_comparable(cell) for cell in (*first, *cells))


def _comparable(value: Any) -> tuple[int, Any]:
    """A number for the kind of the value, then the value: blanks, numbers and texts do not compare."""
    if value is None:
        return 0, ""
    if isinstance(value, Enum):
        return 2, str(value.value)
    if isinstance(value, int | float):
        return 1, value
    if isinstance(value, date):
        return 2, value.isoformat()
    return (3, tuple(map(str, value))) if isinstance(value, tuple) else (2, str(value))
