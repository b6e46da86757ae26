"""Overseeding: how many joins over expectation an order needs."""

from __future__ import annotations

from math import ceil

from scipy.special import bdtrc

from model.entities import Kind, MarginPolicy, Method, Nursery, Order


def chance_of_enough(joins: int, quantity: int, p: float) -> float:
    """P(Binomial(joins, p) ≥ quantity), exact by the incomplete beta function."""
    if quantity <= 0:
        return 1.0
    return float(bdtrc(quantity - 1, joins, p))


def joins_needed(quantity: int, p: float, level: float) -> int:
    """Smallest n with P(Binomial(n, p) ≥ quantity) ≥ level.

    ``p`` in (0, 1], ``level`` in (0, 1). The chance rises with n, so bisection finds it.
    """
    if p >= 1:
        return quantity
    low, high = quantity - 1, max(ceil(quantity / p), 1)
    while chance_of_enough(high, quantity, p) < level:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if chance_of_enough(middle, quantity, p) >= level:
            high = middle
        else:
            low = middle
    return high


def graft_margin(order: Order, method: Method, nursery: Nursery) -> float:
    """Graft margin m[o]: plants aimed at over the order's quantity, in expectation, as a share of it.

    m = max(0, n · τ · φ / quantity − 1), n the joins needed at the service level, or the nursery's
    fixed margin. At a low level n may lie below expectation; a margin never does.
    """
    if nursery.margin_policy is MarginPolicy.FIXED:
        return nursery.graft_margin
    take = 1.0 if method.kind is Kind.OWN_ROOT or method.take is None else method.take
    p = take * method.finish_survival
    level = nursery.service_level if order.service_level is None else order.service_level
    return max(0.0, joins_needed(order.quantity, p, level) * p / order.quantity - 1)
