"""The hedged plan: the early decisions that are best on average over many sampled seasons.

What is sown, how many joins are planned, room, hands, packs and what must be bought early are decided once
for all seasons; what each season makes of it follows (``model.hedging.extensive``). Nothing is known of a
season beforehand. The seasons show what is worth growing to spare, and where; there are no margins. Where
levels are promised, an order is filled in all but some seasons (``model.hedging.chance_rows``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from model.collector import collector_paused
from model.hedging.candidates import joins_of_a_few_plans, joins_sown_again
from model.hedging.chance_rows import filled_but_in_the_worst
from model.hedging.extensive import APART, Hedge, hedge_program
from model.hedging.sampled import SampledSeasons, sampled
from model.hedging.sown_again import NO_SOWING_AGAIN, Mask, SowingAgain, may_be_sown_again
from model.hedging.whole_hedge import SPLINTER, Aim, aim_of, whole_plan
from model.network.expansion import expand
from model.network.types import Wave
from model.phases import Say, silent
from model.program.build import build
from model.program.program import Program
from model.program.variables import HELD
from model.risk.batches import Floats
from model.risk.simulation import promised_levels
from model.scenario.choices import MarginPolicy, SowingPolicy
from model.scenario.entities import Scenario
from model.solve import Solved, solve
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

EARLY = ("sown", "joins", "bought", "offer_taken", "declined", "declined_whole", *APART)
"""Decisions of the plan that the seasons meet, but for those of which it has the mean."""


class Rule(NamedTuple):
    """Where the wave ``counted`` comes up thin, ``sown`` is sown again.

    ``trays``: for each share of the expected seedlings that the count lacks, such as .1, so many times that
    share. ``mean``: trays of the mean season. Seedlings of ``counted`` are expected as planned.
    """

    counted: Wave
    sown: Wave
    trays: float
    mean: float


@dataclass(frozen=True, slots=True)
class Hedged:
    """A hedged plan: its scenario, without margins, and its solution.

    ``least``: mean cost of the sampled seasons in the continuous plan; ``inside``: cost of each of them in
    the plan in whole trays, in currency. ``joins``: pairs of waves and graft day that it could use.
    ``rules``: what may be sown again beside the plan, and ``saved``: what that saves in the mean of the
    sampled seasons, in currency; neither is in the plan or in the costs.
    """

    scenario: Scenario
    solved: Solved
    least: float
    inside: Floats
    joins: int
    rules: tuple[Rule, ...] = ()
    saved: float = 0.0


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
    program: Program,
    compiled: Compiled,
    luck: SampledSeasons,
    joins: Mask,
    again: SowingAgain = NO_SOWING_AGAIN,
) -> tuple[Hedge, Solution]:
    """The continuous plan of least mean cost over the seasons ``luck``, in which only ``joins`` may be made.

    ``compiled``: the program without margins; ``again``: waves that may be sown again. Raises SolveError
    where HiGHS reaches no optimum.
    """
    hedge = hedge_program(program, compiled, joins, luck, again)
    return hedge, _best(hedge.compiled)


def _best(compiled: Compiled) -> Solution:
    """An optimum by the method that is quicker for the size."""
    return run(solver(compiled)) if compiled.matrix.shape[0] <= SIMPLEX else run_interior(compiled)


def hedged(scenario: Scenario, *, seasons: int, seed: int, progress: Say = silent) -> Hedged:
    """The plan in whole trays that is best on average over ``seasons`` seasons drawn from ``seed``.

    Where the scenario's margins are at a level, no order is short in more of these seasons than its level
    lets go, as far as there is room. Raises SolveError where HiGHS reaches no optimum, ValueError where
    ``seasons`` is below 1.
    """
    bare = without_margins(scenario)
    levels = None
    if scenario.nursery.margin_policy is MarginPolicy.LEVEL:
        levels = np.nan_to_num(promised_levels(scenario), nan=0.0)
    with collector_paused():
        progress("expand")
        program = build(expand(bare))
        progress("compile")
        compiled = compile_program(program)
        progress("solve")
        continuous = run(solver(compiled))
        progress("waves and joins of a few plans")
        most = joins_of_a_few_plans(program, compiled, continuous)
        joins: Mask = most > USED
        progress(f"{seasons:,} seasons")
        luck = sampled(program.network, most.tolist(), seasons, seed)
        if luck.as_expected:
            solved = replace(solve(bare, progress=progress), seasons=seasons)
            inside = np.full(seasons, solved.solution.objective)
            return Hedged(bare, solved, continuous.objective, inside, int(np.count_nonzero(joins)))
        progress(f"best plan over {seasons:,} seasons")
        hedge, found = best_over(program, compiled, luck, joins)
        if levels is not None:
            progress("orders filled but in as many seasons as their levels let go")
            hedge = filled_but_in_the_worst(program, hedge, found, continuous, levels)
            found = _best(hedge.compiled)
        least = hedge.cost(found)
        progress("whole trays")
        aim = aim_of(program, hedge, found, joins)
        solved = _in_whole_trays(program, compiled, continuous, aim, seasons, progress)
        progress("cost of each season")
        columns = solved.solution.columns
        values = compiled.values(columns)
        inside = _costs_inside(hedge_program(program, compiled, joins, luck), columns, values)
        progress("what is sown again")
        wider = np.maximum(most, joins_sown_again(program, compiled, continuous))
        luck = sampled(program.network, wider.tolist(), seasons, seed)
        rules, saved = _rules(program, compiled, wider > USED, luck, values)
    return Hedged(bare, solved, least, inside, int(np.count_nonzero(joins)), rules, saved)


def _in_whole_trays(
    program: Program, compiled: Compiled, continuous: Solution, aim: Aim, seasons: int, progress: Say
) -> Solved:
    """What a hedge sows and joins in whole trays, with the shadow prices of the expected season."""
    solution = whole_plan(program, compiled, aim, progress)
    held = compiled.columns(HELD)
    priced_in = with_fixed(compiled, held, np.round(solution.columns[held]))
    highs = solver(priced_in)
    priced = run(highs, start=continuous)
    bound = proved_bound(continuous.objective, solution.objective)
    return Solved(
        program, compiled, continuous, solution, bound, priced_in, priced, highs, {}, seasons=seasons
    )


def _rules(
    program: Program, compiled: Compiled, joins: Mask, luck: SampledSeasons, values: Mapping[str, Floats]
) -> tuple[tuple[Rule, ...], float]:
    """What is best sown again beside the plan of these early decisions, and what that saves on average.

    Rules that never sow more than a splinter of a tray are left out.
    """
    again = may_be_sown_again(program.network, joins, luck)
    if not len(again.sown):
        return (), 0.0
    without, _ = cost_by_season(hedge_program(program, compiled, joins, luck), values)
    hedge = hedge_program(program, compiled, joins, luck, again)
    costs, trays = cost_by_season(hedge, values)
    waves, thin = program.network.waves, hedge.rule.thin
    rules = tuple(
        Rule(waves[counted], waves[sown], float(trays[n]), float(trays[n] * thin[n].mean()))
        for n, (counted, sown) in enumerate(zip(*(side.tolist() for side in again), strict=True))
        if trays[n] * thin[n].max() >= SPLINTER
    )
    return rules, max(float(without.mean() - costs.mean()), 0.0) if rules else 0.0


def cost_by_season(hedge: Hedge, values: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Cost of each season where the plan's early decisions have these values, and the best rule beside it.

    Shapes (seasons,) and (pairs,): the columns R. More may be joined only of waves that are sown again. The
    packs, hands and units of all seasons may be fractional.
    """
    plan, found = hedge.plan, _lived(hedge, values)
    late = _late(hedge, found)
    trays = found[hedge.rule_columns]
    paid = plan.cost[plan.position["sown"][hedge.again.sown]] * trays
    costs: Floats = float(plan.cost @ found[: len(plan.cost)]) + plan.offset + late - late.mean()
    return costs + paid @ hedge.rule.thin, trays


