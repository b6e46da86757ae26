"""Part of a program: some of its columns free, all others held at a solution's values."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csc_array

from model.solver.compiled import Compiled, Floats
from model.solver.dive import Columns


@dataclass(frozen=True, slots=True)
class Part:
    """A program of some columns of a wider one, and of the rows in which they stand."""

    compiled: Compiled
    columns: Columns
    """Its columns, as columns of the wider program."""
    place: Columns
    """For each column of the wider program its column here, or -1."""
    row_place: Columns
    """For each row of the wider program its row here, or -1."""

    def inside(self, columns: Columns) -> Columns:
        """The columns here that stand for these of the wider program."""
        here = self.place[columns]
        return here[here >= 0]


def part_of_program(compiled: Compiled, columns: Columns, values: Floats, activity: Floats) -> Part:
    """The program of ``columns``, all others held at ``values``; ``activity``: the rows at these values."""
    columns = np.unique(columns)
    matrix = csc_array(compiled.matrix[:, columns])
    rows = np.unique(matrix.indices)
    row_place = np.full(compiled.matrix.shape[0], -1, dtype=np.intp)
    row_place[rows] = np.arange(len(rows))
    place = np.full(compiled.matrix.shape[1], -1, dtype=np.intp)
    place[columns] = np.arange(len(columns))
    own = matrix @ values[columns]
    held = (activity - own)[rows]
    within = csc_array(
        (matrix.data, row_place[matrix.indices], matrix.indptr), shape=(len(rows), len(columns))
    )
    made = replace(
        compiled,
        matrix=within,
        row_lower=compiled.row_lower[rows] - held,
        row_upper=compiled.row_upper[rows] - held,
        lower=compiled.lower[columns],
        upper=compiled.upper[columns],
        cost=compiled.cost[columns],
        offset=0.0,
        position={},
        rows={},
    )
    return Part(made, columns, place, row_place)
