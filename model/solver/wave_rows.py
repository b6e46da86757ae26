"""Rows for waves with a fixed cost: what a wave can give is bounded by what is asked of it, where it is open.

They are the (l, S) rows of lot sizing (Barany, Van Roy and Wolsey 1984, from memory) and what follows from
them where several waves feed a graft day. There are too many to list: those that an optimum breaks are found.

Rows for graft days with a least batch (``BatchRows``) bound what an order gets from one, where it is set up.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.program.program import Program
from model.solver.compiled import Compiled, Floats
from model.solver.strong import BROKEN, Entry, StrongRow

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class _Fed:
    """An order's deliveries by graft day, and the waves that feed them on one side.

    ``first`` and ``last``: for each wave, the first and the last of these deliveries that it may feed.
    """

    quantity: float
    delivered: Indices
    opened: Indices
    first: Indices
    last: Indices


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A wave on one side: its flows, the plants of its joins in each, and what may be asked of each.

    ``flow`` numbers the wave's flows from 0: of each join and each delivery.
    """

    opened: int
    surplus: Indices
    joins: Indices
    plants: Floats
    join_flow: Indices
    delivered: Indices
    held: Floats
    delivery_flow: Indices
    order: Indices
    asked: Floats
    """Plants with margins of each order, numbered from 0 as in ``order``."""


class WaveRows:
    """The rows of a program in which waves have a fixed cost; none where they have not."""

    def __init__(self, program: Program, compiled: Compiled) -> None:
        self._fed: list[_Fed] = []
        self._drawn: list[_Drawn] = []
        if program.opened_waves:
            self._fed = list(_fed(program, compiled))
            self._drawn = list(_drawn(program, compiled))

    def broken(self, values: Floats) -> list[StrongRow]:
        """Rows that these values of the columns break."""
        rows = [row for fed in self._fed if (row := _most_of_an_order(fed, values)) is not None]
        rows += [row for drawn in self._drawn if (row := _most_of_a_wave(drawn, values)) is not None]
        return rows


class BatchRows:
    """The rows of a program in which methods have a least batch: none where they have not.

    Σ_p d[p,g,o] ≤ quantity[o] · Y[m,g]      for each order, and graft day of a method that serves it

    for orders that ask for fewer joins than the least batch: without them a part of a batch would do. Of an
    order of which one is broken, all days' are added: the next day is often as cheap.
    """

    def __init__(self, program: Program, compiled: Compiled) -> None:
        network = program.network
        served: dict[tuple[int, int], list[int]] = defaultdict(list)
        for n, on in enumerate(program.batch_days):
            for i in (i for f in on.flows for i in program.serves[f]):
                if _fewest_joins(program, i) < on.least:
                    served[network.deliveries[i].order, n].append(i)
        delivered, opened = compiled.position["delivered"], compiled.position["batch_set_up"]
        self._served: dict[int, list[tuple[Indices, int, float]]] = defaultdict(list)
        for (o, n), own in sorted(served.items()):
            quantity = float(network.orders[o].order.quantity)
            self._served[o].append((delivered[own], int(opened[n]), quantity))

    def broken(self, values: Floats) -> list[StrongRow]:
        """Rows that these values of the columns break, and those of the same orders' other days."""
        return [
            StrongRow([Entry(opened, 1.0), *(Entry(k, -1 / quantity) for k in own.tolist())], 0.0)
            for rows in self._served.values()
            if any(values[own].sum() / quantity - values[opened] > BROKEN for own, opened, quantity in rows)
            for own, opened, quantity in rows
        ]


def _fewest_joins(program: Program, i: int) -> float:
    """Joins that a whole order asks of the flow that delivery ``i`` comes from, at its best take."""
    network = program.network
    delivery = network.deliveries[i]
    flow = network.flows[delivery.flow]
    best = max(network.joins[j].take for j in network.flow_joins[delivery.flow]) * flow.survival
    return network.orders[delivery.order].order.quantity * (1 + delivery.margin) / best


def _sides(program: Program) -> tuple[dict[tuple[int, int], set[int]], dict[tuple[int, int], list[int]]]:
    """Waves that feed a side of each flow, and joins that draw on a side of each wave.

    A wave on hand that serves no order has no fixed cost, and no column of its own for it.
    """
    feeding: dict[tuple[int, int], set[int]] = defaultdict(set)
    drawing: dict[tuple[int, int], list[int]] = defaultdict(list)
    for j, join in enumerate(program.network.joins):
        for role, w in enumerate((join.scion, join.rootstock)):
            if w is not None:
                feeding[join.flow, role].add(w)
                drawing[w, role].append(j)
    return feeding, drawing


def _fed(program: Program, compiled: Compiled) -> Iterator[_Fed]:
    network = program.network
    feeding, _ = _sides(program)
    own: dict[int, list[int]] = defaultdict(list)
    for i, delivery in enumerate(network.deliveries):
        own[delivery.order].append(i)
    delivered, opened = compiled.position["delivered"], compiled.position["wave_opened"]
    for o, deliveries in sorted(own.items()):
        deliveries.sort(key=lambda i: network.flows[network.deliveries[i].flow].graft)
        for role in (0, 1):
            reach: dict[int, list[int]] = defaultdict(list)
            for n, i in enumerate(deliveries):
                for w in sorted(feeding[network.deliveries[i].flow, role]):
                    reach[w].append(n)
            if reach and (opened[list(reach)] >= 0).all():
                yield _Fed(
                    float(network.orders[o].order.quantity),
                    delivered[deliveries],
                    opened[list(reach)],
                    np.array([min(days) for days in reach.values()]),
                    np.array([max(days) for days in reach.values()]),
                )


