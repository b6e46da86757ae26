"""The plan's rows, checked one by one before the replay.

A row with a blank, a wrong value, a day outside the horizon or a name that is not in the scenario is
reported and left out of the replay. So the checks that follow need not guard against such rows.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import fields
from datetime import date, datetime
from functools import partial
from math import isfinite
from typing import Any

import numpy as np

from model.planned.plan_tables import PLAN_TABLES, Facts, Plan
from model.planned.tables.plan_schema import DTYPES, PlanColumn
from model.proof.problems import ABSOLUTE, Problem
from model.proof.world import ONE_DAY, World
from model.scenario.schema import Type

Row = dict[str, Any]

Fault = tuple[list[Problem], str, float]
"""Where a fault of a value is recorded, what is wrong with the value, and how far."""


class Rows:
    """The rows of each table that can be replayed, and the problems of the others."""

    def __init__(self, world: World, plan: Plan) -> None:
        self.world = world
        self.columns: list[Problem] = []
        """Tables that have not exactly their declared columns."""
        self.values: list[Problem] = list(_facts(plan.facts))
        """Values that are missing, of the wrong type or infinite, and negative counts."""
        self.days: list[Problem] = []
        """Days outside the horizon."""
        self.names: list[Problem] = []
        """Products, lots, orders, zones, crews ... that the scenario does not have."""
        self.repeats: list[Problem] = []
        """Keys (wave, flow, day of a zone or crew ...) that occur twice in their table."""
        self.tables: dict[str, list[Row]] = {}
        self.stood = [row.sow_day for row in world.scenario.trays_on_hand]
        """Days on which the trays and plants on hand were sown or grafted."""
        for row in world.scenario.plants_on_hand:
            self.stood += [day for day in (row.graft_day, row.sow_day, row.rootstock_sow_day) if day]
        for name in PLAN_TABLES:
            self.tables[name] = self._read(name, plan)

    def _read(self, name: str, plan: Plan) -> list[Row]:
        table, right = plan.table(name), PLAN_TABLES[name].names
        found = [str(column) for column in table.columns]
        if found != right:
            odd = sorted({*found} ^ {*right}) or found
            self.columns.append(
                (f"{name}: columns missing, unknown or out of order: {', '.join(odd)}", float(len(odd)))
            )
        if table.empty or not set(right) <= set(found):
            return []
        columns = [(column, table[column.name].tolist()) for column in PLAN_TABLES[name].columns]
        bad = {n for column, values in columns for n in self._faults(name, column, values)}
        cells = zip(*(values for _, values in columns), strict=True)
        rows = [dict(zip(right, row, strict=True)) for n, row in enumerate(cells) if n not in bad]
        if name == "deliveries":
            rows = [row for row in rows if self._has_source(row)]
        self._repeated(name, rows)
        return rows

    def _faults(self, table: str, column: PlanColumn, values: list[Any]) -> Iterator[int]:
        """Indices of the rows with a fault in this column. Records each fault as a problem.

        A value that occurs often is looked at once.
        """
        check = self._check(column)
        different = set(values) if column.required else set(values) - {None}
        faults = {value: fault for value in different if (fault := check(value)) is not None}
        for n, value in enumerate(values if faults else ()):
            if value in faults:
                problems, what, size = faults[value]
                problems.append((f"{table}, row {n + 1}, {column.name}: {value} {what}", size))
                yield n

    def _check(self, column: PlanColumn) -> Callable[[Any], Fault | None]:
        """The check of a value of this column."""
        if column.type is Type.DATE:
            first = min([self.world.first, *self.stood]) if column.early else self.world.first
            last = self.world.last + ONE_DAY if column.end else self.world.last
            return partial(self._day, first, last)
        if column.type in DTYPES:
            return partial(self._number, column)
        return partial(self._text, self._known(column))

    def _known(self, column: PlanColumn) -> Collection[str] | None:
        """The texts that this column may hold; None if it may hold any text."""
        if not column.references:
            return column.choices or None
        known: set[str] = set()
        for table, name in column.references:
            records = getattr(self.world.scenario, table, None)
            if records is None:
                known |= {row[name] for row in self.tables[table]}
            else:
                known |= {getattr(record, name) for record in records}
        return known

    def _day(self, first: date, last: date, value: Any) -> Fault | None:
        if not isinstance(value, date) or isinstance(value, datetime):
            return self.values, "is not a day", 1.0
        if first <= value <= last:
            return None
        outside = max((first - value).days, (value - last).days)
        return self.days, "is outside the plan's days", float(outside)

    def _text(self, known: Collection[str] | None, value: Any) -> Fault | None:
        if not isinstance(value, str):
            return self.values, "is not a text", 1.0
        if known is not None and value not in known:
            return self.names, "is not a name in the scenario or the plan", 1.0
        return None

    def _number(self, column: PlanColumn, value: Any) -> Fault | None:
        if not isinstance(value, int | float | np.integer) or not isfinite(value):
            return self.values, "is not a number", 1.0
        if column.low is not None and value < column.low - ABSOLUTE:
            return self.values, f"is below {column.low:g}", -float(value)
        if column.above_low and value <= 0:
            return self.values, "is not above 0", 1.0
        if column.type is Type.WHOLE and value % 1:
            return self.values, "is not a whole number", 1.0
        return None

    def _has_source(self, row: Row) -> bool:
        column = "graft_day" if row["source"] == "own" else "offer"
        if row[column] is None:
            self.values.append(
                (f"deliveries, order {row['order']}: source {row['source']}, but {column} is blank", 1.0)
            )
        return row[column] is not None

    def _repeated(self, name: str, rows: list[Row]) -> None:
        seen = set()
        for row in rows:
            key = tuple(row[column] for column in PLAN_TABLES[name].key)
            if key in seen:
                self.repeats.append((f"{name}: {', '.join(map(str, key))} occurs more than once", 1.0))
            seen.add(key)


def _facts(facts: Facts) -> Iterator[Problem]:
    for field in fields(facts):
        value = getattr(facts, field.name)
        if isinstance(value, float) and not isfinite(value):
            yield f"facts, {field.name}: {value} is not a number", 1.0