def _costs_inside(hedge: Hedge, columns: Floats, values: Mapping[str, Floats]) -> Floats:
    """Cost of each season with ``columns`` of the plan: what is decided once costs what it costs there."""
    plan, means = hedge.plan, hedge.season.columns[hedge.season.late]
    once = float(plan.cost @ columns - plan.cost[means] @ columns[means]) + plan.offset
    return once + _late(hedge, _lived(hedge, values))


def _lived(hedge: Hedge, values: Mapping[str, Floats]) -> Floats:
    """The best that the seasons make of early decisions of these values: all columns of the hedge."""
    plan = hedge.plan
    means, columns = hedge.season.columns[hedge.season.late], np.zeros(len(plan.cost))
    for name in EARLY:
        at = plan.position[name]
        columns[at[at >= 0]] = values[name][at >= 0]
    more = plan.position["joins"][hedge.joins_again]
    more = more[more >= 0]
    early = np.setdiff1d(plan.columns(EARLY), np.concatenate([means, more]))
    fixed = with_fixed(hedge.compiled, early, columns[early])
    fixed.lower[more] = np.minimum(columns[more], fixed.upper[more])
    return _best(fixed).columns


def _late(hedge: Hedge, found: Floats) -> Floats:
    """What each season decides late costs in it: plants short, late, sold and bought late."""
    plan, season = hedge.plan, hedge.season
    seasons = found[len(plan.cost) : len(found) - len(hedge.again.sown)].reshape(hedge.luck.number, -1)
    late: Floats = seasons[:, season.late] @ plan.cost[season.columns[season.late]]
    return late
