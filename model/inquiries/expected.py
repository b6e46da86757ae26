"""What a plan is expected to leave where inquiries come about and orders are cancelled, by their chances.

The result as booked counts every order as paid, and the plants held as grown and not sold. Nothing expected
is in it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from model.inquiries.demand import Demand, demands
from model.planned.cash import terms_of
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import Result, result_of
from model.scenario.entities import Order, Scenario
from model.scenario.run_days import leaving


@dataclass(frozen=True, slots=True)
class Held:
    """Plants that a plan holds of a product for a due day, and the orders of the book that hold them."""

    demand: Demand
    plants: int
    orders: tuple[str, ...]

    @property
    def sales(self) -> float:
        """What they are expected to sell for, in currency."""
        return self.demand.sales(self.plants)


@dataclass(frozen=True, slots=True)
class Expected:
    """The result of a plan as booked and as expected, in currency.

    ``lost``: of each order that may be cancelled, what is expected to be lost. ``held``: by product and day,
    also where nothing is held.
    """

    booked: Result
    lost: dict[str, float]
    held: tuple[Held, ...]

    @property
    def cancelled(self) -> float:
        """Expected loss by orders cancelled."""
        return sum(self.lost.values())

    @property
    def resold(self) -> float:
        """Expected sales of plants of orders cancelled."""
        return sum(held.demand.resold for held in self.held)

    @property
    def sales(self) -> float:
        """Expected sales of plants held."""
        return sum(held.sales for held in self.held)

    @property
    def plants(self) -> int:
        """Plants held."""
        return sum(held.plants for held in self.held)

    @property
    def result(self) -> float:
        """The result expected."""
        return self.booked.result - self.cancelled + self.resold + self.sales


def share_kept(scenario: Scenario, order: Order) -> float:
    """Share of the price that the nursery keeps where the order is cancelled."""
    if order.cancel_kept is not None:
        return order.cancel_kept
    return terms_of(scenario, order.customer).deposit_share


def expected_of(scenario: Scenario, plan: Plan) -> Expected:
    """What a plan of the scenario is expected to leave.

    lost[o] = cancel chance[o] · (1 − share kept[o]) · price[o] · plants delivered[o]
    expected = result as booked − Σ lost[o] + resold + sales(plants held)
    """
    rows = rows_of(plan.orders, "order", "price", "own", "bought")
    delivered = {order: (price or 0.0, own + bought) for order, price, own, bought in rows}
    lost, held = {}, defaultdict(list)
    for order in scenario.orders:
        price, plants = delivered[order.order]
        if order.held:
            held[order.product, leaving(scenario, order).due_day].append((order.order, plants))
        if order.cancel_chance:
            kept = share_kept(scenario, order)
            lost[order.order] = order.cancel_chance * (1 - kept) * price * plants
    found = demands(scenario, {order: plants for order, (_, plants) in delivered.items()})
    return Expected(
        result_of(plan), lost, tuple(_held(demand, held[demand.product, demand.due_day]) for demand in found)
    )


def _held(demand: Demand, orders: list[tuple[str, float]]) -> Held:
    return Held(demand, round(sum(plants for _, plants in orders)), tuple(name for name, _ in orders))
