"""The inputs of a scenario as a flat list: table, row, input, value, unit, note.

``KEYS`` and ``UNITS`` repeat what the scenario's schema says, which reports do not see; a test keeps the
two in step.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from datetime import date
from enum import Enum
from typing import Any, NamedTuple

from model.scenario.entities import Scenario

KEYS: dict[str, tuple[str, ...]] = {
    "nursery": (),
    "orders": ("order",),
    "products": ("product",),
    "seed_lots": ("lot",),
    "tray_formats": ("format",),
    "methods": ("method",),
    "stages": ("method", "step"),
    "age_effects": ("method", "rootstock_age", "scion_age"),
    "labour_standards": ("task", "method", "format"),
    "supplies": ("supply",),
    "supply_uses": ("supply", "per", "method", "format"),
    "packs": ("item", "size"),
    "zones": ("zone",),
    "zone_days": ("zone", "from_day"),
    "crews": ("crew",),
    "crew_days": ("crew", "from_day"),
    "days_off": ("day",),
    "buy_in_offers": ("offer",),
    "modules": ("module",),
    "progress": (),
}
"""The columns that name a row of each table."""

UNITS: dict[tuple[str, str], str] = {
    ("nursery", "service_level"): "share",
    ("nursery", "graft_margin"): "share",
    ("nursery", "sowing_margin"): "share",
    ("nursery", "shortfall_penalty"): "currency/plant",
    ("nursery", "wave_cost"): "currency/wave",
    ("nursery", "overhead"): "currency",
    ("nursery", "interest_rate"): "share",
    ("nursery", "plant_cost"): "currency/plant",
    ("orders", "quantity"): "plants",
    ("orders", "price"): "currency/plant",
    ("orders", "shortfall_penalty"): "currency/plant",
    ("orders", "service_level"): "share",
    ("orders", "graft_margin"): "share",
    ("products", "salvage_price"): "currency/plant",
    ("products", "salvage_most"): "plants",
    ("seed_lots", "germination"): "share",
    ("seed_lots", "grade_out"): "share",
    ("seed_lots", "seeds_per_cell"): "seeds",
    ("seed_lots", "stock"): "seeds",
    ("seed_lots", "lead_days"): "days",
    ("seed_lots", "germination_days"): "days",
    ("seed_lots", "germination_correlation"): "share",
    ("seed_lots", "sowing_margin"): "share",
    ("seed_lots", "diameter_start_mm"): "mm",
    ("seed_lots", "diameter_growth_mm_per_day"): "mm/day",
    ("seed_lots", "diameter_spread_mm"): "mm",
    ("seed_lots", "diameter_spread_growth_mm_per_day"): "mm/day",
    ("tray_formats", "cells"): "cells",
    ("tray_formats", "slots"): "slots",
    ("methods", "take_correlation"): "share",
    ("methods", "scion_age_min"): "days",
    ("methods", "scion_age_max"): "days",
    ("methods", "rootstock_age_min"): "days",
    ("methods", "rootstock_age_max"): "days",
    ("methods", "match"): "share",
    ("methods", "stem_tolerance_mm"): "mm",
    ("methods", "take"): "share",
    ("methods", "finish_survival"): "share",
    ("methods", "holding_limit_days"): "days",
    ("stages", "days"): "days",
    ("age_effects", "match"): "share",
    ("age_effects", "take"): "share",
    ("labour_standards", "seconds"): "s",
    ("supplies", "stock"): "units",
    ("supplies", "lead_days"): "days",
    ("supply_uses", "quantity"): "units",
    ("packs", "price"): "currency/pack",
    ("zones", "slots"): "slots",
    ("zones", "units"): "units",
    ("zones", "unit_slots"): "slots",
    ("zones", "load_days"): "days",
    ("zones", "cost_per_slot_day"): "currency/slot-day",
    ("zone_days", "slots"): "slots",
    ("zone_days", "units"): "units",
    ("zone_days", "cost_per_slot_day"): "currency/slot-day",
    ("crews", "heads"): "heads",
    ("crews", "hours_per_head_day"): "h",
    ("crews", "pay_per_hour"): "currency/h",
    ("crews", "pace"): "ratio",
    ("crews", "overtime_hours_per_head_day"): "h",
    ("crews", "overtime_pay_per_hour"): "currency/h",
    ("crews", "day_off_hours_per_head"): "h",
    ("crews", "week_hours_per_head"): "h",
    ("crews", "temp_heads_most"): "heads",
    ("crews", "temp_pay_per_hour"): "currency/h",
    ("crews", "temp_pace"): "ratio",
    ("crews", "temp_training_days"): "days",
    ("crews", "temp_training_cost"): "currency/head",
    ("crew_days", "heads"): "heads",
    ("crew_days", "pay_per_hour"): "currency/h",
    ("buy_in_offers", "price"): "currency/plant",
    ("buy_in_offers", "lead_days"): "days",
    ("buy_in_offers", "least_quantity"): "plants",
    ("buy_in_offers", "most_per_delivery"): "plants",
    ("modules", "slots"): "slots",
    ("modules", "added"): "modules",
    ("modules", "first_cost"): "currency/module",
    ("modules", "salvage_value"): "currency/module",
    ("modules", "life_years"): "years",
}
"""The unit of each column that has one."""


class Input(NamedTuple):
    """One filled cell of a scenario; ``number`` counts the rows of its table from 0."""

    table: str
    number: int
    row: str
    column: str
    value: str | float | date
    unit: str
    note: str | None


def inputs(scenario: Scenario) -> Iterator[Input]:
    """Every filled cell but keys and notes; a row's note goes with its first."""
    for table, keys in KEYS.items():
        held = getattr(scenario, table)
        for number, record in enumerate(held if isinstance(held, tuple) else (held,)):
            row = ", ".join(_words(getattr(record, key)) for key in keys)
            note = getattr(record, "note", None)
            for column in fields(record):
                value = getattr(record, column.name)
                if column.name in keys or column.name == "note" or value is None or value == ():
                    continue
                yield Input(
                    table, number, row, column.name, _cell(value), UNITS.get((table, column.name), ""), note
                )
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
    if isinstance(value, tuple):
        return "; ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)
