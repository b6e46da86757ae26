"""One tiny scenario for each constraint group.

All are one nursery, each with what its group needs: order "spring" of 30 grafted plants due on day 4 (a
Friday), held a day at most, so graft days 2 and 3. Rootstock is 2 or 3 days old on graft day, in trays of
10 cells of which .8 stand; scions are 2 days old, in trays of 20 cells of which .9 stand. So rootstock wave
0 may be drawn on on both graft days, all others on one. A join heals for a day; stem match .75, take .9,
finish survival .95, graft margin .1.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

from model.scenario.calendar import WEEKDAYS
from model.scenario.choices import (
    Decline,
    GroupBy,
    MarginPolicy,
    MatchFrom,
    MethodKind,
    Part,
    PayBasis,
    Per,
    Shared,
    SowingPolicy,
    Task,
    ZoneMode,
    ZoneUse,
)
from model.scenario.entities import Nursery, Order, Product, Scenario, SeedLot, TrayFormat, Zone, ZoneDay
from model.scenario.records.kept_apart import Apart
from model.scenario.records.methods import Method, Stage
from model.scenario.records.people import Crew, LabourStandard, PieceRate, SkillLimit, WeekPace
from model.scenario.records.rooms import Bays, GerminationZone
from model.scenario.records.trade import BuyInOffer, Customer, Module, Pack, Run, Supply, SupplyUse

MONDAY = date(2027, 3, 1)


def _day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def _lot(name: str, germination: float, stock: int) -> SeedLot:
    lot = SeedLot(name, name, None, germination, 0.0, 1, stock, 2, 1, "room", "bench")
    return replace(lot, germination_correlation=0.0, sowing_correlation=0.0)


def _pool(name: str, use: ZoneUse, slots: float) -> Zone:
    return Zone(name, use, ZoneMode.POOL, slots, None, None, None, 0.1)


SPLICE = Method(
    "splice", MethodKind.ON_TRAY, 2, 2, 2, 3, MatchFrom.NUMBER, 0.75, None, 0.9, False, 0.95, "hold", 1, 0.0
)

CREW = Crew(
    crew="hands",
    skills=("growing", "grafting"),
    heads=2.0,
    hours_per_head_day=8.0,
    pay_per_hour=20.0,
    pay_basis=PayBasis.USED,
    pace=1.25,
    overtime_hours_per_head_day=2.0,
    overtime_pay_per_hour=30.0,
    day_off_hours_per_head=1.0,
    week_hours_per_head=40.0,
    temp_heads_most=3,
    temp_pay_per_hour=15.0,
    temp_pace=0.5,
    temp_training_days=2,
    temp_training_cost=100.0,
)


def grafted() -> Scenario:
    """The nursery above, without labour and supplies."""
    return Scenario(
        nursery=Nursery(
            "Baseline",
            "USD",
            MONDAY,
            _day(4),
            WEEKDAYS,
            MarginPolicy.FIXED,
            0.95,
            0.1,
            0.0,
            5.0,
            0.0,
            0.0,
            0.0,
        ),
        orders=(Order("spring", "customer", "plant", 30, _day(4)),),
        products=(Product("plant", "tomato", "top", "bottom", "splice", "tens", ("twenties",)),),
        seed_lots=(_lot("bottom", 0.8, 50), _lot("top", 0.9, 60)),
        tray_formats=(TrayFormat("tens", 10, 1.0), TrayFormat("twenties", 20, 1.5)),
        methods=(SPLICE,),
        stages=(Stage("splice", 1, "heal", Part.HEALING, "chamber", 1),),
        zones=(
            _pool("room", ZoneUse.GERMINATION, 7),
            _pool("bench", ZoneUse.BENCH, 8),
            _pool("chamber", ZoneUse.HEALING, 9),
            _pool("hold", ZoneUse.HOLDING, 6),
        ),
        packs=(Pack("bottom", 100, 12.0), Pack("bottom", 1000, 90.0), Pack("top", 100, 30.0)),
    )


def three_kinds() -> Scenario:
    """The same plants on-tray, root-cut and own-root."""
    scenario = grafted()
    cut = replace(SPLICE, method="cut", kind=MethodKind.ROOT_CUT, rootstock_age_max=2, holding_limit_days=0)
    own = replace(
        SPLICE,
        method="own",
        kind=MethodKind.OWN_ROOT,
        rootstock_age_min=None,
        rootstock_age_max=None,
        match=None,
        take=None,
        holding_limit_days=0,
    )
    splice = replace(SPLICE, rootstock_age_max=2, holding_limit_days=0)
    (plant,) = scenario.products
    return replace(
        scenario,
        methods=(splice, cut, own),
        products=(
            plant,
            replace(plant, product="cut plant", method="cut", rootstock_formats=("twenties",)),
            replace(plant, product="own plant", method="own", rootstock=None),
        ),
        orders=tuple(
            Order(product, "customer", product, 30, _day(4))
            for product in ("plant", "cut plant", "own plant")
        ),
        stages=tuple(
            Stage(method, 1, "heal", Part.HEALING if method != "own" else Part.FINISHING, "chamber", 1)
            for method in ("splice", "cut", "own")
        ),
    )


def with_salvage() -> Scenario:
    """Up to 5 plants left over can be sold at 1."""
    scenario = grafted()
    (plant,) = scenario.products
    return replace(scenario, products=(replace(plant, salvage_price=1.0, salvage_most=5),))


def with_module() -> Scenario:
    """A finishing day after consolidation, a module of 4 slots on the chamber, a larger bench from day 2."""
    scenario = grafted()
    return replace(
        scenario,
        nursery=replace(scenario.nursery, last_day=_day(5)),
        orders=tuple(replace(order, due_day=_day(5)) for order in scenario.orders),
        methods=(replace(SPLICE, consolidate=True),),
        stages=(*scenario.stages, Stage("splice", 2, "finish", Part.FINISHING, "bench", 1)),
        modules=(Module("rack", "chamber", 4.0, 1, 1000.0, 100.0, 10),),
        zone_days=(ZoneDay("bench", _day(2), slots=20.0),),
    )


def with_whole_trays() -> Scenario:
    """The same module and finishing day; the order leaves in whole trays."""
    scenario = with_module()
    return replace(scenario, nursery=replace(scenario.nursery, whole_trays_to_customer=True))


def with_units() -> Scenario:
    """The chamber is 2 units of 5 slots, loaded for 2 days and then shut; a module adds one."""
    scenario = grafted()
    chamber = Zone("chamber", ZoneUse.HEALING, ZoneMode.UNITS, None, 2, 5.0, 2, 0.1)
    return replace(
        scenario,
        zones=tuple(chamber if zone.zone == "chamber" else zone for zone in scenario.zones),
        modules=(Module("unit", "chamber", 5.0, 1, 1000.0, 100.0, 10),),
    )


def with_bays() -> Scenario:
    """The chamber is heated by bays of 3 slots, from day 3 on of 2.5 slots."""
    bays = (Bays("chamber", MONDAY, 3.0, 14.0), Bays("chamber", _day(3), 2.5, None))
    return replace(grafted(), bays=bays)


def with_crew() -> Scenario:
    """Two hands of pace 1.25 and up to 3 temporary ones of pace .5; every task takes time."""
    scenario = grafted()
    seconds = {
        Task.SOW: 120.0,
        Task.MOVE: 30.0,
        Task.TEND: 6.0,
        Task.GRAFT: 18.0,
        Task.CARE: 60.0,
        Task.GRADE: 2.0,
        Task.PACK: 3.0,
    }
    standards = tuple(
        LabourStandard(task, "grafting" if task is Task.GRAFT else "growing", None, None, time)
        for task, time in seconds.items()
    )
    return replace(scenario, crews=(CREW,), labour_standards=standards)


def with_two_weeks() -> Scenario:
    """The same, due on the second Tuesday: seedlings of 5 days, on the bench over a weekend off."""
    scenario = with_crew()
    return replace(
        scenario,
        nursery=replace(
            scenario.nursery, working_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"), last_day=_day(8)
        ),
        orders=tuple(replace(order, due_day=_day(8)) for order in scenario.orders),
        methods=(
            replace(
                SPLICE,
                scion_age_min=5,
                scion_age_max=5,
                rootstock_age_min=5,
                rootstock_age_max=5,
                holding_limit_days=0,
            ),
        ),
    )


def with_machine() -> Scenario:
    """A machine grafts at twice the pace, three growers beside it; changing over takes them nine minutes."""
    scenario = with_crew()
    nursery = replace(scenario.nursery, change_over_seconds=540.0, change_over_skill="growing")
    machine = replace(
        CREW,
        crew="machine",
        skills=("grafting",),
        pace=2.0,
        temp_heads_most=0,
        attendants=3.0,
        attendant_skill="growing",
    )
    return replace(scenario, nursery=nursery, crews=(CREW, machine))


def with_piece_rate() -> Scenario:
    """The same as with a crew, paid .20 a join."""
    return replace(with_crew(), piece_rates=(PieceRate("hands", Task.GRAFT, None, None, 0.2),))


def with_packing_rate() -> Scenario:
    """The same as with a crew, paid by the piece for packing, which is one kind of work among several."""
    return replace(with_crew(), piece_rates=(PieceRate("hands", Task.PACK, "splice", None, 0.05),))


def with_skill_limit() -> Scenario:
    """The same, in which nobody grows for more than six hours a day."""
    return replace(with_two_weeks(), skill_limits=(SkillLimit("growing", None, 6.0),))


def with_pace_by_week() -> Scenario:
    """Temporary hands work at half their pace in the week in which they are new."""
    return replace(with_two_weeks(), pace_by_week=(WeekPace("hands", 1, 0.5),))


def with_guaranteed_hours() -> Scenario:
    """Ten hours a week for each of two hands; the second week has two of five working days."""
    scenario = with_two_weeks()
    return replace(scenario, crews=(replace(CREW, guaranteed_hours_per_head_week=10.0),))


def with_called_hands() -> Scenario:
    """Temporary hands hired by the day, three days a week or more; each may work 1.5 h longer."""
    changes = {"temp_days_least": 3, "temp_overtime_hours_per_head_day": 1.5}
    return replace(with_two_weeks(), crews=(replace(CREW, **changes),))


def with_offer() -> Scenario:
    """Orders that may be declined, one in part, and an offer of 10 to 25 plants on Thursdays and Fridays."""
    scenario = grafted()
    spring = replace(scenario.orders[0], price=2.0, decline=Decline.PART)
    offer = BuyInOffer("neighbour", "plant", 0.9, 1, ("Thu", "Fri"), None, None, 10, 25)
    second = Order("summer", "customer", "plant", 12, _day(4), 2.0, decline=Decline.WHOLE)
    return replace(scenario, orders=(spring, second), buy_in_offers=(offer,))


def with_wave_cost() -> Scenario:
    """A wave costs 25 to sow, and 5 plants left over could be sold."""
    scenario = with_salvage()
    return replace(scenario, nursery=replace(scenario.nursery, wave_cost=25.0))


def with_least_batch() -> Scenario:
    """A day's splicing is at least 40 joins, and 5 plants left over could be sold."""
    return replace(with_salvage(), methods=(replace(SPLICE, least_batch=40),))


