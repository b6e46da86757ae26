"""Tolerances of counts against the library's range distribution, and the counts that lie beyond them."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from scipy.stats import studentized_range

from model.rates.estimates import between_batches
from model.rates.tolerance import beyond_tolerance, tolerance


@pytest.mark.parametrize("counts", [2, 4, 30])
def test_the_tolerance_is_students_range_times_the_standard_error(counts: int) -> None:
    q = float(studentized_range.ppf(0.95, counts, inf))
    assert tolerance(0.9, 400, counts) == pytest.approx(q * (0.9 * 0.1 / 400) ** 0.5)
    wider = tolerance(0.9, 400, counts, 0.01)
    assert wider == pytest.approx(q * (0.9 * 0.1 / 400 * (1 + 399 * 0.01)) ** 0.5)


def test_one_count_has_no_tolerance() -> None:
    with pytest.raises(ValueError, match="at least two"):
        tolerance(0.9, 100, 1)
    assert beyond_tolerance([100], [3]) == []


def test_the_count_further_from_the_rest_is_named() -> None:
    (found,) = beyond_tolerance([100, 100, 100, 100], [90, 91, 92, 70])
    assert (found.count, found.other, found.apart) == (3, 2, pytest.approx(0.22))
    assert found.tolerance == pytest.approx(tolerance(343 / 400, 100, 4))


def test_small_counts_may_lie_further_apart() -> None:
    """Of 1,000 and 20 seeds: S² is the mean of both squares."""
    for up, beyond in ((16, False), (10, True)):
        rate = (900 + up) / 1020
        apart = ((tolerance(rate, 1000, 2) ** 2 + tolerance(rate, 20, 2) ** 2) / 2) ** 0.5
        assert (0.9 - up / 20 > apart) == beyond
        assert [found.count for found in beyond_tolerance([1000, 20], [900, up])] == ([1] if beyond else [])


@pytest.mark.parametrize("alike", [0.0, 0.02])
def test_of_groups_alike_five_in_a_hundred_have_a_count_beyond(alike: float) -> None:
    rng = np.random.default_rng(3)
    size = 1 / alike - 1 if alike else inf
    beyond = 0
    for _ in range(1000):
        rates = rng.beta(0.6 * size, 0.4 * size, 4) if alike else np.full(4, 0.6)
        good = rng.binomial(200, rates).tolist()
        beyond += bool(beyond_tolerance([200] * 4, good, alike))
    assert 30 <= beyond <= 75


@pytest.mark.parametrize("alike", [0.0, 0.004, 0.05])
def test_batches_within_lots_show_their_correlation_whatever_the_lots(alike: float) -> None:
    """Lots of two to four sowings, at rates of their own: the estimate is right on average."""
    rng = np.random.default_rng(5)
    groups = []
    for _ in range(600):
        n, p = rng.integers(60, 400, rng.integers(2, 5)), rng.uniform(0.6, 0.95)
        rates = (
            rng.beta(p * (1 / alike - 1), (1 - p) * (1 / alike - 1), n.size) if alike else np.full(n.size, p)
        )
        groups.append((n.tolist(), rng.binomial(n, rates).tolist()))
    assert between_batches(groups) == pytest.approx(alike, abs=4e-4 + alike / 12)


def test_batches_that_tell_nothing() -> None:
    assert np.isnan(between_batches([([100], [90]), ([50], [40])]))
    assert np.isnan(between_batches([([1, 1], [1, 0])]))
    assert between_batches([([100, 100], [100, 100])]) == 0.0
    assert between_batches([([100, 100], [90, 90])]) == 0.0
    assert between_batches([([100, 100], [100, 0])]) == pytest.approx(1, abs=1e-5)
