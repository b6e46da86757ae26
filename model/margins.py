"""Overseeding: how many joins and cells over expectation a promise needs, and what level prices call for.

Where every join fares for itself, the plants that survive are binomial. Where graft days or seed lots
vary, each has a rate of its own, drawn from a Beta distribution, and the count is beta-binomial. Neither
is approximated by the normal distribution: the binomial tail is an incomplete beta function, and the
beta-binomial one an integral of it, at the same cost for ten joins or a hundred thousand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, inf

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc, betainc, betaincc, betaincinv, expit

from model.entities import Kind, MarginPolicy, Method, Nursery, Order
from model.yields import usable_share

MOST = 10**15
"""The search for a number of joins ends here: beyond, floating point no longer counts one by one."""

NO_SPREAD = 1e-9
"""Spread between lots adds n·ρ to the variance, as a share of it; less than this is none."""

STEPS = np.linspace(-3.5, 3.5, 81)
PARTS = expit(np.pi * np.sinh(STEPS))
WEIGHTS = np.cosh(STEPS) * PARTS * (1 - PARTS)
WEIGHTS /= WEIGHTS.sum()
"""Points in (0, 1) and weights of tanh-sinh quadrature (Takahasi and Mori 1974, from memory), which bears
an integrand without derivatives at its ends."""


@dataclass(frozen=True, slots=True)
class Beta:
    """A rate that varies between lots: its mean and its intra-lot correlation ρ, both shares.

    α = mean · (1 − ρ)/ρ,  β = (1 − mean) · (1 − ρ)/ρ,  ρ = 1/(α + β + 1). Correlation 0 is one rate for
    all lots (α, β infinite).
    """

    mean: float
    correlation: float

    @property
    def alpha(self) -> float:
        """First parameter."""
        return self.mean * self._size

    @property
    def beta(self) -> float:
        """Second parameter."""
        return (1 - self.mean) * self._size

    @property
    def _size(self) -> float:
        return inf if self.correlation == 0 else (1 - self.correlation) / self.correlation


def chance_of_enough(
    joins: int, quantity: int, p: float, correlation: float = 0.0, kept: float = 1.0
) -> float:
    """Chance that at least ``quantity`` of ``joins`` succeed.

    P(X ≥ quantity), X ~ Binomial(joins, p · kept), or with ``correlation`` ρ > 0 the joins of a lot share
    a rate R ~ Beta of mean p and intra-lot correlation ρ: X | R ~ Binomial(joins, R · kept). ``p``,
    ``kept`` in [0, 1] and ρ in [0, 1]; ``kept`` is the share of successes that survive what comes
    after, each for itself. With ``kept`` 1 and ρ > 0, X is beta-binomial (Skellam 1948, from memory).
    """
    if quantity <= 0:
        return 1.0
    if joins < quantity:
        return 0.0
    if correlation == 0 or p in (0, 1):
        return float(bdtrc(quantity - 1, joins, p * kept))
    if correlation == 1:
        return p * float(bdtrc(quantity - 1, joins, kept))
    rate = Beta(p, correlation)
    return _mixed(joins, quantity, rate, lambda r: r * kept, lambda share: share / kept)


def joins_needed(quantity: int, p: float, level: float, correlation: float = 0.0, kept: float = 1.0) -> int:
    """Smallest n with ``chance_of_enough(n, quantity, p, correlation, kept)`` ≥ ``level``.

    ``level`` in (0, 1). The chance rises with n, so bisection finds it. Raises ValueError where no
    number of joins is enough, or none that can be counted (``MOST``).
    """
    if p * kept >= 1:
        return quantity
    if p * kept <= 0:
        raise ValueError("nothing survives, so no number is enough")
    if correlation == 1 and level > p:
        raise ValueError(
            f"with an intra-lot correlation of 1 a lot succeeds or fails as a whole: the chance of enough is "
            f"at most {p:g}, whatever the number"
        )
    return _smallest(
        lambda n: chance_of_enough(n, quantity, p, correlation, kept), level, quantity, quantity / (p * kept)
    )


def cells_needed(
    seedlings: int,
    germination: float,
    grade_out: float,
    seeds_per_cell: int,
    level: float,
    correlation: float = 0.0,
) -> int:
    """Smallest number of cells sown whose chance of ``seedlings`` usable ones is at least ``level``.

    A cell has a seedling with chance 1 − (1 − g)^k, k the seeds per cell, which is usable with chance
    1 − grade-out. With ``correlation`` ρ > 0 the lot's g is drawn from the Beta of mean ``germination``
    and intra-lot correlation ρ: for k > 1 the mean chance of a cell is then below that of the mean g.
    Seeds are cells · k. Shares in [0, 1], ``level`` in (0, 1). Raises ValueError as ``joins_needed``.
    """
    sound = 1 - grade_out
    if correlation in (0, 1) or germination in (0, 1):
        # At 0 every cell has the same chance; at 1 a lot germinates whole or not at all.
        filled = germination if correlation == 1 else 1 - (1 - germination) ** seeds_per_cell
        return joins_needed(seedlings, filled, level, correlation, sound)
    if sound <= 0:
        raise ValueError("nothing survives, so no number is enough")
    rate = Beta(germination, correlation)

    def usable(g: NDArray[np.float64]) -> NDArray[np.float64]:
        return usable_share(g, seeds_per_cell, grade_out)

    def germination_for(share: NDArray[np.float64]) -> NDArray[np.float64]:
        blank: NDArray[np.float64] = np.clip(1 - share / sound, 0, None)
        return 1 - blank ** (1 / seeds_per_cell)

    return _smallest(
        lambda n: _mixed(n, seedlings, rate, usable, germination_for),
        level,
        seedlings,
        seedlings / float(usable_share(germination, seeds_per_cell, grade_out)),
    )


def critical_level(short_cost: float, surplus_cost: float) -> float:
    """Critical ratio of the newsvendor: c_u / (c_u + c_o), a share.

    ``short_cost`` c_u per plant short, ``surplus_cost`` c_o per plant over, both > 0 or ValueError.
    Source: Nahmias, Production and Operations Analysis, the newsvendor model (from memory).
    """
    if short_cost <= 0 or surplus_cost <= 0:
        raise ValueError(
            "a plant short and a plant over must both cost something, or there is no best number"
        )
    return short_cost / (short_cost + surplus_cost)


def newsvendor(quantile: Callable[[float], float], short_cost: float, surplus_cost: float) -> float:
    """Quantity of least expected cost: the ``quantile`` of demand at ``critical_level``."""
    return quantile(critical_level(short_cost, surplus_cost))


def joins_priced(
    quantity: int,
    p: float,
    short_cost: float,
    surplus_cost: float,
    correlation: float = 0.0,
    kept: float = 1.0,
) -> int:
    """Number of joins n of least expected cost C(n) = c_u·E(quantity − X)⁺ + c_o·E(X − quantity)⁺.

    X of ``chance_of_enough``. One join more ends as a plant with chance R · kept, R the lot's rate, which
    costs c_o where there is enough already and saves c_u where not:
    C(n + 1) − C(n) = kept·E[R·(c_o·1(X ≥ quantity) − c_u·1(X < quantity))] = kept·p·(c_o·Q − c_u·(1 − Q)),
    Q the chance of enough with R ~ Beta(α + 1, β): lots weighted by their rates (at ρ = 0 just the chance
    of enough). Q rises with n, so n is the smallest with Q ≥ c_u/(c_u + c_o). A join itself is
    taken to cost nothing. Raises ValueError as ``joins_needed`` and ``critical_level``.
    """
    level = critical_level(short_cost, surplus_cost)
    # The mean of Beta(α + 1, β), and its intra-lot correlation 1/(α + β + 2).
    weighted = p + correlation * (1 - p) if p > 0 else p
    return joins_needed(quantity, weighted, level, correlation / (1 + correlation), kept)


def service_level(order: Order, nursery: Nursery) -> float:
    """Service level of an order: its own, or the nursery's."""
    return nursery.service_level if order.service_level is None else order.service_level


