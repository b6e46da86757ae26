"""The waves and joins that a hedged plan may use: those of a few plans with other margins and wider spread.

A plan over many seasons in all waves and joins would be several times as large, and use hardly any others.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.sparse import coo_array, csc_array

from model.program.program import Program
from model.risk.batches import Floats
from model.solver.compiled import Compiled, Solution, run, solver

TRIED = ((0.04, 1.0), (0.12, 1.0), (0.04, 0.5), (0.08, 0.34))
"""Plans beside that without margins: margin of all orders, most share of an order from one graft day."""


def joins_of_a_few_plans(program: Program, compiled: Compiled, base: Solution) -> Floats:
    """The most joins of each pair of waves and graft day that one of the plans makes; shape (joins,).

    ``compiled``: the program without margins, ``base`` its optimum.
    """
    most = compiled.values(base.columns)["joins"]
    for margin, share in TRIED:
        found = run(solver(_with_margin(program, compiled, margin, share)), start=base)
        most = np.maximum(most, compiled.values(found.columns)["joins"])
    return most


def _with_margin(program: Program, compiled: Compiled, margin: float, share: float) -> Compiled:
    """The program with a margin of all orders, in which no graft day gives an order more than a share.

    Deliveries that the past has settled stay as they are.
    """
    network = program.network
    columns, rows = compiled.position["delivered"], compiled.rows.get("take", {})
    at = np.array([rows[product, day] for product, day, _ in program.labels["delivered"]], dtype=np.intp)
    open_ = np.where(compiled.lower[columns] > 0, 0.0, margin)
    more = coo_array((open_, (at, columns)), shape=compiled.matrix.shape)
    quantity = np.array([network.orders[d.order].order.quantity for d in network.deliveries], dtype=float)
    upper = compiled.upper.copy()
    upper[columns] = np.maximum(compiled.lower[columns], np.minimum(upper[columns], share * quantity))
    return replace(compiled, matrix=csc_array(compiled.matrix + csc_array(more)), upper=upper)
