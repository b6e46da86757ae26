"""Groups kept apart: small seasons whose best plan is plain, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from model.planned.jobs import jobs_of
from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.scenario.choices import GroupBy, Health, MethodKind, Per, Shared
from model.scenario.entities import Scenario
from model.scenario.records.kept_apart import Apart
from model.scenario.records.past import TraysOnHand
from model.scenario.records.trade import Supply, SupplyUse
from model.season.as_planned import as_planned
from model.solve import plan
from scenarios.studies.compare import measured
from tests.scenario_parts import day, lot, method, order, units
from tests.specimens import HANDS
from tests.strategies import base_scenario

CUSTOMERS = GroupBy.CUSTOMER, "Market farm", GroupBy.CUSTOMER, "Shop"
TABLE = Apart(*CUSTOMERS, Shared.GRAFT_DAY)


def two_customers(*rules: Apart, holding: int = 0) -> Scenario:
    """An order of 100 and one of 30, due on the same day; each day of holding is one more graft day."""
    small = order("O-2", "Red on Stout", 30, 16, customer="Shop")
    return base_scenario(
        orders=(base_scenario().orders[0], small),
        methods=(method("splice", MethodKind.ON_TRAY, holding_limit_days=holding, take=1.0, match=1.0),),
        apart=rules,
    )


def by_order(made: Plan, name: str) -> dict[str, float]:
    """A column of the plan's orders."""
    return dict(rows_of(made.orders, "order", name))


def test_one_graft_day_for_two_customers_leaves_the_smaller_order_short() -> None:
    """Without holding there is one graft day: one customer has it, and 30 plants at 50 are missing."""
    assert by_order(plan(two_customers()), "short") == {"O-1": 0, "O-2": 0}
    made = plan(two_customers(TABLE))
    assert by_order(made, "short") == {"O-1": 0, "O-2": 30}
    why = dict(rows_of(made.orders, "order", "short_because"))["O-2"]
    rule = "customer Market farm and customer Shop on a graft day no longer kept apart"
    assert why == f"least relief: {rule}"
    alone = two_customers()
    alone = replace(alone, orders=alone.orders[:1])
    assert made.cost == pytest.approx(plan(alone).cost + 30 * 50)


@pytest.mark.parametrize("cleaning, short", [(0, 0), (1, 0), (2, 30), (3, 30)])
def test_days_of_cleaning_between_two_graft_days(cleaning: int, short: int) -> None:
    """Three graft days in a row, the first and the third with one day between them."""
    made = plan(two_customers(replace(TABLE, cleaning_days=cleaning), holding=2))
    assert by_order(made, "short") == {"O-1": 0, "O-2": short}
    rests = [
        days for what, *days in rows_of(made.kept_apart, "what", "from_day", "to_day") if what == "cleaning"
    ]
    assert [(end - start).days for start, end in rests] == ([cleaning] if cleaning and not short else [])


LOTS = (
    lot("Red A", "Red", stock=64, germination=1.0, grade_out=0.0, health=Health.TESTED),
    lot("Red B", "Red", stock=46, germination=1.0, grade_out=0.0, health=Health.UNTESTED),
    lot("Stout A", "Stout", germination=1.0, grade_out=0.0),
)
HEALTHS = GroupBy.HEALTH, "tested", GroupBy.HEALTH, "untested"


@pytest.mark.parametrize("zone", ["Chamber", "House", "Bench", None])
def test_two_lots_that_may_not_meet_fill_what_the_better_one_can(zone: str | None) -> None:
    """No seed can be bought: 3 trays of 20 of "Red A", or 2 of "Red B". There is one graft day, so all plants

    stand together: only one lot is of use, 60 seedlings at .95.
    """
    scenario = replace(two_customers(holding=0), seed_lots=LOTS, packs=())
    both = plan(scenario)
    assert sum(by_order(both, "short").values()) == pytest.approx(130 - 95, abs=1)
    made = plan(replace(scenario, apart=(Apart(*HEALTHS, Shared.ZONE, zone),)))
    assert sum(by_order(made, "short").values()) == pytest.approx(130 - 57, abs=1)
    assert {name for (name,) in rows_of(made.waves, "variety") if name == "Red"} == {"Red"}
    assert {name for (name,) in rows_of(made.waves, "lot")} == {"Red A", "Stout A"}


