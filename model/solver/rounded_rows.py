"""Rows that follow from rounding what a run of orders needs to whole trays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from model.program.program import Program
from model.solver.compiled import Compiled, Floats
from model.solver.strong_row import BROKEN, Entry, StrongRow, matrix_of

LONGEST = 24
"""Most orders in a run of orders, and most graft days in a run of graft days."""


@dataclass(frozen=True, slots=True)
class _Demand:
    """An order's plants with margins, a demand on the waves of a variety in reach; ways to do without."""

    order: int
    due: int
    plants: float
    reach: frozenset[int]
    without: tuple[Entry, ...]


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
    most = _most_plants(program)
    demands = _demands(program, compiled, most)
    yield from _whole_trays(compiled, most, demands)


def _most_plants(program: Program) -> dict[tuple[int, int], float]:
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


def _demands(
    program: Program, compiled: Compiled, most: dict[tuple[int, int], float]
) -> dict[tuple[int, str], list[_Demand]]:
    """Demands on the scions (role 0) and on the rootstocks (role 1) of each variety, by due day."""
    network, position = program.network, compiled.position
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
    without: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for o in flows:
        without[o].append((int(position["short"][o]), 1.0))
    for i, buy_in in enumerate(network.buy_ins):
        without[buy_in.order].append((int(position["bought"][i]), 1.0))
    for (name, n), o, plants in program.declined:
        without[o].append((int(position[name][n]), plants))
    found: dict[tuple[int, str], list[_Demand]] = defaultdict(list)
    for o, own in sorted(flows.items()):
        term = network.orders[o]
        for role, variety in enumerate((term.product.scion, term.product.rootstock)):
            if variety is not None:
                share = shares[o, role]
                ways = tuple(Entry(column, share * plants) for column, plants in without[o] if column >= 0)
                reach = frozenset().union(*(feeding[f, role] for f in own))
                found[role, variety].append(_Demand(o, term.due, term.order.quantity * share, reach, ways))
    return {
        key: sorted(demands, key=lambda d: (d.due, d.order))
        for key, demands in sorted(found.items(), key=lambda item: item[0])
    }


def _whole_trays(
    compiled: Compiled, most: dict[tuple[int, int], float], demands: dict[tuple[int, str], list[_Demand]]
) -> Iterator[StrongRow]:
    """A run of orders, neighbours by due day, needs whole trays of the waves that can reach one of them.

    Σ_{w in reach} min(1, e[w] / (e · f)) · x[w] + Σ (1 + m) / (e · f) · (b + s + D + quantity · W) ≥ ⌈r⌉

    with r = Σ quantity · (1 + m) / e over the run, f what r has beyond a whole number, e the largest e[w].
    """
    position = compiled.position["sown"]
    fixed = compiled.lower == compiled.upper
    family = 0
    for (role, _), own in demands.items():
        for start in range(len(own)):
            family += 1
            reach: set[int] = set()
            plants, ways = 0.0, list[Entry]()
            for demand in own[start : start + LONGEST]:
                if reach and reach.isdisjoint(demand.reach):
                    break
                reach |= demand.reach
                plants += demand.plants
                ways = [*ways, *demand.without]
                row = _rounded(
                    [Entry(int(position[w]), most[role, w]) for w in sorted(reach)],
                    ways,
                    plants,
                    compiled.lower,
                    fixed,
                )
                if row is not None:
                    yield StrongRow(*row, family)


def _rounded(
    trays: list[Entry], ways: list[Entry], plants: float, lower: Floats, fixed: NDArray[np.bool_]
) -> tuple[list[Entry], float] | None:
    """The rounding of Σ e · x + ways ≥ plants; None where it gains nothing. Settled trays are a constant."""
    largest = max(coef for _, coef in trays)
    wanted = plants - sum(coef * float(lower[column]) for column, coef in trays if fixed[column])
    needed = wanted / largest
    part = needed - floor(needed)
    if needed <= 0 or not 0.02 < part < 0.999:
        return None
    entries = [Entry(k, min(1.0, coef / (largest * part))) for k, coef in trays if not fixed[k]]
    entries += [Entry(k, coef / (largest * part)) for k, coef in ways]
    return entries, float(ceil(needed))
