"""How late the plants of an order may come, and what a late plant costs."""

from __future__ import annotations

from model.scenario.entities import Nursery, Order

WEEK = 7
"""Days of a week: the discount is a share of the price for each of them."""


def days_late_most(order: Order, nursery: Nursery) -> int:
    """Most days that a plant of the order may come after its due day; 0: none may be late."""
    return nursery.late_days_most if order.late_days_most is None else order.late_days_most


def weeks_begun(days: int) -> int:
    """Weeks that have begun by the last of some days late; any part of a week counts as a whole one."""
    return -(-days // WEEK)


def discount_a_week(order: Order, nursery: Nursery) -> float:
    """What a plant of the order costs for each week begun that it comes late, in currency.

    late discount · price. Without a price or a discount it is 0; such an order may not be late.
    """
    share = nursery.late_discount if order.late_discount is None else order.late_discount
    return (share or 0.0) * (order.price or 0.0)
