"""A small scenario whose plan has every cost line, and names that would be formulas if they were not text."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from model.planned.plan_tables import Plan
from model.proof.audit import Check
from model.scenario.about_cells import Remark
from model.scenario.choices import (
    Decline,
    GroupBy,
    MethodKind,
    OverheadKind,
    OverheadRule,
    Part,
    PayBasis,
    Per,
    Period,
    Shared,
    Task,
    ZoneUse,
)
from model.scenario.entities import DayOff, Order, Product, Scenario, ZoneDay
from model.scenario.records.kept_apart import Apart
from model.scenario.records.methods import Stage
from model.scenario.records.overheads import Overhead
from model.scenario.records.people import CrewDay, LabourStandard
from model.scenario.records.rooms import Bays
from model.scenario.records.trade import BuyInOffer, Customer, Inquiry, Module, Pack, Run, Supply, SupplyUse
from model.solve import plan
from tests.scenario_parts import crew, day, lot, method, order, pool
from tests.strategies import base_scenario

HOSTILE = (
    '=HYPERLINK("http://example.invalid","x")',
    "+1+1",
    "-2",
    "@SUM(A1)",
    "=cmd|' /C calc'!A0",
    "&[File] & {braces} %s",
)
"""Names of customer, order, supply, product, zone and nursery."""

CUSTOMER, ORDER, SUPPLY, PRODUCT, ZONE, NURSERY = HOSTILE
RUN = "=coast"


CHECKS = (Check("stock", True, "nothing below 0", 0.0), Check("slots", True, "=1+1 is text", 1e-9))
REMARKS = (
    Remark("methods", 2, "splice", "take", "0.8", "take is above 0.7, the highest published", "+a source"),
    Remark("orders", 3, "early", "quantity", "60", "a small order"),
)


def report_scenario() -> Scenario:
    """Three weeks: orders grafted, bought in, short, late and own-root; two crews, one committed."""
    base = base_scenario()
    grafters = crew(
        "Grafters",
        "graft",
        heads=1.0,
        hours_per_head_day=0.5,
        temp_heads_most=2,
        temp_pay_per_hour=17.0,
        temp_pace=0.8,
        temp_training_days=1,
        temp_training_cost=3.0,
        overtime_hours_per_head_day=0.25,
        overtime_pay_per_hour=31.5,
        guaranteed_hours_per_head_week=2.0,
    )
    growers = crew(
        "Growers", "grow", heads=1.0, pay_basis=PayBasis.COMMITTED, overtime_hours_per_head_day=1.0
    )
    helpers = crew("Helpers", "help", overtime_hours_per_head_day=1.0, heads=0.125)
    healing = [replace(stage, zone=ZONE) if stage.zone == "Chamber" else stage for stage in base.stages]
    return replace(
        base,
        nursery=replace(
            base.nursery,
            name=NURSERY,
            last_day=day(27),
            working_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"),
            wave_cost=3.0,
            overhead=100.0,
            interest_rate=0.08,
            graft_margin=0.05,
            terms_days=10,
            deposit_share=0.25,
            deposit_days=21,
            opening_balance=-20.0,
            overdraft_rate=0.09,
        ),
        customers=(Customer(CUSTOMER, terms_days=3, deposit_share=0.5, run=RUN),),
        runs=(Run(RUN, ("Wed",), 14.0, 0.25, 6),),
        orders=(
            Order(ORDER, CUSTOMER, PRODUCT, 100, day(16), 1.5, cancel_chance=0.2, note="note"),
            order("early", PRODUCT, 60, 3),
            order("bought", "Blue on Stout", 40, 17, price=2.0),
            order("own", "Red own-root", 30, 18, shortfall_penalty=9.0, ordered_day=day(1)),
            order("tardy", "Red own-root", 4, 3, price=0.7, late_days_most=14, late_discount=0.1),
            order("cheap", "Red own-root", 20, 18, price=0.05, decline=Decline.WHOLE),
        ),
        inquiries=(
            Inquiry(ORDER, CUSTOMER, PRODUCT, 40, day(16), 1.4, 0.6),
            Inquiry("more", CUSTOMER, PRODUCT, 10, day(16), 1.5, 0.5, ORDER),
        ),
        products=(
            Product(PRODUCT, "tomato", "Red", "Stout", "splice", "ten", ("twenty",), (), 0.2, 1000),
            Product("Blue on Stout", "tomato", "Blue", "Stout", "splice", "ten", ("twenty",)),
            Product("Red own-root", "tomato", "Red", None, "own", "ten", (), (), 2.5, 20),
        ),
        seed_lots=(*base.seed_lots, lot("Blue A", "Blue", stock=0, lead_days=26)),
        methods=(*(replace(row, least_batch=12) for row in base.methods), method("own", MethodKind.OWN_ROOT)),
        stages=(*healing, Stage("own", 1, "hard", Part.FINISHING, "House", 3)),
        zones=(
            pool("Warm room", ZoneUse.GERMINATION, 1000.0, 0.01),
            pool("Bench", ZoneUse.BENCH, 1000.0, 0.02),
            pool(ZONE, ZoneUse.HEALING, 8.0, 0.1),
            pool("House", ZoneUse.FINISHING, 1000.0, 0.03),
        ),
        bays=(Bays("House", day(-1), 4.0, 5.0), Bays("House", day(16), None, 6.5)),
        zone_days=(ZoneDay("Bench", day(7), None, None, 0.025),),
        crews=(grafters, growers, helpers),
        crew_days=(CrewDay("Helpers", day(8), None, 21.0),),
        labour_standards=(
            LabourStandard(Task.GRAFT, "graft", None, None, 20.0, "cutter"),
            LabourStandard(Task.GRAFT, "graft", None, None, 40.0, "=joiner"),
            LabourStandard(Task.SOW, "grow", None, None, 120.0),
            LabourStandard(Task.PACK, "help", None, None, 45.0),
            LabourStandard(Task.TEND, "grow", None, None, 5.0),
        ),
        days_off=(DayOff(day(9), "fair"),),
        supplies=(Supply(SUPPLY, "clips", 20.0, 2), Supply("media", "L", 0.0, 0)),
        supply_uses=(
            SupplyUse(SUPPLY, Per.JOIN, None, None, 1.0),
            SupplyUse("media", Per.TRAY_SOWN, None, None, 2.5),
        ),
        packs=(
            *base.packs,
            Pack("Red A", 50.0, 21.35),
            Pack("Blue A", 100.0, 12.0),
            Pack(SUPPLY, 50.0, 3.33),
            Pack("media", 10.0, 2.49, 5),
        ),
        buy_in_offers=(
            BuyInOffer("offer", "Blue on Stout", 1.15, 5, ("Tue", "Wed"), None, None, 10, None, 6),
        ),
        overheads=(
            Overhead("rent", 30.0, Period.MONTH, shared_by=OverheadRule.PLANTS),
            Overhead("overdraft", 12.5, kind=OverheadKind.INTEREST, paid_day=day(9)),
            Overhead("houses", 520.0, Period.YEAR, OverheadKind.DEPRECIATION, OverheadRule.HOURS),
        ),
        apart=(Apart(GroupBy.CUSTOMER, CUSTOMER, GroupBy.LOT, "Blue A", Shared.GRAFT_DAY, None, 1, "note"),),
        modules=(Module("shelf", ZONE, 2.0, 1, 500.0, 50.0, 10),),
    )


@cache
def report_plan() -> Plan:
    """The plan of ``report_scenario``."""
    return plan(report_scenario())
