"""Constraint groups of growing: seedlings, trays, joins, healing and the use of the plants."""

from __future__ import annotations

from collections import defaultdict

from model.network.types import Reserve
from model.program.index_sets import Coefs, IndexSets, Label, Row, Rows
from model.program.program import Program
from model.scenario.choices import MethodKind


def seedlings(p: Program) -> Rows:
    """Joins draw no more seedlings from a wave than it has.

    Σ_{joins drawing on w} y / μ + Σ_{flows} K[p,w,g] ≤ κ[w] · x[w]      for each wave w
    """
    joins = p.network.joins
    rows: Rows = {}
    for w, wave in enumerate(p.network.waves):
        coefs: Coefs = {("joins", j): 1 / joins[j].match for j in p.network.draws[w]}
        coefs |= {("spare", i): 1.0 for i in p.network.wave_spares[w]}
        coefs["sown", w] = -wave.usable
        rows[p.wave_labels[w]] = Row(coefs, None, 0.0)
    return rows


def bench_trays(p: Program) -> Rows:
    """Trays left on the bench hold the seedlings still to be drawn.

    Σ_{after the k-th draw day of w} (y / μ + K) ≤ κ[w] · r[w,k]      for each w, k
    """
    joins, flows, spares = p.network.joins, p.network.flows, p.network.spares
    rows: Rows = {}
    for k, left in enumerate(p.amounts.left):
        wave = p.network.waves[left.wave]
        coefs: Coefs = {
            ("joins", j): 1 / joins[j].match
            for j in p.network.draws[left.wave]
            if flows[joins[j].flow].graft > left.start
        }
        later = [i for i in p.network.wave_spares[left.wave] if flows[spares[i].flow].graft > left.start]
        coefs |= {("spare", i): 1.0 for i in later}
        coefs["left", k] = -wave.usable
        rows[*p.wave_labels[left.wave], p.iso(left.start)] = Row(coefs, None, 0.0)
    return rows


def trays_elsewhere(p: Program) -> Rows:
    """No more trays of a wave germinate in further zones than are sown.

    Σ_z X[w,z] ≤ x[w]      for each wave w that further zones are open to
    """
    rows: Rows = {}
    for n, place in enumerate(p.amounts.sown_into):
        label = p.wave_labels[place.wave]
        row = rows.setdefault(label, Row({("sown", place.wave): -1.0}, None, 0.0))
        row.coefs["sown_into", n] = 1.0
    return rows


def flow_joins(p: Program) -> Rows:
    """The joins of a flow are the sum over its pairs of waves.

    J[p,g] = Σ y
    """
    return {
        p.flow_labels[f]: Row({("grafted", f): -1.0} | {("joins", j): 1.0 for j in joins}, 0.0, 0.0)
        for f, joins in enumerate(p.network.flow_joins)
    }


def flow_trays(p: Program) -> Rows:
    """Trays that a flow loads.

    T[p,g] ≥ Σ (y / μ + K) / κ[w]    on-tray: the rootstock's own trays, blanks and all
    T[p,g] ≥ Σ y / cells(final)      root-cut: each join stuck into a fresh cell
    T[p,g] ≥ Σ (y + K) / κ[v]        own-root: the trays as sown
    T[p,g] ≥ Σ y / plants · ⌈plants / cells(final)⌉    plants on hand, but root-cut: the trays that they fill
    """
    rows: Rows = {}
    kept = spare_trays(p)
    for f in range(len(p.network.flows)):
        coefs: Coefs = {("loaded", f): -1.0}
        coefs |= {("joins", j): 1 / p.network.joins_a_tray(j) for j in p.network.flow_joins[f]}
        coefs |= kept.get(f, {})
        rows[p.flow_labels[f]] = Row(coefs, None, 0.0)
    return rows


def whole_trays_loaded(p: Program) -> Rows:
    """Trays that a flow loads, where they are whole ones.

    T[p,g] = T′[p,g]      for each flow from today of whose product some order leaves in whole trays
    """
    return {
        p.flow_labels[f]: Row({("loaded", f): 1.0, ("whole_loaded", f): -1.0}, 0.0, 0.0)
        for f in sorted(p.network.in_whole_trays)
    }


