"""The routes that can serve an order, and what is said of an order without one."""

from __future__ import annotations

from collections import defaultdict

from model.network.types import Network, OrderTerms
from model.program.amounts import Amounts, Key
from model.program.program import Program


def route_keys(program: Program, o: int) -> set[Key]:
    """Keys of all decisions on the routes that can serve the order."""
    network = program.network
    keys: set[Key] = {("bought", i) for i, buy_in in enumerate(network.buy_ins) if buy_in.order == o}
    left_of: dict[int, list[int]] = defaultdict(list)
    for k, left in enumerate(program.amounts.left):
        left_of[left.wave].append(k)
    into: dict[int, list[int]] = defaultdict(list)
    for n, place in enumerate(program.amounts.sown_into):
        into[place.wave].append(n)
    keys |= {("riding", k) for k, ride in enumerate(program.riding) if ride.order == o}
    for i, delivery in enumerate(network.deliveries):
        if delivery.order != o:
            continue
        f = delivery.flow
        keys |= {("delivered", i), ("grafted", f), ("loaded", f), ("healed", f)}
        if f in network.in_whole_trays:
            keys.add(("finishing", f))
        for j in network.flow_joins[f]:
            for w in network.joins[j].waves:
                keys |= {("sown", w)} | {("left", k) for k in left_of[w]}
                keys |= {("sown_into", n) for n in into[w]}
    return keys


def reached(network: Network) -> set[str]:
    """Orders that a route can still reach: one that the past has not closed.

    Before today only what is recorded has happened. So a wave, a join, a delivery or a purchase of a day
    before today is on no route, unless it is recorded.
    """
    settled = Program(network, Amounts(network)).settled if network.past.today > 0 else {}

    def happens(variable: str, n: int) -> bool:
        return settled.get(variable, {}).get(n, 1.0) > 0

    flows = {
        join.flow
        for j, join in enumerate(network.joins)
        if happens("joins", j) and all(happens("sown", w) for w in join.waves)
    }
    served = {
        delivery.order
        for i, delivery in enumerate(network.deliveries)
        if delivery.flow in flows and happens("delivered", i)
    }
    served |= {buy_in.order for i, buy_in in enumerate(network.buy_ins) if happens("bought", i)}
    return {network.orders[o].order.order for o in served}


def no_route(network: Network, term: OrderTerms) -> str:
    """Text that says why no plants can reach the order in time."""
    calendar, product = network.calendar, term.product
    ready = [flow.ready for flow in network.flows if flow.sold_as == product]
    text = f"no route: nothing of {product.product} can be ready"
    last = term.due + term.late_most if term.late_most else term.pack
    if last is None:
        return f"{text} and packed on a working day by {term.order.due_day}"
    by = calendar.date(min(last, calendar.days - 1))
    if ready and min(ready) > last:
        return f"{text} by {by}; the earliest ready day is {calendar.date(min(ready))}"
    if network.past.today > 0:
        return f"no route: from today on nothing of {product.product} can be ready by {by}"
    limit = term.method.holding_limit_days
    return f"{text} by {by} and held no more than {limit} days to {term.order.due_day}"
