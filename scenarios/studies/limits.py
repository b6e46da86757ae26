"""Which limits bind, why orders are short, and the least relief that would fill them."""

from __future__ import annotations

from datetime import date, timedelta
from math import isnan
from typing import Any, NamedTuple

import pandas as pd

from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.questions.ranging import price_ranges
from model.questions.relief import Item, Relief, least_relief
from model.questions.trials import Limit, Trials
from model.scenario.entities import Scenario
from model.solve import Solved, plan_of, solve
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.words import held_range, one_more, price_of_limit
from reports.plan.figures import is_day_off
from reports.study.study import CONTINUOUS_COSTS, Figure, Section, Study, run_facts
from scenarios.studies.parallel import run_all

SHOWN = 30
"""The dearest limits are solved again with one more: this many."""

TOLD = 5
"""Short orders that the answer names one by one; the sheet has all."""

AT_LEAST = "at least"


class LimitWorth(NamedTuple):
    """A limit that binds: its shadow price, the range in which that holds, and what one more saves.

    ``saving`` comes from solving again with one more. ``dual`` and ``saving`` are in currency; ``at``,
    ``low`` and ``high`` in ``unit``.
    """

    limit: str
    name: str
    day: date | None
    unit: str
    dual: float
    saving: float
    at: float
    low: float | None
    high: float | None


class Span(NamedTuple):
    """Relief of one limit on consecutive days, for the same orders."""

    first: Item
    last: date | None
    amount: float


def limits_study(scenario: Scenario, *, workers: int, progress: Say = silent) -> Study:
    """The limits that bind in the continuous program, the least relief of shortfalls, and price ranges.

    Raises SolveError where HiGHS reaches no optimum.
    """
    parts = [(part, scenario) for part in ("relief", "plan", "prices")]
    relief, (plan, worth), prices = run_all(
        _part, parts, workers=workers, about="what binds", progress=progress
    )
    return _study(scenario, relief, plan, worth, prices)


def _part(item: tuple[str, Scenario]) -> Any:
    part, scenario = item
    if part == "relief":
        return least_relief(scenario)
    solved = solve(scenario, whole=False)
    if part == "prices":
        return price_ranges(solved)
    plan = plan_of(solved)
    return plan, worth_of_one_more(solved, plan)


def worth_of_one_more(solved: Solved, plan: Plan) -> list[LimitWorth]:
    """The dearest limits of a continuous plan, each solved again with one more."""
    names = ("limit", "name", "day", "unit", "value", "at", "low", "high")
    rows = [
        row
        for row in rows_of(plan.shadow_prices, *names)
        if row[0] != "order" and not is_day_off(row[0], row[5])
    ]
    rows.sort(key=lambda row: (row[4], row[0], row[1], str(row[2])))
    trials, found = Trials(solved), []
    for limit, name, day, unit, value, at, low, high in rows[:SHOWN]:
        more = {key: trials.limit(key) + 1 for key in _keys(solved, limit, name, day)}
        saving = trials.base - trials.cost(more)
        found.append(LimitWorth(limit, name, day, unit, -value, saving, at, low, high))
    return found


def _keys(solved: Solved, limit: str, name: str, day: date | None) -> list[Limit]:
    """The rows of the program that a limit in the table of shadow prices stands for."""
    if limit == "stock":
        rows = solved.compiled.rows
        return [(group, (name,)) for group in ("stock", "packs") if (name,) in rows.get(group, {})]
    group = {
        "slots": "slots",
        "units": "units_busy",
        "regular hours": "regular",
        "overtime hours": "overtime",
        "week hours": "week_hours",
    }
    if limit == "buy-in":
        return [("buy_in_quantity", (name, str(day), "most"))]
    return [(group[limit], (name, str(day)))]


def spans(items: tuple[Item, ...]) -> list[Span]:
    """The relief with consecutive days merged; the amount is the largest of any day."""
    found: list[Span] = []
    for item in sorted(items, key=lambda i: (i.kind, i.name, i.day is not None, i.day or date.min)):
        if found and item.day is not None and item.kind not in ("due day", "first day"):
            before = found[-1]
            same = (before.first.kind, before.first.name, before.first.orders)
            if same == (item.kind, item.name, item.orders) and before.last == item.day - timedelta(days=1):
                found[-1] = Span(before.first, item.day, max(before.amount, item.amount))
                continue
        found.append(Span(item, item.day, item.amount))
    order = {item: n for n, item in enumerate(items)}
    return sorted(found, key=lambda span: order[span.first])