def whole_trays_finishing(p: Program) -> Rows:
    """Consolidated trays of a flow in finishing, where they are whole ones.

    H[p,g] / cells(final) ≤ C[p,g]      for each flow from today, consolidated after healing,
    of whose product some order leaves in whole trays
    """
    flows = p.network.flows
    return {
        p.flow_labels[f]: Row({("healed", f): 1 / flows[f].tray.cells, ("finishing", f): -1.0}, None, 0.0)
        for f in sorted(p.network.in_whole_trays)
        if flows[f].method.consolidate
    }


def spare_trays(p: IndexSets) -> dict[int, Coefs]:
    """Trays of spare seedlings that a flow loads, by its index: on-tray rootstocks, own-root scions."""
    kept: dict[int, Coefs] = defaultdict(dict)
    for i, spare in enumerate(p.network.spares):
        flow = p.network.flows[spare.flow]
        if spare.rootstock is flow.grafted and flow.method.kind is not MethodKind.ROOT_CUT:
            kept[spare.flow]["spare", i] = 1 / p.network.waves[spare.wave].usable
    return kept


def spare_seedlings(p: Program) -> Rows:
    """Each flow keeps the spare seedlings that its orders need.

    ε₀ · Σ y / μ + Σ_o (ε[o] − ε₀) · d · (1 + m[o]) / best − (ε₁ − ε₀) · Σ_{certain} y / μ ≤ Σ_w K[p,w,g]
    for each flow that may serve an order with a margin, on each side
    """
    rows: Rows = {}
    for reserve in p.network.reserves:
        coefs: Coefs = {("spare", i): -1.0 for i in reserve.spares}
        for share, joins in ((reserve.least, reserve.joins), (reserve.least - reserve.most, reserve.certain)):
            coefs |= {("joins", j): share / p.network.joins[j].match for j in joins if share}
        for i, margin in reserve.margins.items():
            if margin > reserve.least:
                held = 1 + p.network.deliveries[i].margin
                coefs["delivered", i] = (margin - reserve.least) * held / reserve.best
        rows[reserve_label(p, reserve)] = Row(coefs, None, 0.0)
    return rows


def reserve_label(p: IndexSets, reserve: Reserve) -> Label:
    """Product, graft day and side of a reserve."""
    return (*p.flow_labels[reserve.flow], "rootstock" if reserve.rootstock else "scion")


def flow_healed(p: Program) -> Rows:
    """The healed plants of a flow are its joins times their take.

    H[p,g] = Σ y · τ
    """
    joins = p.network.joins
    return {
        p.flow_labels[f]: Row({("healed", f): -1.0} | {("joins", j): joins[j].take for j in own}, 0.0, 0.0)
        for f, own in enumerate(p.network.flow_joins)
    }


def take(p: Program) -> Rows:
    """The finished plants of a flow cover its deliveries with their margin; the rest is surplus.

    Σ_o d[p,g,o] · (1 + m[o]) + u[p,g] = H[p,g] · φ      for each flow (p,g)
    """
    coefs: list[Coefs] = [
        {("surplus", f): 1.0, ("healed", f): -flow.survival} for f, flow in enumerate(p.network.flows)
    ]
    for i, delivery in enumerate(p.network.deliveries):
        coefs[delivery.flow]["delivered", i] = 1 + delivery.margin
    return {p.flow_labels[f]: Row(row, 0.0, 0.0) for f, row in enumerate(coefs)}


def day_share(p: Program) -> Rows:
    """No more than its share of an order comes from one graft day.

    Σ_p d[p,g,o] ≤ most share[o] · quantity[o]
    for each graft day g from today and order o with a most share
    """
    coefs: dict[tuple[int, int], Coefs] = defaultdict(dict)
    for i, delivery in enumerate(p.network.deliveries):
        graft = p.network.flows[delivery.flow].graft
        if p.network.orders[delivery.order].of_one_day is not None and graft >= p.network.past.today:
            coefs[delivery.order, graft]["delivered", i] = 1.0
    orders = p.network.orders
    return {
        (orders[o].order.order, p.iso(graft)): Row(row, None, orders[o].of_one_day)
        for (o, graft), row in coefs.items()
    }


