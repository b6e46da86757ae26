"""Small scenarios for problems from outside: records with nothing in them but what the problem states.

Zero growing days, one cell a tray, stand and take 1, no margins, every weekday worked, no cost but those
given. A scenario is written as tables and read back before it is planned: the same road as a nursery's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pandas as pd

from model.planned.plan_tables import Plan
from model.scenario.calendar import WEEKDAYS
from model.scenario.choices import MarginPolicy, MatchFrom, MethodKind, PayBasis, Task, ZoneMode, ZoneUse
from model.scenario.entities import Nursery, Order, Product, Scenario, SeedLot, TrayFormat, Zone
from model.scenario.records.methods import Method
from model.scenario.records.people import Crew, LabourStandard
from model.scenario.records.trade import Pack
from model.solve import plan
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder

FIRST = date(2027, 3, 1)
"""A Monday."""

PENALTY = 10_000.0
PLENTY = 10_000_000


def day(number: int) -> date:
    """Date of a day number."""
    return FIRST + timedelta(days=number)


def nursery(days: int, **changes: Any) -> Nursery:
    """A horizon of so many days, all worked, without margins."""
    plain = Nursery(
        name="Known answer",
        currency="USD",
        first_day=FIRST,
        last_day=day(days - 1),
        working_weekdays=WEEKDAYS,
        margin_policy=MarginPolicy.FIXED,
        service_level=0.95,
        graft_margin=0.0,
        sowing_margin=0.0,
        shortfall_penalty=PENALTY,
        wave_cost=0.0,
        overhead=0.0,
        interest_rate=0.0,
    )
    return replace(plain, **changes)


def order(name: str, quantity: int, due: int, product: str = "plant", **changes: Any) -> Order:
    """An order due on a day number."""
    return replace(Order(name, "customer", product, quantity, day(due)), **changes)


def lot(variety: str = "variety", **changes: Any) -> SeedLot:
    """Seed of which every one gives a usable seedling on the day it is sown."""
    plain = SeedLot(
        lot=f"{variety} lot",
        variety=variety,
        crop=None,
        germination=1.0,
        grade_out=0.0,
        seeds_per_cell=1,
        stock=PLENTY,
        lead_days=0,
        germination_days=0,
        germination_zone="bench",
        bench_zone="bench",
        germination_correlation=0.0,
        sowing_correlation=0.0,
    )
    return replace(plain, **changes)


def own_root_method(**changes: Any) -> Method:
    """Own-root plants that are ready on the day they are sown."""
    plain = Method(
        method="own-root",
        kind=MethodKind.OWN_ROOT,
        scion_age_min=0,
        scion_age_max=0,
        rootstock_age_min=None,
        rootstock_age_max=None,
        match_from=MatchFrom.NUMBER,
        match=None,
        stem_tolerance_mm=None,
        take=None,
        consolidate=False,
        finish_survival=1.0,
        holding_zone="hold",
        holding_limit_days=30,
    )
    return replace(plain, **changes)


def grafted_method(**changes: Any) -> Method:
    """Plants grafted on the rootstock's tray and ready on the day they are sown."""
    plain = own_root_method(
        method="splice",
        kind=MethodKind.ON_TRAY,
        rootstock_age_min=0,
        rootstock_age_max=0,
        match=1.0,
        take=1.0,
        take_correlation=0.0,
    )
    return replace(plain, **changes)


def pool(name: str, use: ZoneUse, slots: float = PLENTY, cost: float = 0.0) -> Zone:
    """A pool of slots."""
    return Zone(name, use, ZoneMode.POOL, slots, None, None, None, cost)


def crew(**changes: Any) -> Crew:
    """One hand for 8 hours a day, without overtime, paid for hours used."""
    plain = Crew(
        crew="hands",
        skills=("sowing",),
        heads=1.0,
        hours_per_head_day=8.0,
        pay_per_hour=0.0,
        pay_basis=PayBasis.USED,
        pace=1.0,
        overtime_hours_per_head_day=0.0,
        overtime_pay_per_hour=None,
        day_off_hours_per_head=0.0,
        week_hours_per_head=None,
        temp_heads_most=0,
        temp_pay_per_hour=0.0,
        temp_pace=1.0,
        temp_training_days=0,
        temp_training_cost=0.0,
    )
    return replace(plain, **changes)


HOUR_A_TRAY = LabourStandard(Task.SOW, "sowing", None, None, 3600.0)
"""Sowing a tray takes an hour: units of work are trays."""


def own_root(days: int, orders: Sequence[Order], **tables: Any) -> Scenario:
    """Own-root plants in trays of one cell, from sowing to delivery on one day unless held."""
    plain = Scenario(
        nursery=nursery(days),
        orders=tuple(orders),
        products=(Product("plant", "tomato", "variety", None, "own-root", "single"),),
        seed_lots=(lot(),),
        tray_formats=(TrayFormat("single", 1, 1.0),),
        methods=(own_root_method(),),
        stages=(),
        zones=(pool("bench", ZoneUse.BENCH), pool("hold", ZoneUse.HOLDING)),
    )
    return replace(plain, **tables)


def seed_price(price: float, item: str = "variety lot") -> Pack:
    """Seed bought one by one."""
    return Pack(item, 1.0, price)


def through_tables(scenario: Scenario, folder: Path) -> Scenario:
    """The scenario as read from its tables; they must say the same."""
    path = folder / f"scenario {len(list(folder.iterdir()))}"
    write_folder(scenario, path)
    read = read_scenario(path)
    assert read == scenario
    return read


def planned(scenario: Scenario, folder: Path, *, whole: bool = False) -> Plan:
    """The plan of a scenario that went through its tables."""
    return plan(through_tables(scenario, folder), whole=whole)


def prices(result: Plan, limit: str) -> pd.DataFrame:
    """Shadow prices of a kind of limit."""
    table = result.shadow_prices
    return table[table["limit"] == limit].reset_index(drop=True)


def only_price(result: Plan, limit: str) -> Any:
    """The one shadow price of a kind of limit."""
    (row,) = prices(result, limit).itertuples(index=False)
    return row


def sown(result: Plan, days: int) -> list[float]:
    """Trays sown on each day of the horizon."""
    by_day = result.waves.groupby("sow_day")["trays"].sum()
    return [float(by_day.get(day(t), 0.0)) for t in range(days)]