def _drawn(program: Program, compiled: Compiled) -> Iterator[_Drawn]:
    network = program.network
    _, drawing = _sides(program)
    of_flow: dict[int, list[int]] = defaultdict(list)
    for i, delivery in enumerate(network.deliveries):
        of_flow[delivery.flow].append(i)
    position = compiled.position
    for (w, _), joins in sorted(drawing.items()):
        if position["wave_opened"][w] < 0:
            continue
        flows = sorted({network.joins[j].flow for j in joins})
        number = {f: n for n, f in enumerate(flows)}
        deliveries = [i for f in flows for i in of_flow[f]]
        held = [1 + network.deliveries[i].margin for i in deliveries]
        asked: dict[int, float] = {}
        for i, share in zip(deliveries, held, strict=True):
            o = network.deliveries[i].order
            asked[o] = max(asked.get(o, 0.0), share * network.orders[o].order.quantity)
        at = {o: n for n, o in enumerate(asked)}
        yield _Drawn(
            int(position["wave_opened"][w]),
            position["surplus"][flows],
            position["joins"][joins],
            np.array([network.joins[j].take * network.flows[network.joins[j].flow].survival for j in joins]),
            np.array([number[network.joins[j].flow] for j in joins]),
            position["delivered"][deliveries],
            np.array(held),
            np.array([number[network.deliveries[i].flow] for i in deliveries], dtype=np.intp),
            np.array([at[network.deliveries[i].order] for i in deliveries], dtype=np.intp),
            np.array(list(asked.values())),
        )


def _most_of_an_order(fed: _Fed, values: Floats) -> StrongRow | None:
    """An order gets no more from a run of graft days than its quantity for each open wave that feeds them.

    Σ_{g in run} d[p,g,o] ≤ quantity[o] · Σ_{w feeds the run} O[w]

    for each order, each side and each run of its graft days; the run that the values break most is sought.
    """
    delivered, opened = values[fed.delivered], values[fed.opened]
    total = np.concatenate([[0.0], np.cumsum(delivered)])
    days = len(delivered)
    ended = np.concatenate([[0.0], np.cumsum(np.bincount(fed.last, opened, days))])[:-1]
    to_come = np.cumsum(np.bincount(fed.first, opened, days)[::-1])[::-1]
    begun = np.append(to_come[1:], 0.0)
    open_ = opened.sum() - ended[:, None] - begun[None, :]
    broken = (total[None, 1:] - total[:-1, None]) / fed.quantity - open_
    broken[np.tril_indices(days, -1)] = -np.inf
    start, end = np.unravel_index(int(np.argmax(broken)), broken.shape)
    if broken[start, end] <= BROKEN:
        return None
    feeds = (fed.last >= start) & (fed.first <= end)
    entries = [Entry(k, -1 / fed.quantity) for k in fed.delivered[start : end + 1].tolist()]
    return StrongRow([*entries, *(Entry(k, 1.0) for k in fed.opened[feeds].tolist())], 0.0)


def _most_of_a_wave(drawn: _Drawn, values: Floats) -> StrongRow | None:
    """A wave gives some flows no more than some orders ask, where it is open, and what the others get.

    Σ_{flows} y · τ · φ ≤ Σ_{o in S} quantity[o] · (1 + m) · O[w] + Σ_{flows} (Σ_{o not in S} d · (1 + m) + u)

    for each side of a wave, any of its flows and any orders S; those that the values break most are sought.
    """
    count, flows = len(drawn.asked), len(drawn.surplus)
    plants = np.bincount(drawn.join_flow, drawn.plants * values[drawn.joins], flows) - values[drawn.surplus]
    got = drawn.held * values[drawn.delivered]
    opened = values[drawn.opened]
    chosen = np.ones(flows, dtype=bool)
    some = np.zeros(count, dtype=bool)
    for _ in range(3):
        gets = np.bincount(drawn.order, got * chosen[drawn.delivery_flow], count)
        some = drawn.asked * opened < gets
        others = np.bincount(drawn.delivery_flow, got * ~some[drawn.order], flows)
        chosen = plants > others
    asked = float(drawn.asked[some].sum())
    if not asked or ((plants - others)[chosen].sum() / asked - opened) <= BROKEN:
        return None
    entries = [Entry(drawn.opened, 1.0)]
    for columns, coefs, kept in (
        (drawn.joins, -drawn.plants, chosen[drawn.join_flow]),
        (drawn.surplus, np.ones(flows), chosen),
        (drawn.delivered, drawn.held, chosen[drawn.delivery_flow] & ~some[drawn.order]),
    ):
        entries += [Entry(int(k), float(c) / asked) for k, c in zip(columns[kept], coefs[kept], strict=True)]
    return StrongRow(entries, 0.0)
