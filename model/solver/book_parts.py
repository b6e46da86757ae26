"""Parts of a book that can be searched apart, each with a program of its own.

Columns that meet in a row of growing, ordering or buying belong together. Rows of room, labour, stock and
packs meet several such groups; groups that are small together stay together, and the others pay for what they
take of these rows at its price in the continuous optimum. The least costs of the parts at these prices, with
what the rest costs, are a bound on the cost of any plan (Lagrange).
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array
from scipy.sparse.csgraph import connected_components

from model.solver.compiled import Compiled, Solution, SolveError, run, solver

Columns = NDArray[np.intp]
Mask = NDArray[np.bool_]

SHARED = (
    "slots",
    "unit_room",
    "units_busy",
    "bay_room",
    "skill_hours",
    "crew_hours",
    "week_hours",
    "temporary_new",
    "temporary_stayed",
    "temporary_hours",
    "temporary_overtime_most",
    "temporary_week_hours",
    "called_most",
    "called_least",
    "guaranteed_hours",
    "skill_limits",
    "temporary_skill_limits",
    "piece_hours",
    "piece_work",
    "stock",
    "packs",
    "packs_out",
    "run_room",
    "run_vehicles",
)
"""Groups of rows of things that all orders may share."""

SHARED_COLUMNS = ("packs_bought", "units_opened", "bays_open", "vehicles")
"""Variables of such things; a row added to the program that holds one of them is shared too."""

SMALL_BOOK = 60
"""A book, or a part, of at most so many waves is searched, mostly to the optimum."""

SEARCHED = 320
"""In books of more waves parts are rarely searched, and dives rarely tried again."""

WORTHLESS = 1e-7
"""A row with a price no higher than this is not scarce."""


PROMISE, LEAST_PROMISE = 1e-6, 0.005
"""A part that promises no more than this share of the plan's cost, or this in currency, is not searched."""

TRIED, KEPT = 0.1, 0.15
"""Parts are searched where they promise such a share of the gap to the bound; once such a share of all that
they promised has been tried, such a share of it must have been kept."""


class BookPart(NamedTuple):
    """A part: its program, and its columns in the whole program."""

    compiled: Compiled
    columns: Columns


class SmallPart(NamedTuple):
    """A part with the number of its waves, its least cost in parts, and what it costs more in a whole plan.

    Costs are at the prices of what it shares, in currency. A search can save or prove no more than that
    ``promise``.
    """

    part: BookPart
    waves: int
    least: float
    promise: float


class Promised:
    """What the parts of a book promise, and how much of it searches have kept; in currency.

    Prices let each part take what is scarce as if it were alone. Where parts that are searched do not fit
    together, or cost more together than they would alone, further searches are of no use either.
    """

    def __init__(self, total: float) -> None:
        self.total, self._tried, self._kept = total, 0.0, 0.0

    def count(self, promise: float, kept: float) -> None:
        """Count a part searched: ``kept`` is what the plan is cheaper and the bound is higher for it."""
        self._tried += promise
        self._kept += min(promise, kept)

    def broken(self) -> bool:
        """Whether enough has been tried to see that too little is kept."""
        return self._tried >= TRIED * self.total and self._kept < KEPT * self._tried


def book_parts(compiled: Compiled, optimum: Solution, most: int) -> list[BookPart]:
    """The parts of a program, none with more than ``most`` waves but those that cannot be split.

    ``compiled`` may have rows beyond those of its groups; ``optimum`` is an optimum of it.
    """
    matrix = csr_array(compiled.matrix)
    shared = np.zeros(matrix.shape[0], dtype=bool)
    for name in SHARED:
        shared[list(compiled.rows.get(name, {}).values())] = True
    added = np.ones(matrix.shape[0], dtype=bool)
    added[[row for group in compiled.rows.values() for row in group.values()]] = False
    of = compiled.columns(tuple(name for name in SHARED_COLUMNS if name in compiled.position))
    shared |= added & (np.diff(csr_array(matrix[:, of]).indptr) > 0)
    inside = np.zeros(matrix.shape[1], dtype=bool)
    inside[np.unique(matrix[~shared].indices)] = True
    group = _linked(matrix, ~shared)[: matrix.shape[1]]
    outside = _linked(csr_array(matrix.multiply(~inside)), shared)
    cluster = outside[matrix.shape[1] :]
    met = _met(matrix, shared, inside, cluster, group)
    label = _joined(compiled, optimum, met, group, cluster, most)
    owner = {c: label[groups[0]] for c, groups in met.items() if len({label[g] for g in groups}) == 1}
    priced = shared & ~np.isin(cluster, list(owner))
    cost = compiled.cost - np.where(inside, matrix.T @ np.where(priced, optimum.row_dual, 0.0), 0.0)
    part = np.array(
        [
            label[g] if within else owner.get(c, -1)
            for g, c, within in zip(
                group.tolist(), outside[: matrix.shape[1]].tolist(), inside.tolist(), strict=True
            )
        ]
    )
    kept = replace(compiled, cost=cost, matrix=csc_array(matrix[~priced]))
    kept = replace(kept, row_lower=compiled.row_lower[~priced], row_upper=compiled.row_upper[~priced])
    sown = compiled.columns(("sown",))
    return [_cut(kept, np.flatnonzero(part == p)) for p in np.unique(part[sown]).tolist() if p >= 0]