@pytest.mark.parametrize("sold_as", [None, "Red on Stout"])
@pytest.mark.parametrize("number, short", [(2, 0), (1, 30)])
def test_two_customers_in_units_need_two_of_them(number: int, short: int, sold_as: str | None) -> None:
    """One unit has room for the 13 trays of both; kept apart, the smaller order needs one of its own.

    The second product may be another batch of the first: then both orders name the first.
    """
    base = two_customers()
    zones = tuple(units("Chamber", number, 20.0, 1) if z.zone == "Chamber" else z for z in base.zones)
    other = replace(base.products[0], product="Red again", sold_as=sold_as)
    orders = base.orders[0], replace(base.orders[1], product=other.ordered_as)
    loose = replace(base, zones=zones, products=(*base.products, other), orders=orders)
    together = plan(loose)
    assert by_order(together, "short") == {"O-1": 0, "O-2": 0}
    scenario = replace(loose, apart=(Apart(*CUSTOMERS, Shared.UNIT),))
    made = plan(scenario)
    assert by_order(made, "short") == {"O-1": 0, "O-2": short}
    assert all(check.passed for check in audit(scenario, made))
    found = {check.name: check.passed for check in audit(scenario, together)}
    assert not found["units are shared by no two groups kept apart"]
    why = dict(rows_of(made.orders, "order", "short_because"))["O-2"]
    assert why is None if not short else str(why).endswith("(groups are kept apart)")


def test_supplies_that_come_back_are_washed_by_whose_plants_they_were_on() -> None:
    """A clip for each of 106 and 32 joins of one graft day; nine of ten come back, to be washed apart."""
    base = two_customers()
    zones = tuple(units("Chamber", 2, 20.0, 1) if z.zone == "Chamber" else z for z in base.zones)
    batch = replace(base.products[0], product="Red again", sold_as="Red on Stout")
    clips = Supply("Clips", "clip", 500.0, 0, return_share=0.9, return_days=3)
    used = (SupplyUse("Clips", Per.JOIN, None, None, 1.0),)
    scenario = replace(
        base, products=(*base.products, batch), zones=zones, supplies=(clips,), supply_uses=used
    )

    def washed(*rules: Apart) -> list[str]:
        made = plan(replace(scenario, apart=rules))
        return [job.detail for job in jobs_of(made).values() if job.step.value == "wash"]

    apart = "; wash apart what was on customer Market farm (95), customer Shop (29)"
    assert washed(Apart(*CUSTOMERS, Shared.UNIT)) == [f"used {day(11)}{apart}"]
    alone = Apart(GroupBy.LOT, "Red A", GroupBy.CUSTOMER, "Nobody", Shared.UNIT)
    assert washed(alone) == [f"used {day(11)}; all were on seed lot Red A"]
    assert washed() == [f"used {day(11)}"]


@pytest.mark.parametrize("days", [9, 10, 12])
def test_a_new_rule_of_units_leaves_together_what_stands_together(days: int) -> None:
    """Units loaded for three days: those of before today stay as they are, later plants are kept apart."""
    base = two_customers(holding=3)
    zones = tuple(units("Chamber", 3, 12.0, 3) if z.zone == "Chamber" else z for z in base.zones)
    other = replace(base.products[0], product="Red again", crop="pepper")
    small = order("O-3", "Red again", 40, 18), order("O-4", "Red on Stout", 30, 18)
    orders = base.orders[0], replace(base.orders[1], product="Red again"), *small
    loose = replace(base, zones=zones, products=(*base.products, other), orders=orders)
    today = loose.nursery.first_day + timedelta(days=days)
    nursery = replace(loose.nursery, today=today)
    rule = Apart(GroupBy.CROP, "tomato", GroupBy.CROP, "pepper", Shared.UNIT)
    scenario = replace(loose, nursery=nursery, progress=as_planned(plan(loose), today), apart=(rule,))
    made = plan(scenario)
    assert all(check.passed for check in audit(scenario, made))
    assert sum(by_order(made, "short").values()) == 0
    later = {kept for opened, kept in rows_of(made.unit_batches, "open_day", "not_for") if opened >= today}
    assert later <= {"crop pepper", "crop tomato"}


