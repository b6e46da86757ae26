"""Rows that every whole plan keeps and the continuous program breaks: they raise the proved bound.

All follow from the program's own rows and from the whole numbers in it, so that no plan is lost. Those that
an optimum breaks are added, and the program is solved again.
"""

from __future__ import annotations

import numpy as np

from model.solver.compiled import Compiled, Solution, run, solver, start_from, with_rows
from model.solver.group_rows import GroupRows
from model.solver.rounded_rows import RoundedRows
from model.solver.strong_row import matrix_of
from model.solver.wave_rows import BatchRows, WaveRows

ROUNDS = 8
"""How often rows are added at most."""

GAIN = 5e-5
"""Gain of the bound in a round, as a share of it, below which no more rows are added."""


class Strong:
    """A program with rows added, and its optimum."""

    def __init__(self, compiled: Compiled, continuous: Solution) -> None:
        self.compiled = compiled
        """The program with the rows added so far."""
        self.optimum = continuous

    def add(self, source: BatchRows | GroupRows | RoundedRows | WaveRows) -> None:
        """Add broken rows, round by round. Raises SolveError where HiGHS finds no optimum."""
        highs, width = solver(self.compiled), len(self.compiled.cost)
        start_from(highs, self.optimum)
        for _ in range(ROUNDS):
            broken = source.broken(self.optimum.columns)
            if not broken:
                return
            added = matrix_of(broken, width)
            least, most = np.array([row.least for row in broken]), np.full(len(broken), np.inf)
            highs.addRows(
                len(broken),
                least,
                most,
                added.nnz,
                added.indptr[:-1].astype(np.int32),
                added.indices.astype(np.int32),
                added.data,
            )
            before = self.optimum.objective
            self.optimum = run(highs)
            self.compiled = with_rows(self.compiled, added, least, most)
            if self.optimum.objective - before <= GAIN * abs(before):
                return
