"""The stated program as arrays, and HiGHS run on them.

The Pyomo model is compiled to arrays and handed to HiGHS directly. Trials, re-plans and hedges make many
programs, which are compiled to the same arrays without a model. A fresh solver is made for every run, with
fixed seed and one thread, so that one scenario always gives one plan. Only an optimal result, or one within a
stated gap, ever reaches a plan.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import highspy
import numpy as np
import pyomo.core as pyo
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array, hstack, vstack

from model.collector import collector_paused
from model.program.build import GROUPS, Stated, total_cost
from model.program.index_sets import Coefs, Label
from model.program.program import Program

Floats = NDArray[np.float64]

PRICING, DEVEX = "simplex_dual_edge_weight_strategy", 1
"""HiGHS's option of the rule that chooses pivots, and the rule of approximate edge weights."""

FAILURES = (
    highspy.HighsModelStatus.kPresolveError,
    highspy.HighsModelStatus.kPostsolveError,
    highspy.HighsModelStatus.kUnknown,
)
"""HiGHS now and then cannot carry a presolved optimum back, or loses its way from a basis close by."""

ITERATION_LIMIT = highspy.HighsModelStatus.kIterationLimit
"""HiGHS's word for a run that took as many pivots as it may."""

STOPPED = highspy.HighsModelStatus.kInterrupt
"""HiGHS's word for a search that was told to stop."""

LIMIT, NO_LIMIT = "simplex_iteration_limit", 2**31 - 1
"""HiGHS's option of the most pivots, and its default."""

AGAIN = ({"presolve": "choose", LIMIT: NO_LIMIT}, {"presolve": "off", PRICING: DEVEX})
"""Options with which HiGHS then starts again from no basis. Presolve often sees that a program has no
solution, where exact edge weights without presolve may turn in a circle for ever."""

FEW_PIVOTS, FEW_PIVOTS_A_ROW = 500, 0.2
"""Pivots from a basis close by, at most: the larger of a number, and of a number for each row. Mostly half
of that is enough; where the program has no solution and HiGHS does not see it, many thousands are not."""

MANY_ROWS = 20_000
"""Rows from which on approximate edge weights are faster from the start too: by a quarter at 55,000."""

EXACT = {"mip_rel_gap": 1e-9, "mip_abs_gap": 1e-9, "mip_max_nodes": 5000}
"""How far HiGHS goes in mixed-integer programs: by nodes, never by time, so that plans repeat."""

PART = EXACT | {"mip_max_nodes": 200}
"""The same for a part of a book."""

LEAST_EFFORT = 3e9
"""Effort for the searches of any book, however small: some sixty seconds; nodes end most long before."""

SOLVES = 5.0
"""Effort for the searches of a large book, in solves of its continuous program."""

SOLVE_ROWS = 30.0
"""A solve of the continuous program is so much effort for each entry of its matrix: one for so many rows."""

ROOT = 25.0
"""Effort of a question before the first branch, for each after it: rounds of cuts take so much longer."""

ENTRIES = 30_000
"""Entries of the matrix that take as long as what a question takes in the smallest program."""

INTERIOR = 1e-4
"""Share of the cost, and amount, by which a solution of the interior point method may be off."""

TOO_DEAR = "Bound on objective reached"
"""What HiGHS says where the cost must lie above its option ``objective_bound``."""

SOLVING = "solving"
"""Name of the thread in which HiGHS runs."""

WAIT = 0.5
"""Seconds between two looks for Ctrl-C, on systems where waiting does not hear it."""


class SolveError(Exception):
    """HiGHS did not reach an optimum; ``status`` says what it reached."""

    def __init__(self, status: str) -> None:
        what = {
            "Infeasible": ": what the progress tells cannot be carried on within the limits from today; "
            "correct it, or write more slots or hours into zone_days or crew_days",
        }
        super().__init__(f"no plan: the solver stopped with status {status!r}{what.get(status, '')}")
        self.status = status


CLOSE_TO_BOUND = 1e-6
"""Share by which, or by 1e-4 if that is more, rounding may leave a cost below its proved bound."""


