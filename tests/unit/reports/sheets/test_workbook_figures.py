"""Figures that reports share: weeks, limits that bind, work of the first days, words for prices."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from model.planned.plan_tables import Plan, frame
from model.planned.tables.declared import LIMITS
from model.scenario.calendar import mondays, week_of
from model.scenario.tables import TABLES
from reports.book.words import held_range, price_of_limit
from reports.plan.figures import (
    actions,
    bindings,
    busiest_crew,
    crew_weeks,
    first_week,
    fullest_chamber,
    key_numbers,
    latest_ready,
    orders_at_risk,
    product_costs,
    rooms_drawn,
    saving,
    zone_weeks,
)
from reports.plan.inputs import inputs
from tests.by_hand import by_place
from tests.report_scenario import ORDER, ZONE, report_plan, report_scenario
from tests.scenario_parts import day
from tests.workbooks import report_traced

MONDAY = date(2027, 3, 1)


def priced(*rows: tuple[object, ...]) -> Plan:
    """The small plan with other shadow prices: limit, name, day, unit, value, at, low, high."""
    return replace(report_plan(), shadow_prices=by_place("shadow_prices", list(rows)))


def test_weeks_start_on_monday_and_cover_the_horizon() -> None:
    assert week_of(date(2027, 3, 7)) == MONDAY
    assert mondays(report_scenario().nursery) == [day(0), day(7), day(14), day(21)]


def test_key_numbers_add_up() -> None:
    numbers = key_numbers(report_scenario(), report_plan())
    assert numbers.ordered == 100 + 60 + 40 + 30 + 20 + 4
    assert numbers.own + numbers.bought + numbers.short + numbers.declined == pytest.approx(numbers.ordered)
    assert (numbers.declined, numbers.forgone) == (20, 20 * 0.05)
    assert numbers.cost_per_plant == pytest.approx(
        (report_plan().cost - report_plan().penalties - 1.0) / numbers.delivered
    )
    assert numbers.penalties == pytest.approx(report_plan().penalties)
    assert numbers.penalties > 0
    grafted = report_plan().joins.query("product != 'Red own-root'")["joins"].sum()
    assert numbers.joins == pytest.approx(grafted)


def test_a_zones_week_shows_its_fullest_day() -> None:
    plan = replace(
        report_plan(),
        slots=by_place(
            "slots",
            [
                ("A", date(2027, 3, 1), 3.0, 10.0, 0.1, 0.3),
                ("A", date(2027, 3, 2), 4.0, 5.0, 0.1, 0.4),
                ("A", date(2027, 3, 3), 6.0, 10.0, 0.1, 0.6),
                ("A", date(2027, 3, 8), 1.0, 10.0, 0.1, 0.1),
            ],
        ),
    )
    first, second = zone_weeks(plan)["A"]
    assert (first.week, first.day, first.used, first.available) == (MONDAY, date(2027, 3, 2), 4.0, 5.0)
    assert first.share == pytest.approx(0.8)
    assert first.slot_days == pytest.approx(13.0)
    assert second.week == date(2027, 3, 8)


def test_fullest_chamber_is_a_healing_zone() -> None:
    fullest = fullest_chamber(report_scenario(), report_plan())
    assert fullest is not None
    assert fullest.zone == ZONE
    slots = report_plan().slots.query("zone == @ZONE")
    assert fullest.share == pytest.approx((slots["used"] / slots["available"]).max())


def test_rooms_that_fill_are_drawn_and_healing_chambers_always() -> None:
    slots = report_plan().slots
    zones = [zone.zone for zone in report_scenario().zones]
    for share, wanted in ((0.899, [ZONE]), (0.9, [ZONE, *(zone for zone in zones if zone != ZONE)])):
        others = slots["zone"] != ZONE
        used = slots["used"].where(~others, 0.5 * slots["available"])
        first = others & ~slots.duplicated("zone")
        used = used.where(~first, share * slots["available"])
        made = replace(report_plan(), slots=slots.assign(used=used))
        assert rooms_drawn(report_scenario(), made) == wanted


def test_crew_weeks_add_up_the_days() -> None:
    days = report_plan().crew_days.groupby("crew")[["regular", "overtime", "temporary"]].sum()
    for crew, by_week in crew_weeks(report_plan()).items():
        worked = sum(week.worked for week in by_week)
        assert worked == pytest.approx(days.loc[crew].sum())
    assert busiest_crew(report_plan()) in days.index


def test_latest_ready_is_the_last_of_an_orders_plants() -> None:
    found = report_plan().deliveries.query("order == @ORDER")
    assert latest_ready(report_plan())[ORDER] == (found["ready_day"].max(), found["pack_day"].iloc[0])


def test_packs_to_order_are_named_in_words() -> None:
    packs = [
        ("Red A", "seed", 50.0, 1.0, 2.0, 2.0, MONDAY, MONDAY, 0.0),
        ("clips", "supply", 1e3, 7.0, *[2.0] * 2),
    ]
    rows = [packs[0], (*packs[1], MONDAY, MONDAY, 0.0)]
    plan = replace(report_plan(), purchases=by_place("purchases", rows))
    found = next(action for action in actions(plan, MONDAY, MONDAY) if action.verb == "order by")
    assert found.what.startswith("1 pack of 50 Red A; 7 packs of 1,000 clips")


def test_orders_at_risk_are_short_or_without_a_spare_day_or_a_margin() -> None:
    day_of = {"ready_day": MONDAY, "due_day": MONDAY, "pack_day": MONDAY}
    deliveries = [
        ("tight", "p", "own", MONDAY, None, date(2027, 2, 27), MONDAY, MONDAY, 0, 40.0, 1.0),
        ("tight", "p", "own", MONDAY, None, *day_of.values(), 0, 60.0, 1.0),
        ("late lorry", "p", "buy-in", None, "offer", *day_of.values(), 0, 50.0, 0.0),
        ("early", "p", "own", MONDAY, None, date(2027, 2, 27), MONDAY, MONDAY, 0, 70.0, 1.0),
        ("bare", "p", "own", MONDAY, None, date(2027, 2, 27), MONDAY, MONDAY, 0, 30.0, 0.0),
    ]
    orders = [
        ("tight", "c", "p", MONDAY, 100, 100.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, 0.02, 9.0, None),
        ("late lorry", "c", "p", MONDAY, 50, 0.0, 50.0, 0.0, 0.0, 0.0, 0.0, None, 0.0, 9.0, None),
        ("early", "c", "p", MONDAY, 70, 70.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, 0.02, 9.0, None),
        ("bare", "c", "p", MONDAY, 30, 30.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, 0.0, 9.0, None),
        ("lost", "c", "p", MONDAY, 10, 0.0, 0.0, 10.0, 0.0, 0.0, 0.0, None, 0.02, 9.0, "why"),
    ]
    plan = replace(
        report_plan(), deliveries=by_place("deliveries", deliveries), orders=by_place("orders", orders)
    )
    assert [(risk.order, risk.why) for risk in orders_at_risk(report_scenario(), plan)] == [
        ("lost", ("SHORT",)),
        ("tight", ("no spare day",)),
        ("late lorry", ("bought in, no spare day",)),
        ("bare", ("no margin",)),
    ]
    over_seasons = replace(plan, facts=replace(plan.facts, seasons=100))
    assert "bare" not in {risk.order for risk in orders_at_risk(report_scenario(), over_seasons)}


def test_products_come_by_plants_delivered_with_their_traced_cost() -> None:
    found = product_costs(report_plan(), report_traced())
    assert [cost.plants for cost in found] == sorted((cost.plants for cost in found), reverse=True)
    traced = report_traced()
    penalties = traced["line"].isin(["shortfall", "declined"])
    assert traced[penalties]["amount"].sum() > 0
    paid = traced[traced["order"].notna() & ~penalties]["amount"].sum()
    assert sum(cost.cost for cost in found) == pytest.approx(paid)


def test_the_first_week_with_work_is_that_of_the_first_action() -> None:
    scenario = report_scenario()
    early = replace(scenario.nursery, first_day=scenario.nursery.first_day - timedelta(days=14))
    assert first_week(replace(scenario, nursery=early), report_plan()) == (MONDAY, date(2027, 3, 7))
    nothing = {name: frame(name, []) for name in ("purchases", "waves", "joins", "deliveries", "buy_in")}
    idle = replace(report_plan(), **nothing)
    assert first_week(scenario, idle)[0] == scenario.nursery.first_day
    assert actions(idle, *first_week(scenario, idle)) == []


def test_the_worthiest_limit_comes_first_and_orders_and_days_off_never() -> None:
    plan = priced(
        ("order", "o", None, "plant", 0.9, 100.0, 0.0, None),
        ("slots", "small", MONDAY, "slot", -2.0, 10.0, 5.0, 12.0),
        ("slots", "large", MONDAY, "slot", -0.5, 100.0, 5.0, 120.0),
        ("slots", "large", date(2027, 3, 2), "slot", -0.7, 100.0, 5.0, 120.0),
        ("regular hours", "crew", date(2027, 3, 6), "hour", -9.0, 0.0, 0.0, None),
    )
    found = bindings(plan)
    assert [binding.name for binding in found] == ["large", "small"]
    assert (found[0].days, found[0].day, found[0].saving) == (2, date(2027, 3, 2), 0.7)


def test_seed_binds_only_above_its_pack_price() -> None:
    plan = report_plan()
    item, size, price = plan.purchases[["item", "size", "price"]].iloc[0]
    cheap = ("stock", item, None, "unit", -price / size, 0.0, 0.0, None)
    dear = ("stock", item, None, "unit", -price / size - 1.0, 50.0, 0.0, None)
    assert bindings(priced(cheap)) == []
    assert [binding.limit for binding in bindings(priced(dear))] == ["stock"]


def test_actions_are_those_of_the_days_asked_for() -> None:
    plan = report_plan()
    found = actions(plan, day(0), day(27))
    verbs = {"order by", "sow", "graft", "move on", "pack"}
    assert {action.verb for action in found} == verbs
    assert found == sorted(found, key=lambda action: action.day)
    sown = {action.day for action in found if action.verb == "sow"}
    assert sown == set(plan.waves["sow_day"])
    first = min(sown)
    assert [action for action in actions(plan, first, first) if action.verb == "sow"] == [
        action for action in found if action.verb == "sow" and action.day == first
    ]


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ("slots", "One more slot in X on 2027-03-01 saves 0.84 USD"),
        ("units", "One more unit of X on 2027-03-01 saves 0.84 USD"),
        ("regular hours", "One more regular hour of X on 2027-03-01 saves 0.84 USD"),
        ("overtime hours", "One more hour of overtime of X on 2027-03-01 saves 0.84 USD"),
        ("week hours", "One more hour that X may work in the week from 2027-03-01 saves 0.84 USD"),
        ("skill hours", "One more hour of X on 2027-03-01 saves 0.84 USD"),
        ("one graft day", "One more plant of order X from the graft day 2027-03-01 saves 0.84 USD"),
        ("share of a unit", "One more plant of order X, opened on 2027-03-01 saves 0.84 USD"),
        ("buy-in", "One more plant from X on 2027-03-01 saves 0.84 USD"),
    ],
)
def test_every_limit_has_its_words(limit: str, words: str) -> None:
    assert price_of_limit(limit, "X", MONDAY, -0.84, "USD") == words


def test_limits_in_words_are_those_of_the_plan() -> None:
    for limit in LIMITS:
        assert price_of_limit(limit, "X", None, 0.25, "EUR").endswith("costs 0.25 EUR")


def test_a_binding_limit_says_on_how_many_days() -> None:
    plan = priced(
        ("slots", "Room", MONDAY, "slot", -0.84, 10.0, 5.0, 12.0),
        ("week hours", "Hands", MONDAY, "hour", -1.5, 1.0, 5.0, 12.0),
    )
    room, hands = bindings(plan)
    assert saving(room, "USD") == "One more slot in Room on 2027-03-01 saves 0.84 USD. Binds on 1 day."
    assert saving(hands, "USD").endswith("saves 1.50 USD. Binds in 1 week.")


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (96.0, 104.5, "at least from 96 to 104.5 slots"),
        (96.0, None, "at least from 96 slots on"),
        (0.0, 7.0, "at least from 0 to 7 slots"),
    ],
)
def test_the_range_of_a_price_in_words(low: float, high: float | None, words: str) -> None:
    assert held_range(low, high, "slot") == words


def test_inputs_hold_every_filled_cell_once() -> None:
    found = list(inputs(report_scenario()))
    cells = [(entry.table, entry.number, entry.column) for entry in found]
    assert len(cells) == len(set(cells))
    crews = [entry for entry in found if entry.table == "crews" and entry.number == 0]
    blank = {"week_hours_per_head", "attendant_skill", "supply", "note"}
    blank |= {"temp_overtime_pay_per_hour", "temp_days_least"}
    assert {entry.column for entry in crews} | {"crew"} | blank == {
        column.name for table in TABLES if table.name == "crews" for column in table.columns
    }
