"""The least cost with a limit or an order's quantity changed: the continuous program solved again.

Each trial starts from the basis of the base case. It therefore takes a few pivots instead of thousands, and
its result does not depend on earlier trials. Trays, packs and hands may be fractional, so that rounding does
not hide differences of cost.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.sparse import csc_array

from model.program.index_sets import Label
from model.program.program import Program
from model.solve import Solved
from model.solver.compiled import Compiled, Solution, run, solver, start_from, with_columns, with_rows

Limit = tuple[str, Label]
"""Constraint group and label of a row; or a variable of ``BOUNDED`` and its label, for its upper bound."""

BOUNDED = ("regular", "overtime", "short", "declined", "declined_whole")
"""Variables whose upper bounds may be changed."""

MOVED = ("delivered", "bought")
"""Variables that give the source of an order's plants."""

LITTLE = 1e-3
"""So much higher is a limit where the rate of the first part of one more is taken."""

SLACK = 1e-6
"""Share by which a plan of fewest moves may cost more than the least: the solver's own tolerance."""


class Trials:
    """The continuous program of a solved scenario, to be solved again with changes.

    Orders named in ``closed`` have quantity 0 in the base case; ``with_order`` opens one.
    """

    def __init__(self, solved: Solved, *, closed: Collection[str] = ()) -> None:
        self._program, self._compiled = solved.program, solved.compiled
        self._orders = self._compiled.rows["order"]
        self._quantities = {t.order.order: float(t.order.quantity) for t in self._program.network.orders}
        self._columns = bounded(self._program, self._compiled)
        self._highs = solver(self._compiled)
        self._changed: dict[Limit, float] = {("order", (name,)): 0.0 for name in closed}
        self._change(self._changed)
        self.solution = run(self._highs, start=solved.continuous)
        """The base case."""
        self.base = self.solution.objective
        """Least cost of the base case, in currency."""

    def _change(self, limits: Mapping[Limit, float], highs: Any = None) -> None:
        highs = self._highs if highs is None else highs
        for (group, label), value in limits.items():
            if (group, label) in self._columns:
                highs.changeColBounds(self._columns[group, label], 0.0, value)
            else:
                row = self._compiled.rows[group][label]
                lower, upper = self._compiled.row_lower[row], self._compiled.row_upper[row]
                highs.changeRowBounds(row, value if lower == upper else lower, value)

    def keep_filled(self) -> None:
        """In later trials, let no order be shorter than in the base case; closed orders are excepted."""
        values = self._compiled.values(self.solution.columns)
        held = {
            ("short", (name,)): max(short, 0.0)
            for name, short in zip(self._quantities, values["short"].tolist(), strict=True)
            if ("order", (name,)) not in self._changed
        }
        self._changed |= held
        self._change(held)

    def limit(self, limit: Limit) -> float:
        """The value of the limit in the base case."""
        if limit in self._changed:
            return self._changed[limit]
        if limit in self._columns:
            return float(self._compiled.upper[self._columns[limit]])
        group, label = limit
        return float(self._compiled.row_upper[self._compiled.rows[group][label]])

    def solve(self, limits: Mapping[Limit, float]) -> Solution:
        """The optimum with these limits at these values, all others as in the base case.

        Raises KeyError where there is no such limit, SolveError where HiGHS reaches no optimum.
        """
        before = {limit: self.limit(limit) for limit in limits}
        self._highs.clearSolver()
        start_from(self._highs, self.solution)
        self._change(limits)
        try:
            return run(self._highs)
        finally:
            self._change(before)

    def cost(self, limits: Mapping[Limit, float]) -> float:
        """Least cost with these limits, in currency."""
        return self.solve(limits).objective

    def at_first(self, limits: Collection[Limit]) -> float:
        """What a unit more of all these limits saves at the rate of its first part, in currency.

        The duals of the base case say it only where they hold for more: where several limits bind together,
        one of them alone may save nothing. So they are taken where the limits are a little higher.
        """
        found = self.solve({limit: self.limit(limit) + LITTLE for limit in limits})
        return -sum(
            float(found.column_dual[self._columns[limit]])
            if limit in self._columns
            else float(found.row_dual[self._compiled.rows[limit[0]][limit[1]]])
            for limit in limits
        )

    def without(self, order: str) -> float:
        """Least cost without the order, except plants delivered or bought in for it before today."""
        return self.cost({("order", (order,)): self.had(order)})

    def had(self, order: str) -> float:
        """Plants delivered or bought in for an order before today."""
        network, settled = self._program.network, self._program.settled
        goods = (
            (network.deliveries, settled.get("delivered", {})),
            (network.buy_ins, settled.get("bought", {})),
        )
        return sum(
            plants
            for rows, of in goods
            for i, plants in of.items()
            if network.orders[rows[i].order].order.order == order
        )

    def with_order(self, order: str) -> float:
        """Least cost with a closed order."""
        return self.cost({("order", (order,)): self._quantities[order]})

    def one_more(self, order: str) -> float:
        """Least cost with one more plant of the order."""
        limit = ("order", (order,))
        return self.cost({limit: self.limit(limit) + 1})

    def fewest_moves(self, limits: Mapping[Limit, float]) -> Solution:
        """Of all optima with these limits, the one that moves the fewest plants from the base case.

        min Σ e[j] over the d and b above 0 in the base case, with v[j] + e[j] ≥ base v[j] and cost as least
        """
        best, base, program = self.solve(limits), self.solution.columns, self._compiled
        columns = program.columns(MOVED)
        there = columns[base[columns] > SLACK]
        count, size = len(there), len(base)
        wide = with_columns(program, csc_array((program.matrix.shape[0], count)), np.inf, np.zeros(count))
        moves = np.append(np.zeros(size), np.ones(count))
        rows, ends = np.arange(count), size + np.arange(count)
        entries = (np.ones(2 * count), (np.append(rows, rows), np.append(there, ends)))
        kept = csc_array(entries, shape=(count, size + count))
        most = best.objective - program.offset + SLACK * max(1.0, abs(best.objective))
        limited = with_rows(wide, kept, base[there], np.full(count, np.inf))
        limited = with_rows(limited, wide.cost[None, :], np.array([-np.inf]), np.array([most]))
        highs = solver(replace(limited, cost=moves))
        self._change({**self._changed, **limits}, highs)
        found = run(highs)
        return replace(found, columns=found.columns[:size], objective=best.objective)


def bounded(program: Program, compiled: Compiled) -> dict[Limit, int]:
    """Column of each limit that is a bound of a variable."""
    return {
        (name, label): column
        for name in BOUNDED
        for label, column in zip(program.labels[name], compiled.position[name].tolist(), strict=True)
        if column >= 0
    }
