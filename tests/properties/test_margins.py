"""Joins and cells needed, against the binomial and beta-binomial distributions counted term by term."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product
from math import comb, fsum, prod

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import beta, betabinom, binom

from model.rates.overseeding import (
    MOST,
    ROUNDING,
    Beta,
    cells_needed,
    chance_of_enough,
    critical_level,
    graft_margin,
    joins_needed,
    joins_priced,
    lot_margin,
    newsvendor_costs,
    service_level,
    sowing_margins,
)
from model.scenario.choices import MarginPolicy, MethodKind, SowingPolicy
from model.scenario.records.methods import Method
from tests.depth import some
from tests.scenario_parts import lot
from tests.specimens import SPECIMENS

chances = st.floats(0.05, 1.0)
levels = st.floats(0.01, 0.9999)
alike = st.floats(1e-4, 0.5)

CORRELATIONS = (1e-4, 0.01, 0.1, 0.5, 0.9)
CLOSE = 1e-9
"""The integral agrees with sums of terms to this; a level is reached or not to this."""


@pytest.mark.parametrize("quantity", [1, 2, 7, 40, 130, 100_000])
@pytest.mark.parametrize("p", [0.3, 0.75, 0.9, 0.99, 1.0])
@pytest.mark.parametrize("level", [0.05, 0.5, 0.95, 0.9999])
def test_smallest_number_that_is_sure_enough(quantity: int, p: float, level: float) -> None:
    n = joins_needed(quantity, p, level)
    assert binom.sf(quantity - 1, n, p) >= level
    assert n == quantity or binom.sf(quantity - 1, n - 1, p) < level


@given(st.integers(1, 400), chances, levels)
def test_smallest_number_for_any_order(quantity: int, p: float, level: float) -> None:
    n = joins_needed(quantity, p, level)
    assert n >= quantity
    assert chance_of_enough(n, quantity, p) >= level - ROUNDING
    assert n == quantity or chance_of_enough(n - 1, quantity, p) < level


@given(st.integers(1, 60), st.integers(0, 60), chances)
def test_chance_is_the_sum_of_its_terms(quantity: int, over: int, p: float) -> None:
    n = quantity + over
    terms = (comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(quantity, n + 1))
    assert chance_of_enough(n, quantity, p) == pytest.approx(fsum(terms), rel=1e-9, abs=1e-12)


@given(st.integers(1, 400), chances, levels, levels)
def test_surer_needs_no_fewer(quantity: int, p: float, a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert joins_needed(quantity, p, low) <= joins_needed(quantity, p, high)


@given(st.integers(1, 400), chances, chances, levels)
def test_better_take_needs_no_more(quantity: int, a: float, b: float, level: float) -> None:
    low, high = sorted((a, b))
    assert joins_needed(quantity, high, level) <= joins_needed(quantity, low, level)


@given(st.integers(1, 400), st.integers(1, 50), chances, levels)
def test_each_plant_more_needs_a_join_more(quantity: int, more: int, p: float, level: float) -> None:
    assert joins_needed(quantity + more, p, level) >= joins_needed(quantity, p, level) + more


def test_small_orders_need_proportionally_more() -> None:
    over = [joins_needed(q, 0.85, 0.95) * 0.85 / q - 1 for q in (10, 100, 1000, 10_000, 100_000)]
    assert over == sorted(over, reverse=True)
    assert over[0] > 10 * over[-1]


def test_margin_of_an_order_uses_its_own_level() -> None:
    scenario = SPECIMENS["level"]
    method, nursery = scenario.methods[0], scenario.nursery
    assert method.take is not None
    p = method.take * method.finish_survival
    sure, usual = (graft_margin(order, scenario.products[0], method, nursery) for order in scenario.orders)
    assert sure == pytest.approx(joins_needed(60, p, 0.99) * p / 60 - 1)
    assert usual == pytest.approx(joins_needed(90, p, 0.95) * p / 90 - 1)


def survivors(joins: int, quantity: int, p: float, correlation: float, kept: float) -> float:
    """Chance of enough by counting: so many heal (beta-binomial), of which so many survive (binomial)."""
    rate = Beta(p, correlation)
    healed = np.arange(quantity, joins + 1)
    chances = betabinom.pmf(healed, joins, rate.alpha, rate.beta) * binom.sf(quantity - 1, healed, kept)
    return fsum(chances)


@pytest.mark.parametrize("joins", [1, 2, 10, 117, 1000, 20_000])
@pytest.mark.parametrize("p", [0.1, 0.5, 0.9, 0.99])
@pytest.mark.parametrize("correlation", CORRELATIONS)
def test_chance_agrees_with_scipy(joins: int, p: float, correlation: float) -> None:
    rate = Beta(p, correlation)
    for share in (0.05, 0.3, 0.8, 0.9, 0.95, 1.0):
        quantity = max(1, round(share * joins))
        assert chance_of_enough(joins, quantity, p, correlation) == pytest.approx(
            betabinom.sf(quantity - 1, joins, rate.alpha, rate.beta), abs=CLOSE
        )
        assert chance_of_enough(joins, quantity, p) == pytest.approx(
            binom.sf(quantity - 1, joins, p), abs=CLOSE
        )


@pytest.mark.parametrize("quantity", [1, 7, 130, 5_000, 100_000])
@pytest.mark.parametrize("p", [0.5, 0.9])
@pytest.mark.parametrize("correlation", [1e-4, 0.01, 0.1])
@pytest.mark.parametrize("level", [0.05, 0.5, 0.95])
def test_smallest_number_where_lots_vary(quantity: int, p: float, correlation: float, level: float) -> None:
    n, rate = joins_needed(quantity, p, level, correlation), Beta(p, correlation)
    assert betabinom.sf(quantity - 1, n, rate.alpha, rate.beta) >= level - CLOSE
    assert n == quantity or betabinom.sf(quantity - 1, n - 1, rate.alpha, rate.beta) < level + CLOSE


@pytest.mark.parametrize("quantity", [1, 2, 5, 10, 50, 1000])
@pytest.mark.parametrize("one_in", [2, 10, 20, 100, 10_000])
def test_a_number_that_just_reaches_its_level_is_enough(quantity: int, one_in: int) -> None:
    """All rates alike likely (ρ = 1/3 at 0.5): X is uniform on 0 … n, so P(X ≥ q) = 1 − q/(n + 1) exactly."""
    assert joins_needed(quantity, 0.5, 1 - 1 / one_in, 1 / 3) == quantity * one_in - 1


@pytest.mark.parametrize("needed", range(1, 30))
def test_a_number_that_just_reaches_its_level_is_enough_where_lots_are_alike(needed: int) -> None:
    assert joins_needed(1, 0.5, 1 - 0.5**needed) == needed
    assert joins_needed(needed, 0.5, 0.5**needed) == needed


@given(st.integers(1, 40), st.integers(0, 40), st.integers(1, 60), st.integers(1, 60))
def test_chance_is_the_sum_of_exact_terms(quantity: int, over: int, a: int, b: int) -> None:
    """Terms in whole fractions: C(n, k) · α(α + 1)… · β(β + 1)… / ((α + β)(α + β + 1)…)."""
    n = quantity + over

    def rising(x: int, m: int) -> int:
        return prod(range(x, x + m))

    exact = sum(
        Fraction(comb(n, k) * rising(a, k) * rising(b, n - k), rising(a + b, n))
        for k in range(quantity, n + 1)
    )
    assert chance_of_enough(n, quantity, a / (a + b), 1 / (a + b + 1)) == pytest.approx(
        float(exact), abs=CLOSE
    )


@given(st.integers(1, 200), st.integers(0, 100), st.floats(0.05, 0.999), alike, st.floats(0.5, 1.0))
@example(1, 0, 0.984375, 0.4921875, 1.0)
def test_losses_after_are_counted_through(
    quantity: int, over: int, p: float, correlation: float, kept: float
) -> None:
    n = quantity + over
    assert chance_of_enough(n, quantity, p, correlation, kept) == pytest.approx(
        survivors(n, quantity, p, correlation, kept), abs=CLOSE
    )


@given(st.integers(1, 400), st.integers(0, 100), chances, st.floats(0.5, 1.0))
def test_no_correlation_is_the_binomial(quantity: int, over: int, p: float, kept: float) -> None:
    """At 0 to the digit; and it is what a correlation that goes to 0 leads to."""
    n = quantity + over
    exact = binom.sf(quantity - 1, n, p * kept)
    assert chance_of_enough(n, quantity, p, 0.0, kept) == pytest.approx(exact, abs=1e-12)
    assert chance_of_enough(n, quantity, p, 1e-10, kept) == pytest.approx(exact, abs=1e-6)


@given(st.integers(1, 400), chances, st.floats(0.05, 0.99), st.floats(0.05, 0.99), st.floats(1e-4, 0.2))
def test_surer_needs_no_fewer_where_lots_vary(
    quantity: int, p: float, a: float, b: float, correlation: float
) -> None:
    low, high = sorted((a, b))
    assert joins_needed(quantity, p, low, correlation) <= joins_needed(quantity, p, high, correlation)


@given(st.integers(1, 400), st.floats(0.3, 1), st.floats(0.3, 1), st.floats(0.05, 0.99), st.floats(1e-4, 0.2))
def test_better_take_needs_no_more_where_lots_vary(
    quantity: int, a: float, b: float, level: float, correlation: float
) -> None:
    low, high = sorted((a, b))
    assert joins_needed(quantity, high, level, correlation) <= joins_needed(quantity, low, level, correlation)


@given(
    st.integers(1, 400), st.integers(1, 50), st.floats(0.3, 1), st.floats(0.05, 0.99), st.floats(1e-4, 0.2)
)
def test_each_plant_more_needs_a_join_more_where_lots_vary(
    quantity: int, more: int, p: float, level: float, correlation: float
) -> None:
    fewer, n = (joins_needed(q, p, level, correlation) for q in (quantity, quantity + more))
    assert n >= fewer + more


@given(st.integers(1, 300), st.floats(0.3, 0.97), st.floats(0.3, 0.95), alike, alike)
def test_more_alike_needs_no_fewer_at_a_level_well_above_the_take(
    quantity: int, p: float, beyond: float, a: float, b: float
) -> None:
    """At a level of at least .6, and a third of the way from the take to certainty."""
    level = max(0.6, p + beyond * (1 - p))
    low, high = sorted((a, b))
    few = joins_needed(quantity, p, level, low)
    assert joins_needed(quantity, p, level) <= few <= joins_needed(quantity, p, level, high)


def test_more_alike_may_need_fewer_at_a_level_below_the_take() -> None:
    """Most lots do better than their mean where a few fail: at a level of .6, 100 of a take of .9."""
    assert joins_needed(100, 0.9, 0.6, 0.5) < joins_needed(100, 0.9, 0.6, 0.0)


def test_a_lot_that_stands_or_falls_as_one() -> None:
    assert joins_needed(100, 0.9, 0.85, 1.0) == 100
    assert chance_of_enough(500, 100, 0.9, 1.0) == pytest.approx(0.9)
    with pytest.raises(ValueError, match="as a whole"):
        joins_needed(100, 0.9, 0.95, 1.0)


def test_nothing_is_enough_where_nothing_survives() -> None:
    with pytest.raises(ValueError, match="nothing survives"):
        joins_needed(1, 0.0, 0.5, 0.1)
    with pytest.raises(ValueError, match="nothing survives"):
        cells_needed(1, 0.9, 1.0, 1, 0.5, 0.1)


def test_more_than_can_be_counted() -> None:
    with pytest.raises(ValueError, match="no number up to"):
        joins_needed(10, 0.01, 0.99, 0.5)
    n = joins_needed(100_000, 0.5, 0.9999, 0.5)
    assert 100_000_000 < n < MOST
    # With that many joins nothing but the lot's rate is left to chance.
    assert beta.sf(100_000 / n, 0.5, 0.5) == pytest.approx(0.9999, abs=1e-6)


@pytest.mark.parametrize(
    "seeds_per_cell, grade_out, correlation, seedlings",
    some(product([1, 2, 3], [0.0, 0.08], [0.002, 0.05], [20, 500])),
)
def test_cells_against_numerical_integration(
    seedlings: int, seeds_per_cell: int, grade_out: float, correlation: float
) -> None:
    germination, level = 0.8, 0.95
    rate = Beta(germination, correlation)

    def chance(cells: int) -> float:
        def enough(g: float) -> float:
            usable = (1 - (1 - g) ** seeds_per_cell) * (1 - grade_out)
            return float(binom.sf(seedlings - 1, cells, usable) * beta.pdf(g, rate.alpha, rate.beta))

        parts = np.linspace(0, 1, 41)
        return fsum(quad(enough, *part)[0] for part in pairwise(parts))

    cells = cells_needed(seedlings, germination, grade_out, seeds_per_cell, level, correlation)
    assert chance(cells) >= level - 1e-7
    assert chance(cells - 1) < level + 1e-7


@given(st.integers(1, 300), st.floats(0.3, 0.99), levels, st.floats(0.0, 0.2))
def test_cells_of_one_seed_are_joins(
    seedlings: int, germination: float, level: float, correlation: float
) -> None:
    cells = cells_needed(seedlings, germination, 0.0, 1, level, correlation)
    assert cells == joins_needed(seedlings, germination, level, correlation)


@pytest.mark.parametrize("correlation", [1e-6, 1e-12, 1e-16, 1e-20, 1e-300, 5e-324])
@pytest.mark.parametrize("quantity", [100, 100_000])
def test_hardly_any_correlation_is_none(quantity: int, correlation: float) -> None:
    joins = joins_needed(quantity, 0.9, 0.95)
    close = 1e-9 + joins * correlation
    exact = chance_of_enough(joins, quantity, 0.9)
    assert chance_of_enough(joins, quantity, 0.9, correlation) == pytest.approx(exact, abs=close)
    cells = cells_needed(quantity, 0.8, 0.05, 2, 0.95)
    assert cells_needed(quantity, 0.8, 0.05, 2, 0.95, correlation) == pytest.approx(cells, rel=close)


@given(st.integers(1, 300), st.floats(0.3, 0.99), st.floats(0, 0.3), st.integers(1, 3), st.floats(0.0, 0.1))
def test_more_seeds_a_cell_need_no_more_cells(
    seedlings: int, germination: float, grade_out: float, seeds: int, correlation: float
) -> None:
    one, more = (
        cells_needed(seedlings, germination, grade_out, k, 0.95, correlation) for k in (seeds, seeds + 1)
    )
    assert more <= one


def cheapest(cost: Callable[[int], float], numbers: range) -> float:
    return min(cost(n) for n in numbers)


@given(
    st.integers(1, 40),
    st.floats(0.5, 0.98),
    st.floats(0.1, 20),
    st.floats(0.1, 20),
    st.sampled_from([0.0, 0.01, 0.1]),
    st.sampled_from([1.0, 0.9]),
)
def test_priced_joins_cost_least_of_all(
    quantity: int, p: float, short_cost: float, surplus_cost: float, correlation: float, kept: float
) -> None:
    rate = Beta(p, correlation)

    def cost(n: int) -> float:
        healed = np.arange(n + 1)
        chance = betabinom.pmf(healed, n, rate.alpha, rate.beta) if correlation else binom.pmf(healed, n, p)
        chance = chance @ binom.pmf(healed, healed[:, None], kept)
        gap = healed - quantity
        return float(chance @ np.where(gap < 0, -gap * short_cost, gap * surplus_cost))

    n = joins_priced(quantity, p, short_cost, surplus_cost, correlation, kept)
    # The cost falls to its least and rises from there, so the near ones are enough to look at.
    assert cost(n) == pytest.approx(cheapest(cost, range(max(0, n - 12), n + 13)), rel=1e-8)


@given(st.integers(1, 400), chances, st.floats(0.1, 50), st.floats(0.1, 50))
def test_without_spread_prices_are_a_level(quantity: int, p: float, short: float, over: float) -> None:
    assert joins_priced(quantity, p, short, over) == joins_needed(quantity, p, critical_level(short, over))


@pytest.mark.parametrize("short, over", [(0, 1), (1, 0), (-1, 2)])
def test_prices_that_name_no_best_number(short: float, over: float) -> None:
    with pytest.raises(ValueError, match="both cost more than 0"):
        joins_priced(10, 0.9, short, over)


def margin(method: Method) -> float:
    scenario = SPECIMENS["level"]
    return graft_margin(scenario.orders[0], scenario.products[0], method, scenario.nursery)


def test_margin_counts_the_spread_of_take_but_not_of_finishing() -> None:
    method = replace(SPECIMENS["level"].methods[0], take=0.9, finish_survival=0.95, take_correlation=0.03)
    p = 0.9 * 0.95
    n = round((1 + margin(method)) * 60 / p)
    assert survivors(n, 60, 0.9, 0.03, 0.95) >= 0.99 - CLOSE
    assert survivors(n - 1, 60, 0.9, 0.03, 0.95) < 0.99 + CLOSE
    assert margin(method) > margin(replace(method, take_correlation=0.0))


def test_own_root_plants_have_no_take_to_vary() -> None:
    method = replace(
        SPECIMENS["level"].methods[0], kind=MethodKind.OWN_ROOT, finish_survival=0.95, take_correlation=0.3
    )
    assert margin(method) == margin(replace(method, take_correlation=0.0))


@pytest.mark.parametrize("correlation", [0.0, 0.1, 1.0])
def test_nothing_asked_for_is_sure_and_more_than_joined_impossible(correlation: float) -> None:
    assert chance_of_enough(10, 0, 0.9, correlation) == 1
    assert chance_of_enough(10, 11, 0.9, correlation) == 0


def test_fixed_margin_is_the_nurserys() -> None:
    scenario = SPECIMENS["level"]
    nursery = replace(scenario.nursery, margin_policy=MarginPolicy.FIXED, graft_margin=0.07)
    order, product, method = scenario.orders[0], scenario.products[0], scenario.methods[0]
    assert graft_margin(order, product, method, nursery) == 0.07
    assert graft_margin(replace(order, graft_margin=0.2), product, method, nursery) == 0.2
    assert graft_margin(replace(order, graft_margin=0.2), product, method, scenario.nursery) == 0.2


def test_priced_margin_is_the_newsvendors() -> None:
    scenario = SPECIMENS["priced"]
    dear, usual = scenario.orders
    product, method, nursery = scenario.products[0], scenario.methods[0], scenario.nursery
    assert newsvendor_costs(dear, product, nursery) == pytest.approx((9.0 - 1.5, 1.5))
    assert service_level(dear, product, nursery) == pytest.approx(7.5 / 9)
    p = 0.8 * method.finish_survival
    n = joins_priced(60, 0.8, 7.5, 1.5, 0.02, method.finish_survival)
    assert graft_margin(dear, product, method, nursery) == pytest.approx(n * p / 60 - 1)
    sold = replace(product, salvage_price=0.5, salvage_most=10)
    assert newsvendor_costs(usual, sold, nursery) == pytest.approx((nursery.shortfall_penalty - 1.5, 1.0))
    assert newsvendor_costs(usual, replace(sold, salvage_most=0), nursery)[1] == 1.5


@given(
    st.integers(1, 3000),
    st.floats(0.3, 0.99),
    st.floats(0, 0.3),
    st.integers(1, 3),
    st.sampled_from([0.5, 0.9, 0.95, 0.999]),
)
def test_a_wave_with_its_margin_holds_enough(
    wanted: int, germination: float, grade_out: float, seeds: int, level: float
) -> None:
    one = lot("A", "Red", germination=germination, grade_out=grade_out, seeds_per_cell=seeds)
    margin = lot_margin(one, wanted, level)
    share = (1 - (1 - germination) ** seeds) * (1 - grade_out)
    cells = round((1 + margin) * wanted / share)
    assert binom.sf(wanted - 1, cells, share) >= level - CLOSE
    if margin > 0:
        assert binom.sf(wanted - 1, cells - 1, share) < level + CLOSE


def test_the_mean_margin_of_a_lot_weighs_orders_by_their_seedlings() -> None:
    base = SPECIMENS["level"]
    nursery = replace(base.nursery, sowing_policy=SowingPolicy.LEVEL)
    lots = tuple(replace(row, germination=0.9) for row in base.seed_lots)
    scenario = replace(
        base,
        nursery=nursery,
        seed_lots=(*lots, lot("Idle", "Blue"), replace(lots[0], lot="Own", sowing_margin=0.4)),
    )
    method = scenario.methods[0]
    assert method.take is not None
    share = method.take * method.finish_survival
    joins = [joins_needed(60, share, 0.99), joins_needed(90, share, nursery.service_level)]
    own = [
        lot_margin(lots[0], n, level) for n, level in zip(joins, (0.99, nursery.service_level), strict=True)
    ]
    margins = sowing_margins(scenario)
    assert margins[lots[0].lot] == pytest.approx(np.average(own, weights=joins))
    assert margins["Idle"] == 0
    assert margins["Own"] == 0.4
    assert set(sowing_margins(base).values()) == {base.nursery.sowing_margin}


def test_no_number_pays_where_nothing_survives() -> None:
    with pytest.raises(ValueError, match="nothing survives"):
        joins_priced(10, 0.0, 1, 1, 0.1)
