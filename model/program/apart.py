"""Constraint groups of plants kept apart: groups in zones and at the table by day, orders of one lot."""

from __future__ import annotations

from collections import defaultdict
from math import ceil

from model.network.groups import Group, joins_of, lots_of, ordered_by
from model.program.amounts import Key, LoadStay
from model.program.apart_sets import GroupInFlow
from model.program.buying import most_trays
from model.program.index_sets import Coefs, Row, Rows
from model.program.program import Program
from model.scenario.choices import GroupBy, MethodKind


def groups_in_flows(p: Program) -> Rows:
    """A flow draws on waves of a group, or serves its customer, only where it holds plants of the group.

    Σ_{joins of a} y / μ + Σ_{waves of a} K[p,w,g] ≤ most seedlings[p,g] · F[a,p,g]
    Σ_{orders of a} d[p,g,o] ≤ Σ_{orders of a} quantity[o] · F[a,p,g]      where a is a customer
    for each group a and flow from today
    """
    network = p.network
    rows: Rows = {}
    most = _most_seedlings(p)
    for n, (group, f) in enumerate(p.apart.carried):
        if n in p.settled.get("carried", {}):
            continue
        if group.by is GroupBy.CUSTOMER:
            of = [i for i in p.serves[f] if ordered_by(network, group, network.deliveries[i].order)]
            coefs: Coefs = {("delivered", i): 1.0 for i in of}
            orders = (network.deliveries[i].order for i in of)
            limit = p.most_ordered({o: float(network.orders[o].order.quantity) for o in orders})
        else:
            coefs, limit = dict(drawn_on(p, group, f)), most[f]
        rows[p.labels["carried"][n]] = Row(coefs | {("carried", n): -limit}, None, 0.0)
    return rows


def drawn_on(p: Program, group: Group, f: int) -> Coefs:
    """Seedlings of a group that a flow draws on, spare ones included; the group is no customer.

    Σ_{joins of a} y / μ + Σ_{waves of a} K[p,w,g]
    """
    network = p.network
    lots = lots_of(network.scenario, group)
    coefs: Coefs = {("joins", j): 1 / join.match for j, join in joins_of(network, group, f)}
    for i in p.apart.spares[f]:
        inside = network.waves[network.spares[i].wave].lot.lot in lots
        if inside or group.by is GroupBy.CROP:
            coefs["spare", i] = 1.0
    return coefs


def _most_seedlings(p: Program) -> dict[int, float]:
    """Most seedlings that a flow draws on in a plan of least cost, spare ones of both sides included.

    (Σ quantity · (1 + m) of its orders + salvage_most) · (1 + Σ ε₁ of its sides) / the least μ · τ · φ
    """
    network = p.network
    margins: dict[int, float] = defaultdict(float)
    for reserve in network.reserves:
        margins[reserve.flow] += reserve.most
    found = {}
    for f in {f for _, f in p.apart.carried}:
        flow = network.flows[f]
        served = (network.deliveries[i] for i in p.serves[f])
        asked = {of.order: network.orders[of.order].order.quantity * (1 + of.margin) for of in served}
        plants = p.most_ordered(asked, float(flow.sold_as.salvage_most))
        joins = [network.joins[j] for j in network.flow_joins[f]]
        worst = min(join.match * join.take for join in joins) * flow.survival
        found[f] = plants * (1 + margins[f]) / worst
    return found


def groups_in_places(p: Program) -> Rows:
    """Plants of a group are only where the group is admitted.

    x[w] − Σ X[w,z′] elsewhere ≤ most trays[w] · E[a,z,t], likewise r[w,k] and X[w,z]
    for waves of a that stand in z on t; elsewhere: in further zones, where z is the lot's own
    F[a,p,g] ≤ E[a,z,t]      for flows that stand in z, or are joined at the table z, on t
    d ≤ quantity[o] · (1 + E[a,z,t] − F[a,p,g])      for plants of a flow held in z on t
    d ≤ quantity[o] · E[a,z,t], likewise b      for plants held for customer a, and bought ones of crop a
    """
    network = p.network
    rows: Rows = {}
    carried = {index: n for n, index in enumerate(p.apart.carried)}
    admitted = {index: n for n, index in enumerate(p.apart.admitted)}
    trays: dict[int, float] = {}
    for present in p.apart.present:
        for t in range(max(present.start, p.network.past.today), present.end):
            n = admitted.get(present.on(t))
            if n is None:
                continue
            given: Key = ("admitted", n)
            label = p.labels["admitted"][n]
            if present.key is None:
                assert present.flow is not None
                m = carried[GroupInFlow(present.group, present.flow)]
                if m in p.settled.get("carried", {}):
                    continue
                rows[*label, "carried", m] = Row({("carried", m): 1.0, given: -1.0}, None, 0.0)
                continue
            variable, i = present.key
            if i in p.settled.get(variable, {}):
                continue
            if variable in ("sown", "left", "sown_into"):
                w = p.apart.wave_of(present.key)
                if w not in trays:
                    trays[w] = most_trays(p, w)
                there: Coefs = {present.key: 1.0, given: -trays[w]}
                if variable == "sown":
                    away = p.apart.elsewhere.get((w, present.zone or ""), [])
                    there |= {("sown_into", m): -1.0 for m, days in away if t in days}
                rows[*label, *present.key] = Row(there, None, 0.0)
                continue
            of = network.deliveries if variable == "delivered" else network.buy_ins
            quantity = float(network.orders[of[i].order].order.quantity)
            coefs: Coefs = {present.key: 1.0, given: -quantity}
            if present.flow is not None:
                coefs["carried", carried[GroupInFlow(present.group, present.flow)]] = quantity
            rows[*label, *present.key] = Row(coefs, None, quantity if present.flow is not None else 0.0)
    return rows


