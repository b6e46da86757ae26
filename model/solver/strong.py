"""Rows that every whole plan keeps and the continuous program breaks: they raise the proved bound.

All follow from the program's own rows and from the whole numbers in it, so that no plan is lost. Those that
an optimum breaks are added, and the program is solved again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from scipy.sparse import csr_array

from model.solver.compiled import Compiled, Floats, Solution, run, solver, start_from, with_rows

ROUNDS = 8
"""How often rows are added at most."""

GAIN = 5e-5
"""Gain of the bound in a round, as a share of it, below which no more rows are added."""

BROKEN = 0.02
"""A row is added where it is broken by more than this; its terms count orders, trays or units."""


class Entry(NamedTuple):
    """A column and its coefficient."""

    column: int
    coef: float


@dataclass(frozen=True, slots=True)
class StrongRow:
    """Σ coefficient · column ≥ least; of the rows of a ``family``, one is added at a time."""

    entries: list[Entry]
    least: float
    family: int = 0


class StrongRows(Protocol):
    """Rows of one kind."""

    def broken(self, values: Floats) -> list[StrongRow]:
        """Those that these values of the columns break."""
        ...


class Strong:
    """A program with rows added, and its optimum."""

    def __init__(self, compiled: Compiled, continuous: Solution) -> None:
        self.compiled = compiled
        """The program with the rows added so far."""
        self.optimum = continuous

    def add(self, source: StrongRows) -> None:
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


def matrix_of(rows: list[StrongRow], width: int) -> csr_array:
    """The coefficients of rows over so many columns. Raises ValueError for a column that is not there."""
    lengths = [len(row.entries) for row in rows]
    columns = np.array([entry.column for row in rows for entry in row.entries], dtype=np.int64)
    coefs = np.array([entry.coef for row in rows for entry in row.entries])
    if len(columns) and not 0 <= columns.min() <= columns.max() < width:
        raise ValueError("a row names a column that the program does not have")
    starts = np.concatenate([[0], np.cumsum(lengths)])
    return csr_array((coefs, columns, starts), shape=(len(rows), width))
