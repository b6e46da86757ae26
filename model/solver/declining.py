"""Which orders to decline: a search from one whole plan to a cheaper one.

A dive rounds each such decision on its own. The search then takes or declines one or two orders at a time, as
long as that makes the whole plan cheaper. An order of which the plan declines a part is left to the dive.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from model.phases import Say
from model.program.program import Program
from model.scenario.choices import Decline
from model.solver.compiled import Compiled, Floats, Solution, SolveError, run, solver, with_fixed
from model.solver.dive import Columns

LEAST_GAIN = 0.005
"""A plan is cheaper where it saves more than this, in currency."""

MOST_DIVES = 100
"""Whole plans made at most in a search."""

MakePlan = Callable[[Compiled, Solution, float], Solution]
"""Makes a whole plan of a program that is cheaper than a cost in currency, given an optimum of it with other
bounds. Raises SolveError where it finds none."""


@dataclass(frozen=True, slots=True)
class Declinable:
    """Orders that may still be declined, their columns, and the values where one is declined altogether."""

    orders: tuple[str, ...]
    columns: Columns
    most: Floats

    def altogether(self, values: Floats) -> Floats:
        """1 where an order is declined altogether, 0 where it is taken, a share of it between."""
        return np.round(values[self.columns]) / self.most


@dataclass(frozen=True, slots=True)
class _Change:
    """Orders, by index, to be taken or declined altogether, and a lower bound on the cost then (currency)."""

    orders: list[int]
    bound: float


def better_declined(
    program: Program, compiled: Compiled, best: Solution, make: MakePlan, told: Say
) -> Solution:
    """The plan, or a cheaper one that no change of one or two orders declined improves.

    The search ends sooner after ``MOST_DIVES`` plans.
    """
    declinable, dives = declinable_of(program, compiled), 0
    improved = len(declinable.columns) > 0
    while improved:
        improved = False
        declined = declinable.altogether(best.columns)
        start = run(solver(held(compiled, declinable, declined)))
        for change in _changes(declinable, declined, start, best.objective):
            changed = declined.copy()
            changed[change.orders] = changed[change.orders] < 1
            fixed = held(compiled, declinable, changed)
            try:
                if run(solver(fixed), start=start).objective >= best.objective - LEAST_GAIN:
                    continue
                dives += 1
                told(f"plan {dives}")
                found = make(fixed, start, best.objective - LEAST_GAIN)
            except SolveError:
                continue
            if found.objective < best.objective - LEAST_GAIN:
                best, improved = found, True
                break
            if dives == MOST_DIVES:
                return best
    return best


def declinable_of(program: Program, compiled: Compiled) -> Declinable:
    """What may still be declined."""
    terms = program.network.orders
    orders = [term.order for term in terms]
    part, whole = program.declinable(Decline.PART), program.declinable(Decline.WHOLE)
    names = [orders[o].order for o in (*part, *whole)]
    columns = np.append(compiled.position["declined"], compiled.position["declined_whole"]).astype(np.intp)
    most = np.array([orders[o].quantity / terms[o].declined_at_once for o in part] + [1.0] * len(whole))
    still = (columns >= 0) & (compiled.lower[columns] < compiled.upper[columns])
    return Declinable(
        tuple(name for name, kept in zip(names, still, strict=True) if kept), columns[still], most[still]
    )


def held(compiled: Compiled, declinable: Declinable, declined: Floats) -> Compiled:
    """The program with orders taken or declined as they are; those declined in part are left open."""
    whole = (declined == 0) | (declined == 1)
    return with_fixed(compiled, declinable.columns[whole], declined[whole] * declinable.most[whole])


def _changes(declinable: Declinable, declined: Floats, start: Solution, cost: float) -> Iterator[_Change]:
    """Changes of one or two orders that may lower the cost, the most promising first.

    The least cost of the continuous program is convex in the values at which columns are held. So their
    reduced costs bound it from below: f(D + δ) ≥ f(D) + Σ r · δ. An order declined in part is declined
    altogether.
    """
    to = np.where(declined < 1, 1.0, 0.0)
    now = start.columns[declinable.columns]
    rise = start.column_dual[declinable.columns] * (to * declinable.most - now)
    every = range(len(declined))
    some = [[n] for n in every] + [list(pair) for pair in combinations(every, 2)]
    changes = [_Change(orders, start.objective + float(rise[orders].sum())) for orders in some]
    promising = [change for change in changes if change.bound < cost - LEAST_GAIN]
    yield from sorted(promising, key=lambda change: (len(change.orders), change.bound))
