"""Known rates come back from generated logs of a nursery: intervals cover 93 to 97 times in a hundred."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta

import numpy as np
import pytest
from numpy.random import Generator
from scipy.stats import betabinom

from model.rates.estimates import Counted, Pool
from model.rates.overseeding import Beta
from model.scenario.entities import Scenario
from scenarios.counts.counted_rates import Rate, counted_rates
from scenarios.counts.log import Count
from tests.depth import deep
from tests.scenario_parts import FIRST, WORK, lot
from tests.specimens import HANDS
from tests.strategies import base_scenario

LOTS = 8
DAYS = 12
SEASON = [FIRST - timedelta(days=300 - 7 * n) for n in range(DAYS)]
GERMINATION, TAKE, PACE, NOISE = Beta(0.88, 0.02), Beta(0.9, 0.015), 1.1, 0.1


def nursery() -> Scenario:
    lots = tuple(lot(f"lot {n}", "Red" if n else "Stout") for n in range(LOTS))
    return base_scenario(seed_lots=lots, packs=(), labour_standards=WORK, crews=HANDS)


def germination(rng: Generator) -> tuple[list[Count], dict[str, float]]:
    """Two or three sowings of each lot, and the lots' true rates."""
    counts, true = [], {}
    for n in range(LOTS):
        name, rate = f"lot {n}", float(rng.beta(GERMINATION.alpha, GERMINATION.beta))
        true[name] = rate
        for day in SEASON[: rng.integers(2, 4)]:
            seeds = int(rng.integers(50, 200))
            counts.append(
                Count(day, Counted.GERMINATION, name, None, None, seeds, int(rng.binomial(seeds, rate)), None)
            )
    return counts, true


def take(rng: Generator) -> tuple[list[Count], dict[str, float]]:
    """Joins healed are beta-binomial by graft day."""
    counts = []
    for day in SEASON:
        joins = int(rng.integers(100, 400))
        healed = int(betabinom.rvs(joins, TAKE.alpha, TAKE.beta, random_state=rng))
        counts.append(Count(day, Counted.TAKE, None, "splice", None, joins, healed, None))
    return counts, {"splice": TAKE.mean}


def pace(rng: Generator) -> tuple[list[Count], dict[str, float]]:
    """Hours scatter by a tenth about the standard's over pace."""
    counts = []
    for day in SEASON:
        joins = int(rng.integers(100, 400))
        hours = joins * 200 / 3600 / PACE * float(rng.normal(1, NOISE))
        counts.append(Count(day, Counted.PACE, None, "splice", "Grafters", joins, None, hours))
    return counts, {"Grafters": PACE}


def covers(rates: Sequence[Rate], true: dict[str, float]) -> float:
    """Share of the intervals that hold the true rate."""
    return float(np.mean([(r.low or 0.0) <= true[r.name] <= (r.high or 0.0) for r in rates]))


@pytest.mark.deep
@pytest.mark.parametrize("draw, logs", [(germination, 300), (take, 600), (pace, 1500)])
def test_intervals_cover_the_true_rates(
    draw: Callable[[Generator], tuple[list[Count], dict[str, float]]], logs: int
) -> None:
    rng, scenario = np.random.default_rng(11), nursery()
    found = []
    for _ in range(deep(logs)):
        counts, true = draw(rng)
        found.append(covers(counted_rates(scenario, counts), true))
    assert 0.93 <= np.mean(found) <= 0.97


def test_the_spread_left_to_a_lot_is_as_large_as_the_errors_made() -> None:
    """(true rate − estimate)² by mean·(1 − mean)·ρ is about 1 on average.

    On 48,000 lots of such pools it was 1.08: a pool of eight tells its own spread with some error, so that
    what is left to a lot is said 8 % too small here.
    """
    rng = np.random.default_rng(12)
    errors = []
    for _ in range(400):
        counts, true = germination(rng)
        tried, up = (
            [sum(getattr(c, what) for c in counts if c.lot == name) for name in true]
            for what in ("tried", "succeeded")
        )
        pool = Pool.of(tried, up)
        for n, x, rate in zip(tried, up, true.values(), strict=True):
            known = pool.lot(n, x)
            errors.append((rate - known.mean) ** 2 / (known.mean * (1 - known.mean) * known.correlation))
    assert 0.95 <= np.mean(errors) <= 1.15


def test_the_mean_spread_of_graft_days_comes_back() -> None:
    """Over logs of a season the fitted correlation is near the true one, a little low as such fits are."""
    rng, scenario = np.random.default_rng(13), nursery()
    fitted = [counted_rates(scenario, take(rng)[0])[0].correlation for _ in range(200)]
    assert np.mean(fitted) == pytest.approx(TAKE.correlation, rel=0.2)
