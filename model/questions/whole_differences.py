"""What orders add to the cost of whole plans: the cost of the plan with them less that of the plan without.

Each of two plans made apart may miss its least cost by its gap, and their difference by both gaps. So the
plan with the larger gap is also made from the other: the larger one by adding to the smaller, or the smaller
one by taking from the larger. The cheaper one counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from model.network.types import Network
from model.program.index_sets import Label
from model.scenario.entities import Order, Scenario
from model.solve import Solved, solve
from model.solver.book_parts import SEARCHED
from model.solver.compiled import Compiled, Solution, SolveError, run, solver, with_fixed
from model.solver.declining import LEAST_GAIN, declinable_of, held
from model.solver.whole import dived, make_whole

KEPT = (
    "temporary_hands",
    "units_opened",
    "offer_taken",
    "wave_opened",
    "batch_set_up",
    "vehicles",
    "sown",
)
"""Decisions of which a larger plan made from a smaller one has at least as many, a smaller one at most."""

AT_ONCE = 1.0
"""Share of the numbers in parts that a plan made from another raises at once: few are left to decide."""

SHORTER = 0.5
"""An order is shorter in one plan than in another from so many plants on."""


@dataclass(frozen=True, slots=True)
class WholeDifference:
    """Two whole plans that differ by some orders, and the cost that these add, in currency.

    ``delivered`` and ``bought``: plants delivered of each of these orders, and those of them bought in, in
    the plan ``larger``. ``shorter``: other orders of which that plan leaves more plants short than the plan
    ``smaller``. ``adds``: cost of ``larger`` less cost of ``smaller``, without the penalties for plants of
    these orders that stay short and the prices of those declined. What they add to the least cost lies surely
    between ``least`` and ``most``.
    """

    smaller: Solved
    larger: Solved
    delivered: dict[str, float]
    bought: dict[str, float]
    shorter: tuple[str, ...]
    adds: float
    least: float
    most: float

    @property
    def declined(self) -> dict[str, float]:
        """Plants of other orders that the plan ``larger`` declines and ``smaller`` does not."""
        now = declined_plants(self.larger)
        more = {name: now[name] - plants for name, plants in declined_plants(self.smaller).items()}
        return {name: n for name, n in more.items() if n > SHORTER and name not in self.delivered}


def with_orders(
    book: Solved, orders: Sequence[Order], expanded: Network | None = None, *, near: bool = False
) -> WholeDifference:
    """What orders that are not in the book add to it; ``book`` is the book's plan in whole trays.

    No order of the book is shorter in the plan with them, unless all plans found are so. The plan with them
    is solved from the start, as the book is once they are booked: of plans that cost the same, both are the
    same one, so that both share overhead alike. ``near``: in a book too large to be searched it is solved
    from the book's instead. ``expanded``: the network of the book with them, where it has been made
    already. Raises SolveError where HiGHS reaches no optimum.
    """
    scenario, short = book.program.network.scenario, _short(book)
    start = book if near and len(book.program.network.waves) > SEARCHED else None
    larger = solve(replace(scenario, orders=(*scenario.orders, *orders)), near=start, expanded=expanded)
    dearest = inf if _shorter(larger, short) else _cost(larger)
    plans = larger, *_made(larger, book, _with_at_least(larger, book, short), dearest)
    smaller = _cheaper(book, larger, _with_at_most(book, larger))
    fair = [plan for plan in plans if not _shorter(plan, short)]
    return _difference(orders, smaller, min(fair or plans, key=_cost))


def without_order(book: Solved, name: str, had: float = 0.0) -> WholeDifference:
    """What an order of the book adds to it; ``book`` is the book's plan in whole trays.

    No other order is shorter with it than without, unless all plans found are so. ``had``: plants delivered
    or bought in for it before today, which stay. Raises SolveError where HiGHS reaches no optimum.
    """
    scenario = book.program.network.scenario
    orders = [order for order in scenario.orders if order.order == name]
    smaller = solve(with_quantity(scenario, name, had), near=book)
    larger = _cheaper(book, smaller, _with_at_least(book, smaller, _short(book)))
    smaller = _cheaper(smaller, book, _with_at_most(smaller, book))
    before = {**_short(smaller), name: inf}
    if _shorter(larger, before):
        fair = _made(book, smaller, _with_at_least(book, smaller, before), inf)
        larger = min((plan for plan in fair if not _shorter(plan, before)), key=_cost, default=larger)
    return _difference(orders, smaller, larger)


def in_full(found: WholeDifference, order: Order) -> WholeDifference | None:
    """The same with all of an order, though leaving some of it short at its penalty is cheaper.

    No other order is shorter in the larger plan than in the smaller. None where no such plan is found.
    """
    plan, short = found.larger, {**_short(found.smaller), order.order: 0.0}
    try:
        full = replace(plan, solution=_best_of(plan, _no_shorter(plan, plan.compiled, short)))
    except SolveError:
        return None
    return None if _shorter(full, short) else _difference([order], found.smaller, full)


@dataclass(frozen=True, slots=True)
class Taking:
    """What taking the whole of an order that may be declined adds to the whole plan.

    ``adds``: cost in currency, without penalties for its own plants; ``short``: its plants short then.
    ``shorter``: orders that are shorter then. Their penalties are in ``adds``, which is no price then.
    """

    adds: float
    short: float
    shorter: tuple[str, ...]


def order_declined(book: Solved, name: str) -> Taking:
    """What taking the whole of an order that may be declined adds; ``book`` is the plan in whole trays.

    All other orders are taken and declined as in that plan, which the search for it has compared with these
    two. None of them is shorter and none of it is short, unless no such plan is found. Raises SolveError
    where HiGHS reaches no optimum.
    """
    program, compiled = book.program, book.compiled
    declinable = declinable_of(program, compiled)
    n = declinable.orders.index(name)
    declined = declinable.altogether(book.solution.columns)

    def with_share(value: float) -> tuple[Compiled, Solved]:
        changed = declined.copy()
        changed[n] = value
        fixed = held(compiled, declinable, changed)
        same = changed[n] == declined[n]
        return fixed, book if same else replace(book, solution=_best_of(book, fixed))

    _, without = with_share(1.0)
    fixed, taken = with_share(0.0)
    shorter = _shorter(taken, {**_short(without), name: np.inf})
    if shorter or _short(taken)[name] > SHORTER:
        with suppress(SolveError):
            bounds = _no_shorter(taken, fixed, {**_short(without), name: 0.0})
            taken, shorter = replace(book, solution=_best_of(book, bounds)), ()
    term = next(term for term in program.network.orders if term.order.order == name)
    short = _short(taken)[name]
    forgone = term.order.quantity * (term.order.price or 0.0)
    return Taking(_cost(taken) - term.penalty * short - (_cost(without) - forgone), short, shorter)


def _best_of(book: Solved, compiled: Compiled) -> Solution:
    """A whole plan of a program with other bounds than the book's: by a dive, and searched in smaller books.

    Raises SolveError where HiGHS reaches no optimum.
    """
    program = book.program
    if len(program.network.waves) > SEARCHED:
        return dived(program, compiled, book.continuous)
    return make_whole(program, compiled, run(solver(compiled), start=book.continuous)).solution


def with_quantity(scenario: Scenario, name: str, quantity: float) -> Scenario:
    """The scenario with another quantity of an order; without the order, where the quantity is 0."""
    orders = [
        replace(order, quantity=round(quantity)) if order.order == name else order
        for order in scenario.orders
    ]
    return replace(scenario, orders=tuple(order for order in orders if order.quantity > 0))


def _difference(orders: Sequence[Order], smaller: Solved, larger: Solved) -> WholeDifference:
    """The difference by some orders of two plans.

    An order only asks for more, and what is made for it may be left over. So it never lowers the least cost.
    """
    short, declined = _short(larger), declined_plants(larger)
    terms = {term.order.order: term for term in larger.program.network.orders}
    penalties = sum(
        terms[order.order].penalty * short[order.order] + terms[order.order].price * declined[order.order]
        for order in orders
    )
    cost, bound = _cost(larger) - penalties, larger.bound - penalties
    before = {**_short(smaller), **{order.order: inf for order in orders}}
    return WholeDifference(
        smaller,
        larger,
        {order.order: order.quantity - short[order.order] - declined[order.order] for order in orders},
        _bought(larger, orders),
        _shorter(larger, before),
        cost - _cost(smaller),
        max(0.0, min(bound, cost) - _cost(smaller)),
        cost - min(smaller.bound, _cost(smaller)),
    )


def _bought(plan: Solved, orders: Sequence[Order]) -> dict[str, float]:
    """Plants bought in for each order."""
    bought = {order.order: 0.0 for order in orders}
    values = plan.compiled.values(plan.solution.columns)["bought"].tolist()
    for buy_in, plants in zip(plan.program.network.buy_ins, values, strict=True):
        name = plan.program.network.orders[buy_in.order].order.order
        if name in bought:
            bought[name] += plants
    return bought


def _cost(plan: Solved) -> float:
    return plan.solution.objective


def declined_plants(plan: Solved) -> dict[str, float]:
    """Plants declined by order."""
    orders, values = plan.program.network.orders, plan.compiled.values(plan.solution.columns)
    declined = {term.order.order: 0.0 for term in orders}
    for (name, n), o, plants in plan.program.declined:
        declined[orders[o].order.order] += plants * float(values[name][n])
    return declined


def _short(plan: Solved) -> dict[str, float]:
    """Plants short by order."""
    short = plan.compiled.values(plan.solution.columns)["short"].tolist()
    return {term.order.order: max(0.0, n) for term, n in zip(plan.program.network.orders, short, strict=True)}


def _shorter(plan: Solved, before: dict[str, float]) -> tuple[str, ...]:
    """Orders of which a plan leaves more plants short than ``before``."""
    return tuple(name for name, short in _short(plan).items() if short > before.get(name, np.inf) + SHORTER)


def _kept(plan: Solved) -> dict[tuple[str, Label], float]:
    """The plan's values of ``KEPT`` by variable and label."""
    values = plan.compiled.values(plan.solution.columns)
    return {
        (name, label): round(value)
        for name in KEPT
        for label, value in zip(plan.program.labels[name], values[name].tolist(), strict=True)
    }