def in_words(scenario: Scenario, span: Span) -> str:
    """A relief in plain words, with its dates."""
    item, day = span.first, span.first.day
    assert item.kind in ("stock", "penalty") or day is not None
    when = f"on {day}" if span.last == day else f"from {day} to {span.last}"
    amount = f"{span.amount:,.1f}".removesuffix(".0")
    s = "" if amount == "1" else "s"
    if item.kind == "slots":
        return f"{amount} more slot{s} in {item.name} {when}"
    if item.kind == "units":
        return f"{amount} more unit{s} of {item.name} {when}"
    if item.kind == "hours":
        return f"{amount} more hour{s} of {item.name} {when}"
    if item.kind == "stock":
        units = {supply.supply: supply.unit for supply in scenario.supplies}
        return f"{amount} more {units.get(item.name, f'seed{s}')} of {item.name} on hand on the first day"
    if item.kind == "buy-in":
        return f"{amount} more plant{s} from {item.name} {when}"
    if item.kind == "due day":
        return f"order {item.name} due {amount} day{s} later, {when}"
    if item.kind == "first day":
        return f"a start {amount} day{s} earlier, {when}"
    return f"a penalty higher by {item.amount:,.2f} {item.unit} for order {item.name}"


def _cures(scenario: Scenario, relief: Relief) -> dict[str, str]:
    """For each short order the relief that serves it, in words."""
    found = {}
    for name in relief.short:
        serving = [in_words(scenario, span) for span in spans(relief.items) if name in span.first.orders]
        found[name] = "; ".join(serving)
        if name in relief.beyond:
            found[name] = "none: the nursery does not grow it, and no offer can deliver it"
    return found


def _answer(scenario: Scenario, relief: Relief) -> list[str]:
    """What is short and what would cure it, in sentences."""
    if not relief.short:
        return ["No order is short."]
    cures = _cures(scenario, relief)
    told = []
    for name, plants in list(relief.short.items())[:TOLD]:
        short = f"{name} is short by {plants:,.0f}" if plants >= 1 else f"{name} is short by less than 1"
        if name in relief.beyond:
            told.append(
                f"{short}. No relief can fill it: the nursery does not grow it, and no offer can deliver it."
            )
        else:
            told.append(f"{short}. To fill it: {cures[name]}.")
    more = len(relief.short) - len(told)
    if more:
        told.append(f"{more} more order{' is' if more == 1 else 's are'} short: see the sheet Short orders.")
    if relief.items:
        told.append(
            f"Proof by solving again: with all of this relief no {'other ' if relief.beyond else ''}order is "
            "short; without any one part of it, some order is."
        )
    return told


def _study(
    scenario: Scenario, relief: Relief, plan: Plan, worth: list[LimitWorth], prices: pd.DataFrame
) -> Study:
    answer = _answer(scenario, relief)
    if worth:
        first = worth[0]
        answer.append(
            f"{one_more(first.limit, first.name, first.day)} would save most: {first.dual:,.2f} "
            f"{scenario.nursery.currency} by its shadow price, {first.saving:,.2f} when solved again with it."
        )
    else:
        answer.append("No limit binds: more of any limit saves nothing.")
    return Study(
        "Limits",
        scenario,
        answer,
        [
            Figure("Orders short", float(len(relief.short)), CellKind.COUNT),
            Figure("Plants short", sum(relief.short.values()), CellKind.COUNT),
            Figure("Parts of the least relief", float(len(spans(relief.items))), CellKind.COUNT),
            Figure("Limits that bind, shown", float(len(worth)), CellKind.COUNT),
        ],
        [
            _short_orders(scenario, relief, plan),
            _relief(scenario, relief),
            _worth(scenario, worth),
            _prices(scenario, prices),
        ],
        run_facts(plan.facts),
    )


def _short_orders(scenario: Scenario, relief: Relief, plan: Plan) -> Section:
    cures = _cures(scenario, relief)
    orders = {order.order: order for order in scenario.orders}
    columns = plan.orders["order"].tolist(), plan.orders["short_because"].tolist()
    why: dict[str, str | None] = dict(zip(*columns, strict=True))
    return Section(
        "Short orders",
        "Orders that are short, why, and the least relief that would fill them.",
        [
            "Plants short in the continuous plan of least cost. A plan in whole trays may leave a few plants "
            f"more short. {CONTINUOUS_COSTS}"
        ],
        [
            SheetColumn("order", "Order"),
            SheetColumn("product", "Product"),
            SheetColumn("due", "Due", CellKind.DAY),
            SheetColumn("quantity", "Plants ordered", CellKind.COUNT),
            SheetColumn("short", "Plants short", CellKind.COUNT, total=True),
            SheetColumn("why", "Why", widest=60),
            SheetColumn("cure", "Least relief", widest=60),
        ],
        [
            [name, orders[name].product, orders[name].due_day, orders[name].quantity, plants, why[name], cure]
            for (name, plants), cure in zip(relief.short.items(), cures.values(), strict=True)
        ],
    )