def graft_margin(order: Order, method: Method, nursery: Nursery) -> float:
    """Graft margin m[o]: plants aimed at over the order's quantity, in expectation, as a share of it.

    m = max(0, n · τ · φ / quantity − 1), n the joins needed at the service level with the method's take
    τ, its intra-lot correlation and finish survival φ, or the nursery's fixed margin. At a low level
    n may lie below expectation; a margin never does. Raises ValueError as ``joins_needed``.
    """
    if nursery.margin_policy is MarginPolicy.FIXED:
        return nursery.graft_margin
    take = 1.0 if method.kind is Kind.OWN_ROOT or method.take is None else method.take
    level = service_level(order, nursery)
    n = joins_needed(order.quantity, take, level, method.take_correlation, method.finish_survival)
    return max(0.0, n * take * method.finish_survival / order.quantity - 1)


def _smallest(chance: Callable[[int], float], level: float, least: int, expected: float) -> int:
    """Smallest n ≥ ``least`` with chance(n) ≥ level, of a chance rising with n; tries ``expected`` first."""
    low, high = least - 1, max(ceil(min(expected, MOST)), least)
    while chance(high) < level:
        if high >= MOST:
            raise ValueError(
                f"no number up to {MOST:.0e} gives a chance of {level:g}: too many lots fail altogether"
            )
        low, high = high, min(2 * high, MOST)
    while high - low > 1:
        middle = (low + high) // 2
        if chance(middle) >= level:
            high = middle
        else:
            low = middle
    return high


def _mixed(
    n: int,
    quantity: int,
    rate: Beta,
    chance: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    needed: Callable[[NDArray[np.float64]], NDArray[np.float64]],
) -> float:
    """Chance that at least ``quantity`` of n succeed, each with a ``chance`` that rises with the lot's rate.

    Given the rate R, P(X ≥ quantity) = P(U ≤ chance(R)), U ~ Beta(quantity, n − quantity + 1): U is the
    quantity-th smallest of n uniforms. Of U and R the wider one is integrated over its quantiles, the
    other by its distribution function; ``needed`` is the inverse of ``chance``, and U beyond chance(1)
    cannot be met. Agrees with sums of terms to 1e-9.
    """
    if n * rate.correlation < NO_SPREAD:
        return float(bdtrc(quantity - 1, n, chance(np.array([rate.mean]))[0]))
    least, spare = quantity, n - quantity + 1
    # Below 1 a parameter piles the Beta up at an end, where its quantiles cannot be told apart.
    if rate.alpha + rate.beta > n and min(rate.alpha, rate.beta) >= 1:
        rates = betaincinv(rate.alpha, rate.beta, PARTS)
        return float(WEIGHTS @ betainc(least, spare, np.minimum(chance(rates), 1)))
    possible = float(betainc(least, spare, chance(np.ones(1)))[0])
    u = betaincinv(least, spare, possible * PARTS)
    return possible * float(WEIGHTS @ betaincc(rate.alpha, rate.beta, np.minimum(needed(u), 1)))