def with_run() -> Scenario:
    """25 plants in 3 trays leave on Thursday or, late, on Saturday, 2 trays a vehicle; 12 are fetched."""
    scenario = grafted()
    spring = replace(scenario.orders[0], quantity=25, price=2.0, late_days_most=2, late_discount=0.1)
    neighbour = BuyInOffer("neighbour", "plant", 0.9, 1, WEEKDAYS, None, None, 0, None)
    return replace(
        scenario,
        nursery=replace(scenario.nursery, last_day=_day(6)),
        orders=(spring, replace(spring, order="summer", quantity=12, customer="other")),
        customers=(Customer("customer", run="coast"),),
        runs=(Run("coast", ("Thu", "Sat"), 40.0, 0.5, 2, 2),),
        buy_in_offers=(neighbour,),
    )


def with_run_in_whole_trays() -> Scenario:
    """The same; 25 plants leave as 30, in whole trays."""
    scenario = with_run()
    return replace(scenario, nursery=replace(scenario.nursery, whole_trays_to_customer=True))


def with_supplies() -> Scenario:
    """Clips per join and labels per plant and per tray, beside the seed."""
    return replace(
        grafted(),
        supplies=(Supply("clip", "clip", 500.0, 3), Supply("label", "label", 0.0, 1)),
        supply_uses=(
            SupplyUse("clip", Per.JOIN, None, None, 2.0),
            SupplyUse("label", Per.TRAY_SOWN, None, None, 1.0),
            SupplyUse("label", Per.PLANT_DELIVERED, None, None, 0.5),
        ),
        packs=(*grafted().packs, Pack("clip", 250, 8.0), Pack("label", 50, 3.0)),
    )


