"""The least relief that lets every order be filled, found by an elastic re-solve and proved by solving again.

An order is short for one of three reasons, and each has its own cure:

- Limits on its routes are full: the program is solved again with every limit elastic, for the least relief.
- No route can reach it in time, whatever the limits: its due day moves later by the fewest days, or, where
  the horizon ends before that, the first day moves earlier.
- It costs less short than filled, whatever the limits: its penalty rises by the fewest hundredths.

Where groups are kept apart or orders are of one lot, the relief may also be that some no longer are.

All this concerns the continuous program: trays, packs and hands may be fractional. Relief comes in whole
slots, units, seeds and plants, and in tenths of an hour. With exact amounts there would be only just room for
the last fraction of a plant, and its cost could exceed any penalty.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import floor, inf
from typing import Any

import numpy as np
from scipy.sparse import csr_array

from model.network.expansion import expand
from model.program.build import build
from model.program.program import Program
from model.scenario.calendar import Calendar
from model.scenario.choices import Shared
from model.scenario.entities import Order, Scenario
from model.scenario.records.kept_apart import Apart
from model.scenario.run_days import with_runs
from model.shortage.elastic import (
    FINELY,
    SHORT,
    Elastic,
    LimitOn,
    filled,
    optimum,
    rows_of_limits,
    short_orders,
)
from model.shortage.routes import reached, route_keys
from model.solver.compiled import Compiled, Floats, Solution, SolveError, compile_program, run, solver

STEPS = {
    "slots": 1.0,
    "units": 1.0,
    "hours": 0.1,
    "stock": 1.0,
    "buy-in": 1.0,
    "one graft day": 1.0,
    "share of a lot": 1.0,
    "share of a unit": 1.0,
    "vehicles": 1.0,
    "penalty": 0.01,
}
"""Step of each kind of relief: its amount is a multiple of this."""

COUNTED_IN = {
    "slots": "slots",
    "units": "units",
    "hours": "hours",
    "stock": "units",
    "buy-in": "plants",
    "one graft day": "plants",
    "share of a lot": "plants",
    "share of a unit": "plants",
    "vehicles": "vehicles",
}
"""Unit of the relief of each kind of limit."""

DEAREST = 1e6
"""First price tried, in currency, of relief equal to a limit's highest value; so dear, relief is least."""

TRIES = 16
"""Prices of relief tried, each a quarter of the one before."""

NEXT = 1e-6
"""Currency by which a penalty must exceed a cost to make filling the order cheaper."""

MOVES = ("due day", "first day", "apart", "one lot")
"""Kinds of relief that change the scenario itself, not a limit or a price."""

FEWEST = 10
"""Parts that a relief is taken to have before they are known."""

EARLIEST = 400
"""Days, at most, by which the first day may be moved earlier."""


@dataclass(frozen=True, slots=True)
class Item:
    """One part of a relief: a limit raised, a due day or the first day moved, or a penalty raised.

    ``kind`` and ``name``:

    - slots or units of a zone, hours (at the standard pace) of a skill, buy-in of an offer, or plants of an
      order from one graft day or in the units opened on it, raised by ``amount`` on ``day``; stock of an
      item, raised from the first day on (``day`` None); plants of an order from each lot (``day`` None);
    - due day of an order or first day of the nursery, moved by ``amount`` days to ``day``;
    - penalty of an order, raised by ``amount``;
    - apart: groups no longer kept apart by a rule, ``name`` in words; one lot: an order of several lots.

    ``orders``: the orders, short without relief, that it serves.
    """

    kind: str
    name: str
    day: date | None
    amount: float
    unit: str
    orders: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Relief:
    """The least relief of a scenario, with its proof.

    ``short``: plants short by order without relief, for orders that are short. ``beyond``: orders that no
    relief can fill. With all ``items`` granted, no other order is short. ``proof``: for each item, the plants
    short in all with every item but this one granted; always above 0.
    """

    scenario: Scenario
    short: dict[str, float]
    items: tuple[Item, ...]
    proof: tuple[float, ...]
    beyond: tuple[str, ...]


