"""The waves and joins that a hedged plan may use: those of a few plans with other margins and wider spread.

A plan over many seasons in all waves and joins would be several times as large, and use hardly any others.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import numpy as np
from scipy.sparse import coo_array, csc_array

from model.program.program import Program
from model.risk.batches import Floats
from model.solver.compiled import Compiled, Solution, run, solver

THIN = 0.7
"""Share of its seedlings that each wave has in the plan that says what may be sown again."""

LEAST = 1e-6
"""Fewer trays than this are none."""

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


def joins_sown_again(program: Program, compiled: Compiled, base: Solution) -> Floats:
    """Joins of the plan that sows again where all waves of the plan ``base`` come up thin; shape (joins,)."""
    return compiled.values(run(solver(_thin(program, compiled, base)), start=base).columns)["joins"]


def _thin(program: Program, compiled: Compiled, base: Solution) -> Compiled:
    """The program in which what the plan ``base`` sows comes up thin, and other waves may be sown besides.

    They are sown once one of its waves for the same products is counted.
    """
    network, sown = program.network, compiled.values(base.columns)["sown"]
    counted: dict[str, int] = {}
    products: dict[int, set[str]] = defaultdict(set)
    for join in network.joins:
        for w in join.waves:
            products[w].add(network.flows[join.flow].sold_as.product)
    for w in np.flatnonzero(sown > LEAST).tolist():
        for product in products[w]:
            counted[product] = min(counted.get(product, network.waves[w].bench), network.waves[w].bench)
    matrix, upper = compiled.matrix.copy(), compiled.upper.copy()
    for w, wave in enumerate(network.waves):
        column = int(compiled.position["sown"][w])
        if column < 0 or wave.sow < network.past.today:
            continue
        if sown[w] > LEAST:
            upper[column] = max(compiled.lower[column], float(sown[w]))
            matrix[compiled.rows["seedlings"][program.wave_labels[w]], column] *= THIN
        elif all(wave.sow < counted.get(product, wave.sow + 1) for product in products[w]):
            upper[column] = compiled.lower[column]
    return replace(compiled, matrix=matrix, upper=upper)


def _with_margin(program: Program, compiled: Compiled, margin: float, share: float) -> Compiled:
    """The program with a margin of all orders, in which no graft day gives an order more than a share.

    Deliveries that the past has settled stay as they are.
    """
    network = program.network
    columns, rows = compiled.position["delivered"], compiled.rows.get("take", {})
    at = np.array([rows[label[:-1]] for label in program.labels["delivered"]], dtype=np.intp)
    open_ = np.where(compiled.lower[columns] > 0, 0.0, margin)
    more = coo_array((open_, (at, columns)), shape=compiled.matrix.shape)
    quantity = np.array([network.orders[d.order].order.quantity for d in network.deliveries], dtype=float)
    upper = compiled.upper.copy()
    upper[columns] = np.maximum(compiled.lower[columns], np.minimum(upper[columns], share * quantity))
    return replace(compiled, matrix=csc_array(compiled.matrix + csc_array(more)), upper=upper)
