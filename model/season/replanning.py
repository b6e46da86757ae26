"""The plan made again from today: the last plan is kept where possible, else changed as little as pays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from statistics import fmean
from typing import NamedTuple

import numpy as np
from scipy.sparse import csc_array

from model.collector import collector_paused
from model.network.expansion import expand
from model.phases import Say, silent
from model.planned.plan_tables import Tables
from model.planned.results import result_in
from model.program.amounts import Key
from model.program.apart_sets import DECIDED as APART_DECIDED
from model.program.build import build
from model.program.program import Program
from model.program.variables import HELD
from model.scenario.entities import Scenario
from model.season.last_plan import TOLD, decisions, shortfalls
from model.solve import Solved, penalties_in
from model.solver.compiled import (
    EXACT,
    Compiled,
    Solution,
    SolveError,
    compile_program,
    proved_bound,
    run,
    solver,
    with_columns,
    with_fixed,
    with_rows,
)
from model.solver.tidied import in_fewest_bays
from model.solver.whole import make_whole

JOBS = (
    "sown",
    "sown_into",
    "joins",
    "delivered",
    "bought",
    "packs_bought",
    "temporary_hands",
    "called_hands",
)
"""Decisions that are jobs: a re-plan changes few of them."""

CREWS_FOLLOW = ("joins", "delivered")
"""Jobs that follow the counts: a change within ``NEARLY`` is no change of the job."""

LEAST = 0.5
"""A change by less than half a tray, join, plant, pack or hand is no change of the job."""

PROMISE = 10.0
"""A plant short that was not short before costs this many times the highest penalty."""

NEARLY = 0.02
"""Share, plus two plants, by which joins and deliveries of a plan that is kept may follow the counts."""

CLOSE = 1e-6
"""Changes smaller than this count as none."""


@dataclass(frozen=True, slots=True)
class Replanned:
    """A plan made again.

    ``kept``: whether the last plan is kept. ``carried_on``: cost of keeping it, in currency; None where it
    cannot be kept. ``carried_penalties``: what of it are penalties for plants short; 0 where it cannot be
    kept. ``carried_result``: result of keeping it; None also where no order has a price. ``upset``: what
    each changed job had to save, in currency. ``found``: the new plan that was compared with it, whether
    chosen or not.
    """

    solved: Solved
    kept: bool
    carried_on: float | None
    carried_penalties: float
    carried_result: float | None
    upset: float
    found: NewPlan


@dataclass(frozen=True, slots=True)
class NewPlan:
    """A new plan: its cost, the penalties in it, the gap that a saving must exceed, and the jobs it changes.

    ``cost``, ``penalties`` and ``gap`` are in currency. ``gap`` is the larger of what the proofs of this plan
    and of the last one leave open. Jobs that keeping the last plan changes too do not count.
    """

    cost: float
    penalties: float
    gap: float
    jobs: int


class _Job(NamedTuple):
    """A job: its variable, its column in the program, and its number as the last plan has it."""

    variable: str
    column: int
    last: float

    def differs(self, value: float) -> bool:
        """Whether a number is another than the last plan's, as crews see it."""
        follows = self.variable in CREWS_FOLLOW and self.last > CLOSE and value > CLOSE
        return abs(value - self.last) >= max(LEAST, NEARLY * self.last + 2 if follows else 0.0)


def usual_upset(scenario: Scenario) -> float:
    """What a changed job must save where nothing is said: the pay of one hour of the best-paid crew.

    Somebody has to think again, tell the others, and change lists and labels (common practice, no source).
    """
    return max((crew.pay_per_hour for crew in scenario.crews), default=0.0)


