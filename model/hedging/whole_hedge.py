"""The plan of a hedge in whole trays: the ordinary program that sows, joins and buys what the hedge does."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_array, csc_array

from model.hedging.extensive import Hedge, only
from model.hedging.sown_again import Mask
from model.phases import Say
from model.program.program import Program
from model.risk.batches import Floats
from model.solver.compiled import Compiled, Solution, run, solver, with_columns, with_rows
from model.solver.whole import make_whole

SPLINTER = 0.05
"""Joins and sowings that fill less than this share of a tray are left out, and so is less declined."""

DEARER = 2.0
"""What is missed of the hedge costs so many times what it is worth at the margin: the first is worth most."""


class Aim(NamedTuple):
    """What a hedge sows, joins, buys early and declines, and what one more of each is worth.

    By name and index. ``joins``: which joins may be made.
    """

    values: dict[str, Floats]
    worth: dict[str, Floats]
    joins: Mask


def aim_of(program: Program, hedge: Hedge, found: Solution, joins: Mask) -> Aim:
    """What the solution of a hedge sows, joins, buys early and declines, without splinters.

    What it declines it has no plants to spare for: the expected season alone would take more orders.
    """
    rows, count = hedge.plan.matrix.shape
    worth = np.maximum((hedge.compiled.matrix[rows:, :count]).T @ found.row_dual[rows:], 0.0)
    network, values, each = (
        program.network,
        hedge.plan.values(found.columns[:count]),
        hedge.plan.values(worth),
    )
    cells = np.array([network.flows[join.flow].tray.cells for join in network.joins], dtype=float)
    late = np.isin(hedge.plan.position["bought"], hedge.season.columns[hedge.season.late])
    least = {
        "joins": SPLINTER * cells,
        "sown": np.full(len(network.waves), SPLINTER),
        "bought": np.where(late, np.inf, 1.0),
        **{name: np.full(len(values[name]), SPLINTER) for name in ("declined", "declined_whole")},
    }
    aimed = {name: np.where(values[name] > size, values[name], 0.0) for name, size in least.items()}
    return Aim(aimed, {name: each[name] for name in least}, joins)


def whole_plan(program: Program, compiled: Compiled, aim: Aim, progress: Say) -> Solution:
    """A solution in whole trays that sows, joins, buys early and declines what a hedge does, where it can.

    v + e ≥ v in the hedge      at ``DEARER`` times the worth of v for e; v: trays sown, joins planned, plants
    bought early, what is declined
    """
    columns, wanted, price = [], [], []
    for name, values in aim.values.items():
        at = compiled.position[name]
        kept = (at >= 0) & (values > 0)
        columns.append(at[kept])
        wanted.append(values[kept])
        price.append(DEARER * aim.worth[name][kept])
    at, size = np.concatenate(columns), sum(map(len, columns))
    count, more = len(compiled.cost), np.arange(size)
    nothing = csc_array((compiled.matrix.shape[0], size))
    wider = with_columns(only(program, compiled, aim.joins), nothing, np.inf, np.concatenate(price))
    entries = np.ones(2 * size), (np.tile(more, 2), np.concatenate([at, count + more]))
    rows = csc_array(coo_array(entries, shape=(size, count + size)))
    aimed = with_rows(wider, rows, np.concatenate(wanted), np.full(size, np.inf))
    whole = make_whole(program, aimed, run(solver(aimed)), progress).solution
    plan = whole.columns[:count]
    return replace(whole, columns=plan, objective=float(compiled.cost @ plan) + compiled.offset)
