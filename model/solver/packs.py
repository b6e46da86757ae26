"""Whole packs of each item, the cheapest that hold what is used, by branch and bound; the fewest whole bays.

No pack holds two items, so each item is searched apart. Sizes are tried from the cheapest a unit on, the
most packs first; what is left costs at least as much a unit as the next size. So few numbers are tried.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, gcd, inf
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from model.solver.compiled import Compiled, Floats, SolveError

ENOUGH = 1e-6
"""Units by which packs may hold less than what is used: the solver's own tolerance."""

TINY = 1e-9
"""Rounding of sums of prices, in currency."""

MOST_TRIED = 100_000
"""Numbers of packs tried at most for an item, counted over all its sizes."""


class Size(NamedTuple):
    """A pack that is for sale: units in it, price in currency, and the least and most packs to buy."""

    units: float
    price: float
    least: float = 0.0
    most: float = inf


def cheapest_packs(units: float, sizes: list[Size]) -> list[int]:
    """Packs of each size of least price that hold ``units`` or more.

    Of equally cheap ones, those with more packs of the size that is cheaper a unit, then of the larger size.
    After ``MOST_TRIED`` numbers the best found stands. Raises SolveError where the most packs hold too
    little.
    """
    order = sorted(range(len(sizes)), key=lambda n: (sizes[n].price / sizes[n].units, -sizes[n].units))
    least = [ceil(size.least - ENOUGH) for size in sizes]
    grain = _grain([size.price for size in sizes])
    best, best_price, tried = list[int](), inf, 0

    def search(at: int, left: float, price: float, more: list[int]) -> None:
        nonlocal best, best_price, tried
        if left <= ENOUGH:
            if price < best_price - TINY:
                best, best_price = more, price
            return
        if at == len(order):
            return
        size, room = sizes[order[at]], sizes[order[at]].most - least[order[at]]
        then = [sizes[n].price / sizes[n].units for n in order[at + 1 : at + 2]]
        for number in range(int(min(ceil((left - ENOUGH) / size.units), room + ENOUGH)), -1, -1):
            tried += 1
            rest, so_far = left - number * size.units, price + number * size.price
            if rest > ENOUGH:
                bound = so_far + (rest - ENOUGH) * then[0] if then else inf
                bound = ceil(bound / grain - TINY) * grain if grain and then else bound
                if bound >= best_price - TINY or tried > MOST_TRIED:
                    return  # with fewer of them the bound only rises
            search(at + 1, rest, so_far, [*more, number])

    search(0, units - sum(size.units * n for size, n in zip(sizes, least, strict=True)), 0.0, [])
    if best_price == inf:
        raise SolveError("Infeasible")
    found = least.copy()
    for n, number in zip(order, best, strict=False):
        found[n] += number
    return found


def _grain(prices: list[float]) -> float:
    """The largest amount of which all prices are multiples, in currency; 0 where it is below 0.0001."""
    parts = [round(price * 10_000) for price in prices]
    exact = all(abs(price * 10_000 - part) < TINY * 10_000 for price, part in zip(prices, parts, strict=True))
    return gcd(*parts) / 10_000 if exact else 0.0


def whole_packs(compiled: Compiled, columns: Floats) -> Floats:
    """Values of a solution's columns with its seed and supplies in the cheapest whole packs.

    Nothing else depends on packs. Raises SolveError where the packs for sale hold too little.
    """
    values, bought = columns.copy(), compiled.columns(("packs_bought",))
    values[bought] = np.ceil(compiled.lower[bought] - ENOUGH)
    most: dict[tuple[int, ...], tuple[NDArray[Any], Floats, float]] = {}
    for group in ("packs", "packs_out"):
        for row, own, units, used in _rows_of(compiled, group, bought, columns):
            wanted, at = used - float(compiled.row_upper[row]), tuple(own.tolist())
            if at not in most or wanted > most[at][2]:
                most[at] = own, units, wanted
    for own, units, wanted in most.values():
        sizes = [
            Size(*size)
            for size in zip(
                (-units).tolist(),
                compiled.cost[own].tolist(),
                compiled.lower[own].tolist(),
                compiled.upper[own].tolist(),
                strict=True,
            )
        ]
        values[own] = cheapest_packs(wanted, sizes)
    return values


def fewest_bays(compiled: Compiled, columns: Floats) -> Floats:
    """Values of a solution's columns with the fewest whole bays open that hold what stands in them.

    Nothing else depends on the bays that are open beyond that.
    """
    values, open_ = columns.copy(), compiled.columns(("bays_open",))
    values[open_] = np.ceil(compiled.lower[open_] - ENOUGH)
    for _, own, slots, used in _rows_of(compiled, "bay_room", open_, columns):
        values[own] = np.maximum(values[own], np.ceil(used / -float(slots[0]) - ENOUGH))
    return values


def _rows_of(
    compiled: Compiled, group: str, counted: NDArray[Any], columns: Floats
) -> Iterator[tuple[int, NDArray[Any], Floats, float]]:
    """Rows of a group that hold ``counted`` columns: the row, these columns, their coefficients, the rest.

    The rest is Σ coefficient · value of the row's other columns.
    """
    if not len(counted):
        return
    is_counted = np.zeros(len(columns), dtype=bool)
    is_counted[counted] = True
    matrix = csr_array(compiled.matrix)
    for row in compiled.rows.get(group, {}).values():
        entries = slice(matrix.indptr[row], matrix.indptr[row + 1])
        at, units = matrix.indices[entries], matrix.data[entries]
        own = is_counted[at]
        if own.any():
            yield row, at[own], units[own], float(units[~own] @ columns[at[~own]])
