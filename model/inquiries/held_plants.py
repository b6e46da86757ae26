"""Plants held for inquiries: as orders that the program may decline, and as orders of the book.

What q plants held of a product are expected to sell for is concave in q and made of straight pieces. So each
piece is an order of its own that may be declined in part, at the price that a plant of it earns: the plan of
greatest contribution then holds those that pay, and no new variable is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from model.inquiries.demand import Demand
from model.scenario.calendar import Calendar
from model.scenario.choices import Decline, MarginPolicy
from model.scenario.entities import Order, Scenario

MOST_STEPS = 24
"""Most steps, about, of a product and day that are told apart by what a plant earns."""

CUSTOMER = "held for inquiries"
"""Customer of plants held."""

EVEN = 0.5
"""Chance that as many plants as held come about: nobody is promised more than the number expected."""


def booked(scenario: Scenario) -> Scenario:
    """The scenario with the orders that somebody has booked: without plants held."""
    return replace(scenario, orders=tuple(order for order in scenario.orders if not order.held))


def with_steps(scenario: Scenario, found: Iterable[Demand]) -> tuple[Scenario, dict[str, Demand]]:
    """The book with each step of each demand as an order that may be declined in part.

    Returns also the demand of each such order. Days whose plants have left before today are left out.
    """
    names, steps, demand_of = _names(scenario, "step"), [], {}
    for demand in found:
        if still_open(scenario, demand):
            for plants, value in demand.steps(MOST_STEPS):
                order = _held(next(names), demand, plants)
                steps.append(replace(order, price=value, decline=Decline.PART, held=False))
                demand_of[order.order] = demand
    return replace(scenario, orders=(*scenario.orders, *steps)), demand_of


def held_orders(scenario: Scenario, plants: Mapping[Demand, int]) -> list[Order]:
    """An order for the plants held of each demand, to stand in the book.

    It has no price, as nobody has agreed one. A plant short costs what a plant held earns on average, so that
    plants held give way to orders booked. Where margins are priced, no penalty may be so low.
    """
    names, priced = _names(scenario, "held"), scenario.nursery.margin_policy is MarginPolicy.PRICED
    return [
        replace(
            _held(next(names), demand, count),
            shortfall_penalty=None if priced else demand.sales(count) / count,
        )
        for demand, count in plants.items()
        if count > 0
    ]


def still_open(scenario: Scenario, demand: Demand) -> bool:
    """Whether plants can still be packed for the due day: today or later."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    packed = calendar.previous_working(calendar.day(demand.due_day))
    today = scenario.nursery.today or scenario.nursery.first_day
    return packed is not None and packed >= calendar.day(today)


def _held(name: str, demand: Demand, plants: int) -> Order:
    """Plants held: expected numbers, without a margin, on their day."""
    return Order(
        name,
        CUSTOMER,
        demand.product,
        plants,
        demand.due_day,
        service_level=EVEN,
        graft_margin=0.0,
        most_share_of_one_day=1.0,
        most_share_of_one_lot=1.0,
        most_share_of_one_unit=1.0,
        late_days_most=0,
        extra_share=0.0,
        whole_trays_to_customer=False,
        held=True,
    )


def _names(scenario: Scenario, word: str) -> Iterator[str]:
    """Names that no order has."""
    taken = {order.order.casefold() for order in scenario.orders}
    n = 0
    while True:
        n += 1
        if f"{word} {n}" not in taken:
            yield f"{word} {n}"
