"""Constraint groups of yes-or-no decisions (buy-in deliveries, waves with a fixed cost), stock and packs."""

from __future__ import annotations

from collections import defaultdict
from math import ceil

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
    flows = {join.flow for join in joins}
    asked: dict[int, float] = defaultdict(float)
    for f in flows:
        for i in p.serves[f]:
            delivery = network.deliveries[i]
            asked[delivery.order] = max(asked[delivery.order], delivery.margin)
    plants = p.most_ordered({o: network.orders[o].order.quantity * (1 + asked[o]) for o in sorted(asked)})
    products = {network.flows[f].sold_as.product: network.flows[f].sold_as for f in flows}
    plants += sum(product.salvage_most for product in products.values())
    dearest = max(
        1 / (join.match * join.take * network.flows[join.flow].survival * wave.usable) for join in joins
    )
    return float(ceil(plants * (1 + p.largest_margins[w]) * dearest))


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


GROUPS = (buy_in_quantity, waves_sown, stock, packs, packs_out)