def replan(
    scenario: Scenario,
    last: Tables,
    *,
    upset: float | None = None,
    left_open: float = 0.0,
    progress: Say = silent,
) -> Replanned:
    """The plan of least cost from the scenario's ``today``, in whole trays, compared with the last plan.

    The last plan is kept if it can be carried out and no new plan is worth its changes. A new plan is worth
    them if it fills more of the orders that the last plan filled; or if it saves more than its own gap and
    more than ``upset`` for each job that changes (in currency; None: ``usual_upset``). So the last plan is
    kept where it breaks no more promises and

    kept cost − new cost ≤ max(new cost − bound, last cost − last bound, upset · changed jobs)

    Only the choice of the plan counts the upset: no cost contains it. ``left_open``: what the proof of the
    last plan left open (last cost − last bound), in currency; a saving within it is no news, and no reason
    to change. Orders that were filled stay filled wherever possible. Raises SolveError where HiGHS reaches no
    optimum.
    """
    upset = usual_upset(scenario) if upset is None else upset
    with collector_paused():
        progress("expand")
        program = build(expand(scenario))
        progress("compile")
        compiled = compile_program(program)
        progress("solve")
        continuous = run(solver(compiled))
        values, known = decisions(program, last)
        compiled = _set_up_already(program, compiled, values)
        progress("last plan")
        carried = _carried_on(program, compiled, values) if known else None
        progress("whole trays")
        promised = shortfalls(last)
        jobs = _open_jobs(program, compiled, values, carried)
        made = _made_anew(program, compiled, jobs, promised, upset, progress)
        bound = proved_bound(continuous.objective, made.objective)
        changed = sum(job.differs(float(made.columns[job.column])) for job in jobs)
        penalties = penalties_in(program, compiled, made)
        found = NewPlan(made.objective, penalties, max(made.objective - bound, left_open), changed)
        kept = (
            carried is not None
            and carried.objective - made.objective <= max(found.gap, upset * found.jobs) + CLOSE
            and _broken(program, compiled, carried, promised) <= _broken(program, compiled, made, promised)
        )
        solution = carried if kept and carried is not None else made
        progress("shadow prices")
        held = compiled.columns(HELD)
        priced_in = with_fixed(compiled, held, np.round(solution.columns[held]))
        highs = solver(priced_in)
        priced = run(highs, start=continuous)
    return Replanned(
        Solved(
            program,
            compiled,
            continuous,
            solution,
            proved_bound(continuous.objective, solution.objective),
            priced_in,
            priced,
            highs,
            {},
            replanned=True,
        ),
        kept,
        None if carried is None else carried.objective,
        0.0 if carried is None else penalties_in(program, compiled, carried),
        None if carried is None else result_in(program, compiled, carried),
        upset,
        found,
    )


def fixed_to(
    program: Program, compiled: Compiled, values: dict[Key, float], variables: tuple[str, ...]
) -> Compiled:
    """The program with the open decisions of these variables fixed to ``values``."""
    columns, at = [], []
    for (variable, n), value in values.items():
        if variable in variables and n not in program.settled.get(variable, {}):
            column = int(compiled.position[variable][n])
            if column >= 0:
                columns.append(column)
                at.append(value)
    return with_fixed(compiled, np.array(columns, dtype=np.intp), np.array(at))


def _set_up_already(program: Program, compiled: Compiled, values: dict[Key, float]) -> Compiled:
    """The program without a least batch on days on which the last plan joins by the method.

    Such a day is on the crews' lists: they set up for what has come up. A day that is new needs its least.
    """
    rows = compiled.rows.get("least_batches", {})
    open_ = [
        rows[*label, "least"]
        for n, label in enumerate(program.labels["batch_set_up"])
        if values["batch_set_up", n] > 0
    ]
    if not open_:
        return compiled
    lower = compiled.row_lower.copy()
    lower[open_] = -np.inf
    return replace(compiled, row_lower=lower)


def _carried_on(program: Program, compiled: Compiled, values: dict[Key, float]) -> Solution | None:
    """The solution with the last plan's decisions; None where they cannot be carried out.

    First all decisions are fixed exactly. If that fails, sowing, buying and hiring stay fixed. Joins may then
    change by ``NEARLY``, deliveries may grow by ``NEARLY`` or shrink, and missing plants are short. Units
    that the last plan leaves open, and trays from the graft day on where they are, are whole.
    """
    opened = compiled.position["units_opened"]
    open_ = [at for n, at in enumerate(opened.tolist()) if at >= 0 and ("units_opened", n) not in values]
    trays = compiled.columns(("whole_loaded", "finishing", "riding"))
    settled = np.concatenate([compiled.columns(APART_DECIDED), trays, np.array(open_, dtype=np.intp)])
    with suppress(SolveError):
        fixed = fixed_to(program, compiled, values, TOLD)
        found = run(solver(fixed, settled, **EXACT) if len(settled) else solver(fixed))
        return in_fewest_bays(compiled, found)
    firm = tuple(variable for variable in TOLD if variable not in ("joins", "delivered", "vehicles"))
    nearly = fixed_to(program, compiled, values, firm)
    lower, upper = nearly.lower.copy(), nearly.upper.copy()
    for (variable, n), value in values.items():
        column = int(compiled.position[variable][n]) if variable in ("joins", "delivered") else -1
        if column >= 0 and n not in program.settled.get(variable, {}):
            slack = NEARLY * value + 2 if value > CLOSE else 0.0
            lower[column] = max(value - slack, 0.0) if variable == "joins" else 0.0
            upper[column] = value + slack
    with suppress(SolveError):
        nearly = replace(nearly, lower=lower, upper=upper)
        whole = np.concatenate([compiled.columns(("short", "vehicles")), settled])
        found = run(solver(nearly, whole, **EXACT), stopped_early=True)
        return in_fewest_bays(compiled, found)
    return None


