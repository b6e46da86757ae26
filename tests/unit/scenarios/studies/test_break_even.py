"""Break-evens worked by hand, one of each kind; at each both ways cost the same; none where there is none."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import binom

from model.scenario.choices import MarginPolicy, MatchFrom, MethodKind, Source, Task, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.methods import AgeEffect
from model.scenario.records.people import CrewDay, LabourStandard
from model.scenario.records.trade import BuyInOffer
from model.solve import solve
from reports.study.study import Study
from scenarios.solves import two_ways
from scenarios.solves.two_ways import (
    BOUGHT_IN,
    IN_HOUSE,
    NEITHER,
    Point,
    Way,
    changed,
    continuous,
    crossings,
    figure_at,
    scaled,
)
from scenarios.studies import break_even
from scenarios.studies.break_even import POINTS, break_even_study
from tests.depth import deep
from tests.scenario_parts import WEEK, crew, day, method, order, pool
from tests.specimens import OWN_ROOT, SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

STAND, MATCH, TAKE, SURVIVAL = 0.9 * 0.9, 0.9, 0.8, 0.95
SEED = 0.5 + 0.25
"""Price of a scion and a rootstock seed together."""
JOINS = 1 / (TAKE * SURVIVAL)
"""Joins a plant delivered."""
OWN = SEED * JOINS / (MATCH * STAND)
"""Seed cost of a plant grown: 1.3537 USD."""
PRICE, PENALTY, PLANTS = 2.0, 50.0, 100
WHOLE = 19 * 10 * 0.25 + 10 * 20 * 0.5
"""Seed cost in whole trays: 19 of 10 rootstocks, which give 153.9 for 146.2, and 10 of 20 scions."""


def with_offer(**changes: Any) -> Scenario:
    """100 plants, grown for their seed alone, or bought for 2 USD each."""
    offer = BuyInOffer("Neighbour", "Red on Stout", PRICE, 5, WEEK, None, None, 0, None)
    return base_scenario(buy_in_offers=(offer,), **changes)


def rows(study: Study, name: str) -> list[dict[str, Any]]:
    section = next(each for each in study.sections if each.name == name)
    keys = [column.key for column in section.columns]
    return [dict(zip(keys, row, strict=True)) for row in section.rows]


def only(scenario: Scenario, of: str, low: float, high: float) -> dict[str, Any]:
    """The one break-even found in the continuous program."""
    (found,) = rows(break_even_study(scenario, of=of, low=low, high=high, workers=1), "Continuous")
    return found


def test_break_even_price_is_the_cost_of_growing() -> None:
    found = only(with_offer(), "buy-in-price", 0.2, 1.1)
    assert found["factor"] == pytest.approx(OWN / PRICE, abs=1e-8)
    assert found["amount"] == pytest.approx(OWN, abs=1e-8)
    assert found["house"] == pytest.approx(PLANTS * OWN)
    assert (found["below"], found["above"]) == (BOUGHT_IN, IN_HOUSE)


def test_break_even_take_is_where_more_seed_costs_the_price() -> None:
    """Seed per plant is in inverse proportion to the take: OWN / f = PRICE."""
    found = only(with_offer(), "take", 0.3, 1.2)
    assert found["factor"] == pytest.approx(OWN / PRICE, abs=1e-8)
    assert found["amount"] == pytest.approx(TAKE * OWN / PRICE, abs=1e-8)
    assert found["house"] == pytest.approx(PLANTS * PRICE)
    assert (found["below"], found["above"]) == (BOUGHT_IN, IN_HOUSE)


def test_break_even_wage_is_what_is_left_of_the_price_over_the_hours() -> None:
    """A join takes 3 minutes at 20 USD an hour: OWN + f · JOINS · 1 USD = PRICE."""
    scenario = with_offer(
        labour_standards=(LabourStandard(Task.GRAFT, "grafting", None, None, 180.0),),
        crews=(crew("Grafters", "grafting"),),
    )
    found = only(scenario, "wage", 0.1, 2.0)
    assert found["factor"] == pytest.approx((PRICE - OWN) / JOINS, abs=1e-8)
    assert found["amount"] == pytest.approx(20 * (PRICE - OWN) / JOINS, abs=1e-6)
    assert (found["below"], found["above"]) == (IN_HOUSE, BOUGHT_IN)


def small_chamber() -> Scenario:
    """Ten slots, and one graft day: plants can be held for no day."""
    base = with_offer(methods=(method("splice", MethodKind.ON_TRAY, holding_limit_days=0),))
    return replace(base, zones=(*base.zones[:2], pool("Chamber", ZoneUse.HEALING, 10.0), base.zones[3]))


def test_a_volume_that_cannot_be_grown_here_is_no_break_even() -> None:
    """A tray of 10 cells holds 8.1 rootstocks, so the ten slots take 81 · MATCH joins, and K plants.

    Up to K growing saves PRICE - OWN a plant. Above it plants are short, and their penalty is no cost: the
    answer is what is short, the least relief, and what buying in costs. The whole plan grows 55 of the K in
    10 trays of rootstocks and 5 of scions. Half of the book takes as many.
    """
    most = 10 * 10 * STAND * MATCH / JOINS
    study = break_even_study(small_chamber(), of="volume", low=0.5, high=1.0, workers=1)
    assert rows(study, "Break-evens") == rows(study, "Continuous") == []
    for row in rows(study, "Curve"):
        plants, point = PLANTS * row["factor"], continuous(small_chamber(), "volume", row["factor"])
        assert point.bought.cost == pytest.approx(PRICE * plants)
        assert point.bought.penalties == pytest.approx(0.0, abs=1e-6)
        assert point.house.short == pytest.approx(max(plants - most, 0.0), abs=1e-6)
        assert point.house.penalties == pytest.approx(PENALTY * point.house.short, abs=1e-4)
        assert point.cheaper == row["cheaper"] == (IN_HOUSE if plants <= most else BOUGHT_IN)
        assert row["continuous"] == pytest.approx(point.difference)
        assert row["house_short"] == max(row["amount"] - int(most), 0)
        assert row["house"] == pytest.approx(SEED * 100 + PENALTY * row["house_short"])
    told, beside, lacking = study.answer
    none = (
        "o break-even between 0.5 and 1 times the volume: in-house is cheaper throughout, by at least "
        "{:,.2f} USD at 1 of the 9 factors tried, where both ways deliver alike. The difference is least at "
        "factor 0.5."
    )
    half = PLANTS // 2
    assert told == "N" + none.format(PRICE * half - SEED * 100)
    assert beside == "In the continuous program, n" + none.format((PRICE - OWN) * half)
    assert lacking == (
        "The book cannot be grown here at 8 of the 9 factors tried (from 0.5625 to 1), so costs do not "
        "compare there. At factor 1, 45 plants are short. In the continuous "
        f"program O-1 is {PLANTS - most:,.0f} short: least relief: 9 more slots in Chamber from {day(11)} to "
        f"{day(13)}. There, bought in costs 200.00 USD."
    )


def test_a_book_too_large_for_the_crew_has_no_break_even_wage(monkeypatch: pytest.MonkeyPatch) -> None:
    """One person grafts on one day: 4 hours at 3 minutes a join are 80 joins, 60.8 plants.

    At any wage, 40 plants are short in whole plants. The continuous program is 39.2 short: they lack
    JOINS · 100 - 80 joins, 2.6 hours.
    """
    scenario = replace(
        small_chamber(),
        zones=base_scenario().zones,
        labour_standards=(LabourStandard(Task.GRAFT, "grafting", None, None, 180.0),),
        crews=(crew("Grafters", "grafting", heads=1.0, hours_per_head_day=4.0),),
    )
    monkeypatch.setattr(break_even, "POINTS", 3)
    study = break_even_study(scenario, of="wage", low=0.5, high=1.5, workers=1)
    assert rows(study, "Break-evens") == rows(study, "Continuous") == []
    for row in rows(study, "Curve"):
        assert (row["house_short"], row["bought_short"], row["cheaper"]) == (40, 0, BOUGHT_IN)
        assert row["house"] - row["house_paid"] == pytest.approx(40 * PENALTY)
    assert study.answer == [
        "The book cannot be grown here at any of the 3 factors tried (from 0.5 to 1.5), so costs do not "
        "compare there. At factor 1, 40 plants are short. In the continuous program O-1 is 39 short: least "
        f"relief: {JOINS * 100 / 20 - 4:.1f} more hours of grafting on {day(11)}. There, bought in costs "
        "200.00 USD."
    ]


def test_results_are_compared_only_where_both_ways_deliver_alike() -> None:
    """At 5 USD a plant, half of the book is the only part that fits into the chamber."""
    priced = with_rows(small_chamber(), "orders", lambda row: replace(row, price=5.0))
    study = break_even_study(priced, of="volume", low=0.5, high=1.0, workers=1)
    assert study.answer[0].startswith("At 0.5 times the volume, growing in-house leaves a result of ")
    study = break_even_study(priced, of="volume", low=0.9, high=1.0, workers=1)
    assert not any("leaves a result" in line for line in study.answer)


def test_what_is_cheaper_left_short_is_not_called_impossible() -> None:
    """The penalty of 1.50 USD lies below the price of 2 USD: nothing is bought."""
    base = with_offer()
    scenario = replace(base, orders=(replace(base.orders[0], shortfall_penalty=1.5),))
    study = break_even_study(scenario, of="buy-in-price", low=1.0, high=1.5, workers=1)
    (told,) = [line for line in study.answer if "do not compare" in line]
    assert told.startswith("The book is not all bought in at any of the 9 factors tried")
    assert "cheaper left short (proved)" in told


def test_a_least_quantity_above_what_is_needed_makes_growing_cheaper_below_it() -> None:
    """A delivery is 60 plants or more, at 1 USD; the continuous program buys a part of one for fewer.

    So it finds buying in cheaper throughout. Of whole plans, growing is cheaper up to 38 plants: they take 7
    trays of rootstocks and 4 of scions, for 57.50, and 39 take a tray more of rootstocks, for 60.00 or more.
    """
    base = with_offer()
    scenario = replace(base, buy_in_offers=(replace(base.buy_in_offers[0], price=1.0, least_quantity=60),))
    study = break_even_study(scenario, of="volume", low=0.15, high=1.05, workers=1)
    assert rows(study, "Continuous") == []
    curve = rows(study, "Curve")
    assert [row["bought"] for row in curve] == pytest.approx([max(60, row["amount"]) for row in curve])
    assert all(row["bought_short"] == 0 for row in curve)
    (found,) = rows(study, "Break-evens")
    assert (found["below"], found["above"], found["amount"]) == (IN_HOUSE, BOUGHT_IN, 39)
    assert found["low"] < found["factor"] < found["high"]
    assert study.answer[0].startswith("The cheaper way changes at 0.382 times the volume (39 plants ordered)")
    assert "bought in is cheaper throughout" in study.answer[1]


def test_a_margin_of_a_join_less_makes_the_cost_jump() -> None:
    """Ten plants at 95 % take 18 joins up to a take at which 17 do: P(Binomial(17, p) ≥ 10) = 0.95.

    A join costs the seed of a scion and a rootstock that match. Bought in for 1.80 USD each, the plants cost
    18.00 USD, which lies between the cost of 17 and of 18 joins: no factor has equal costs.
    """
    base = with_offer(
        orders=(order("O-1", "Red on Stout", 10, 16),),
        methods=(method("splice", MethodKind.ON_TRAY, take_correlation=0.0),),
    )
    base = with_nursery(base, margin_policy=MarginPolicy.LEVEL, service_level=0.95)
    base = replace(base, buy_in_offers=(replace(base.buy_in_offers[0], price=1.8),))
    found = break_even_study(base, of="take", low=0.95, high=1.01, workers=1)
    survives = brentq(lambda p: binom.sf(9, 17, p) - 0.95, 0.5, 0.99, xtol=1e-12)
    (row,) = rows(found, "Continuous")
    assert row["factor"] == pytest.approx(survives / (TAKE * SURVIVAL), abs=1e-8)
    assert (row["below"], row["above"]) == (BOUGHT_IN, IN_HOUSE)
    join = SEED / (MATCH * STAND)
    assert row["house"] == pytest.approx(17 * join) or row["house"] == pytest.approx(18 * join)
    assert row["bought"] == pytest.approx(18.0)
    assert "One of the costs jumps there" in found.answer[-1]
    assert "cost the same" not in found.answer[-1]


def test_a_large_book_is_told_from_the_continuous_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(break_even, "MOST_WAVES", 0)
    found = break_even_study(with_offer(), of="buy-in-price", low=0.2, high=1.1, workers=1)
    assert found.answer[0] == break_even.LARGE
    assert "cost the same at 0.6768 times" in found.answer[1]
    assert [section.name for section in found.sections] == ["Curve", "Continuous"]


def test_no_break_even_is_an_answer() -> None:
    study = break_even_study(with_offer(), of="buy-in-price", low=1.0, high=2.0, workers=1)
    assert rows(study, "Break-evens") == rows(study, "Continuous") == []
    none = (
        "o break-even between 1 and 2 times the buy-in prices: in-house is cheaper throughout, by at least "
        "{:,.2f} USD at the 9 factors tried. The difference is least at factor 1."
    )
    assert study.answer == [
        "N" + none.format(PLANTS * PRICE - WHOLE),
        "In the continuous program, n" + none.format(PLANTS * (PRICE - OWN)),
    ]
    assert study.figures[0].value == 0


def test_the_answer_says_where_and_which_way() -> None:
    study = break_even_study(with_offer(), of="buy-in-price", low=0.2, high=1.1, workers=1)
    assert study.answer == [
        "The cheaper way changes at 0.7375 times the buy-in prices (mean price of the offers 1.4750 USD): "
        "below it bought in, above it in-house; surely bought in at 0.7344, in-house at 0.7379.",
        "In the continuous program, growing in-house and buying in cost the same at 0.6768 times the buy-in "
        "prices (mean price of the offers 1.3537 USD): 135.37 USD; below it bought in is cheaper, above it "
        "in-house is cheaper.",
    ]
    (found,) = rows(study, "Break-evens")
    assert found["factor"] == pytest.approx(WHOLE / PLANTS / PRICE)


def test_orders_for_nothing_that_is_offered_cost_the_same_both_ways() -> None:
    base = with_offer()
    plain = replace(OWN_ROOT["products"][0])
    scenario = replace(
        base,
        orders=(order("O-1", "Red plain", 100, 16),),
        products=(*base.products, plain),
        methods=(*base.methods, *OWN_ROOT["methods"]),
        stages=(*base.stages, *OWN_ROOT["stages"]),
    )
    study = break_even_study(scenario, of="buy-in-price", low=0.5, high=1.0, workers=1)
    assert "cost the same throughout" in study.answer[0]
    with pytest.raises(ValueError, match="no order is for a product with an offer"):
        break_even_study(scenario, of="volume", low=0.5, high=1.0, workers=1)


@pytest.mark.parametrize(
    ("scenario", "of", "low", "high", "words"),
    [
        (base_scenario(), "volume", 0.5, 2.0, "no product has a buy-in offer"),
        (with_offer(), "weather", 0.5, 2.0, "choose one of volume, buy-in-price, take, wage"),
        (with_offer(), "take", 2.0, 0.5, "the lower first"),
        (with_offer(), "take", 0.0, 0.5, "above 0"),
        (with_offer(), "take", 0.5, float("inf"), "above 0"),
        (with_offer(), "take", float("nan"), 1.0, "above 0"),
        (with_offer(), "wage", 0.5, 2.0, "no crews"),
        (
            replace(
                base_scenario(**OWN_ROOT),
                buy_in_offers=(BuyInOffer("N", "Red plain", 1.0, 5, WEEK, None, None, 0, None),),
            ),
            "take",
            0.5,
            2.0,
            "no product with an offer is grafted",
        ),
    ],
)
def test_what_cannot_be_asked_is_refused(
    scenario: Scenario, of: str, low: float, high: float, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        break_even_study(scenario, of=of, low=low, high=high, workers=1)


def test_the_same_tables_for_any_number_of_workers() -> None:
    scenario = with_offer()
    told: list[str] = []
    one = break_even_study(scenario, of="take", low=0.3, high=1.2, workers=1)
    two = break_even_study(scenario, of="take", low=0.3, high=1.2, workers=2, progress=told.append)
    assert one.sections == two.sections
    assert one.answer == two.answer
    assert one.figures == two.figures
    assert told[-3:] == [
        f"points of the curve: {POINTS} of {POINTS}",
        "break-evens: 1 of 1",
        "changes of whole plans: 1 of 1",
    ]


def test_the_curve_has_both_ends_and_every_point_is_solved_on_its_own() -> None:
    scenario = small_chamber()
    curve = rows(break_even_study(scenario, of="volume", low=0.4, high=0.8, workers=1), "Curve")
    assert [row["factor"] for row in curve] == pytest.approx([0.4 + 0.05 * n for n in range(POINTS)])
    for row in curve:
        asked = replace(scenario.orders[0], quantity=row["amount"])
        expected = {}
        for source in (Source.GROW, Source.BUY):
            one = replace(scenario, orders=(asked,), products=(replace(scenario.products[0], source=source),))
            expected[source] = solve(one).solution.objective
        assert row["amount"] == pytest.approx(100 * row["factor"])
        assert row["house"] == pytest.approx(expected[Source.GROW])
        assert row["bought"] == pytest.approx(expected[Source.BUY])
        assert row["difference"] == pytest.approx(row["house"] - row["bought"])


# What is scaled


def test_volume_scales_orders_for_products_with_an_offer_alone() -> None:
    plain = (order("O-2", "Red plain", 33, 16), order("O-3", "Red on Stout", 7, 16))
    base = with_offer()
    scenario = replace(base, orders=base.orders + plain)
    assert [o.quantity for o in scaled(scenario, "volume", 1.1).orders] == [110, 33, 8]
    assert [o.quantity for o in scaled(scenario, "volume", 0.001).orders] == [1, 33, 1]
    assert figure_at(scenario, "volume", 1.1) == 118


def test_take_is_scaled_by_age_too_and_never_above_1() -> None:
    ages = (AgeEffect("splice", 4, 3, 0.9, 0.9), AgeEffect("splice", 5, 3, 0.9, None))
    by_age = method("splice", MethodKind.ON_TRAY, match_from=MatchFrom.AGES, match=None)
    made = scaled(
        with_offer(methods=(by_age, method("plain", MethodKind.OWN_ROOT)), age_effects=ages), "take", 1.2
    )
    assert [row.take for row in made.methods] == [pytest.approx(0.96), None]
    assert [row.take for row in made.age_effects] == [1.0, None]


def test_wage_scales_all_pay_and_nothing_else() -> None:
    hands = crew("A", "x", overtime_pay_per_hour=30.0, temp_pay_per_hour=10.0, temp_training_cost=50.0)
    days = (CrewDay("A", day(3), 1.0, 40.0), CrewDay("A", day(4), 2.0, None))
    made = scaled(with_offer(crews=(hands, crew("B", "x")), crew_days=days), "wage", 1.5)
    first, second = made.crews
    assert (first.pay_per_hour, first.overtime_pay_per_hour, first.temp_pay_per_hour) == (30.0, 45.0, 15.0)
    assert (first.temp_training_cost, second.overtime_pay_per_hour) == (50.0, None)
    assert [row.pay_per_hour for row in made.crew_days] == [60.0, None]


# Where the sign changes


def curve(*differences: float) -> list[Point]:
    """Points of the continuous program, whose bounds are the costs."""
    return [
        Point(float(n), Way(100.0 + d, 100.0 + d, 0.0), Way(100.0, 100.0, 0.0), 0.005)
        for n, d in enumerate(differences)
    ]


@pytest.mark.parametrize(
    ("differences", "expected"),
    [
        ((1, 2, 3), []),
        ((-1, 2, 3), [(0, 1)]),
        ((-1, 2, -3, -1, 4), [(0, 1), (1, 2), (3, 4)]),
        ((-1, 0, 1), [(1, 1)]),
        ((0, 1, 2), [(0, 0)]),
        ((-1, 0.001, -0.001, 0, 5), [(1, 1), (3, 3)]),
        ((0, 0, 0), []),
    ],
)
def test_every_change_of_sign_is_found(
    differences: tuple[float, ...], expected: list[tuple[int, int]]
) -> None:
    assert crossings(curve(*differences)) == expected


def unsure(*differences: float, gap: float) -> list[Point]:
    """Points of whole plans whose gaps together are as given."""
    return [
        replace(
            point,
            house=replace(point.house, bound=point.house.cost - gap / 2),
            bought=Way(100, 100 - gap / 2, 0),
        )
        for point in curve(*differences)
    ]


@pytest.mark.parametrize(
    ("differences", "expected"),
    [
        ((5, 3, 1), []),
        ((-5, 1, -1, 5), [(0, 3)]),  # what the middle ones do lies within the gaps
        ((5, -1, 5), []),
        ((-5, 5, -1, -5), [(0, 1), (1, 3)]),
        ((-1, 1, 5), [(0, 2)]),  # a change at the end, though the end is not sure
        ((1, 1, -1), [(0, 2)]),
        ((1, -1, 1), []),
        ((0, -1, 5), []),
    ],
)
def test_changes_of_whole_plans_are_between_what_is_sure(
    differences: tuple[float, ...], expected: list[tuple[int, int]]
) -> None:
    points = unsure(*differences, gap=4.0)
    assert [p.sure for p in points] == [0 if abs(p.difference) < 2 else p.sign for p in points]
    assert changed(points) == expected


def test_no_change_of_sign_counts_where_one_way_delivers_less() -> None:
    """The second way is short at the second point alone: no crossing leads to it or from it."""
    points = curve(-1, 2, -3)
    lacking = replace(points[1], bought=Way(100.0, 100.0, 5.0, 50.0))
    assert (lacking.lacking, lacking.cheaper) == (BOUGHT_IN, IN_HOUSE)
    assert crossings([points[0], lacking, points[2]]) == []


def test_cheaper_is_said_of_each_point() -> None:
    assert [p.cheaper for p in curve(1, -1, 0)] == [BOUGHT_IN, IN_HOUSE, NEITHER]


def test_a_break_even_on_a_point_of_the_curve_is_that_point() -> None:
    """The price is scaled from three quarters of what growing costs to five quarters; the middle is even."""
    base = with_offer()
    even = continuous(base, "buy-in-price", 1.0).house.cost / PLANTS
    scenario = replace(base, buy_in_offers=(replace(base.buy_in_offers[0], price=even),))
    found = only(scenario, "buy-in-price", 0.75, 1.25)
    assert (found["factor"], found["below"], found["above"]) == (1.0, BOUGHT_IN, IN_HOUSE)


@settings(max_examples=deep(15))
@given(
    st.sampled_from(["volume", "buy-in-price", "take", "wage"]),
    st.floats(0.5, 6.0),
    st.floats(0.0, 60.0),
    st.integers(2, 30),
)
def test_at_a_break_even_both_ways_cost_the_same(of: str, price: float, seconds: float, slots: int) -> None:
    """Margins are fixed here, so that both costs move without steps.

    Where one way delivers less at some factor, the difference may change its sign there, unseen.
    """
    base = SPECIMENS["buy-in"]
    scenario = replace(
        base,
        zones=(*base.zones[:2], pool("Chamber", ZoneUse.HEALING, float(slots), 0.5), base.zones[3]),
        buy_in_offers=(replace(base.buy_in_offers[0], price=price),),
        labour_standards=(LabourStandard(Task.GRAFT, "grafting", None, None, seconds),),
        crews=(crew("Grafters", "grafting"),),
    )
    study = break_even_study(scenario, of=of, low=0.2, high=4.0, workers=1)
    ends = [continuous(scenario, of, factor).sign for factor in (0.2, 4.0)]
    found = rows(study, "Continuous")
    alike = not any(p.lacking for p in (continuous(scenario, of, f) for f in (0.2, 4.0)))
    if ends[0] * ends[1] < 0 and alike:
        assert len(found) % 2 == 1
    for row in found:
        there = continuous(scenario, of, row["factor"])
        assert there.house.cost == pytest.approx(there.bought.cost, rel=1e-6, abs=0.005)
        assert row["difference"] == pytest.approx(there.difference, abs=1e-6)
    for row in rows(study, "Break-evens"):
        for at, way in ((row["low"], row["below"]), (row["high"], row["above"])):
            tried = None if at is None else two_ways.whole(scenario, of, at)
            assert tried is None or (tried.sure and tried.cheaper == way)
        assert (row["low"] or 0.2) <= row["factor"] <= (row["high"] or 4.0)
    gaps = max(row["most"] - row["least"] for row in rows(study, "Curve"))
    costs = [(row["house"], row["bought"]) for row in rows(study, "Curve")]
    if of in ("take", "wage"):
        falls = of == "take"
        house = [cost for cost, _ in costs]
        assert all((a >= b - gaps - 1e-6) if falls else (a <= b + gaps + 1e-6) for a, b in pairwise(house))
