"""From the stated program to a plan: compile, solve with HiGHS, make whole, price.

The Pyomo model is compiled to arrays and handed to HiGHS directly. A fresh solver is made for every
run, with fixed seed and one thread, so that one scenario always gives one plan. Only an optimal
result, or one within a stated gap, ever reaches a plan.
"""

from __future__ import annotations

import hashlib
import platform
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import highspy
import numpy as np
from numpy.typing import NDArray
from pyomo.repn.plugins.standard_form import LinearStandardFormCompiler
from scipy.sparse import csc_array

from model.diagnose import say_why_short
from model.entities import Scenario
from model.network import expand
from model.plan import Facts, Plan
from model.prices import shadow_prices
from model.program import build, collector_paused
from model.results import plan_tables
from model.sets import HELD, LUMPY, WHOLE, Label, Program

Floats = NDArray[np.float64]

SMALL_BOOK = 150
"""Programs of at most so many waves are made whole in one step, over all waves, to optimality."""

EXACT = {"mip_rel_gap": 1e-9, "mip_abs_gap": 1e-9, "mip_max_nodes": 20_000}
STEPS = {
    "hands": {"mip_rel_gap": 1e-4, "mip_max_nodes": 50},
    "plants": {"mip_rel_gap": 1e-4, "mip_max_nodes": 50},
    "packs": {"mip_rel_gap": 1e-6, "mip_max_nodes": 10_000},
}
"""Where each step of a larger book stops: by nodes, never by time, so that plans repeat."""

RAISED = 0.34
"""Share of the waves still in parts that one round of the dive makes whole."""


class SolveError(Exception):
    """HiGHS did not reach an optimum; ``status`` says what it reached."""

    def __init__(self, status: str) -> None:
        super().__init__(f"no plan: the solver stopped with status {status!r}")
        self.status = status


@dataclass(frozen=True, slots=True)
class Compiled:
    """The program as arrays: lower ≤ A · v ≤ upper rows, bounds and cost of columns."""

    matrix: csc_array
    row_lower: Floats
    row_upper: Floats
    lower: Floats
    upper: Floats
    cost: Floats
    offset: float
    position: dict[str, NDArray[np.intp]]
    """For each letter the column of each of its variables; -1 where it stands in no row and no cost."""
    rows: dict[str, dict[Label, int]]
    """For each constraint group the row of each label."""

    def columns(self, letters: tuple[str, ...]) -> NDArray[np.intp]:
        """Columns of all variables of these letters."""
        some = [self.position[letter] for letter in letters if len(self.position[letter])]
        found = np.concatenate(some) if some else np.empty(0, dtype=np.intp)
        return found[found >= 0]

    def values(self, columns: Floats) -> dict[str, Floats]:
        """Values of the variables by letter; a variable without a column is 0."""
        padded = np.append(columns, 0.0)
        return {letter: padded[position] for letter, position in self.position.items()}


@dataclass(frozen=True, slots=True)
class Solution:
    """What HiGHS found: values, duals of rows and columns (change of cost per unit), and the objective."""

    columns: Floats
    row_dual: Floats
    column_dual: Floats
    objective: float
    bound: float
    highs: Any


def compile_program(program: Program) -> Compiled:
    """Arrays of the program by Pyomo's standard form compiler, rows of each group in order."""
    form = LinearStandardFormCompiler().write(program.model, mixed_form=True, set_sense=None)
    matrix = csc_array(form.A)
    count = matrix.shape[0]
    row_lower, row_upper = np.full(count, -np.inf), np.full(count, np.inf)
    rows: dict[str, dict[Label, int]] = {}
    for n, (entry, rhs) in enumerate(zip(form.rows, form.rhs, strict=True)):
        constraint, sense = entry
        if sense <= 0:
            row_lower[n] = rhs
        if sense >= 0:
            row_upper[n] = rhs
        label = constraint.index()
        group = rows.setdefault(constraint.parent_component().name, {})
        group[label if isinstance(label, tuple) else (label,)] = n
    column = {id(variable): n for n, variable in enumerate(form.columns)}
    upper = [np.inf if variable.ub is None else variable.ub for variable in form.columns]
    return Compiled(
        matrix,
        row_lower,
        row_upper,
        np.zeros(len(form.columns)),
        np.array(upper, dtype=float),
        np.asarray(form.c.todense(), dtype=float).ravel(),
        float(form.c_offset[0]),
        {
            letter: np.array([column.get(id(variable), -1) for variable in variables], dtype=np.intp)
            for letter, variables in program.variables.items()
        },
        rows,
    )