@dataclass(slots=True)
class _Made:
    """A program as made, the rows of its limits, and a HiGHS that has solved it with some relief.

    Each further relief starts from the basis of the one before: it takes a few pivots instead of thousands.
    """

    program: Program
    compiled: Compiled
    rows: dict[LimitOn, list[int]]
    highs: Any = None
    at: Compiled | None = None
    """The program that ``highs`` holds now."""

    def optimum(self, compiled: Compiled) -> Solution:
        """The optimum of this program with other limits and costs."""
        if self.at is None:
            self.at, self.highs = compiled, solver(compiled, None, **FINELY)
        for row in np.flatnonzero(compiled.row_upper != self.at.row_upper).tolist():
            self.highs.changeRowBounds(row, compiled.row_lower[row], compiled.row_upper[row])
        for column in np.flatnonzero(compiled.cost != self.at.cost).tolist():
            self.highs.changeColCost(column, compiled.cost[column])
        self.at = compiled
        return run(self.highs)


class Granted:
    """Solves a scenario again with relief granted."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self._made: dict[tuple[Any, ...], _Made] = {}

    def program(self, items: Iterable[Item]) -> tuple[Program, Compiled]:
        """The program with the items granted."""
        made, compiled = self._granted(tuple(items))
        return made.program, compiled

    def _granted(self, items: tuple[Item, ...]) -> tuple[_Made, Compiled]:
        moved = tuple(item for item in items if item.kind in MOVES)
        key = tuple((item.kind, item.name, item.day) for item in moved)
        if key not in self._made:
            program = build(expand(with_moved(self.scenario, moved)))
            compiled = compile_program(program)
            self._made[key] = _Made(program, compiled, rows_of_limits(program, compiled))
        made = self._made[key]
        upper, cost = made.compiled.row_upper.copy(), made.compiled.cost.copy()
        orders = {term.order.order: o for o, term in enumerate(made.program.network.orders)}
        for item in items:
            if item.kind == "penalty":
                cost[made.compiled.position["short"][orders[item.name]]] += item.amount
            for row in made.rows.get(_limit(item), []):
                upper[row] += item.amount
        return made, replace(made.compiled, row_upper=upper, cost=cost)

    def short(self, items: Iterable[Item]) -> dict[str, float]:
        """Plants short by order, where above 0, in the continuous plan of least cost with the items.

        Of several such plans, the one with the fewest plants short: a plant short costs ``NEXT`` more.
        """
        made, compiled = self._granted(tuple(items))
        cost, shorts = compiled.cost.copy(), compiled.position["short"]
        cost[shorts[shorts >= 0]] += NEXT
        return short_orders(made.program, compiled, made.optimum(replace(compiled, cost=cost)))


def with_moved(scenario: Scenario, items: Iterable[Item]) -> Scenario:
    """The scenario with the items of the kinds ``MOVES``: days moved, rules and orders of one lot let go."""
    items = tuple(items)
    let_go = {(item.kind, item.name) for item in items}
    due = {item.name: item.day for item in items if item.kind == "due day"}
    first = [item.day for item in items if item.kind == "first day" and item.day is not None]
    return replace(
        scenario,
        nursery=replace(scenario.nursery, first_day=min([scenario.nursery.first_day, *first])),
        orders=tuple(
            replace(
                order,
                due_day=due.get(order.order) or order.due_day,
                one_lot=order.of_one_lot(scenario.nursery) and ("one lot", order.order) not in let_go,
            )
            for order in scenario.orders
        ),
        apart=tuple(rule for rule in scenario.apart if ("apart", kept_apart_by(rule)) not in let_go),
    )


def kept_apart_by(rule: Apart) -> str:
    """A rule in words, different for each."""
    zone = rule.zone or "any zone"
    where = {
        Shared.ZONE: f"in {zone}",
        Shared.UNIT: f"in a unit of {zone}",
        Shared.GRAFT_DAY: "on a graft day",
    }[rule.share]
    return f"{rule.by} {rule.group} and {rule.other_by} {rule.other} {where}"


def _let_go(scenario: Scenario) -> list[Item]:
    """All rules and orders of one lot, as parts of a relief."""
    rules = [Item("apart", kept_apart_by(rule), None, 1.0, "rules") for rule in scenario.apart]
    return rules + [
        Item("one lot", order.order, None, 1.0, "orders")
        for order in scenario.orders
        if order.of_one_lot(scenario.nursery)
    ]


def _without_it(granted: Granted, items: list[Item], short: Collection[str]) -> list[Item]:
    """The items, rules and orders of one lot with the orders that are short without them."""
    found = []
    for item in items:
        if item.kind in ("apart", "one lot"):
            left = granted.short(other for other in items if other is not item)
            item = replace(item, orders=tuple(name for name in short if name in left))
        found.append(item)
    return found


def least_relief(scenario: Scenario) -> Relief:
    """The least relief that lets every order of a valid scenario be filled; see the module.

    Relief of limits is least in total, each counted as a share of the limit's largest value on any day (or in
    units, where that value is 0). Raises SolveError where HiGHS reaches no optimum.
    """
    relief = relief_within(scenario, inf)
    assert relief is not None
    return relief


def relief_within(scenario: Scenario, work: float) -> Relief | None:
    """The least relief as ``least_relief``; None where it would take too much work.

    ``work``: columns of the program times parts of the relief, at most. The program is solved about seven
    times for each part.
    """
    granted = Granted(scenario)
    if len(granted.program(())[1].cost) > work / FEWEST:
        return None
    short = granted.short(())
    if not short:
        return Relief(scenario, {}, (), (), ())
    moved, beyond = _moved(scenario, short)
    items = [*_let_go(scenario), *moved]
    # What has been sown can be too little, whatever the limits from now on.
    sown = bool(scenario.nursery.today or scenario.trays_on_hand or scenario.plants_on_hand)
    lost = Elastic(*granted.program(items)).unfillable() if sown else set()
    beyond += [name for name in short if name in lost and name not in beyond]
    items += _eased(*granted.program(items), beyond)
    items += _penalties(*granted.program(items), beyond)
    if len(items) * len(granted.program(items)[1].cost) > work:
        return None
    items, proof = _proved(granted, items, beyond)
    items = _without_it(granted, items, short)
    program, compiled = granted.program(items)
    curable = [name for name in short if name not in beyond]
    served = all_served(granted, _served(program, compiled, curable, items), curable)
    return Relief(scenario, short, tuple(served), tuple(proof), tuple(beyond))


def all_served(granted: Granted, items: list[Item], short: list[str]) -> list[Item]:
    """The items, where a short order that none of them names is named by those without which it is short.

    It may be filled with every item but any one of them, at the same cost: then all of them name it.
    """
    missed = [name for name in short if not any(name in item.orders for item in items)]
    if not missed:
        return items
    without = [granted.short(other for other in items if other is not item) for item in items]
    named = [[name for name in missed if name in left] for left in without]
    tied = [name for name in missed if not any(name in names for names in named)]
    return [
        replace(item, orders=tuple(name for name in short if name in {*item.orders, *names, *tied}))
        for item, names in zip(items, named, strict=True)
    ]


def _limit(item: Item) -> LimitOn:
    """The limit that an item raises; no limit of the program has this key if the item is of another kind."""
    return LimitOn(item.kind, item.name, item.day)


def _reached(scenario: Scenario, orders: Sequence[Order]) -> set[str]:
    """Those of ``orders``, which replace the scenario's, that some route can reach."""
    names = {order.order for order in orders}
    progress = tuple(row for row in scenario.progress if row.order is None or row.order in names)
    return reached(expand(replace(scenario, orders=tuple(orders), progress=progress)))


