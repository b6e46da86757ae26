"""Small scenarios for tests: a base one with ways to change it, and random ones.

All are valid, and so small that their integer programs are solved to the proved optimum at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from model.network.charges import with_charges
from model.scenario.choices import (
    Decline,
    GroupBy,
    Health,
    MarginPolicy,
    MethodKind,
    OverheadKind,
    OverheadRule,
    Per,
    Period,
    Shared,
    Source,
    SowingPolicy,
    Task,
    ZoneUse,
)
from model.scenario.entities import DayOff, Nursery, Order, Product, Scenario, TrayFormat
from model.scenario.records.kept_apart import Apart
from model.scenario.records.overheads import Overhead
from model.scenario.records.past import PlantsOnHand, TraysOnHand
from model.scenario.records.people import (
    CrewDay,
    LabourStandard,
    SkillLimit,
)
from model.scenario.records.trade import Customer, Pack, SupplyUse
from tests.drawn_rows import (
    Draw,
    drawn_apart,
    drawn_bays,
    drawn_charges,
    drawn_clips,
    drawn_crews,
    drawn_effects,
    drawn_germination_zones,
    drawn_lots,
    drawn_method,
    drawn_modules,
    drawn_offers,
    drawn_on_hand,
    drawn_own_tasks,
    drawn_paces,
    drawn_packs,
    drawn_piece_rates,
    drawn_plants,
    drawn_practice,
    drawn_runs,
    drawn_shifts,
    drawn_stage_zones,
    drawn_stages,
    drawn_ways,
    drawn_zone_day,
    drawn_zones,
)
from tests.scenario_parts import (
    FIRST,
    WEEK,
    WORK,
    day,
    healing,
    in_roles,
    lot,
    method,
    order,
    pool,
)

OVERHEADS = (
    Overhead("rent", 40.0, Period.MONTH, shared_by=OverheadRule.PLANTS),
    Overhead("owner's pay", 90.0, Period.WEEK, shared_by=OverheadRule.HOURS),
    Overhead("overdraft", 12.5, kind=OverheadKind.INTEREST, shared_by=OverheadRule.NONE),
    Overhead("houses", 365.0, Period.YEAR, OverheadKind.DEPRECIATION),
)
"""An overhead of each period and kind, by each rule."""


def base_scenario(**changes: Any) -> Scenario:
    """One order of one grafted on-tray product, room for all, nothing but seed costs; tables changed."""
    made = Scenario(
        nursery=Nursery(
            "Test nursery",
            "USD",
            FIRST,
            day(20),
            WEEK,
            MarginPolicy.FIXED,
            0.95,
            0.0,
            0.0,
            50.0,
            0.0,
            0.0,
            0.0,
        ),
        orders=(order("O-1", "Red on Stout", 100, 16),),
        products=(Product("Red on Stout", "tomato", "Red", "Stout", "splice", "ten", ("twenty",)),),
        seed_lots=(lot("Red A", "Red", stock=0), lot("Stout A", "Stout", stock=0)),
        tray_formats=(TrayFormat("ten", 10, 1.0), TrayFormat("twenty", 20, 1.0)),
        methods=(method("splice", MethodKind.ON_TRAY),),
        stages=healing("splice"),
        zones=(
            pool("Warm room", ZoneUse.GERMINATION, 1000.0),
            pool("Bench", ZoneUse.BENCH, 1000.0),
            pool("Chamber", ZoneUse.HEALING, 1000.0),
            pool("House", ZoneUse.FINISHING, 1000.0),
        ),
        packs=(Pack("Red A", 1.0, 0.5), Pack("Stout A", 1.0, 0.25)),
    )
    return replace(made, **changes)


def with_nursery(scenario: Scenario, **changes: Any) -> Scenario:
    """The scenario with other settings."""
    return replace(scenario, nursery=replace(scenario.nursery, **changes))


def with_firm_margins(scenario: Scenario) -> Scenario:
    """The scenario with margins and prices that do not move with quantities, and orders sent as ordered."""
    firm: dict[str, Any] = {"margin_policy": MarginPolicy.FIXED, "sowing_policy": SowingPolicy.FIXED}
    as_ordered = with_rows(
        scenario, "orders", lambda row: replace(row, extra_share=0.0, whole_trays_to_customer=False)
    )
    if scenario.plants_on_hand:
        # Of plants that have healed only the finishing is uncertain: their margin moves with the order.
        firm["graft_margin"] = 0.0
        as_ordered = with_rows(as_ordered, "orders", lambda row: replace(row, graft_margin=None))
    return with_nursery(with_charges(as_ordered), **firm)


def with_rows(scenario: Scenario, table: str, change: Callable[[Any], Any]) -> Scenario:
    """The scenario with each row of a table changed."""
    return replace(scenario, **{table: tuple(change(row) for row in getattr(scenario, table))})


@st.composite
def small_scenarios(draw: Draw, products_most: int = 3, orders_most: int = 4, window: int = 1) -> Scenario:
    """Valid scenarios of all kinds; ``window``: most days by which windows are wider than one day."""
    yes = st.booleans()
    kinds = draw(st.lists(st.sampled_from(list(MethodKind)), min_size=1, max_size=products_most))
    methods, stages, products = [], [], []
    for n, kind in enumerate(kinds):
        methods.append(drawn_method(draw, f"method {n}", kind, window))
        stages += drawn_stages(draw, f"method {n}", kind)
        products.append(_product(draw, f"product {n}", kind, f"method {n}"))
    products = drawn_ways(draw, products)
    sold = [product for product in products if product.sold_as is None]
    ages = [a for m in methods for a in (m.scion_age_max, m.rootstock_age_max or 0)]
    longest = max(sum(s.days for s in stages if s.method == m.method) for m in methods)
    weekdays = draw(st.sampled_from([WEEK, WEEK, WEEK[:5], WEEK[:6]]))
    runs = drawn_runs(draw)
    earliest = max(ages) + longest + (4 if weekdays == WEEK else 9) + 3 * len(runs)
    last = min(max(earliest + draw(st.integers(1, 5)), 12), 30)
    lots = drawn_lots(draw)
    policy = draw(st.sampled_from(list(MarginPolicy)))
    priced = policy is MarginPolicy.PRICED
    penalty = draw(st.sampled_from([40.0, 40.0, 200.0] if priced else [40.0, 40.0, 200.0, 3.0]))
    nursery = Nursery(
        "Random nursery",
        "USD",
        FIRST + timedelta(days=draw(st.integers(0, 6))),
        FIRST,
        weekdays,
        policy,
        draw(st.sampled_from([0.5, 0.9, 0.99])),
        draw(st.sampled_from([0.0, 0.05])),
        draw(st.sampled_from([0.0, 0.1])),
        penalty,
        draw(st.sampled_from([0.0, 0.0, 15.0])),
        draw(st.sampled_from([0.0, 100.0])),
        draw(st.sampled_from([0.0, 0.06])),
        draw(st.sampled_from(list(SowingPolicy))),
        plant_cost=4.5 if priced else None,
    )
    stood = drawn_on_hand(draw, lots, nursery.first_day) if draw(yes) else []
    if stood:  # so that plants of trays on hand still serve the orders
        methods = [replace(row, holding_limit_days=row.holding_limit_days + 9) for row in methods]
    nursery = replace(nursery, last_day=nursery.first_day + timedelta(days=last))

    def on(t: int) -> date:
        return nursery.first_day + timedelta(days=t)

    orders = tuple(
        Order(
            f"order {n}",
            "Market farm",
            draw(st.sampled_from(sold)).product,
            draw(st.integers(1, 150)),
            on(draw(st.integers(earliest, last))),
            draw(st.sampled_from([1.5, 6.0])),
            draw(st.sampled_from([None, None, 25.0])),
            draw(st.sampled_from([None, 0.8])),
            draw(st.sampled_from([None, None, None, 0.15])),
            draw(st.sampled_from([Decline.NO, Decline.NO, Decline.PART, Decline.WHOLE])),
            late_days_most=draw(st.sampled_from([None, None, None, 2, 5])),
            late_discount=0.3,
        )
        for n in range(draw(st.integers(1, orders_most)))
    )
    zones = drawn_zones(draw)
    by_zone = {zone.zone: zone for zone in zones}
    rack = by_zone["Chamber"].unit_slots or 6.0
    changed = draw(st.lists(st.sampled_from(sorted(by_zone)), max_size=2, unique=True))
    labour = not draw(yes)
    crews = drawn_crews(draw) if labour else ()
    supplies = (drawn_clips(draw, crews),)
    standards = tuple(_standards(draw, [m.method for m in methods])) if labour else ()
    made = Scenario(
        nursery=nursery,
        orders=orders,
        customers=tuple(Customer("Market farm", run=row.run) for row in runs),
        runs=runs,
        products=tuple(products),
        seed_lots=lots,
        tray_formats=(
            TrayFormat("ten", 10, 1.0),
            TrayFormat("twenty", 20, draw(st.sampled_from([1.0, 1.5]))),
        ),
        methods=tuple(methods),
        stages=tuple(stages),
        zones=zones,
        crews=crews,
        labour_standards=standards,
        own_tasks=tuple(drawn_own_tasks(draw, stages, products, [row.lot for row in lots], labour)),
        packs=tuple(drawn_packs(draw, [row.lot for row in lots])),
        trays_on_hand=tuple(stood),
        supplies=supplies,
        supply_uses=tuple(
            SupplyUse(
                "Clips", per, None, draw(st.sampled_from([None, "ten"])), draw(st.sampled_from([1.0, 3.0]))
            )
            for per in draw(st.lists(st.sampled_from(list(Per)), max_size=3, unique=True))
        ),
        age_effects=tuple(drawn_effects(draw, methods)),
        stage_zones=tuple(drawn_stage_zones(draw, methods, stages)),
        germination_zones=tuple(drawn_germination_zones(draw, lots)),
        bays=tuple(drawn_bays(draw, zones, on)),
        zone_days=tuple(drawn_zone_day(draw, by_zone[name], on) for name in changed),
        crew_days=(
            CrewDay("Growers", on(draw(st.integers(1, 9))), 1.5, draw(st.sampled_from([None, 24.0]))),
            CrewDay("Grafters", on(draw(st.integers(1, 9))), temp_pay_per_hour=6.0),
        )
        if labour and draw(yes)
        else (),
        shifts=drawn_shifts(draw, crews),
        practice=drawn_practice(draw, crews),
        pace_by_week=drawn_paces(draw, crews),
        piece_rates=tuple(drawn_piece_rates(draw, standards)) if labour else (),
        skill_limits=tuple(
            SkillLimit(skill, draw(st.sampled_from([None, name])), draw(st.sampled_from([2.0, 6.0])))
            for name, skill in (("Growers", "general"), ("Grafters", "grafting"))
            if labour and draw(st.integers(0, 3)) == 0
        ),
        days_off=tuple(DayOff(on(t)) for t in draw(st.lists(st.integers(0, last), max_size=2, unique=True))),
        buy_in_offers=tuple(drawn_offers(draw, sold, on)),
        overheads=tuple(row for row in OVERHEADS if draw(yes)),
        modules=tuple(drawn_modules(draw, rack, crews)),
    )
    made = drawn_charges(draw, made) if draw(yes) else made
    made = made if draw(st.integers(0, 3)) else drawn_plants(draw, made)
    return made if draw(st.integers(0, 3)) else drawn_apart(draw, made)


@st.composite
def books_on_hand(draw: Draw) -> Scenario:
    """Books with seedlings and plants of two lots on hand that are kept apart, and with seed for more."""
    scions = [lot("Red A", "Red", health=Health.TESTED), lot("Red B", "Red", health=Health.UNTESTED)]
    counts = st.integers(1, 4)
    trays = [TraysOnHand("Stout A", "ten", day(draw(st.integers(-5, -3))), 8)]
    plants = []
    for n, scion in enumerate(scions):
        if draw(st.integers(0, 2)):
            trays.append(TraysOnHand(scion.lot, "twenty", day(draw(st.integers(-4, -2))), draw(counts)))
        if draw(st.integers(0, 2)):
            graft, sown = day(-3 - n * draw(st.integers(1, 3))), (day(-11), "Stout A", day(-12))
            plants.append(PlantsOnHand("Red on Stout", graft, 15 * draw(counts), scion.lot, *sown))
    groups = [(GroupBy.LOT, "Red A", GroupBy.LOT, "Red B"), (GroupBy.LOT, "Red A", GroupBy.CUSTOMER, "Shop")]
    groups += [(GroupBy.HEALTH, "tested", GroupBy.HEALTH, "untested")]
    groups += [(GroupBy.CUSTOMER, "Market farm", GroupBy.CUSTOMER, "Shop")]
    zones = st.sampled_from([None, None, "Bench", "House", "Chamber"])
    rules = [
        Apart(*pair, Shared.ZONE, draw(zones), draw(st.integers(0, 2)))
        for pair in draw(st.lists(st.sampled_from(groups), min_size=1, max_size=2, unique=True))
    ]
    orders = [
        order(
            f"O-{n}",
            "Red on Stout",
            draw(st.integers(5, 60)),
            draw(st.sampled_from([3, 4, 6, 7, 8] if n else [9, 10, 12])),
            customer=draw(st.sampled_from(["Market farm", "Shop"])),
        )
        for n in range(draw(st.integers(2, 4)))
    ]
    return base_scenario(
        orders=tuple(orders),
        seed_lots=(*scions, lot("Stout A", "Stout")),
        trays_on_hand=tuple(trays),
        plants_on_hand=tuple(plants),
        apart=tuple(rules),
    )


def _product(draw: Draw, name: str, kind: MethodKind, method_name: str) -> Product:
    formats = st.sampled_from([("twenty",), ("ten",), ("ten", "twenty")])
    salvaged = draw(st.booleans())
    return Product(
        name,
        "tomato",
        draw(st.sampled_from(["Red", "Green"])),
        None if kind is MethodKind.OWN_ROOT else "Stout",
        method_name,
        "ten",
        draw(formats),
        draw(formats) if kind is MethodKind.ROOT_CUT else (),
        draw(st.sampled_from([0.5, 4.0])) if salvaged else 0.0,
        draw(st.sampled_from([10, 60])) if salvaged else 0,
        draw(st.sampled_from([Source.EITHER, Source.EITHER, Source.EITHER, Source.GROW, Source.BUY])),
    )


def _standards(draw: Draw, methods: list[str]) -> list[LabourStandard]:
    rows = [row for row in WORK if row.task is Task.GRAFT or draw(st.booleans())]
    task = draw(st.sampled_from([Task.MOVE, Task.TEND, Task.CARE, Task.GRADE, Task.PACK]))
    rows.append(LabourStandard(task, "general", methods[0], None, 45.0))
    rows.append(LabourStandard(task, "general", methods[0], "ten", 75.0))
    in_parts = st.lists(st.sampled_from([Task.GRAFT, Task.SOW, task]), max_size=2)
    return list(in_roles(rows, *draw(in_parts))) if draw(st.integers(0, 3)) == 0 else rows
