"""Why an order is short: it has no route, limits bind on its routes, or its penalty is below its cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

import pandas as pd

from model.network.types import OrderTerms
from model.program.amounts import Key
from model.program.program import Program

SHOWN = 4
"""Most limits that are named for an order, dearest first."""

LUMPY = {
    True: "in whole trays no plan that fills it costs less (proved)",
    False: "in whole trays no plan that fills it at less cost was found (not proved)",
}
"""What is said of an order that only the continuous program fills, by whether the plan is proved cheapest."""

Limit = tuple[str, str, int | None]
"""Kind, name and day of a limit, as in the shadow prices."""


def say_why_short(
    program: Program,
    orders: pd.DataFrame,
    prices: pd.DataFrame,
    *,
    filled: Collection[int] = (),
    proved: bool = False,
) -> pd.DataFrame:
    """The table ``orders`` with the reason of each shortfall in ``short_because``.

    ``filled``: orders, by index, that the continuous program fills. ``proved``: whether no plan costs less.
    """
    if not (orders["short"] > 0).any():
        return orders
    limits = _limits_of(program)
    priced = _priced(program, prices)
    reasons = [
        _reason(program, o, limits, priced, LUMPY[proved] if o in filled else None) if short > 0 else None
        for o, short in enumerate(orders["short"].tolist())
    ]
    return orders.assign(short_because=pd.Series(reasons, dtype=object, index=orders.index))


def _reason(
    program: Program,
    o: int,
    limits: dict[Key, set[Limit]],
    priced: dict[Limit, tuple[float, str]],
    lumpy: str | None,
) -> str:
    keys = route_keys(program, o)
    if not keys:
        return _no_route(program, program.network.orders[o])
    on_route = set().union(*(limits.get(key, set()) for key in keys))
    binding = sorted(((priced[limit], limit) for limit in on_route if limit in priced), key=lambda b: b[0])
    if not binding and lumpy is not None:
        return lumpy
    if not binding:
        penalty = program.network.orders[o].penalty
        return f"cheaper left short: its penalty of {penalty:g} a plant is below what a plant costs"
    named: list[str] = []
    for (_, text), _ in binding:
        if text not in named:
            named.append(text)
    more = len(named) - SHOWN
    start = "full: " if lumpy is None else f"{lumpy}; full: "
    return start + "; ".join(named[:SHOWN]) + (f"; and {more} more" if more > 0 else "")


def route_keys(program: Program, o: int) -> set[Key]:
    """Keys of all decisions on the routes that can serve the order."""
    network = program.network
    keys: set[Key] = {("bought", i) for i, buy_in in enumerate(network.buy_ins) if buy_in.order == o}
    left_of: dict[int, list[int]] = defaultdict(list)
    for k, left in enumerate(program.amounts.left):
        left_of[left.wave].append(k)
    for i, delivery in enumerate(network.deliveries):
        if delivery.order != o:
            continue
        f = delivery.flow
        keys |= {("delivered", i), ("grafted", f), ("loaded", f), ("healed", f)}
        for j in network.flow_joins[f]:
            for w in network.joins[j].waves:
                keys |= {("sown", w)} | {("left", k) for k in left_of[w]}
    return keys


def _limits_of(program: Program) -> dict[Key, set[Limit]]:
    """The limits that each decision uses up."""
    amounts = program.amounts
    limits: dict[Key, set[Limit]] = defaultdict(set)
    for s in amounts.standing:
        kind = "slots" if amounts.zones[s.zone].pool else "units"
        limits[s.key] |= {(kind, s.zone, t) for t in range(s.start, s.end)}
    crews: dict[str, list[str]] = defaultdict(list)
    for name, crew in amounts.crews.items():
        for skill in crew.crew.skills:
            crews[skill].append(name)
    week_of = {t: week.days[0] for week in program.weeks for t in week.days}
    for work in amounts.work:
        for crew_name in crews[work.skill]:
            limits[work.key] |= {
                ("regular hours", crew_name, work.day),
                ("overtime hours", crew_name, work.day),
                ("week hours", crew_name, week_of[work.day]),
            }
    for use in amounts.uses:
        limits[use.key].add(("stock", use.item, None))
    for i, buy_in in enumerate(program.network.buy_ins):
        limits["bought", i].add(("buy-in", program.network.offers[buy_in.offer].offer, buy_in.day))
    return limits


def _priced(program: Program, prices: pd.DataFrame) -> dict[Limit, tuple[float, str]]:
    """Limits that have a price, each with its price and text; the most negative price is the dearest."""
    calendar = program.network.calendar
    found: dict[Limit, tuple[float, str]] = {}
    for row in prices.to_dict("records"):
        if row["limit"] != "order" and row["value"] < 0:
            date = row["day"]
            day = None if date is None else calendar.day(date)
            when = "" if date is None else f" on {date}"
            found[row["limit"], row["name"], day] = (row["value"], f"{row['limit']} of {row['name']}{when}")
    return found


def _no_route(program: Program, term: OrderTerms) -> str:
    """Text that says why no plants can reach the order in time."""
    calendar, product = program.network.calendar, term.product
    ready = [flow.ready for flow in program.network.flows if flow.product == product]
    text = f"no route: nothing of {product.product} can be ready"
    if term.pack is None:
        return f"{text} and packed on a working day by {term.order.due_day}"
    if ready and min(ready) > term.pack:
        return f"{text} by {calendar.date(term.pack)}; the earliest ready day is {calendar.date(min(ready))}"
    limit = term.method.holding_limit_days
    return f"{text} by {calendar.date(term.pack)} and held no more than {limit} days to {term.order.due_day}"
