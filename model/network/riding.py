"""The days of runs, and what may ride on them."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil
from typing import NamedTuple

from model.network.charges import leaves_in_whole_trays
from model.network.types import Network
from model.scenario.records.trade import Run

Decision = tuple[str, int]
"""``delivered`` or ``bought``, and the index of it."""

TINY = 1e-6
"""Part of a tray that is only rounding."""


class RunDay(NamedTuple):
    """A run on a day, with the decisions whose plants ride and the trays that a plant takes."""

    run: Run
    day: int
    trays: dict[Decision, float]


class Riding(NamedTuple):
    """An order that leaves in whole trays, on a day of a run; ``on``: index of the run day.

    ``trays``: the decisions whose plants ride, with the trays that a plant takes.
    """

    on: int
    order: int
    trays: dict[Decision, float]


def run_days(network: Network) -> list[RunDay]:
    """Runs on days on which plants may leave with them.

    An order rides in whole trays, ⌈quantity / cells⌉ of them, of which each plant takes its share.
    """
    orders = network.orders
    ends = [
        (("delivered", i), orders[d.order], network.flows[d.flow].tray, network.flows[d.flow].ready)
        for i, d in enumerate(network.deliveries)
    ]
    ends += [
        (("bought", i), orders[b.order], orders[b.order].tray, b.day) for i, b in enumerate(network.buy_ins)
    ]
    found: dict[tuple[str, int], RunDay] = {}
    for key, term, tray, ready in ends:
        if term.run is not None:
            day = term.leaves(ready)
            on = found.setdefault((term.run.run, day), RunDay(term.run, day, {}))
            on.trays[key] = ceil(term.order.quantity / tray.cells) / term.order.quantity
    return [found[at] for at in sorted(found)]


def riding(network: Network, days: list[RunDay]) -> list[Riding]:
    """Orders that leave in whole trays, on the days of runs on which they may ride."""
    found: dict[tuple[int, int], dict[Decision, float]] = {}
    for n, on in enumerate(days):
        for (name, i), trays in on.trays.items():
            o = network.deliveries[i].order if name == "delivered" else network.buy_ins[i].order
            if leaves_in_whole_trays(network.orders[o].order):
                found.setdefault((n, o), {})[name, i] = trays
    return [Riding(n, o, trays) for (n, o), trays in found.items()]


def trays_on(n: int, on: RunDay, rides: list[Riding], plants: Mapping[Decision, float]) -> float:
    """Trays of so many plants on run day n, whole ones of each order that leaves in them."""
    whole = [ride for ride in rides if ride.on == n]
    own = {key for ride in whole for key in ride.trays}
    parts = sum(trays * plants[key] for key, trays in on.trays.items() if key not in own)
    return parts + sum(
        ceil(sum(trays * plants[key] for key, trays in ride.trays.items()) - TINY) for ride in whole
    )
