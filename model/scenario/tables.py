"""The scenario's tables: the one source of their columns, types, units, ranges and help.

The reader, the writer, the blank workbook, the reference page and every error message use ``TABLES``.
Each column is declared at an attribute of a record in ``model.scenario.entities``.
"""

from __future__ import annotations

from typing import Any

from model.scenario.entities import (
    AgeEffect,
    BuyInOffer,
    DayOff,
    Method,
    Module,
    Nursery,
    Order,
    Pack,
    Product,
    Progress,
    Scenario,
    SeedLot,
    Stage,
    Supply,
    SupplyUse,
    TrayFormat,
    Zone,
    ZoneDay,
)
from model.scenario.people import Crew, CrewDay, LabourStandard
from model.scenario.schema import Column, Table, Type, table_of

__all__ = ["BY_NAME", "TABLES", "Column", "Table", "Type"]

TABLES: tuple[Table, ...] = (
    table_of("nursery", Nursery, required=True),
    table_of("orders", Order, "order", required=True),
    table_of("products", Product, "product", required=True),
    table_of("seed_lots", SeedLot, "lot", required=True),
    table_of("tray_formats", TrayFormat, "format", required=True),
    table_of("methods", Method, "method", required=True),
    table_of("stages", Stage, "method", "step"),
    table_of("age_effects", AgeEffect, "method", "rootstock_age", "scion_age"),
    table_of("labour_standards", LabourStandard, "task", "method", "format"),
    table_of("supplies", Supply, "supply"),
    table_of("supply_uses", SupplyUse, "supply", "per", "method", "format"),
    table_of("packs", Pack, "item", "size"),
    table_of("zones", Zone, "zone", required=True),
    table_of("zone_days", ZoneDay, "zone", "from_day"),
    table_of("crews", Crew, "crew"),
    table_of("crew_days", CrewDay, "crew", "from_day"),
    table_of("days_off", DayOff, "day"),
    table_of("buy_in_offers", BuyInOffer, "offer"),
    table_of("modules", Module, "module"),
    table_of("progress", Progress),
)

BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}


def records_of(scenario: Scenario, table: Table) -> tuple[Any, ...]:
    """The rows of one table of the scenario."""
    records = getattr(scenario, table.name)
    return records if isinstance(records, tuple) else (records,)