class _QuietHighs(highspy.Highs):
    """HiGHS that says nothing; it would print a banner when its callbacks are set up."""

    def enableCallbacks(self) -> None:  # noqa: N802
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


def solver(compiled: Compiled, whole: NDArray[np.intp] | None = None, **options: Any) -> Any:
    """A fresh HiGHS with the compiled program; columns ``whole`` integer. Options must exist."""
    lp = highspy.HighsLp()
    lp.num_row_, lp.num_col_ = compiled.matrix.shape
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = compiled.cost, compiled.lower, compiled.upper
    lp.row_lower_, lp.row_upper_ = compiled.row_lower, compiled.row_upper
    lp.offset_ = compiled.offset
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = compiled.matrix.indptr
    lp.a_matrix_.index_ = compiled.matrix.indices
    lp.a_matrix_.value_ = compiled.matrix.data
    if whole is not None and len(whole):
        kinds = np.full(lp.num_col_, highspy.HighsVarType.kContinuous)
        kinds[whole] = highspy.HighsVarType.kInteger
        lp.integrality_ = kinds.tolist()
    highs: Any = _QuietHighs()  # type: ignore[no-untyped-call]
    for name, value in {"threads": 1, "random_seed": 0, **options}.items():
        if highs.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise ValueError(f"HiGHS has no option {name} that may be {value!r}")
    if highs.passModel(lp) == highspy.HighsStatus.kError:
        raise SolveError("model refused")
    return highs


def run(highs: Any, *, stopped_early: bool = False) -> Solution:
    """Solve; the result must be optimal, or, if it may have ``stopped_early``, feasible.

    Raises SolveError otherwise.
    """
    highs.run()
    status = highs.getModelStatus()
    info = highs.getInfo()
    fine = {highspy.HighsModelStatus.kOptimal}
    if stopped_early and info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        fine |= {highspy.HighsModelStatus.kSolutionLimit, highspy.HighsModelStatus.kIterationLimit}
    if status not in fine:
        raise SolveError(highs.modelStatusToString(status))
    solution = highs.getSolution()
    return Solution(
        np.array(solution.col_value),
        np.array(solution.row_dual),
        np.array(solution.col_dual),
        info.objective_function_value,
        info.mip_dual_bound if info.mip_node_count >= 0 else info.objective_function_value,
        highs,
    )


def dual_objective(compiled: Compiled, solution: Solution) -> float:
    """Value of the dual solution: each dual times the bound that it prices.

    Equal to the primal objective at an optimum; not finite where a dual prices a bound that is not there.
    """
    total = compiled.offset
    for dual, lower, upper in (
        (solution.row_dual, compiled.row_lower, compiled.row_upper),
        (solution.column_dual, compiled.lower, compiled.upper),
    ):
        priced = np.abs(dual) > 1e-9
        bound = np.where(dual > 0, lower, upper)
        total += float(np.sum(dual[priced] * bound[priced]))
    return total


def with_fixed(compiled: Compiled, columns: NDArray[np.intp], values: Floats) -> Compiled:
    """The program with some columns fixed."""
    lower, upper = compiled.lower.copy(), compiled.upper.copy()
    lower[columns] = upper[columns] = values
    return replace(compiled, lower=lower, upper=upper)


def _mixed(compiled: Compiled, whole: tuple[str, ...], options: dict[str, Any]) -> Solution:
    """The program with the variables of these letters whole."""
    highs = solver(compiled, compiled.columns(whole), mip_feasibility_tolerance=1e-9, **options)
    return run(highs, stopped_early=True)


def _given(compiled: Compiled, letters: tuple[str, ...], solution: Solution) -> Compiled:
    """The program with the whole variables of these letters fixed as in the solution."""
    columns = compiled.columns(letters)
    return with_fixed(compiled, columns, np.round(solution.columns[columns]))


def _filled(compiled: Compiled, solution: Solution) -> Compiled:
    """The program in which no order may be short that is not short in the solution."""
    columns = compiled.columns(("s",))
    full = columns[solution.columns[columns] <= 1e-6]
    return with_fixed(compiled, full, np.zeros(len(full)))


def _dive(compiled: Compiled) -> Solution:
    """Waves of whole trays, found by a dive.

    Each round raises the least of the waves nearest above a whole number of trays to that number and
    solves again from where it stood; the others fall or rise on their own. Ends when all are whole.
    """
    highs, columns = solver(compiled), compiled.columns(("x",))
    while True:
        found = run(highs)
        trays = found.columns[columns]
        part = np.where(np.abs(trays - np.round(trays)) < 1e-6, 0.0, trays % 1.0)
        open_ = np.flatnonzero(part)
        if not len(open_):
            return found
        order = open_[np.argsort(-part[open_], kind="stable")]
        chosen = order[: max(1, int(len(order) * RAISED))]
        raised = columns[chosen].astype(np.int32)
        highs.changeColsBounds(len(raised), raised, np.ceil(trays[chosen]), compiled.upper[raised])


