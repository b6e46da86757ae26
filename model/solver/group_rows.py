"""Rows for groups kept apart: an order gets no plants of a group from where the group is not admitted.

The program's own rows say so of all that a flow holds, which is far more than an order asks: half of a group
is then admitted everywhere. There are too many to list: those that an optimum breaks are found.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from model.network.groups import joins_of, ordered_by
from model.program.apart_sets import Presence
from model.program.program import Program
from model.scenario.choices import GroupBy
from model.solver.compiled import Compiled, Floats
from model.solver.strong import BROKEN, Entry, StrongRow, matrix_of


class GroupRows:
    """The rows of a program in which groups are kept apart; they are made once."""

    def __init__(self, program: Program, compiled: Compiled) -> None:
        self._rows = _pool(program, compiled)
        self._matrix = matrix_of(self._rows, len(compiled.cost))

    def broken(self, values: Floats) -> list[StrongRow]:
        """Rows that these values of the columns break."""
        return [self._rows[n] for n in np.flatnonzero(self._matrix @ values < -BROKEN).tolist()]


def _pool(program: Program, compiled: Compiled) -> list[StrongRow]:
    """An order gets no more from flows of a group than its quantity, and nothing where it is not admitted.

    Σ_{flows of a that stand in z, or are joined at the table z, on t} d[p,g,o] ≤ quantity[o] · E[a,z,t]

    for each order, group and place that it may not share, each day from today; flows all of whose plants are
    of the group.
    """
    index = {at: n for n, at in enumerate(program.apart.admitted) if at in program.apart.clashing}
    served: dict[tuple[int, int], set[int]] = defaultdict(set)
    for present in program.apart.present:
        deliveries = _deliveries(program, present)
        days = range(max(present.start, program.network.past.today), present.end)
        for n in (index[at] for at in map(present.on, days) if at in index):
            for i in deliveries:
                served[n, program.network.deliveries[i].order].add(i)
    admitted, delivered = compiled.position["admitted"], compiled.position["delivered"]
    rows = []
    for (n, o), gets in sorted(served.items()):
        columns = [int(delivered[i]) for i in sorted(gets)]
        if admitted[n] >= 0 and min(columns) >= 0:
            each = 1 / program.network.orders[o].order.quantity
            rows.append(StrongRow([Entry(int(admitted[n]), 1.0), *(Entry(k, -each) for k in columns)], 0.0))
    return rows


def _deliveries(program: Program, present: Presence) -> list[int]:
    """Deliveries of plants that are all of the group, by index: those that stand there only if it does."""
    network, group = program.network, present.group
    if present.key is not None:
        variable, i = present.key
        if variable != "delivered":
            return []
        of = [i]
    else:
        assert present.flow is not None
        of = program.serves[present.flow]
    if group.by is GroupBy.CUSTOMER:
        return [i for i in of if ordered_by(network, group, network.deliveries[i].order)]
    assert present.flow is not None
    whole = len(joins_of(network, group, present.flow)) == len(network.flow_joins[present.flow])
    return list(of) if whole else []
