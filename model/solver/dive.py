"""A dive: columns made whole a group at a time, the continuous program solved again from where it stood."""

from __future__ import annotations

from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.phases import Say
from model.program.variables import WHOLE
from model.solver.compiled import (
    TOO_DEAR,
    Compiled,
    Floats,
    Solution,
    SolveError,
    limit_pivots,
    run,
    solver,
    with_fixed,
)

Columns = NDArray[np.intp]

HOLDING = tuple(name for name in WHOLE if name != "new_hands")
"""Variables that are held once they are whole."""

WHOLE_ENOUGH = 1e-6
"""A value as close as this to a whole number is whole."""

SMALLEST = 0.005
"""A round raises no fewer columns than this share of its group: a solve takes a while even for few."""

LARGE = 600
"""Columns to make whole in a book of which a round raises no fewer than one, in one twice as large no fewer
than four: a solve takes longer the larger the book, so that rounds must be fewer."""

PACE = 4
"""A round that fails is tried with so many times fewer columns; one that succeeds is followed by more."""

PATIENCE = 12
"""After so many rounds without a solution, orders may be short again."""

FEW = 5
"""With so few columns in parts, those of the group that are whole are held until a raise fails."""


def in_parts(values: Floats) -> Columns:
    """Indices of the values that are not whole, those closest below a whole number first."""
    part = np.where(np.abs(values - np.round(values)) < WHOLE_ENOUGH, 0.0, values % 1.0)
    order: Columns = np.argsort(-part, kind="stable")
    return order[: np.count_nonzero(part)]


def held_whole(compiled: Compiled, solution: Solution, near: Solution | None = None) -> Solution:
    """The solution once more, with all that is whole in it held.

    ``near``: an optimum of the program with other bounds, from whose basis HiGHS starts.
    """
    columns = compiled.columns(HOLDING)
    return run(solver(with_fixed(compiled, columns, np.round(solution.columns[columns]))), start=near)


