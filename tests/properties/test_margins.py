"""Joins needed at a service level, against the binomial distribution counted term by term."""

from __future__ import annotations

from math import comb, fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from model.margins import chance_of_enough, graft_margin, joins_needed
from tests.strategies import SPECIMENS

chances = st.floats(0.05, 1.0)
levels = st.floats(0.01, 0.9999)


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
    assert chance_of_enough(n, quantity, p) >= level
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


def test_hundred_of_nine_in_ten() -> None:
    """117 joins leave 100 with a chance of 95 % at a take of .9; 116 do not."""
    assert joins_needed(100, 0.9, 0.95) == 117


def test_overbooking() -> None:
    """Triola, Elementary Statistics, 6-6 no. 22: 229 bookings for 213 places, each kept with .9005.

    The same distribution read the other way: all fit with 95 % if at least n - 213 stay away, and 230
    would be too many. The normal approximation says 228.
    """
    most = 213
    stay_away = 1 - 0.9005
    assert joins_needed(229 - most, stay_away, 0.95) <= 229
    assert joins_needed(230 - most, stay_away, 0.95) > 230


def test_small_orders_need_proportionally_more() -> None:
    over = [joins_needed(q, 0.85, 0.95) * 0.85 / q - 1 for q in (10, 100, 1000, 10_000, 100_000)]
    assert over == sorted(over, reverse=True)
    assert over[0] > 10 * over[-1]


def test_margin_of_an_order_uses_its_own_level() -> None:
    scenario = SPECIMENS["level"]
    method, nursery = scenario.methods[0], scenario.nursery
    assert method.take is not None
    p = method.take * method.finish_survival
    sure, usual = (graft_margin(order, method, nursery) for order in scenario.orders)
    assert sure == pytest.approx(joins_needed(60, p, 0.99) * p / 60 - 1)
    assert usual == pytest.approx(joins_needed(90, p, 0.95) * p / 90 - 1)
