"""The parts that small scenarios are made of: an order, a lot, a method, stages, zones and a crew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from model.scenario.choices import (
    GroupBy,
    Health,
    MatchFrom,
    MethodKind,
    Part,
    PayBasis,
    Shared,
    Task,
    ZoneMode,
    ZoneUse,
)
from model.scenario.entities import Order, Product, SeedLot, Zone
from model.scenario.records.kept_apart import Apart
from model.scenario.records.methods import Method, Stage
from model.scenario.records.people import Crew, LabourStandard
from model.scenario.records.rooms import Bays

FIRST = date(2027, 3, 1)
"""A Monday."""
WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def day(t: int) -> date:
    """The date of day number t."""
    return FIRST + timedelta(days=t)


def order(name: str, product: str, quantity: int, due: int, **changes: Any) -> Order:
    """An order due on a day number."""
    return replace(Order(name, "Market farm", product, quantity, day(due)), **changes)


def lot(name: str, variety: str, **changes: Any) -> SeedLot:
    """A seed lot with plenty in stock, whose sowings are alike."""
    made = SeedLot(name, variety, "tomato", 0.9, 0.1, 1, 100_000, 0, 2, "Warm room", "Bench")
    return replace(made, **{"germination_correlation": 0.0, "sowing_correlation": 0.0, **changes})


def method(name: str, kind: MethodKind, **changes: Any) -> Method:
    """A method with short windows."""
    if kind is MethodKind.OWN_ROOT:
        made = Method(
            name, kind, 4, 6, None, None, MatchFrom.NUMBER, None, None, None, False, 0.95, "House", 3
        )
    else:
        made = Method(name, kind, 3, 4, 4, 5, MatchFrom.NUMBER, 0.9, None, 0.8, False, 0.95, "House", 3)
    return replace(made, **{"take_correlation": 0.0, **changes})


def one_day_splice() -> Method:
    """A method by which plants can be grafted on one day alone: one age, no holding. No join fails."""
    sure = {"match": 1.0, "take": 1.0, "finish_survival": 1.0}
    one_age = {"rootstock_age_max": 4, "scion_age_max": 3, "holding_limit_days": 0}
    return method("splice", MethodKind.ON_TRAY, **one_age, **sure)


def healing(name: str, dark: int = 2, ramp: int = 1, hard: int = 2) -> tuple[Stage, ...]:
    """Stages of a grafted method."""
    return (
        Stage(name, 1, "dark", Part.HEALING, "Chamber", dark),
        Stage(name, 2, "ramp", Part.HEALING, "Chamber", ramp),
        Stage(name, 3, "hard", Part.FINISHING, "House", hard),
    )


def pool(name: str, use: ZoneUse, slots: float, cost: float = 0.0) -> Zone:
    """A zone of slots."""
    return Zone(name, use, ZoneMode.POOL, slots, None, None, None, cost)


def units(name: str, number: int, slots: float, load_days: int, cost: float = 0.0) -> Zone:
    """A healing zone of units run all-in all-out."""
    return Zone(name, ZoneUse.HEALING, ZoneMode.UNITS, None, number, slots, load_days, cost)


def crew(name: str, *skills: str, **changes: Any) -> Crew:
    """A crew of two, paid as used, with no more to give."""
    made = Crew(name, skills, 2.0, 8.0, 20.0, PayBasis.USED, 1.0, 0.0, None, 8.0, None, 0, 0.0, 1.0, 0, 0.0)
    return replace(made, **changes)


BAYS = (
    Bays("Bench", day(0), 5.0, 20.0),
    Bays("Bench", day(8), 4.0, None),
    Bays("House", day(-3), 3.0, 30.0),
    Bays("House", day(9), None, 12.0),
    Bays("House", day(14), None, 0.0),
)
"""Bays of two zones, whose size or cost changes in the second week."""

TWO_LOTS: dict[str, Any] = {
    "seed_lots": (
        lot("Red A", "Red", stock=90, health=Health.TESTED),
        lot("Red B", "Red", stock=90, health=Health.UNTESTED),
        lot("Stout A", "Stout", stock=0),
    ),
    "apart": (
        Apart(GroupBy.LOT, "Red A", GroupBy.HEALTH, "untested", Shared.ZONE, "Chamber", 1),
        Apart(GroupBy.CUSTOMER, "Market farm", GroupBy.CUSTOMER, "Shop", Shared.GRAFT_DAY),
    ),
}
"""Two lots of a scion that may not share the chamber, and two customers that may not share a graft day."""

IN_UNITS: dict[str, Any] = {"share": Shared.UNIT, "zone": None, "cleaning_days": 0}
"""Changes of a rule of what is kept apart, so that it is about units."""

TWO_WAYS: dict[str, Any] = {
    "products": (
        Product("Red on Stout", "tomato", "Red", "Stout", "splice", "ten", ("twenty",)),
        Product(
            "Red on Stout, cut",
            "tomato",
            "Red",
            "Stout",
            "cut",
            "ten",
            ("twenty",),
            ("twenty",),
            sold_as="Red on Stout",
        ),
    ),
    "methods": (
        method("splice", MethodKind.ON_TRAY),
        method("cut", MethodKind.ROOT_CUT, take=0.7, rootstock_age_max=8, holding_limit_days=1),
    ),
    "stages": (
        *healing("splice"),
        *(replace(row, zone="Tunnel") if row.zone == "Chamber" else row for row in healing("cut")),
    ),
}
"""A product made on-tray or root-cut."""

WORK = (
    LabourStandard(Task.SOW, "general", None, None, 600.0),
    LabourStandard(Task.MOVE, "general", None, None, 120.0),
    LabourStandard(Task.TEND, "general", None, None, 30.0),
    LabourStandard(Task.CARE, "general", None, None, 90.0),
    LabourStandard(Task.GRAFT, "grafting", None, None, 180.0),
    LabourStandard(Task.GRAFT, "grafting", None, "ten", 200.0),
    LabourStandard(Task.STICK, "general", None, None, 60.0),
    LabourStandard(Task.CONSOLIDATE, "general", None, None, 300.0),
    LabourStandard(Task.GRADE, "general", None, None, 20.0),
    LabourStandard(Task.PACK, "general", None, None, 15.0),
)
"""A labour standard of every task, and one of a format."""


def in_roles(standards: Sequence[LabourStandard], *tasks: Task) -> tuple[LabourStandard, ...]:
    """Labour standards of which those of some tasks are done by a cutter and two joiners side by side."""
    found: list[LabourStandard] = []
    for row in standards:
        if row.task in tasks:
            cutter = replace(row, role="cutter", seconds=row.seconds / 3)
            found += [cutter, replace(row, role="joiner", skill="general", seconds=row.seconds * 2 / 3)]
        else:
            found.append(row)
    return tuple(found)


ROOT_CUT: dict[str, Any] = {
    "products": (Product("Red on Stout", "tomato", "Red", "Stout", "cut", "ten", ("twenty",), ("twenty",)),),
    "methods": (method("cut", MethodKind.ROOT_CUT),),
    "stages": healing("cut"),
}
"""The product made root-cut."""
