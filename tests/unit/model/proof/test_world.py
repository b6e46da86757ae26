"""The audit's own reading of a scenario: days, shares, margins, limits and standards, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import log, sqrt
from typing import Any

import pytest
from scipy.special import ndtr

from model.proof import world
from model.proof.world import World, matched_share
from model.scenario.choices import (
    Decline,
    MarginPolicy,
    MatchFrom,
    MethodKind,
    Part,
    PayBasis,
    Per,
    SowingPolicy,
    Task,
    ZoneUse,
)
from model.scenario.entities import DayOff, Product, Scenario, ZoneDay
from model.scenario.records.methods import AgeEffect, Stage
from model.scenario.records.people import CrewDay, LabourStandard
from model.scenario.records.trade import Module, Supply, SupplyUse
from tests.scenario_parts import crew, day, lot, method, order, pool, units
from tests.strategies import base_scenario, with_nursery, with_rows

WORKING = ("Mon", "Tue", "Wed", "Thu", "Fri")


def plain(**changes: Any) -> Scenario:
    """One plant of an own-root product, of a lot of which every second seed comes up."""
    made = base_scenario(
        orders=(order("O-1", "Red plain", 1, 16),),
        products=(Product("Red plain", "tomato", "Red", None, "plain", "ten"),),
        seed_lots=(lot("Red A", "Red", germination=0.5, grade_out=0.0),),
        methods=(method("plain", MethodKind.OWN_ROOT, finish_survival=1.0),),
        stages=(Stage("plain", 1, "grow", Part.FINISHING, "House", 4),),
    )
    return replace(made, **changes)


def spliced(alike: float = 0.0, **changes: Any) -> Scenario:
    """One plant of a grafted product; every second join heals, and all that heal finish."""
    rule = method("splice", MethodKind.ON_TRAY, take=0.5, take_correlation=alike, finish_survival=1.0)
    made = base_scenario(orders=(order("O-1", "Red on Stout", 1, 16),), methods=(rule,))
    return with_nursery(made, **{"margin_policy": MarginPolicy.LEVEL, "service_level": 0.9} | changes)


# Chances; with a correlation of .5 and a mean of .5, rates are Beta(½, ½)


@pytest.mark.parametrize(
    "n, q, kept, chance",
    [
        (2, 1, 1.0, 5 / 8),  # healed: 3/8 none, 1/4 one, 3/8 two
        (2, 1, 0.5, 1 / 2 * 1 / 4 + 3 / 4 * 3 / 8),
        (2, 2, 0.5, 1 / 4 * 3 / 8),
        (3, 2, 1.0, 1 / 2),  # 5/16, 3/16, 3/16, 5/16
    ],
)
def test_chance_of_enough_where_graft_days_vary(n: int, q: int, kept: float, chance: float) -> None:
    assert world._enough(n, q, 0.5, 0.5, kept) == pytest.approx(chance)


@pytest.mark.parametrize(
    "n, q, kept, short",
    [
        (2, 2, 1.0, 2 * 3 / 8 + 1 / 4),
        (2, 2, 0.5, 1.5),
        (2, 1, 0.5, 3 / 8 + 1 / 2 * 1 / 4 + 1 / 4 * 3 / 8),
        (3, 2, 1.0, 2 * 5 / 16 + 3 / 16),
        (3, 2, 0.5, 2 * 5 / 16 + 1.5 * 3 / 16 + 3 / 16 + 5 / 8 * 5 / 16),
    ],
)
def test_plants_short_where_graft_days_vary(n: int, q: int, kept: float, short: float) -> None:
    assert world._short(n, q, 0.5, 0.5, kept) == pytest.approx(short)


def test_healed_joins_with_another_take() -> None:
    """Take ¼ and correlation ½: Beta(¼, ¾). One join heals with ¼, both of two with ¼ · 5/8."""
    assert world._healed(1, 1, 0.25, 0.5) == pytest.approx(0.25)
    assert world._healed(2, 2, 0.25, 0.5) == pytest.approx(0.25 * 1.25 / 2)
    assert world._healed(1, 2, 0.25, 0.2) == pytest.approx(2 * 1 * 3 / (4 * 5))


@pytest.mark.parametrize(
    "least, level, found", [(3, 10, 10), (5, 5, 5), (5, 4, 5), (1, 2, 2), (1, 3, 3), (4, 100, 100), (4, 8, 8)]
)
def test_the_fewest_that_reach_a_level(least: int, level: int, found: int) -> None:
    assert world._fewest(least, float, level) == found


@pytest.mark.parametrize(
    "changes, chance",
    [
        ({}, 3 / 4),
        ({"grade_out": 0.5}, 7 / 16),
        ({"seeds_per_cell": 2}, 15 / 16),
        ({"germination_correlation": 0.5}, 5 / 8),
        ({"germination_correlation": 0.5, "germination": 1.0}, 1.0),
        # 2E g − 2E g² + E g³ − E g⁴ / 4 of Beta(½, ½)
        (
            {"germination_correlation": 0.5, "seeds_per_cell": 2, "grade_out": 0.5},
            1 - 3 / 4 + 5 / 16 - 35 / 512,
        ),
        ({"germination_correlation": 0.5, "germination": 0.25}, 1 - 3 / 4 * 7 / 8),
    ],
)
def test_chance_that_two_cells_hold_a_seedling(changes: dict[str, Any], chance: float) -> None:
    row = lot("Red A", "Red", **{"germination": 0.5, "grade_out": 0.0} | changes)
    assert world._cells_filled(2, 1, row) == pytest.approx(chance, abs=1e-5)


# Days


def test_days_up_to_another() -> None:
    assert list(world.days_from(day(1), day(3))) == [day(1), day(2)]
    assert list(world.days_from(day(3), day(3))) == []


def test_working_days() -> None:
    made = with_nursery(plain(days_off=(DayOff(day(0)), DayOff(day(9)))), working_weekdays=WORKING)
    found = World(made)
    assert [found.works(day(t)) for t in (0, 1, 4, 5, 6, 7, 9)] == [
        False,
        True,
        True,
        False,
        False,
        True,
        False,
    ]
    assert found.next_working(day(5)) == day(7)
    assert found.next_working(day(9)) == day(10)
    assert found.next_working(day(3)) == day(3)
    assert found.next_working(day(18)) == day(18)
    assert found.next_working(day(19)) is None
    assert found.previous_working(day(9)) == day(8)
    assert found.previous_working(day(6)) == day(4)
    assert found.previous_working(day(1)) == day(1)
    assert found.previous_working(day(0)) is None
    assert found.bench_day(made.seed_lots[0], day(3)) == day(7)
    assert found.bench_day(replace(made.seed_lots[0], germination_days=0), day(5)) == day(5)


def test_the_last_and_the_first_day_may_be_working_days() -> None:
    found = World(plain())
    assert found.next_working(day(20)) == day(20)
    assert found.next_working(day(21)) is None
    assert found.previous_working(day(0)) == day(0)
    assert found.days == [day(t) for t in range(21)]


def test_weeks_begin_on_monday_and_end_with_the_plan() -> None:
    found = World(with_nursery(plain(), first_day=day(2), last_day=day(16)))
    assert [found.week(day(t)) for t in (2, 6, 7, 13)] == [day(0), day(0), day(7), day(7)]
    assert found.week_days(day(0)) == [day(t) for t in range(2, 7)]
    assert found.week_days(day(7)) == [day(t) for t in range(7, 14)]
    assert found.week_days(day(14)) == [day(t) for t in range(14, 17)]


def test_the_way_after_grafting() -> None:
    """Two stages of three days in the chamber are one stay, from Monday to Thursday; then Saturday is off."""
    found = World(with_nursery(base_scenario(), working_weekdays=WORKING))
    stays = (("Chamber", Part.HEALING, day(0), day(3)), ("House", Part.FINISHING, day(3), day(7)))
    assert found.way("splice", day(0)) == (stays, day(7))
    late = (("Chamber", Part.HEALING, day(15), day(18)),)
    assert found.way("splice", day(15)) == (late, None)
    assert found.way("none", day(5)) == ((), day(5))
    backwards = replace(base_scenario(), stages=base_scenario().stages[::-1])
    assert World(backwards).way("splice", day(0))[0][0] == stays[0]
    no_days = with_rows(base_scenario(), "stages", lambda stage: replace(stage, days=0))
    off = with_nursery(no_days, working_weekdays=WORKING)
    assert World(off).way("splice", day(5))[1] == day(5)


# Shares and margins


def test_usable_seedlings_a_tray() -> None:
    row = lot("Red A", "Red", germination=0.5, grade_out=0.1, seeds_per_cell=2, sowing_margin=0.2)
    found = World(plain(seed_lots=(row,)))
    assert found.usable(row, 20) == pytest.approx(20 * 0.75 * 0.9 / 1.2)


def of_level(*orders: Any, finish: float = 1.0) -> Scenario:
    """Sowing margins by level."""
    rule = method("plain", MethodKind.OWN_ROOT, finish_survival=finish)
    made = plain(orders=orders, methods=(rule,))
    return with_nursery(made, sowing_policy=SowingPolicy.LEVEL, service_level=0.9, sowing_margin=0.3)


@pytest.mark.parametrize(
    "scenario, margin",
    [
        (of_level(order("O-1", "Red plain", 1, 16)), 4 / 2 - 1),  # 4 cells: 1 − 1/16 ≥ .9
        (  # whatever the other order
            of_level(order("O-1", "Red plain", 1, 16), order("O-2", "Red plain", 5, 16, service_level=0.99)),
            4 / 2 - 1,
        ),
        (of_level(order("O-1", "Red plain", 1, 16, service_level=0.99)), 7 / 2 - 1),  # 1 − 1/128 ≥ .99
        (of_level(order("O-1", "Red plain", 1, 16, graft_margin=1.0)), 7 / 2 / 2 - 1),  # 2 of 7: 1 − 8/128
        (of_level(order("O-1", "Red plain", 1, 16), finish=0.5), 7 / 2 / 2 - 1),
    ],
)
def test_sowing_margins(scenario: Scenario, margin: float) -> None:
    assert World(scenario).sowing_margin("O-1", "Red A", scenario.products[0].product) == pytest.approx(
        margin
    )


def test_fixed_sowing_margins() -> None:
    own, other = lot("Red A", "Red", sowing_margin=0.4), lot("Blue A", "Blue")
    fixed = World(with_nursery(plain(seed_lots=(own, other)), sowing_margin=0.3))
    assert [fixed.fixed_sowing(row) for row in (own, other)] == [0.4, 0.3]
    level = World(of_level())
    assert [level.fixed_sowing(row) for row in (own, other)] == [0.4, None]
    assert level.usable(replace(other, germination=0.5, grade_out=0.0), 20) == pytest.approx(10)


def test_orders_and_waves_that_a_graft_day_reaches() -> None:
    """Seedlings of 3 days in trays of ten; ready after 4 days, held at most 2 days."""
    rule = method("plain", MethodKind.OWN_ROOT, scion_age_min=3, scion_age_max=4, holding_limit_days=2)
    due = [order(f"O-{t}", "Red plain", 1, t) for t in (11, 12, 14, 15)]
    found = World(
        plain(methods=(rule,), orders=(*due, order("other", "Blue plain", 1, 13)), days_off=(DayOff(day(5)),))
    )
    assert [row.order for row in found.reached("Red plain", day(8))] == ["O-12", "O-14"]
    product = found.products["Red plain"]
    assert found.raised_for(product, day(8), "scion") == [("Red A", "ten", day(4))]
    assert found.raised_for(product, day(9), "scion") == [("Red A", "ten", day(6))]


def test_share_of_joins_that_survive() -> None:
    rule = method("splice", MethodKind.ON_TRAY, take=0.5, finish_survival=0.8)
    scenario = base_scenario(methods=(rule,))
    assert World(scenario)._survive(scenario.methods[0], None) == pytest.approx(0.4)
    bare = base_scenario(methods=(replace(rule, take=None),))
    assert World(bare)._survive(bare.methods[0], None) == pytest.approx(0.8)
    own = plain(methods=(method("plain", MethodKind.OWN_ROOT, take=0.5, finish_survival=0.8),))
    assert World(own)._survive(own.methods[0], None) == pytest.approx(0.8)


def priced(alike: float = 0.0, salvage: float = 2.0, most: int = 9) -> Scenario:
    """A plant short costs 50 − 10, one over 10 less what it is sold for."""
    made = spliced(alike, margin_policy=MarginPolicy.PRICED, plant_cost=10.0)
    return with_rows(made, "products", lambda row: replace(row, salvage_price=salvage, salvage_most=most))


def test_levels_of_orders() -> None:
    made = spliced()
    own = with_rows(made, "orders", lambda row: replace(row, service_level=0.75))
    for scenario, level in (
        (made, 0.9),
        (own, 0.75),
        (priced(), 40 / 48),
        (priced(most=0), 40 / 50),
        (with_nursery(priced(), plant_cost=None), 50 / 48),
    ):
        assert World(scenario).level(scenario.orders[0]) == pytest.approx(level)


def test_penalties() -> None:
    rows = {
        50: {},
        7: {"shortfall_penalty": 7.0},
        9: {"shortfall_penalty": 7.0, "price": 2.0, "decline": Decline.PART},
        52: {"price": 2.0, "decline": Decline.WHOLE},
        0: {"shortfall_penalty": 0.0, "price": 2.0},
    }
    found = World(plain())
    for penalty, changes in rows.items():
        assert found.penalty(order("O", "Red plain", 1, 16, **changes)) == penalty
    assert found.penalty(order("O", "Red plain", 1, 16, decline=Decline.PART)) == 50


@pytest.mark.parametrize(
    "scenario, margin",
    [
        (spliced(), 4 / 2 - 1),  # 1 − 1/16 ≥ .9
        (spliced(margin_policy=MarginPolicy.FIXED, graft_margin=0.15), 0.15),
        (with_rows(spliced(), "orders", lambda row: replace(row, graft_margin=0.25)), 0.25),
        (with_rows(spliced(), "methods", lambda row: replace(row, take=1.0)), 0.0),
        (spliced(0.5, service_level=0.7), 4 / 2 - 1),  # 3 joins: 11/16; 4: 93/128
        (spliced(0.5, service_level=0.6), 0.0),  # 2 joins: 5/8
        (
            with_rows(spliced(0.5), "methods", lambda row: replace(row, take=1.0, finish_survival=0.5)),
            4 / 2 - 1,
        ),
        (priced(), 3 / 2 - 1),  # 1 − 1/8 ≥ 40/48
        (priced(0.5), 0.0),  # a third join costs 4 and saves 48/16
        (priced(0.5, salvage=8.0), 5 / 2 - 1),  # a sixth costs 1 and saves 42 · 21/1024
    ],
)
def test_graft_margins(scenario: Scenario, margin: float) -> None:
    assert World(scenario).margin("O-1", scenario.products[0].product) == pytest.approx(margin)


def test_cost_of_plants_short_and_over() -> None:
    scenario = priced(0.5)
    assert World(scenario)._cost(3, scenario.orders[0], scenario.methods[0], 0.5) == pytest.approx(
        8 * 0.5 + 48 * 5 / 16
    )


def test_margins_of_healed_plants() -> None:
    half = with_rows(spliced(), "methods", lambda row: replace(row, take=0.5, finish_survival=0.5))
    assert World(half).finishing_margin("O-1", "Red on Stout") == pytest.approx(4 / 2 - 1)
    little = with_rows(half, "orders", lambda row: replace(row, graft_margin=0.25))
    assert World(little).finishing_margin("O-1", "Red on Stout") == 0.25
    assert World(spliced()).finishing_margin("O-1", "Red on Stout") == 0.0


# Match and take


def test_take_by_ages() -> None:
    effects = (AgeEffect("splice", 4, 3, 0.6, 0.7), AgeEffect("splice", 5, 3, 0.5, None))
    found = World(replace(spliced(), age_effects=effects))
    assert found.take("splice", 4, 3) == 0.7
    assert found.take("splice", 5, 3) == 0.5
    assert found.take("splice", 5, 4) == 0.5
    assert found.take("splice", None, 3) == 1.0
    bare = with_rows(spliced(), "methods", lambda row: replace(row, take=None))
    assert World(bare).take("splice", 4, 3) == 1.0
    assert World(plain()).take("plain", 4, 3) == 1.0


def test_match_by_number_ages_and_diameters() -> None:
    by_number = World(base_scenario())
    assert by_number.match("splice", "Stout A", "Red A", 4, 3) == 0.9
    assert by_number.match("splice", None, "Red A", 4, 3) == 1.0
    assert by_number.match("splice", "Stout A", "Red A", None, 3) == 1.0
    assert World(plain()).match("plain", "Stout A", "Red A", 4, 3) == 1.0
    ages = with_rows(base_scenario(), "methods", lambda row: replace(row, match_from=MatchFrom.AGES))
    effects = (AgeEffect("splice", 4, 3, match=0.65), AgeEffect("splice", 5, 3, take=0.8))
    by_age = World(replace(ages, age_effects=effects))
    assert [by_age.match("splice", "Stout A", "Red A", *pair) for pair in ((4, 3), (5, 3), (4, 4))] == [
        0.65,
        0.0,
        0.0,
    ]
    thick = {
        "diameter_start_mm": 1.0,
        "diameter_growth_mm_per_day": 0.5,
        "diameter_spread_mm": 0.2,
        "diameter_spread_growth_mm_per_day": 0.1,
    }
    wide = with_rows(
        base_scenario(),
        "methods",
        lambda row: replace(row, match_from=MatchFrom.DIAMETERS, stem_tolerance_mm=0.0),
    )
    found = World(with_rows(wide, "seed_lots", lambda row: replace(row, **thick)))
    assert found._diameter("Red A", 4) == pytest.approx((3.0, 0.6))
    assert found.match("splice", "Stout A", "Red A", 4, 4) == pytest.approx(1.0)
    assert found.match("splice", "Stout A", "Red A", 5, 4) == pytest.approx(
        matched_share((3.5, 0.7), (3.0, 0.6), 0.0)
    )
    loose = World(with_rows(found.scenario, "methods", lambda row: replace(row, stem_tolerance_mm=0.3)))
    assert loose.match("splice", "Stout A", "Red A", 5, 4) == pytest.approx(
        matched_share((3.5, 0.7), (3.0, 0.6), 0.3)
    )


@pytest.mark.parametrize(
    "a, b, tolerance, share",
    [
        ((0.0, 1.0), (1.0, 1.0), 0.0, 2 * ndtr(-0.5)),
        ((1.0, 1.0), (0.0, 1.0), 0.0, 2 * ndtr(-0.5)),
        ((0.0, 1.0), (1.0, 1.0), 0.4, 2 * ndtr(-0.3)),
        ((1.0, 1.0), (0.0, 1.0), 0.4, 2 * ndtr(-0.3)),
        ((0.0, 1.0), (1.0, 1.0), 1.0, 1.0),
        ((0.0, 1.0), (20.0, 1.0), 1.0, 0.0),
        ((2.0, 0.0), (2.0, 0.0), 0.1, 1.0),
        ((2.0, 0.0), (2.3, 0.0), 0.1, 0.0),
    ],
)
def test_share_that_can_be_paired(
    a: tuple[float, float], b: tuple[float, float], tolerance: float, share: float
) -> None:
    assert matched_share(a, b, tolerance) == pytest.approx(share, abs=1e-9)


def test_share_of_a_narrow_and_a_wide_population() -> None:
    """Densities of spreads 1 and 2 meet at ±√(8 ln 2 / 3)."""
    at = sqrt(8 * log(2) / 3)
    apart = (2 * ndtr(at) - 1) - (2 * ndtr(at / 2) - 1)
    assert matched_share((3.0, 1.0), (3.0, 2.0), 0.0) == pytest.approx(1 - apart)
    assert matched_share((3.0, 2.0), (3.0, 1.0), 0.0) == pytest.approx(1 - apart)
    assert sorted(world._equal_densities((3.0, 1.0), (3.0, 2.0))) == pytest.approx([3 - at, 3 + at])
    assert world._equal_densities((0.0, 1.0), (1.0, 1.0)) == pytest.approx([0.5])
    assert world._equal_densities((1.0, 1.0), (1.0, 1.0)) == []


# Standards, limits and pay


def test_the_closest_standard_counts() -> None:
    def row(seconds: float, rule: str | None, tray: str | None) -> LabourStandard:
        return LabourStandard(Task.GRAFT, f"skill {seconds:g}", rule, tray, seconds)

    rows = (row(10, None, None), row(30, None, "ten"), row(20, "splice", None), row(40, "splice", "ten"))
    for standards in (rows, rows[::-1]):
        found = World(base_scenario(labour_standards=standards))
        assert found.roles("graft", "splice", "ten") == (("graft", None, "skill 40", 40),)
        assert found.roles("graft", "splice", "twenty") == (("graft", None, "skill 20", 20),)
        assert found.roles("graft", "cut", "ten") == (("graft", None, "skill 30", 30),)
        assert found.roles("graft", "cut", "twenty") == (("graft", None, "skill 10", 10),)
        assert found.roles("sow", "splice", "ten") == ()


def test_the_closest_use_of_a_supply_counts() -> None:
    uses = (
        SupplyUse("clips", Per.JOIN, None, None, 1.0),
        SupplyUse("clips", Per.JOIN, "splice", "ten", 4.0),
        SupplyUse("tape", Per.JOIN, None, None, 9.0),
        SupplyUse("clips", Per.TRAY_SOWN, None, None, 7.0),
    )
    supplies = (Supply("clips", "each", 0.0, 0), Supply("tape", "m", 0.0, 0))
    found = World(base_scenario(supplies=supplies, supply_uses=uses))
    assert found.supply_used("clips", "join", "splice", "ten") == 4.0
    assert found.supply_used("clips", "join", "splice", "twenty") == 1.0
    assert found.supply_used("clips", "tray sown", None, "ten") == 7.0
    assert found.supply_used("clips", "plant delivered", "splice", "ten") == 0.0


def test_formats_in_which_a_product_is_raised() -> None:
    both = Product("Pair", "tomato", "Red", "Stout", "splice", "ten", ("twenty",), ("fifty",))
    on_tray = World(base_scenario())
    assert on_tray.raised_in(both) == (("ten",), ("twenty",))
    cut = World(base_scenario(methods=(method("splice", MethodKind.ROOT_CUT),)))
    assert cut.raised_in(both) == (("fifty",), ("twenty",))
    own = World(plain())
    assert own.raised_in(replace(both, method="plain")) == ((), ("twenty",))
    assert own.raised_in(replace(both, method="plain", scion_formats=())) == ((), ("ten",))


def test_slots_and_their_cost_from_day_to_day() -> None:
    zones = (pool("House", ZoneUse.FINISHING, 10.0, 0.1), units("Chamber", 2, 8.0, 1, 0.5))
    changes = (
        ZoneDay("House", day(8), None, None, 0.4),
        ZoneDay("House", day(4), 6.0, None, None),
        ZoneDay("Chamber", day(4), None, 3, None),
    )
    modules = (
        Module("shelf", "House", 2.0, 3, 9.0, 0.0, 5),
        Module("box", "Chamber", 8.0, 1, 9.0, 0.0, 5),
    )
    found = World(plain(zones=zones, zone_days=changes, modules=modules))
    assert [found.zone_day("House", day(t)) for t in (3, 4, 8)] == [(16.0, 0.1), (12.0, 0.1), (12.0, 0.4)]
    assert [found.zone_day("Chamber", day(t)) for t in (3, 4)] == [(24.0, 0.5), (32.0, 0.5)]


def test_heads_and_pay_from_day_to_day() -> None:
    changes = (
        CrewDay("Growers", day(8), None, 25.0),
        CrewDay("Growers", day(4), 3.0, None),
        CrewDay("Others", day(0), 9.0, 9.0),
    )
    crews = (crew("Growers", "general"), crew("Others", "general", overtime_pay_per_hour=33.0))
    found = World(plain(crews=crews, crew_days=changes))
    days: list[date] = [day(3), day(4), day(8)]
    assert [found.crew_day("Growers", on) for on in days] == [(2, 20, 20), (3, 20, 20), (3, 25, 25)]
    assert found.crew_day("Others", day(0)) == (9.0, 9.0, 33.0)


def test_pay_of_a_committed_crew() -> None:
    paid = crew("Growers", "general", pay_basis=PayBasis.COMMITTED)
    rise = CrewDay("Growers", day(14), 1.0, 30.0)
    found = World(with_nursery(plain(crews=(paid,), crew_days=(rise,)), working_weekdays=WORKING))
    assert found.payroll(paid) == 10 * 2 * 8 * 20 + 5 * 1 * 8 * 30
    assert found.payroll(replace(paid, pay_basis=PayBasis.USED)) == 0.0
