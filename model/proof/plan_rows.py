"""The plan's rows, read with care.

Rows with a hole, a stray value, a day outside the horizon or a name that the scenario does not know are
told, and left out of the replay: the checks that follow need not guard against them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import fields
from datetime import date, datetime
from math import isfinite
from typing import Any

import numpy as np

from model.planned.plan_tables import COST_LINES, PLAN_TABLES, Facts, Plan
from model.proof.problems import ABSOLUTE, Problem
from model.proof.world import ONE_DAY, World
from model.scenario.entities import Task

Row = dict[str, Any]

DAYS = frozenset(
    {
        "sow_day",
        "bench_day",
        "clear_day",
        "from_day",
        "to_day",
        "graft_day",
        "ready_day",
        "due_day",
        "pack_day",
        "day",
        "open_day",
        "shut_until",
        "load_day",
        "week_day",
        "needed_day",
        "order_by",
        "arrival_day",
    }
)
TEXTS = frozenset(
    {
        "wave",
        "lot",
        "variety",
        "format",
        "product",
        "rootstock_wave",
        "scion_wave",
        "method",
        "order",
        "source",
        "offer",
        "customer",
        "short_because",
        "zone",
        "crew",
        "hands",
        "skill",
        "task",
        "item",
        "kind",
        "unit",
        "line",
        "detail",
        "limit",
        "name",
    }
)
ENDS = frozenset({"clear_day", "to_day", "shut_until", "due_day"})
"""Days that may follow the last day: they are not counted in, or the scenario's own."""
BLANK = frozenset(
    {
        ("joins", "rootstock_wave"),
        ("joins", "rootstock_age"),
        ("deliveries", "graft_day"),
        ("deliveries", "offer"),
        ("orders", "short_because"),
        ("orders", "price"),
        ("purchases", "needed_day"),
        ("purchases", "order_by"),
        ("costs", "detail"),
        ("shadow_prices", "day"),
        ("shadow_prices", "low"),
        ("shadow_prices", "high"),
    }
)
SIGNED = frozenset({"amount", "value", "left", "at", "low", "high"})
"""Numbers that may be negative: money, what is left of an item, and prices of limits."""
UNBOUNDED = frozenset({"low", "high"})
ABOVE_ZERO = frozenset({"match", "usable_per_tray"})
KEYS = {
    "waves": ("wave",),
    "flows": ("product", "graft_day"),
    "orders": ("order",),
    "salvage": ("product",),
    "slots": ("zone", "day"),
    "unit_batches": ("zone", "open_day"),
    "crew_days": ("crew", "day"),
    "temporary": ("crew", "week_day"),
    "purchases": ("item", "size", "price"),
    "items": ("item",),
    "item_uses": ("item", "day"),
}
"""What a table has one row for."""


class Rows:
    """The rows of each table that can be replayed, and what is wrong with the others."""

    def __init__(self, world: World, plan: Plan) -> None:
        self.world = world
        self.columns: list[Problem] = []
        self.values: list[Problem] = list(_facts(plan.facts))
        self.days: list[Problem] = []
        self.names: list[Problem] = []
        self.repeats: list[Problem] = []
        self.known: dict[str, Collection[str]] = {
            "lot": world.lots,
            "format": world.formats,
            "product": world.products,
            "method": world.methods,
            "order": world.orders,
            "offer": world.offers,
            "zone": world.zones,
            "crew": world.crews,
            "item": {**world.lots, **world.supplies},
            "task": {task.value for task in Task},
            "hands": ("own", "temporary"),
            "source": ("own", "buy-in"),
            "kind": ("seed", "supply"),
            "line": COST_LINES,
        }
        self.tables: dict[str, list[Row]] = {}
        for name in PLAN_TABLES:
            self.tables[name] = self._read(name, plan)
            if name == "waves":
                waves = {row["wave"] for row in self.tables[name]}
                self.known |= {"wave": waves, "rootstock_wave": waves, "scion_wave": waves}

    def _read(self, name: str, plan: Plan) -> list[Row]:
        table, right = plan.table(name), list(PLAN_TABLES[name])
        found = [str(column) for column in table.columns]
        if found != right:
            odd = sorted({*found} ^ {*right}) or found
            self.columns.append((f"{name}: columns {', '.join(odd)}", float(len(odd))))
        if not set(right) <= set(found):
            return []
        columns = {column: table[column].tolist() for column in right}
        bad = {n for column, values in columns.items() for n in self._faults(name, column, values)}
        rows = [dict(zip(right, values, strict=True)) for values in zip(*columns.values(), strict=True)]
        rows = [row for n, row in enumerate(rows) if n not in bad]
        if name == "deliveries":
            rows = [row for row in rows if self._has_source(row)]
        self._repeated(name, rows)
        return rows

    def _faults(self, table: str, column: str, values: list[Any]) -> Iterator[int]:
        """Numbers of the rows with a fault in this column; the faults are noted."""
        blank = (table, column) in BLANK
        for n, value in enumerate(values):
            if value is None and blank:
                continue
            place = f"{table}, row {n + 1}, {column}: {value}"
            if column in DAYS:
                yield from self._day(n, place, column, value)
            elif column in TEXTS:
                yield from self._text(n, place, table, column, value)
            else:
                yield from self._number(n, place, column, value)

    def _day(self, n: int, place: str, column: str, value: Any) -> Iterator[int]:
        if not isinstance(value, date) or isinstance(value, datetime):
            self.values.append((f"{place} is no day", 1.0))
            yield n
            return
        last = self.world.last + ONE_DAY if column in ENDS else self.world.last
        if not self.world.first <= value <= last:
            outside = max((self.world.first - value).days, (value - last).days)
            self.days.append((f"{place} is outside", float(outside)))
            yield n

    def _text(self, n: int, place: str, table: str, column: str, value: Any) -> Iterator[int]:
        if not isinstance(value, str):
            self.values.append((f"{place} is no text", 1.0))
            yield n
        elif (
            (table, column) != ("waves", "wave") and column in self.known and value not in self.known[column]
        ):
            self.names.append((f"{place} is unknown", 1.0))
            yield n

    def _number(self, n: int, place: str, column: str, value: Any) -> Iterator[int]:
        if not isinstance(value, int | float | np.integer) or value != value:
            self.values.append((f"{place} is no number", 1.0))
        elif not isfinite(value):
            if column in UNBOUNDED:
                return
            self.values.append((f"{place} is no number", 1.0))
        elif column not in SIGNED and value < -ABSOLUTE:
            self.values.append((f"{place} is negative", -float(value)))
        elif column in ABOVE_ZERO and value <= 0:
            self.values.append((f"{place} is not above zero", 1.0))
        else:
            return
        yield n

    def _has_source(self, row: Row) -> bool:
        column = "graft_day" if row["source"] == "own" else "offer"
        if row[column] is None:
            self.values.append((f"deliveries, order {row['order']}: {row['source']} without {column}", 1.0))
        return row[column] is not None

    def _repeated(self, name: str, rows: list[Row]) -> None:
        seen = set()
        for row in rows:
            key = tuple(row[column] for column in KEYS.get(name, ()))
            if key in seen and key:
                self.repeats.append((f"{name}: {', '.join(map(str, key))} more than once", 1.0))
            seen.add(key)


def _facts(facts: Facts) -> Iterator[Problem]:
    for field in fields(facts):
        value = getattr(facts, field.name)
        if isinstance(value, float) and not isfinite(value):
            yield f"facts, {field.name}: {value} is no number", 1.0
