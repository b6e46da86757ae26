"""Make a plan from a scenario: expand, build, compile, solve, round to whole trays, compute shadow prices."""

from __future__ import annotations

import hashlib
import os
import platform
import time
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from model.collector import collector_paused
from model.network.expansion import expand
from model.network.types import Network
from model.phases import Say, silent
from model.planned.fill import plan_tables
from model.planned.group_days import washed_apart
from model.planned.job_crews import assigned, crew_rows
from model.planned.jobs import job_rows, jobs
from model.planned.plan_tables import PACKAGES, Facts, Plan, frame
from model.planned.shadow_prices import shadow_prices
from model.planned.trace import told_lots, trace_rows
from model.planned.values import Values
from model.planned.way_prices import way_rows
from model.program.build import build, state
from model.program.program import Program
from model.program.variables import HELD
from model.scenario.entities import Scenario
from model.shortage.why_short import lumpy, say_why_short
from model.solver.compiled import (
    Compiled,
    Solution,
    arrays,
    compile_program,
    dual_objective,
    proved_bound,
    run,
    solver,
    start_afresh,
    with_fixed,
)
from model.solver.filling import FILLED, Filling
from model.solver.near_basis import Near, start_near
from model.solver.whole import make_whole

STAMP = "SOURCE_DATE_EPOCH"
"""Environment variable that makes runs reproducible; if it is set, seconds are reported as 0."""


@dataclass(frozen=True, slots=True)
class Solved:
    """A solved scenario: its program, continuous optimum, plan's solution and priced program."""

    program: Program
    compiled: Compiled
    continuous: Solution
    solution: Solution
    """The plan's solution: whole trays if asked for, else the continuous solution."""
    bound: float
    """Proved lower bound on the cost of any plan, in currency."""
    priced_in: Compiled
    """The program with the plan's lumpy decisions (``HELD``) held; it gives the shadow prices."""
    priced: Solution
    """Optimum of ``priced_in``."""
    highs: Any
    """HiGHS where it stands at the optimum of ``priced_in``."""
    seconds: dict[str, float]
    replanned: bool = False
    """Whether jobs of a last plan may stay although nobody needs them."""
    seasons: int = 0
    """Sampled seasons that the plan is best over: it may grow plants to spare. 0: the expected season."""
    fillings: Mapping[str, Filling] = field(default_factory=dict)
    """What is known of filling the orders that are short only in whole trays, by order."""

    @property
    def whole(self) -> bool:
        """Whether the plan is in whole trays."""
        return self.solution is not self.continuous

    @property
    def values(self) -> Values:
        """The plan's values, without costless slack."""
        found = self.compiled.values(self.solution.columns)
        return Values(self.program, found, whole=self.whole, all_needed=self.all_needed)

    @property
    def all_needed(self) -> bool:
        """Whether somebody needs everything that is sown and joined."""
        return not (self.replanned or self.seasons)


@contextmanager
def _timed(seconds: dict[str, float], phase: str, progress: Say) -> Iterator[None]:
    progress(phase)
    start = time.perf_counter()
    yield
    seconds[phase] = time.perf_counter() - start


@cache
def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "not installed"


def _versions() -> dict[str, str]:
    return {"python": platform.python_version()} | {name: _version(name) for name in PACKAGES}


def solve(
    scenario: Scenario,
    *,
    whole: bool = True,
    near: Solved | None = None,
    expanded: Network | None = None,
    closed: Collection[str] = (),
    progress: Say = silent,
) -> Solved:
    """Solve a valid scenario for least cost; parameters and errors as ``plan``.

    ``near``: a solved scenario that differs in few orders, from whose optimum HiGHS starts, and, in books too
    large to be searched, from whose whole plan the dive does. ``expanded``: the scenario's network, where it
    has been made already. ``closed``: orders held at quantity 0, of which one at a time may be opened.
    """
    seconds: dict[str, float] = {}
    with collector_paused():
        with _timed(seconds, "expand", progress):
            network = expand(scenario) if expanded is None else expanded
        with _timed(seconds, "build", progress):
            program = build(network, closed)
            stated = state(program) if near is None else None
        with _timed(seconds, "compile", progress):
            compiled = _with_closed(compile_program(program) if stated is None else arrays(stated), closed)
        with _timed(seconds, "solve", progress):
            highs = solver(compiled)
            if near is None:
                start_afresh(highs)
            else:
                start_near(highs, program, compiled, _near(near))
            continuous = run(highs)
        if not whole:
            bound = continuous.objective
            return Solved(
                program, compiled, continuous, continuous, bound, compiled, continuous, highs, seconds
            )
        held = compiled.columns(HELD)
        if len(held):
            del highs
        with _timed(seconds, "whole trays", progress):
            known = None if near is None else _near(near)
            solution, bound, fillings = make_whole(program, compiled, continuous, progress, known)
        priced_in, priced = compiled, continuous
        if len(held):
            with _timed(seconds, "shadow prices", progress):
                priced_in = with_fixed(compiled, held, solution.columns[held])
                highs = solver(priced_in)
                priced = run(highs, start=continuous)
    return Solved(
        program,
        compiled,
        continuous,
        solution,
        bound,
        priced_in,
        priced,
        highs,
        seconds,
        fillings=fillings,
    )