class BelowBound(SolveError):
    """A plan is cheaper than its proved bound, so that one of the two is wrong."""

    def __init__(self, cost: float, bound: float) -> None:
        super().__init__("BelowBound")
        self.args = (
            f"no plan: its cost of {cost:,.4f} lies below {bound:,.4f}, the proved least; this is a fault of "
            "the program, not of the scenario",
        )


def within(bound: float, cost: float) -> bool:
    """Whether a bound lies above a plan's cost by no more than rounding explains; both in currency."""
    return bound - cost <= max(1e-4, CLOSE_TO_BOUND * max(abs(bound), abs(cost)))


def proved_bound(bound: float, cost: float) -> float:
    """The proved bound of a plan's cost, no higher than the cost; both in currency.

    Raises BelowBound where the cost lies below the bound by more than rounding explains.
    """
    if not within(bound, cost):
        raise BelowBound(cost, bound)
    return min(bound, cost)


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
    """Column of each index of each variable, by name; -1 where it stands in no row and no cost."""
    rows: dict[str, dict[Label, int]]
    """For each constraint group the row of each label."""

    def columns(self, names: tuple[str, ...]) -> NDArray[np.intp]:
        """Columns of the variables of these names."""
        some = [self.position[name] for name in names if len(self.position[name])]
        found = np.concatenate(some) if some else np.empty(0, dtype=np.intp)
        return found[found >= 0]

    def vector(self, coefs: Coefs) -> Floats:
        """Coefficients of variables over the columns; a variable without a column is left out."""
        vector = np.zeros(len(self.cost) + 1)
        for (name, n), coef in coefs.items():
            vector[self.position[name][n]] += coef
        return vector[:-1]

    def values(self, columns: Floats) -> dict[str, Floats]:
        """Values of the variables by name; a variable without a column is 0."""
        padded = np.append(columns, 0.0)
        return {name: padded[position] for name, position in self.position.items()}


@dataclass(frozen=True, slots=True)
class Solution:
    """What HiGHS found: values, duals of rows and columns (change of cost per unit), objective, and basis."""

    columns: Floats
    row_dual: Floats
    column_dual: Floats
    objective: float
    bound: float
    basis: Any


class _Lines:
    """Entries of the cost, which comes first, and of rows, as they are added."""

    def __init__(self) -> None:
        self._coefs, self._numbers, self._ends = list[float](), list[int](), [0]
        self._lower, self._upper = list[float](), list[float]()
        self._rows: dict[str, dict[Label, int]] = {}

    def add(self, numbers: Iterable[int], coefs: Iterable[float]) -> None:
        """Add the coefficients of the cost, or of a row, by number of the variable's member."""
        self._coefs.extend(coefs)
        self._numbers.extend(numbers)
        self._ends.append(len(self._coefs))

    def add_row(
        self,
        at: tuple[str, Label],
        numbers: Iterable[int],
        coefs: Collection[float],
        lower: float | None,
        upper: float | None,
    ) -> None:
        """Add the row of a group and label; one without entries that holds is left out."""
        if not any(coefs) and (lower or 0.0) <= 0.0 <= (upper or 0.0):
            return
        self._rows.setdefault(at[0], {})[at[1]] = len(self._lower)
        self.add(numbers, coefs)
        self._lower.append(-np.inf if lower is None else lower)
        self._upper.append(np.inf if upper is None else upper)

    def compiled(self, counts: dict[str, int], lower: Floats, upper: Floats, offset: float) -> Compiled:
        """The arrays; ``counts``: members of each variable; their bounds are by number of the member."""
        numbers = np.array(self._numbers, dtype=np.int32)
        entries = np.array(self._coefs, dtype=float), numbers, np.array(self._ends, dtype=np.int32)
        sizes = list(counts.values())
        taken = _in_order_of_use(numbers, entries[0], sizes)
        position = np.full(len(lower), -1, dtype=np.intp)
        position[taken] = np.arange(len(taken))
        matrix = csr_array(entries, shape=(len(self._lower) + 1, len(lower))).tocsc()[:, taken]
        matrix.eliminate_zeros()
        return Compiled(
            csc_array(matrix[1:]),
            np.array(self._lower, dtype=float),
            np.array(self._upper, dtype=float),
            lower[taken],
            upper[taken],
            matrix[[0]].toarray().ravel(),
            offset,
            dict(zip(counts, np.split(position, np.cumsum(sizes)[:-1]), strict=True)),
            self._rows,
        )


