"""Rates from a log of counts: what is pooled, what stands alone, what is refused."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import isnan

import numpy as np
import pandas as pd
import pytest
from scipy.stats import beta

from model.rates.estimates import (
    COLUMNS,
    Counted,
    Pool,
    Record,
    estimate,
    fit_by_likelihood,
    fit_by_moments,
    mean_rate,
    pace,
)

MONDAY = date(2026, 3, 2)
TUESDAY = date(2026, 3, 3)


def sown(lot: str, tried: int, good: int, on: date = MONDAY) -> Record:
    return Record(Counted.GERMINATION, lot, on, tried, good)


def joined(method: str, tried: int, good: int, on: date = MONDAY) -> Record:
    return Record(Counted.TAKE, method, on, tried, good)


def worked(crew: str, joins: int, hours: float, on: date = MONDAY, method: str = "splice") -> Record:
    return Record(Counted.PACE, method, on, joins, crew=crew, hours=hours)


def row(table: pd.DataFrame, kind: str, name: str) -> pd.Series:
    found = table[(table["kind"] == kind) & (table["name"] == name)]
    assert len(found) == 1
    return found.iloc[0]


LOG = (
    worked("bench", 450, 4.0),
    worked("bench", 500, 4.0, TUESDAY),
    sown("Red 24", 200, 188),
    sown("Red 24", 100, 92, TUESDAY),
    sown("Stout 23", 50, 30),
    sown("Stout 22", 400, 352),
    joined("splice", 600, 540),
    joined("splice", 400, 372),
    joined("splice", 1000, 870, TUESDAY),
    joined("tongue", 300, 288),
)


def test_one_row_a_lot_a_method_and_a_crew() -> None:
    table = estimate(LOG, {"splice": 30})
    assert tuple(table.columns) == COLUMNS
    assert [*zip(table["kind"], table["name"], table["records"], table["tried"], strict=True)] == [
        ("germination", "Red 24", 2, 300),
        ("germination", "Stout 22", 1, 400),
        ("germination", "Stout 23", 1, 50),
        ("pace", "bench", 2, 950),
        ("take", "splice", 3, 2000),
        ("take", "tongue", 1, 300),
    ]


def test_order_of_the_log_does_not_matter() -> None:
    pd.testing.assert_frame_equal(estimate(LOG, {"splice": 30}), estimate(reversed(LOG), {"splice": 30}))


def test_an_empty_log_has_no_rates() -> None:
    table = estimate(())
    assert table.empty
    assert tuple(table.columns) == COLUMNS


def test_records_of_one_graft_day_are_one_lot() -> None:
    """912 of 1,000 on Monday, 870 of 1,000 on Tuesday: two days, not three."""
    found = row(estimate(LOG, {"splice": 30}), "take", "splice")
    assert (found["rate"], found["low"], found["high"]) == pytest.approx(mean_rate([1000, 1000], [912, 870]))
    assert found["correlation"] == fit_by_likelihood([1000, 1000], [912, 870]).correlation > 0


def test_one_graft_day_tells_nothing_of_the_next() -> None:
    found = row(estimate(LOG, {"splice": 30}), "take", "tongue")
    assert found["rate"] == pytest.approx(0.96)
    assert all(isnan(found[key]) for key in ("low", "high", "correlation"))


def test_a_small_lot_is_drawn_further_towards_the_pool() -> None:
    """Among lots about .9, a lot of which half came up: the fewer its seeds, the nearer to .9."""
    others = [sown(f"lot {n}", 200, good) for n, good in enumerate((180, 170, 188, 176, 184, 165))]
    rates = [
        float(row(estimate([*others, sown("odd", tried, tried // 2)]), "germination", "odd")["rate"])
        for tried in (4, 20, 100, 1000)
    ]
    assert rates == sorted(rates, reverse=True)
    assert rates[0] > 0.75
    assert rates[-1] == pytest.approx(0.5, abs=0.02)


def test_a_lot_with_many_seeds_has_its_own_rate() -> None:
    """20,000 seeds outweigh the pool: the interval is that of its own count."""
    pool = Pool.of([200, 200, 200, 20_000], [180, 170, 190, 17_000])
    rate, low, high = pool.of_lot(20_000, 17_000)
    own = beta(17_000.5, 3_000.5)
    assert (rate, low, high) == pytest.approx((0.85, own.ppf(0.025), own.ppf(0.975)), abs=3e-4)


def test_correlation_is_how_unsure_a_lot_still_is() -> None:
    """A Beta with the rate as mean and that correlation has the interval; many seeds leave little of it."""
    table = estimate(LOG[2:6])
    for rate, low, high, alike in table[["rate", "low", "high", "correlation"]].itertuples(index=False):
        known = beta(rate * (1 / alike - 1), (1 - rate) * (1 / alike - 1))
        assert (known.ppf(0.025), known.ppf(0.975)) == pytest.approx((low, high))
    most, fewest = row(table, "germination", "Stout 22"), row(table, "germination", "Stout 23")
    assert most["correlation"] < 1 / 400
    assert fewest["correlation"] > 3 * most["correlation"]


def test_pace_is_standard_hours_over_hours() -> None:
    """950 joins of 30 s are 7.9 hours' work, done in 8."""
    found = row(estimate(LOG, {"splice": 30}), "pace", "bench")
    assert found["rate"] == pytest.approx(950 * 30 / 3600 / 8)
    assert found["low"] < found["rate"] < found["high"]


