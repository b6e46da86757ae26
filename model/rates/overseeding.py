"""Overseeding: joins and cells needed for a service level, and the service level that follows from prices.

If joins heal independently, the number of surviving plants is binomial. If graft days or seed lots vary,
each has its own rate, drawn from a Beta distribution, and the number is beta-binomial. Neither is
approximated by the normal distribution. The binomial tail is an incomplete beta function and the
beta-binomial tail an integral of it; both cost the same for ten joins as for a hundred thousand.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc, betainc, betaincc, betaincinv, expit, ndtri

from model.rates.yields import stand, usable_share
from model.scenario.batches import together
from model.scenario.choices import Decline, MarginPolicy, MethodKind, SowingPolicy
from model.scenario.entities import Nursery, Order, Product, Scenario, SeedLot
from model.scenario.records.methods import Method

MOST = 10**15
"""Largest number of joins that is tried: beyond it, floating point cannot count in ones."""

ROUNDING = 1e-12
"""A chance that misses the level by no more than this reaches it: sums of floats miss equality by less."""

NO_SPREAD = 1e-9
"""Spread between lots adds the share n·ρ to the variance; a share below this counts as none."""

REMEMBERED = 100_000
"""Numbers of joins and of cells that are remembered: studies ask for those of the same orders many times."""

STEPS = np.linspace(-3.5, 3.5, 81)
PARTS = expit(np.pi * np.sinh(STEPS))
WEIGHTS = np.cosh(STEPS) * PARTS * (1 - PARTS)
WEIGHTS /= WEIGHTS.sum()
"""Points in (0, 1) and weights of tanh-sinh quadrature (Takahasi and Mori 1974, from memory).
It stays accurate for an integrand without derivatives at its ends."""


@dataclass(frozen=True, slots=True)
class Beta:
    """A rate that varies between lots: its mean and its intra-lot correlation ρ, both shares.

    α = mean · (1 − ρ)/ρ,  β = (1 − mean) · (1 − ρ)/ρ,  ρ = 1/(α + β + 1). With correlation 0 all lots have
    one rate (α, β infinite).
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

    P(X ≥ quantity), X ~ Binomial(joins, p · kept). With ``correlation`` ρ > 0 the joins of a lot share
    a rate R ~ Beta of mean p and intra-lot correlation ρ: X | R ~ Binomial(joins, R · kept). ``p``,
    ``kept`` and ρ lie in [0, 1]. ``kept`` is the share of successes that survive later stages, each
    independently. With ``kept`` 1 and ρ > 0, X is beta-binomial (Skellam 1948, from memory).
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


@lru_cache(maxsize=REMEMBERED)
def joins_needed(quantity: int, p: float, level: float, correlation: float = 0.0, kept: float = 1.0) -> int:
    """Smallest n with ``chance_of_enough(n, quantity, p, correlation, kept)`` ≥ ``level``, up to rounding.

    ``level`` lies in (0, 1). The chance rises with n, so bisection finds n. Raises ValueError if no
    number of joins up to ``MOST`` is enough.
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


@lru_cache(maxsize=REMEMBERED)
def cells_needed(
    seedlings: int,
    germination: float,
    grade_out: float,
    seeds_per_cell: int,
    level: float,
    correlation: float = 0.0,
) -> int:
    """Smallest number of cells that gives ``seedlings`` usable seedlings with chance ``level`` or more.

    A cell has a seedling with chance 1 − (1 − g)^k, where k is the seeds per cell. The seedling is usable
    with chance 1 − grade-out. With ``correlation`` ρ > 0 the lot's g is drawn from the Beta of mean
    ``germination`` and intra-lot correlation ρ. For k > 1 the mean chance of a cell is then below its chance
    at the mean g. Seeds are cells · k. Shares in [0, 1], ``level`` in (0, 1). Raises ValueError as
    ``joins_needed``.
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

    ``short_cost`` is c_u, the cost of a plant short; ``surplus_cost`` is c_o, the cost of a plant over.
    Raises ValueError unless both are above 0.
    Source: Nahmias, Production and Operations Analysis, the newsvendor model (from memory).
    """
    if short_cost <= 0 or surplus_cost <= 0:
        raise ValueError(
            "there is a best number only if a plant short and a plant over both cost more than 0"
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

    X is the number of ``chance_of_enough``. One more join ends as a plant with chance R · kept, where R is
    the lot's rate. That plant costs c_o if there are enough already, and saves c_u if not:
    C(n + 1) − C(n) = kept·E[R·(c_o·1(X ≥ quantity) − c_u·1(X < quantity))] = kept·p·(c_o·Q − c_u·(1 − Q)).
    Q is the chance of enough with R ~ Beta(α + 1, β), which weights lots by their rates (at ρ = 0 it is the
    plain chance of enough). Q rises with n, so n is the smallest with Q ≥ c_u/(c_u + c_o). The join itself
    counts as free. Raises ValueError as ``joins_needed`` and ``critical_level``.
    """
    level = critical_level(short_cost, surplus_cost)
    # The mean of Beta(α + 1, β), and its intra-lot correlation 1/(α + β + 2).
    weighted = p + correlation * (1 - p) if p > 0 else p
    return joins_needed(quantity, weighted, level, correlation / (1 + correlation), kept)