def with_returns() -> Scenario:
    """Half of the clips are back and washed the day after a join; no new ones come before day 1."""
    clips = Supply("clip", "clip", 20.0, 1, 0.5, 1)
    grown = grafted()
    return replace(
        grown,
        supplies=(clips,),
        supply_uses=(SupplyUse("clip", Per.JOIN, None, None, 2.0),),
        packs=(*grown.packs, Pack("clip", 10, 1.0)),
    )


def with_spread() -> Scenario:
    """At most 2 of 5 plants of "spring" from one graft day; "summer", of 12, may all come from one."""
    scenario = grafted()
    spring = replace(scenario.orders[0], most_share_of_one_day=0.4)
    summer = replace(spring, order="summer", quantity=12, most_share_of_one_day=1.0)
    nursery = replace(scenario.nursery, most_share_of_one_day=0.9)
    return replace(scenario, nursery=nursery, orders=(spring, summer))


def with_spread_over_lots() -> Scenario:
    """At most half of 30 plants from one lot; the scion has two, the margin is a tenth."""
    scenario = grafted()
    bottom, top = scenario.seed_lots
    spring = replace(scenario.orders[0], most_share_of_one_lot=0.5)
    lots = bottom, top, replace(top, lot="crown")
    return replace(scenario, orders=(spring,), seed_lots=lots)