def _moved(scenario: Scenario, short: Collection[str]) -> tuple[list[Item], list[str]]:
    """Due days moved later and the first day moved earlier, so that short orders have a route; and the rest.

    The rest are orders beyond relief. Later due days are sought after the first day is moved, since an
    earlier first day may make them unnecessary. In a season under way the first day stays, and orders packed
    before today are beyond relief.
    """
    today = scenario.nursery.today
    packed = _packed(scenario)
    orders = [order for order in scenario.orders if order.order in short and order.order not in packed]
    there = _reached(scenario, orders)
    cut_off = [order for order in orders if order.order not in there]
    late = [order for order in cut_off if _later(scenario, order) is None]
    earlier = {order.order: None if today else _earlier(scenario, order) for order in late}
    beyond = [name for name in short if name in packed]
    beyond += [name for name, days in earlier.items() if days is None]
    days = max((days for days in earlier.values() if days is not None), default=0)
    items: list[Item] = []
    if days:
        first = scenario.nursery.first_day - timedelta(days=days)
        served = tuple(name for name, needed in earlier.items() if needed is not None)
        items.append(Item("first day", scenario.nursery.name, first, float(days), "days", served))
        scenario = with_moved(scenario, items)
        there = _reached(scenario, orders)
    for order in orders:
        if order.order not in there and order.order not in beyond:
            due = _later(scenario, order)
            assert due is not None
            moved = float((due - order.due_day).days)
            items.append(Item("due day", order.order, due, moved, "days", (order.order,)))
    return items, beyond