def test_pace_over_methods_of_their_own_standards() -> None:
    log = [worked("bench", 240, 2.0), worked("bench", 120, 2.0, TUESDAY, "tongue")]
    found = row(estimate(log, {"splice": 30, "tongue": 60}), "pace", "bench")
    assert (found["rate"], found["low"], found["high"]) == pytest.approx((1, 1, 1))


def test_one_record_of_pace_has_no_interval() -> None:
    rate, low, high = pace([2.0], [2.5])
    assert rate == 0.8
    assert isnan(low)
    assert isnan(high)


@pytest.mark.parametrize("good, rate", [(100, 1.0), (0, 0.0)])
def test_all_or_nothing(good: int, rate: float) -> None:
    """Jeffreys' interval of 200 tried, closed at the rate itself."""
    found, low, high = mean_rate([100, 100], [good, good])
    ends = sorted((rate, float(beta.ppf(0.025 if rate else 0.975, 2 * good + 0.5, 200 - 2 * good + 0.5))))
    assert (found, low, high) == pytest.approx((rate, *ends))
    assert fit_by_likelihood([100, 100], [good, good]).mean == rate
    assert fit_by_moments([100, 100], [good, good]).correlation == 0


def test_lots_alike_have_no_correlation() -> None:
    """Exactly .9 of each: less spread than chance itself gives."""
    for fit in (fit_by_moments, fit_by_likelihood):
        found = fit([100, 200, 50], [90, 180, 45])
        assert (found.mean, found.correlation) == (pytest.approx(0.9), 0.0)


def test_lots_all_or_nothing_are_nearly_one() -> None:
    for fit in (fit_by_moments, fit_by_likelihood):
        assert fit([100] * 6, [100, 0, 100, 100, 0, 100]).correlation > 0.9


@pytest.mark.parametrize(
    "tried, good",
    [([], []), ([10], [11]), ([10], [-1]), ([0], [0]), ([10, 10], [5]), ([[10]], [[5]]), ([np.nan], [1])],
)
def test_impossible_counts(tried: Sequence[float], good: Sequence[float]) -> None:
    for function in (fit_by_moments, fit_by_likelihood, mean_rate, Pool.of):
        with pytest.raises(ValueError, match="tried"):
            function(tried, good)


def test_single_tries_tell_no_correlation() -> None:
    with pytest.raises(ValueError, match="only one seed or join"):
        fit_by_moments([1, 1, 1], [1, 0, 1])
    assert isnan(estimate([joined("splice", 1, 1), joined("splice", 1, 0, TUESDAY)])["correlation"][0])


@pytest.mark.parametrize(
    "record, match",
    [
        (sown("Red 24", 0, 0), "'Red 24' on 2026-03-02: tried must be at least 1"),
        (sown("Red 24", 10, 11), "succeeded must lie between 0 and 10"),
        (joined("splice", 10, -1), "succeeded must lie between 0 and 10"),
        (Record(Counted.TAKE, "splice", MONDAY, 10), "succeeded must lie between 0 and 10"),
        (Record(Counted.PACE, "splice", MONDAY, 10, hours=1.0), "a pace needs a crew and hours"),
        (Record(Counted.PACE, "splice", MONDAY, 10, crew="bench"), "a pace needs a crew and hours"),
        (worked("bench", 10, 0.0), "a pace needs a crew and hours"),
        (worked("bench", 10, 1.0, method="tongue"), "no standard seconds"),
    ],
)
def test_refused(record: Record, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        estimate([record], {"splice": 30})


def test_two_days_alike_by_luck_are_not_certain() -> None:
    """Exactly .9 twice: the interval is still a standard error of 200 counts wide, either side."""
    rate, low, high = mean_rate([100, 100], [90, 90])
    error = (0.9 * 0.1 / 200) ** 0.5
    assert (rate - low, high - rate) == pytest.approx((error, error), rel=0.15)
