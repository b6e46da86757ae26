"""The rule of recourse: which orders the plants of a season fill, and which plants are bought in.

1. The plants of a flow go to the orders that the plan serves from it, earlier due days first, up to the
   plants that the plan gives each.
2. Plants left in any flow go to orders of the same product that miss plants, earlier due days first, earlier
   ready days first, if they are ready by the packing day and are held no longer than the holding limit.
3. Plants that an order still misses are known on the ready day of the last flow that the plan serves it from.
   They are bought in at the cheapest offer that can still come by the packing day, within the offer's least
   and most of a delivery, if that costs less than the penalty. The rest is short.

An order packed before today keeps what it was given, and nothing is bought before today. Plants may be
divided into fractions, as in the plan.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import FLOW, flow_key
from model.risk.batches import Floats
from model.scenario.calendar import Calendar
from model.scenario.choices import Source
from model.scenario.entities import Order, Product, Scenario
from model.scenario.lateness import discount_a_week, weeks_begun
from model.scenario.records.trade import BuyInOffer
from model.scenario.run_days import with_runs


@dataclass(frozen=True, slots=True)
class Recourse:
    """How the plants finished are used.

    Shape (orders, seasons), orders as in the scenario: ``missing``, plants that own growing and the planned
    buy-in do not supply; ``short``, those of them that are not bought in either. One number for each season:
    ``delivered``, plants for orders, finished or bought beyond the plan; ``bought``, plants bought beyond the
    plan, those forced by a least quantity included; ``buy_in_cost``, the cost of these; ``salvage``, income;
    ``moved``, plants that go to other orders than the plan has them for. ``late``: plants of each order that
    come late, shape (orders, seasons); ``late_cost``: the price given up for them, by season.
    """

    missing: Floats
    short: Floats
    delivered: Floats
    bought: Floats
    buy_in_cost: Floats
    salvage: Floats
    moved: Floats
    late: Floats
    late_cost: Floats


@dataclass(slots=True)
class _Arrival:
    """A delivery of an offer: plants in the plan, and plants that each season adds (used, and paid for)."""

    offer: BuyInOffer
    planned: float
    used: Floats
    paid: Floats


@dataclass(frozen=True, slots=True)
class _Terms:
    """An order, the days between which its plants may be ready, and the flows that serve it in the plan."""

    order: Order
    product: Product
    earliest: date
    """First day from which plants bought in may be held to the due day."""
    pack: date | None
    """Day on which plants can still be packed for it; None where that day does not exist, or is past."""
    served: list[tuple[int, float]] = field(default_factory=list)
    """Flows of the plan, by position, and plants from each."""


def recourse(scenario: Scenario, plan: Plan, finished: Floats) -> Recourse:
    """How the plants ``finished`` are used; shape (flows, seasons), flows as in the plan's table."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    terms = _terms(scenario, plan, calendar)
    by_due = sorted(range(len(terms)), key=lambda o: (terms[o].order.due_day, o))
    missing, left = _wanted(plan, finished.shape[1]), finished.copy()
    late, late_cost, moved = np.zeros_like(missing), *np.zeros((2, finished.shape[1]))
    days_late, bought_late = _days_late(plan)
    for o in by_due:
        order = terms[o].order
        week = discount_a_week(order, scenario.nursery)
        for days, plants in bought_late[order.order]:
            late[o] += plants
            late_cost += plants * week * weeks_begun(days)
        for f, plants in terms[o].served:
            given = _give(left[f], missing[o], plants)
            if days_late.get((order.order, f), 0):
                late[o] += given
                late_cost += given * week * weeks_begun(days_late[order.order, f])
    ready = _ready(scenario, plan)
    for o in by_due:
        for day, f, limit in ready[terms[o].product.product]:
            pack = terms[o].pack
            if pack is not None and terms[o].order.due_day - limit <= day <= pack:
                moved += _give(left[f], missing[o], None)
    short = missing.copy()
    arrivals = _buy(scenario, plan, calendar, [(o, terms[o]) for o in by_due], short)
    nothing = np.zeros(finished.shape[1])
    return Recourse(
        missing,
        short,
        (finished - left).sum(axis=0) + (missing - short).sum(axis=0),
        sum((a.paid for a in arrivals), nothing),
        sum((a.paid * a.offer.price for a in arrivals), nothing),
        _salvage(scenario, plan, left),
        moved,
        late,
        late_cost,
    )


def _days_late(plan: Plan) -> tuple[dict[tuple[str, int], int], dict[str, list[tuple[int, float]]]]:
    """Days late of own plants that the plan delivers late, by order and position of their flow.

    And of plants bought in late: days late and plants, by order.
    """
    flow = {flow_key(cells): f for f, cells in enumerate(rows_of(plan.flows, *FLOW))}
    own: dict[tuple[str, int], int] = {}
    bought: dict[str, list[tuple[int, float]]] = defaultdict(list)
    columns = ("order", "source", *FLOW, "days_late", "plants")
    for order, source, *named, days, plants in rows_of(plan.deliveries, *columns):
        if days > 0 and source == "own":
            own[order, flow[flow_key(named)]] = int(days)
        elif days > 0:
            bought[order].append((int(days), plants))
    return own, bought


def _give(left: Floats, missing: Floats, most: float | None) -> Floats:
    """Give plants left to where they are missing, at most ``most``, and say how many; both are changed."""
    given = np.minimum(left, missing)
    if most is not None:
        given = np.minimum(given, most)
    left -= given
    missing -= given
    return given