def _columns(plan: Solved, names: tuple[str, ...]) -> dict[tuple[str, Label], int]:
    """Columns of variables by variable and label."""
    return {
        (name, label): column
        for name in names
        for label, column in zip(
            plan.program.labels[name], plan.compiled.position[name].tolist(), strict=True
        )
        if column >= 0
    }


def _alike_held(plan: Solved, kept: Mapping[tuple[str, Label], float]) -> Compiled:
    """The program of ``plan`` with what both plans have alike held; ``kept``: what the other has.

    A dive then has only that to decide in which the two differ.
    """
    columns, own = _columns(plan, KEPT), _kept(plan)
    alike = [key for key in columns if own[key] == kept.get(key, 0.0)]
    held = np.array([columns[key] for key in alike], dtype=np.intp)
    return with_fixed(plan.compiled, held, np.array([own[key] for key in alike]))


def _with_at_least(plan: Solved, smaller: Solved, short: dict[str, float]) -> Compiled:
    """The program of ``plan`` with at least what the smaller has, and no order shorter than ``short``."""
    kept = _kept(smaller)
    compiled = plan.compiled if _shorter(plan, short) else _alike_held(plan, kept)
    lower, upper = compiled.lower.copy(), compiled.upper.copy()
    for key, column in _columns(plan, KEPT).items():
        lower[column] = max(lower[column], min(kept.get(key, 0.0), upper[column]))
    return _no_shorter(plan, replace(compiled, lower=lower, upper=upper), short)


