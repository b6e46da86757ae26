"""The elastic program: every limit may be exceeded at a price, which shows by how much it must be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import replace
from datetime import date
from typing import NamedTuple

import numpy as np
from scipy.sparse import csc_array

from model.program.program import Program
from model.solver.compiled import Compiled, Solution, run, solver, with_columns, with_fixed

SHORT = 1e-6
"""An order counts as short above this many plants."""

FINELY = {"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9}
"""Finer tolerances than usual: least relief leaves almost no room, which the tolerance must not exceed."""

LIMITS = {
    "slots": "slots",
    "units_busy": "units",
    "skill_hours": "hours",
    "stock": "stock",
    "packs": "stock",
    "packs_out": "stock",
    "buy_in_quantity": "buy-in",
    "day_share": "one graft day",
    "lot_share": "share of a lot",
    "unit_share": "share of a unit",
    "run_vehicles": "vehicles",
}
"""Constraint groups that are made elastic, with the kind of limit of each."""

OF_PACKS = ("packs", "packs_out")
"""Groups that say what packs must hold."""


ON_ALL_DAYS = ("stock", "share of a lot")
"""Kinds of limits without a day."""


class LimitOn(NamedTuple):
    """A limit: its kind, the name of its zone, skill, item, offer or order, and its day.

    ``day``: None for kinds of ``ON_ALL_DAYS``. The share of a lot is that of all lots of the order.
    """

    kind: str
    name: str
    day: date | None


def optimum(compiled: Compiled) -> Solution:
    """The optimum with the tolerances ``FINELY``."""
    return run(solver(compiled, None, **FINELY))


def filled(program: Program, compiled: Compiled, orders: Collection[str]) -> Compiled:
    """The program in which these orders may not be short."""
    columns = [
        column
        for term, column in zip(program.network.orders, compiled.position["short"].tolist(), strict=True)
        if term.order.order in orders
    ]
    return with_fixed(compiled, np.array(columns, dtype=np.intp), np.zeros(len(columns)))


def short_orders(program: Program, compiled: Compiled, solution: Solution) -> dict[str, float]:
    """Plants short by order, for orders that are short."""
    values = compiled.values(solution.columns)["short"].tolist()
    return {
        term.order.order: value
        for term, value in zip(program.network.orders, values, strict=True)
        if value > SHORT
    }


def rows_of_limits(program: Program, compiled: Compiled) -> dict[LimitOn, list[int]]:
    """The rows of the program that each limit appears in.

    Extra stock of an item on sale relaxes only ``stock``: it is there earlier, but still has to be bought. If
    the item cannot be bought, extra stock relaxes ``packs`` and ``packs_out`` too.
    """
    on_sale = {pack.item for pack in program.packs}
    found: dict[LimitOn, list[int]] = defaultdict(list)
    for group, kind in LIMITS.items():
        for label, row in compiled.rows.get(group, {}).items():
            if label[-1] != "least" and not (group in OF_PACKS and label[0] in on_sale):
                found[
                    LimitOn(kind, label[0], None if kind in ON_ALL_DAYS else date.fromisoformat(label[1]))
                ].append(row)
    return dict(found)


def most_there_is(program: Program, limit: LimitOn) -> float:
    """The largest value of a limit on any day of the horizon; 0 for an offer without a most per delivery."""
    amounts = program.amounts
    if limit.kind in ("slots", "units"):
        return max(amounts.zones[limit.name].amount)
    if limit.kind == "hours":
        crews = [crew for crew in amounts.crews.values() if limit.name in crew.crew.skills]
        days = range(program.network.calendar.days)
        return max(sum(c.crew.pace * (c.regular[t] + c.overtime[t]) for c in crews) for t in days)
    if limit.kind == "stock":
        return program.items[limit.name][0]
    if limit.kind in ("one graft day", "share of a lot", "share of a unit"):
        (term,) = (term for term in program.network.orders if term.order.order == limit.name)
        most = {"one graft day": term.of_one_day, "share of a lot": term.of_one_lot}
        return most.get(limit.kind, term.of_one_unit) or 0.0
    if limit.kind == "vehicles":
        most = {run.run: run.vehicles_most for run in program.network.scenario.runs}
        return float(most[limit.name] or 0)
    offer = next(offer for offer in program.network.offers if offer.offer == limit.name)
    return float(offer.most_per_delivery or 0)


def hour_at_most(program: Program, skill: str) -> float:
    """The highest cost of an hour of a skill at the standard pace: the price of hours beyond the limit."""
    crews = [crew for crew in program.amounts.crews.values() if skill in crew.crew.skills]
    return max((max(*c.pay, *c.overtime_pay) / c.crew.pace for c in crews), default=0.0)


class Elastic:
    """A program in which every limit of ``LIMITS`` is elastic."""

    def __init__(self, program: Program, compiled: Compiled) -> None:
        self._program, self._compiled = program, compiled
        rows = rows_of_limits(program, compiled)
        self._limits = list(rows)
        self._paid = np.array(
            [hour_at_most(program, limit.name) if limit.kind == "hours" else 0.0 for limit in self._limits]
        )
        self._shares = np.array([1 / (most_there_is(program, limit) or 1.0) for limit in self._limits])
        at = np.array([row for of_one in rows.values() for row in of_one], dtype=np.intp)
        columns = np.repeat(np.arange(len(rows)), [len(of_one) for of_one in rows.values()])
        shape = compiled.matrix.shape[0], len(rows)
        self._ease = csc_array((-np.ones(len(at)), (at, columns)), shape=shape)

    def unfillable(self) -> set[str]:
        """Orders that are short whatever the limits: what they need can no longer be done.

        min  Σ s[o]      with row i ≤ its limit + e[i], e ≥ 0
        """
        cost = np.zeros(len(self._compiled.cost))
        shorts = self._compiled.position["short"]
        cost[shorts[shorts >= 0]] = 1.0
        base = replace(self._compiled, cost=cost, offset=0.0)
        eased = optimum(with_columns(base, self._ease, np.inf, np.zeros(len(self._limits))))
        return set(short_orders(self._program, self._compiled, eased))

    def solve(
        self, orders: Collection[str], price: float | None
    ) -> tuple[dict[LimitOn, float], dict[str, float]]:
        """The amounts by which limits are exceeded, and the plants short by order; both only where above 0.

        ``orders`` may not be short. ``price``: in currency, of relief equal to a limit's highest value; None
        minimises relief alone, without the plan's cost. Extra hours are also paid. Raises SolveError where
        the orders cannot be filled even with relief.

        min  cost + Σ pay · e[i] + price · Σ e[i] / most[i]      with row i ≤ its limit + e[i], e ≥ 0
        """
        base = filled(self._program, self._compiled, orders)
        cost = np.zeros(len(base.cost)) if price is None else base.cost
        relief = self._shares if price is None else self._paid + price * self._shares
        solution = optimum(with_columns(replace(base, cost=cost), self._ease, np.inf, relief))
        exceeded = solution.columns[len(base.cost) :].tolist()
        return (
            {limit: amount for limit, amount in zip(self._limits, exceeded, strict=True) if amount > 0},
            short_orders(self._program, self._compiled, solution),
        )
