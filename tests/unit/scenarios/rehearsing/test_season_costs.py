"""Costs of rehearsed seasons carried over to all: exact on a line, and right on average."""

from __future__ import annotations

import numpy as np
import pytest

from scenarios.rehearsing.season_costs import ENOUGH, SeasonCosts, difference


def test_on_a_line_a_few_rehearsed_seasons_tell_all() -> None:
    """Planning again halves what a season costs beyond 100: the mean of all is 50 + S̄ / 2, without error."""
    simulated = np.random.default_rng(1).exponential(30, 400) + 100
    halved = SeasonCosts(simulated, 50 + simulated[:20] / 2)
    assert halved.mean == pytest.approx(50 + simulated.mean() / 2)
    kept = SeasonCosts(simulated, simulated[:20] + 7)
    found, error = difference(kept, halved)
    assert found == pytest.approx((simulated / 2 - 43).mean())
    assert error == pytest.approx((simulated / 2).std(ddof=1) / 400**0.5)


def test_few_rehearsed_seasons_and_seasons_alike_are_told_as_they_are() -> None:
    few = np.arange(ENOUGH - 1.0)
    assert SeasonCosts(np.arange(100.0), few).mean == few.mean()
    alike = np.random.default_rng(2).random(30)
    assert SeasonCosts(np.full(100, 5.0), alike).mean == pytest.approx(alike.mean())
    rounding = np.append(np.full(30, 0.1), np.full(70, 1e6))
    assert SeasonCosts(rounding, alike).mean == pytest.approx(alike.mean())


def test_one_season_tells_no_standard_error() -> None:
    one = SeasonCosts(np.arange(5.0), np.array([3.0]))
    assert np.isnan(difference(one, one)[1])


def test_all_seasons_rehearsed_need_no_carrying_over() -> None:
    rng = np.random.default_rng(3)
    all_of_them = SeasonCosts(rng.random(50), rng.random(50))
    assert all_of_them.mean == pytest.approx(all_of_them.rehearsed.mean())


@pytest.mark.parametrize("n", [ENOUGH, 40])
def test_the_difference_is_right_on_average_and_its_error_is_the_spread_of_it(n: int) -> None:
    """2,000 draws of n rehearsed among 400 seasons: true difference 3."""
    rng, found = np.random.default_rng(4), []
    for _ in range(2000):
        luck = rng.exponential(1.0, 400)
        other = luck + rng.exponential(1.0, 400)
        one = SeasonCosts(40 * luck, (30 * luck + rng.normal(3, 5, 400))[:n])
        found.append(difference(one, SeasonCosts(20 * other, 15 * other[:n] + rng.normal(0, 3, n))))
    means, errors = np.array(found).T
    assert means.mean() == pytest.approx(3, abs=4 * means.std() / 2000**0.5)
    assert (errors**2).mean() ** 0.5 == pytest.approx(means.std(), rel=0.05)
