"""A small valid scenario as plain cells, and ways to write it to files however wrong its cells are."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from model.scenario.tables import TABLES

Cells = dict[str, Any]
Tables = dict[str, list[Cells]]


def small() -> Tables:
    """A nursery with every table: three grafted methods of three kinds of match, and one own-root."""
    return {
        "nursery": [
            {
                "name": "Test nursery",
                "currency": "USD",
                "first_day": date(2027, 3, 1),
                "last_day": date(2027, 5, 30),
                "working_weekdays": "Mon;Tue;Wed;Thu;Fri",
                "shortfall_penalty": 5.0,
                "today": date(2027, 3, 10),
                "change_over_seconds": 300.0,
                "change_over_skill": "grafting",
            }
        ],
        "orders": [
            _order("O-1", "Red on Stout", 480, date(2027, 4, 30)),
            _order("O-2", "Melon on Gourd", 960, date(2027, 5, 7)),
            _order("O-3", "Red plain", 240, date(2027, 4, 9)),
            _order("O-4", "Green on Stout", 120, date(2027, 5, 14)),
        ],
        "customers": [{"customer": "Market farm", "terms_days": 14, "deposit_share": 0.25}],
        "runs": [
            {"run": "hills", "weekdays": "Wed", "fixed_cost": 60.0, "cost_per_tray": 0.4, "trays": 120},
        ],
        "list_prices": [{"product": "Red on Stout", "from_quantity": 5000, "price": 1.4, "per": "plant"}],
        "inquiries": [
            {
                "inquiry": "I-1",
                "customer": "Market farm",
                "product": "Red on Stout",
                "quantity": 240,
                "due_day": date(2027, 4, 3),
                "price": 1.5,
                "chance": 0.5,
            }
        ],
        "products": [
            _product("Red on Stout", "tomato", "Red", "Stout", "tomato splice"),
            _product("Melon on Gourd", "melon", "Melon", "Gourd", "root cut")
            | {"rootstock_formats": "128;72"},
            _product("Red plain", "tomato", "Red", None, "own root") | {"scion_formats": None},
            _product("Green on Stout", "pepper", "Green", "Stout", "by ages"),
        ],
        "seed_lots": [
            _lot("Red 26A", "Red"),
            _lot("Stout 26A", "Stout"),
            _lot("Green 26A", "Green"),
            _lot("Melon 26A", "Melon") | _diameters(0.4, 0.1, 0.2),
            _lot("Gourd 26A", "Gourd") | _diameters(0.6, 0.12, 0.25),
        ],
        "tray_formats": [
            {"format": "72", "cells": 72, "slots": 1.0},
            {"format": "128", "cells": 128, "slots": 1.0},
        ],
        "methods": [
            _method("tomato splice", "on-tray") | {"match_from": "number", "match": 0.9},
            _method("root cut", "root-cut") | {"match_from": "diameters", "stem_tolerance_mm": 0.3},
            _method("by ages", "on-tray") | {"match_from": "ages", "take": 0.8},
            {
                "method": "own root",
                "kind": "own-root",
                "scion_age_min": 20,
                "scion_age_max": 28,
                "holding_zone": "House",
                "holding_limit_days": 7,
            },
        ],
        "stages": [
            _stage(method, step, *rest)
            for method in ("tomato splice", "root cut", "by ages")
            for step, rest in enumerate(
                (
                    ("dark", "healing", "Chamber", 3),
                    ("ramp", "healing", "Chamber", 4),
                    ("hard", "finishing", "House", 7),
                ),
                1,
            )
        ]
        + [_stage("own root", 1, "grow", "finishing", "House", 7)],
        "apart": [
            {
                "by": "health",
                "group": "tested",
                "other_by": "health",
                "other": "untested",
                "share": "graft day",
                "cleaning_days": 1,
            }
        ],
        "stage_zones": [{"method": "by ages", "stage": "hard", "zone": "Bench", "days": 8}],
        "germination_zones": [{"lot": "Red 26A", "zone": "Bench", "days": 5, "care": 1.5}],
        "age_effects": [
            {"method": "by ages", "rootstock_age": 20, "scion_age": 18, "match": 0.8, "take": 0.9},
            {"method": "by ages", "rootstock_age": 21, "scion_age": 18, "match": 0.85},
        ],
        "labour_standards": [
            {"task": "sow", "skill": "general", "seconds": 200},
            {"task": "graft", "skill": "grafting", "method": "root cut", "seconds": 20.5},
        ],
        "own_tasks": [
            {
                "task": "pinch",
                "stage": "hard",
                "day": 3,
                "method": "tomato splice",
                "per": "plant",
                "skill": "general",
                "seconds": 2,
                "supply": "Clips",
                "quantity": 0.1,
            },
            {
                "task": "feed",
                "stage": "bench",
                "day": None,
                "lot": "Red 26A",
                "per": "tray",
                "skill": "general",
                "seconds": 5,
            },
        ],
        "supplies": [
            {
                "supply": "Clips",
                "unit": "clip",
                "stock": 500,
                "lead_days": 5,
                "return_share": 0.7,
                "return_days": 14,
                "wash_seconds": 1.5,
                "wash_skill": "general",
            }
        ],
        "supply_uses": [{"supply": "Clips", "per": "join", "method": "tomato splice", "quantity": 1}],
        "packs": [
            {"item": "Red 26A", "size": 1000, "price": 90.0},
            {"item": "Clips", "size": 500, "price": 12.5},
        ],
        "zones": [
            {"zone": "Warm room", "use": "germination", "slots": 60},
            {"zone": "Bench", "use": "bench", "slots": 200},
            {
                "zone": "Chamber",
                "use": "healing",
                "mode": "units",
                "units": 2,
                "unit_slots": 24,
                "load_days": 2,
                "cost_per_slot_day": 0.05,
            },
            {"zone": "House", "use": "finishing", "slots": 300},
        ],
        "zone_days": [{"zone": "House", "from_day": date(2027, 4, 1), "slots": 320}],
        "bays": [
            {"zone": "House", "from_day": date(2027, 3, 1), "slots_per_bay": 100, "cost_per_bay_week": 90.0}
        ],
        "crews": [
            {
                "crew": "Grafters",
                "skills": "grafting;general",
                "heads": 3,
                "hours_per_head_day": 8,
                "pay_per_hour": 21.5,
                "overtime_hours_per_head_day": 2,
            }
        ],
        "practice": [{"crew": "Grafters", "item": "Clips", "quantity": 60, "days_before": 0}],
        "pace_by_week": [{"crew": "Grafters", "week": 1, "share": 0.6}],
        "crew_days": [{"crew": "Grafters", "from_day": date(2027, 4, 5), "heads": 4}],
        "mishaps": [
            {"mishap": "dry air", "strikes": "zone", "chance": 0.01, "share_lost": 0.5, "zone": "Chamber"},
            {"mishap": "bad day", "strikes": "graft day", "chance": 0.01, "share_lost": 0.7},
            {"mishap": "old seed", "strikes": "germination", "chance": 0.02, "share_lost": 0.3},
        ],
        "shifts": [{"crew": "Grafters", "weekdays": "Fri", "hours_per_head_day": 4}],
        "skill_limits": [{"skill": "grafting", "crew": "Grafters", "hours_per_head_day": 6}],
        "piece_rates": [
            {"crew": "Grafters", "task": "graft", "method": "root cut", "pay_per_piece": 0.08},
            {"crew": "Grafters", "task": "sow", "pay_per_piece": 1.5},
        ],
        "days_off": [{"day": date(2027, 4, 2), "reason": "holiday"}],
        "buy_in_offers": [
            {
                "offer": "Neighbour",
                "product": "Red on Stout",
                "price": 1.1,
                "lead_days": 42,
                "delivery_weekdays": "Tue",
                "least_quantity": 200,
                "most_per_delivery": 2000,
            }
        ],
        "modules": [
            {"module": "Rack", "zone": "Chamber", "slots": 24, "added": 0, "first_cost": 900, "life_years": 8}
        ],
        "overheads": [{"overhead": "Rent", "amount": 900, "period": "month", "shared_by": "plants"}],
        "trays_on_hand": [
            {"lot": "Gourd 26A", "format": "72", "sow_day": date(2027, 2, 22), "trays": 3, "seedlings": 180},
        ],
        "progress": [
            {"day": date(2027, 3, 9), "what": "packs", "number": 1, "item": "Clips", "size": 500}
            | {"arrival_day": date(2027, 3, 15), "note": "by post"}
        ],
    }


def _order(order: str, product: str, quantity: int, due: date) -> Cells:
    return {
        "order": order,
        "customer": "Market farm",
        "product": product,
        "quantity": quantity,
        "due_day": due,
    }


def _product(product: str, crop: str, scion: str, rootstock: str | None, method: str) -> Cells:
    return {
        "product": product,
        "crop": crop,
        "scion": scion,
        "rootstock": rootstock,
        "method": method,
        "final_format": "72",
        "scion_formats": "128",
        "rootstock_formats": None,
    }


def _lot(lot: str, variety: str) -> Cells:
    return {
        "lot": lot,
        "variety": variety,
        "germination": 0.9,
        "grade_out": 0.05,
        "stock": 5000,
        "germination_days": 4,
        "germination_zone": "Warm room",
        "bench_zone": "Bench",
        "diameter_start_mm": None,
        "diameter_growth_mm_per_day": None,
        "diameter_spread_mm": None,
    }


def _diameters(start: float, growth: float, spread: float) -> Cells:
    return {"diameter_start_mm": start, "diameter_growth_mm_per_day": growth, "diameter_spread_mm": spread}


def _method(method: str, kind: str) -> Cells:
    return {
        "method": method,
        "kind": kind,
        "scion_age_min": 16,
        "scion_age_max": 21,
        "rootstock_age_min": 18,
        "rootstock_age_max": 24,
        "match_from": "number",
        "match": None,
        "stem_tolerance_mm": None,
        "take": 0.92,
        "consolidate": "no",
        "holding_zone": "House",
        "holding_limit_days": 7,
    }


def _stage(method: str, step: int, stage: str, part: str, zone: str, days: int) -> Cells:
    return {"method": method, "step": step, "stage": stage, "part": part, "zone": zone, "days": days}


def headings(table: str, rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """The columns that rows of a table have, in the schema's order, strange ones last."""
    schema = {t.name: list(t.by_name) for t in TABLES}.get(table, [])
    used = {name: None for row in rows for name in row}
    return [name for name in schema if name in used] + [name for name in used if name not in schema]


def grids(tables: Tables) -> dict[str, list[list[Any]]]:
    """The tables as lists of cells, the heading first."""
    made = {}
    for table, rows in tables.items():
        names = headings(table, rows)
        made[table] = [names, *([row.get(name) for name in names] for row in rows)]
    return made


def write_csvs(sheets: dict[str, list[list[Any]]], folder: Path) -> Path:
    """Writes grids as CSV files, cells as they are."""
    folder.mkdir(exist_ok=True)
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(
                [str(cell) if isinstance(cell, datetime) else "" if cell is None else cell for cell in row]
                for row in rows
            )
    return folder


def write_xlsx(sheets: dict[str, list[list[Any]]], path: Path) -> Path:
    """Writes grids as sheets of a workbook, cells as openpyxl takes them."""
    workbook(sheets).save(path)
    return path


def workbook(sheets: dict[str, list[list[Any]]]) -> Workbook:
    """The grids as a workbook not yet saved."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return book
