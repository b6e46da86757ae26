"""Spare seedlings: the sowing margin of each order, kept where its seedlings are drawn.

With sowing policy 'level' each order has a margin of its own, for its own seedlings, so that no order changes
the seed of another. A flow keeps the spare seedlings of the orders that it serves.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from model.network.past import SownKey
from model.network.types import Network, Reserve, Spare
from model.rates.overseeding import fixed_sowing_margin, lot_margin, seedlings_of, service_level

Shares = dict[int, float]


def keep_reserves(network: Network) -> None:
    """Add to the network the spares and reserves of all flows whose graft day is still to come."""
    margin = _margins(network)
    served: dict[int, list[int]] = {f: [] for f in range(len(network.flows))}
    for i, delivery in enumerate(network.deliveries):
        served[delivery.flow].append(i)
    for f, flow in enumerate(network.flows):
        if flow.graft < network.past.today or not served[f]:
            continue
        for rootstock in (True, False):
            feeding = {_wave(network, j, rootstock) for j in network.flow_joins[f]} - {None}
            uncertain = sorted(w for w in feeding if w is not None and _uncertain(network, w))
            lots = sorted({network.waves[w].lot.lot for w in uncertain})
            shares = {i: max((margin(i, lot) for lot in lots), default=0.0) for i in served[f]}
            if max(shares.values()) > 0:
                network.reserves.append(_reserve(network, f, rootstock, uncertain, shares))


def _wave(network: Network, j: int, rootstock: bool) -> int | None:
    return network.joins[j].rootstock if rootstock else network.joins[j].scion


def _uncertain(network: Network, w: int) -> bool:
    """Whether the seedlings of a wave are expected, not counted, and their margin is that of the orders."""
    wave = network.waves[w]
    sown = network.past.sown.get(SownKey(wave.lot.lot, wave.tray.format, wave.sow))
    counted = sown is not None and sown.counted is not None and sown.number > 0
    return not counted and fixed_sowing_margin(wave.lot, network.scenario.nursery) is None


def _margins(network: Network) -> Callable[[int, str], float]:
    """The sowing margin of a delivery's order, by index of the delivery, on a lot, by name."""
    lots = {lot.lot: lot for lot in network.scenario.seed_lots}
    at = cache(lambda lot, seedlings, level: lot_margin(lots[lot], seedlings, level))

    def margin(i: int, lot: str) -> float:
        delivery = network.deliveries[i]
        term, method = network.orders[delivery.order], network.flows[delivery.flow].method
        level = service_level(term.order, term.product, network.scenario.nursery)
        return at(lot, seedlings_of(term.order, delivery.margin, method), level)

    return margin


def _reserve(network: Network, f: int, rootstock: bool, uncertain: list[int], shares: Shares) -> Reserve:
    """The reserve of a flow on one side; ``shares``: sowing margin of each of its deliveries.

    Plants of the orders with the largest margins are taken to come from the joins that need the fewest
    seedlings a plant, and from seedlings that are certain.
    """
    flow, first = network.flows[f], len(network.spares)
    network.spares.extend(Spare(f, w, rootstock) for w in uncertain)
    # Surplus sold is nobody's order, and needs no margin.
    sold = flow.sold_as.salvage_price > 0 and flow.sold_as.salvage_most > 0
    least, most = 0.0 if sold else min(shares.values()), max(shares.values())
    joins = [network.joins[j] for j in network.flow_joins[f]]
    by_kind: dict[bool, list[int]] = {True: [], False: []}
    for j in network.flow_joins[f]:
        by_kind[_wave(network, j, rootstock) in uncertain].append(j)
    return Reserve(
        f,
        rootstock,
        least,
        most,
        max(join.match * join.take for join in joins) * flow.survival,
        tuple(range(first, len(network.spares))),
        tuple(by_kind[True]),
        tuple(by_kind[False]),
        shares,
    )
