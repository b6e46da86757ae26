"""A hedge in whole trays lifted towards the levels promised, as seasons tell that are planned again.

At its penalties alone a hedge may leave an order short too often. Most orders are lifted above their level by
planning again after counts. So each round rehearses seasons that no earlier round has, and only orders that
fall below their level there get more plants, from the graft days that serve them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from model.hedging.whole_hedge import DEARER, Aim, whole_plan
from model.phases import Say, part_of
from model.program.program import Program
from model.program.variables import HELD
from model.rehearsal.rehearsed import Rehearsal
from model.risk.batches import Floats, Seasons
from model.risk.counted import WHOLE
from model.solve import Solved, plan_of
from model.solver.compiled import Compiled, Solution, proved_bound, run, solver, with_fixed

ROUNDS = 4
"""Rounds in which seasons are rehearsed, at most."""

LIVED = 30
"""Seasons rehearsed in a round."""

TRACE = 1e-9
"""Parts of a season that are only rounding."""


class Lifted(NamedTuple):
    """A hedge in whole trays; ``more``: plants grown for each order's level; ``lived``: seasons rehearsed."""

    solved: Solved
    more: Floats
    lived: int


def most_short(seasons: NDArray[np.intp], levels: Floats) -> Floats:
    """The most of their ``seasons`` in which orders may be short at their ``levels``; NaN: no level.

    ⌊seasons · (1 − level)⌋
    """
    return np.floor(seasons * (1 - levels) + TRACE)


def keep_levels(
    program: Program,
    compiled: Compiled,
    continuous: Solution,
    aim: Aim,
    levels: Floats | None,
    *,
    seasons: int,
    seed: int,
    progress: Say,
) -> Lifted:
    """The hedge ``aim`` of a program without margins, in whole trays.

    With ``levels``, shares by order (NaN: none promised), each round rehearses ``LIVED`` seasons of ``seed``
    that no round before it had. An order short in more of them than its level allows gets the fewest plants
    with which it would not have been; from then on only later seasons tell of it. What the last round adds
    is not rehearsed. ``continuous``: an optimum of ``compiled``. Raises SolveError where HiGHS reaches no
    optimum.
    """
    solved = _solved(program, compiled, continuous, aim, seasons, progress)
    more = np.zeros(len(program.network.orders))
    if levels is None:
        return Lifted(solved, more, 0)
    drawn, since = Seasons(ROUNDS * LIVED, seed), np.zeros(len(more), dtype=np.intp)
    short = np.empty((len(more), 0))
    for n in range(ROUNDS):
        told = part_of(f"levels, round {n + 1} of at most {ROUNDS}", progress)
        plan = plan_of(solved, progress=told)
        rehearsal = Rehearsal(program, compiled, solved.solution.columns, plan, drawn)
        lived = rehearsal.seasons(range(n * LIVED, (n + 1) * LIVED), told)
        short = np.hstack([short, lived.short])
        valid = np.arange(short.shape[1]) >= since[:, None]
        missed, lasted = ((short > WHOLE) & valid).sum(axis=1), valid.sum(axis=1)
        most = most_short(lasted, levels)
        below = (missed > most) & (plan.orders["own"] > WHOLE).to_numpy()
        if not below.any():
            break
        for o in np.flatnonzero(below).tolist():
            more[o] += float(np.sort(short[o, since[o] :])[-int(most[o]) - 1])
        since[below] = short.shape[1]
        told("whole trays")
        solved = _solved(program, compiled, continuous, grown_for(program, aim, more), seasons, told)
    return Lifted(solved, more, short.shape[1])


def grown_for(program: Program, aim: Aim, more: Floats) -> Aim:
    """The aim with ``more`` plants by order, from the flows that serve the order in the hedge's seasons.

    y′ = y · (1 + Σ_o more[o] · d̄[p,g,o] / Σ d̄[·,·,o] / Σ y·τ·φ)      for joins of flow (p,g), from today on
    x′ = x · Σ y′/μ / Σ y/μ      for each wave, over the joins that draw on it

    d̄: mean plants delivered to order o in the hedge's seasons. What is missed of these joins costs no less
    than the order's penalty for the plants that they would give, as a plant more may cost far more than in
    the hedge where another hand or room is needed for it.
    """
    network = program.network
    flows = network.flows
    served = np.zeros((len(flows), len(network.orders)))
    for delivery, plants in zip(network.deliveries, aim.served.tolist(), strict=True):
        if flows[delivery.flow].graft >= network.past.today:
            served[delivery.flow, delivery.order] += max(plants, 0.0)
    total = served.sum(axis=0)
    wanted = served @ np.divide(more, total, out=np.zeros_like(total), where=total > WHOLE)
    joins, finished = aim.values["joins"], np.zeros(len(flows))
    of = np.array([join.flow for join in network.joins], dtype=np.intp)
    plants = np.array([join.take * flows[join.flow].survival for join in network.joins])
    np.add.at(finished, of, joins * plants)
    more_joins = joins * np.divide(wanted, finished, out=np.zeros_like(wanted), where=finished > WHOLE)[of]
    drawn, more_drawn = np.zeros((2, len(network.waves)))
    for join, made, added in zip(network.joins, joins.tolist(), more_joins.tolist(), strict=True):
        for w in join.waves:
            drawn[w] += made / join.match
            more_drawn[w] += added / join.match
    share = np.divide(more_drawn, drawn, out=np.zeros_like(drawn), where=drawn > WHOLE)
    penalties = np.array([term.penalty for term in network.orders])
    dear = (np.where(served > WHOLE, 1.0, 0.0) * np.where(more > 0, penalties, 0.0)).max(axis=1, initial=0.0)
    return aim._replace(
        values={"joins": joins + more_joins, "sown": aim.values["sown"] * (1 + share)},
        worth=aim.worth | {"joins": np.maximum(aim.worth["joins"], dear[of] * plants / DEARER)},
    )


def _solved(
    program: Program, compiled: Compiled, continuous: Solution, aim: Aim, seasons: int, progress: Say
) -> Solved:
    """The hedge in whole trays, as a solution of the program with its shadow prices."""
    solution = whole_plan(program, compiled, aim, progress)
    held = compiled.columns(HELD)
    priced_in = with_fixed(compiled, held, np.round(solution.columns[held]))
    highs = solver(priced_in)
    priced = run(highs, start=continuous)
    bound = proved_bound(continuous.objective, solution.objective)
    return Solved(
        program, compiled, continuous, solution, bound, priced_in, priced, highs, {}, seasons=seasons
    )
