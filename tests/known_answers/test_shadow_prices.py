"""Sign, value and range of every kind of shadow price, on scenarios small enough to work by hand.

Each says what least cost changes by with one more. Solving again with one more and one less of the limit,
both within its range, gives that change.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pytest

from model.scenario.choices import Part, Task, ZoneMode, ZoneUse
from model.scenario.entities import DayOff, Scenario, Zone
from model.scenario.records.methods import Stage
from model.scenario.records.people import SkillLimit
from model.scenario.records.trade import BuyInOffer
from model.season.as_planned import as_planned
from tests.known_answers.build import (
    HOUR_A_TRAY,
    crew,
    day,
    lot,
    nursery,
    only_price,
    order,
    own_root,
    own_root_method,
    planned,
    pool,
    seed_price,
)


class Limit(NamedTuple):
    """A scenario with a limit at so much, and what is known of the limit there."""

    kind: str
    scenario: Callable[[int], Scenario]
    at: int
    cost: float
    value: float
    low: float
    high: float


def ordered(quantity: int) -> Scenario:
    """10 hours at 2, one a tray: an order of 7 costs 14, one plant 2.

    From 10 on one more is short at 9; below, one less saves its hour.
    """
    return own_root(
        1,
        [order("one", quantity, 0, shortfall_penalty=9)],
        zones=(pool("bench", ZoneUse.BENCH), pool("hold", ZoneUse.HOLDING)),
        labour_standards=(HOUR_A_TRAY,),
        crews=(crew(hours_per_head_day=10, pay_per_hour=2),),
    )


def slots_of_bench(slots: int) -> Scenario:
    """10 plants, a day on the bench each: 6 fit and cost 2 for seed, 4 are short at 9; 48.

    One more slot saves 9 - 2. Slots have that worth up to the 10 that could be used.
    """
    return own_root(
        2,
        [order("one", 10, 1, shortfall_penalty=9)],
        methods=(own_root_method(scion_age_min=1, scion_age_max=1),),
        seed_lots=(lot(stock=0),),
        packs=(seed_price(2),),
        zones=(pool("bench", ZoneUse.BENCH, slots), pool("hold", ZoneUse.HOLDING)),
    )


def units_of_chamber(units: int) -> Scenario:
    """20 plants, a day of finishing in units of 6 slots, each .5 whether it is used or not.

    2 units take 12 plants at 2 for seed, and cost 6; 8 are short at 9: 24 + 6 + 72 = 102. One more unit
    saves 6 x (9 - 2) - 3 = 39, up to the 20 / 6 units that could be used.
    """
    chamber = Zone("chamber", ZoneUse.FINISHING, ZoneMode.UNITS, None, units, 6, 1, 0.5)
    return own_root(
        2,
        [order("one", 20, 1, shortfall_penalty=9)],
        seed_lots=(lot(stock=0),),
        packs=(seed_price(2),),
        stages=(Stage("own-root", 1, "finish", Part.FINISHING, "chamber", 1),),
        zones=(pool("bench", ZoneUse.BENCH), pool("hold", ZoneUse.HOLDING), chamber),
    )


def regular_hours(hours: int) -> Scenario:
    """12 trays of an hour: 8 regular hours at 10, 2 of overtime at 15, 2 trays short at 40; 190.

    One more regular hour costs 10 and saves a plant short, 40: -30. That holds from no hours to the 10 at
    which nothing is short.
    """
    hands = crew(
        hours_per_head_day=hours, pay_per_hour=10, overtime_hours_per_head_day=2, overtime_pay_per_hour=15
    )
    return own_root(
        1,
        [order("one", 12, 0, shortfall_penalty=40)],
        crews=(hands,),
        labour_standards=(HOUR_A_TRAY,),
    )


def overtime_hours(hours: int) -> Scenario:
    """The same with 8 regular hours: one more hour of overtime costs 15 and saves 40; up to 4 hours."""
    scenario = regular_hours(8)
    hands = replace(scenario.crews[0], overtime_hours_per_head_day=hours)
    return replace(scenario, crews=(hands,))


def overtime_on_a_day_off(hours: int) -> Scenario:
    """A tray stands over a day off and takes an hour's tending: at most ``hours``, at 15 instead of 10.

    5 plants, sown on day 0, stay on the bench on days 0, 1 (day off) and 2, and are packed on day 3. Each
    plant takes an hour a day: 10 + 15 + 10; not grown it costs 60. One more hour on the day off saves
    60 - 35 = 25, up to 5 hours. With 3 hours: 3 x 35 + 2 x 60 = 225.
    """
    hands = crew(
        hours_per_head_day=24, pay_per_hour=10, overtime_pay_per_hour=15, day_off_hours_per_head=hours
    )
    return own_root(
        4,
        [order("one", 5, 3, shortfall_penalty=60)],
        methods=(own_root_method(scion_age_min=3, scion_age_max=3, holding_limit_days=0),),
        crews=(hands,),
        labour_standards=(replace(HOUR_A_TRAY, task=Task.TEND),),
        days_off=(DayOff(day(1)),),
    )


def week_hours(hours: int) -> Scenario:
    """12 trays of an hour in two days of 8; 9 hours a week at 10, 3 trays short at 40: 210.

    One more hour of the week saves 40 - 10, from none to the 12 that could be used.
    """
    return own_root(
        2,
        [order("one", 12, 1, shortfall_penalty=40)],
        crews=(crew(pay_per_hour=10, week_hours_per_head=hours),),
        labour_standards=(HOUR_A_TRAY,),
    )


def hours_at_a_skill(hours: int) -> Scenario:
    """12 trays of an hour on one day of 24; 9 hours a hand at the skill at 10, 3 trays short at 40: 210.

    One more hour at the skill saves 40 - 10, from none to the 12 that could be used.
    """
    return own_root(
        1,
        [order("one", 12, 0, shortfall_penalty=40)],
        crews=(crew(pay_per_hour=10, hours_per_head_day=24),),
        labour_standards=(HOUR_A_TRAY,),
        skill_limits=(SkillLimit(HOUR_A_TRAY.skill, None, hours),),
    )


def stock_of_seed(seeds: int) -> Scenario:
    """10 plants, 7 seeds, none to be bought: 3 short at 5. A seed more saves 5, up to 10 seeds."""
    return own_root(1, [order("one", 10, 0, shortfall_penalty=5)], seed_lots=(lot(stock=seeds),))


def stock_before_more_can_come(seeds: int) -> Scenario:
    """10 plants today and 10 tomorrow; 7 seeds, and more at 2 tomorrow.

    Today 3 are short at 5, and tomorrow's 10 seeds are bought: 35. A seed more saves 5: tomorrow's are
    bought all the same.
    """
    return own_root(
        2,
        [order("today", 10, 0, shortfall_penalty=5), order("tomorrow", 10, 1, shortfall_penalty=5)],
        seed_lots=(lot(stock=seeds, lead_days=1),),
        packs=(seed_price(2),),
    )


def bought_in(most: int) -> Scenario:
    """10 plants that could not be grown by day 0: at most 4 bought in at 3, the rest short at 9; 66.

    One more plant in a delivery saves 9 - 3, up to the 10 ordered.
    """
    return own_root(
        1,
        [order("one", 10, 0, shortfall_penalty=9)],
        methods=(own_root_method(scion_age_min=3, scion_age_max=3),),
        buy_in_offers=(BuyInOffer("neighbour", "plant", 3.0, 0, ("Mon",), None, None, 0, most),),
    )


def of_one_day(plants: int) -> Scenario:
    """10 plants, at most 4 of one graft day, and one graft day: 6 short at 5. One more saves 5, up to 10."""
    return own_root(1, [order("one", 10, 0, shortfall_penalty=5, most_share_of_one_day=plants / 10)])


LIMITS = {
    "order": Limit("order", ordered, 7, 14, 2, 0, 10),
    "slots": Limit("slots", slots_of_bench, 6, 48, -7, 0, 10),
    "units": Limit("units", units_of_chamber, 2, 102, -39, 0, 20 / 6),
    "regular hours": Limit("regular hours", regular_hours, 8, 190, -30, 0, 10),
    "overtime hours": Limit("overtime hours", overtime_hours, 2, 190, -25, 0, 4),
    "hours on a day off": Limit("overtime hours", overtime_on_a_day_off, 3, 225, -25, 0, 5),
    "week hours": Limit("week hours", week_hours, 9, 210, -30, 0, 12),
    "hours at a skill": Limit("skill hours", hours_at_a_skill, 9, 210, -30, 0, 12),
    "plants of one graft day": Limit("one graft day", of_one_day, 4, 30, -5, 0, 10),
    "stock": Limit("stock", stock_of_seed, 7, 15, -5, 0, 10),
    "stock before more can come": Limit("stock", stock_before_more_can_come, 7, 35, -5, 0, 10),
    "buy-in": Limit("buy-in", bought_in, 4, 66, -6, 0, 10),
}
CASES = [
    pytest.param(limit, whole, id=f"{name}-{'whole' if whole else 'continuous'}")
    for name, limit in LIMITS.items()
    for whole in (False, True)
]


@pytest.mark.parametrize("limit, whole", CASES)
def test_sign_value_and_range(tmp_path: Path, limit: Limit, whole: bool) -> None:
    """The range shown holds the limit as it stands and lies within that worked by hand."""
    result = planned(limit.scenario(limit.at), tmp_path, whole=whole)
    found = only_price(result, limit.kind)
    assert result.cost == pytest.approx(limit.cost)
    assert found.value == pytest.approx(limit.value)
    assert found.at == pytest.approx(limit.at)
    assert limit.low - 1e-6 <= found.low <= found.at <= found.high <= limit.high + 1e-6


@pytest.mark.parametrize("limit, whole", CASES)
@pytest.mark.parametrize("change", [1, -1])
def test_one_more_and_one_less_confirm_it(tmp_path: Path, limit: Limit, whole: bool, change: int) -> None:
    changed = planned(limit.scenario(limit.at + change), tmp_path, whole=whole)
    assert changed.cost == pytest.approx(limit.cost + change * limit.value)


@pytest.mark.parametrize(
    "name",
    ["slots", "regular hours", "overtime hours", "week hours", "hours at a skill", "stock", "buy-in"],
)
def test_a_limit_that_does_not_bind_has_no_price(tmp_path: Path, name: str) -> None:
    """At its high end and beyond, one more is worth nothing."""
    limit = LIMITS[name]
    result = planned(limit.scenario(int(limit.high) + 2), tmp_path)
    assert limit.kind not in set(result.shadow_prices["limit"])


@pytest.mark.parametrize("scenario", [overtime_hours(0), overtime_on_a_day_off(0)], ids=["working", "off"])
def test_overtime_that_a_crew_does_not_work_has_no_price(tmp_path: Path, scenario: Scenario) -> None:
    """An hour of it would save money, but the crew works none: it is never advised."""
    result = planned(scenario, tmp_path)
    assert result.orders["short"].sum() > 0
    assert "overtime hours" not in set(result.shadow_prices["limit"])


@pytest.mark.parametrize("name", LIMITS)
def test_no_range_reaches_below_zero(tmp_path: Path, name: str) -> None:
    limit = LIMITS[name]
    for at in (1, limit.at):
        assert (planned(limit.scenario(at), tmp_path).shadow_prices["low"] >= 0).all()


def test_stock_that_packs_replace_has_no_price(tmp_path: Path) -> None:
    """With seed to be had today, one more on hand saves its price only, which the packs tell."""
    scenario = replace(stock_before_more_can_come(7), seed_lots=(lot(stock=7),))
    result = planned(scenario, tmp_path)
    assert result.cost == pytest.approx(26)
    assert "stock" not in set(result.shadow_prices["limit"])


def test_an_order_that_is_short_costs_its_penalty(tmp_path: Path) -> None:
    found = only_price(planned(ordered(12), tmp_path), "order")
    assert found.value == pytest.approx(9)
    assert found.at == 12


def test_an_order_with_a_margin_costs_the_margin_too(tmp_path: Path) -> None:
    """A plant with a quarter over takes 1.25 seeds at 2."""
    scenario = replace(ordered(4), nursery=nursery(1, graft_margin=0.25))
    assert only_price(planned(scenario, tmp_path), "order").value == pytest.approx(2.5)


def test_a_limit_of_a_day_before_today_has_no_price(tmp_path: Path) -> None:
    """Two of 12 hours were overtime at 5, not 2: a regular hour more would have saved 3. The day is gone."""
    hands = crew(
        hours_per_head_day=10, pay_per_hour=2, overtime_hours_per_head_day=2, overtime_pay_per_hour=5
    )
    first = replace(ordered(12), crews=(hands,), nursery=nursery(2))
    made = planned(first, tmp_path)
    assert only_price(made, "regular hours").value == pytest.approx(-3)
    told = as_planned(made, day(1))
    later = replace(first, nursery=nursery(2, today=day(1)), progress=told)
    after = planned(later, tmp_path)
    assert after.cost == pytest.approx(made.cost)
    assert set(after.shadow_prices["limit"]) == {"order"}
