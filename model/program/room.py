"""Constraint groups of zones: slots of pools, loads of units, bays opened whole and what they cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from model.program.index_sets import Coefs, Row, Rows
from model.program.program import Program
from model.scenario.choices import MethodKind


def slots(p: Program) -> Rows:
    """Trays standing in a pool fit into its slots.

    Σ_{trays standing in zone z on day t} trays · slots ≤ slots[z,t] + added modules · slots per module
    for each pool z, day t from today; the limit is never below what already stands there
    """
    zones = p.amounts.zones
    used: dict[tuple[str, int], Coefs] = defaultdict(lambda: defaultdict(float))
    for s in p.amounts.standing:
        if zones[s.zone].pool:
            for t in range(s.start, s.end):
                used[s.zone, t][s.key] += s.trays * s.slots
    rows: Rows = {}
    for zone, t in sorted(used):
        if t >= p.network.past.today:
            coefs = used[zone, t]
            rows[zone, p.iso(t)] = Row(coefs, None, max(zones[zone].amount[t], p.settled_part(coefs)))
    return rows


def unit_loads(p: Program) -> Rows:
    """Every stay in a zone run in units is loaded into a batch.

    Σ_e L[p,g,i,e] = trays of stay i of flow (p,g)
    """
    coefs: list[Coefs] = [{stay.key: -stay.trays} for stay in p.amounts.load_stays]
    for n, load in enumerate(p.amounts.loads):
        coefs[load.stay]["in_unit", n] = 1.0
    return {label: Row(row, 0.0, 0.0) for label, row in zip(p.stay_labels, coefs, strict=True)}


def unit_room(p: Program) -> Rows:
    """A batch holds no more trays than fit into the slots of its units.

    Σ_{p,g,i} L[p,g,i,e] · slots ≤ unit slots[z] · N[z,e]
    """
    batches, zones = p.amounts.batches, p.amounts.zones
    coefs: list[Coefs] = [
        {("units_opened", e): -zones[batch.zone].slots_each} for e, batch in enumerate(batches)
    ]
    for n, load in enumerate(p.amounts.loads):
        coefs[load.batch]["in_unit", n] = p.amounts.load_stays[load.stay].slots
    labels = p.labels["units_opened"]
    return {label: Row(row, None, 0.0) for label, row in zip(labels, coefs, strict=True)}


def units_busy(p: Program) -> Rows:
    """The units busy on a day are no more than the zone's units.

    Σ_{e busy on t} N[z,e] ≤ units[z,t] + added modules      for each day t from today
    """
    zones = p.amounts.zones
    busy: dict[tuple[str, int], Coefs] = defaultdict(dict)
    for e, batch in enumerate(p.amounts.batches):
        for t in range(max(batch.open, p.network.past.today), batch.shut):
            busy[batch.zone, t]["units_opened", e] = 1.0
    return {(zone, p.iso(t)): Row(busy[zone, t], None, zones[zone].amount[t]) for zone, t in sorted(busy)}


def parts_in_units(p: Program) -> Rows:
    """Plants delivered to an order spread over units are in some batch during each stay in units.

    Σ_e U[p,g,o,i,e] = d[p,g,o]      for each stay i in units and order o with a most share of one unit
    """
    coefs: dict[tuple[int, int], Coefs] = {}
    for n, part in enumerate(p.unit_parts):
        at = part.delivery, p.amounts.loads[part.load].stay
        coefs.setdefault(at, {("delivered", part.delivery): -1.0})["in_units", n] = 1.0
    return {
        (*p.stay_labels[stay], p.labels["delivered"][i][-1]): Row(row, 0.0, 0.0)
        for (i, stay), row in coefs.items()
    }


def unit_share(p: Program) -> Rows:
    """No more than its share of an order is in one unit; its plants are spread evenly over a batch's units.

    Σ_{p,g,i} U[p,g,o,i,e] ≤ most share[o] · quantity[o] · N[z,e]
    for each batch e and order o with a most share of one unit
    """
    network, amounts = p.network, p.amounts
    coefs: dict[tuple[int, int], Coefs] = {}
    for n, part in enumerate(p.unit_parts):
        o, e = network.deliveries[part.delivery].order, amounts.loads[part.load].batch
        if (o, e) not in coefs:
            coefs[o, e] = {("units_opened", e): -(network.orders[o].of_one_unit or 0.0)}
        coefs[o, e]["in_units", n] = 1.0
    rows: Rows = {}
    for (o, e), row in coefs.items():
        zone, opened, *others = p.labels["units_opened"][e]
        rows[network.orders[o].order.order, opened, zone, *others] = Row(row, None, 0.0)
    return rows


def plants_in_units(p: Program) -> Rows:
    """Trays loaded into a batch hold no more plants of orders spread over units than full trays would.

    Σ_o U[p,g,o,i,e] · (1 + m[o]) ≤ most plants of a tray[p,g,i] · L[p,g,i,e]
    for each stay i that may be loaded into several batches
    """
    network, amounts = p.network, p.amounts
    several = [0] * len(amounts.load_stays)
    for load in amounts.loads:
        several[load.stay] += 1
    coefs: dict[int, Coefs] = {}
    for n, part in enumerate(p.unit_parts):
        stay = amounts.loads[part.load].stay
        if several[stay] > 1:
            row = coefs.setdefault(part.load, {("in_unit", part.load): -_most_of_a_tray(p, stay)})
            row["in_units", n] = 1 + network.deliveries[part.delivery].margin
    return {p.labels["in_unit"][n]: Row(row, None, 0.0) for n, row in coefs.items()}


def _most_of_a_tray(p: Program, stay: int) -> float:
    """Most finished plants that a tray of a stay in units can become: cells, or those of its best joins."""
    load = p.amounts.load_stays[stay]
    flow = p.network.flows[load.flow]
    if load.key[0] in ("healed", "finishing"):
        return flow.survival * flow.tray.cells
    joins = [p.network.joins[j] for j in p.network.flow_joins[load.flow]]
    if flow.method.kind is MethodKind.ROOT_CUT:
        return max(join.take for join in joins) * flow.tray.cells * flow.survival
    usable = (p.network.waves[join.waves[0]].usable * join.match * join.take for join in joins)
    return max(usable) * flow.survival


def bay_room(p: Program) -> Rows:
    """Trays standing in a zone with bays fit into the bays that are open in the week.

    Σ_{trays standing in zone z on day t} trays · slots ≤ bay slots[z,t] · G[z,q]
    for each zone z with bays, day t of week q in which a bay costs something
    """
    at = {index: n for n, index in enumerate(p.bay_weeks)}
    rows: Rows = {}
    for (index, t), standing in p.in_bays.items():
        slots = p.amounts.bays[index.zone].slots[t]
        rows[index.zone, p.iso(t)] = Row({**standing, ("bays_open", at[index]): -slots}, None, 0.0)
    return rows


def bay_costs(p: Program) -> Iterator[tuple[str, Coefs]]:
    """Cost of the bays open in each zone that has bays."""
    coefs: dict[str, Coefs] = defaultdict(dict)
    for n, index in enumerate(p.bay_weeks):
        coefs[index.zone]["bays_open", n] = p.amounts.bays[index.zone].week_cost(p.weeks[index.week])
    yield from coefs.items()


GROUPS = (
    slots,
    unit_loads,
    unit_room,
    units_busy,
    parts_in_units,
    unit_share,
    plants_in_units,
    bay_room,
)
