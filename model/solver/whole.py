"""Whole trays, packs, hands and plants bought: a dive from the continuous optimum, then a search."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array

from model.phases import Say, part_of, silent
from model.program.program import Program
from model.program.variables import WHOLE
from model.solver.compiled import (
    Compiled,
    Floats,
    Solution,
    SolveError,
    proved_bound,
    run,
    solver,
    with_fixed,
)

SMALL_BOOK = 60
"""In programs of at most so many waves the dive's solution is improved upon, mostly to the optimum."""

EXACT = {"mip_rel_gap": 1e-9, "mip_abs_gap": 1e-9, "mip_max_nodes": 5000}
"""How far HiGHS goes in mixed-integer programs: by nodes, never by time, so that plans repeat."""

DIVE = (
    ("temporary_hands", "units_opened", "offer_taken", "wave_opened", "declined_whole"),
    ("sown",),
    ("bought", "short", "declined"),
)
"""Variables that the dive makes whole, in this order; new hands follow from hands."""

CLOSE = 0.005
"""Gap to the bound, as a share of it, above which a second dive is tried."""

RAISED = 0.34
"""Share of the variables still in parts that one round of the dive makes whole."""


def _given(compiled: Compiled, names: tuple[str, ...], solution: Solution) -> Compiled:
    """The program with the variables of these names fixed at the whole numbers nearest to the solution."""
    columns = compiled.columns(names)
    return with_fixed(compiled, columns, np.round(solution.columns[columns]))


def _filled(compiled: Compiled, solution: Solution) -> Compiled:
    """The program in which no order may be short that is not short in the solution."""
    columns = compiled.columns(("short",))
    full = columns[solution.columns[columns] <= 1e-6]
    return with_fixed(compiled, full, np.zeros(len(full)))


def _groups(program: Program, compiled: Compiled) -> list[NDArray[np.intp]]:
    """Columns of the groups in the order in which the dive makes them whole.

    Of the trays sown, those first whose plants no offer can replace: the last to be rounded find the
    least room, and should be those that a delivery can stand in for.
    """
    network = program.network
    offered = {buy_in.order for buy_in in network.buy_ins}
    irreplaceable = {delivery.flow for delivery in network.deliveries if delivery.order not in offered}
    alone = [any(network.joins[j].flow in irreplaceable for j in draws) for draws in network.draws]
    trays = compiled.position["sown"]
    groups = []
    for names in DIVE:
        if names == ("sown",):
            split = (trays[np.array(alone, dtype=bool)], trays[~np.array(alone, dtype=bool)])
            groups += [columns[columns >= 0] for columns in split]
        else:
            groups.append(compiled.columns(names))
    return groups


def _dive(compiled: Compiled, groups: list[NDArray[np.intp]], progress: Say) -> Solution:
    """A solution whole in all but packs, found by a dive, one group of columns after the other.

    Each round raises those of the group that lie closest below a whole number to that number and solves
    again from where it stood; the others fall or rise on their own. Where there is no room for so many,
    half of them are raised, and one alone without room is lowered. A group that is whole stays as it is.
    Raises SolveError where no solution is left.
    """
    highs = solver(compiled)
    found = run(highs)
    lower, upper = compiled.lower.copy(), compiled.upper.copy()
    numbers = sum(map(len, groups))

    def bound(columns: NDArray[np.intp], low: Floats, high: Floats) -> None:
        lower[columns], upper[columns] = low, high
        highs.changeColsBounds(len(columns), columns.astype(np.int32), low, high)

    for columns in groups:
        share = RAISED
        while len(open_ := _in_parts(found.columns[columns])):
            parts = sum(len(_in_parts(found.columns[group])) for group in groups)
            progress(f"{numbers - parts:,} of {numbers:,} numbers whole")
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
    opened, trays = compiled.position["wave_opened"], compiled.position["sown"]
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
    columns = compiled.columns(("packs_bought",))
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


def _packed(compiled: Compiled, dived: Solution) -> Solution:
    """The dive's solution in whole packs, solved once more with all that is whole held."""
    packed = _whole_packs(compiled, _pay_for_sown(compiled, dived))
    return run(solver(_given(compiled, WHOLE, packed)))


def _best_dive(
    compiled: Compiled, continuous: Solution, groups: list[NDArray[np.intp]], progress: Say
) -> Solution:
    """The cheapest dive that keeps orders filled and is close to the bound; else the cheapest of all.

    Tried in turn, until one is close: a dive in which what is filled stays filled; one in which it may be
    short; that one's trays and more, with what is filled filled again.
    """
    told = [part_of(f"whole trays, try {n} of at most 3", progress) for n in (1, 2, 3)]
    filled, most = _filled(compiled, continuous), continuous.objective + CLOSE * abs(continuous.objective)
    kept: list[Solution] = []
    with suppress(SolveError):
        kept.append(_packed(compiled, _dive(filled, groups, told[0])))
        if kept[0].objective <= most:
            return kept[0]
    free = _dive(compiled, groups, told[1])
    trays = compiled.columns(("sown",))
    lower = filled.lower.copy()
    lower[trays] = np.round(free.columns[trays])
    with suppress(SolveError):
        kept.append(_packed(compiled, _dive(replace(filled, lower=lower), groups, told[2])))
    close = [solution for solution in kept if solution.objective <= most]
    return min(close or [*kept, _packed(compiled, free)], key=lambda solution: solution.objective)


def make_whole(
    program: Program, compiled: Compiled, continuous: Solution, progress: Say = silent
) -> tuple[Solution, float]:
    """A solution with whole trays, packs, hands and plants bought, and a proved lower bound of any.

    A dive makes hands, units, deliveries and fixed costs whole, then trays, then plants bought and short;
    packs come last. An order that the continuous program fills stays filled where that can be at no more
    than ``CLOSE``. In a small book a mixed-integer program improves on this, and often proves its optimum.
    Raises SolveError where HiGHS reaches no optimum or the solution is cheaper than its bound.
    """
    best = _best_dive(compiled, continuous, _groups(program, compiled), progress)
    if len(program.network.waves) > SMALL_BOOK:
        return best, proved_bound(continuous.objective, best.objective)
    progress("whole trays, search for a cheaper plan")
    better = run(solver(compiled, compiled.columns(WHOLE), **EXACT), stopped_early=True)
    with suppress(SolveError):
        rounded = run(solver(_given(compiled, WHOLE, better)))
        best = min(best, rounded, key=lambda solution: solution.objective)
    return best, proved_bound(max(continuous.objective, better.bound), best.objective)
