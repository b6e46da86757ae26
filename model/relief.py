"""The least relief that lets every order be filled, found by an elastic re-solve and proved by solving again.

An order is short for one of three reasons, and each has its own cure:

- limits on its routes are full: the program is solved once more with every order filled and every limit
  elastic, for the least relief;
- nothing can reach it in time, whatever there is: its due day is moved later by the fewest days, or,
  where the horizon ends before, the first day earlier;
- it is cheaper short than filled: its penalty is raised to the next hundredth at which it is filled.

All of it is about the continuous program: trays, packs and hands may be in parts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil
from typing import Any

import numpy as np
from scipy.sparse import csc_array, csr_array, hstack

from model.calendar import Calendar
from model.compiled import Compiled, Floats, Solution, SolveError, compile_program, run, solver, with_fixed
from model.diagnose import route_keys
from model.entities import Order, Scenario
from model.network import expand
from model.program import build
from model.sets import Program

SHORT = 1e-6
"""Plants from which an order counts as short."""

STEP = 1e-6
"""Relief is rounded up to a multiple of this, so that the solver's own tolerance cannot undo it."""

CENT = 0.01
"""Penalties are raised to a multiple of this."""

EARLIEST = 400
"""Days by which the first day may be moved earlier at most."""

LIMITS = {
    "slots": ("slots", "slots"),
    "units_busy": ("units", "units"),
    "skill_hours": ("hours", "hours"),
    "stock": ("stock", "units"),
    "packs": ("stock", "units"),
    "buy_in_quantity": ("buy-in", "plants"),
}
"""Elastic constraint groups: the kind of limit and what its relief counts."""


@dataclass(frozen=True, slots=True)
class Item:
    """One part of a relief: so much more of a limit, or an order or the nursery's start moved.

    ``kind`` and ``name``: slots or units of a zone, hours (at the standard pace) of a skill, stock of an
    item, buy-in of an offer, on ``day`` (None for stock: on hand from the first day); due day of an order
    or first day of the nursery, moved by ``amount`` days to ``day``; penalty of an order, raised by
    ``amount``. ``orders``: the orders, short without relief, that it serves.
    """

    kind: str
    name: str
    day: date | None
    amount: float
    unit: str
    orders: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Relief:
    """The least relief of a scenario, proved.

    ``short``: plants short of each order without relief, where any. With all ``items`` none of these is
    short any more, but for those ``beyond`` relief; without any one item some are.
    """

    scenario: Scenario
    short: dict[str, float]
    items: tuple[Item, ...]
    beyond: tuple[str, ...]