def _wanted(plan: Plan, seasons: int) -> Floats:
    """Plants that orders need from own growing and recourse: quantity − declined − bought in as planned."""
    orders = plan.orders
    wanted = (orders["quantity"] - orders["declined"] - orders["bought"]).to_numpy(dtype=float)
    return np.repeat(np.maximum(wanted, 0.0)[:, None], seasons, axis=1)


def _terms(scenario: Scenario, plan: Plan, calendar: Calendar) -> list[_Terms]:
    """The terms of all orders, in the scenario's order; the flows of each by graft day."""
    products = {product.product: product for product in scenario.products}
    limits = {method.method: timedelta(days=method.holding_limit_days) for method in scenario.methods}
    flow = {key: f for f, key in enumerate(rows_of(plan.flows, *FLOW))}
    terms, today = {}, _today(scenario)
    for order in with_runs(scenario).orders:
        product = products[order.product]
        pack = calendar.previous_working(calendar.day(order.due_day))
        terms[order.order] = _Terms(
            order,
            product,
            order.due_day - limits[product.method],
            None if pack is None or calendar.date(pack) < today else calendar.date(pack),
        )
    own = plan.deliveries[plan.deliveries["source"] == "own"]
    for name, *named, plants in rows_of(own, "order", *FLOW, "plants"):
        terms[name].served.append((flow[tuple(named)], plants))
    for term in terms.values():
        term.served.sort()
    return list(terms.values())


def _today(scenario: Scenario) -> date:
    return scenario.nursery.today or scenario.nursery.first_day


def _ready(scenario: Scenario, plan: Plan) -> dict[str, list[tuple[date, int, timedelta]]]:
    """Ready days, positions and holding limits of the flows that are sold as each product, in order."""
    sold_as = {product.product: product.ordered_as for product in scenario.products}
    limits = {method.method: timedelta(days=method.holding_limit_days) for method in scenario.methods}
    ready: dict[str, list[tuple[date, int, timedelta]]] = defaultdict(list)
    columns = ["product", "ready_day", "method"]
    for f, (product, day, method) in enumerate(plan.flows[columns].itertuples(index=False)):
        ready[sold_as[product]].append((day, f, limits[method]))
    return defaultdict(list, {product: sorted(flows) for product, flows in ready.items()})


def _buy(
    scenario: Scenario, plan: Plan, calendar: Calendar, by_due: list[tuple[int, _Terms]], short: Floats
) -> list[_Arrival]:
    """Buy in plants short where an offer still allows, and return the deliveries; ``short`` is changed."""
    planned: dict[tuple[str, date], float] = defaultdict(float)
    columns = ["offer", "arrival_day", "plants", "spare"]
    for name, day, plants, spare in plan.buy_in[columns].itertuples(index=False):
        planned[name, day] += plants + spare
    penalties = plan.orders["penalty"].to_numpy(dtype=float)
    ready = plan.flows["ready_day"].tolist()
    arrivals: dict[tuple[str, date], _Arrival] = {}
    for o, term in by_due:
        if not term.served:
            continue
        known = max(_today(scenario), *(ready[f] for f, _ in term.served))
        for offer, day in _offers_in_time(scenario, calendar, term, known):
            key = (offer.offer, day)
            if key not in arrivals:
                used, paid = np.zeros((2, short.shape[1]))
                arrivals[key] = _Arrival(offer, planned[key], used, paid)
            _buy_from(arrivals[key], short[o], penalties[o])
    return list(arrivals.values())


def _offers_in_time(
    scenario: Scenario, calendar: Calendar, term: _Terms, known: date
) -> list[tuple[BuyInOffer, date]]:
    """Offers and arrival days for an order whose loss is known on ``known``; cheapest first, then latest."""
    if term.product.source is Source.GROW or term.pack is None:
        return []
    found = []
    for n, offer in enumerate(scenario.buy_in_offers):
        if offer.product != term.product.product:
            continue
        first = max(known + timedelta(days=offer.lead_days), term.earliest, offer.from_day or known)
        last = term.pack if offer.to_day is None else min(term.pack, offer.to_day)
        found += [
            (offer.price, -t, n)
            for t in range(calendar.day(first), calendar.day(last) + 1)
            if calendar.is_working[t] and calendar.weekday(t) in offer.delivery_weekdays
        ]
    return [(scenario.buy_in_offers[n], calendar.date(-t)) for _, t, n in sorted(found)]


def _buy_from(arrival: _Arrival, short: Floats, penalty: float) -> None:
    """Buy plants short from a delivery, where the money to pay is less than the penalty."""
    offer = arrival.offer
    more = short
    if offer.most_per_delivery is not None:
        room = np.maximum(offer.most_per_delivery - arrival.planned - arrival.used, 0.0)
        more = np.minimum(short, room)
    paid = np.maximum(arrival.used + more, offer.least_quantity - arrival.planned)
    extra = np.maximum(paid - arrival.paid, 0.0)
    buys = (more > 0) & (extra * offer.price < penalty * more)
    arrival.used += np.where(buys, more, 0.0)
    arrival.paid += np.where(buys, extra, 0.0)
    short -= np.where(buys, more, 0.0)


def _salvage(scenario: Scenario, plan: Plan, left: Floats) -> Floats:
    """Income by season from plants finished and left over, up to each product's ``salvage_most``."""
    income = np.zeros(left.shape[1])
    sold = plan.flows["product"].map({product.product: product.ordered_as for product in scenario.products})
    for product in scenario.products:
        over = left[(sold == product.product).to_numpy(dtype=bool)].sum(axis=0)
        income += product.salvage_price * np.minimum(over, product.salvage_most)
    return income
