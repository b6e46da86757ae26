"""Sowing margins at a level: each order pays for its own spare seedlings, and every order reaches its level.

Bound on what an order adds: where there is room for all and no stock, the plans of a book and of an order by
itself, added up, are a plan of both. So an order never adds more than it costs in a nursery of its own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.proof.audit import audit
from model.rates.overseeding import cells_needed, lot_margin, seedlings_of, service_level
from model.scenario.choices import Happened, MarginPolicy, MatchFrom, SowingPolicy
from model.scenario.entities import Order, Scenario
from model.scenario.records.methods import AgeEffect
from model.scenario.records.past import Progress
from model.solve import plan
from tests.demo import demo
from tests.depth import deep
from tests.least import least
from tests.scenario_parts import ROOT_CUT, day, lot, order
from tests.specimens import OWN_ROOT
from tests.strategies import base_scenario, with_nursery

ROUNDING = 1e-6

LEVEL = {"sowing_policy": SowingPolicy.LEVEL, "margin_policy": MarginPolicy.LEVEL}

AGES = (
    AgeEffect("splice", 4, 3, 0.8, 0.9),
    AgeEffect("splice", 5, 3, 0.9, 0.82),
    AgeEffect("splice", 5, 4, 0.9, 0.7),
)


def by_ages() -> dict[str, Any]:
    """The method of the base scenario, with match and take by ages."""
    (rule,) = base_scenario().methods
    return {"methods": (replace(rule, match_from=MatchFrom.AGES, match=None),), "age_effects": AGES}


KINDS: dict[str, dict[str, Any]] = {
    "on-tray": {},
    "own-root": OWN_ROOT,
    "root-cut": ROOT_CUT,
    "ages": by_ages(),
}

sizes = st.integers(20, 400)
levels = st.sampled_from([None, 0.8, 0.9, 0.99])
dues = st.integers(15, 18)
rows = st.lists(st.tuples(sizes, dues, levels), min_size=1, max_size=3)


def book(kind: str, *orders: tuple[int, int, float | None], **changes: Any) -> Scenario:
    """A nursery with room for all, whose only cost is seed, with these orders (quantity, due, level)."""
    made = base_scenario(**KINDS[kind])
    product = made.products[0].product
    listed = tuple(
        order(f"O-{n}", product, quantity, due, service_level=level)
        for n, (quantity, due, level) in enumerate(orders)
    )
    return with_nursery(replace(made, orders=listed, **changes), **LEVEL)


@settings(max_examples=deep(60))
@given(st.sampled_from(sorted(KINDS)), rows, dues, levels)
def test_an_order_of_twenty_adds_no_more_than_it_costs_by_itself(
    kind: str, orders: list[tuple[int, int, float | None]], due: int, level: float | None
) -> None:
    small = (20, due, level)
    adds = least(book(kind, *orders, small)) - least(book(kind, *orders))
    alone = least(book(kind, small))
    assert adds <= alone + ROUNDING
    if kind != "ages":  # all pairs are alike, so that nothing is shared
        assert adds == pytest.approx(alone)


@settings(max_examples=deep(20))
@given(rows, dues)
def test_nor_in_whole_trays(orders: list[tuple[int, int, float | None]], due: int) -> None:
    small = (20, due, None)
    made = plan(book("on-tray", *orders, small))
    alone = least(book("on-tray", small), whole=True)
    assert made.facts.bound <= least(book("on-tray", *orders), whole=True) + alone + ROUNDING


@given(sizes, levels)
def test_the_cost_of_an_order_with_its_own_margin(quantity: int, level: float | None) -> None:
    """Seedlings and spare ones for an order alone, at .25 and .50 a seed of which .81 stand."""
    scenario = book("on-tray", (quantity, 16, level))
    (term,) = expand(scenario).orders
    joins = quantity * (1 + term.margin) / (0.8 * 0.95)
    seedlings = seedlings_of(term.order, term.margin, term.method)
    spare = lot_margin(scenario.seed_lots[0], seedlings, level or 0.95)
    assert least(scenario) == pytest.approx(joins / 0.9 * (1 + spare) / 0.81 * 0.75)


@settings(max_examples=deep(40))
@given(st.sampled_from(sorted(KINDS)), rows)
def test_a_plan_stands_the_audit_and_its_seed_reaches_the_level(
    kind: str, orders: list[tuple[int, int, float | None]]
) -> None:
    scenario = book(kind, *orders)
    made = plan(scenario)
    assert [check for check in audit(scenario, made) if not check.passed] == []
    assert made.short == 0
    lowest = min(level or scenario.nursery.service_level for _, _, level in orders)
    for row in scenario.seed_lots:
        assert enough(made, row.lot) >= lowest - ROUNDING


def enough(made: Plan, name: str) -> float:
    """Chance that the cells sown of a lot hold the seedlings drawn."""
    waves = made.waves[made.waves["lot"] == name]
    seeds, drawn = round(waves["seeds"].sum()), waves["drawn"].sum()
    return 1.0 if drawn < ROUNDING else float(binom.sf(round(drawn - ROUNDING + 0.5) - 1, seeds, 0.81))


stands = st.floats(0.5, 0.97)
alike = st.sampled_from([0.0, 0.0, 0.001, 0.02])


@given(st.integers(20, 3000), st.integers(20, 3000), stands, alike, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_an_order_split_in_two_has_cells_enough_for_the_whole(
    one: int, other: int, germination: float, alike: float, level: float
) -> None:
    cells = [cells_needed(n, germination, 0.0, 1, level, alike) for n in (one, other)]
    assert sum(cells) >= cells_needed(one + other, germination, 0.0, 1, level, alike)
    if alike == 0:
        assert binom.sf(one + other - 1, sum(cells), germination) >= level


@settings(max_examples=deep(40))
@given(sizes, sizes, levels, st.lists(st.tuples(sizes, levels), max_size=2))
def test_splitting_an_order_lowers_nobodys_level(
    one: int, other: int, level: float | None, others: list[tuple[int, float | None]]
) -> None:
    """Orders of a higher level have their seedlings first; the chance of each, split or whole."""
    rest = [(quantity, 16, own) for quantity, own in others]
    for parts in ([(one + other, 16, level)], [(one, 16, level), (other, 16, level)]):
        scenario = book("own-root", *parts, *rest)
        network = expand(scenario)
        needs, cells = [], 0.0
        for term in network.orders:
            promised = service_level(term.order, term.product, scenario.nursery)
            seedlings = seedlings_of(term.order, term.margin, term.method)
            cells += seedlings * (1 + lot_margin(scenario.seed_lots[0], seedlings, promised)) / 0.81
            needs.append((promised, seedlings))
        for promised, _ in needs:
            first = sum(seedlings for own, seedlings in needs if own >= promised)
            assert binom.sf(first - 1, int(cells + ROUNDING), 0.81) >= promised


def test_twenty_plants_that_fit_into_the_demos_waves_cost_about_their_price() -> None:
    """Their margins are 24 % of finished plants and seedlings: 20 plants are hardly 30, of about 1.05 each.

    With the margin of the smallest order for all of a lot, they cost thousands.
    """
    scenario = with_nursery(demo(), sowing_policy=SowingPolicy.LEVEL)
    (booked,) = (row for row in scenario.orders if row.order == "HA-014")
    more = replace(booked, order="new", quantity=20)
    adds = least(with_orders(scenario, more)) - least(scenario)
    assert 10 < adds < 30


def with_orders(scenario: Scenario, *more: Order) -> Scenario:
    """The scenario with more orders."""
    return replace(scenario, orders=(*scenario.orders, *more))


def test_another_order_of_a_high_level_does_not_raise_the_seed_of_the_first() -> None:
    alone, high = (100, 16, None), (20, 16, 0.999999)
    adds = least(book("own-root", alone, high)) - least(book("own-root", alone))
    assert adds == pytest.approx(least(book("own-root", high)))


def test_a_lot_of_its_own_margin_keeps_it_and_needs_no_spare_seedlings() -> None:
    lots = (lot("Red A", "Red", stock=0, sowing_margin=0.1), lot("Stout A", "Stout", stock=0))
    scenario = book("own-root", (100, 16, None), seed_lots=lots)
    made = plan(scenario, whole=False)
    (term,) = expand(scenario).orders
    assert made.spare_seedlings.empty
    assert made.cost == pytest.approx(100 * (1 + term.margin) / 0.95 * 1.1 / 0.81 * 0.5)


@pytest.mark.parametrize("counted, sown_anew", [(113.0, False), (None, True)])
def test_counted_seedlings_need_no_spare_ones(counted: float | None, sown_anew: bool) -> None:
    """100 plants with their graft margin need 112 seedlings; of 15 trays of ten 121.5 are expected.

    Not counted, they are too few with a margin; counted, enough without one.
    """
    sown = Progress(day(5), Happened.SOWN, 15.0, counted=counted, lot="Red A", format="ten")
    scenario = book("own-root", (100, 16, 0.99), progress=(sown,))
    scenario = with_nursery(scenario, today=day(7))
    made = plan(scenario)
    assert [check for check in audit(scenario, made) if not check.passed] == []
    assert made.short == 0
    assert made.spare_seedlings.empty is not sown_anew
    assert (len(made.waves) > 1) is sown_anew