class Granted:
    """Solves a scenario again with relief granted."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self._made: dict[tuple[Any, ...], tuple[Program, Compiled]] = {}

    def program(self, items: Iterable[Item]) -> tuple[Program, Compiled]:
        """The program with the items granted."""
        items = tuple(items)
        moved = tuple(item for item in items if item.kind in ("due day", "first day"))
        key = tuple((item.kind, item.name, item.day) for item in moved)
        if key not in self._made:
            program = build(expand(with_moved(self.scenario, moved)))
            self._made[key] = program, compile_program(program)
        program, compiled = self._made[key]
        upper, cost = compiled.row_upper.copy(), compiled.cost.copy()
        orders = {term.order.order: o for o, term in enumerate(program.network.orders)}
        for item in items:
            if item.kind == "penalty":
                cost[compiled.position["s"][orders[item.name]]] += item.amount
            for row in _rows(program.network.calendar, compiled, item):
                upper[row] += item.amount
        return program, replace(compiled, row_upper=upper, cost=cost)

    def short(self, items: Iterable[Item]) -> dict[str, float]:
        """Plants short of each order, where any, in the continuous plan of least cost with the items."""
        program, compiled = self.program(items)
        return _short(program, compiled, run(solver(compiled)))


def short_with(scenario: Scenario, items: Iterable[Item]) -> dict[str, float]:
    """Plants short of each order, where any, when the scenario is solved again with these items granted."""
    return Granted(scenario).short(items)


def with_moved(scenario: Scenario, items: Iterable[Item]) -> Scenario:
    """The scenario with due days and first day as the items say; items of other kinds change nothing here."""
    items = tuple(items)
    due = {item.name: item.day for item in items if item.kind == "due day"}
    first = [item.day for item in items if item.kind == "first day" and item.day is not None]
    return replace(
        scenario,
        nursery=replace(scenario.nursery, first_day=min([scenario.nursery.first_day, *first])),
        orders=tuple(
            replace(order, due_day=due.get(order.order) or order.due_day) for order in scenario.orders
        ),
    )


def least_relief(scenario: Scenario) -> Relief:
    """The least relief that lets every order of a valid scenario be filled; see the module.

    Relief of limits is least in total, each counted as a share of the largest amount there is of it on
    any day (as 1 a unit where there is none). Raises SolveError where HiGHS reaches no optimum.
    """
    granted = Granted(scenario)
    short = granted.short(())
    if not short:
        return Relief(scenario, {}, (), ())
    items, beyond = _moved(scenario, short)
    items += _elastic(*granted.program(items), beyond)
    items += _penalties(*granted.program(items), beyond)
    items = _pruned(granted, items, beyond)
    program, compiled = granted.program(items)
    served = _served(program, compiled, [name for name in short if name not in beyond], items)
    return Relief(scenario, short, tuple(served), tuple(beyond))


def _short(program: Program, compiled: Compiled, solution: Solution) -> dict[str, float]:
    values = compiled.values(solution.columns)["s"].tolist()
    return {
        term.order.order: value
        for term, value in zip(program.network.orders, values, strict=True)
        if value > SHORT
    }


def _rows(calendar: Calendar, compiled: Compiled, item: Item) -> list[int]:
    """Rows that an item of a limit eases; none where the program does without them.

    One more unit on hand eases both rows of a seed lot or supply.
    """
    labels: list[tuple[str, tuple[Any, ...]]]
    if item.kind == "stock":
        labels = [("stock", (item.name,)), ("packs", (item.name,))]
    else:
        day = None if item.day is None else calendar.day(item.day)
        last = ("most",) if item.kind == "buy-in" else ()
        labels = [
            (group, (item.name, day, *last)) for group, (kind, _) in LIMITS.items() if kind == item.kind
        ]
    return [compiled.rows[group][label] for group, label in labels if label in compiled.rows.get(group, {})]


def _reached(scenario: Scenario, orders: Sequence[Order]) -> set[str]:
    """Orders, put in place of the scenario's, that some route can reach."""
    network = expand(replace(scenario, orders=tuple(orders)))
    reached = {delivery.order for delivery in network.deliveries} | {b.order for b in network.buy_ins}
    return {network.orders[o].order.order for o in reached}


def _moved(scenario: Scenario, short: Collection[str]) -> tuple[list[Item], list[str]]:
    """Due days moved later and the first day earlier, so that each short order has a route; and those beyond.

    An earlier first day may spare others their later due day: these are looked for with it.
    """
    orders = [order for order in scenario.orders if order.order in short]
    reached = _reached(scenario, orders)
    cut_off = [order for order in orders if order.order not in reached]
    late = [order for order in cut_off if _later(scenario, order) is None]
    earlier = {order.order: _earlier(scenario, order) for order in late}
    beyond = [name for name, days in earlier.items() if days is None]
    days = max((days for days in earlier.values() if days is not None), default=0)
    items: list[Item] = []
    if days:
        first = scenario.nursery.first_day - timedelta(days=days)
        served = tuple(name for name, needed in earlier.items() if needed is not None)
        items.append(Item("first day", scenario.nursery.name, first, float(days), "days", served))
        scenario = with_moved(scenario, items)
        reached = _reached(scenario, orders)
    for order in orders:
        if order.order not in reached and order.order not in beyond:
            due = _later(scenario, order)
            assert due is not None
            moved = float((due - order.due_day).days)
            items.append(Item("due day", order.order, due, moved, "days", (order.order,)))
    return items, beyond


def _later(scenario: Scenario, order: Order) -> date | None:
    """First due day after the order's, within the horizon, that some route can reach."""
    days = range(1, (scenario.nursery.last_day - order.due_day).days + 1)
    copies = [replace(order, order=f"{n}", due_day=order.due_day + timedelta(days=n)) for n in days]
    reached = _reached(scenario, copies)
    return min((copy.due_day for copy in copies if copy.order in reached), default=None)


def _earlier(scenario: Scenario, order: Order) -> int | None:
    """Fewest days by which the first day must be earlier for some route to reach the order.

    Whatever can be done can still be done from an earlier first day, so the days are found by halving.
    """
    first = scenario.nursery.first_day

    def reaches(days: int) -> bool:
        nursery = replace(scenario.nursery, first_day=first - timedelta(days=days))
        return bool(_reached(replace(scenario, nursery=nursery), [order]))

    low, high = 0, 1
    while not reaches(high):
        if high == EARLIEST:
            return None
        low, high = high, min(2 * high, EARLIEST)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reaches(middle) else (middle, high)
    return high


