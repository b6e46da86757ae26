"""K11 over-dispersion: boys in the first twelve children of 6,115 families (Geissler 1889).

Published moment fit of the beta-binomial: α 34.1350, β 31.6085. A family is a lot of twelve.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import digamma
from scipy.stats import betabinom, binom

from model.rates.estimates import fit_by_likelihood, fit_by_moments

FAMILIES = np.array([3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7])
CHILDREN = 12
BOYS = np.arange(CHILDREN + 1)
TRIED = np.full(FAMILIES.sum(), CHILDREN)
SUCCEEDED = np.repeat(BOYS, FAMILIES)


def test_moment_fit() -> None:
    fit = fit_by_moments(TRIED, SUCCEEDED)
    assert fit.alpha == pytest.approx(34.1350, abs=5e-5)
    assert fit.beta == pytest.approx(31.6085, abs=5e-5)
    assert fit.correlation == pytest.approx(1 / (34.1350 + 31.6085 + 1), rel=1e-5)


def test_likelihood_fit_has_no_slope() -> None:
    """The derivatives of the log likelihood by α and β are 0, against which counts of families weigh."""
    fit = fit_by_likelihood(TRIED, SUCCEEDED)
    a, b, n = fit.alpha, fit.beta, CHILDREN
    whole = digamma(a + b) - digamma(a + b + n)
    by_alpha = FAMILIES @ (digamma(a + BOYS) - digamma(a) + whole)
    by_beta = FAMILIES @ (digamma(b + n - BOYS) - digamma(b) + whole)
    assert (by_alpha, by_beta) == pytest.approx((0, 0), abs=1e-3)


def test_likelihood_prefers_it_to_the_moment_fit_and_the_binomial() -> None:
    def likelihood(alpha: float, beta: float) -> float:
        return float(FAMILIES @ betabinom.logpmf(BOYS, CHILDREN, alpha, beta))

    by_moments, best = fit_by_moments(TRIED, SUCCEEDED), fit_by_likelihood(TRIED, SUCCEEDED)
    binomial = float(FAMILIES @ binom.logpmf(BOYS, CHILDREN, SUCCEEDED.mean() / CHILDREN))
    assert likelihood(best.alpha, best.beta) > likelihood(by_moments.alpha, by_moments.beta) > binomial + 30