def _no_shorter(plan: Solved, compiled: Compiled, short: dict[str, float]) -> Compiled:
    """``compiled``, a program of ``plan`` in other bounds, with no order shorter than ``short``."""
    upper = compiled.upper.copy()
    for (_, (name,)), column in _columns(plan, ("short",)).items():
        upper[column] = max(compiled.lower[column], min(upper[column], short.get(str(name), np.inf)))
    return replace(compiled, upper=upper)


def _with_at_most(plan: Solved, larger: Solved) -> Compiled:
    """The program of ``plan`` with at most what the larger plan has."""
    kept = _kept(larger)
    compiled = _alike_held(plan, kept)
    upper = compiled.upper.copy()
    for key, column in _columns(plan, KEPT).items():
        upper[column] = max(compiled.lower[column], min(upper[column], kept.get(key, 0.0)))
    return replace(compiled, upper=upper)


def _gap(plan: Solved) -> float:
    return _cost(plan) - plan.bound


def _cheaper(plan: Solved, other: Solved, compiled: Compiled) -> Solved:
    """The cheaper of a plan and of the one that a dive within bounds by the ``other`` finds."""
    return min((plan, *_made(plan, other, compiled, _cost(plan))), key=_cost)


def _made(plan: Solved, other: Solved, compiled: Compiled, dearest: float) -> list[Solved]:
    """The plan of a program by one dive within bounds by the ``other``; none where the dive ends without one.

    Nor is there one where the dive costs as much as ``dearest``, in currency, and no dive where no plan can
    cost less than that by the proved bound, or where the plan costs that and its gap is no larger than the
    other's.
    """
    if plan.bound >= dearest - LEAST_GAIN or (dearest < inf and _gap(plan) <= _gap(other)):
        return []
    try:
        return [replace(plan, solution=dived(plan.program, compiled, None, dearest, AT_ONCE))]
    except SolveError:
        return []
