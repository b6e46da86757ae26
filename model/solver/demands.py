"""What orders ask of waves, of units and of bays, with the ways to do without it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import TypeVar

from model.network.types import OrderTerms
from model.program.amounts import Key, Standing
from model.program.index_sets import BaysInWeek
from model.program.program import Program
from model.solver.compiled import Compiled
from model.solver.strong import Entry

Ways = Mapping[int, list[Entry]]
"""For each order the columns that do without its plants, with the plants per unit."""

Group = TypeVar("Group", tuple[int, str], tuple[str, int], str)


@dataclass(frozen=True, slots=True)
class Demand:
    """What an order asks of the waves of a variety, or of the units or bays of a zone, that are in reach.

    ``amount``: its plants with margins, or the slots that they take; ``without``: ways to ask for less.
    """

    order: int
    due: int
    amount: float
    reach: frozenset[int]
    without: tuple[Entry, ...]


def most_plants(program: Program) -> dict[tuple[int, int], float]:
    """e[w]: the most plants that a tray of a wave can become, by role (scion 0, rootstock 1) and wave."""
    network = program.network
    most: dict[tuple[int, int], float] = defaultdict(float)
    for join in network.joins:
        share = join.match * join.take * network.flows[join.flow].survival
        for role, w in enumerate((join.scion, join.rootstock)):
            if w is not None:
                most[role, w] = max(most[role, w], share * network.waves[w].usable)
    return most


def _spare_plants(program: Program, most: dict[tuple[int, int], float]) -> dict[tuple[int, int], float]:
    """For a delivery's plant by role, the spare seedlings that it needs at least, as plants.

    A spare seedling counts as the most plants that it could become in the wave where that is least.
    """
    network = program.network
    found = {}
    for reserve in network.reserves:
        if reserve.certain:
            continue
        role = int(reserve.rootstock)
        waves = [network.spares[i].wave for i in reserve.spares]
        each = min(most[role, w] / network.waves[w].usable for w in waves)
        for i, margin in reserve.margins.items():
            found[i, role] = each * margin * (1 + network.deliveries[i].margin) / reserve.best
    return found


def wave_demands(
    program: Program, without: Ways, most: dict[tuple[int, int], float]
) -> dict[tuple[int, str], list[Demand]]:
    """Demands on the scions (role 0) and on the rootstocks (role 1) of each variety, by due day."""
    network = program.network
    feeding: dict[tuple[int, int], set[int]] = defaultdict(set)
    for join in network.joins:
        feeding[join.flow, 0].add(join.scion)
        if join.rootstock is not None:
            feeding[join.flow, 1].add(join.rootstock)
    flows: dict[int, set[int]] = defaultdict(set)
    shares: dict[tuple[int, int], float] = {}
    spare = _spare_plants(program, most)
    for i, delivery in enumerate(network.deliveries):
        flows[delivery.order].add(delivery.flow)
        for role in (0, 1):
            at, share = (delivery.order, role), 1 + delivery.margin + spare.get((i, role), 0.0)
            shares[at] = min(shares.get(at, share), share)
    found: dict[tuple[int, str], list[Demand]] = defaultdict(list)
    for o, own in sorted(flows.items()):
        term = network.orders[o]
        for role, variety in enumerate((term.product.scion, term.product.rootstock)):
            if variety is not None:
                share = shares[o, role]
                reach = frozenset().union(*(feeding[f, role] for f in own))
                found[role, variety].append(_demand(term, o, share, reach, without[o]))
    return _by_due_day(found)


def unit_demands(program: Program, without: Ways) -> dict[str, list[Demand]]:
    """Demands on the slots of units of each zone, by due day; reach: batches that could be opened.

    Only orders count whose flows all stay in the zone; of several stays in it the first one.
    """
    network, amounts = program.network, program.amounts
    stays: dict[tuple[int, str], int] = {}
    for n, load in enumerate(amounts.load_stays):
        stays.setdefault((load.flow, load.stay.zone), n)
    batches: dict[int, set[int]] = defaultdict(set)
    for entry in amounts.loads:
        batches[entry.stay].add(entry.batch)
    by_order: dict[int, list[int]] = defaultdict(list)
    for i, delivery in enumerate(network.deliveries):
        by_order[delivery.order].append(i)
    found: dict[str, list[Demand]] = defaultdict(list)
    for zone in sorted({zone for _, zone in stays}):
        for o, own in sorted(by_order.items()):
            at = [stays.get((network.deliveries[i].flow, zone)) for i in own]
            there = [n for n in at if n is not None]
            if len(there) < len(own):
                continue
            held = (1 + network.deliveries[i].margin for i in own)
            loads = [amounts.load_stays[n] for n in there]
            share = min(
                m * _slots_a_plant(program, load.flow, load.key[0], load.trays * load.slots)
                for m, load in zip(held, loads, strict=True)
            )
            reach = frozenset().union(*(batches[n] for n in there))
            found[zone].append(_demand(network.orders[o], o, share, reach, without[o]))
    return _by_due_day(found)


def bay_demands(program: Program, without: Ways) -> dict[tuple[str, int], list[Demand]]:
    """Demands on the bays of each zone and weekday (0 to 6), by due day; reach: indices of bays open.

    Only orders count all of whose plants stand in the zone on that weekday in a week in which a bay costs;
    where they do so in several weeks, in the first.
    """
    network, at = program.network, {index: n for n, index in enumerate(program.bay_weeks)}
    spells: dict[Key, list[Standing]] = defaultdict(list)
    for s in program.amounts.standing if at else ():
        spells[s.key].append(s)
    by_order: dict[int, list[int]] = defaultdict(list)
    for i, delivery in enumerate(network.deliveries):
        by_order[delivery.order].append(i)
    found: dict[tuple[str, int], list[Demand]] = defaultdict(list)
    for zone, weekday in product(sorted({index.zone for index in at}), range(7)):
        for o, own in sorted(by_order.items()):
            firsts = [_first_in_bays(program, spells, i, zone, weekday, at) for i in own]
            there = [first for first in firsts if first is not None]
            if len(there) == len(own):
                reach = frozenset(n for n, _ in there)
                share = min(slots for _, slots in there)
                found[zone, weekday].append(_demand(network.orders[o], o, share, reach, without[o]))
    return _by_due_day(found)


def _first_in_bays(
    program: Program,
    spells: Mapping[Key, list[Standing]],
    i: int,
    zone: str,
    weekday: int,
    at: Mapping[BaysInWeek, int],
) -> tuple[int, float] | None:
    """Where a plant of a delivery first stands in paid bays on a weekday: index of bays open, slots.

    None where it may never do so.
    """
    network, delivery = program.network, program.network.deliveries[i]
    begin = network.calendar.first.weekday()
    own = ((name, delivery.flow) for name in ("loaded", "finishing", "healed"))
    keys: tuple[Key, ...] = (*own, ("delivered", i))
    for key in keys:
        for s in spells.get(key, ()):
            for t in range(s.start + (weekday - begin - s.start) % 7, s.end, 7):
                n = at.get(BaysInWeek(zone, program.week_of[t])) if s.zone == zone else None
                if n is not None:
                    if key[0] == "delivered":
                        return n, s.trays * s.slots
                    slots = _slots_a_plant(program, delivery.flow, key[0], s.trays * s.slots)
                    return n, (1 + delivery.margin) * slots
    return None


def _slots_a_plant(program: Program, f: int, variable: str, slots: float) -> float:
    """The fewest slots that a plant of flow f can take; ``slots``: per unit of the variable."""
    network, flow = program.network, program.network.flows[f]
    if variable == "healed":
        return slots / flow.survival
    if variable == "finishing":
        return slots / flow.tray.cells / flow.survival
    a_tray = max(network.joins_a_tray(j) * network.joins[j].take for j in network.flow_joins[f])
    return slots / (a_tray * flow.survival)


def ways_without(program: Program, compiled: Compiled) -> Ways:
    """Plants bought in, short or declined of each order that may be grown."""
    network, position = program.network, compiled.position
    columns = [(o, "short", o, 1.0) for o in range(len(network.orders))]
    columns += [(buy_in.order, "bought", i, 1.0) for i, buy_in in enumerate(network.buy_ins)]
    columns += [(o, name, n, plants) for (name, n), o, plants in program.declined]
    found: dict[int, list[Entry]] = defaultdict(list)
    for o, name, n, plants in columns:
        if position[name][n] >= 0:
            found[o].append(Entry(int(position[name][n]), plants))
    return found


def _demand(
    term: OrderTerms, order: int, share: float, reach: frozenset[int], without: Iterable[Entry]
) -> Demand:
    ways = tuple(Entry(column, share * plants) for column, plants in without)
    return Demand(order, term.due, term.order.quantity * share, reach, ways)


def _by_due_day(found: Mapping[Group, list[Demand]]) -> dict[Group, list[Demand]]:
    return {key: sorted(found[key], key=lambda d: (d.due, d.order)) for key in sorted(found)}
