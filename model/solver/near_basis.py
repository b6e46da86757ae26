"""The basis and the whole plan of a program, carried over to a program of almost the same orders."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any, NamedTuple

import highspy
import numpy as np
from numpy.typing import NDArray

from model.program.index_sets import Label
from model.program.program import Program
from model.solver.compiled import DEVEX, PRICING, Compiled, Floats, Solution

Named = tuple[str, Label]
"""Variable or constraint group, and label."""


MOVED = 1e-6
"""Change of a column's value from one optimum to another above which it has moved."""


class Near(NamedTuple):
    """Another program, its continuous optimum, its plan, and the bound of any plan of it, in currency."""

    program: Program
    compiled: Compiled
    continuous: Solution
    solution: Solution
    bound: float

    @property
    def gap(self) -> float:
        """What its plan may cost more than the least, in currency."""
        return self.solution.objective - self.bound


def start_near(highs: Any, program: Program, compiled: Compiled, near: Near) -> None:
    """Let HiGHS start from the optimum of another program, for what the two have in common.

    Columns that the other has not are 0, rows that it has not do not bind; HiGHS completes the basis.
    """
    other, arrays, before = near.program, near.compiled, near.continuous.basis
    columns, rows = before.col_status, before.row_status
    of_column = {name: columns[k] for name, k in _columns(other, arrays)}
    of_row = {name: rows[k] for name, k in _rows(arrays)}
    at_bound, free = highspy.HighsBasisStatus.kLower, highspy.HighsBasisStatus.kBasic
    width, height = len(compiled.cost), len(compiled.row_lower)
    col_status, row_status = [at_bound] * width, [free] * height
    for name, k in _columns(program, compiled):
        col_status[k] = of_column.get(name, at_bound)
    for name, k in _rows(compiled):
        row_status[k] = of_row.get(name, free)
    basis = highspy.HighsBasis()
    basis.col_status, basis.row_status = col_status, row_status
    basis.valid = basis.alien = True
    highs.setBasis(basis)
    highs.setOptionValue(PRICING, DEVEX)


def unmoved(
    program: Program, compiled: Compiled, optimum: Solution, near: Near, names: tuple[str, ...]
) -> tuple[NDArray[np.intp], Floats]:
    """Columns of these variables whose values in the two continuous optima are the same.

    With the whole numbers that they have in the other program's plan, as far as the bounds here allow.
    """
    own, other = dict(_columns(program, compiled, names)), dict(_columns(near.program, near.compiled, names))
    both = [name for name in own if name in other]
    here = np.array([own[name] for name in both], dtype=np.intp)
    there = np.array([other[name] for name in both], dtype=np.intp)
    same = np.abs(optimum.columns[here] - near.continuous.columns[there]) <= MOVED
    here, values = here[same], np.round(near.solution.columns[there[same]])
    return here, np.clip(values, np.ceil(compiled.lower[here]), np.floor(compiled.upper[here]))


def _columns(
    program: Program, compiled: Compiled, names: Collection[str] | None = None
) -> Iterator[tuple[Named, int]]:
    for name, labels in program.labels.items():
        if names is not None and name not in names:
            continue
        for label, k in zip(labels, compiled.position[name].tolist(), strict=True):
            if k >= 0:
                yield (name, label), k


def _rows(compiled: Compiled) -> Iterator[tuple[Named, int]]:
    for group, of in compiled.rows.items():
        for label, k in of.items():
            yield (group, label), k