def penalty(order: Order, nursery: Nursery) -> float:
    """Cost of a plant short of the order, in currency; includes its price if the order may be declined."""
    own = nursery.shortfall_penalty if order.shortfall_penalty is None else order.shortfall_penalty
    return own + ((order.price or 0.0) if order.decline is not Decline.NO else 0.0)


def newsvendor_costs(order: Order, product: Product, nursery: Nursery) -> tuple[float, float]:
    """Cost c_u of a plant short and c_o of a plant over, in currency, for the margin policy 'priced'.

    c_u = penalty − plant cost, since a plant short was not grown. c_o = plant cost − salvage price, if
    surplus can be sold.
    """
    grown = nursery.plant_cost or 0.0
    sold = product.salvage_price if product.salvage_most > 0 else 0.0
    return penalty(order, nursery) - grown, grown - sold


def service_level(order: Order, product: Product, nursery: Nursery) -> float:
    """Service level of an order: its own or the nursery's; with policy 'priced', the critical ratio."""
    if nursery.margin_policy is MarginPolicy.PRICED:
        return critical_level(*newsvendor_costs(order, product, nursery))
    return nursery.service_level if order.service_level is None else order.service_level


def graft_margin(order: Order, product: Product, method: Method, nursery: Nursery) -> float:
    """Graft margin m[o]: plants grown beyond the order, in expectation, as a share of its quantity.

    The order's own margin, else the nursery's fixed one, else m = max(0, n · τ · φ / quantity − 1). τ is the
    method's take and φ its finish survival. n is the joins needed at the service level, given the method's
    intra-lot correlation; with policy 'priced' it is the number of least expected cost. At a low level n may
    be fewer than the order needs on average; the margin is then 0. Raises ValueError as ``joins_needed``.
    """
    if order.graft_margin is not None:
        return order.graft_margin
    if nursery.margin_policy is MarginPolicy.FIXED:
        return nursery.graft_margin
    take, rest = _take(method), (method.between_days, method.finish_survival)
    if nursery.margin_policy is MarginPolicy.PRICED:
        n = joins_priced(order.quantity, take, *newsvendor_costs(order, product, nursery), *rest)
    else:
        n = joins_needed(order.quantity, take, service_level(order, product, nursery), *rest)
    return max(0.0, n * take * method.finish_survival / order.quantity - 1)


def finishing_margin(
    margin: float, order: Order, product: Product, method: Method, nursery: Nursery
) -> float:
    """Graft margin that an order still needs once its healed plants are counted, a share.

    Only finishing is still uncertain: min(m, max(0, n · φ / quantity − 1)), where n is the healed plants
    needed at the service level. Raises ValueError as ``joins_needed``.
    """
    level = service_level(order, product, nursery)
    n = joins_needed(order.quantity, 1.0, level, kept=method.finish_survival)
    return min(margin, max(0.0, n * method.finish_survival / order.quantity - 1))


def _take(method: Method) -> float:
    return 1.0 if method.kind is MethodKind.OWN_ROOT or method.take is None else method.take


def lot_margin(lot: SeedLot, seedlings: int, level: float) -> float:
    """Sowing margin of a wave of the lot that must hold ``seedlings`` with chance ``level``, a share.

    max(0, n · σ / seedlings − 1), where n is the cells needed and σ the stand. Lot and sowing vary together:
    ρ = 1 − (1 − ρ lot)(1 − ρ sowing). Raises ValueError as ``cells_needed``.
    """
    alike = together(lot.between_lots, lot.between_sowings)
    n = cells_needed(seedlings, lot.germination, lot.grade_out, lot.seeds_per_cell, level, alike)
    return max(0.0, n * stand(lot) / seedlings - 1)


def fixed_sowing_margin(lot: SeedLot, nursery: Nursery) -> float | None:
    """The one sowing margin of all seedlings of the lot, a share; None where each order has its own.

    The lot's own margin, else the nursery's fixed one; with sowing policy 'level' there is no other.
    """
    if lot.sowing_margin is not None:
        return lot.sowing_margin
    return nursery.sowing_margin if nursery.sowing_policy is SowingPolicy.FIXED else None


