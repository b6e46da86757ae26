"""Constraint groups of yes-or-no decisions (buy-in deliveries, waves, graft days), stock and packs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from math import ceil

from model.network.batch_days import BatchDay
from model.program.amounts import Use
from model.program.index_sets import Coefs, Row, Rows
from model.program.program import Program


def buy_in_quantity(p: Program) -> Rows:
    """The plants of a delivery bought in, spare ones too, lie between the offer's least and most quantity.

    least quantity · B[f,t] ≤ Σ_o b[f,t,o] + v[f,t] ≤ most per delivery · B[f,t]
    where it can still be ordered
    """
    rows: Rows = {}
    spare = {index: n for n, index in enumerate(p.spare_days)}
    for n, index in enumerate(p.offer_days):
        if n in p.settled.get("offer_taken", {}):
            continue
        offer = p.network.offers[index.offer]
        ordered = sum(p.network.orders[p.network.buy_ins[i].order].order.quantity for i in index.buy_ins)
        needed = max(ordered, offer.least_quantity)
        most = needed if offer.most_per_delivery is None else offer.most_per_delivery
        coefs: Coefs = {("bought", i): 1.0 for i in index.buy_ins}
        if index in spare:
            coefs["spare_bought", spare[index]] = 1.0
        rows[*p.labels["offer_taken"][n], "most"] = Row(coefs | {("offer_taken", n): -float(most)}, None, 0.0)
        if offer.least_quantity > 0:
            least = Row(coefs | {("offer_taken", n): -float(offer.least_quantity)}, 0.0, None)
            rows[*p.labels["offer_taken"][n], "least"] = least
    return rows


def waves_sown(p: Program) -> Rows:
    """A wave with a fixed cost has trays only if it is opened.

    x[w] ≤ most trays[w] · O[w]      where a wave has a fixed cost and can still be sown
    """
    return {
        p.wave_labels[w]: Row({("sown", w): 1.0, ("wave_opened", w): -most_trays(p, w)}, None, 0.0)
        for w in p.opened_waves
        if w not in p.settled.get("sown", {})
    }


def most_trays(p: Program, w: int) -> float:
    """Trays of a wave that no plan of least cost exceeds.

    ⌈(Σ quantity · (1 + m) of the orders its joins can reach + Σ salvage_most of their products)
    · (1 + the largest ε₁ of its flows) · the largest 1 / (μ · τ · φ · κ[w]) among its joins⌉
    """
    network = p.network
    wave, joins = network.waves[w], [network.joins[j] for j in network.draws[w]]
    plants = _most_plants(p, {join.flow for join in joins})
    dearest = max(
        1 / (join.match * join.take * network.flows[join.flow].survival * wave.usable) for join in joins
    )
    return float(ceil(plants * (1 + p.largest_margins[w]) * dearest))


def _most_plants(p: Program, flows: Collection[int]) -> float:
    """Plants that may be asked of these flows: orders with margins, and surplus that can be sold."""
    network = p.network
    asked: dict[int, float] = defaultdict(float)
    for f in flows:
        for i in p.serves[f]:
            delivery = network.deliveries[i]
            asked[delivery.order] = max(asked[delivery.order], delivery.margin)
    plants = p.most_ordered({o: network.orders[o].order.quantity * (1 + asked[o]) for o in sorted(asked)})
    products = {network.flows[f].sold_as.product: network.flows[f].sold_as for f in flows}
    return plants + sum(product.salvage_most for product in products.values())


SPARED = 4
"""A graft day may have so many times the joins that all it can serve ask: a hedge grows plants to spare."""


def least_batches(p: Program) -> Rows:
    """On a graft day a method with a least batch joins nothing, or at least so many.

    least batch[m] · Y[m,g] ≤ Σ_p J[p,g] ≤ most joins[m,g] · Y[m,g]      for each such method, g from today
    """
    rows: Rows = {}
    for n, on in enumerate(p.batch_days):
        coefs: Coefs = {("grafted", f): 1.0 for f in on.flows}
        label = p.labels["batch_set_up"][n]
        rows[*label, "most"] = Row(coefs | {("batch_set_up", n): -most_joins(p, on)}, None, 0.0)
        rows[*label, "least"] = Row(coefs | {("batch_set_up", n): -float(on.least)}, 0.0, None)
    return rows


def most_joins(p: Program, on: BatchDay) -> float:
    """Joins of a method on a graft day that no plan exceeds.

    The least batch, or ``SPARED`` times ⌈(Σ quantity · (1 + m) of the orders that the day can serve
    + Σ salvage_most of their products) · the largest 1 / (τ · φ) among its joins⌉ if that is more.
    """
    joins = [p.network.joins[j] for f in on.flows for j in p.network.flow_joins[f]]
    dearest = max((1 / (join.take * p.network.flows[join.flow].survival) for join in joins), default=0.0)
    return float(max(on.least, SPARED * ceil(_most_plants(p, on.flows) * dearest)))


def _out(uses: list[Use], before: int | None = None) -> Coefs:
    """Units used before a day, less those that have come back by then; None: in all."""
    coefs: Coefs = defaultdict(float)
    for use in uses:
        if before is None or use.day < before:
            coefs[use.key] += use.units
    return coefs


def stock(p: Program) -> Rows:
    """Seed and supplies used before a new order can arrive come from stock or from earlier orders.

    used − back of item j before day today + lead[j] ≤ stock[j] + packs ordered that have come by then
    and likewise before each day on which such packs arrive, or units come back; the limit is never below
    what is already used
    """
    rows: Rows = {}
    past = p.network.past
    ordered: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for (item, size), arrivals in past.packs.items():
        ordered[item] += [(day, size * number) for day, number in arrivals]
    for item, uses in p.in_and_out.items():
        amount, lead = p.items[item]
        comes = past.today + lead
        more = [*(day for day, _ in ordered[item]), *p.days_back(item)]
        for before in sorted({comes, *(day for day in more if past.today < day < comes)}):
            coefs = _out(uses, before)
            if coefs:
                there = amount + sum(units for day, units in ordered[item] if day < before)
                rows[item, p.iso(before)] = Row(coefs, None, max(there, p.settled_part(coefs)))
    return rows


def _in_packs(p: Program, out: Coefs, item: str) -> Row:
    """Units out ≤ stock + packs; where none are sold, the limit is never below what is already used."""
    bought: Coefs = {("packs_bought", n): -pack.size for n, pack in enumerate(p.packs) if pack.item == item}
    stock = p.items[item][0]
    return Row(out | bought, None, stock if bought else max(stock, p.settled_part(out)))


def packs(p: Program) -> Rows:
    """All units of an item that are used and do not come back are from stock or from packs.

    used − back of item j in all ≤ stock[j] + Σ_sizes size · P[j,size]
    """
    return {(item,): _in_packs(p, _out(uses), item) for item, uses in p.in_and_out.items()}


def packs_out(p: Program) -> Rows:
    """All units of an item that are out before some come back are from stock or from packs.

    used − back of item j before t ≤ stock[j] + Σ_sizes size · P[j,size]
    for each t after today + lead[j] on which units come back
    """
    rows: Rows = {}
    for item, uses in p.in_and_out.items():
        for before in p.days_back(item):
            if before > p.network.past.today + p.items[item][1]:
                rows[item, p.iso(before)] = _in_packs(p, _out(uses, before), item)
    return rows


GROUPS = (buy_in_quantity, waves_sown, least_batches, stock, packs, packs_out)
