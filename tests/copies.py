"""Independent copies of a nursery in one scenario: every name of a copy is its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

from model.scenario.choices import GroupBy
from model.scenario.entities import Scenario
from model.scenario.own_tasks import HOLDING, SEEDLINGS
from model.scenario.records.kept_apart import Apart

NAMES = {
    "orders": ("order", "customer", "product"),
    "customers": ("customer", "run"),
    "runs": ("run",),
    "products": ("product", "crop", "scion", "rootstock", "method", "final_format", "sold_as"),
    "seed_lots": ("lot", "variety", "crop", "germination_zone", "bench_zone"),
    "tray_formats": ("format",),
    "methods": ("method", "holding_zone"),
    "stages": ("method", "zone"),
    "zones": ("zone",),
    "zone_days": ("zone",),
    "stage_zones": ("method", "zone"),
    "germination_zones": ("lot", "zone"),
    "bays": ("zone",),
    "apart": ("group", "other", "zone"),
    "modules": ("module", "zone", "crew"),
    "crews": ("crew", "attendant_skill", "supply"),
    "crew_days": ("crew",),
    "shifts": ("crew",),
    "pace_by_week": ("crew",),
    "practice": ("crew", "item", "format"),
    "skill_limits": ("crew", "skill"),
    "piece_rates": ("crew", "method", "format"),
    "labour_standards": ("skill", "method", "format"),
    "own_tasks": ("method", "product", "lot", "format", "skill", "supply"),
    "packs": ("item",),
    "supplies": ("supply", "wash_skill"),
    "supply_uses": ("supply", "method", "format"),
    "buy_in_offers": ("offer", "product"),
    "list_prices": ("product",),
    "inquiries": ("inquiry", "product", "grows"),
    "age_effects": ("method",),
    "overheads": ("overhead",),
    "trays_on_hand": ("lot", "format"),
    "plants_on_hand": ("product", "lot", "rootstock_lot"),
}
"""Columns of each table that name something of the nursery; days off are of all copies."""

LISTS = {"products": ("scion_formats", "rootstock_formats"), "crews": ("skills",)}
"""Columns that hold several such names."""


def copies(scenario: Scenario, count: int) -> Scenario:
    """The nursery so many times; the one overhead of the table nursery stays that of one."""
    scenario = replace(
        scenario,
        labour_standards=_by_format(scenario, scenario.labour_standards, "task"),
        piece_rates=_by_format(scenario, scenario.piece_rates, "crew", "task", "role"),
        own_tasks=_by_kind(scenario),
        apart=tuple(_by_lot(scenario)),
        supply_uses=_by_format(scenario, scenario.supply_uses, "supply", "per"),
    )
    tables: dict[str, Any] = {}
    for table in fields(scenario):
        if table.name in NAMES:
            rows = getattr(scenario, table.name)
            tables[table.name] = tuple(_renamed(table.name, row, n) for n in range(count) for row in rows)
    return replace(scenario, **tables)


def _by_lot(scenario: Scenario) -> Iterator[Apart]:
    """Groups kept apart, those of a state of health as one for each of its lots."""

    def groups(by: GroupBy, name: str) -> list[tuple[GroupBy, str]]:
        if by is not GroupBy.HEALTH:
            return [(by, name)]
        return [(GroupBy.LOT, row.lot) for row in scenario.seed_lots if row.health == name]

    for row in scenario.apart:
        for one in groups(row.by, row.group):
            for other in groups(row.other_by, row.other):
                yield Apart(*one, *other, row.share, row.zone, row.cleaning_days)


def _by_kind(scenario: Scenario) -> tuple[Any, ...]:
    """Own tasks, those for all lots or all products as one for each of them: no copy does another's."""
    stages = {(stage.method, stage.stage) for stage in scenario.stages}
    found: list[Any] = []
    for task in scenario.own_tasks:
        if task.stage in SEEDLINGS and task.lot is None:
            found += [replace(task, lot=lot.lot) for lot in scenario.seed_lots]
        elif task.stage not in SEEDLINGS and task.product is None:
            found += [
                replace(task, product=product.product)
                for product in scenario.products
                if task.method in (None, product.method)
                and (task.stage == HOLDING or (product.method, task.stage) in stages)
            ]
        else:
            found.append(task)
    return tuple(found)


def _by_format(scenario: Scenario, rows: tuple[Any, ...], *key: str) -> tuple[Any, ...]:
    """The rows, those for every method and format as one for each format that has none of its own."""
    own = {(*(getattr(row, name) for name in key), row.format) for row in rows if row.method is None}
    found: list[Any] = []
    for row in rows:
        if row.method is not None or row.format is not None:
            found.append(row)
            continue
        free = [
            t.format for t in scenario.tray_formats if (*(getattr(row, k) for k in key), t.format) not in own
        ]
        found += [replace(row, format=name) for name in free]
    return tuple(found)


def _renamed(table: str, row: Any, n: int) -> Any:
    names = {
        column: f"{getattr(row, column)} {n}" for column in NAMES[table] if getattr(row, column) is not None
    }
    lists = {column: tuple(f"{name} {n}" for name in getattr(row, column)) for column in LISTS.get(table, ())}
    return replace(row, **names, **lists)