def least_promise(known: Solution) -> float:
    """The largest promise of a part that is not worth a search, in currency."""
    return max(LEAST_PROMISE, PROMISE * abs(known.objective))


def small_parts(parts: list[BookPart], compiled: Compiled, known: Solution, most: int) -> list[SmallPart]:
    """Those of at most ``most`` waves, the smallest first, with what they promise over a whole solution.

    ``compiled``: the program of the whole book.
    """
    sown = np.zeros(len(compiled.cost), dtype=bool)
    sown[compiled.columns(("sown",))] = True
    found = list[SmallPart]()
    for part in sorted(parts, key=lambda each: len(each.columns)):
        waves = int(np.count_nonzero(sown[part.columns]))
        if 0 < waves <= most:
            with suppress(SolveError):
                least = run(solver(part.compiled)).objective
                promise = float(part.compiled.cost @ known.columns[part.columns]) - least
                found.append(SmallPart(part, waves, least, max(0.0, promise)))
    return found


def _linked(matrix: csr_array, rows: Mask) -> NDArray[np.intp]:
    """A label of each column, then of each row, alike where these rows link them."""
    entries = csr_array(matrix.multiply(rows[:, None])).tocoo()
    count, width = matrix.shape
    some = entries.data != 0
    links = (np.ones(int(some.sum())), (entries.col[some], width + entries.row[some]))
    _, label = connected_components(csr_array(links, shape=(width + count,) * 2), directed=False)
    return np.asarray(label, dtype=np.intp)


def _met(
    matrix: csr_array, shared: Mask, inside: Mask, cluster: NDArray[np.intp], group: NDArray[np.intp]
) -> dict[int, list[int]]:
    """For each cluster of shared rows the groups of columns that meet in it."""
    entries = matrix.tocoo()
    some = shared[entries.row] & inside[entries.col] & (entries.data != 0)
    pairs = np.unique(np.stack([cluster[entries.row[some]], group[entries.col[some]]]), axis=1)
    met: dict[int, list[int]] = {}
    for c, g in pairs.T.tolist():
        met.setdefault(c, []).append(g)
    return met


def _joined(
    compiled: Compiled,
    optimum: Solution,
    met: dict[int, list[int]],
    group: NDArray[np.intp],
    cluster: NDArray[np.intp],
    most: int,
) -> list[int]:
    """For each group its part: clusters of rows join groups, scarce clusters first, then small ones."""
    label = list(range(int(group.max()) + 1))
    members = {g: [g] for g in label}
    waves = np.bincount(group[compiled.columns(("sown",))], minlength=len(label)).tolist()
    limited = np.isfinite(compiled.row_lower) != np.isfinite(compiled.row_upper)
    priced = limited & (np.abs(optimum.row_dual) > WORTHLESS)
    scarce = set(np.unique(cluster[priced]).tolist())
    for _, groups in sorted(met.items(), key=lambda m: (m[0] not in scarce, len(m[1]), m[0])):
        found = sorted({label[g] for g in groups})
        if len(found) > 1 and sum(waves[g] for g in found) <= most:
            for other in found[1:]:
                for g in members[other]:
                    label[g] = found[0]
                members[found[0]] += members.pop(other)
                waves[found[0]] += waves[other]
    return label


def _cut(compiled: Compiled, columns: Columns) -> BookPart:
    matrix = csc_array(compiled.matrix[:, columns])
    rows = np.unique(matrix.indices)
    place = np.full(matrix.shape[0], -1, dtype=np.intp)
    place[rows] = np.arange(len(rows))
    made = replace(
        compiled,
        matrix=csc_array(
            (matrix.data, place[matrix.indices], matrix.indptr), shape=(len(rows), len(columns))
        ),
        row_lower=compiled.row_lower[rows],
        row_upper=compiled.row_upper[rows],
        lower=compiled.lower[columns],
        upper=compiled.upper[columns],
        cost=compiled.cost[columns],
        offset=0.0,
        position={},
        rows={},
    )
    return BookPart(made, columns)
