"""What least cost would be with a limit or an order's quantity changed: the continuous program re-solved.

Each trial starts from the basis of the base case, so that it takes a few pivots where a new program
takes thousands, and so that its result does not depend on the trials before it. Trays, packs and
hands may be in parts, so that rounding does not blur differences of cost.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from model.compiled import Solution, run, solver
from model.sets import CrewDay, Label
from model.solve import Solved

Limit = tuple[str, Label]
"""Constraint group and label of a row, or ``reg`` or ``ot`` and (crew, day)."""

COLUMN_LETTERS = ("reg", "ot")


class Trials:
    """The continuous program of a solved scenario, to be solved again with changes.

    Orders named in ``closed`` ask for nothing in the base case; ``with_order`` opens one.
    """

    def __init__(self, solved: Solved, *, closed: Collection[str] = ()) -> None:
        self._program, self._compiled = solved.program, solved.compiled
        self._orders = self._compiled.rows["order"]
        self._quantities = {t.order.order: float(t.order.quantity) for t in self._program.network.orders}
        self._columns = {
            (letter, index): int(column)
            for letter in COLUMN_LETTERS
            for index, column in zip(
                self._program.crew_days, self._compiled.position[letter].tolist(), strict=True
            )
        }
        self._highs = solver(self._compiled)
        self._closed = {("order", (name,)): 0.0 for name in closed}
        self._change(self._closed)
        self.solution = run(self._highs)
        """The base case."""
        self.base = self.solution.objective
        """Least cost of the base case, in currency."""
        self._basis: Any = self._highs.getBasis()

    def _change(self, limits: Mapping[Limit, float]) -> None:
        for (group, label), value in limits.items():
            if group in COLUMN_LETTERS:
                column = self._columns[group, CrewDay(*label)]
                self._highs.changeColBounds(column, 0.0, value)
            else:
                row = self._compiled.rows[group][label]
                lower, upper = self._compiled.row_lower[row], self._compiled.row_upper[row]
                self._highs.changeRowBounds(row, value if lower == upper else lower, value)

    def limit(self, limit: Limit) -> float:
        """The limit as it stands in the base case."""
        if limit in self._closed:
            return self._closed[limit]
        group, label = limit
        if group in COLUMN_LETTERS:
            return float(self._compiled.upper[self._columns[group, CrewDay(*label)]])
        return float(self._compiled.row_upper[self._compiled.rows[group][label]])

    def solve(self, limits: Mapping[Limit, float]) -> Solution:
        """The optimum with these limits at these values, all others as in the base case.

        Raises KeyError where there is no such limit, SolveError where HiGHS reaches no optimum.
        """
        before = {limit: self.limit(limit) for limit in limits}
        self._highs.clearSolver()
        self._highs.setBasis(self._basis)
        self._change(limits)
        try:
            return run(self._highs)
        finally:
            self._change(before)

    def cost(self, limits: Mapping[Limit, float]) -> float:
        """Least cost with these limits, in currency."""
        return self.solve(limits).objective

    def without(self, order: str) -> float:
        """Least cost without the order."""
        return self.cost({("order", (order,)): 0.0})

    def with_order(self, order: str) -> float:
        """Least cost with a closed order."""
        return self.cost({("order", (order,)): self._quantities[order]})

    def one_more(self, order: str) -> float:
        """Least cost with one more plant of the order."""
        limit = ("order", (order,))
        return self.cost({limit: self.limit(limit) + 1})
