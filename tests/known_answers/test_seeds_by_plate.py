"""Counts of seeds by plate (Crowder 1978, Applied Statistics 27:34-37, table 3, as packages ship it).

21 plates of two kinds of seed in two root extracts. The judge is the beta-binomial of scipy. With
one correlation and four means the greatest likelihood is at 0.0124, as the package aod prints (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import expit, logit
from scipy.stats import betabinom

from model.rates.estimates import between_batches, fit_by_likelihood

PLATES = (
    ((39, 62, 81, 51, 39), (10, 23, 23, 26, 17)),
    ((6, 74, 72, 51, 79, 13), (5, 53, 55, 32, 46, 10)),
    ((16, 30, 28, 45, 4), (8, 10, 8, 23, 0)),
    ((12, 41, 30, 51, 7), (3, 22, 15, 32, 3)),
)
"""Seeds and how many of them germinated, by treatment."""

ALL = tuple(sum((group[n] for group in PLATES), ()) for n in (0, 1))


def likelihood(tried: tuple[int, ...], good: tuple[int, ...], mean: float, alike: float) -> float:
    size = 1 / alike - 1
    return float(betabinom.logpmf(good, tried, mean * size, (1 - mean) * size).sum())


@pytest.mark.parametrize("tried, good", [ALL, *PLATES])
def test_the_fit_has_the_greatest_likelihood(tried: tuple[int, ...], good: tuple[int, ...]) -> None:
    best = minimize(
        lambda at: -likelihood(tried, good, *expit(at)),
        logit([0.5, 0.05]),
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10},
    )
    found = fit_by_likelihood(tried, good)
    assert [found.mean, found.correlation] == pytest.approx(expit(best.x), rel=1e-3)


def test_all_plates_together() -> None:
    found = fit_by_likelihood(*ALL)
    assert (found.mean, found.correlation) == (
        pytest.approx(0.4936, abs=5e-5),
        pytest.approx(0.0816, abs=5e-5),
    )


def test_within_treatments_plates_differ_far_less() -> None:
    """By the analysis of variance; the likelihood with four means, which takes each as known, says 0.0124."""
    assert between_batches(PLATES) == pytest.approx(0.0238, abs=5e-5)
    means = [fit_by_likelihood(*group).mean for group in PLATES]

    def together(alike: float) -> float:
        return sum(likelihood(*group, mean, alike) for group, mean in zip(PLATES, means, strict=True))

    alike = np.linspace(0.002, 0.05, 481)
    assert alike[np.argmax([together(a) for a in alike])] == pytest.approx(0.0124, abs=4e-4)