@collector_paused()
def compile_program(program: Program) -> Compiled:
    """Arrays of the program, from its rows and cost themselves: the same as those of its Pyomo model.

    For the many programs of trials, re-plans and hedges, whose models nobody would read.
    """
    first, lower, upper = dict[str, int](), list[float](), list[float]()
    for name in program.labels:
        first[name] = len(lower)
        least, most = program.bounds(name)
        lower.extend(least)
        upper.extend(np.inf if bound is None else bound for bound in most)

    def numbers(coefs: Coefs) -> list[int]:
        return [first[name] + n for name, n in coefs]

    lines, (total, constant) = _Lines(), total_cost(program)
    lines.add(numbers(total), total.values())
    for group, rows_of in GROUPS.items():
        for label, (coefs, low, high) in rows_of(program).items():
            lines.add_row((group, label), numbers(coefs), coefs.values(), low, high)
    return lines.compiled(program.counts, np.array(lower), np.array(upper), float(constant))


def arrays(stated: Stated) -> Compiled:
    """Arrays of a stated program, rows of each group in order. The stated program is let go.

    Variables come as they first occur in the cost and the rows, each with all its indices in order; indices
    that occur nowhere are left out, as are rows without entries that hold. Pyomo's compiler to standard form
    makes the same arrays, but takes half as long again: it reckons with rows that are not linear.
    """
    members = [member for variable in stated.variables.values() for member in variable]
    number = {id(member): n for n, member in enumerate(members)}

    def numbers(body: Any) -> Iterator[int]:
        return map(number.__getitem__, map(id, body.linear_vars))

    lines, total = _Lines(), stated.model.cost.expr
    lines.add(numbers(total), total.linear_coefs)
    for group in stated.model.component_objects(pyo.Constraint):
        for label, row in group.items():
            lower, body, upper = row.to_bounded_expression()
            at = group.name, label if isinstance(label, tuple) else (label,)
            lines.add_row(at, numbers(body), body.linear_coefs, lower, upper)
    compiled = lines.compiled(
        {name: len(variable) for name, variable in stated.variables.items()},
        np.array([variable.lb for variable in members], dtype=float),
        np.array([np.inf if variable.ub is None else variable.ub for variable in members], dtype=float),
        float(total.constant),
    )
    stated.let_go()
    return compiled


def _in_order_of_use(numbers: NDArray[np.int32], coefs: Floats, sizes: Sequence[int]) -> NDArray[np.intp]:
    """Numbers of the variables' members with coefficients, the variable that occurs first before others.

    ``sizes``: members of each variable.
    """
    variable = np.repeat(np.arange(len(sizes)), sizes)
    _, first = np.unique(variable[numbers], return_index=True)
    rank = np.full(len(sizes), len(sizes))
    rank[variable[numbers[np.sort(first)]]] = np.arange(len(first))
    used = np.unique(numbers[coefs != 0])
    ordered: NDArray[np.intp] = used[np.argsort(rank[variable[used]], kind="stable")]
    return ordered


class _QuietHighs(highspy.Highs):
    """HiGHS that says nothing; it would print a banner when its callbacks are set up."""

    def enableCallbacks(self) -> None:  # noqa: N802
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


