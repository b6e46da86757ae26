"""A scenario for each feature, so small that its integer program is solved to the proved optimum at once."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from model.scenario.choices import (
    MarginPolicy,
    MatchFrom,
    MethodKind,
    Part,
    PayBasis,
    Per,
    SowingPolicy,
    Task,
    TaskPer,
    ZoneUse,
)
from model.scenario.entities import DayOff, Product, Scenario, ZoneDay
from model.scenario.records.methods import AgeEffect, Stage
from model.scenario.records.past import PlantsOnHand, TraysOnHand
from model.scenario.records.people import (
    CrewDay,
    OwnTask,
    PieceRate,
    Practice,
    Shift,
    SkillLimit,
    WeekPace,
)
from model.scenario.records.rooms import GerminationZone, StageZone
from model.scenario.records.trade import BuyInOffer, Module, Pack, Supply, SupplyUse
from tests.drawn_rows import (
    RIDES,
)
from tests.scenario_parts import (
    BAYS,
    IN_UNITS,
    ROOT_CUT,
    TWO_LOTS,
    TWO_WAYS,
    WEEK,
    WORK,
    crew,
    day,
    in_roles,
    lot,
    method,
    order,
    pool,
    units,
)
from tests.strategies import OVERHEADS, base_scenario, with_nursery

OWN_ROOT: dict[str, Any] = {
    "orders": (order("O-1", "Red plain", 100, 16),),
    "products": (Product("Red plain", "tomato", "Red", None, "plain", "ten"),),
    "methods": (method("plain", MethodKind.OWN_ROOT),),
    "stages": (Stage("plain", 1, "grow", Part.FINISHING, "House", 4),),
}
HANDS = (
    crew("Growers", "general", overtime_hours_per_head_day=2.0, overtime_pay_per_hour=30.0),
    crew("Grafters", "grafting", heads=1.0, pay_per_hour=25.0, pace=1.2),
)


def _specimens() -> dict[str, Scenario]:
    base = base_scenario()
    two = (order("O-1", "Red on Stout", 60, 15), order("O-2", "Red on Stout", 90, 17))
    chamber = (*base.zones[:2], pool("Chamber", ZoneUse.HEALING, 6.0, 0.5), base.zones[3])
    in_units = (*base.zones[:2], units("Chamber", 1, 8.0, 2, 0.3), base.zones[3])
    temporary = replace(
        HANDS[1],
        heads=0.25,
        temp_heads_most=3,
        temp_pay_per_hour=18.0,
        temp_pace=0.8,
        temp_training_days=2,
        temp_training_cost=100.0,
    )
    offer = BuyInOffer("Neighbour", "Red on Stout", 3.0, 5, ("Tue", "Thu"), None, day(15), 30, 80)
    stems = {
        "diameter_start_mm": 0.5,
        "diameter_growth_mm_per_day": 0.3,
        "diameter_spread_mm": 0.2,
        "diameter_spread_growth_mm_per_day": 0.02,
    }
    weekdays = with_nursery(base, working_weekdays=WEEK[:5])
    return {
        "on-tray": base,
        "own-root": replace(base, **OWN_ROOT),
        "root-cut": replace(base, **ROOT_CUT),
        "two ways": replace(
            base,
            **TWO_WAYS,
            zones=(*chamber, pool("Tunnel", ZoneUse.HEALING, 12.0, 0.05)),
        ),
        "work": replace(weekdays, labour_standards=WORK, crews=HANDS, days_off=(DayOff(day(9)),)),
        "trays on hand": replace(
            weekdays,
            orders=(order("O-1", "Red on Stout", 60, 9), two[1]),
            labour_standards=WORK,
            crews=HANDS,
            zones=chamber,
            trays_on_hand=(
                TraysOnHand("Red A", "twenty", day(-2), 3, 51),
                TraysOnHand("Stout A", "ten", day(-4), 4),
                TraysOnHand("Stout A", "ten", day(-3), 9, 85),
            ),
        ),
        "plants on hand": replace(
            weekdays,
            orders=(order("O-0", "Red on Stout", 30, 3), *two),
            labour_standards=WORK,
            crews=HANDS,
            plants_on_hand=(
                PlantsOnHand("Red on Stout", day(-6), 25, "Red A", day(-10), "Stout A", day(-11)),
                PlantsOnHand("Red on Stout", day(-4), 40, "Red A", day(-8), "Stout A", day(-9)),
            ),
        ),
        "own tasks": replace(
            weekdays,
            labour_standards=WORK,
            crews=HANDS,
            orders=two,
            supplies=(Supply("Clips", "clip", 20.0, 3),),
            packs=(*base.packs, Pack("Clips", 80.0, 4.0)),
            own_tasks=(
                OwnTask("drench", "germination", TaskPer.TRAY, 1, None, None, "Red A", None, "general", 30.0),
                OwnTask("turn", "bench", TaskPer.PLANT, 2, skill="general", seconds=2.0),
                OwnTask(
                    "second clip",
                    "ramp",
                    TaskPer.JOIN,
                    1,
                    "splice",
                    skill="grafting",
                    seconds=6.0,
                    supply="Clips",
                    quantity=1.0,
                ),
                OwnTask("spray", "hard", TaskPer.TRAY, None, skill="general", seconds=15.0),
                OwnTask("label", "holding", TaskPer.PLANT, 1, supply="Clips", quantity=0.5),
            ),
        ),
        "supplies that come back": replace(
            weekdays,
            labour_standards=WORK,
            crews=HANDS,
            orders=two,
            supplies=(
                Supply("Clips", "clip", 10.0, 3, 0.9, 3, 20.0, "general"),
                Supply("Crates", "crate", 9.0, 0, 0.8, 1),
            ),
            supply_uses=(
                SupplyUse("Clips", Per.JOIN, None, None, 1.0),
                SupplyUse("Crates", Per.TRAY_SOWN, None, None, 0.5),
            ),
            packs=(*base.packs, Pack("Clips", 40.0, 4.0), Pack("Clips", 12.0, 2.0)),
        ),
        "skill limits": replace(
            with_nursery(weekdays, change_over_seconds=900.0, change_over_skill="general"),
            orders=two,
            labour_standards=WORK,
            crews=(HANDS[0], replace(temporary, heads=0.5)),
            skill_limits=(SkillLimit("grafting", None, 3.0), SkillLimit("general", "Growers", 5.0)),
        ),
        "machines": replace(
            weekdays,
            orders=two,
            labour_standards=WORK,
            crews=(
                *HANDS,
                crew(
                    "Grafting machine",
                    "grafting",
                    hours_per_head_day=1.0,
                    pay_per_hour=15.0,
                    pace=3.0,
                    attendants=1.5,
                    attendant_skill="general",
                    supply="Clips",
                    supply_per_hour=100.0,
                ),
            ),
            supplies=(Supply("Clips", "clip", 20.0, 3),),
            packs=(*base.packs, Pack("Clips", 80.0, 0.5)),
            crew_days=(CrewDay("Grafting machine", day(10), 0.0),),
            modules=(Module("Second machine", None, None, 1, 400.0, 50.0, 6, "Grafting machine"),),
        ),
        "piece rates": replace(
            weekdays,
            orders=two,
            labour_standards=in_roles(WORK, Task.GRAFT),
            crews=(
                *HANDS,
                crew("Joiners", "grafting", "general", heads=1.0, hours_per_head_day=2.0, pay_per_hour=12.0),
            ),
            piece_rates=(
                PieceRate("Joiners", Task.GRAFT, None, None, 0.2),
                PieceRate("Joiners", Task.GRAFT, "splice", "ten", 0.3, "cutter"),
                PieceRate("Joiners", Task.PACK, None, None, 0.01),
                PieceRate("Joiners", Task.PACK, "splice", None, 0.06),
            ),
        ),
        "guaranteed hours": replace(
            weekdays,
            labour_standards=WORK,
            crews=(HANDS[0], replace(HANDS[1], guaranteed_hours_per_head_week=12.0)),
            crew_days=(CrewDay("Grafters", day(9), 2.0, 28.0),),
            days_off=(DayOff(day(8)),),
        ),
        "shifts": replace(
            weekdays,
            orders=two,
            labour_standards=WORK,
            crews=(HANDS[0], replace(temporary, temp_trainer_hours=1.5, guaranteed_hours_per_head_week=6.0)),
            crew_days=(CrewDay("Grafters", day(10), temp_pay_per_hour=15.0),),
            shifts=(
                Shift("Growers", ("Thu", "Sat"), 5.0),
                Shift("Grafters", ("Mon", "Fri"), 4.0),
                Shift("Grafters", ("Wed",), 0.0),
            ),
        ),
        "practice": replace(
            weekdays,
            orders=(two[0], replace(two[1], quantity=300, due_day=day(19))),
            labour_standards=WORK,
            crews=(HANDS[0], temporary),
            zones=tuple(replace(zone, cost_per_slot_day=0.05) for zone in base.zones),
            supplies=(Supply("Clips", "clip", 20.0, 1, 0.5, 2, 10.0, "general"),),
            supply_uses=(
                SupplyUse("Clips", Per.JOIN, None, None, 1.0),
                SupplyUse("Clips", Per.TRAY_SOWN, None, None, 1.0),
            ),
            packs=(*base.packs, Pack("Clips", 50.0, 4.0)),
            practice=(
                Practice("Grafters", "Stout A", "ten", 2.0, 5),
                Practice("Grafters", "Red A", "twenty", 0.5, 3),
                Practice("Grafters", "Clips", None, 20.0, 0),
            ),
        ),
        "pace by week": replace(
            weekdays,
            orders=(two[0], replace(two[1], quantity=300, due_day=day(19))),
            labour_standards=WORK,
            crews=(HANDS[0], replace(temporary, temp_overtime_hours_per_head_day=1.0)),
            pace_by_week=(WeekPace("Grafters", 1, 0.5), WeekPace("Grafters", 2, 0.8)),
        ),
        "hands by the day": replace(
            weekdays,
            orders=two,
            labour_standards=WORK,
            crews=(
                HANDS[0],
                replace(
                    temporary,
                    heads=0.05,
                    hours_per_head_day=6.0,
                    temp_days_least=2,
                    temp_overtime_hours_per_head_day=2.0,
                    temp_overtime_pay_per_hour=21.0,
                    week_hours_per_head=26.0,
                ),
                replace(
                    temporary,
                    crew="Students",
                    heads=0.0,
                    temp_overtime_hours_per_head_day=1.0,
                    temp_training_days=1,
                    temp_training_cost=0.0,
                ),
            ),
            crew_days=(
                CrewDay("Grafters", day(9), temp_pay_per_hour=16.0),
                CrewDay("Students", day(7), temp_overtime_pay_per_hour=24.0),
            ),
            days_off=(DayOff(day(8)),),
        ),
        "bays": replace(
            weekdays,
            orders=two,
            zones=tuple(replace(zone, cost_per_slot_day=0.05) for zone in base.zones),
            bays=BAYS,
            labour_standards=WORK,
            crews=HANDS,
        ),
        "tight chamber": replace(
            base,
            orders=two,
            zones=chamber,
            zone_days=(ZoneDay("Chamber", day(9), 9.0, None, 0.25), ZoneDay("Chamber", day(11), 5.0)),
            methods=(method("splice", MethodKind.ON_TRAY, consolidate=True),),
        ),
        "whole trays": replace(
            with_nursery(base, whole_trays_to_customer=True),
            orders=(order("O-1", "Red on Stout", 57, 15), order("O-2", "Red on Stout", 84, 17)),
            zones=chamber,
            methods=(method("splice", MethodKind.ON_TRAY, consolidate=True),),
        ),
        "units": replace(
            with_nursery(base, interest_rate=0.08),
            orders=two,
            zones=in_units,
            modules=(Module("Rack", "Chamber", 8.0, 1, 900.0, 100.0, 8),),
        ),
        "overheads": replace(base, orders=two, overheads=OVERHEADS),
        "temporary hands": replace(weekdays, orders=two, labour_standards=WORK, crews=(HANDS[0], temporary)),
        "buy-in": replace(base, orders=two, zones=chamber, buy_in_offers=(offer,)),
        "runs": replace(base, **RIDES),
        "salvage": replace(
            base, products=(replace(base.products[0], salvage_price=4.0, salvage_most=40),), zones=chamber
        ),
        "wave cost": replace(with_nursery(base, wave_cost=12.0), orders=two),
        "least batch": replace(
            base,
            orders=(order("O-1", "Red on Stout", 60, 13), order("O-2", "Red on Stout", 90, 18)),
            methods=(method("splice", MethodKind.ON_TRAY, least_batch=100),),
        ),
        "packs": replace(
            base,
            seed_lots=(
                lot("Red A", "Red", stock=50, seeds_per_cell=2),
                lot("Stout A", "Stout", stock=120, lead_days=6),
            ),
            packs=(
                Pack("Red A", 100.0, 30.0),
                Pack("Red A", 500.0, 110.0),
                Pack("Stout A", 50.0, 20.0),
                Pack("Clips", 80.0, 4.0),
            ),
            supplies=(Supply("Clips", "clip", 20.0, 3),),
            supply_uses=(
                SupplyUse("Clips", Per.JOIN, None, None, 1.0),
                SupplyUse("Clips", Per.TRAY_SOWN, None, "twenty", 2.0),
                SupplyUse("Clips", Per.PLANT_DELIVERED, "splice", None, 0.5),
            ),
        ),
        "level": with_nursery(
            replace(base, orders=(order("O-1", "Red on Stout", 60, 15, service_level=0.99), two[1])),
            margin_policy=MarginPolicy.LEVEL,
            sowing_margin=0.05,
        ),
        "spread": with_nursery(
            replace(
                base,
                orders=(replace(two[0], most_share_of_one_day=0.4), replace(two[1], most_share_of_one_lot=1)),
                seed_lots=TWO_LOTS["seed_lots"],
                zones=in_units,
            ),
            most_share_of_one_day=0.7,
            most_share_of_one_lot=0.6,
            most_share_of_one_unit=0.5,
        ),
        "own margins": with_nursery(
            replace(
                base,
                orders=(order("O-1", "Red on Stout", 60, 15, graft_margin=0.3), two[1]),
                seed_lots=(
                    lot("Red A", "Red", germination=0.8, sowing_margin=0.25),
                    lot("Stout A", "Stout", germination=0.9, seeds_per_cell=2, germination_correlation=0.02),
                ),
            ),
            sowing_policy=SowingPolicy.LEVEL,
        ),
        "priced": with_nursery(
            replace(
                base,
                orders=(order("O-1", "Red on Stout", 60, 15, shortfall_penalty=9.0), two[1]),
                methods=(method("splice", MethodKind.ON_TRAY, take=0.8, take_correlation=0.02),),
                seed_lots=tuple(replace(row, germination=0.9) for row in base.seed_lots),
            ),
            margin_policy=MarginPolicy.PRICED,
            sowing_policy=SowingPolicy.LEVEL,
            plant_cost=1.5,
        ),
        "zones chosen": replace(
            weekdays,
            orders=two,
            zones=(*chamber, pool("Tunnel", ZoneUse.HEALING, 7.0, 0.2)),
            labour_standards=WORK,
            crews=HANDS,
            stage_zones=(
                StageZone("splice", "dark", "Tunnel", 3, 0.75, 1.5, 0.1),
                StageZone("splice", "ramp", "Tunnel"),
                StageZone("splice", "hard", "Bench", 1, None, 1.2),
            ),
        ),
        "places to wait in": replace(
            weekdays,
            orders=(order("O-1", "Red on Stout", 60, 15), order("O-2", "Red on Stout", 90, 18)),
            methods=(method("splice", MethodKind.ON_TRAY, scion_age_max=3, rootstock_age_max=4),),
            zones=(
                *base.zones[:3],
                pool("House", ZoneUse.FINISHING, 1000.0, 3.0),
                pool("Store", ZoneUse.HOLDING, 4.0, 0.1),
            ),
            labour_standards=WORK,
            crews=HANDS,
            stage_zones=(StageZone("splice", "holding", "Store", care=1.5, cost_per_tray=0.2),),
        ),
        "places to germinate": replace(
            weekdays,
            orders=two,
            zones=(
                pool("Warm room", ZoneUse.GERMINATION, 9.0, 0.1),
                pool("Cabinet", ZoneUse.GERMINATION, 3.0, 0.05),
                pool("Bench", ZoneUse.BENCH, 1000.0, 0.3),
                *base.zones[2:],
            ),
            labour_standards=WORK,
            crews=HANDS,
            germination_zones=(
                GerminationZone("Red A", "Bench", 3, 1.5),
                GerminationZone("Stout A", "Cabinet", 1, 0.0, 0.2),
                GerminationZone("Stout A", "Bench", None, 1.2),
            ),
        ),
        "kept apart in units": replace(
            base,
            orders=(two[0], replace(two[1], customer="Shop")),
            zones=in_units,
            **TWO_LOTS | {"apart": tuple(replace(row, **IN_UNITS) for row in TWO_LOTS["apart"])},
        ),
        "kept apart": replace(
            base,
            orders=(replace(two[0], one_lot=True), replace(two[1], customer="Shop")),
            **TWO_LOTS,
        ),
        "ages": replace(
            base,
            methods=(method("splice", MethodKind.ON_TRAY, match_from=MatchFrom.AGES, match=None),),
            age_effects=(
                AgeEffect("splice", 4, 3, 0.8, 0.9),
                AgeEffect("splice", 5, 3, 0.9, 0.82),
                AgeEffect("splice", 5, 4, 0.95, 0.7),
            ),
        ),
        "diameters": replace(
            base,
            seed_lots=tuple(replace(row, stock=10, **stems) for row in base.seed_lots),
            methods=(
                method(
                    "splice",
                    MethodKind.ON_TRAY,
                    match_from=MatchFrom.DIAMETERS,
                    match=None,
                    stem_tolerance_mm=0.1,
                ),
            ),
        ),
        "committed": replace(
            weekdays,
            orders=two,
            labour_standards=WORK,
            crews=(
                replace(HANDS[0], pay_basis=PayBasis.COMMITTED, week_hours_per_head=20.0),
                replace(HANDS[1], heads=0.5, overtime_hours_per_head_day=3.0),
            ),
            crew_days=(
                CrewDay("Growers", day(8), 1.5, 22.0),
                CrewDay("Grafters", day(7), 1.0, None),
                CrewDay("Grafters", day(9), None, 28.0),
            ),
        ),
    }


SPECIMENS: dict[str, Scenario] = _specimens()
"""A scenario for each feature, by name."""
