"""Upper bounds of whole numbers that no plan as cheap as a known one reaches.

HiGHS's cuts and its tightening of bounds step through the values that a whole number may take: without an
upper bound a search of a few dozen numbers takes a second before its first branch, with one a tenth of it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.solver.compiled import CLOSE_TO_BOUND, Compiled, Floats, Solution, SolveError, run, solver

ROOM = 3
"""Whole numbers above that of the continuous optimum that a search may still take."""


def at_most(compiled: Compiled, columns: NDArray[np.intp], most: Floats) -> Compiled:
    """The program with columns at most ``ROOM`` above these values."""
    upper = compiled.upper.copy()
    upper[columns] = np.maximum(compiled.lower[columns], np.minimum(upper[columns], np.ceil(most) + ROOM))
    return replace(compiled, upper=upper)


def capped(compiled: Compiled, columns: NDArray[np.intp], known: float) -> tuple[Compiled, Solution]:
    """The program with upper bounds on these columns, and its continuous optimum.

    ``known``: cost of a whole solution, in currency. A column is bounded where the continuous program with
    one more costs more than that: so no whole solution as cheap is lost. Raises SolveError where HiGHS finds
    no optimum.
    """
    highs = solver(compiled)
    optimum = run(highs)
    bounded = at_most(compiled, columns, optimum.columns[columns])
    upper, enough = compiled.upper.copy(), known + CLOSE_TO_BOUND * max(1.0, abs(known))
    for k in columns[bounded.upper[columns] < compiled.upper[columns]].tolist():
        highs.changeColBounds(k, bounded.upper[k] + 1, compiled.upper[k])
        if _least(highs) > enough:
            upper[k] = bounded.upper[k]
        highs.changeColBounds(k, compiled.lower[k], compiled.upper[k])
    return replace(compiled, upper=upper), optimum


def _least(highs: object) -> float:
    """Least cost, infinite where there is no solution."""
    try:
        return run(highs).objective
    except SolveError as error:
        if error.status != "Infeasible":
            raise
        return np.inf