def solver(compiled: Compiled, whole: NDArray[np.intp] | None = None, **options: Any) -> Any:
    """A fresh HiGHS with the compiled program; columns ``whole`` integer. Options must exist."""
    rows, columns = compiled.matrix.shape
    kinds = np.full(columns, int(highspy.HighsVarType.kContinuous), dtype=np.int32)
    if whole is not None:
        kinds[whole] = int(highspy.HighsVarType.kInteger)
    highs: Any = _QuietHighs()  # type: ignore[no-untyped-call]
    for name, value in {"threads": 1, "random_seed": 0, **options}.items():
        if highs.setOptionValue(name, value) != highspy.HighsStatus.kOk:
            raise ValueError(f"HiGHS has no option {name} that may be {value!r}")
    passed = highs.passModel(
        columns,
        rows,
        compiled.matrix.nnz,
        int(highspy.MatrixFormat.kColwise),
        int(highspy.ObjSense.kMinimize),
        compiled.offset,
        compiled.cost,
        compiled.lower,
        compiled.upper,
        compiled.row_lower,
        compiled.row_upper,
        compiled.matrix.indptr,
        compiled.matrix.indices,
        compiled.matrix.data,
        kinds,
    )
    if passed == highspy.HighsStatus.kError:
        raise SolveError("model refused")
    return highs


def _run(highs: Any) -> None:
    """Run HiGHS so that Ctrl-C is heard meanwhile: in a thread beside the main one, which waits for it.

    A run that is stopped so goes on in its thread, unheard, until the process ends.
    """
    if threading.current_thread() is not threading.main_thread():
        highs.run()
        return
    raised: list[BaseException] = []

    def beside() -> None:
        try:
            highs.run()
        except BaseException as error:
            raised.append(error)

    thread = threading.Thread(target=beside, name=SOLVING, daemon=True)
    thread.start()
    while thread.is_alive():
        thread.join(WAIT)
    if raised:
        raise raised[0]


def start_from(highs: Any, start: Solution) -> None:
    """Let HiGHS start from the basis of a solution, for the few iterations to a solution close by.

    ``start`` may have rows that the program of ``highs`` has not, after those that it has. Approximate edge
    weights (Devex) do for so few iterations: the exact ones would first be worked out for each row.
    """
    basis, rows = start.basis, highs.getNumRow()
    if len(start.row_dual) > rows:
        basis = highspy.HighsBasis()
        basis.col_status, basis.row_status = start.basis.col_status, start.basis.row_status[:rows]
        basis.valid = basis.alien = True  # HiGHS completes it where a row that is gone was in it
    highs.setBasis(basis)
    highs.setOptionValue(PRICING, DEVEX)


def limit_pivots(highs: Any) -> None:
    """Let ``run`` start again from no basis where HiGHS loses its way from one close by."""
    highs.setOptionValue(LIMIT, max(FEW_PIVOTS, int(FEW_PIVOTS_A_ROW * highs.getNumRow())))


def start_afresh(highs: Any) -> None:
    """Choose the rule of pivots for the way from no basis to an optimum."""
    if highs.getNumRow() >= MANY_ROWS:
        highs.setOptionValue(PRICING, DEVEX)


def run(highs: Any, *, stopped_early: bool = False, start: Solution | None = None) -> Solution:
    """Solve; the result must be optimal, or, if it may have ``stopped_early``, feasible.

    ``start``: an optimum of the same program with other bounds or costs, whose basis is where HiGHS starts.
    Raises SolveError otherwise.
    """
    if start is not None:
        start_from(highs, start)
        limit_pivots(highs)
    _run(highs)
    status = highs.getModelStatus()
    for options in AGAIN:
        if status not in FAILURES and (stopped_early or status != ITERATION_LIMIT):
            break
        for name, value in options.items():
            highs.setOptionValue(name, value)
        highs.clearSolver()
        _run(highs)
        status = highs.getModelStatus()
    info = highs.getInfo()
    fine = {highspy.HighsModelStatus.kOptimal}
    if stopped_early and info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        fine |= {highspy.HighsModelStatus.kSolutionLimit, ITERATION_LIMIT, STOPPED}
    if status not in fine:
        raise SolveError(highs.modelStatusToString(status))
    solution = highs.getSolution()
    return Solution(
        np.array(solution.col_value),
        np.array(solution.row_dual),
        np.array(solution.col_dual),
        info.objective_function_value,
        info.mip_dual_bound if info.mip_node_count >= 0 else info.objective_function_value,
        highs.getBasis(),
    )