def seedlings_of(order: Order, margin: float, method: Method) -> int:
    """Seedlings that an order needs where each finds a partner: ⌈quantity · (1 + m) / (τ · φ)⌉."""
    return ceil(order.quantity * (1 + margin) / (_take(method) * method.finish_survival) - 1e-6)


def sowing_margins(scenario: Scenario) -> dict[str, float]:
    """Sowing margin of each seed lot by name: seedlings raised beyond those drawn, in expectation, a share.

    Its ``fixed_sowing_margin``; else the mean of the margins ``lot_margin`` of the orders that use its
    variety, weighted by their seedlings; 0 if there is none. Raises ValueError as ``joins_needed``.
    """
    products = {product.product: product for product in scenario.products}
    methods = {method.method: method for method in scenario.methods}
    wanted: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for order in scenario.orders:
        product = products[order.product]
        method = methods[product.method]
        margin = graft_margin(order, product, method, scenario.nursery)
        need = seedlings_of(order, margin, method), service_level(order, product, scenario.nursery)
        for variety in filter(None, (product.scion, product.rootstock)):
            wanted[variety].append(need)
    margins = {}
    for lot in scenario.seed_lots:
        fixed = fixed_sowing_margin(lot, scenario.nursery)
        needs = wanted[lot.variety] if fixed is None else []
        spare = sum(seedlings * lot_margin(lot, seedlings, level) for seedlings, level in needs)
        drawn = sum(seedlings for seedlings, _ in needs)
        margins[lot.lot] = fixed if fixed is not None else spare / drawn if drawn else 0.0
    return margins


def _smallest(chance: Callable[[int], float], level: float, least: int, expected: float) -> int:
    """Smallest n ≥ ``least`` with chance(n) ≥ level; chance rises with n, and is 0 below ``least``.

    From ``expected`` on n grows by steps that double, until the level lies between two chances. A line
    through their normal quantiles then says where to look; where that does not halve the rest, its middle
    follows.
    """
    level -= ROUNDING
    low, below = least - 1, 0.0
    high = max(ceil(min(expected, MOST)), least)
    step = max(1, int(sqrt(high)))
    while (reached := chance(high)) < level:
        if high >= MOST:
            raise ValueError(
                f"no number up to {MOST:.0e} gives a chance of {level:g}: too many lots fail completely"
            )
        low, below, high, step = high, reached, min(high + step, MOST), 2 * step
    halve = False
    while high - low > 1:
        width = high - low
        at = low + width // 2
        if not halve and 0 < below < level and reached < 1:
            ends = ndtri([below, level, reached])
            at = low + min(max(ceil(width * (ends[1] - ends[0]) / (ends[2] - ends[0])), 1), width - 1)
        if (found := chance(at)) >= level:
            high, reached = at, found
        else:
            low, below = at, found
        halve = 2 * (high - low) > width
    return high


@lru_cache(maxsize=256)
def _quantiles(alpha: float, beta: float) -> NDArray[np.float64]:
    """Quantiles of a Beta at ``PARTS``."""
    return np.asarray(betaincinv(alpha, beta, PARTS))


def _mixed(
    n: int,
    quantity: int,
    rate: Beta,
    chance: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    needed: Callable[[NDArray[np.float64]], NDArray[np.float64]],
) -> float:
    """Chance that at least ``quantity`` of n succeed, each with a ``chance`` that rises with the lot's rate.

    Given the rate R, P(X ≥ quantity) = P(U ≤ chance(R)), where U ~ Beta(quantity, n − quantity + 1) is the
    quantity-th smallest of n uniforms. The integral runs over the quantiles of U or R, whichever is wider,
    and uses the distribution function of the other. ``needed`` is the inverse of ``chance``; no rate reaches
    a U above chance(1). Agrees with sums of terms to 1e-9.
    """
    if n * rate.correlation < NO_SPREAD:
        return float(bdtrc(quantity - 1, n, chance(np.array([rate.mean]))[0]))
    least, spare = quantity, n - quantity + 1
    # With a parameter below 1 the Beta piles up at an end, where floating point merges its quantiles.
    if rate.alpha + rate.beta > n and min(rate.alpha, rate.beta) >= 1:
        rates = _quantiles(rate.alpha, rate.beta)
        return float(WEIGHTS @ betainc(least, spare, np.minimum(chance(rates), 1)))
    possible = float(betainc(least, spare, chance(np.ones(1)))[0])
    u = betaincinv(least, spare, possible * PARTS)
    return possible * float(WEIGHTS @ betaincc(rate.alpha, rate.beta, np.minimum(needed(u), 1)))