def _near(solved: Solved) -> Near:
    return Near(solved.program, solved.compiled, solved.continuous, solved.solution, solved.bound)


def _with_closed(compiled: Compiled, closed: Collection[str]) -> Compiled:
    """The program with the quantity of some orders 0."""
    if not closed:
        return compiled
    rows = [compiled.rows["order"][name,] for name in closed]
    lower, upper = compiled.row_lower.copy(), compiled.row_upper.copy()
    lower[rows] = upper[rows] = 0.0
    return replace(compiled, row_lower=lower, row_upper=upper)


def plan_of(solved: Solved, *, progress: Say = silent) -> Plan:
    """The plan's tables and facts, without reasons of shortfalls (``explained``).

    Raises SolveError if the plan is cheaper than its proved bound.
    """
    program, compiled = solved.program, solved.compiled
    with collector_paused(), _timed(solved.seconds, "tables", progress):
        values = compiled.values(solved.solution.columns)
        tables = plan_tables(program, solved.values)
        tables["shadow_prices"] = shadow_prices(program, solved.priced_in, solved.priced, solved.highs)
        tables["trace"] = frame("trace", list(trace_rows(tables, told_lots(program, values))))
        reduced = solved.continuous.column_dual
        tables["ways"] = frame("ways", way_rows(program, tables, compiled, reduced))
        washed: dict[tuple[str, date], str] = {}
        if program.network.scenario.apart:
            washed = washed_apart(program, solved.values)
        found = jobs(program.network.scenario, tables, washed)
        tables["jobs"] = frame("jobs", job_rows(found))
        tables["job_crews"] = frame("job_crews", crew_rows(assigned(program.network.scenario, tables, found)))
    return Plan(facts_of(solved, float(tables["costs"]["amount"].sum())), **tables)


def facts_of(solved: Solved, objective: float | None = None) -> Facts:
    """The facts of a run; ``objective``: the sum of the plan's costs in currency, where they are told.

    Raises SolveError if the plan is cheaper than its proved bound.
    """
    program, compiled = solved.program, solved.compiled
    objective = solved.solution.objective if objective is None else objective
    bound = proved_bound(solved.bound, objective)
    rows, columns = compiled.matrix.shape
    return Facts(
        status="whole" if solved.whole else "optimal",
        whole=solved.whole,
        objective=objective,
        bound=bound,
        gap=(objective - bound) / abs(bound) if bound else 0.0,
        continuous_objective=solved.continuous.objective,
        dual_objective=dual_objective(compiled, solved.continuous),
        columns=columns,
        rows=rows,
        nonzeros=compiled.matrix.nnz,
        seconds=dict.fromkeys(solved.seconds, 0.0) if STAMP in os.environ else solved.seconds,
        versions=_versions(),
        input_hash=hashlib.sha256(repr(program.network.scenario).encode()).hexdigest(),
        replanned=solved.replanned,
        seasons=solved.seasons,
    )


def penalties_in(program: Program, compiled: Compiled, solution: Solution) -> float:
    """Penalties for plants short in a solution of the program, in currency."""
    short, terms = compiled.values(solution.columns)["short"].tolist(), program.network.orders
    return sum(float(term.penalty * max(plants, 0.0)) for term, plants in zip(terms, short, strict=True))


def explained(solved: Solved, made: Plan, *, progress: Say = silent) -> Plan:
    """The plan with the reason of each shortfall."""
    if not (made.orders["short"] > 0).any():
        return made
    progress("why orders are short")
    orders = say_why_short(solved.program, made.orders, lumpy_reasons(solved))
    return replace(made, orders=orders)


def lumpy_reasons(solved: Solved) -> dict[str, str]:
    """What is said of each order that the continuous program fills, where the plan leaves it short."""
    short = solved.compiled.values(solved.continuous.columns)["short"].tolist()
    unknown, cost = Filling(solved.bound), solved.solution.objective
    currency = solved.program.network.scenario.nursery.currency
    names = [term.order.order for term in solved.program.network.orders]
    kept = " (groups are kept apart)" if solved.program.apart.kept else ""
    return {
        name: lumpy(solved.fillings.get(name, unknown), cost, currency) + kept
        for name, plants in zip(names, short, strict=True)
        if plants <= FILLED
    }


def plan(scenario: Scenario, *, whole: bool = True, progress: Say = silent) -> Plan:
    """The plan of least cost for a valid scenario.

    With ``whole``, trays, packs, hands and plants bought are whole numbers; otherwise they may be fractional.
    ``progress`` is called with the name of each phase as it starts. The program is always feasible, as orders
    may be short. Raises SolveError if HiGHS reaches no optimum, or if the plan is cheaper than its proved
    bound.
    """
    solved = solve(scenario, whole=whole, progress=progress)
    return explained(solved, plan_of(solved, progress=progress), progress=progress)
