"""Small plans worked out by hand whose first days are past, with their scenarios and what was told."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from model.planned.plan_tables import Plan
from model.scenario.choices import Decline, Happened, MethodKind, Part, Per, Task, ZoneUse
from model.scenario.entities import Order, Product, Scenario
from model.scenario.records.methods import Stage
from model.scenario.records.past import Progress
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import BuyInOffer, Module, Pack, Supply, SupplyUse
from tests.by_hand import LAST, UNSAID, by_place, grafted, job, made, own_root, slots, standing, work
from tests.scenario_parts import WEEK, crew, day, method, pool
from tests.strategies import base_scenario, with_nursery, with_rows


def told(t: int, what: Happened, number: float, **more: Any) -> Progress:
    """A row of progress of day t."""
    return Progress(day(t), what, number, **more)


def changed(plan: Plan, table: str, **cells: Any) -> Plan:
    """The plan with other values in the first row of a table."""
    first, *others = plan.table(table).to_dict("records")
    rows = [
        tuple(value for column, value in row.items() if column not in UNSAID)
        for row in (first | cells, *others)
    ]
    return replace(plan, **{table: by_place(table, rows)})


def healed() -> tuple[Scenario, Plan]:
    """The plan on-tray in units, a day after grafting, when both waves and the joins have been counted.

    More came up, matched and healed than the scenario expects: 10 and 20 seedlings a tray for 5 and 10, a
    match of .8 for .75, a take of .9 for .7. What heals is sure to finish, so the margin of .1 is not needed.
    """
    scenario, plan = grafted(MethodKind.ON_TRAY)
    scenario = with_rows(scenario, "methods", lambda row: replace(row, match=0.75, take=0.7))
    scenario = with_rows(scenario, "seed_lots", lambda row: replace(row, germination=0.5))
    joined = {
        "product": "Pair",
        "rootstock_lot": "Stout A",
        "rootstock_format": "ten",
        "rootstock_sow_day": day(4),
        "lot": "Red A",
        "format": "twenty",
        "sow_day": day(5),
    }
    progress = (
        told(4, Happened.SOWN, 5.0, counted=50.0, lot="Stout A", format="ten"),
        told(5, Happened.SOWN, 3.0, counted=60.0, lot="Red A", format="twenty"),
        told(8, Happened.GRAFTED, 30.0, counted=25.0, **joined),
        told(8, Happened.GRAFTED, 10.0, counted=11.0, **joined),
        told(8, Happened.WORKED, 1.0, crew="Grafters"),
    )
    scenario = with_nursery(replace(scenario, progress=progress), today=day(9), graft_margin=0.1)
    return scenario, changed(plan, "orders", margin=0.1)


def delivered() -> tuple[Scenario, Plan]:
    """The own-root plan after its order has left: nothing counted but the plants that were ready.

    20 plants of 25 seedlings were counted ready, for which the scenario's survival of .5 is too low.
    """
    scenario, plan = own_root()
    scenario = with_rows(scenario, "methods", lambda row: replace(row, finish_survival=0.5))
    progress = (
        told(1, Happened.PACKS, 2.0, item="Red A", size=10.0, arrival_day=day(2)),
        told(2, Happened.SOWN, 3.0, lot="Red A", format="ten"),
        told(2, Happened.WORKED, 1.0, crew="Growers"),
        told(6, Happened.GRAFTED, 25.0, product="Red plain", lot="Red A", format="ten", sow_day=day(2)),
        told(10, Happened.FINISHED, 20.0, product="Red plain", graft_day=day(6)),
        told(12, Happened.DELIVERED, 20.0, order="O-1", product="Red plain", graft_day=day(6)),
    )
    scenario = with_nursery(replace(scenario, progress=progress), today=day(13), graft_margin=0.1)
    plan = changed(plan, "orders", margin=0.1)
    plan = changed(plan, "purchases", needed_day=None, order_by=None, ordered=2.0)
    jobs, crews = plan.jobs, plan.job_crews
    return scenario, replace(plan, jobs=jobs.iloc[1:], job_crews=crews.iloc[1:])


def bought() -> tuple[Scenario, Plan]:
    """50 plants bought in, 30 of them ordered before today; 4 more short, 6 declined.

    Packing takes 3 hours on day 9: 2.5 of own hands, 1 of a temporary hand at half the pace. On day 12 it
    takes 2, one of them overtime. A hand for two weeks of 56 hours at 10 costs 1120, and 5 to train. A module
    of 100, worth 20 after 4 years, costs 80 × 16 / 15 + 20 a year at an interest of 1.
    """
    scenario = base_scenario(
        orders=(
            Order("O-1", "Market farm", "Red plain", 30, day(9)),
            Order("O-2", "Market farm", "Red plain", 20, day(12)),
            Order("O-3", "Market farm", "Red plain", 10, day(14), 2.0, decline=Decline.PART),
        ),
        products=(Product("Red plain", "tomato", "Red", None, "plain", "ten"),),
        methods=(method("plain", MethodKind.OWN_ROOT),),
        stages=(Stage("plain", 1, "grow", Part.FINISHING, "House", 4),),
        zones=(
            pool("Warm room", ZoneUse.GERMINATION, 9.0),
            pool("Bench", ZoneUse.BENCH, 9.0),
            pool("House", ZoneUse.FINISHING, 3.0, 0.1),
        ),
        packs=(Pack("label", 20.0, 3.0),),
        supplies=(Supply("label", "each", 60.0, 2),),
        supply_uses=(SupplyUse("label", Per.PLANT_DELIVERED, None, None, 2.0),),
        crews=(
            crew(
                "Growers",
                "general",
                overtime_hours_per_head_day=1.0,
                overtime_pay_per_hour=30.0,
                week_hours_per_head=20.0,
                temp_heads_most=2,
                temp_pay_per_hour=10.0,
                temp_pace=0.5,
                temp_training_days=1,
                temp_training_cost=5.0,
            ),
        ),
        labour_standards=(LabourStandard(Task.PACK, "general", None, None, 360.0),),
        buy_in_offers=(BuyInOffer("offer", "Red plain", 1.5, 5, WEEK, day(8), day(12), 10, 40),),
        modules=(Module("rack", "House", 1.0, 1, 100.0, 20.0, 4),),
        progress=(
            told(0, Happened.HIRED, 1.0, crew="Growers"),
            told(3, Happened.BOUGHT_IN, 30.0, order="O-1", offer="offer", arrival_day=day(8)),
        ),
    )
    scenario = with_nursery(scenario, today=day(5), interest_rate=1.0, overhead=7.0)
    there = {"Warm room": (9.0, 0.0), "Bench": (9.0, 0.0), "House": (4.0, 0.1)}
    hours: dict[int, tuple[float, float, float]] = {9: (2.5, 0.0, 1.0), 12: (1.0, 1.0, 0.0)}
    lots = [lot.lot for lot in scenario.seed_lots]
    modules = 80 * 16 / 15 + 20

    def crew_day(t: int) -> tuple[Any, ...]:
        regular, overtime, temporary = hours.get(t, (0.0, 0.0, 0.0))
        hands = 8.0 if 0 < t < 14 else 0.0
        pay = regular * 20 + overtime * 30
        return ("Growers", day(t), regular, overtime, 16.0, 2.0, temporary, hands, pay)

    def offered(order: str, arrives: int, by: int, plants: float) -> tuple[Any, ...]:
        return ("offer", "Red plain", order, day(arrives), day(by), plants, 0.0, 1.5, plants * 1.5)

    def row(order: str, due: date, plants: int, *filled: float | None) -> tuple[Any, ...]:
        return (order, "Market farm", "Red plain", due, plants, *filled)

    return scenario, made(
        1533.3 + modules,
        deliveries=[
            ("O-1", "Red plain", "buy-in", None, "offer", day(8), day(9), day(9), 0, 30.0, 0.0),
            ("O-2", "Red plain", "buy-in", None, "offer", day(12), day(12), day(12), 0, 20.0, 0.0),
        ],
        orders=[
            row("O-1", day(9), 30, 0.0, 30.0, 0.0, 0.0, 0.0, 0.0, None, 0.0, 50.0, None),
            row("O-2", day(12), 20, 0.0, 20.0, 0.0, 0.0, 0.0, 0.0, None, 0.0, 50.0, None),
            row("O-3", day(14), 10, 0.0, 0.0, 4.0, 6.0, 0.0, 0.0, 2.0, 0.0, 52.0, None),
        ],
        slots=slots(there, {("House", 8): 3.0}),
        hours=[
            ("Growers", "own", day(9), "general", "pack", 2.5),
            ("Growers", "temporary", day(9), "general", "pack", 1.0),
            ("Growers", "own", day(12), "general", "pack", 2.0),
        ],
        crew_days=[crew_day(t) for t in range(LAST + 1)],
        temporary=[("Growers", day(0), 1.0, 1.0, 56.0, 565.0), ("Growers", day(7), 1.0, 0.0, 56.0, 560.0)],
        purchases=[("label", "supply", 20.0, 2.0, 3.0, 6.0, day(12), day(10), 0.0)],
        items=[
            *((lot, "seed", "seed", 0.0, 0.0, 0.0, 0.0, 0) for lot in lots),
            ("label", "supply", "each", 60.0, 40.0, 100.0, 0.0, 2),
        ],
        item_uses=[("label", day(9), 60.0), ("label", day(12), 40.0)],
        buy_in=[offered("O-1", 8, 3, 30.0), offered("O-2", 12, 7, 20.0)],
        costs=[
            ("labour", "Growers", 70.0),
            ("overtime", "Growers", 30.0),
            ("temporary hands", "Growers", 1125.0),
            ("buy-in", "offer", 75.0),
            ("slots", "House", 0.3),
            ("shortfall", "O-3", 208.0),
            ("declined", "O-3", 12.0),
            ("supplies", "label", 6.0),
            ("modules", "rack", modules),
            ("overhead", "nursery", 7.0),
        ],
        **work(
            job(3, "order", "offer", count=30.0),
            job(7, "order", "offer", count=20.0),
            job(8, "receive", "offer", None, "House", count=30.0),
            *standing("tend", "House", {8: 3.0}),
            job(
                9,
                "pack",
                "O-1",
                format="ten",
                count=30.0,
                skill="general",
                hours=3.0,
                crew="Growers",
                clock=2.5,
                temporary=1.0,
            ),
            job(9, "deliver", "O-1", count=30.0),
            job(10, "order", "label", count=40.0),
            job(12, "receive", "offer", None, "House", count=20.0),
            job(
                12,
                "pack",
                "O-2",
                format="ten",
                count=20.0,
                skill="general",
                hours=2.0,
                crew="Growers",
                clock=2.0,
            ),
            job(12, "deliver", "O-2", count=20.0),
        ),
    )


LATER: dict[str, tuple[Scenario, Plan]] = {
    "healed": healed(),
    "delivered": delivered(),
    "bought in": bought(),
}
"""A scenario and its plan, by name."""
