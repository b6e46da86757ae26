"""A found plan made tidy: nothing in it that nobody uses, units free soonest, fewest bays, cheapest packs."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import numpy as np

from model.program.needless import (
    UNIT_COLUMNS,
    free_units_soonest,
    leave_out_change_overs,
    leave_out_packs,
    leave_out_plants,
    leave_out_vehicles,
)
from model.program.program import Program
from model.solver.compiled import Compiled, Solution, SolveError, run, solver, start_from
from model.solver.declining import LEAST_GAIN
from model.solver.dive import HOLDING, held_whole
from model.solver.packs import fewest_bays, whole_packs

FREE = 1e-9
"""Change of the cost, as a share of it, that is only rounding."""


def without_needless(program: Program, compiled: Compiled, solution: Solution) -> Solution:
    """The solution without trays and packs that nobody uses, solved again until there are none.

    ``compiled``: the program with the rows with which the solution was found, or else HiGHS starts far away.

    Where it costs something to leave them out, as a change of the last plan does, they stay.
    """
    held = compiled.columns(HOLDING)
    names = (
        "sown",
        "sown_into",
        "whole_loaded",
        "finishing",
        "riding",
        "packs_bought",
        "wave_opened",
        "batch_set_up",
        "vehicles",
        "carried",
        "admitted",
    )
    highs = solver(compiled)
    start_from(highs, solution)
    while True:
        values = {name: amounts.tolist() for name, amounts in compiled.values(solution.columns).items()}
        leave_out_plants(program, values, all_jobs=True, whole=True)
        leave_out_change_overs(program, values)
        leave_out_packs(program, values)
        leave_out_vehicles(program, values)
        columns = solution.columns.copy()
        for name in names:
            at = compiled.position[name]
            columns[at[at >= 0]] = np.round(np.array(values[name])[at >= 0])
        needless = np.maximum(columns, compiled.lower) < np.round(solution.columns) - 0.5
        if not needless[held].any():
            return solution
        kept = np.round(np.maximum(columns, compiled.lower)[held])
        highs.changeColsBounds(len(held), held.astype(np.int32), kept, kept)
        try:
            fewer = run(highs)
        except SolveError:
            return solution
        if fewer.objective > solution.objective + FREE * max(1.0, abs(solution.objective)):
            return solution
        solution = fewer


def freed_soonest(program: Program, compiled: Compiled, solution: Solution) -> Solution:
    """The solution with units free again as soon as the last of their plants leave."""
    values = {name: amounts.tolist() for name, amounts in compiled.values(solution.columns).items()}
    free_units_soonest(program, values)
    columns = solution.columns.copy()
    for name in UNIT_COLUMNS:
        at = compiled.position[name]
        columns[at[at >= 0]] = np.array(values[name])[at >= 0]
    saved = float(compiled.cost @ (solution.columns - columns))
    return replace(solution, columns=columns, objective=solution.objective - saved)


def in_fewest_bays(compiled: Compiled, solution: Solution) -> Solution:
    """The solution with the fewest whole bays open that hold what stands in them."""
    columns = fewest_bays(compiled, solution.columns)
    saved = float(compiled.cost @ (solution.columns - columns))
    return replace(solution, columns=columns, objective=solution.objective - saved)


def repacked(compiled: Compiled, solution: Solution) -> Solution:
    """The solution with the cheapest whole packs: trays left out may have left larger ones than needed."""
    with suppress(SolveError):
        packed = whole_packs(compiled, solution.columns)
        if compiled.cost @ packed < compiled.cost @ solution.columns - LEAST_GAIN:
            found = held_whole(compiled, replace(solution, columns=packed), solution)
            return min(solution, found, key=lambda each: each.objective)
    return solution