class Dive:
    """A program whose columns are bounded more and more; ``found`` is its optimum under all bounds so far."""

    def __init__(
        self, compiled: Compiled, start: Solution | None, shorts: Columns, dearest: float = inf
    ) -> None:
        """``start``: an optimum of the program, from whose basis HiGHS goes on; None to start afresh.

        ``shorts``: columns that are 0 in an optimum and are to stay so. ``dearest``: cost from which on a
        solution is of no use, in currency; a dive only gets dearer, and is given up there.
        Raises SolveError where HiGHS finds no optimum.
        """
        self.compiled, self.shorts, self.dearest = compiled, shorts, dearest
        self.lower, self.upper = compiled.lower.copy(), compiled.upper.copy()
        self.freed = not len(shorts)
        self._failed = 0
        self._batches = compiled.columns(("batch_set_up",))
        self._least = int((len(compiled.columns(HOLDING)) / LARGE) ** 2)
        self._highs: Any = solver(compiled, objective_bound=dearest)
        nothing = np.zeros(len(shorts))
        self._bound(shorts, nothing, nothing)
        if start is None:
            self.found = run(self._highs)
        else:
            self._highs.setBasis(start.basis)
            self.found = start

    def _bound(self, columns: Columns, low: Floats, high: Floats) -> None:
        if len(columns):
            self.lower[columns], self.upper[columns] = low, high
            self._highs.changeColsBounds(len(columns), columns.astype(np.int32), low, high)

    def bound(self, columns: Columns, low: Floats, high: Floats) -> bool:
        """Bound these columns and solve; False, with all as before, where no solution is left.

        Raises SolveError where the solution is of no use.
        """
        before = self.lower[columns].copy(), self.upper[columns].copy()
        self._bound(columns, low, high)
        limit_pivots(self._highs)
        try:
            self.found = run(self._highs)
        except SolveError as error:
            if error.status == TOO_DEAR:
                raise
            self._bound(columns, *before)
            self._highs.setBasis(self.found.basis)
            return False
        if self.found.objective >= self.dearest:
            raise SolveError("dearer than a known plan")
        return True

    def bound_afresh(self, columns: Columns, values: Floats) -> bool:
        """Hold these columns, which are so many that presolve is quicker than the way from the basis."""
        self._highs.clearSolver()
        return self.bound(columns, values, values)

    def hold_within(self, columns: Columns, values: Floats, most: float) -> float:
        """Hold columns at these values where that makes the solution dearer by no more than ``most``.

        What is left of ``most``, in currency: 0 where they are not held and all is as before.
        """
        before, low, high = self.found, self.lower[columns].copy(), self.upper[columns].copy()
        if not self.bound(columns, values, values):
            return 0.0
        left = most - (self.found.objective - before.objective)
        if left >= 0:
            return left
        self._bound(columns, low, high)
        self._highs.setBasis(before.basis)
        self.found = before
        return 0.0

    def free_shorts(self) -> bool:
        """Let every order be short again; False where that was so already."""
        if self.freed:
            return False
        self.freed = True
        return self.bound(self.shorts, self.compiled.lower[self.shorts], self.compiled.upper[self.shorts])

    def free_batches(self) -> bool:
        """Let every graft day have no batch again: a least that was set up for may leave no room for trays.

        False where none was held.
        """
        low, high = self.compiled.lower[self._batches], self.compiled.upper[self._batches]
        if np.array_equal(self.lower[self._batches], low) and np.array_equal(self.upper[self._batches], high):
            return False
        return self.bound(self._batches, low, high)

    def hold(self, columns: Columns) -> None:
        """Hold columns, which are whole, at their values."""
        values = np.round(self.found.columns[columns])
        self._bound(columns, values, values)

    def choose(self, columns: Columns) -> None:
        """Make columns whole one by one, each down or up as costs less, the closest to a whole one first.

        Raises SolveError where no solution of use is left.
        """
        while len(open_ := in_parts(self.found.columns[columns])):
            values = self.found.columns[columns[open_]]
            chosen = columns[open_[[int(np.argmin(np.abs(values - np.round(values))))]]]
            before, low, high = self.found, self.lower[chosen].copy(), self.upper[chosen].copy()
            down, up = np.floor(before.columns[chosen]), np.ceil(before.columns[chosen])
            found: list[tuple[Solution, Floats, Floats]] = []
            failed = SolveError("Infeasible")
            for bounds in ((up, high), (low, down)):
                try:
                    if self.bound(chosen, *bounds):
                        found.append((self.found, *bounds))
                except SolveError as error:  # the other way may cost less
                    failed = error
                self._bound(chosen, low, high)
                self._highs.setBasis(before.basis)
                self.found = before
            if not found:
                raise failed
            self.found, *cheaper = min(found, key=lambda tried: tried[0].objective)
            self._bound(chosen, *cheaper)
            self._highs.setBasis(self.found.basis)

    def make_whole(self, columns: Columns, share: float, told: Say) -> None:
        """Make a group of columns whole, and hold it.

        Each round raises a ``share`` of those in parts, the closest below a whole number; the others fall or
        rise on their own. One alone without room is lowered. Where neither can be, orders may be short again,
        and then graft days without their batch, which are chosen anew at the end. Raises SolveError where no
        solution is left.
        """
        most, least = len(columns), max(1, int(SMALLEST * len(columns)), self._least)
        frozen: tuple[Columns, Floats, Floats] | None = None
        may_freeze, freed = True, False
        while len(open_ := in_parts(self.found.columns[columns])):
            told(f"{len(columns) - len(open_):,} of {len(columns):,} numbers whole")
            if len(open_) <= FEW and frozen is None and may_freeze:
                others = np.delete(columns, open_)
                frozen = others, self.lower[others].copy(), self.upper[others].copy()
                self.hold(others)
            most = min(most, max(least, int(share * len(open_))))
            chosen = columns[open_[:most]]
            if self.bound(chosen, np.ceil(self.found.columns[chosen]), self.upper[chosen].copy()):
                most *= PACE
                continue
            self._failed += 1
            if self._failed >= PATIENCE and self.free_shorts():
                most = len(columns)
                continue
            if len(chosen) > 1:
                most = max(1, len(chosen) // PACE)
                continue
            if frozen is not None:
                self._bound(*frozen)
                frozen, may_freeze = None, False
                continue
            if self.bound(chosen, self.lower[chosen].copy(), np.floor(self.found.columns[chosen])):
                continue
            if not self.free_shorts():
                if freed or not self.free_batches():
                    raise SolveError("Infeasible")
                freed, columns = True, np.setdiff1d(columns, self._batches)
            most = len(columns)
        self.hold(columns)
        if freed:
            self.choose(self._batches)
            self.hold(self._batches)
