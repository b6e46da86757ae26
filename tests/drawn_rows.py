"""Rows drawn at random for small scenarios: lots, rooms, hands, packs, match and take by age, own tasks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from model.scenario.choices import (
    GroupBy,
    Health,
    MatchFrom,
    MethodKind,
    Part,
    PayBasis,
    PriceOf,
    Shared,
    Source,
    Task,
    TaskPer,
    ZoneMode,
    ZoneUse,
)
from model.scenario.entities import Product, Scenario, SeedLot, Zone, ZoneDay
from model.scenario.records.kept_apart import Apart
from model.scenario.records.methods import AgeEffect, Method, Stage
from model.scenario.records.past import PlantsOnHand, TraysOnHand
from model.scenario.records.people import Crew, LabourStandard, OwnTask, PieceRate, Practice, Shift, WeekPace
from model.scenario.records.rooms import Bays, GerminationZone, StageZone
from model.scenario.records.trade import BuyInOffer, Customer, ListPrice, Module, Pack, Run, Supply
from tests.scenario_parts import WEEK, crew, healing, lot, method, order, pool, units

Draw = Callable[[st.SearchStrategy[Any]], Any]

RIDES: dict[str, Any] = {
    "orders": (
        order("O-1", "Red on Stout", 85, 16),
        order("O-2", "Red on Stout", 30, 18, customer="Shop"),
        order("O-3", "Red on Stout", 18, 17),
        order("O-4", "Red on Stout", 12, 17, price=3.0, late_days_most=4, late_discount=0.1),
        order("O-5", "Red on Stout", 5, 17, customer="Neighbour"),
    ),
    "customers": (Customer("Market farm", run="coast"), Customer("Shop", run="coast")),
    "runs": (Run("coast", ("Tue", "Fri"), 30.0, 0.5, 6, 2),),
}
"""Three orders of 13 trays would leave on day 15, with vehicles for 12: one is late, with O-2 on day 18."""


def drawn_packs(draw: Draw, items: list[str]) -> list[Pack]:
    """Clips, and packs of some sizes of each item, or none."""
    rows = [Pack("Clips", 50.0, 5.0)]
    for item in items:
        sizes = draw(st.sampled_from([(1.0,), (100.0,), (50.0, 250.0), (20.0,), (40.0, 90.0, 300.0), ()]))
        rows += [Pack(item, size, 0.2 * size**0.9) for size in sizes]
    return rows


def drawn_charges(draw: Draw, scenario: Scenario) -> Scenario:
    """The scenario with list prices, terms of charging and extra plants; some orders have no own price."""
    yes, share = st.booleans(), st.sampled_from([None, 0.0, 0.07])
    trays_whole = st.sampled_from([None, None, False, True])
    first = scenario.nursery.first_day
    rows = []
    for product in scenario.ordered_products:
        per = draw(st.sampled_from(list(PriceOf)))
        of = 10.0 if per is PriceOf.TRAY else 1.0
        rows.append(ListPrice(product.product, 1, None, 5.0 * of, per))
        rows.append(ListPrice(product.product, 60, None, 3.5 * of, per))
        if draw(yes):
            rows.append(ListPrice(product.product, 1, first + timedelta(days=12), 2.25, PriceOf.PLANT))
    orders = [
        replace(
            order,
            price=draw(st.sampled_from([None, None, order.price])),
            ordered_day=draw(st.sampled_from([None, first, order.due_day - timedelta(days=9)])),
            extra_share=draw(share),
            whole_trays_to_customer=draw(trays_whole),
        )
        for order in scenario.orders
    ]
    nursery = replace(
        scenario.nursery,
        least_charge=draw(st.sampled_from([0.0, 90.0])),
        part_tray_charge=draw(st.sampled_from([0.0, 8.0])),
        early_discount=draw(st.sampled_from([0.0, 0.1])),
        early_days=draw(st.sampled_from([9, 10])),
        extra_share=draw(st.sampled_from([0.0, 0.03])),
        whole_trays_to_customer=draw(yes),
    )
    trays = tuple(replace(tray, billed=draw(st.sampled_from([None, 9]))) for tray in scenario.tray_formats)
    known = Customer("Market farm", early_discount=draw(share), early_days=draw(st.sampled_from([None, 0])))
    said = replace(known, extra_share=draw(share), whole_trays_to_customer=draw(trays_whole))
    customers = (said,) if draw(yes) else ()
    changes: dict[str, Any] = {"list_prices": tuple(rows), "customers": customers, "tray_formats": trays}
    return replace(scenario, nursery=nursery, orders=tuple(orders), **changes)


def drawn_effects(draw: Draw, methods: list[Method]) -> list[AgeEffect]:
    """Takes by age of some methods, and matches of those that have them by age."""
    rows = []
    for m in methods:
        if m.kind is MethodKind.OWN_ROOT or (m.match_from is not MatchFrom.AGES and draw(st.booleans())):
            continue
        assert m.rootstock_age_min is not None
        assert m.rootstock_age_max is not None
        by_ages = m.match_from is MatchFrom.AGES
        pairs = [
            (r, s)
            for r in range(m.rootstock_age_min, m.rootstock_age_max + 1)
            for s in range(m.scion_age_min, m.scion_age_max + 1)
        ]
        for n, (r, s) in enumerate(pairs):
            if n == 0 or draw(st.booleans()):
                take = draw(st.sampled_from([None, 0.6, 0.95])) if by_ages else 0.75
                rows.append(
                    AgeEffect(m.method, r, s, draw(st.sampled_from([0.7, 0.9])) if by_ages else None, take)
                )
    return rows


def drawn_stage_zones(draw: Draw, methods: list[Method], stages: list[Stage]) -> list[StageZone]:
    """Further zones of some stages of one method: a tunnel for healing, bench, house or store for others."""
    rows = []
    chosen = draw(st.sampled_from([None, None, *methods]))
    for stage in stages:
        if chosen is None or stage.method != chosen.method or not draw(st.booleans()):
            continue
        healing = stage.part is Part.HEALING
        zone = "Tunnel" if healing else draw(st.sampled_from(sorted({"Bench", "House"} - {stage.zone})))
        take = draw(st.sampled_from([None, 0.6, 0.9])) if healing else None
        days = draw(st.sampled_from([None, None, 1, 2]))
        care, cost = draw(st.sampled_from([1.0, 0.0, 1.5])), draw(st.sampled_from([0.0, 0.3]))
        rows.append(StageZone(stage.method, stage.stage, zone, days, take, care, cost))
    if chosen is not None and len(rows) < 2 and draw(st.booleans()):
        zone = "Store" if chosen.holding_zone == "House" else "House"
        care, cost = draw(st.sampled_from([1.0, 0.0, 1.5])), draw(st.sampled_from([0.0, 0.3]))
        rows.append(StageZone(chosen.method, "holding", zone, care=care, cost_per_tray=cost))
    return rows


def drawn_germination_zones(draw: Draw, lots: Sequence[SeedLot]) -> list[GerminationZone]:
    """A further zone to germinate in for one lot or none."""
    able = [lot for lot in lots if lot.germination_days]
    if not able or draw(st.integers(0, 2)):
        return []
    lot = draw(st.sampled_from(able))
    zone = draw(st.sampled_from(sorted({"Warm room", "Bench"} - {lot.germination_zone})))
    days, care = draw(st.sampled_from([None, 1, 2, 3])), draw(st.sampled_from([1.0, 0.0, 1.5]))
    return [GerminationZone(lot.lot, zone, days, care, draw(st.sampled_from([0.0, 0.3])))]


def drawn_bays(draw: Draw, zones: tuple[Zone, ...], on: Callable[[int], date]) -> list[Bays]:
    """Bays of a pool or of none, some with a cost that changes within a week."""
    zone = draw(st.sampled_from([None, None, *(zone for zone in zones if zone.mode is ZoneMode.POOL)]))
    if zone is None:
        return []
    slots = zone.slots / draw(st.sampled_from([1, 2, 3.5]))
    rows = [Bays(zone.zone, on(0), min(slots, 8.0), draw(st.sampled_from([7.0, 25.0])))]
    if draw(st.booleans()):
        change = draw(st.sampled_from([(None, 0.0), (None, 3.5), (min(slots, 5.0), None)]))
        rows.append(Bays(zone.zone, on(draw(st.integers(1, 11))), *change))
    return rows


def drawn_on_hand(draw: Draw, lots: tuple[SeedLot, ...], first: date) -> list[TraysOnHand]:
    """Trays of some lots, a few days old, counted or not."""
    rows = []
    for row in lots:
        if draw(st.booleans()):
            trays, format_ = draw(st.integers(1, 6)), draw(st.sampled_from(["ten", "twenty"]))
            sown = first - timedelta(days=draw(st.integers(1, 4)))
            counted = draw(st.sampled_from([None, None, 5 * trays]))
            rows.append(TraysOnHand(row.lot, format_, sown, trays, counted))
    return rows


def drawn_clips(draw: Draw, crews: Sequence[Crew]) -> Supply:
    """Clips, which may come back where no crew uses them up by the hour; washed where there are hands."""
    stock, lead = draw(st.sampled_from([0.0, 60.0])), draw(st.sampled_from([0, 5]))
    clips = Supply("Clips", "clip", stock, lead)
    if any(crew.supply is not None for crew in crews) or draw(st.booleans()):
        return clips
    back = {"return_share": draw(st.sampled_from([0.5, 1.0])), "return_days": draw(st.integers(1, 4))}
    washed = {"wash_seconds": 30.0, "wash_skill": "general"} if crews and draw(st.booleans()) else {}
    return replace(clips, **back, **washed)


def drawn_practice(draw: Draw, crews: Sequence[Crew]) -> tuple[Practice, ...]:
    """What new hands practise on, where some are trained: a tray of rootstocks, clips, both or none."""
    rows: list[Practice] = []
    for row in crews:
        if row.temp_heads_most > 0 and row.temp_training_days > 0:
            if draw(st.booleans()):
                rows.append(Practice(row.crew, "Stout A", "ten", 1.5, draw(st.integers(2, 6))))
            if draw(st.booleans()):
                rows.append(Practice(row.crew, "Clips", None, 15.0, draw(st.integers(0, 1))))
    return tuple(rows)


def drawn_paces(draw: Draw, crews: Sequence[Crew]) -> tuple[WeekPace, ...]:
    """Pace by week of some hands hired by the week."""
    shares = draw(st.sampled_from([(), (0.5,), (0.4, 0.4, 0.8), (0.7, 1.0)]))
    learn = [row.crew for row in crews if row.temp_heads_most > 0 and row.temp_days_least is None]
    return tuple(WeekPace(name, n, share) for name in learn for n, share in enumerate(shares, start=1))


def drawn_plants(draw: Draw, scenario: Scenario) -> Scenario:
    """The scenario with healed plants on hand of some products, each with an order that they may reach."""
    methods = {row.method: row for row in scenario.methods}
    pools = {row.zone for row in scenario.zones if row.mode is ZoneMode.POOL}
    lots = {row.variety: row.lot for row in scenario.seed_lots}
    several = {row.method for row in scenario.stage_zones}
    first, rows, orders = scenario.nursery.first_day, [], list(scenario.orders)
    for n, product in enumerate(scenario.products):
        stages = [row for row in scenario.stages if row.method == product.method]
        finishes_in = {row.zone for row in stages if row.part is not Part.HEALING}
        if not draw(st.booleans()) or not finishes_in <= pools or product.method in several:
            continue
        healing = sum(row.days for row in stages if row.part is Part.HEALING)
        graft = first - timedelta(days=healing + draw(st.sampled_from([1, 1, 2, 4])))
        sown = graft - timedelta(days=11 + 2 * n)
        grafted = methods[product.method].kind is not MethodKind.OWN_ROOT
        below = (lots[product.rootstock], sown) if grafted and product.rootstock else (None, None)
        plants = draw(st.integers(3, 70))
        rows.append(PlantsOnHand(product.product, graft, plants, lots[product.scion], sown, *below))
        ready = graft + timedelta(days=sum(row.days for row in stages))
        due = max(ready, first) + timedelta(days=draw(st.integers(0, 2)))
        ordered = next((at for at, order in enumerate(orders) if order.product == product.ordered_as), None)
        if ordered is not None and draw(st.integers(0, 3)):
            orders[ordered] = replace(orders[ordered], due_day=due, ordered_day=None)
    return replace(scenario, plants_on_hand=tuple(rows), orders=tuple(orders))


def drawn_own_tasks(
    draw: Draw, stages: list[Stage], products: list[Product], lots: list[str], hands: bool
) -> list[OwnTask]:
    """Up to three own tasks, each in a stage that some plants go through; time only where there are hands."""
    rows = []
    for n in range(draw(st.sampled_from([0, 0, 1, 3]))):
        stage = draw(st.sampled_from(["germination", "bench", "holding", *(s.stage for s in stages)]))
        having = [s for s in stages if s.stage == stage]
        days = st.integers(1, max((s.days for s in having), default=3) or 1)
        pers = [TaskPer.TRAY] if stage == "germination" else [TaskPer.TRAY, TaskPer.PLANT]
        if having and all(s.part.value == "healing" for s in having):
            pers.append(TaskPer.JOIN)
        seedlings, only = stage in ("germination", "bench"), draw(st.booleans())
        methods = {s.method for s in having}
        fitting = [p.product for p in products if not having or p.method in methods]
        rows.append(
            OwnTask(
                f"own task {n}",
                stage,
                draw(st.sampled_from(pers)),
                draw(st.one_of(st.none(), days)),
                product=draw(st.sampled_from(fitting)) if fitting and only and not seedlings else None,
                lot=draw(st.sampled_from(lots)) if only and seedlings else None,
                format=draw(st.sampled_from([None, None, "ten"])),
                skill="general" if hands else None,
                seconds=draw(st.sampled_from([0.0, 20.0, 90.0])) if hands else 0.0,
                supply=(used := draw(st.sampled_from([None, "Clips"]))),
                quantity=2.0 if used else 0.0,
            )
        )
    return rows


def drawn_ways(draw: Draw, products: list[Product]) -> list[Product]:
    """The products, some of them another way to make the first of their kind."""
    found: list[Product] = []
    for product in products:
        alike = [
            p for p in found if p.sold_as is None and (p.rootstock is None) == (product.rootstock is None)
        ]
        if alike and draw(st.booleans()):
            way = {"sold_as": alike[0].product, "scion": alike[0].scion, "source": Source.EITHER}
            product = replace(product, **way, salvage_price=0.0, salvage_most=0)
        found.append(product)
    return found


def drawn_lots(draw: Draw) -> tuple[SeedLot, ...]:
    """Lots of two scions and a rootstock, some with a second lot."""
    names = [("Red A", "Red"), ("Green A", "Green"), ("Stout A", "Stout")]
    if draw(st.booleans()):
        names.append(("Stout B", "Stout"))
    return tuple(
        lot(
            name,
            variety,
            germination=draw(st.sampled_from([1.0, 0.9, 0.75])),
            grade_out=draw(st.sampled_from([0.0, 0.1])),
            seeds_per_cell=draw(st.sampled_from([1, 1, 2])),
            stock=draw(st.sampled_from([0, 60, 500])),
            lead_days=draw(st.sampled_from([0, 0, 4])),
            germination_days=draw(st.integers(0, 2)),
            germination_zone=draw(st.sampled_from(["Warm room", "Bench"])),
            diameter_start_mm=draw(st.sampled_from([0.5, 0.7])),
            diameter_growth_mm_per_day=0.3,
            diameter_spread_mm=draw(st.sampled_from([0.1, 0.25])),
            diameter_spread_growth_mm_per_day=0.02,
            germination_correlation=draw(st.sampled_from([0.0, 0.0, 0.01])),
            sowing_correlation=draw(st.sampled_from([0.0, 0.0, 0.01])),
            sowing_margin=draw(st.sampled_from([None, None, None, 0.2])),
        )
        for name, variety in names
    )


def drawn_apart(draw: Draw, scenario: Scenario) -> Scenario:
    """The scenario with a further lot, groups kept apart and orders of one lot.

    Where they are kept apart in units, some product may have two batches a day.
    """
    red = replace(scenario.seed_lots[0], lot="Red B", stock=500)
    health = st.sampled_from([None, Health.UNTESTED, Health.TESTED])
    pairs = draw(
        st.lists(
            st.sampled_from(
                [
                    (GroupBy.LOT, "Red A", GroupBy.LOT, "Red B"),
                    (GroupBy.LOT, "Red A", GroupBy.LOT, "Green A"),
                    (GroupBy.HEALTH, "untested", GroupBy.HEALTH, "tested"),
                    (GroupBy.CUSTOMER, "Market farm", GroupBy.CUSTOMER, "Shop"),
                    (GroupBy.CUSTOMER, "Shop", GroupBy.LOT, "Red B"),
                    (GroupBy.CROP, "tomato", GroupBy.CROP, "pepper"),
                ]
            ),
            max_size=2,
            unique=True,
        )
    )
    shared = [(Shared.GRAFT_DAY, None), (Shared.ZONE, None)]
    shared += [(Shared.ZONE, name) for name in ("Bench", "Chamber", "House")]
    parted = [zone.zone for zone in scenario.zones if zone.mode is ZoneMode.UNITS]
    units = [(Shared.UNIT, None), *((Shared.UNIT, name) for name in parted)] if parted else []
    rules = tuple(
        Apart(*pair, *share, 0 if share[0] is Shared.UNIT else draw(st.sampled_from([0, 0, 1, 3])))
        for pair in pairs
        for share in [draw(st.sampled_from([*shared, *units, *units]))]
    )
    products = list(scenario.products)
    if any(rule.share is Shared.UNIT for rule in rules) and draw(st.booleans()):
        of = draw(st.sampled_from(products))
        batch = {"product": "again", "sold_as": of.ordered_as, "source": Source.EITHER}
        products.append(replace(of, **batch, salvage_price=0.0, salvage_most=0))
    changing: dict[str, Any] = {}
    if scenario.crews and draw(st.booleans()):
        changing = {"change_over_seconds": 900.0, "change_over_skill": "grafting"}
    return replace(
        scenario,
        nursery=replace(scenario.nursery, one_lot=draw(st.booleans()), **changing),
        orders=tuple(
            replace(
                row,
                customer=draw(st.sampled_from([row.customer, "Shop"])),
                one_lot=draw(st.sampled_from([None, False, True])),
            )
            for row in scenario.orders
        ),
        products=tuple(replace(row, crop="pepper" if row.scion == "Green" else row.crop) for row in products),
        seed_lots=tuple(
            replace(row, crop="pepper" if row.variety == "Green" else row.crop, health=draw(health))
            for row in (*scenario.seed_lots, red)
        ),
        apart=rules,
    )


def drawn_zones(draw: Draw) -> tuple[Zone, ...]:
    """A zone of each use, wide or narrow, the chamber a pool or in units."""
    cost = st.sampled_from([0.0, 0.1, 0.5])
    slots = st.sampled_from([4.0, 12.0, 200.0])
    if draw(st.booleans()):
        chamber = units(
            "Chamber",
            draw(st.integers(1, 2)),
            draw(st.sampled_from([4.0, 10.0])),
            draw(st.integers(1, 3)),
            draw(cost),
        )
    else:
        chamber = pool("Chamber", ZoneUse.HEALING, draw(slots), draw(cost))
    return (
        pool("Warm room", ZoneUse.GERMINATION, draw(slots), draw(cost)),
        pool("Bench", ZoneUse.BENCH, draw(slots), draw(cost)),
        chamber,
        draw(st.sampled_from([pool("Tunnel", ZoneUse.HEALING, 5.0, 0.2), units("Tunnel", 2, 3.0, 2, 0.1)])),
        pool("House", ZoneUse.FINISHING, draw(slots), draw(cost)),
        pool("Store", ZoneUse.HOLDING, draw(slots), draw(cost)),
    )


def drawn_zone_day(draw: Draw, zone: Zone, on: Callable[[int], date]) -> ZoneDay:
    """A change of a zone from a day on."""
    when, cost = on(draw(st.integers(0, 12))), draw(st.sampled_from([0.2, 1.0]))
    if zone.mode is ZoneMode.POOL:
        return ZoneDay(zone.zone, when, draw(st.sampled_from([None, 3.0, 20.0])), None, cost)
    return ZoneDay(zone.zone, when, None, draw(st.sampled_from([None, 0, 3])), cost)


def drawn_crews(draw: Draw) -> tuple[Crew, ...]:
    """Growers and grafters, some with overtime and temporary hands; at times a machine that grafts."""
    hands: dict[str, Any] = {}
    if not draw(st.booleans()):
        hands = {
            "temp_heads_most": draw(st.integers(1, 3)),
            "temp_pay_per_hour": 9.0,
            "temp_pace": 0.75,
            "temp_training_days": draw(st.integers(0, 3)),
            "temp_training_cost": draw(st.sampled_from([0.0, 50.0])),
            "temp_trainer_hours": draw(st.sampled_from([0.0, 0.0, 2.0])),
            "temp_overtime_hours_per_head_day": draw(st.sampled_from([0.0, 1.5])),
            "temp_overtime_pay_per_hour": draw(st.sampled_from([None, 12.0])),
            "week_hours_per_head": draw(st.sampled_from([None, 26.0])),
            "temp_days_least": draw(st.sampled_from([None, None, 0, 2])),
        }
    growers = crew(
        "Growers",
        *draw(st.sampled_from([("general",), ("general",), ("general", "grafting")])),
        heads=draw(st.sampled_from([0.5, 2.0])),
        pay_basis=draw(st.sampled_from(list(PayBasis))),
        overtime_hours_per_head_day=draw(st.sampled_from([0.0, 2.0])),
        overtime_pay_per_hour=draw(st.sampled_from([None, 30.0])),
        day_off_hours_per_head=draw(st.sampled_from([0.5, 8.0])),
        week_hours_per_head=draw(st.sampled_from([None, 30.0])),
    )
    grafters = crew(
        "Grafters",
        "grafting",
        heads=draw(st.sampled_from([0.05, 0.25, 1.0])),
        pace=draw(st.sampled_from([0.9, 1.2])),
        overtime_hours_per_head_day=draw(st.sampled_from([0.0, 2.0])),
        guaranteed_hours_per_head_week=draw(st.sampled_from([None, None, 16.0])),
        **hands,
    )
    return growers, grafters, *(_machine(draw) if draw(st.integers(0, 2)) == 0 else ())


def drawn_shifts(draw: Draw, crews: tuple[Crew, ...]) -> tuple[Shift, ...]:
    """Short days and days off of some crews, and weekend hands."""
    if draw(st.integers(0, 2)):
        return ()
    days = st.sampled_from([(), (("Fri",),), (("Mon", "Tue"), ("Sun",)), (("Sat", "Sun"),)])
    return tuple(
        Shift(of.crew, weekdays, draw(st.sampled_from([0.0, 4.0]))) for of in crews for weekdays in draw(days)
    )


def drawn_piece_rates(draw: Draw, standards: Sequence[LabourStandard]) -> list[PieceRate]:
    """Pay by the piece of grafters or growers, for some tasks; at times the pay by the hour is more."""
    rows = []
    for name in draw(st.sampled_from([(), (), ("Grafters",), ("Growers",), ("Grafters", "Growers")])):
        for task in (Task.GRAFT,) if name == "Grafters" else (Task.GRAFT, Task.PACK, Task.TEND):
            for format_ in (None, "ten"):
                if draw(st.booleans()):
                    pay = draw(st.sampled_from([0.01, 0.2, 0.5]))
                    rows.append(PieceRate(name, task, None, format_, pay))
            if any(row.task is task and row.role for row in standards) and draw(st.booleans()):
                rows.append(PieceRate(name, task, None, None, 0.3, "cutter"))
    return rows


def _machine(draw: Draw) -> tuple[Crew, ...]:
    """A machine that grafts beside the grafters, attended by growers; some are rented by the week."""
    rented = draw(st.sampled_from([{}, {"temp_heads_most": 1, "temp_pay_per_hour": 4.0, "temp_pace": 2.0}]))
    used = draw(st.sampled_from([{}, {"supply": "Clips", "supply_per_hour": 20.0}]))
    made = crew(
        "Machine",
        "grafting",
        heads=draw(st.sampled_from([0.0, 1.0])),
        hours_per_head_day=draw(st.sampled_from([0.2, 8.0])),
        pay_per_hour=draw(st.sampled_from([0.0, 8.0, 50.0])),
        pace=draw(st.sampled_from([0.8, 3.0])),
        attendants=draw(st.sampled_from([0.5, 2.0])),
        attendant_skill="general",
        **used,
        **rented,
    )
    return (made,)


def drawn_modules(draw: Draw, slots: float, crews: tuple[Crew, ...]) -> list[Module]:
    """Racks of a chamber whose module has so many slots, and machines or hands of a crew; or none."""
    found = []
    if draw(st.booleans()):
        found.append(Module("Rack", "Chamber", slots, draw(st.integers(0, 2)), 900.0, 100.0, 8))
    if crews and draw(st.booleans()):
        added = draw(st.integers(0, 2))
        found.append(Module("Trained", None, None, added, 300.0, 0.0, 3, draw(st.sampled_from(crews)).crew))
    return found


def drawn_offers(draw: Draw, products: list[Product], on: Callable[[int], date]) -> list[BuyInOffer]:
    """Up to two offers of a product."""
    return [
        BuyInOffer(
            f"offer {n}",
            draw(st.sampled_from(products)).product,
            draw(st.sampled_from([1.5, 3.0, 10.0])),
            draw(st.integers(0, 8)),
            draw(st.sampled_from([("Tue", "Thu"), WEEK])),
            draw(st.sampled_from([None, on(4)])),
            draw(st.sampled_from([None, on(14)])),
            draw(st.sampled_from([0, 30])),
            draw(st.sampled_from([None, 60])),
        )
        for n in range(draw(st.integers(0, 2)))
    ]


def drawn_runs(draw: Draw) -> tuple[Run, ...]:
    """A run twice or thrice a week, or none; vehicles are small, and in some books few."""
    if draw(st.integers(0, 3)):
        return ()
    weekdays = draw(st.sampled_from([("Tue", "Fri"), ("Mon", "Wed", "Fri"), WEEK]))
    most, trays = draw(st.sampled_from([None, None, 1])), draw(st.sampled_from([2, 5, 30]))
    return (Run("coast", weekdays, draw(st.sampled_from([0.0, 8.0])), 0.25, trays, most),)


def drawn_method(draw: Draw, name: str, kind: MethodKind, window: int) -> Method:
    """A method of a kind; ``window``: most days by which its windows are wider than one day."""
    scion = draw(st.integers(2, 4))
    common: dict[str, Any] = {
        "scion_age_min": scion,
        "scion_age_max": scion + draw(st.integers(0, window)),
        "finish_survival": draw(st.sampled_from([1.0, 0.9])),
        "holding_limit_days": draw(st.integers(0, 3)),
        "holding_zone": draw(st.sampled_from(["House", "Store"])),
    }
    if kind is MethodKind.OWN_ROOT:
        return method(name, kind, **common)
    root = draw(st.integers(2, 5))
    match_from = draw(st.sampled_from(list(MatchFrom)))
    return method(
        name,
        kind,
        **common,
        rootstock_age_min=root,
        rootstock_age_max=root + draw(st.integers(0, window)),
        match_from=match_from,
        match=0.9 if match_from is MatchFrom.NUMBER else None,
        stem_tolerance_mm=0.15 if match_from is MatchFrom.DIAMETERS else None,
        take=draw(st.sampled_from([1.0, 0.85, 0.7])),
        take_correlation=draw(st.sampled_from([0.0, 0.0, 0.01])),
        consolidate=draw(st.booleans()),
        least_batch=draw(st.sampled_from([None, None, 15, 60])),
    )


def drawn_stages(draw: Draw, name: str, kind: MethodKind) -> tuple[Stage, ...]:
    """Stages of a method."""
    if kind is MethodKind.OWN_ROOT:
        return tuple(
            Stage(name, n + 1, f"grow {n}", Part.FINISHING, zone, draw(st.integers(0, 3)))
            for n, zone in enumerate(draw(st.sampled_from([(), ("House",), ("Bench", "House")])))
        )
    return healing(name, *(draw(st.integers(1, 2)) for _ in range(2)), draw(st.integers(0, 3)))
