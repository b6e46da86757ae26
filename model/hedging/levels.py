"""A hedge in whole trays, with margins where an order would else miss the level promised to it.

The hedge says when to sow and join and how much; at its penalties alone an order may be short too often. So
penalties are first raised to what makes it worth keeping the level, and then margins are added, order by
order, as simulated seasons tell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from model.hedging.whole_hedge import Aim, whole_plan
from model.network.expansion import expand
from model.phases import Say, part_of
from model.planned.plan_tables import Plan
from model.program.build import build
from model.program.program import Program
from model.program.variables import HELD
from model.risk.batches import Floats
from model.risk.counted import WHOLE
from model.risk.simulation import Risk, simulate
from model.risk.tuning import bands_of, step
from model.scenario.entities import Scenario
from model.solve import Solved, plan_of
from model.solver.compiled import (
    Compiled,
    Solution,
    compile_program,
    proved_bound,
    run,
    solver,
    with_fixed,
)

ROUNDS = 6
"""Rounds in which margins are added, at most."""

LIVED = 1000
"""Seasons simulated in a round."""

FINEST = 10_000
"""Margins are multiples of 1 / ``FINEST``."""


@dataclass(frozen=True, slots=True)
class HedgeRound:
    """A hedge in whole trays with some margins; ``rank``: orders below their level, mean cost of a season."""

    scenario: Scenario
    solved: Solved
    rank: tuple[int, float]


def worth_keeping(program: Program, compiled: Compiled, continuous: Solution, levels: Floats) -> Compiled:
    """The program in which a plant short costs so much that keeping the order's level is worth it.

    Where a plant more costs c, it is grown up to the chance 1 − c / penalty (newsvendor): so the penalty is
    at least c / (1 − level). c is what a plant more of the order costs in ``continuous``, an optimum. Orders
    that the optimum leaves short keep their penalty.
    """
    rows, short = compiled.rows.get("order", {}), compiled.position["short"]
    dual = np.array([continuous.row_dual[rows[label]] for label in program.labels["short"]])
    filled = continuous.columns[short] <= WHOLE
    cost = compiled.cost.copy()
    cost[short] = np.where(filled, np.maximum(cost[short], dual / (1 - levels)), cost[short])
    return replace(compiled, cost=cost)


def keep_levels(
    scenario: Scenario, aim: Aim, levels: Floats | None, *, seasons: int, seed: int, progress: Say
) -> HedgeRound:
    """The hedge ``aim`` of a scenario without margins, in whole trays.

    With ``levels``, shares by order, margins are added round by round to the orders that miss theirs in
    simulated seasons. Of the rounds the one with the fewest such orders is chosen, then the least mean cost.
    """
    if levels is None:
        return HedgeRound(scenario, _solved(scenario, aim, seasons, progress), (0, 0.0))
    bands = bands_of(levels.tolist(), LIVED)
    margins, most = np.zeros(len(levels)), np.full(len(levels), np.inf)
    before, rounds = margins, []
    for n in range(ROUNDS):
        told = part_of(f"levels, round {n + 1} of at most {ROUNDS}", progress)
        told("whole trays")
        orders = zip(scenario.orders, margins.tolist(), strict=True)
        grown = replace(scenario, orders=tuple(replace(o, graft_margin=margin) for o, margin in orders))
        solved = _solved(grown, aim, seasons, told)
        plan = plan_of(solved, progress=told)
        told(f"{LIVED:,} seasons")
        risk = simulate(grown, plan, seasons=LIVED, seed=seed)
        missed = (risk.orders["chance"].to_numpy() < levels) & ~_gone(plan)
        rounds.append(HedgeRound(grown, solved, (int(missed.sum()), float(risk.totals["cost"].mean()))))
        most = np.where(plan.orders["short"].to_numpy(float) > WHOLE, np.minimum(most, before), most)
        steps = np.stack([bands.enough, bands.aim, bands.much], axis=1)
        before, margins = margins, np.minimum(margins + _more(plan, risk, steps), most)
        if not missed.any() or np.array_equal(before, margins):
            break
    return min(rounds, key=lambda made: made.rank)


def _gone(plan: Plan) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether the plan declines each order entirely."""
    kept = (plan.orders["quantity"] - plan.orders["declined"]).to_numpy(float)
    return np.asarray(kept <= WHOLE)


def _more(plan: Plan, risk: Risk, steps: Floats) -> Floats:
    """What is added to each order's margin; nothing where the plan buys or leaves it short."""
    own, short = (plan.orders[name].to_numpy(dtype=float) for name in ("own", "short"))
    more = np.zeros(len(own))
    chances = risk.orders["chance"].tolist()
    for o in np.flatnonzero((own > WHOLE) & (short <= WHOLE)).tolist():
        enough, aim, much = steps[o].tolist()
        plants = step(chances[o], risk.short[o], 0.0, (enough, aim, much), lower=False)
        more[o] = np.ceil(plants / own[o] * FINEST) / FINEST
    return more


def _solved(scenario: Scenario, aim: Aim, seasons: int, progress: Say) -> Solved:
    """The hedge in whole trays, as a solution of the scenario with its shadow prices."""
    program = build(expand(scenario))
    compiled = compile_program(program)
    continuous = run(solver(compiled))
    solution = whole_plan(program, compiled, aim, progress)
    held = compiled.columns(HELD)
    priced_in = with_fixed(compiled, held, np.round(solution.columns[held]))
    highs = solver(priced_in)
    priced = run(highs, start=continuous)
    bound = proved_bound(continuous.objective, solution.objective)
    return Solved(
        program, compiled, continuous, solution, bound, priced_in, priced, highs, {}, seasons=seasons
    )