def with_spread_over_units() -> Scenario:
    """At most .4 of 30 plants in one unit of 5 slots; units are loaded for 2 days."""
    scenario = with_units()
    return replace(scenario, orders=(replace(scenario.orders[0], most_share_of_one_unit=0.4),))


def with_sowing_margins() -> Scenario:
    """Margins of sowing at the level .9, for an order of one plant and one of three."""
    scenario = grafted()
    one, three = (
        replace(scenario.orders[0], order=name, quantity=n) for name, n in (("one", 1), ("three", 3))
    )
    nursery = replace(scenario.nursery, sowing_policy=SowingPolicy.LEVEL, service_level=0.9)
    return replace(scenario, nursery=nursery, orders=(one, three))


def with_two_lots() -> Scenario:
    """An order of one lot; scion lots "top" and "crown" are kept apart in chamber and holding."""
    scenario = grafted()
    bottom, top = scenario.seed_lots
    rule = Apart(GroupBy.LOT, "top", GroupBy.LOT, "crown", Shared.ZONE, "chamber", 1)
    return replace(
        scenario,
        orders=(replace(scenario.orders[0], one_lot=True),),
        seed_lots=(bottom, top, replace(top, lot="crown")),
        apart=(rule, replace(rule, zone="hold", cleaning_days=0)),
    )


