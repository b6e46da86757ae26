"""A row that every whole plan keeps, and rows as a matrix."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array

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


def matrix_of(rows: list[StrongRow], width: int) -> csr_array:
    """The coefficients of rows over so many columns. Raises ValueError for a column that is not there."""
    lengths = [len(row.entries) for row in rows]
    columns = np.array([entry.column for row in rows for entry in row.entries], dtype=np.int64)
    coefs = np.array([entry.coef for row in rows for entry in row.entries])
    if len(columns) and not 0 <= columns.min() <= columns.max() < width:
        raise ValueError("a row names a column that the program does not have")
    starts = np.concatenate([[0], np.cumsum(lengths)])
    return csr_array((coefs, columns, starts), shape=(len(rows), width))