def groups_apart(p: Program) -> Rows:
    """Of two groups kept apart, one at most is admitted to a place, days of cleaning included.

    E[a,z,t] + E[b,z,t′] ≤ 1      for each rule, z that they may not share, |t − t′| ≤ its cleaning days
    unless both were there before today
    """
    index = {each: n for n, each in enumerate(p.apart.admitted)}
    today, labels = p.network.past.today, p.labels["admitted"]
    rows: Rows = {}
    for one, other in p.apart.clashes:
        n, m = index[one], index[other]
        if max(one.day, other.day) >= today:
            rows[*labels[n], *labels[m]] = Row({("admitted", n): 1.0, ("admitted", m): 1.0}, None, 1.0)
    return rows


def units_apart(p: Program) -> Rows:
    """A flow that holds plants of a group is not loaded into units that are not for the group.

    Σ_{e, A of a} L[p,g,i,e,A] ≤ most trays[p,g,i] · (1 − F[a,p,g])
    for each group a, stay i of a flow from today that may hold a; A: the groups that units are not for
    """
    rows: Rows = {}
    stays, carried = p.amounts.load_stays, {index: n for n, index in enumerate(p.apart.carried)}
    most = _most_seedlings(p) if p.apart.barred else {}
    for (index, stay), loads in p.apart.barred.items():
        trays = _trays_of_seedlings(p, stays[stay]) * most[index.flow]
        if index.flow in p.network.in_whole_trays:
            trays = float(ceil(trays))
        coefs: Coefs = {("in_unit", n): 1.0 for n in loads}
        coefs["carried", carried[index]] = trays
        label = index.group.by.value, index.group.name, *p.stay_labels[stay]
        rows[label] = Row(coefs, None, trays)
    return rows


def _trays_of_seedlings(p: Program, load: LoadStay) -> float:
    """Most trays of a stay that a seedling drawn on takes.

    The largest μ / (cells or μ · usable[w]) in healing, or μ · τ / cells where trays are consolidated.
    """
    network = p.network
    flow = network.flows[load.flow]
    joins = [network.joins[j] for j in network.flow_joins[load.flow]]
    if load.key[0] in ("healed", "finishing"):
        return max(join.match * join.take for join in joins) / flow.tray.cells
    if flow.method.kind is MethodKind.ROOT_CUT:
        return max(join.match for join in joins) / flow.tray.cells * load.trays
    return max(1 / network.waves[join.waves[0]].usable for join in joins) * load.trays


def one_lot(p: Program) -> Rows:
    """An order of one lot may come from one lot of the scion and one of the rootstock.

    Σ_ℓ Z[o,ℓ] ≤ 1      for each order o of one lot, on each side
    """
    sums: dict[tuple[str, str], Coefs] = defaultdict(dict)
    for n, (order, side, _) in enumerate(p.labels["lot_chosen"]):
        sums[order, side]["lot_chosen", n] = 1.0
    return {label: Row(coefs, None, 1.0) for label, coefs in sums.items()}


def plants_of_one_lot(p: Program) -> Rows:
    """An order of one lot is served by flows that hold no other lot.

    d[p,g,o] ≤ quantity[o] · (1 + Z[o,ℓ] − F[ℓ,p,g])      for each lot ℓ of either side
    for each flow that may draw on ℓ and serve o
    """
    network, labels = p.network, p.labels
    rows: Rows = {}
    carried = {index: n for n, index in enumerate(p.apart.carried)}
    settled = p.settled.get("delivered", {})
    of: dict[int, list[int]] = defaultdict(list)
    for i, delivery in enumerate(network.deliveries):
        of[delivery.order].append(i)
    for n, index in enumerate(p.apart.lots_of_orders):
        quantity = float(network.orders[index.order].order.quantity)
        for i in of[index.order]:
            m = carried.get(GroupInFlow(Group(GroupBy.LOT, index.lot), network.deliveries[i].flow))
            if m is not None and i not in settled:
                coefs: Coefs = {("delivered", i): 1.0, ("lot_chosen", n): -quantity, ("carried", m): quantity}
                rows[*labels["lot_chosen"][n], *labels["delivered"][i]] = Row(coefs, None, quantity)
    return rows


GROUPS = (groups_in_flows, groups_in_places, groups_apart, units_apart, one_lot, plants_of_one_lot)
