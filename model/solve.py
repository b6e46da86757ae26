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
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import highspy
import numpy as np
from numpy.typing import NDArray
from pyomo.repn.plugins.standard_form import LinearStandardFormCompiler
from scipy.sparse import csc_array, csr_array

from model.diagnose import say_why_short
from model.entities import Scenario
from model.network import expand
from model.plan import Facts, Plan
from model.prices import shadow_prices
from model.program import build, collector_paused
from model.results import plan_tables
from model.sets import HELD, WHOLE, Label, Program

Floats = NDArray[np.float64]

SMALL_BOOK = 60
"""In programs of at most so many waves the dive's solution is improved upon, mostly to the optimum."""

EXACT = {"mip_rel_gap": 1e-9, "mip_abs_gap": 1e-9, "mip_max_nodes": 5000}
"""How far HiGHS goes in mixed-integer programs: by nodes, never by time, so that plans repeat."""

PRESOLVE_FAILURES = (
    highspy.HighsModelStatus.kPresolveError,
    highspy.HighsModelStatus.kPostsolveError,
    highspy.HighsModelStatus.kUnknown,
)
"""HiGHS now and then cannot carry a presolved optimum back; it then solves again without presolve."""

DIVE = (("M", "N", "B", "O"), ("x",), ("b", "s"))
"""Variables that the dive makes whole, in this order; new hands follow from hands."""

RAISED = 0.34
"""Share of the variables still in parts that one round of the dive makes whole."""


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
    if status in PRESOLVE_FAILURES:
        highs.setOptionValue("presolve", "off")
        highs.clearSolver()
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
    """A solution whole in all but packs, found by a dive, one group of variables after the other.

    Each round raises those of the group that lie closest below a whole number to that number and solves
    again from where it stood; the others fall or rise on their own. Where there is no room for so many,
    half of them are raised, and one alone without room is lowered. A group that is whole stays as it is.
    Raises SolveError where no solution is left.
    """
    highs = solver(compiled)
    found = run(highs)
    lower, upper = compiled.lower.copy(), compiled.upper.copy()

    def bound(columns: NDArray[np.intp], low: Floats, high: Floats) -> None:
        lower[columns], upper[columns] = low, high
        highs.changeColsBounds(len(columns), columns.astype(np.int32), low, high)

    for letters in DIVE:
        columns = compiled.columns(letters)
        share = RAISED
        while len(open_ := _in_parts(found.columns[columns])):
            chosen = columns[open_[: max(1, int(len(open_) * share))]]
            before = lower[chosen].copy(), upper[chosen].copy()
            bound(chosen, np.ceil(found.columns[chosen]), before[1])
            try:
                found = run(highs)
            except SolveError:
                bound(chosen, *before)
                share /= 2
                if len(chosen) == 1:
                    bound(chosen, before[0], np.floor(found.columns[chosen]))
                    found = run(highs)
        settled = np.round(found.columns[columns])
        bound(columns, settled, settled)
    return found


def _pay_for_sown(compiled: Compiled, solution: Solution) -> Solution:
    """The solution with the fixed cost of those waves only that have trays."""
    opened, trays = compiled.position["O"], compiled.position["x"]
    if not len(opened):
        return solution
    columns = solution.columns.copy()
    columns[opened] = columns[trays] > 0.5
    return replace(solution, columns=columns)


def _in_parts(values: Floats) -> NDArray[np.intp]:
    """Indices of the values that are not whole, those closest below a whole number first."""
    part = np.where(np.abs(values - np.round(values)) < 1e-6, 0.0, values % 1.0)
    order: NDArray[np.intp] = np.argsort(-part, kind="stable")
    return order[: np.count_nonzero(part)]


def _whole_packs(compiled: Compiled, solution: Solution) -> Solution:
    """The solution with its seed and supplies in the cheapest whole packs; nothing else depends on them."""
    columns = compiled.columns(("P",))
    rows = list(compiled.rows.get("packs", {}).values())
    if not len(columns) or not rows:
        return solution
    matrix = csr_array(compiled.matrix)[rows]
    others = solution.columns.copy()
    others[columns] = 0.0
    packs = replace(
        compiled,
        matrix=csc_array(matrix[:, columns]),
        row_lower=np.full(len(rows), -np.inf),
        row_upper=compiled.row_upper[rows] - matrix @ others,
        lower=compiled.lower[columns],
        upper=compiled.upper[columns],
        cost=compiled.cost[columns],
        offset=0.0,
    )
    others[columns] = run(solver(packs, np.arange(len(columns)), **EXACT), stopped_early=True).columns
    return replace(solution, columns=others)


def make_whole(program: Program, compiled: Compiled, continuous: Solution) -> tuple[Solution, float]:
    """A solution with whole trays, packs, hands and plants bought, and a proved lower bound of any.

    A dive makes hands, units, deliveries and fixed costs whole, then trays, then plants bought and short;
    packs come last. An order that the continuous program fills stays filled where that can be. In a
    small book a mixed-integer program improves on this, and often proves its optimum.
    """
    try:
        dived = _dive(_filled(compiled, continuous))
    except SolveError:
        dived = _dive(compiled)
    packed = _whole_packs(compiled, _pay_for_sown(compiled, dived))
    best = run(solver(_given(compiled, WHOLE, packed)))
    if len(program.network.waves) > SMALL_BOOK:
        return best, continuous.objective
    better = run(solver(compiled, compiled.columns(WHOLE), **EXACT), stopped_early=True)
    with suppress(SolveError):
        rounded = run(solver(_given(compiled, WHOLE, better)))
        best = min(best, rounded, key=lambda solution: solution.objective)
    return best, min(max(continuous.objective, better.bound), best.objective)


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
