"""Counts that lie further apart than chance allows: one of them may be wrong, or not of the same kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from math import pi, sqrt

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

CHANCE = 0.95
"""Of counts that differ by chance alone, this share of groups has none beyond its tolerance."""


@dataclass(frozen=True, slots=True)
class Beyond:
    """A count ``apart`` from another one, by position, and the ``tolerance``; both shares."""

    count: int
    other: int
    apart: float
    tolerance: float


def tolerance(share: float, tried: float, counts: int, correlation: float = 0.0) -> float:
    """How far the highest and the lowest of ``counts`` counts of ``tried`` each may lie apart, a share.

    S = q · √(p · (1 − p) / n), where q is the 95 % point of Student's range of that many counts (da Silva
    2020, on germination tests). Where batches differ, the variance is 1 + (n − 1) · ρ times that of one rate.
    Raises ValueError for fewer than two counts.
    """
    if counts < 2:
        raise ValueError("a tolerance needs at least two counts")
    return _range(counts) * sqrt(share * (1 - share) * (1 + (tried - 1) * correlation) / tried)


def beyond_tolerance(
    tried: Sequence[int], succeeded: Sequence[int], correlation: float = 0.0
) -> list[Beyond]:
    """The counts of one rate that lie beyond the tolerance for their size, at most one entry a count.

    Of two counts too far apart, it is the one further from the rate of all. For two sizes S² is the mean of
    both (Tukey and Kramer, from memory).
    """
    if len(tried) < 2:
        return []
    rate = sum(succeeded) / sum(tried)
    shares = [x / n for x, n in zip(succeeded, tried, strict=True)]
    allowed = [tolerance(rate, n, len(tried), correlation) for n in tried]
    worst: dict[int, Beyond] = {}
    for a, b in combinations(range(len(tried)), 2):
        one, other = (a, b) if abs(shares[a] - rate) > abs(shares[b] - rate) else (b, a)
        found = Beyond(one, other, abs(shares[a] - shares[b]), sqrt((allowed[a] ** 2 + allowed[b] ** 2) / 2))
        if found.apart > found.tolerance and (one not in worst or found.apart > worst[one].apart):
            worst[one] = found
    return [worst[n] for n in sorted(worst)]


@cache
def _range(counts: int) -> float:
    """95 % point of the range of that many standard normal numbers.

    P(range ≤ q) = k · ∫ φ(z) · (Φ(z + q) − Φ(z))^(k − 1) dz, by the trapezoidal rule, which is exact to many
    places for so smooth an integrand. The library's figure agrees; its import takes as long as a plan.
    """
    z = np.linspace(-10, 10, 801)
    density = np.exp(-(z**2) / 2) * (z[1] - z[0]) / sqrt(2 * pi)

    def beyond(q: float) -> float:
        return counts * float(density @ (ndtr(z + q) - ndtr(z)) ** (counts - 1)) - CHANCE

    return float(brentq(beyond, 0.1, 20))
