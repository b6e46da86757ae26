"""The basis of a program, carried over to a program of almost the same orders, where HiGHS starts from it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import highspy

from model.program.index_sets import Label
from model.program.program import Program
from model.solver.compiled import DEVEX, PRICING, Compiled, Solution

Named = tuple[str, Label]
"""Variable or constraint group, and label."""


def start_near(
    highs: Any, program: Program, compiled: Compiled, near: tuple[Program, Compiled, Solution]
) -> None:
    """Let HiGHS start from the optimum of another program, for what the two have in common.

    ``near``: the other program and its optimum. Columns that it has not are 0, rows that it has not do not
    bind; HiGHS completes the basis.
    """
    other, arrays, solution = near
    before = solution.basis
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


def _columns(program: Program, compiled: Compiled) -> Iterator[tuple[Named, int]]:
    for name, labels in program.labels.items():
        for label, k in zip(labels, compiled.position[name].tolist(), strict=True):
            if k >= 0:
                yield (name, label), k


def _rows(compiled: Compiled) -> Iterator[tuple[Named, int]]:
    for group, of in compiled.rows.items():
        for label, k in of.items():
            yield (group, label), k