def _whole_trays(compiled: Compiled, hands: Solution) -> Solution:
    """Whole trays, then whole plants bought and short, with the hands, units and waves given."""
    given = _given(compiled, ("M", "A", "N", "O"), hands)
    waves = _dive(given)
    return _mixed(_given(given, ("x",), waves), ("B", "b", "s"), STEPS["plants"])


def make_whole(program: Program, compiled: Compiled, continuous: Solution) -> tuple[Solution, float]:
    """A solution with whole trays, packs, hands and plants bought, and a proved lower bound of any.

    A small book is solved as one mixed-integer program. In a larger one the lumpy decisions are made
    whole first (the least cost of that is a bound), then the trays by a dive, then, these given,
    plants bought and short; packs last, since nothing else depends on them. An order that the first
    step fills stays filled where that can be.
    """
    if len(program.network.waves) <= SMALL_BOOK:
        best = _mixed(compiled, WHOLE, EXACT)
        bound = max(continuous.objective, best.bound)
    else:
        hands = _mixed(compiled, LUMPY, STEPS["hands"]) if len(compiled.columns(LUMPY)) else continuous
        bound = max(continuous.objective, hands.bound)
        try:
            plants = _whole_trays(_filled(compiled, hands), hands)
        except SolveError:
            plants = _whole_trays(compiled, hands)
        but_packs = tuple(letter for letter in WHOLE if letter != "P")
        best = _mixed(_given(compiled, but_packs, plants), ("P",), STEPS["packs"])
    return run(solver(_given(compiled, WHOLE, best))), bound


@contextmanager
def _timed(seconds: dict[str, float], phase: str, progress: Callable[[str], None] | None) -> Iterator[None]:
    if progress is not None:
        progress(phase)
    start = time.perf_counter()
    yield
    seconds[phase] = time.perf_counter() - start


def _versions() -> dict[str, str]:
    found = {"python": platform.python_version()}
    for name in ("graftwright", "pyomo", "highspy", "numpy", "pandas"):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def plan(scenario: Scenario, *, whole: bool = True, progress: Callable[[str], None] | None = None) -> Plan:
    """The plan of least cost for a valid scenario.

    ``whole`` makes trays, packs, hands and plants bought whole; otherwise they may be parts.
    ``progress`` is told the name of each phase as it starts. Raises SolveError where HiGHS reaches no
    optimum (the program is always feasible: what cannot be done is short).
    """
    with collector_paused():
        return _plan(scenario, whole, progress)


def _plan(scenario: Scenario, whole: bool, progress: Callable[[str], None] | None) -> Plan:
    seconds: dict[str, float] = {}
    with _timed(seconds, "expand", progress):
        network = expand(scenario)
    with _timed(seconds, "build", progress):
        program = build(network)
    with _timed(seconds, "compile", progress):
        compiled = compile_program(program)
    with _timed(seconds, "solve", progress):
        continuous = run(solver(compiled))
    solution, priced, bounds, bound = continuous, continuous, compiled, continuous.objective
    if whole:
        with _timed(seconds, "whole trays", progress):
            solution, bound = make_whole(program, compiled, continuous)
        held = compiled.columns(HELD)
        if len(held):
            with _timed(seconds, "shadow prices", progress):
                bounds = with_fixed(compiled, held, solution.columns[held])
                priced = run(solver(bounds))
    with _timed(seconds, "tables", progress):
        tables = plan_tables(program, compiled.values(solution.columns))
        tables["shadow_prices"] = shadow_prices(program, bounds, priced)
        tables["orders"] = say_why_short(program, tables["orders"], tables["shadow_prices"])
    objective = float(tables["costs"]["amount"].sum())
    bound = min(bound, objective)
    facts = Facts(
        "optimal" if not whole else "whole",
        whole,
        objective,
        bound,
        (objective - bound) / abs(bound) if bound else 0.0,
        continuous.objective,
        dual_objective(compiled, continuous),
        compiled.matrix.shape[1],
        compiled.matrix.shape[0],
        compiled.matrix.nnz,
        seconds,
        _versions(),
        hashlib.sha256(repr(scenario).encode()).hexdigest(),
    )
    return Plan(facts, **tables)
