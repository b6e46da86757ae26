"""The scenario's tables: the one source of their columns, types, units, ranges and help.

The reader, the writer, the blank workbook, the reference page and every error message use ``TABLES``.
Each column is declared at an attribute of a record in ``model.scenario.entities`` or in the folder
``model/scenario/records``.
"""

from __future__ import annotations

from typing import Any

from model.scenario import batches, entities
from model.scenario.entities import Scenario
from model.scenario.records import kept_apart, methods, overheads, past, people, rooms, trade
from model.scenario.schema import Column, Table, Type, table_of

__all__ = ["BY_NAME", "TABLES", "Column", "Table", "Type"]

TABLES: tuple[Table, ...] = (
    table_of("nursery", entities.Nursery, required=True),
    table_of("orders", entities.Order, "order", required=True),
    table_of("customers", trade.Customer, "customer"),
    table_of("runs", trade.Run, "run"),
    table_of("products", entities.Product, "product", required=True),
    table_of("list_prices", trade.ListPrice, "product", "from_quantity", "from_day"),
    table_of("inquiries", trade.Inquiry, "inquiry", "quantity"),
    table_of("seed_lots", entities.SeedLot, "lot", required=True),
    table_of("tray_formats", entities.TrayFormat, "format", required=True),
    table_of("methods", methods.Method, "method", required=True),
    table_of("stages", methods.Stage, "method", "step"),
    table_of("stage_zones", rooms.StageZone, "method", "stage", "zone"),
    table_of("germination_zones", rooms.GerminationZone, "lot", "zone"),
    table_of("age_effects", methods.AgeEffect, "method", "rootstock_age", "scion_age"),
    table_of("labour_standards", people.LabourStandard, "task", "method", "format", "role"),
    table_of(
        "own_tasks", people.OwnTask, "task", "stage", "day", "method", "product", "lot", "format", "per"
    ),
    table_of("supplies", trade.Supply, "supply"),
    table_of("supply_uses", trade.SupplyUse, "supply", "per", "method", "format"),
    table_of("packs", trade.Pack, "item", "size"),
    table_of("zones", entities.Zone, "zone", required=True),
    table_of("zone_days", entities.ZoneDay, "zone", "from_day"),
    table_of("bays", rooms.Bays, "zone", "from_day"),
    table_of("apart", kept_apart.Apart, "by", "group", "other_by", "other", "share", "zone"),
    table_of("crews", people.Crew, "crew"),
    table_of("shifts", people.Shift, "crew", "weekdays"),
    table_of("practice", people.Practice, "crew", "item", "format", "days_before"),
    table_of("pace_by_week", people.WeekPace, "crew", "week"),
    table_of("crew_days", people.CrewDay, "crew", "from_day"),
    table_of("skill_limits", people.SkillLimit, "skill", "crew"),
    table_of("piece_rates", people.PieceRate, "crew", "task", "method", "format", "role"),
    table_of("days_off", entities.DayOff, "day"),
    table_of("buy_in_offers", trade.BuyInOffer, "offer"),
    table_of("modules", trade.Module, "module"),
    table_of("overheads", overheads.Overhead, "overhead"),
    table_of("mishaps", batches.Mishap, "mishap"),
    table_of("trays_on_hand", past.TraysOnHand, "lot", "format", "sow_day"),
    table_of(
        "plants_on_hand",
        past.PlantsOnHand,
        *("product", "graft_day", "lot", "sow_day", "rootstock_lot", "rootstock_sow_day", "in_zones"),
    ),
    table_of("progress", past.Progress),
)

BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}


def records_of(scenario: Scenario, table: Table) -> tuple[Any, ...]:
    """The rows of one table of the scenario."""
    records = getattr(scenario, table.name)
    return records if isinstance(records, tuple) else (records,)