def _packed(scenario: Scenario) -> set[str]:
    """Orders packed before today."""
    today = scenario.nursery.today
    if today is None:
        return set()
    calendar, leaving = Calendar(scenario.nursery, scenario.days_off), with_runs(scenario).orders
    days = {order.order: calendar.previous_working(calendar.day(order.due_day)) for order in leaving}
    return {name for name, day in days.items() if day is None or day < calendar.day(today)}


def _later(scenario: Scenario, order: Order) -> date | None:
    """First due day after the order's, within the horizon, that some route can reach."""
    days = range(1, (scenario.nursery.last_day - order.due_day).days + 1)
    copies = [replace(order, order=f"{n}", due_day=order.due_day + timedelta(days=n)) for n in days]
    there = _reached(scenario, copies)
    return min((copy.due_day for copy in copies if copy.order in there), default=None)


def _earlier(scenario: Scenario, order: Order) -> int | None:
    """Fewest days by which the first day must be earlier for some route to reach the order; None beyond all.

    An earlier first day keeps every route, so bisection finds the days.
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


def _eased(program: Program, compiled: Compiled, beyond: Collection[str]) -> list[Item]:
    """Relief of limits with which every order is filled, except those beyond relief.

    The dearer relief is, the less of it is used; but at too high a price, filling the last plant may cost
    more than its penalty. So the price of relief falls until the present penalties let every order be filled.
    Orders that are short even with free relief cost less short than filled: they are forced to be filled.
    """
    elastic = Elastic(program, compiled)
    orders = {term.order.order for term in program.network.orders} - set(beyond)
    cheaper_short = orders & elastic.solve((), 0.0)[1].keys()
    for n in range(TRIES):
        relief, short = elastic.solve(cheaper_short, DEAREST / 4**n)
        if not short.keys() - set(beyond):
            break
    else:
        relief, _ = elastic.solve(orders, None)
    return [
        _so_many(
            Item(limit.kind, limit.name, limit.day, 0.0, COUNTED_IN[limit.kind]), _steps(limit.kind, amount)
        )
        for limit, amount in relief.items()
    ]


def _penalties(program: Program, compiled: Compiled, beyond: Collection[str]) -> list[Item]:
    """Rises of penalties with which all orders not beyond relief are filled.

    A penalty above the order's shadow price, with all these orders filled, is enough.
    """
    if not short_orders(program, compiled, optimum(compiled)).keys() - set(beyond):
        return []
    unit = f"{program.network.scenario.nursery.currency} a plant"
    names = [term.order.order for term in program.network.orders if term.order.order not in beyond]
    prices = optimum(filled(program, compiled, names)).row_dual
    items = []
    for term, column in zip(program.network.orders, compiled.position["short"].tolist(), strict=True):
        name = term.order.order
        if name in names:
            over = prices[compiled.rows["order"][name,]] + NEXT - compiled.cost[column]
            if over > 0:
                items.append(_so_many(Item("penalty", name, None, 0.0, unit), _steps("penalty", over)))
    return items


def _proved(granted: Granted, items: list[Item], beyond: Collection[str]) -> tuple[list[Item], list[float]]:
    """The items reduced one after the other to the least that is enough, and the plants short without each.

    Raises SolveError where an order is short with all items granted.
    """

    def short(some: list[Item]) -> float:
        plants = granted.short(item for item in some if item.amount > 0)
        return sum(value for name, value in plants.items() if name not in beyond)

    if short(items):
        raise SolveError("short even with relief")
    items, before = list(items), None
    while items != before:
        before = list(items)
        for n, item in enumerate(items):
            low, high = -1, round(item.amount / STEPS.get(item.kind, item.amount or 1.0))
            tried = [high - 1, 0]
            while high - low > 1:
                middle = tried.pop() if tried else (low + high) // 2
                items[n] = _so_many(item, middle)
                low, high = (middle, high) if short(items) else (low, middle)
            items[n] = _so_many(item, high)
    kept = [item for item in items if item.amount > 0]
    return kept, [short([other for other in kept if other is not item]) for item in kept]


def _steps(kind: str, amount: float) -> int:
    """The least number of steps of a kind of relief that exceeds the amount."""
    return floor(amount / STEPS[kind]) + 1


def _so_many(item: Item, steps: int) -> Item:
    """The item with that many steps of its kind; an item without steps is kept whole or set to 0."""
    if item.kind not in STEPS:
        return item if steps else replace(item, amount=0.0)
    return replace(item, amount=round(steps * STEPS[item.kind], 2))


def _served(program: Program, compiled: Compiled, short: list[str], items: list[Item]) -> list[Item]:
    """The items with the orders that they serve.

    An item serves the short orders whose plants use its limit. Where only other orders use it, which made
    room elsewhere, it serves the short orders that could use it. A raised penalty serves its own order. The
    penalty of an order that was not short keeps it from giving way to the short ones.
    """
    values = compiled.values(optimum(compiled).columns)
    matrix, rows = csr_array(compiled.matrix), rows_of_limits(program, compiled)
    orders = {term.order.order: o for o, term in enumerate(program.network.orders)}
    possible = {name: _possible(program, orders[name]) for name in short}
    used = {name: _used(program, values, orders[name]) for name in short}

    def columns(keys: Iterable[tuple[str, int]]) -> set[int]:
        return {int(compiled.position[variable][n]) for variable, n in keys}

    ways = [{name: columns(keys) for name, keys in by_order.items()} for by_order in (used, possible)]
    found = []
    for item in items:
        on_rows = {int(n) for row in rows.get(_limit(item), []) for n in matrix[[row]].indices}
        serving = [tuple(name for name in short if way[name] & on_rows) for way in ways]
        if item.kind == "penalty" and item.name in short:
            serving[0] = (item.name,)
        found.append(item if item.orders else replace(item, orders=serving[0] or serving[1] or tuple(short)))
    return found


def _possible(program: Program, o: int) -> set[tuple[str, int]]:
    """Decisions on all routes by which an order could be filled."""
    amounts = program.amounts
    keys = route_keys(program, o)
    loads = [load.batch for load in amounts.loads if ("loaded", amounts.load_stays[load.stay].flow) in keys]
    return keys | {("units_opened", batch) for batch in loads}


def _used(program: Program, values: dict[str, Floats], o: int) -> set[tuple[str, int]]:
    """Decisions on the routes by which an order is filled."""
    network, amounts = program.network, program.amounts
    flows = {
        delivery.flow
        for i, delivery in enumerate(network.deliveries)
        if delivery.order == o and values["delivered"][i] > SHORT
    }
    keys = route_keys(program, o)
    waves = {
        w
        for f in flows
        for j in network.flow_joins[f]
        if values["joins"][j] > SHORT
        for w in network.joins[j].waves
    }
    batches = {
        load.batch
        for n, load in enumerate(amounts.loads)
        if amounts.load_stays[load.stay].flow in flows and values["in_unit"][n] > SHORT
    }
    kept = {
        (variable, n)
        for variable, n in keys
        if (variable in ("grafted", "loaded", "finishing", "healed") and n in flows)
        or (variable in ("delivered", "bought", "riding") and values[variable][n] > SHORT)
        or (variable == "sown" and n in waves)
        or (variable == "sown_into" and amounts.sown_into[n].wave in waves and values[variable][n] > SHORT)
        or (variable == "left" and amounts.left[n].wave in waves and values["left"][n] > SHORT)
    }
    return kept | {("units_opened", e) for e in batches}
