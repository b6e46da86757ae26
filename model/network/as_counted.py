"""Adjust a network to the counts: the seedlings, healed and finished plants that progress records."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from model.network.past import GraftedKey, SownKey
from model.network.types import Join, Network, Wave
from model.rates.overseeding import finishing_margin

SLACK = 1e-9
"""Share by which joins may draw more seedlings than the wave holds before the match is raised."""


def trays_sown(network: Network) -> dict[int, float]:
    """Trays of the waves that could have been sown before today, by index of the wave."""
    past = network.past
    return {
        w: past.sown[key].number if (key := sown_key(wave)) in past.sown else 0.0
        for w, wave in enumerate(network.waves)
        if wave.sow < past.today and not wave.on_hand
    }


def joins_made(network: Network) -> dict[int, float]:
    """Joins of the flows that could have been grafted from the first day to today, by index of the join."""
    return {j: _recorded(network, j) for j, day in _graft_days(network) if 0 <= day < network.past.today}


def joins_on_hand(network: Network) -> dict[int, float]:
    """Joins grafted before the first day whose plants stand there on it, by index of the join."""
    return {j: _recorded(network, j) for j, day in _graft_days(network) if day < 0}


def _graft_days(network: Network) -> Iterator[tuple[int, int]]:
    """The graft day of each join."""
    return ((j, network.flows[join.flow].graft) for j, join in enumerate(network.joins))


def _recorded(network: Network, j: int) -> float:
    key = grafted_key(network, network.joins[j])
    return network.past.grafted[key].number if key in network.past.grafted else 0.0


def grafted_key(network: Network, join: Join) -> GraftedKey:
    """What names joins in the past."""
    rootstock = None if join.rootstock is None else sown_key(network.waves[join.rootstock])
    return GraftedKey(network.flows[join.flow].key, rootstock, sown_key(network.waves[join.scion]))


def sown_key(wave: Wave) -> SownKey:
    """What names a wave in the past."""
    return SownKey(wave.lot.lot, wave.tray.format, wave.sow)


def as_counted(network: Network) -> None:
    """Change the network's shares in place so that they agree with the counts."""
    recorded = joins_on_hand(network) | joins_made(network)
    made = {j: joins for j, joins in recorded.items() if joins > 0}
    _fit_draws(network, made)
    _finish(network, made)


def _fit_draws(network: Network, made: dict[int, float]) -> None:
    """Raise the stand, then the match, until each wave had the seedlings that its recorded joins used.

    Recorded joins prove that their seedlings existed. A wave not counted yet had at least the seedlings
    drawn, up to one for each cell. If these are still too few, the match of its joins must have been better
    than expected.
    """
    drawn: dict[int, float] = defaultdict(float)
    for j, joins in made.items():
        for w in network.joins[j].waves:
            drawn[w] += joins / network.joins[j].match
    better: dict[int, float] = {}
    for w, seedlings in drawn.items():
        wave = network.waves[w]
        sown = network.past.sown[sown_key(wave)]
        usable = wave.usable
        if sown.counted is None:
            usable = max(usable, min(seedlings / sown.number, wave.tray.cells))
            network.waves[w] = wave._replace(usable=usable)
        if seedlings > usable * sown.number * (1 + SLACK):
            for j in network.draws[w]:
                if j in made:
                    better[j] = max(better.get(j, 1.0), seedlings / (usable * sown.number))
    for j, factor in better.items():
        join = network.joins[j]
        network.joins[j] = join._replace(match=min(1.0, join.match * factor))
    for w in drawn:
        joined = [j for j in network.draws[w] if j in made]
        there = network.waves[w].usable * network.past.sown[sown_key(network.waves[w])].number
        if sum(made[j] / network.joins[j].match for j in joined) > there * (1 + SLACK):
            for j in joined:
                network.joins[j] = network.joins[j]._replace(match=1.0)


def packed(network: Network) -> set[int]:
    """Orders whose packing day lies before today, by index."""
    days = [-1 if term.pack is None else term.pack for term in network.orders]
    return {o for o, pack in enumerate(days) if pack < network.past.today}


def bought_before(network: Network) -> set[int]:
    """Plants bought in that were ordered before today, or would have had to be, by index."""
    coming = {(offer, day) for offer, day, _ in network.past.bought}
    today, offers = network.past.today, network.offers
    return {
        i
        for i, b in enumerate(network.buy_ins)
        if b.day - offers[b.offer].lead_days < today or (offers[b.offer].offer, b.day) in coming
    }


def gone(network: Network) -> set[int]:
    """Orders of which no plant can come any more, not even late, by index."""
    today = network.past.today
    return {
        o
        for o in packed(network)
        if not network.orders[o].late_most or network.orders[o].due + network.orders[o].late_most < today
    }


def plants_delivered(network: Network) -> dict[int, float]:
    """Plants of the deliveries packed or recorded before today, by index of the delivery."""
    past, found = network.past, {}
    for i, delivery in enumerate(network.deliveries):
        term, flow = network.orders[delivery.order], network.flows[delivery.flow]
        key, day = (term.order.order, flow.key), term.packed(flow.ready)
        if key in past.delivered or day is None or day < past.today:
            found[i] = past.delivered.get(key, 0.0)
    return found


def _finish(network: Network, made: dict[int, float]) -> None:
    """Take the finish survival from plants counted ready, and reduce the margin of counted plants.

    Plants counted ready need no margin; healed plants that are counted need only that of finishing.
    """
    past = network.past
    healed: dict[int, float] = defaultdict(float)
    for j, joins in made.items():
        healed[network.joins[j].flow] += joins * network.joins[j].take
    uncounted = {key.flow for key, amount in past.grafted.items() if amount.counted is None}
    for i, delivery in enumerate(network.deliveries):
        flow = network.flows[delivery.flow]
        if flow.key in past.finished:
            network.deliveries[i] = delivery._replace(margin=0.0)
        elif delivery.flow in healed and flow.key not in uncounted:
            order, nursery = network.orders[delivery.order].order, network.scenario.nursery
            margin = finishing_margin(delivery.margin, order, flow.sold_as, flow.method, nursery)
            network.deliveries[i] = delivery._replace(margin=margin)
    for f, plants in healed.items():
        flow = network.flows[f]
        ready = past.finished.get(flow.key)
        if ready is not None:
            network.flows[f] = flow._replace(survival=ready / plants if plants > 0 else 0.0)
    _fit_deliveries(network, healed)


def _fit_deliveries(network: Network, healed: dict[int, float]) -> None:
    """Make room for recorded deliveries, which prove that their plants existed.

    If too few plants are expected to finish, reduce the margin of these deliveries, then raise the survival.
    """
    delivered: dict[int, dict[int, float]] = defaultdict(dict)
    for i, plants in plants_delivered(network).items():
        if plants > 0:
            delivered[network.deliveries[i].flow][i] = plants
    for f, plants_of in delivered.items():
        flow, total = network.flows[f], sum(plants_of.values())
        spare = healed.get(f, 0.0) * flow.survival - total
        margins = sum(plants * network.deliveries[i].margin for i, plants in plants_of.items())
        if margins > max(spare, 0.0):
            share = max(spare, 0.0) / margins
            for i in plants_of:
                delivery = network.deliveries[i]
                network.deliveries[i] = delivery._replace(margin=delivery.margin * share)
        if spare < 0:
            network.flows[f] = flow._replace(survival=total / healed[f])
