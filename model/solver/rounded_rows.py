"""Rows that follow from rounding what a run of orders needs to whole trays, units, bays and packs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from math import ceil, floor

import numpy as np

from model.program.program import Program
from model.solver.compiled import Compiled, Floats
from model.solver.demands import (
    Demand,
    Ways,
    bay_demands,
    most_plants,
    unit_demands,
    wave_demands,
    ways_without,
)
from model.solver.strong import BROKEN, Entry, StrongRow, matrix_of

LONGEST = 24
"""Most orders in a run of orders."""

Rounded = tuple[list[Entry], float]
"""Entries of a row, and its least."""


class RoundedRows:
    """The rows that follow from rounding; they are made once."""

    def __init__(self, program: Program, compiled: Compiled) -> None:
        self._rows = list(_pool(program, compiled))
        self._matrix = matrix_of(self._rows, len(compiled.cost))
        self._least = np.array([row.least for row in self._rows])
        self._families = np.array([row.family for row in self._rows], dtype=np.intp)

    def broken(self, values: Floats) -> list[StrongRow]:
        """Of each family the row that these values of the columns break most."""
        broken = self._least - self._matrix @ values
        order = np.lexsort((np.arange(len(self._rows)), -broken))
        order = order[broken[order] > BROKEN]
        _, first = np.unique(self._families[order], return_index=True)
        return [self._rows[n] for n in np.sort(order[first]).tolist()]


def _pool(program: Program, compiled: Compiled) -> Iterator[StrongRow]:
    most, without = most_plants(program), ways_without(program, compiled)
    demands = wave_demands(program, without, most)
    trays, opened = compiled.position["sown"].tolist(), compiled.position["units_opened"].tolist()
    zones, batches = program.amounts.zones, program.amounts.batches
    units = {e: Entry(opened[e], zones[batch.zone].slots_each) for e, batch in enumerate(batches)}
    waves: dict[int, dict[int, Entry]] = {0: {}, 1: {}}
    for (role, w), plants in most.items():
        waves[role][w] = Entry(trays[w], plants)
    families = [_of_runs(compiled, own, waves[role]) for (role, _), own in demands.items()]
    families += [_of_runs(compiled, own, units) for own in unit_demands(program, without).values()]
    open_, days = compiled.position["bays_open"].tolist(), _weekdays(program)
    for (zone, weekday), own in bay_demands(program, without).items():
        size = program.amounts.bays[zone].slots
        bays = {n: Entry(open_[n], size[t]) for (n, day), t in days.items() if day == weekday}
        families.append(_of_runs(compiled, own, bays))
    families.append(_whole_packs(program, compiled, demands, most))
    families.append(_deliveries(program, compiled))
    families += [_whole_vehicles(program, compiled, without), _rides(program, compiled)]
    for n, family in enumerate(rows for group in families for rows in group):
        yield from (StrongRow(*row, n) for row in family)


def _weekdays(program: Program) -> dict[tuple[int, int], int]:
    """The day of each index of bays open and each weekday (0 to 6)."""
    first = program.network.calendar.first.weekday()
    return {
        (n, (first + t) % 7): t
        for n, index in enumerate(program.bay_weeks)
        for t in program.weeks[index.week].days
    }


def _of_runs(
    compiled: Compiled, demands: Sequence[Demand], counted: Mapping[int, Entry]
) -> Iterator[Iterator[Rounded]]:
    """For each order the rows of the runs that begin with it.

    ``counted``: column and size of each wave, or of each batch of units or week of bays, by its index.
    """
    reached = frozenset().union(*(demand.reach for demand in demands))
    settled = {
        n: counted[n].coef * float(compiled.lower[counted[n].column])
        for n in reached
        if compiled.lower[counted[n].column] == compiled.upper[counted[n].column]
    }
    for start in range(len(demands)):
        yield _whole_numbers(demands[start : start + LONGEST], counted, settled)


def _whole_numbers(
    demands: Sequence[Demand], counted: Mapping[int, Entry], settled: Mapping[int, float]
) -> Iterator[Rounded]:
    """A run of orders, neighbours by due day, needs whole trays of the waves that can reach one of them.

    Σ_{w in reach} min(1, e[w] / (e · f)) · x[w] + Σ (1 + m) / (e · f) · (b + s + D + quantity · W) ≥ ⌈r⌉

    with r = Σ quantity · (1 + m) / e over the run, f what r has beyond a whole number, e the largest e[w].
    Likewise whole bays of the weeks in which plants stand on a weekday; e is then their slots on that day.
    Likewise whole units of the batches that can be loaded with their plants; e is then their slots, and
    1 + m the slots that a plant takes. ``settled``: what those give of which the number is settled.
    """
    reach: set[int] = set()
    amount, ways = 0.0, list[Entry]()
    for demand in demands:
        if reach and reach.isdisjoint(demand.reach):
            return
        reach |= demand.reach
        amount += demand.amount
        ways = [*ways, *demand.without]
        there = sorted(reach)
        entries = [counted[n] for n in there if n not in settled]
        given = sum(settled[n] for n in there if n in settled)
        row = _rounded(entries, ways, amount - given, max((e.coef for e in entries), default=0.0))
        if row is not None:
            yield row


def _whole_packs(
    program: Program,
    compiled: Compiled,
    demands: Mapping[tuple[int, str], list[Demand]],
    most: Mapping[tuple[int, int], float],
) -> Iterator[Iterator[Rounded]]:
    """All orders of a variety need whole packs of its seed.

    Σ_sizes (n + min(1, a / f)) · P + Σ c · (1 + m) / (δ · f) · (b + s + D + quantity · W) ≥ ⌈r⌉

    for each size δ of a pack, with size / δ = n + a, n whole, r = (Σ c · quantity · (1 + m) − stock) / δ,
    f what r has beyond a whole number, and c the fewest seeds that a plant takes.
    """
    network, bought = program.network, compiled.position["packs_bought"].tolist()
    packs: dict[str, list[Entry]] = defaultdict(list)
    stock: dict[str, float] = defaultdict(float)
    variety = {lot.lot: lot.variety for lot in network.scenario.seed_lots}
    for n, pack in enumerate(program.packs):
        if pack.item in variety and bought[n] >= 0:
            packs[variety[pack.item]].append(Entry(bought[n], pack.size))
    for lot in network.scenario.seed_lots:
        stock[lot.variety] += lot.stock
    for name, sizes in sorted(packs.items()):
        seeds, ways = 0.0, list[Entry]()
        for role in (0, 1):
            for demand in demands.get((role, name), []):
                fewest = min(network.waves[w].seeds / most[role, w] for w in demand.reach)
                seeds += fewest * demand.amount
                ways += [Entry(k, fewest * coef) for k, coef in demand.without]
        needed = seeds - stock[name]
        for size in sorted({entry.coef for entry in sizes}):
            row = _rounded(sizes, ways, needed, size)
            if row is not None:
                yield iter([row])


def _deliveries(program: Program, compiled: Compiled) -> Iterator[Iterator[Rounded]]:
    """A delivery brings an order no more than its quantity, and nothing where it is not taken.

    b[f,t,o] ≤ quantity[o] · B[f,t]

    Deliveries ordered before today are settled and have no such row.
    """
    network, bought, taken = program.network, compiled.position["bought"], compiled.position["offer_taken"]
    for n, delivery in enumerate(program.offer_days):
        for i in delivery.buy_ins if taken[n] >= 0 else ():
            quantity = network.orders[network.buy_ins[i].order].order.quantity
            yield iter([([Entry(int(bought[i]), -1 / quantity), Entry(int(taken[n]), 1.0)], 0.0)])


def _whole_vehicles(program: Program, compiled: Compiled, without: Ways) -> Iterator[Iterator[Rounded]]:
    """The orders that are due with a run on a day need whole vehicles.

    V[n,t] + Σ k / (carries · f) · (s + D + quantity · W + d late + b late) ≥ ⌈r⌉

    with r = Σ k · quantity / carries, f what r has beyond a whole number, and k the fewest trays that a plant
    of the order takes. Plants bought in that ride take trays as those grown do.
    """
    network, vehicles = program.network, compiled.position["vehicles"].tolist()
    for n, on in enumerate(program.run_days):
        fewest: dict[int, float] = {}
        for (name, i), trays in on.trays.items():
            o = network.deliveries[i].order if name == "delivered" else network.buy_ins[i].order
            if network.orders[o].due == on.day:
                fewest[o] = min(fewest.get(o, trays), trays)
        grown = [(d.order, "delivered", i) for i, d in enumerate(network.deliveries) if d.order in fewest]
        bought = [(b.order, "bought", i) for i, b in enumerate(network.buy_ins) if b.order in fewest]
        late = [
            Entry(int(column), fewest[o])
            for o, name, i in (*grown, *bought)
            if (name, i) not in on.trays and (column := compiled.position[name][i]) >= 0
        ]
        buys = {int(compiled.position["bought"][i]) for _, _, i in bought}
        ways = [Entry(k, fewest[o] * coef) for o in fewest for k, coef in without.get(o, ()) if k not in buys]
        amount = sum(each * network.orders[o].order.quantity for o, each in fewest.items())
        row = _rounded([Entry(vehicles[n], float(on.run.trays))], [*ways, *late], amount, on.run.trays)
        if row is not None and vehicles[n] >= 0:
            yield iter([row])


def _rides(program: Program, compiled: Compiled) -> Iterator[Iterator[Rounded]]:
    """A run brings an order no more than its quantity, and nothing where no vehicle leaves.

    Σ d[p,g,o] + Σ b[f,t,o] ≤ quantity[o] · V[n,t]
    """
    network, vehicles = program.network, compiled.position["vehicles"].tolist()
    for n, on in enumerate(program.run_days):
        riding: dict[int, list[int]] = defaultdict(list)
        for name, i in on.trays:
            o = network.deliveries[i].order if name == "delivered" else network.buy_ins[i].order
            if (column := int(compiled.position[name][i])) >= 0:
                riding[o].append(column)
        for o, columns in riding.items() if vehicles[n] >= 0 else ():
            quantity = network.orders[o].order.quantity
            yield iter([([*(Entry(k, -1 / quantity) for k in columns), Entry(vehicles[n], 1.0)], 0.0)])


def _rounded(counted: list[Entry], ways: list[Entry], amount: float, divisor: float) -> Rounded | None:
    """The mixed-integer rounding of Σ e · x + ways ≥ amount, over the divisor.

    None where it gains nothing.
    """
    needed = amount / divisor if divisor > 0 else 0.0
    part = needed - floor(needed)
    if needed <= 0 or not 0.02 < part < 0.999:
        return None
    entries = [Entry(k, floor(coef / divisor) + min(1.0, coef / divisor % 1.0 / part)) for k, coef in counted]
    entries += [Entry(k, coef / (divisor * part)) for k, coef in ways]
    return entries, float(ceil(needed))
