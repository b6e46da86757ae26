"""What more of a limit saves in whole plans: the plan made again with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from model.collector import collector_paused
from model.questions.trials import Limit, bounded
from model.solve import Solved
from model.solver.compiled import Compiled, run, solver
from model.solver.whole import make_whole


@dataclass(frozen=True, slots=True)
class WholeSaving:
    """What whole plans cost less, in currency; the least costs surely differ by ``least`` to ``most``."""

    saves: float
    least: float
    most: float


def saved_by(book: Solved, limits: Mapping[Limit, float]) -> WholeSaving:
    """What is saved with these limits at these higher values; ``book`` is the plan in whole trays.

    The plan of the book fits where there is more, too: so it counts where no cheaper one is found. Raises
    KeyError where there is no such limit, SolveError where HiGHS reaches no optimum.
    """
    with collector_paused():
        raised = _with_limits(book, limits)
        found, bound, _ = make_whole(book.program, raised, run(solver(raised)))
    before = book.solution.objective
    cost = min(found.objective, before)
    return WholeSaving(before - cost, max(0.0, book.bound - cost), before - min(bound, cost))


def _with_limits(book: Solved, limits: Mapping[Limit, float]) -> Compiled:
    """The program with these limits at these values."""
    compiled, columns = book.compiled, bounded(book.program, book.compiled)
    upper = compiled.upper.copy()
    row_lower, row_upper = compiled.row_lower.copy(), compiled.row_upper.copy()
    for (group, label), value in limits.items():
        if (group, label) in columns:
            upper[columns[group, label]] = value
            continue
        row = compiled.rows[group][label]
        if row_lower[row] == row_upper[row]:
            row_lower[row] = value
        row_upper[row] = value
    return replace(compiled, upper=upper, row_lower=row_lower, row_upper=row_upper)