def on_hand_together(zone: str | None) -> Scenario:
    """Three trays of one lot and two of the other, that may not share a zone, stand on the bench on day 0.

    No seed can be bought. Three trays give 57 plants, two 38; each lot has an order of its own size, the
    graft days of which are not the same.
    """
    base = two_customers()
    orders = order("O-1", "Red on Stout", 57, 6), order("O-2", "Red on Stout", 38, 7)
    scions = (replace(row, stock=0) for row in LOTS[:2])
    stood = (
        TraysOnHand("Red A", "twenty", day(-2), 3, 60),
        TraysOnHand("Red B", "twenty", day(-2), 2, 40),
        TraysOnHand("Stout A", "ten", day(-3), 10, 100),
    )
    rules = (Apart(*HEALTHS, Shared.ZONE, zone),)
    lots = (*scions, LOTS[2])
    return replace(base, orders=orders, seed_lots=lots, packs=(), trays_on_hand=stood, apart=rules)


@pytest.mark.parametrize("zone, short", [("Bench", 0), ("Chamber", 38), (None, 38)])
def test_what_stands_together_on_the_first_day_may_stay_together(zone: str | None, short: int) -> None:
    """Both lots stand on the bench, where neither is thrown away; into the chamber they come anew.

    Their days in it overlap, so that one of them alone may have it.
    """
    scenario = on_hand_together(zone)
    made = plan(scenario)
    assert sum(by_order(made, "short").values()) == pytest.approx(short, abs=1)
    assert all(check.passed for check in audit(scenario, made))


def test_new_plants_do_not_come_to_two_groups_that_stand_together() -> None:
    """Both lots are in the nursery as a rule comes that keeps them apart in all zones.

    More of either lot would fill the third order, due two days later; it may not come to the other.
    """
    base = two_customers()
    lots = LOTS[0], replace(LOTS[1], stock=400), LOTS[2]
    more = order("O-3", "Red on Stout", 40, 18)
    loose = replace(base, seed_lots=lots, packs=(), orders=(*base.orders, more))
    nursery = replace(loose.nursery, today=day(9))
    past = as_planned(plan(loose), day(9))
    rule = Apart(*HEALTHS, Shared.ZONE, None)
    scenario = replace(loose, nursery=nursery, progress=past, apart=(rule,))
    made = plan(scenario)
    assert all(check.passed for check in audit(scenario, made))


def test_an_order_of_one_lot_takes_one_lot() -> None:
    """60 seedlings of one lot give 57 plants of the order of 100; the other lot serves the other order."""
    scenario = replace(two_customers(), seed_lots=LOTS, packs=())
    first = replace(scenario.orders[0], one_lot=True)
    made = plan(replace(scenario, orders=(first, scenario.orders[1])))
    waves = dict(rows_of(made.waves, "wave", "lot"))
    lots = {waves[wave] for name, wave in rows_of(made.trace, "order", "scion_wave") if name == "O-1"}
    assert len(lots) == 1


def test_orders_are_of_one_lot_where_the_nursery_says_so_and_they_do_not_say_otherwise() -> None:
    """57 plants of one lot and 38 of the other: an order of 100 that may have both lacks fewer than 43."""
    scenario = replace(two_customers(), seed_lots=LOTS, packs=())
    nursery = replace(scenario.nursery, one_lot=True)
    first, second = scenario.orders
    books = [(replace(first, one_lot=own), second) for own in (None, True, False)]
    short = [by_order(plan(replace(scenario, nursery=nursery, orders=book)), "short") for book in books]
    assert short[0] == short[1] != short[2]
    assert short[0]["O-1"] >= 100 - 57
    assert short[2]["O-1"] < 100 - 57