def _filled(program: Program, compiled: Compiled, beyond: Collection[str]) -> Compiled:
    """The program in which no order may be short but those beyond relief."""
    columns = [
        column
        for term, column in zip(program.network.orders, compiled.position["s"].tolist(), strict=True)
        if term.order.order not in beyond
    ]
    return with_fixed(compiled, np.array(columns, dtype=np.intp), np.zeros(len(columns)))


def _most(program: Program, group: str, name: str) -> float:
    """The largest amount of a limit on any day of the horizon; of one that an offer leaves open, 0."""
    amounts = program.amounts
    if group in ("slots", "units_busy"):
        return max(amounts.zones[name].amount)
    if group == "skill_hours":
        crews = [limits for limits in amounts.crews.values() if name in limits.crew.skills]
        by_day = [
            sum(limits.crew.pace * (limits.regular[t] + limits.overtime[t]) for limits in crews)
            for t in range(program.network.calendar.days)
        ]
        return max(by_day)
    if group in ("stock", "packs"):
        return program.items[name][0]
    offer = next(offer for offer in program.network.offers if offer.offer == name)
    return float(offer.most_per_delivery or 0)


def _elastic(program: Program, compiled: Compiled, beyond: Collection[str]) -> list[Item]:
    """The least relief of limits with which every order can be filled.

    min  Σ e[i] / most[i]      with row i ≤ its limit + e[i], every order filled, e ≥ 0
    """
    calendar = program.network.calendar
    found: dict[tuple[str, str, int | None], list[int]] = defaultdict(list)
    weights: dict[tuple[str, str, int | None], float] = {}
    for group, (kind, _) in LIMITS.items():
        for label, row in compiled.rows.get(group, {}).items():
            if label[-1] == "least":
                continue
            key = (kind, label[0], None if kind == "stock" else label[1])
            found[key].append(row)
            weights[key] = 1 / (_most(program, group, label[0]) or 1.0)
    keys = list(found)
    rows = np.array([row for key in keys for row in found[key]], dtype=np.intp)
    columns = np.repeat(np.arange(len(keys)), [len(found[key]) for key in keys])
    ease = csc_array((-np.ones(len(rows)), (rows, columns)), shape=(compiled.matrix.shape[0], len(keys)))
    filled, count = _filled(program, compiled, beyond), len(keys)
    elastic = replace(
        filled,
        matrix=csc_array(hstack([compiled.matrix, ease])),
        lower=np.append(filled.lower, np.zeros(count)),
        upper=np.append(filled.upper, np.full(count, np.inf)),
        cost=np.append(np.zeros(len(compiled.cost)), [weights[key] for key in keys]),
    )
    eased = run(solver(elastic)).columns[len(compiled.cost) :].tolist()
    units = dict(LIMITS.values())
    return [
        Item(kind, name, None if t is None else calendar.date(t), ceil(amount / STEP) * STEP, units[kind])
        for (kind, name, t), amount in zip(keys, eased, strict=True)
        if amount > STEP
    ]


def _penalties(program: Program, compiled: Compiled, beyond: Collection[str]) -> list[Item]:
    """The least raises of penalties at which the orders that can be filled are filled.

    Penalties as high as the orders' prices (duals) with all filled are enough; then each in turn is
    lowered as far as the others let it.
    """
    solution = run(solver(compiled))
    if not _short(program, compiled, solution).keys() - set(beyond):
        return []
    filled = run(solver(_filled(program, compiled, beyond)))
    cost = compiled.cost.copy()
    open_ = [
        (term.order.order, column, compiled.rows["order"][term.order.order,])
        for term, column in zip(program.network.orders, compiled.position["s"].tolist(), strict=True)
        if term.order.order not in beyond
    ]
    for _, column, row in open_:
        cost[column] = max(cost[column], filled.row_dual[row] + CENT)
    items = []
    for name, column, row in open_:
        before = float(compiled.cost[column])
        if filled.row_dual[row] + CENT > before:
            cost[column] = _least_penalty(compiled, cost, (column, row), before, filled)
            if cost[column] > before:
                unit = f"{program.network.scenario.nursery.currency} a plant"
                items.append(Item("penalty", name, None, float(cost[column]) - before, unit))
    return items


