"""The mean cost of rehearsed seasons, from few that are rehearsed and many that are simulated only.

Most of what a season costs beyond the plan comes from mishaps, which are few. So the mean of some rehearsed
seasons depends on how many mishaps they had. The same plan costs known amounts in all seasons without
planning again; that tells how lucky the rehearsed ones were. Regression estimate of double sampling (Cochran
1977, Sampling Techniques, chapter 12).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

import numpy as np

from model.risk.batches import Floats

ENOUGH = 10
"""With fewer rehearsed seasons than this no slope is fitted: it would follow them too closely."""

ALIKE = 1e-9
"""Seasons whose costs differ by no more than this share of them are alike: the rest is rounding."""


@dataclass(frozen=True, slots=True)
class SeasonCosts:
    """Costs of a plan by season, in currency.

    ``simulated``: of all seasons, not planned again. ``rehearsed``: of the first of them, planned again.
    """

    simulated: Floats
    rehearsed: Floats

    @property
    def slope(self) -> float:
        """β = Σ (r − r̄)(s − s̄) / Σ (s − s̄)² over the seasons rehearsed; 0 where they are few or alike."""
        r, s = self.rehearsed, self.simulated[: len(self.rehearsed)]
        if len(r) < ENOUGH or np.ptp(s) <= ALIKE * np.abs(s).max():
            return 0.0
        apart = s - s.mean()
        return float(apart @ (r - r.mean()) / (apart @ apart))

    @property
    def left(self) -> Floats:
        """r − β·s by rehearsed season: what of its cost the simulated cost does not tell."""
        left: Floats = self.rehearsed - self.slope * self.simulated[: len(self.rehearsed)]
        return left

    @property
    def mean(self) -> float:
        """r̄ + β·(S̄ − s̄), where S̄ is the mean of all seasons and s̄ that of those rehearsed."""
        return float(self.left.mean() + self.slope * self.simulated.mean())


def difference(one: SeasonCosts, other: SeasonCosts) -> tuple[float, float]:
    """Mean cost of a season of ``one`` less that of ``other``, which lived the same, and its standard error.

    Error² = s²(left₁ − left₂) / n + s²(β₁·S₁ − β₂·S₂) / N, of n seasons rehearsed among N; season by season,
    as both met the same luck. Each slope fitted takes a degree of freedom from what is left. One season alone
    tells no error: it is NaN.
    """
    told = one.slope * one.simulated - other.slope * other.simulated
    fitted = bool(one.slope) + bool(other.slope)
    return one.mean - other.mean, float(np.hypot(_error(one.left - other.left, fitted), _error(told)))


def _error(figures: Floats, fitted: int = 0) -> float:
    """Standard error of the mean of figures left by so many slopes fitted; NaN for a single season."""
    return float(figures.std(ddof=1 + fitted) / len(figures) ** 0.5) if len(figures) > 1 else nan
