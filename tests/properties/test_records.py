"""Known rates come back from generated logs: 95 % intervals cover them 93 to 97 times in a hundred."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.random import Generator
from numpy.typing import NDArray

from model.rates.estimates import (
    Counted,
    Pool,
    Record,
    estimate,
    fit_by_likelihood,
    fit_by_moments,
    mean_rate,
    pace,
)
from model.rates.overseeding import Beta
from tests.depth import some

LOGS = 2_000
FIRST = date(2026, 3, 2)


def rates(rng: Generator, rate: Beta, lots: int) -> NDArray[np.float64]:
    """True rates of lots."""
    if rate.correlation == 0:
        return np.full(lots, rate.mean)
    return rng.beta(rate.alpha, rate.beta, lots)


def covered(trial: Callable[[Generator], float], seed: int, logs: int = LOGS) -> float:
    """Mean over many logs of the share of intervals that cover."""
    rng = np.random.default_rng(seed)
    return float(np.mean([trial(rng) for _ in range(logs)]))


@pytest.mark.parametrize(
    "mean, correlation, days",
    [
        (0.9, 0.0, 3),
        (0.9, 0.0, 20),
        (0.97, 0.0, 40),
        (0.9, 0.002, 5),
        (0.9, 0.01, 20),
        (0.85, 0.02, 60),
        (0.7, 0.2, 20),
        (0.9, 0.05, 30),
    ],
)
def test_mean_rate_is_covered(mean: float, correlation: float, days: int) -> None:
    """Binomial (correlation 0) and beta-binomial logs of 50 to 400 joins a day."""
    rate = Beta(mean, correlation)

    def trial(rng: Generator) -> float:
        tried = rng.integers(50, 401, days)
        _, low, high = mean_rate(tried, rng.binomial(tried, rates(rng, rate, days)))
        return low <= mean <= high

    assert 0.93 <= covered(trial, seed=days) <= 0.97


@pytest.mark.parametrize(
    "mean, correlation, lots",
    some([(0.9, 0.05, 5), (0.9, 0.01, 20), (0.85, 0.02, 60), (0.7, 0.2, 10), (0.95, 0.03, 8)]),
)
def test_rates_of_lots_are_covered(mean: float, correlation: float, lots: int) -> None:
    """Each lot's own rate, by 50 to 400 seeds of it and the pool of the others."""
    rate = Beta(mean, correlation)

    def trial(rng: Generator) -> float:
        tried = rng.integers(50, 401, lots)
        true = rates(rng, rate, lots)
        good = rng.binomial(tried, true)
        pool = Pool.of(tried, good)
        found = [pool.of_lot(n, x) for n, x in zip(tried[:5], good[:5], strict=True)]
        return float(np.mean([low <= r <= high for r, (_, low, high) in zip(true[:5], found, strict=True)]))

    assert 0.93 <= covered(trial, seed=lots, logs=LOGS // 2) <= 0.97


@pytest.mark.parametrize("lots", [5, 20])
def test_lots_that_do_not_vary_are_covered_at_least(lots: int) -> None:
    """That lots are all the same is never sure from a few: the interval allows for some spread."""

    def trial(rng: Generator) -> float:
        tried = rng.integers(50, 401, lots)
        good = rng.binomial(tried, 0.9)
        _, low, high = Pool.of(tried, good).of_lot(tried[0], good[0])
        return low <= 0.9 <= high

    assert covered(trial, seed=lots, logs=500) >= 0.95


@pytest.mark.parametrize("true, days", [(0.8, 4), (1.1, 15)])
def test_pace_is_covered(true: float, days: int) -> None:
    """Hours of a day scatter by a tenth about the standard hours over pace."""

    def trial(rng: Generator) -> float:
        standard = rng.uniform(2, 8, days)
        _, low, high = pace(standard, standard / true * rng.normal(1, 0.1, days))
        return low <= true <= high

    assert 0.93 <= covered(trial, seed=days) <= 0.97


@pytest.mark.parametrize("mean, correlation", [(0.9, 0.02), (0.6, 0.15)])
def test_both_fits_find_the_correlation(mean: float, correlation: float) -> None:
    """With 3,000 lots of 100, to a twelfth."""
    rng = np.random.default_rng(7)
    tried = np.full(3_000, 100)
    good = rng.binomial(tried, rates(rng, Beta(mean, correlation), tried.size))
    for fit in (fit_by_moments(tried, good), fit_by_likelihood(tried, good)):
        assert fit.mean == pytest.approx(mean, rel=0.02)
        assert fit.correlation == pytest.approx(correlation, rel=1 / 12)


counts = st.integers(1, 500).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n)))


@given(st.lists(counts, min_size=1, max_size=8))
def test_any_log_gives_rates_within_their_intervals(lots: list[tuple[int, int]]) -> None:
    log = [
        Record(kind, "one" if kind is Counted.TAKE else f"lot {n}", FIRST + timedelta(n), tried, good)
        for kind in (Counted.GERMINATION, Counted.TAKE)
        for n, (tried, good) in enumerate(lots)
    ]
    table = estimate(log)
    known = table.dropna(subset=["low"])
    assert len(known) == len(lots) + (len(lots) > 1)
    assert ((known["low"] >= 0) & (known["high"] <= 1)).all()
    assert ((known["low"] <= known["rate"]) & (known["rate"] <= known["high"])).all()
    assert table["correlation"].dropna().between(0, 1).all()


@given(st.integers(1, 500), st.data())
def test_of_lots_as_large_the_better_has_the_higher_rate(tried: int, data: st.DataObject) -> None:
    good = sorted(data.draw(st.lists(st.integers(0, tried), min_size=2, max_size=8, unique=True)))
    pool = Pool.of([tried] * len(good), good)
    found = [pool.of_lot(tried, x)[0] for x in good]
    assert all(low < high for low, high in pairwise(found))
