"""Orders that the continuous program fills and a whole plan does not: each is tried filled, or proved dearer.

A plan stands only where no plan found with such orders filled is cheaper. For each of them the plan can then
say what no plan that fills it costs less than, and what the cheapest one found costs.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from model.phases import Say
from model.program.program import Program
from model.solver.book_parts import SEARCHED, SMALL_BOOK, book_parts
from model.solver.compiled import (
    CLOSE_TO_BOUND,
    PART,
    Compiled,
    Effort,
    Solution,
    SolveError,
    run,
    solver,
    start_from,
    with_fixed,
    within,
)
from model.solver.declining import LEAST_GAIN, MakePlan
from model.solver.dive import HOLDING, Columns, held_whole
from model.solver.strong import Strong

GROWN = ("sown", "temporary_hands", "units_opened", "offer_taken", "wave_opened", "batch_set_up")
"""Variables of which a plan made from another by filling orders takes no less than that has."""

EACH = 0.2
"""Share of the effort left that the search of a plan that fills one order may take."""

FILLED = 1e-6
"""An order with no more plants short than this is filled."""

SHORT = 0.5
"""A whole plan leaves an order short from so many plants on."""


@dataclass(frozen=True, slots=True)
class Filling:
    """What is known of plans that fill an order: none costs less than ``least``, one costs ``found``.

    Both in currency; ``found`` is infinite where no such plan was found.
    """

    least: float
    found: float = inf

    def proved(self, cost: float) -> bool:
        """Whether no plan that fills the order costs less than ``cost``."""
        return self.least >= cost - CLOSE_TO_BOUND * max(1.0, abs(cost))


def filled(compiled: Compiled, continuous: Solution) -> Columns:
    """Columns of plants short of the orders that the continuous program fills."""
    columns = compiled.columns(("short",))
    return columns[continuous.columns[columns] <= FILLED]


class Plans(NamedTuple):
    """A program, its continuous optimum, a whole plan, and a bound of any whole plan, in currency."""

    compiled: Compiled
    continuous: Solution
    best: Solution
    bound: float


class _Fillings:
    """The cheapest plan found so far, and what is known of filling each order that it leaves short."""

    def __init__(self, plans: Plans, make: MakePlan) -> None:
        compiled, continuous, best, bound = plans
        self._compiled, self._continuous, self._make, self._bound = compiled, continuous, make, bound
        self._fillable = filled(compiled, continuous)
        self.best = best
        self.known: dict[int, Filling] = {}

    def short(self) -> Columns:
        """Columns of plants short of the orders in question."""
        return self._fillable[self.best.columns[self._fillable] > SHORT]

    def of(self, column: int) -> Filling:
        """What is known of filling an order, given by its column of plants short."""
        return self.known.get(column, Filling(self._bound))

    def meet(self, solution: Solution) -> bool:
        """Count a plan for all orders that it fills; whether it is the cheapest so far."""
        for column in self.short().tolist():
            if solution.columns[column] <= SHORT:
                before = self.of(column)
                self.known[column] = replace(before, found=min(before.found, solution.objective))
        cheaper = solution.objective < self.best.objective - LEAST_GAIN
        if cheaper:
            self.best = solution
        return cheaper

    def raised(self, column: int, least: float) -> None:
        """Count a bound of the plans that fill an order."""
        before = self.of(column)
        self.known[column] = replace(before, least=max(before.least, least))

    def unproved(self) -> list[int]:
        """Columns of the orders in question that may yet be filled at less cost."""
        return [k for k in self.short().tolist() if not self.of(k).proved(self.best.objective)]

    def tried(self, group: Columns) -> bool:
        """Whether a cheaper plan is found by a dive that fills a group of orders.

        No order may be shorter than in the plan, and what is made whole may only grow.
        """
        compiled, plan = self._compiled, self.best.columns
        shorts, grown = compiled.columns(("short",)), compiled.columns(GROWN)
        lower, upper = compiled.lower.copy(), compiled.upper.copy()
        lower[grown] = np.maximum(lower[grown], np.minimum(np.round(plan[grown]), upper[grown]))
        upper[shorts] = np.minimum(upper[shorts], np.round(plan[shorts]))
        upper[group] = lower[group]
        with suppress(SolveError):
            return self.meet(self._make(replace(compiled, lower=lower, upper=upper), self._continuous, inf))
        return False


def fill(
    program: Program,
    strong: Strong,
    plans: Plans,
    make: MakePlan,
    most: int,
    effort: Effort,
    told: Say,
) -> tuple[Solution, dict[str, Filling]]:
    """The plan or a cheaper one, and what is known of filling each order of it that need not be short.

    All such orders are filled at once, then one by one, or in ``most`` groups where they are more. Of those
    that are then neither filled nor proved dearer, so many are filled alone, by a search.
    """
    found = _Fillings(plans, make)
    names = dict(
        zip(
            plans.compiled.position["short"].tolist(),
            (term.order.order for term in program.network.orders),
            strict=True,
        )
    )
    groups, tries = [found.short()], most
    while groups and len(groups[0]) and tries > 0:
        told("orders to fill")
        group, tries = groups.pop(0), tries - 1
        if found.tried(group):
            groups = [found.short()]
        elif len(group) > 1 and not groups:
            groups = np.array_split(group, min(len(group), tries) or 1)
    _bounded(found, strong)
    alone = _Alone(program, strong, plans, make, effort)
    for column in found.unproved()[:most]:
        told(f"order {names[column]} filled")
        with suppress(SolveError):
            solution, bound = alone.searched(found.best, column, found.of(column).found)
            found.meet(solution)
            if within(bound, found.of(column).found):
                found.raised(column, bound)
    return found.best, {names[column]: found.of(column) for column in found.short().tolist()}


def _bounded(found: _Fillings, strong: Strong) -> None:
    """Count the bound of the plans that fill each order, by the program with rows added."""
    short = found.unproved()
    if not short:
        return
    highs = solver(strong.compiled)
    start_from(highs, strong.optimum)
    for column in short:
        lower, upper = strong.compiled.lower[column], strong.compiled.upper[column]
        highs.changeColBounds(column, lower, lower)
        try:
            found.raised(column, run(highs).objective)
        except SolveError as error:
            if error.status != "Infeasible":
                raise
            found.raised(column, inf)
        highs.changeColBounds(column, lower, upper)


class _Alone:
    """A search for plans that fill one order, with a bound of any.

    In a small book it is the search of a mixed-integer program. Otherwise that of the order's part of the
    book is searched, and the rest of the plan is held. Where there is no such part, there is a dive if no
    plan that fills the order is known: from the optimum in parts it rarely finds a cheaper one. The bound
    of a plan holds the least cost of each part, which is no more than the part costs in the plan. So it
    rises by what the part p costs more at least:

    bound with the order filled = bound + max(0, bound of p with the order filled − cost of p in the plan)
    """

    def __init__(
        self, program: Program, strong: Strong, plans: Plans, make: MakePlan, effort: Effort
    ) -> None:
        self._strong, self._plans, self._make, self._effort = strong.compiled, plans, make, effort
        waves = len(program.network.waves)
        self._small = waves <= SMALL_BOOK
        self._whole = np.zeros(len(strong.compiled.cost), dtype=bool)
        sown = self._whole.copy()
        self._whole[strong.compiled.columns(HOLDING)] = True
        sown[strong.compiled.columns(("sown",))] = True
        cut = (
            [] if self._small or waves > SEARCHED else book_parts(strong.compiled, strong.optimum, SMALL_BOOK)
        )
        self._parts = [part for part in cut if np.count_nonzero(sown[part.columns]) <= SMALL_BOOK]

    def searched(self, best: Solution, column: int, known: float) -> tuple[Solution, float]:
        """A plan that fills the order with this column of plants short, and a bound of any.

        ``best``: the plan so far; ``known``: cost of the cheapest one known that fills the order, infinite
        where none is. Raises SolveError where none is found.
        """
        compiled, bound = self._plans.compiled, self._plans.bound
        if self._small:
            found = self._search(self._strong, np.array([column], dtype=np.intp), self._whole)
            return held_whole(compiled, found), found.bound
        for part in self._parts:
            at = np.flatnonzero(part.columns == column)
            if len(at):
                found = self._search(part.compiled, at, self._whole[part.columns])
                gain = found.bound - float(part.compiled.cost @ best.columns[part.columns])
                values = best.columns.copy()
                values[part.columns] = found.columns
                return held_whole(compiled, replace(best, columns=values)), bound + max(0.0, gain)
        if known < inf:
            raise SolveError("a plan that fills the order is known")
        columns = np.array([column], dtype=np.intp)
        filled_up = with_fixed(compiled, columns, compiled.lower[columns])
        return self._make(filled_up, self._plans.continuous, inf), bound

    def _search(self, compiled: Compiled, held: Columns, whole: NDArray[np.bool_]) -> Solution:
        """What HiGHS finds with some columns at their lower bounds, without presolve, which may lose it."""
        tried = with_fixed(compiled, held, compiled.lower[held])
        highs = solver(tried, np.flatnonzero(whole), presolve="off", **PART)
        return self._effort.search(highs, EACH)