def _relief(scenario: Scenario, relief: Relief) -> Section:
    rows: list[list[Cell]] = [
        [
            in_words(scenario, Span(item, item.day, item.amount)),
            item.kind,
            item.name,
            item.day,
            item.amount,
            item.unit,
            ", ".join(item.orders),
            short,
        ]
        for item, short in zip(relief.items, relief.proof, strict=True)
    ]
    return Section(
        "Relief",
        "The least relief that lets every order be filled, part by part, with its proof.",
        [
            "Relief is the smallest total increase of limits that lets every order be filled. Each increase "
            "counts as a share of the limit's highest value on any day. Hours are those of a hand at the "
            "standard pace. An order that cannot be ready in time, whatever the limits, gets the smallest "
            "change of days. An order that costs less short than filled, whatever the limits, gets the "
            "smallest rise of its penalty, in hundredths. Other relief comes in whole slots, units, seeds "
            "and plants, and in tenths of an hour.",
            "Proof by solving again: with all parts, every order that relief can fill is filled. Without one "
            "part, the last column gives the plants short in all.",
        ],
        [
            SheetColumn("words", "In words", widest=72),
            SheetColumn("kind", "Relief of"),
            SheetColumn("name", "Of", widest=26),
            SheetColumn("day", "Day", CellKind.DAY),
            SheetColumn("amount", "Amount", CellKind.PRICE),
            SheetColumn("unit", "Unit"),
            SheetColumn("orders", "For orders", widest=40),
            SheetColumn("proof", "Plants short without it", CellKind.DECIMAL),
        ],
        rows,
    )


def _worth(scenario: Scenario, worth: list[LimitWorth]) -> Section:
    money = scenario.nursery.currency
    return Section(
        "Worth of one more",
        "The dearest limits: what one more of each saves, and how far the shadow price holds.",
        [
            "The shadow price is the saving from a limit's first small increase, as a rate for each unit. "
            "Saved, solved again: the saving from one whole unit more, with all other limits as they are. "
            "It is never more than the shadow price. A tray stays for several days, so one more slot on one "
            f"day may be of little use. {CONTINUOUS_COSTS}",
            "The shadow price holds at least in the range given. Above that range, each further unit may "
            "save less.",
        ],
        [
            SheetColumn("words", "In words", widest=60),
            SheetColumn("limit", "Limit"),
            SheetColumn("name", "Of", widest=22),
            SheetColumn("day", "Day", CellKind.DAY),
            SheetColumn("dual", f"Shadow price ({money})", CellKind.EACH),
            SheetColumn("saving", f"Saved, solved again ({money})", CellKind.EACH),
            SheetColumn("at", "Limit now", CellKind.DECIMAL),
            SheetColumn("unit", "Unit"),
            SheetColumn("range", "Shadow price holds", widest=34),
        ],
        [
            [
                price_of_limit(w.limit, w.name, w.day, -w.dual, money),
                w.limit,
                w.name,
                w.day,
                w.dual,
                w.saving,
                w.at,
                w.unit,
                held_range(w.low, w.high, w.unit),
            ]
            for w in worth
        ],
    )


PRICES = {
    "pay": "Pay of {name}",
    "overtime pay": "Overtime pay of {name}",
    "temporary pay": "Pay of temporary hands of {name}",
    "pack": "Pack of {detail} of {name}",
    "slots": "Slot-day in {name}",
    "buy-in": "Price of {name}",
    "penalty": "Penalty of order {name}",
    "order price": "Price of order {name}",
    "salvage": "Salvage price of {name}",
}
"""What the sheet calls each kind of price."""


def _prices(scenario: Scenario, prices: pd.DataFrame) -> Section:
    money = scenario.nursery.currency
    rows: list[list[Cell]] = []
    for kind, name, detail, unit, value, effect, low, high in rows_of(prices, *prices.columns):
        rows.append(
            [
                PRICES[kind].format(name=name, detail=detail),
                value,
                low,
                None if isnan(high) else high,
                f"{AT_LEAST} from {low:,.4f} {'on' if isnan(high) else f'to {high:,.4f}'}",
                unit,
                effect,
            ]
        )
    return Section(
        "Price ranges",
        "How far each price may move, alone, before the plan changes.",
        [
            "The plan stays the best at least while the price is within its range and all other prices stay "
            "the same; the true range may be wider. Highest is blank where the price may rise without end. "
            "The last column says how much the cost changes when the price rises by 1, within the range. "
            "Where pay or the cost of a slot-day differs by date, the sheet shows the first figure, and the "
            "range supposes that it changes by the same amount on all days. " + CONTINUOUS_COSTS,
        ],
        [
            SheetColumn("what", "Price", widest=60),
            SheetColumn("value", f"Now ({money})", CellKind.EACH),
            SheetColumn("low", f"Lowest ({money})", CellKind.EACH),
            SheetColumn("high", f"Highest ({money})", CellKind.EACH),
            SheetColumn("range", "Plan holds", widest=40),
            SheetColumn("unit", "For a"),
            SheetColumn("effect", f"Change of cost if the price rises by 1 ({money})", CellKind.MONEY),
        ],
        rows,
    )