def with_two_lots_in_units() -> Scenario:
    """Scion lots "top" and "crown" may not share one of the 2 units of the chamber."""
    scenario, rooms = with_two_lots(), with_units()
    rule = replace(scenario.apart[0], share=Shared.UNIT, cleaning_days=0)
    return replace(scenario, zones=rooms.zones, apart=(rule,))


def two_ways() -> Scenario:
    """One plant on day 4, made on-tray or root-cut, the latter with take .5; surplus could be sold."""
    scenario = three_kinds()
    splice, cut, _ = scenario.methods
    plant, other, _ = scenario.products
    nursery = replace(scenario.nursery, margin_policy=MarginPolicy.LEVEL, service_level=0.9)
    return replace(
        scenario,
        nursery=nursery,
        orders=(replace(scenario.orders[0], quantity=1),),
        products=(
            replace(plant, salvage_price=0.5, salvage_most=5),
            replace(other, sold_as=plant.product),
        ),
        methods=(splice, replace(cut, take=0.5)),
        stages=tuple(row for row in scenario.stages if row.method in (splice.method, cut.method)),
    )


def with_places_to_germinate() -> Scenario:
    """Rootstocks may germinate in a cabinet or, for a day more, on the bench; three days are too many."""
    rows = ("cabinet", None), ("bench", 2), ("shelf", 3)
    scenario = grafted()
    more = (_pool(zone, ZoneUse.GERMINATION, 3.0) for zone in ("cabinet", "shelf"))
    return replace(
        scenario,
        zones=(*scenario.zones, *more),
        germination_zones=tuple(GerminationZone("bottom", zone, days) for zone, days in rows),
    )


SCENARIOS: dict[str, Callable[[], Scenario]] = {
    "seedlings": grafted,
    "bench_trays": grafted,
    "trays_elsewhere": with_places_to_germinate,
    "flow_joins": grafted,
    "flow_trays": three_kinds,
    "whole_trays_loaded": with_whole_trays,
    "whole_trays_finishing": with_whole_trays,
    "spare_seedlings": with_sowing_margins,
    "flow_healed": grafted,
    "take": grafted,
    "day_share": with_spread,
    "parts_of_lots": with_spread_over_lots,
    "lot_share": with_spread_over_lots,
    "plants_of_lots": with_spread_over_lots,
    "salvage": with_salvage,
    "order": with_offer,
    "slots": with_module,
    "unit_loads": with_units,
    "unit_room": with_units,
    "units_busy": with_units,
    "parts_in_units": with_spread_over_units,
    "unit_share": with_spread_over_units,
    "plants_in_units": with_spread_over_units,
    "bay_room": with_bays,
    "skill_hours": with_machine,
    "crew_hours": with_two_weeks,
    "week_hours": with_two_weeks,
    "temporary_new": with_two_weeks,
    "temporary_stayed": with_pace_by_week,
    "temporary_hours": with_two_weeks,
    "temporary_overtime_most": with_called_hands,
    "temporary_week_hours": with_called_hands,
    "called_most": with_called_hands,
    "called_least": with_called_hands,
    "guaranteed_hours": with_guaranteed_hours,
    "skill_limits": with_skill_limit,
    "temporary_skill_limits": with_skill_limit,
    "piece_hours": with_packing_rate,
    "piece_work": with_piece_rate,
    "buy_in_quantity": with_offer,
    "waves_sown": with_wave_cost,
    "least_batches": with_least_batch,
    "run_room": with_run,
    "whole_trays_riding": with_run_in_whole_trays,
    "run_vehicles": with_run,
    "stock": with_supplies,
    "packs": with_supplies,
    "packs_out": with_returns,
    "groups_in_flows": with_two_lots,
    "groups_in_places": with_two_lots,
    "groups_apart": with_two_lots,
    "units_apart": with_two_lots_in_units,
    "one_lot": with_two_lots,
    "plants_of_one_lot": with_two_lots,
}