def _open_jobs(
    program: Program, compiled: Compiled, values: dict[Key, float], carried: Solution | None
) -> list[_Job]:
    """The jobs that can still be decided, each with its number if the last plan is kept (else in it)."""
    return [
        _Job(variable, column, value if carried is None else float(carried.columns[column]))
        for (variable, n), value in values.items()
        if variable in JOBS
        and n not in program.settled.get(variable, {})
        and (column := int(compiled.position[variable][n])) >= 0
    ]


def _broken(program: Program, compiled: Compiled, solution: Solution, before: dict[str, float]) -> int:
    """Plants short beyond the last plan's shortfalls, over the orders not declined in it, rounded."""
    short = compiled.values(solution.columns)["short"].tolist()
    names = [term.order.order for term in program.network.orders]
    over = [float(s) - before[name] for name, s in zip(names, short, strict=True) if name in before]
    return round(sum(plants for plants in over if plants > 0))


def _made_anew(
    program: Program,
    compiled: Compiled,
    jobs: Sequence[_Job],
    short: dict[str, float],
    upset: float,
    progress: Say,
) -> Solution:
    """A solution in whole trays that keeps all promises it can, and changes few jobs.

    s[o] − e[o] ≤ short before      at 10 times the highest penalty for e

    The program is solved twice before trays are made whole. The first solution says by how much a job would
    change; in the second, that change costs ``upset`` (``_calm``).
    """
    promising = _promising(program, compiled, short)
    if upset > 0:
        solved = run(solver(_calm(promising, jobs, {job.column: job.last for job in jobs}, upset)))
        sizes = {job.column: abs(float(solved.columns[job.column]) - job.last) for job in jobs}
        promising = _calm(promising, jobs, sizes, upset)
    whole = make_whole(program, promising, run(solver(promising)), progress).solution
    count = len(compiled.cost)
    return replace(whole, columns=whole.columns[:count], objective=_cost(compiled, whole.columns[:count]))


def _calm(compiled: Compiled, jobs: Sequence[_Job], sizes: Mapping[int, float], upset: float) -> Compiled:
    """The program in which a job that changes by its ``size`` costs ``upset``, less or more in proportion.

    v + less − more = v before      at upset / size for less and more, where the last plan has the job
    v                               at upset / size besides its own cost, where it has not

    ``sizes``: by column; a job of size 0 has the mean size of its variable. Solving again with the changes
    found as sizes makes few changes instead of many small ones (reweighted l1 minimisation: Candès, Wakin and
    Boyd 2008, from memory).
    """
    of_variable: dict[str, list[float]] = defaultdict(list)
    for job in jobs:
        if sizes[job.column] > CLOSE:
            of_variable[job.variable].append(sizes[job.column])
    usual = {variable: fmean(found) for variable, found in of_variable.items()}

    def price(job: _Job) -> float:
        size = sizes[job.column]
        return upset / (size if size > CLOSE else usual.get(job.variable, 1.0))

    cost = compiled.cost.copy()
    for job in jobs:
        if job.last <= CLOSE:
            cost[job.column] += price(job)
    held = [job for job in jobs if job.last > CLOSE]
    rows = np.arange(len(held))
    nothing = csc_array((compiled.matrix.shape[0], 2 * len(held)))
    wider = with_columns(
        replace(compiled, cost=cost), nothing, np.inf, np.repeat([price(job) for job in held], 2)
    )
    count = len(compiled.cost)
    ones = np.ones(len(held))
    entries = csc_array(
        (
            np.concatenate([ones, ones, -ones]),
            (
                np.concatenate([rows, rows, rows]),
                np.concatenate([[job.column for job in held], count + 2 * rows, count + 2 * rows + 1]),
            ),
        ),
        shape=(len(held), count + 2 * len(held)),
    )
    last = np.array([job.last for job in held])
    return with_rows(wider, entries, last, last)


def _cost(compiled: Compiled, columns: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    return float(compiled.cost @ columns) + compiled.offset


def _promising(program: Program, compiled: Compiled, short: Mapping[str, float]) -> Compiled:
    """The program in which a plant short that was not short before costs ``PROMISE`` penalties more."""
    terms = program.network.orders
    orders = [(o, short[term.order.order]) for o, term in enumerate(terms) if term.order.order in short]
    if not orders:
        return compiled
    price = PROMISE * max(term.penalty for term in terms)
    over = csc_array((compiled.matrix.shape[0], len(orders)))
    wider = with_columns(compiled, over, np.inf, np.full(len(orders), price))
    count, rows, ones = len(compiled.cost), np.arange(len(orders)), np.ones(len(orders))
    columns = compiled.position["short"][[o for o, _ in orders]]
    places = (np.concatenate([rows, rows]), np.concatenate([columns, count + rows]))
    entries = csc_array((np.concatenate([ones, -ones]), places), shape=(len(orders), count + len(orders)))
    return with_rows(
        wider, entries, np.full(len(orders), -np.inf), np.array([before for _, before in orders])
    )