def parts_of_lots(p: Program) -> Rows:
    """Plants delivered to an order spread over lots are of some lots.

    Σ_{k,ℓ} Q[p,g,o,k,ℓ] = d[p,g,o]      for each flow from today and order o with a most share of one lot
    """
    coefs: dict[int, Coefs] = {}
    for n, part in enumerate(p.lot_parts):
        coefs.setdefault(part.delivery, {("delivered", part.delivery): -1.0})["from_lots", n] = 1.0
    return {p.labels["delivered"][i]: Row(row, 0.0, 0.0) for i, row in coefs.items()}


def lot_share(p: Program) -> Rows:
    """No more than its share of an order comes from one seed lot, of the scion or of the rootstock.

    Σ_{p,g} Σ_{pairs with the lot} Q[p,g,o,k,ℓ] ≤ most share[o] · quantity[o]
    for each lot and order o with a most share of one lot
    """
    coefs: dict[tuple[int, str], Coefs] = defaultdict(dict)
    for n, part in enumerate(p.lot_parts):
        for lot in filter(None, (part.rootstock, part.scion)):
            coefs[p.network.deliveries[part.delivery].order, lot]["from_lots", n] = 1.0
    orders = p.network.orders
    return {
        (orders[o].order.order, lot): Row(row, None, orders[o].of_one_lot) for (o, lot), row in coefs.items()
    }


def plants_of_lots(p: Program) -> Rows:
    """A pair of lots gives orders spread over lots no more plants, with their margin, than it finishes.

    Σ_o Q[p,g,o,k,ℓ] · (1 + m[o]) ≤ Σ_{joins of k and ℓ} y · τ · φ      for each flow and pair of lots
    """
    network = p.network
    coefs: dict[tuple[int, str | None, str], Coefs] = {}
    for n, part in enumerate(p.lot_parts):
        f, margin = network.deliveries[part.delivery].flow, network.deliveries[part.delivery].margin
        lots = part.rootstock, part.scion
        if (f, *lots) not in coefs:
            survival = network.flows[f].survival
            coefs[f, *lots] = {
                ("joins", j): -network.joins[j].take * survival for j in p.joins_of_lots[f][lots]
            }
        coefs[f, *lots]["from_lots", n] = 1 + margin
    return {(*p.flow_labels[f], *lots): Row(row, None, 0.0) for (f, *lots), row in coefs.items()}


def salvage(p: Program) -> Rows:
    """Plants sold at the salvage price come from the surplus; ``salvage_most`` bounds the variable.

    z[p] ≤ Σ_g u[p,g],  z[p] ≤ salvage_most      for each product p
    """
    return {
        (product.product,): Row({("sold", n): 1.0} | {("surplus", f): -1.0 for f in flows}, None, 0.0)
        for n, (product, flows) in enumerate(p.salvaged)
    }


def order(p: Program) -> Rows:
    """Every ordered plant is grown, bought in, short or, if the order allows, declined.

    Σ_{p,g} d[p,g,o] + Σ_{f,t} b[f,t,o] + s[o] + c[o] · D[o] + quantity[o] · W[o] = quantity[o]
    for each order o
    """
    coefs: list[Coefs] = [{("short", o): 1.0} for o in range(len(p.network.orders))]
    for i, delivery in enumerate(p.network.deliveries):
        coefs[delivery.order]["delivered", i] = 1.0
    for i, buy_in in enumerate(p.network.buy_ins):
        coefs[buy_in.order]["bought", i] = 1.0
    quantities = [float(term.order.quantity) for term in p.network.orders]
    for key, o, plants in p.declined:
        coefs[o][key] = plants
    return {
        (term.order.order,): Row(row, quantity, quantity)
        for term, row, quantity in zip(p.network.orders, coefs, quantities, strict=True)
    }


GROUPS = (
    seedlings,
    bench_trays,
    trays_elsewhere,
    flow_joins,
    flow_trays,
    whole_trays_loaded,
    whole_trays_finishing,
    spare_seedlings,
    flow_healed,
    take,
    day_share,
    parts_of_lots,
    lot_share,
    plants_of_lots,
    salvage,
    order,
)
