"""Seasons in which an order may be short, and dear penalties in all others: levels as chance rows.

A penalty weighs plants, and a level counts seasons. Where a plant short is cheap, the best plan on average
leaves an order short by a few plants in many seasons. Where penalties are raised until it does not, the plan
also grows for graft days that fail, in seasons that the level lets go. So an order may be short in its worst
seasons, at its penalty as written, and is filled in all others, with a little to spare. Which are worst is
read from the plan without levels, and not searched for: sampling and discarding (Campi and Garatti 2011, "A
sampling-and-discarding approach to chance-constrained optimization"; Luedtke and Ahmed 2008; from memory).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import numpy as np
from scipy.sparse import csc_array

from model.hedging.extensive import Hedge
from model.hedging.sown_again import Columns, Mask
from model.program.program import Program
from model.risk.batches import Floats
from model.risk.counted import WHOLE
from model.solver.compiled import Solution

SPARE = 0.01
"""Own plants beyond an order, as a share of it, in seasons in which it is filled: a plan is made for its
seasons, and others ask for a little more."""

DEARER = 2.0
"""A plant short in one season in which the order is to be filled costs so many times a plant more."""

ROUNDING = 1e-9
"""What a number of seasons may lack of a whole one."""


def filled_but_in_the_worst(
    program: Program, hedge: Hedge, found: Solution, continuous: Solution, levels: Floats
) -> Hedge:
    """The hedge in which each order is filled in all seasons but as many as its level lets go.

    Σ d_n / (1 + SPARE) + Σ b_n + s_n + declined = quantity[o]      for each order o, season n not let go

    There s_n costs ``DEARER`` · c more; c is what a plant more of the order costs in ``continuous``, an
    optimum of the plan without seasons. Orders that it leaves short stay as they are. ``found``: one of
    ``hedge``, whose seasons with most plants short are let go. Of plants bought late, b_n has those alone of
    deliveries of which ``found`` buys the offer's least, for all orders together: nobody orders a hundred
    plants for the ten that are missing. Own plants that come late count where the plan without seasons has
    them late, and whole: the order's own row has their mean, and so no plant to spare. ``levels``: shares by
    order, 0 where none is promised.
    """
    rows, at = hedge.plan.rows.get("order", {}), hedge.plan.position["short"]
    plant = np.array([continuous.row_dual[rows[label]] for label in program.labels["short"]])
    columns = short_columns(hedge)
    worst = np.argsort(-found.columns[columns], axis=1, kind="stable")
    let_go = np.floor((1 - levels) * hedge.luck.number + ROUNDING)
    filled = np.argsort(worst, axis=1) >= let_go[:, None]
    filled[continuous.columns[at] > WHOLE] = False
    cost = hedge.compiled.cost.copy()
    cost[columns[filled]] += np.broadcast_to(DEARER * plant[:, None], filled.shape)[filled]
    counts = _counts(program, hedge, found, continuous)
    matrix, of = _counted(hedge, columns[filled], counts)
    upper = hedge.compiled.upper.copy()
    closed = of & (counts == 0)
    upper[closed] = hedge.compiled.lower[closed]
    return replace(hedge, compiled=replace(hedge.compiled, matrix=matrix, cost=cost, upper=upper))


def short_columns(hedge: Hedge) -> Columns:
    """Columns of the plants short of each order in each season, shape (orders, seasons)."""
    place = _places(hedge)
    own = np.array([place[column] for column in hedge.plan.position["short"].tolist()], dtype=np.intp)
    seasons = len(hedge.plan.cost) + len(hedge.season.columns) * np.arange(hedge.luck.number)
    return own[:, None] + seasons


def _counts(program: Program, hedge: Hedge, found: Solution, continuous: Solution) -> Floats:
    """For how much a plant of each column counts where an order is to be filled; 0: it is not to be given."""
    plan, season = hedge.plan, hedge.season.columns
    own = np.where(np.isin(season, plan.position["delivered"]), 1 / (1 + SPARE), 1.0)
    late = np.isin(season[hedge.season.late], plan.position["delivered"])
    unplanned = continuous.columns[season[hedge.season.late]] <= WHOLE
    own[hedge.season.late[late]] = np.where(unplanned[late], 0.0, 1.0)
    first, last = len(plan.cost), len(plan.cost) + len(season) * hedge.luck.number
    counts = np.ones(len(found.columns))
    made = found.columns[first:last].reshape(hedge.luck.number, -1)
    counts[first:last] = np.where(_large_enough(program, hedge, made), own, 0.0).ravel()
    return counts


def _large_enough(program: Program, hedge: Hedge, made: Floats) -> Mask:
    """False where a delivery that is bought late is smaller than the offer's least; else true.

    ``made``: columns of the seasons, shape (seasons, columns of a season), as the answer.
    """
    network, place = program.network, _places(hedge)
    deliveries: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, column in enumerate(hedge.plan.position["bought"].tolist()):
        if column in place:
            deliveries[network.buy_ins[i].offer, network.buy_ins[i].day].append(place[column])
    enough: Mask = np.ones(made.shape, dtype=np.bool_)
    for (offer, _), places in deliveries.items():
        least = network.offers[offer].least_quantity
        enough[:, places] = (made[:, places].sum(axis=1) >= least - WHOLE)[:, None]
    return enough


def _places(hedge: Hedge) -> dict[int, int]:
    """Where a column of the plan stands among those of a season, for those that have one."""
    return {column: n for n, column in enumerate(hedge.season.columns.tolist())}


def _counted(hedge: Hedge, short: Columns, counts: Floats) -> tuple[csc_array, Mask]:
    """The matrix with plants as they count, in the rows of orders of these columns of plants short.

    Such a column stands in the order's row of its season, and below that in the row of its mean. The second
    says which columns stand in these rows.
    """
    matrix = hedge.compiled.matrix.copy()
    matrix.sort_indices()
    filled: Mask = np.zeros(matrix.shape[0], dtype=np.bool_)
    filled[matrix.indices[matrix.indptr[short]]] = True
    entries = filled[matrix.indices]
    column = np.repeat(np.arange(matrix.shape[1]), np.diff(matrix.indptr))
    matrix.data[entries] *= counts[column[entries]]
    of: Mask = np.zeros(matrix.shape[1], dtype=np.bool_)
    of[column[entries]] = True
    return matrix, of