class Effort:
    """What the mixed-integer searches of a book may still take together: work, not time; so plans repeat.

    Limits of nodes leave out cuts and heuristics before the first branch, which may take most of a search.
    HiGHS asks whether it is to stop after each round of cuts, and each solve of a node or of a heuristic;
    a question counts as effort by the entries of the matrix.
    """

    def __init__(self, compiled: Compiled) -> None:
        """``compiled``: the program of the whole book."""
        solve = compiled.matrix.shape[0] / SOLVE_ROWS * compiled.matrix.nnz
        self.left = max(LEAST_EFFORT, SOLVES * solve)

    def search(self, highs: Any, share: float) -> Solution:
        """The best whole solution, with its bound, that HiGHS finds within a share of the effort left.

        Raises SolveError where it finds none.
        """
        most, each, spent = share * self.left, highs.getNumNz() + ENTRIES, 0.0

        def asked(question: Any) -> None:
            nonlocal spent
            spent += each if question.data_out.mip_node_count > 0 else ROOT * each
            if spent > most:
                question.interrupt()

        highs.cbMipInterrupt.subscribe(asked)
        try:
            return run(highs, stopped_early=True)
        finally:
            self.left = max(0.0, self.left - spent)


def run_interior(compiled: Compiled) -> Solution:
    """An optimum to within ``INTERIOR`` by the interior point method, without a basis.

    Quicker than the simplex method in large programs that fall apart but for a few columns. HiGHS may call
    the status unknown where a single dual is off after presolve; so the solution is judged by its residuals.
    Solved as ``run`` does where these are too large.
    """
    highs = solver(compiled, None, solver="ipm", run_crossover="off", kkt_tolerance=INTERIOR)
    _run(highs)
    info, found = highs.getInfo(), highs.getSolution()
    near = info.max_primal_infeasibility <= INTERIOR and info.primal_dual_objective_error <= INTERIOR
    if not (found.value_valid and found.dual_valid and near):
        return run(solver(compiled))
    cost = info.objective_function_value
    columns, row_dual, column_dual = (np.array(v) for v in (found.col_value, found.row_dual, found.col_dual))
    return Solution(columns, row_dual, column_dual, cost, cost, highs.getBasis())


def dual_objective(compiled: Compiled, solution: Solution) -> float:
    """Value of the dual solution: each dual times the bound that it prices.

    Equal to the primal objective at an optimum; not finite where a dual prices a bound that is not there by
    more than the solver's tolerance for duals, or 1e-9 of the largest cost.
    """
    total = compiled.offset
    noise = max(1e-7, 1e-9 * float(np.abs(compiled.cost).max(initial=0.0)))
    for dual, lower, upper in (
        (solution.row_dual, compiled.row_lower, compiled.row_upper),
        (solution.column_dual, compiled.lower, compiled.upper),
    ):
        bound = np.where(dual > 0, lower, upper)
        priced = np.abs(dual) > np.where(np.isfinite(bound), 1e-9, noise)
        total += float(np.sum(dual[priced] * bound[priced]))
    return total


def with_fixed(compiled: Compiled, columns: NDArray[np.intp], values: Floats) -> Compiled:
    """The program with some columns fixed."""
    lower, upper = compiled.lower.copy(), compiled.upper.copy()
    lower[columns] = upper[columns] = values
    return replace(compiled, lower=lower, upper=upper)


def with_rows(compiled: Compiled, rows: Any, lower: Floats, upper: Floats) -> Compiled:
    """The program with rows at its end: a matrix, dense or sparse, and their bounds."""
    return replace(
        compiled,
        matrix=csc_array(vstack([compiled.matrix, csc_array(rows)])),
        row_lower=np.append(compiled.row_lower, lower),
        row_upper=np.append(compiled.row_upper, upper),
    )


def with_columns(compiled: Compiled, columns: Any, upper: float, cost: Floats) -> Compiled:
    """The program with columns from 0 to ``upper`` at its end: their entries in its rows, and cost."""
    count = columns.shape[1]
    return replace(
        compiled,
        matrix=csc_array(hstack([compiled.matrix, csc_array(columns)])),
        lower=np.append(compiled.lower, np.zeros(count)),
        upper=np.append(compiled.upper, np.full(count, upper)),
        cost=np.append(compiled.cost, cost),
    )