def _least_penalty(
    compiled: Compiled, cost: Floats, at: tuple[int, int], penalty: float, filled: Solution
) -> float:
    """Least penalty, rounded up to the next hundredth, from which the order is filled, others as in ``cost``.

    ``at``: column of the plants short, row of the order. With V(s) the least cost but for the penalty of
    s plants short it is max (V(0) − V(s)) / s; each round takes the s that is best at the penalty so far
    (Dinkelbach's method, which ends). Where the few plants left short say too little of their cost, the
    order's dual with all filled is enough.
    """
    column, row = at
    highs = solver(replace(compiled, cost=cost))
    least = penalty
    while True:
        highs.changeColCost(column, least)
        solution = run(highs)
        short = float(solution.columns[column])
        if short <= SHORT:
            break
        raised = (filled.objective - solution.objective) / short
        if raised <= SHORT:
            least = max(least, float(filled.row_dual[row]))
            break
        least += raised
    return penalty if least == penalty and short <= SHORT else ceil((least + SHORT) / CENT) * CENT


def _pruned(granted: Granted, items: list[Item], beyond: Collection[str]) -> list[Item]:
    """The items that are needed: with all nothing is short, without any one something is.

    Raises SolveError where something is short even so.
    """

    def short(some: list[Item]) -> set[str]:
        return set(granted.short(some)) - set(beyond)

    if short(items):
        raise SolveError("short even with relief")
    needed = list(items)
    for item in items:
        others = [other for other in needed if other is not item]
        if not short(others):
            needed = others
    return needed


def _served(program: Program, compiled: Compiled, short: list[str], items: list[Item]) -> list[Item]:
    """The items with the orders that they serve.

    These use the limit on the way on which they are filled; where only others use it, that made room
    elsewhere, those that could use it. A raised penalty serves its own order, and keeps one that was not
    short from giving way to those that were.
    """
    values = compiled.values(run(solver(compiled)).columns)
    matrix = csr_array(compiled.matrix)
    orders = {term.order.order: o for o, term in enumerate(program.network.orders)}
    possible = {name: _possible(program, orders[name]) for name in short}
    used = {name: _used(program, values, orders[name]) for name in short}

    def columns(keys: Iterable[tuple[str, int]]) -> set[int]:
        return {int(compiled.position[letter][n]) for letter, n in keys}

    ways = [{name: columns(keys) for name, keys in by_order.items()} for by_order in (used, possible)]
    found = []
    for item in items:
        rows = _rows(program.network.calendar, compiled, item)
        on_rows = {int(n) for row in rows for n in matrix[[row]].indices}
        serving = [tuple(name for name in short if way[name] & on_rows) for way in ways]
        if item.kind == "penalty" and item.name in short:
            serving[0] = (item.name,)
        found.append(item if item.orders else replace(item, orders=serving[0] or serving[1] or tuple(short)))
    return found


def _possible(program: Program, o: int) -> set[tuple[str, int]]:
    """Decisions on all ways on which an order could be filled."""
    amounts = program.amounts
    keys = route_keys(program, o)
    loads = [load.batch for load in amounts.loads if ("T", amounts.load_stays[load.stay].flow) in keys]
    return keys | {("N", batch) for batch in loads}


def _used(program: Program, values: dict[str, Floats], o: int) -> set[tuple[str, int]]:
    """Decisions on the ways on which an order is filled."""
    network, amounts = program.network, program.amounts
    flows = {
        delivery.flow
        for i, delivery in enumerate(network.deliveries)
        if delivery.order == o and values["d"][i] > SHORT
    }
    keys = route_keys(program, o)
    waves = {
        w
        for f in flows
        for j in network.flow_joins[f]
        if values["y"][j] > SHORT
        for w in network.joins[j].waves
    }
    batches = {
        load.batch
        for n, load in enumerate(amounts.loads)
        if amounts.load_stays[load.stay].flow in flows and values["L"][n] > SHORT
    }
    kept = {
        (letter, n)
        for letter, n in keys
        if (letter in "JTH" and n in flows)
        or (letter in "db" and values[letter][n] > SHORT)
        or (letter == "x" and n in waves)
        or (letter == "r" and amounts.left[n].wave in waves and values["r"][n] > SHORT)
    }
    return kept | {("N", e) for e in batches}
