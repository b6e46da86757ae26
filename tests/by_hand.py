"""Small plans worked out by hand, to the last figure, with their scenarios."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd

from model.planned.plan_tables import PLAN_TABLES, Facts, Plan, frame
from model.scenario.choices import MethodKind, Part, Task, ZoneUse
from model.scenario.entities import Order, Product, Scenario, SeedLot, TrayFormat
from model.scenario.records.methods import Stage
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import Pack
from tests.scenario_parts import crew, day, healing, method, pool, units
from tests.strategies import base_scenario

LAST = 20
Rows = list[tuple[Any, ...]]


def lot(name: str, variety: str, stock: int, lead: int) -> SeedLot:
    """A lot of which every seed gives a usable seedling."""
    made = SeedLot(name, variety, "tomato", 1.0, 0.0, 1, stock, lead, 2, "Warm room", "Bench")
    return replace(made, germination_correlation=0.0, sowing_correlation=0.0)


UNSAID = {"in_zones": None, "not_for": None, "extra": 0, "back": 0.0} | dict.fromkeys(
    ("training", "called", "temporary_overtime", "overtime_hours"), 0.0
)
"""No zones to choose, units for all, no plants unbilled, nothing that comes back, no hours with new hands;
temporary hands are not called by the day, and work no overtime."""


def made(objective: float, **tables: Rows) -> Plan:
    """A plan with these rows; a bound a little lower than its cost."""
    bound = objective - 0.5
    told = Facts(
        "optimal", True, objective, bound, 0.5 / bound, bound - 1, bound - 1, 9, 9, 9, {}, {}, "by hand"
    )
    return Plan(told, **{name: by_place(name, tables.get(name, [])) for name in PLAN_TABLES})


def by_place(name: str, rows: Rows) -> pd.DataFrame:
    """A plan table from rows with their values in the order of its columns, ``UNSAID`` left out."""
    columns = [column for column in PLAN_TABLES[name].names if column not in UNSAID]
    unsaid = {column: UNSAID[column] for column in PLAN_TABLES[name].names if column in UNSAID}
    return frame(name, [dict(zip(columns, row, strict=True)) | unsaid for row in rows])


def slots(there: dict[str, tuple[float, float]], used: dict[tuple[str, int], float]) -> Rows:
    """Rows of slots for all days: slots there are and cost of each by zone, slots used by zone and day."""
    rows: Rows = []
    for zone, (available, cost) in there.items():
        for t in range(LAST + 1):
            taken = used.get((zone, t), 0.0)
            rows.append((zone, day(t), taken, available, cost, taken * cost))
    return rows


def crew_days(name: str, regular: dict[int, float]) -> Rows:
    """Rows of a crew of two of 8 hours at 20 an hour, without overtime, that works on all days."""
    hours = {t: regular.get(t, 0.0) for t in range(LAST + 1)}
    return [(name, day(t), h, 0.0, 16.0, 0.0, 0.0, 0.0, h * 20.0) for t, h in hours.items()]


JOB_COLUMNS = PLAN_TABLES["jobs"].names


def work(*jobs: dict[str, Any]) -> dict[str, Rows]:
    """Rows of jobs, and of the crews that do them: one crew a job, or none, with hours by the clock."""
    rows: Rows = []
    crews: Rows = []
    for n, job in enumerate(jobs, 1):
        told = {"job": f"J{n}", "series": "[]", "hours": 0.0} | job
        rows.append(tuple(told.get(column) for column in JOB_COLUMNS))
        crews.append((f"J{n}", job.get("crew"), 0.0, 1.0, job.get("clock", 0.0), job.get("temporary", 0.0)))
    return {"jobs": rows, "job_crews": crews}


def job(t: int, step: str, name: str, start: str | None = None, to: str | None = None, **more: Any) -> Any:
    """A job of day t."""
    return {"day": day(t), "step": step, "name": name, "from_zone": start, "to_zone": to} | more


def standing(step: str, zone: str, trays: dict[int, float]) -> list[Any]:
    """Care or tending of so many trays on each day."""
    return [job(t, step, zone, zone, trays=number) for t, number in trays.items()]


def own_root() -> tuple[Scenario, Plan]:
    """20 plants of 25 seedlings (survival .8), 3 trays of ten sown, 2.5 moved on, held for two days."""
    scenario = base_scenario(
        orders=(Order("O-1", "Market farm", "Red plain", 20, day(12)),),
        products=(Product("Red plain", "tomato", "Red", None, "plain", "ten"),),
        seed_lots=(lot("Red A", "Red", 10, 1),),
        methods=(method("plain", MethodKind.OWN_ROOT, finish_survival=0.8),),
        stages=(Stage("plain", 1, "grow", Part.FINISHING, "House", 4),),
        zones=(
            pool("Warm room", ZoneUse.GERMINATION, 3.0),
            pool("Bench", ZoneUse.BENCH, 3.0),
            pool("House", ZoneUse.FINISHING, 2.5, 0.1),
        ),
        packs=(Pack("Red A", 10.0, 2.0),),
        crews=(crew("Growers", "general", pace=0.5),),
        labour_standards=(LabourStandard(Task.SOW, "general", None, None, 600.0),),
    )
    used = {("Warm room", t): 3.0 for t in (2, 3)} | {("Bench", t): 3.0 for t in (4, 5)}
    used |= {("House", t): 2.5 for t in (6, 7, 8, 9)} | {("House", t): 2.0 for t in (10, 11)}
    return scenario, made(
        25.4,
        waves=[("W1", "Red A", "Red", "ten", day(2), day(4), 3.0, 30.0, 10.0, 25.0, day(6))],
        bench_trays=[("W1", day(4), day(6), 3.0)],
        joins=[("Red plain", day(6), None, "W1", None, 4, 25.0, 1.0, 1.0, 25.0)],
        flows=[("Red plain", day(6), "plain", 25.0, 2.5, 25.0, 2.5, 20.0, day(10), 20.0, 0.0, 0.0)],
        deliveries=[
            ("O-1", "Red plain", "own", day(6), None, day(10), day(12), day(12), 0, 20.0, 0.0),
        ],
        trace=[("O-1", "Red plain", day(6), None, "W1", day(12), 20.0)],
        orders=[
            (
                "O-1",
                "Market farm",
                "Red plain",
                day(12),
                20,
                20.0,
                0.0,
                0.0,
                0.0,
                0.0,
                0.0,
                None,
                0.0,
                50.0,
                None,
            )
        ],
        slots=slots({"Warm room": (3.0, 0.0), "Bench": (3.0, 0.0), "House": (2.5, 0.1)}, used),
        hours=[("Growers", "own", day(2), "general", "sow", 1.0)],
        crew_days=crew_days("Growers", {2: 1.0}),
        purchases=[("Red A", "seed", 10.0, 2.0, 2.0, 4.0, day(2), day(1), 0.0)],
        items=[("Red A", "seed", "seed", 10, 20.0, 30.0, 0.0, 1)],
        item_uses=[("Red A", day(2), 30.0)],
        costs=[("seed", "Red A", 4.0), ("labour", "Growers", 20.0), ("slots", "House", 1.4)],
        **work(
            job(1, "order", "Red A", count=20.0, unit="seed"),
            job(
                2,
                "sow",
                "Red A",
                None,
                "Warm room",
                format="ten",
                trays=3.0,
                seeds=30.0,
                skill="general",
                hours=0.5,
                crew="Growers",
                clock=1.0,
            ),
            *standing("tend", "Warm room", {2: 3.0, 3: 3.0}),
            job(4, "move to bench", "Red A", "Warm room", "Bench", format="ten", trays=3.0),
            *standing("tend", "Bench", {4: 3.0, 5: 3.0}),
            job(6, "move on", "Red plain", "Bench", "House", format="ten", trays=2.5),
            *standing("tend", "House", {6: 2.5, 7: 2.5, 8: 2.5, 9: 2.5, 10: 2.0, 11: 2.0}),
            job(10, "grade", "Red plain", "House", format="ten", count=20.0, unit="plants"),
            job(12, "pack", "O-1", format="ten", count=20.0, unit="plants"),
            job(12, "deliver", "O-1", count=20.0, unit="plants"),
        ),
    )


def grafted(kind: MethodKind) -> tuple[Scenario, Plan]:
    """36 plants of 40 joins (take .9) of 50 seedlings a side (match .8), healed in one of two units.

    On-tray, the 50 rootstocks stay in their 5 trays of ten; root-cut, the 40 joins are stuck into 4.
    """
    on_tray = kind is MethodKind.ON_TRAY
    root, trays, loaded = ("ten", 5.0, 5.0) if on_tray else ("twenty", 3.0, 4.0)
    raised = () if on_tray else ("twenty",)
    scenario = base_scenario(
        orders=(Order("O-1", "Market farm", "Pair", 36, day(13)),),
        products=(Product("Pair", "tomato", "Red", "Stout", "graft", "ten", ("twenty",), raised),),
        seed_lots=(lot("Red A", "Red", 100, 0), lot("Stout A", "Stout", 100, 0)),
        tray_formats=(TrayFormat("ten", 10, 1.0), TrayFormat("twenty", 20, 1.0)),
        methods=(method("graft", kind, match=0.8, take=0.9, finish_survival=1.0),),
        stages=healing("graft"),
        zones=(
            pool("Warm room", ZoneUse.GERMINATION, 9.0),
            pool("Bench", ZoneUse.BENCH, 9.0),
            units("Chamber", 2, 8.0, 2, 0.5),
            pool("House", ZoneUse.FINISHING, 9.0),
        ),
        packs=(),
        crews=(crew("Grafters", "grafting"),),
        labour_standards=(LabourStandard(Task.GRAFT, "grafting", None, None, 90.0),),
    )
    cells = 10.0 if on_tray else 20.0
    used = {("Chamber", t): 8.0 for t in (8, 9, 10)} | {("House", t): loaded for t in (11, 12)}
    used |= {("Warm room", 4): trays, ("Warm room", 5): trays + 3.0, ("Warm room", 6): 3.0}
    used |= {("Bench", 6): trays, ("Bench", 7): trays + 3.0}
    there = {"Warm room": (9.0, 0.0), "Bench": (9.0, 0.0), "Chamber": (16.0, 0.5), "House": (9.0, 0.0)}
    return scenario, made(
        32.0,
        waves=[
            ("W1", "Stout A", "Stout", root, day(4), day(6), trays, trays * cells, cells, 50.0, day(8)),
            ("W2", "Red A", "Red", "twenty", day(5), day(7), 3.0, 60.0, 20.0, 50.0, day(8)),
        ],
        bench_trays=[("W1", day(6), day(8), trays), ("W2", day(7), day(8), 3.0)],
        joins=[("Pair", day(8), "W1", "W2", 4, 3, 40.0, 0.8, 0.9, 50.0)],
        flows=[("Pair", day(8), "graft", 40.0, loaded, 36.0, loaded, 36.0, day(13), 36.0, 0.0, 0.0)],
        deliveries=[("O-1", "Pair", "own", day(8), None, day(13), day(13), day(13), 0, 36.0, 0.0)],
        trace=[("O-1", "Pair", day(8), "W1", "W2", day(13), 36.0)],
        orders=[
            ("O-1", "Market farm", "Pair", day(13), 36, 36.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, 0.0, 50.0, None)
        ],
        slots=slots(there, used),
        unit_batches=[("Chamber", day(8), day(11), 1.0, loaded)],
        unit_loads=[("Chamber", day(8), day(11), "Pair", day(8), day(8), loaded)],
        hours=[("Grafters", "own", day(8), "grafting", "graft", 1.0)],
        crew_days=crew_days("Grafters", {8: 1.0}),
        items=[
            ("Red A", "seed", "seed", 100, 0.0, 60.0, 40.0, 0),
            ("Stout A", "seed", "seed", 100, 0.0, trays * cells, 100 - trays * cells, 0),
        ],
        item_uses=[("Stout A", day(4), trays * cells), ("Red A", day(5), 60.0)],
        costs=[("labour", "Grafters", 20.0), ("slots", "Chamber", 12.0)],
        **work(
            job(4, "sow", "Stout A", None, "Warm room", format=root, trays=trays, seeds=trays * cells),
            job(5, "sow", "Red A", None, "Warm room", format="twenty", trays=3.0, seeds=60.0),
            *standing("tend", "Warm room", {4: trays, 5: trays + 3.0, 6: 3.0}),
            job(6, "move to bench", "Stout A", "Warm room", "Bench", format=root, trays=trays),
            job(7, "move to bench", "Red A", "Warm room", "Bench", format="twenty", trays=3.0),
            *standing("tend", "Bench", {6: trays, 7: trays + 3.0}),
            job(
                8,
                "graft",
                "Pair",
                "Bench",
                format="ten",
                detail=f"Stout A sown {day(4)} with Red A sown {day(5)}",
                trays=5.0 if on_tray else None,
                count=40.0,
                skill="grafting",
                hours=1.0,
                crew="Grafters",
                clock=1.0,
            ),
            *([] if on_tray else [job(8, "stick", "Pair", format="ten", trays=4.0, count=40.0)]),
            job(8, "move to healing", "Pair", None, "Chamber", format="ten", trays=loaded),
            *standing("care", "Chamber", {8: loaded, 9: loaded, 10: loaded}),
            job(11, "move on", "Pair", "Chamber", "House", format="ten", trays=loaded),
            *standing("tend", "House", {11: loaded, 12: loaded}),
            job(13, "grade", "Pair", "House", format="ten", count=36.0, unit="plants"),
            job(13, "pack", "O-1", format="ten", count=36.0, unit="plants"),
            job(13, "deliver", "O-1", count=36.0, unit="plants"),
        ),
    )


BY_HAND: dict[str, tuple[Scenario, Plan]] = {
    "own-root": own_root(),
    "on-tray in units": grafted(MethodKind.ON_TRAY),
    "root-cut in units": grafted(MethodKind.ROOT_CUT),
}
"""A scenario and its plan, by name."""