def test_a_plan_that_does_not_know_the_rules_fails_the_audit() -> None:
    loose = two_customers()
    found = {check.name: check.passed for check in audit(two_customers(TABLE), plan(loose))}
    assert not found["groups are apart"]
    scenario = replace(loose, seed_lots=LOTS, packs=())
    one = tuple(replace(row, one_lot=True) for row in scenario.orders)
    found = {check.name: check.passed for check in audit(replace(scenario, orders=one), plan(scenario))}
    assert not found["orders are of one lot"]


def test_what_keeping_apart_costs_is_the_difference_of_two_plans() -> None:
    """At the table, in the only unit, and with trays of both groups on hand: 30 or 38 plants short, at 50."""
    in_units = two_customers(Apart(*CUSTOMERS, Shared.UNIT))
    zones = tuple(units("Chamber", 1, 20.0, 1) if z.zone == "Chamber" else z for z in in_units.zones)
    for book in (two_customers(TABLE), replace(in_units, zones=zones), on_hand_together("Chamber")):
        found = measured(book)
        assert found.kept_apart == pytest.approx(found.cost - plan(replace(book, apart=())).cost)
        assert found.kept_apart > 1000
    assert measured(two_customers()).kept_apart is None


def changed_over(scenario: Scenario, seconds: float = 3600.0) -> Scenario:
    """The scenario with hands at 25 an hour who change over for each lot at the table on a day."""
    crews = (replace(HANDS[1], pace=1.0, hours_per_head_day=24.0),)
    nursery = replace(scenario.nursery, change_over_seconds=seconds, change_over_skill="grafting")
    return replace(scenario, nursery=nursery, crews=crews)


def test_a_lot_and_day_costs_its_change_over() -> None:
    """One graft day with one lot of scions and one of rootstocks: two hours at 25, whatever is grafted.

    With 46 seeds of another lot in place of so many of the first, two trays of each, the day has three lots.
    """
    scenario = two_customers()
    made = plan(changed_over(scenario))
    assert made.cost == pytest.approx(plan(scenario).cost + 2 * 25)
    jobs = [job for job in jobs_of(made).values() if job.step.value == "change over"]
    assert [(job.name, job.count, job.hours) for job in jobs] == [("Red A", 1, 1), ("Stout A", 1, 1)]
    assert all(job.skill == "grafting" for job in jobs)
    three = replace(scenario, seed_lots=LOTS, packs=())
    made = plan(changed_over(three))
    assert sorted(lot for (lot,) in rows_of(made.change_overs, "lot")) == ["Red A", "Red B", "Stout A"]
    assert made.cost == pytest.approx(plan(three).cost + 3 * 25)


@pytest.mark.parametrize("pay, lots", [(80.0, 3), (110.0, 2)])
def test_a_dear_change_over_leaves_a_lot_unused(pay: float, lots: int) -> None:
    """The second lot brings 19 plants that are short otherwise, each at 50: ten hours at 80 are worth it.

    At 110 they cost 1,100, more than the penalty of 950.
    """
    few = LOTS[0], replace(LOTS[1], stock=20), LOTS[2]
    scenario = changed_over(replace(two_customers(), seed_lots=few, packs=()), 36000.0)
    scenario = replace(scenario, crews=(replace(scenario.crews[0], heads=100.0, pay_per_hour=pay),))
    made = plan(scenario)
    assert len(made.change_overs) == lots
    short = 130 - 57 - (19 if lots == 3 else 0)
    assert made.cost == pytest.approx(lots * 10 * pay + 50 * short, abs=50)
    assert all(check.passed for check in audit(scenario, made))
