"""Zones to choose from, worked by hand, and against every assignment of zones that a grower could make."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import assume, given, settings

from model.planned.jobs import jobs_of
from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.questions.ungrafted import ungrafted
from model.scenario.choices import MethodKind, ZoneMode, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.rooms import StageZone
from model.season.as_planned import as_planned
from model.season.last_plan import decisions
from model.solve import plan, solve
from tests.depth import deep
from tests.independent import least_cost
from tests.independent_rooms import zones_chosen
from tests.least import least
from tests.scenario_parts import method, pool
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_nursery

SEEDS = 100 / (0.8 * 0.95) / 0.9 / 0.81 * 0.75
"""Seed of 100 plants, in trays and seeds in parts: tests/properties/test_same_optimum.py."""

TRAYS = 100 / (0.8 * 0.95) / 0.9 / 8.1
"""Trays loaded: 146.2 seedlings of 8.1 a tray."""

SEED = SEEDS / TRAYS
"""Seed for a tray loaded."""


def two_rooms(**further: float | int | None) -> Scenario:
    """100 plants of one graft day; the chamber costs .5 a slot and day, the tunnel .2 for 5 slots."""
    cells = {"days": None, "take": None, "care": 1.0, "cost_per_tray": 0.0} | further
    splice = method(
        "splice",
        MethodKind.ON_TRAY,
        scion_age_max=3,
        rootstock_age_max=4,
        holding_limit_days=0,
    )
    base = base_scenario(methods=(splice,))
    zones = (*base.zones[:2], pool("Chamber", ZoneUse.HEALING, 1000.0, 0.5), base.zones[3])
    return replace(
        base,
        zones=(*zones, pool("Tunnel", ZoneUse.HEALING, 5.0, 0.2)),
        stage_zones=(
            StageZone("splice", "dark", "Tunnel", **cells),  # type: ignore[arg-type]
            StageZone("splice", "ramp", "Tunnel"),
        ),
    )


@pytest.mark.parametrize(
    ("further", "cost"),
    [
        # 3 days of .5 in the chamber, of .2 in the tunnel, where 5 trays stand
        ({}, SEEDS + (TRAYS - 5) * 1.5 + 5 * 0.6),
        # a tray costs .5 more in the tunnel, then 1.0 more: no longer worth it
        ({"cost_per_tray": 0.5}, SEEDS + (TRAYS - 5) * 1.5 + 5 * 1.1),
        ({"cost_per_tray": 1.0}, SEEDS + TRAYS * 1.5),
        # half as many heal there as in the chamber: seed for twice as many joins costs more than the room
        ({"take": 0.4}, SEEDS + TRAYS * 1.5),
        # nine tenths heal: a tray there costs seed and .6, and saves .9 of a tray in the chamber
        ({"take": 0.72}, TRAYS * (SEED + 1.5) - 5 * (0.9 * (SEED + 1.5) - (SEED + 0.6))),
    ],
)
def test_trays_go_where_they_cost_least(further: dict[str, float], cost: float) -> None:
    of = two_rooms(**further)
    made = plan(of, whole=False)
    assert made.facts.objective == pytest.approx(cost)
    assert least_cost(of, whole=False) == pytest.approx(cost)


def store(**further: float) -> Scenario:
    """100 plants due on a Sunday: ready on Wednesday, they wait in the yard or in 4 slots of the store."""
    base = two_rooms()
    splice = replace(base.methods[0], holding_zone="Yard", holding_limit_days=4)
    yard, shelves = pool("Yard", ZoneUse.HOLDING, 1000.0, 0.5), pool("Store", ZoneUse.HOLDING, 4.0, 0.2)
    of = replace(
        base,
        orders=tuple(replace(row, due_day=base.nursery.last_day) for row in base.orders),
        methods=(splice,),
        zones=(*(replace(zone, cost_per_slot_day=0.0) for zone in base.zones), yard, shelves),
        stage_zones=(StageZone("splice", "holding", "Store", **further),),  # type: ignore[arg-type]
    )
    return with_nursery(of, working_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"))


@pytest.mark.parametrize(
    ("further", "cost"),
    [
        # 10 trays wait for 4 days: 4 of them at .2 a day, 6 at .5
        ({}, SEEDS + 6 * 2.0 + 4 * 0.8),
        # a tray in the store costs .4 more, then 1.3 more: no longer worth it
        ({"cost_per_tray": 0.4}, SEEDS + 6 * 2.0 + 4 * 1.2),
        ({"cost_per_tray": 1.3}, SEEDS + 10 * 2.0),
    ],
)
def test_trays_wait_where_they_cost_least(further: dict[str, float], cost: float) -> None:
    of = store(**further)
    made = plan(of, whole=False)
    assert made.facts.objective == pytest.approx(cost)
    assert least_cost(of, whole=False) == pytest.approx(cost)
    moved = {job.to_zone for job in jobs_of(made).values() if job.step == "move to holding"}
    assert moved == ({"Yard"} if cost == SEEDS + 20 else {"Yard", "Store"})


def test_plants_ungrafted_wait_in_the_same_zones() -> None:
    assert {row.method for row in ungrafted(store()).stage_zones} == {"splice", "splice ungrafted"}


def test_a_longer_way_is_grafted_sooner() -> None:
    """Plants are due on day 16: 5 days from the chamber, 6 where the tunnel takes a day more."""
    made = plan(two_rooms(days=3), whole=False)
    days = dict(rows_of(made.flows, "in_zones", "graft_day"))
    assert days["Chamber"] - days["Tunnel"] == timedelta(days=1)
    assert set(made.flows["ready_day"]) == {date(2027, 3, 17)}


def occupied(of: Scenario, made: Plan) -> dict[tuple[str, date], float]:
    """Slots in use in healing, by zone and day, counted from the printed jobs alone: moved in, moved out."""
    slots = {tray.format: tray.slots for tray in of.tray_formats}
    healing = {zone.zone for zone in of.zones if zone.use is ZoneUse.HEALING}
    change: dict[tuple[str, date], float] = defaultdict(float)
    columns = ("step", "day", "from_zone", "to_zone", "format", "trays")
    for step, day, source, target, format_, trays in rows_of(made.jobs, *columns):
        if step in ("move to healing", "move on"):
            if target in healing:
                change[target, day] += trays * slots[format_]
            if source in healing:
                change[source, day] -= trays * slots[format_]
    there: dict[tuple[str, date], float] = {}
    for zone in healing:
        now = 0.0
        for n in range((of.nursery.last_day - of.nursery.first_day).days + 1):
            day = of.nursery.first_day + timedelta(days=n)
            now += change[zone, day]
            there[zone, day] = now
    return there


def test_occupancy_by_zone_is_that_of_the_jobs() -> None:
    of = two_rooms()
    made = plan(of)
    there = occupied(of, made)
    used = {(zone, day): n for zone, day, n in rows_of(made.slots, "zone", "day", "used")}
    assert max(n for (zone, _), n in there.items() if zone == "Tunnel") == pytest.approx(5)
    for at, number in there.items():
        assert used[at] == pytest.approx(number), at


def assigned(of: Scenario) -> list[Scenario]:
    """Every scenario in which each method passes its stages in zones fixed by hand."""
    ways = {row.method: zones_chosen(of, row.method) for row in of.methods}
    found = []
    for chosen in product(*ways.values()):
        methods = tuple(one.method for one in chosen)
        stages = tuple(stage for one in chosen for stage in one.stages)
        found.append(replace(of, methods=methods, stages=stages, stage_zones=()))
    return found


@given(small_scenarios(products_most=2, orders_most=3))
@settings(max_examples=deep(60))
def test_never_dearer_than_zones_assigned_by_hand(of: Scenario) -> None:
    """Where zones have no care and cost of their own, the plan is at least as good as any assignment."""
    assume(of.stage_zones)
    plain = tuple(replace(row, care=1.0, cost_per_tray=0.0, take=None) for row in of.stage_zones)
    of = replace(of, stage_zones=plain)
    if any(row.stage == "holding" for row in plain):  # plants bought in wait in one place, chosen or not
        of = replace(of, buy_in_offers=())
    chosen = solve(of, whole=False)
    for one in assigned(of):
        cost = solve(one, whole=False).continuous.objective
        assert chosen.continuous.objective <= cost + 1e-7 * abs(cost) + 1e-6


@pytest.mark.parametrize(
    "of",
    [two_rooms(), store(), SPECIMENS["places to wait in"]],
    ids=["healing", "waiting", "waiting, with hands"],
)
@pytest.mark.parametrize("whole", [False, True])
def test_two_rooms_are_better_than_each_of_them(of: Scenario, whole: bool) -> None:
    assert least(of, whole) < min(least(one, whole) for one in assigned(of)) - 1


def test_a_batch_in_a_room_stays_there() -> None:
    """Planned again two days after the graft day, the batches stand where they were put."""
    of = two_rooms()
    made = plan(of)
    graft = min(made.flows["graft_day"])
    today = graft + timedelta(days=2)
    then = replace(with_nursery(of, today=today), progress=as_planned(made, today))
    # The chamber would be free of charge now: it is too late to use it.
    cheap = tuple(
        replace(zone, cost_per_slot_day=0.0) if zone.zone == "Chamber" else zone for zone in then.zones
    )
    again = plan(replace(then, zones=cheap))
    columns = ("in_zones", "graft_day", "joins")
    assert list(rows_of(again.flows, *columns)) == [
        (zones, day, pytest.approx(joins)) for zones, day, joins in rows_of(made.flows, *columns)
    ]
    assert all(check.passed for check in audit(replace(then, zones=cheap), again))


def test_the_last_plan_is_read_back_with_its_zones() -> None:
    solved = solve(two_rooms())
    made = plan(two_rooms())
    values, known = decisions(solved.program, made.tables)
    assert known
    joins = {p: n for (name, p), n in values.items() if name == "joins"}
    assert sum(joins.values()) == pytest.approx(made.joins["joins"].sum())


def test_a_unit_and_a_pool_share_a_graft_day() -> None:
    of = two_rooms()
    tunnel = replace(of.zones[-1], mode=ZoneMode.UNITS, slots=None, units=1, unit_slots=5.0, load_days=1)
    made = plan(replace(of, zones=(*of.zones[:-1], tunnel)))
    (loaded,) = rows_of(made.unit_loads, "in_zones", "zone", "trays")
    assert loaded == ("Tunnel", "Tunnel", pytest.approx(5.0))


def test_ungrafted_plants_have_the_zones_of_finishing_alone() -> None:
    of = two_rooms()
    of = replace(of, stage_zones=(*of.stage_zones, StageZone("splice", "hard", "Bench", 1)))
    added = ungrafted(of).stage_zones[len(of.stage_zones) :]
    assert [(row.method, row.stage, row.zone, row.days) for row in added] == [
        ("splice ungrafted", "hard", "Bench", 1)
    ]
    zones = {zones for (zones,) in rows_of(plan(ungrafted(of), whole=False).flows, "in_zones")}
    assert zones <= {"House", "Bench"}


def test_plants_of_a_graft_day_are_traced_to_the_day_on_which_their_zones_let_them_be_packed() -> None:
    """Plants of the first graft day leave the tunnel in time; those it has no room for are a day late."""
    book = two_rooms(days=1)
    last = book.nursery.first_day + timedelta(days=8)
    order = replace(book.orders[0], due_day=last, price=6.0, late_days_most=1, late_discount=0.01)
    scenario = replace(book, orders=(order,))
    made = plan(scenario)
    days = set(rows_of(made.trace, "graft_day", "in_zones", "pack_day"))
    first = last - timedelta(days=4)
    assert {(first, "Tunnel", last), (first, "Chamber", last + timedelta(days=1))} <= days
    assert [check for check in audit(scenario, made) if not check.passed] == []
