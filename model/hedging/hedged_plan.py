"""The hedged plan: the early decisions that are best on average over many sampled seasons.

What is sown, how many joins are planned, room, hands, packs and what must be bought early are decided once
for all seasons; what each season makes of it follows (``model.hedging.extensive``). Nothing is known of a
season beforehand. The plan has no margins: the seasons show what is worth growing to spare, and where.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from model.collector import collector_paused
from model.hedging.candidates import joins_of_a_few_plans
from model.hedging.extensive import Hedge, Mask, hedge_program
from model.hedging.sampled import SampledSeasons, sampled
from model.hedging.whole_hedge import aim_of, whole_plan
from model.network.expansion import expand
from model.phases import Say, silent
from model.program.build import build
from model.program.program import Program
from model.program.variables import HELD
from model.risk.batches import Floats
from model.scenario.choices import MarginPolicy, SowingPolicy
from model.scenario.entities import Scenario
from model.solve import Solved
from model.solver.compiled import (
    Compiled,
    Solution,
    compile_program,
    proved_bound,
    run,
    run_interior,
    solver,
    with_fixed,
)

USED = 1e-6
"""Fewer joins than this are none."""

SIMPLEX = 20_000
"""Programs of more rows are solved by the interior point method, which is quicker there."""

EARLY = ("sown", "joins", "bought", "offer_taken", "declined", "declined_whole")
"""Decisions of the plan that the seasons meet, but for those of which it has the mean."""


@dataclass(frozen=True, slots=True)
class Hedged:
    """A hedged plan: its scenario, which has no margins, and its solution.

    ``least``: mean cost of the sampled seasons in the best continuous plan; ``inside``: cost of each of them
    in the plan in whole trays, in currency. ``joins``: pairs of waves and graft day that it could use.
    """

    scenario: Scenario
    solved: Solved
    least: float
    inside: Floats
    joins: int


def without_margins(scenario: Scenario) -> Scenario:
    """The scenario without margins of grafting and sowing."""
    nursery = replace(
        scenario.nursery,
        margin_policy=MarginPolicy.FIXED,
        graft_margin=0.0,
        sowing_policy=SowingPolicy.FIXED,
        sowing_margin=0.0,
    )
    return replace(
        scenario,
        nursery=nursery,
        orders=tuple(replace(order, graft_margin=None) for order in scenario.orders),
        seed_lots=tuple(replace(lot, sowing_margin=None) for lot in scenario.seed_lots),
    )


def best_over(
    program: Program, compiled: Compiled, luck: SampledSeasons, joins: Mask
) -> tuple[Hedge, Solution]:
    """The continuous plan of least mean cost over the seasons ``luck``, in which only ``joins`` may be made.

    ``compiled``: the program without margins. Raises SolveError where HiGHS reaches no optimum.
    """
    hedge = hedge_program(program, compiled, joins, luck)
    if hedge.compiled.matrix.shape[0] <= SIMPLEX:
        return hedge, run(solver(hedge.compiled))
    return hedge, run_interior(hedge.compiled)


def hedged(scenario: Scenario, *, seasons: int, seed: int, progress: Say = silent) -> Hedged:
    """The plan in whole trays that is best on average over ``seasons`` seasons drawn from ``seed``.

    Raises SolveError where HiGHS reaches no optimum, ValueError where ``seasons`` is below 1.
    """
    bare = without_margins(scenario)
    with collector_paused():
        progress("expand")
        program = build(expand(bare))
        progress("compile")
        compiled = compile_program(program)
        progress("solve")
        continuous = run(solver(compiled))
        progress("waves and joins of a few plans")
        most = joins_of_a_few_plans(program, compiled, continuous)
        progress(f"{seasons:,} seasons")
        luck = sampled(program.network, most.tolist(), seasons, seed)
        progress(f"best plan over {seasons:,} seasons")
        hedge, found = best_over(program, compiled, luck, most > USED)
        progress("whole trays")
        aim = aim_of(program, hedge, found, most > USED)
        solution = whole_plan(program, compiled, aim, progress)
        progress("cost of each season")
        inside = cost_by_season(hedge, solution)
        progress("shadow prices")
        held = compiled.columns(HELD)
        priced_in = with_fixed(compiled, held, np.round(solution.columns[held]))
        highs = solver(priced_in)
        priced = run(highs, start=continuous)
    bound = proved_bound(continuous.objective, solution.objective)
    solved = Solved(
        program, compiled, continuous, solution, bound, priced_in, priced, highs, {}, seasons=seasons
    )
    return Hedged(bare, solved, found.objective, inside, int(np.count_nonzero(most > USED)))


def cost_by_season(hedge: Hedge, solution: Solution) -> Floats:
    """Cost of each season where the plan's early decisions are those of a solution; shape (seasons,)."""
    plan, season = hedge.plan, hedge.season
    means = season.columns[season.late]
    early = np.setdiff1d(plan.columns(EARLY), means)
    fixed = with_fixed(hedge.compiled, early, solution.columns[early])
    found = run(solver(fixed)).columns
    late = found[len(plan.cost) :].reshape(hedge.luck.number, -1)[:, season.late] @ plan.cost[means]
    costs: Floats = float(plan.cost @ found[: len(plan.cost)]) + plan.offset + late - late.mean()
    return costs
