"""Which limits bind, why orders are short, and the least relief that would fill them."""

from __future__ import annotations

from datetime import date
from math import isclose, isnan
from typing import Any, NamedTuple

import pandas as pd

from model.network.expansion import expand
from model.network.types import Network
from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import result_in
from model.planned.shadow_prices import WORTHLESS, day_of, limit_name
from model.questions.ranging import price_ranges
from model.questions.trials import LITTLE, Limit, Trials
from model.questions.whole_limits import WholeSaving, saved_by
from model.scenario.entities import Order, Scenario
from model.shortage.relief import Item, Relief, least_relief
from model.shortage.relief_words import Span, in_words, spans
from model.shortage.why_short import beyond, cures, reasons
from model.solve import Solved, lumpy_reasons, plan_of, solve
from model.solver.filling import SHORT
from reports.book.parts import Cell, OfKind, SheetColumn
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, digits, held_range, one_more, price_of_limit, unit_digits
from reports.book.writing import grouped
from reports.plan.figures import is_day_off
from reports.study import column
from reports.study.study import CONTINUOUS_COSTS, Figure, Section, Study, run_facts
from scenarios.solves.parallel import run_all

SHOWN = 30
"""The dearest limits are solved again with one more: this many."""

IN_WHOLE = 3
"""The dearest limits are raised by one in whole plans too: this many."""

MOST_WAVES = 2500
"""In a book of more waves, no whole plans are made."""

NO_LIMIT = "none: no limit keeps it short, only that trays, packs and hands are whole"
"""What stands for the relief of an order that the continuous program fills."""

LARGE = "The book is large, so both are figures of the continuous program."

TOLD = 5
"""Short orders that the answer names one by one; the sheet has all."""


class LimitWorth(NamedTuple):
    """A limit that binds: its shadow price, the range in which that holds, and what one more saves.

    ``saving`` comes from solving again with one more, ``whole`` from whole plans, where they were tried.
    ``dual`` and ``saving`` are in currency; ``at``, ``low`` and ``high`` in ``unit``.
    """

    limit: str
    name: str
    day: date | None
    unit: str
    dual: float
    saving: float
    at: float
    low: float
    high: float | None
    whole: WholeSaving | None = None


class Short(NamedTuple):
    """An order that is short: by how many plants, why, and the least relief, in words.

    ``plants``: in the continuous program; ``planned``: in whole trays, None where no such plan was made.
    """

    order: Order
    plants: float
    planned: float | None
    why: str
    cure: str

    @property
    def told(self) -> float:
        """Plants short in whole trays, or else in the continuous program."""
        return self.plants if self.planned is None else self.planned


def limits_study(scenario: Scenario, *, workers: int, progress: Say = silent) -> Study:
    """The limits that bind in the continuous program, the least relief of shortfalls, and price ranges.

    Raises SolveError where HiGHS reaches no optimum.
    """
    parts = [(part, scenario) for part in ("relief", "plan", "prices")]
    (relief, network), (plan, worth, whole, left), prices = run_all(
        _part, parts, workers, "what binds", progress
    )
    planned = None if whole is None else {row.order.order: row.planned for row in whole}
    short = [_continuous_short(network, relief, name, planned) for name in relief.short]
    short += [row for row in whole or () if row.order.order not in relief.short]
    money, penal = scenario.nursery.currency, bool(relief.short)
    return Study(
        "Limits",
        scenario,
        [*_shortfalls(network, relief, whole or []), _dearest(worth, money, penal=penal)],
        [
            *([] if left is None else [Figure(f"Result ({money})", left, CellKind.MONEY)]),
            *_figures(short, whole),
            Figure("Parts of the least relief", len(spans(relief.items)), CellKind.COUNT),
            Figure("Limits that bind, shown", len(worth), CellKind.COUNT),
        ],
        [
            _short_orders(short),
            _relief(scenario, relief),
            _worth(worth, money, penal=penal),
            _prices(prices, money),
        ],
        run_facts(plan.facts, money),
    )


def _figures(short: list[Short], whole: list[Short] | None) -> list[Figure]:
    """Orders and plants short in the plan in whole trays, or else in the continuous program."""
    where = " in the continuous program" if whole is None else ""
    return [
        Figure(f"Orders short{where}", sum(row.told > SHORT for row in short), CellKind.COUNT),
        Figure(f"Plants short{where}", sum(row.told for row in short), CellKind.COUNT),
    ]


def _part(item: tuple[str, Scenario]) -> Any:
    part, scenario = item
    if part == "relief":
        return least_relief(scenario), expand(scenario)
    solved = solve(scenario, whole=False)
    if part == "prices":
        return price_ranges(solved)
    plan = plan_of(solved)
    worth = worth_of_one_more(solved, plan)
    if len(solved.program.network.waves) > MOST_WAVES:
        return plan, worth, None, _result(solved)
    book = solve(scenario)
    return plan, in_whole(book, worth), _whole_short(book), _result(book)


def _result(book: Solved) -> float | None:
    """What the season leaves; None where no order has a price."""
    return result_in(book.program, book.compiled, book.solution)


def worth_of_one_more(solved: Solved, plan: Plan) -> list[LimitWorth]:
    """The dearest limits of a continuous plan, each solved again with one more.

    Where the price of a limit holds no further than the limit now, the rate of the first part is found by
    solving again too. Limits of which more saves nothing are left out.
    """
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
        saving, first = trials.base - trials.cost(more), -value
        if high is not None and high <= at + LITTLE:
            first, low = min(first, max(trials.at_first(more), saving)), at
            high = at + 1 if isclose(first, saving) else at
        if first > WORTHLESS:
            found.append(LimitWorth(limit, name, day, unit, first, saving, at, low, high))
    return sorted(found, key=lambda w: -w.dual)


def in_whole(book: Solved, worth: list[LimitWorth]) -> list[LimitWorth]:
    """The limits, the dearest of them with what one more saves in whole plans; ``book`` is such a plan."""
    trials = Trials(book)
    found = []
    for w in worth[:IN_WHOLE]:
        more = {key: trials.limit(key) + 1 for key in _keys(book, w.limit, w.name, w.day)}
        found.append(w._replace(whole=saved_by(book, more)))
    return [*found, *worth[IN_WHOLE:]]


def _whole_short(book: Solved) -> list[Short]:
    """Orders that the plan in whole trays leaves short; why is said of those that need not be, else blank."""
    short = book.compiled.values(book.solution.columns)["short"].tolist()
    why, network = lumpy_reasons(book), book.program.network
    retell, terms = retelling(network.scenario), network.orders
    return [
        Short(term.order, 0.0, plants, retell(why.get(term.order.order, "")), NO_LIMIT)
        for term, plants in zip(terms, short, strict=True)
        if plants > SHORT
    ]


def _continuous_short(
    network: Network, relief: Relief, name: str, planned: dict[str, float | None] | None
) -> Short:
    """An order that the continuous program leaves short; ``planned``: plants short in whole trays."""
    order = next(order for order in network.scenario.orders if order.order == name)
    cure = "; ".join(cures(network.scenario, relief)[name]) or f"none: {beyond(network, name)}"
    retell = retelling(network.scenario)
    in_plan = None if planned is None else planned.get(name, 0.0)
    return Short(order, relief.short[name], in_plan, retell(reasons(network, relief)[name]), retell(cure))


def _keys(solved: Solved, limit: str, name: str, day: date | None) -> list[Limit]:
    """The rows of the program that a limit in the table of shadow prices stands for."""
    if limit == "stock":
        rows = solved.compiled.rows
        groups = ("stock", "packs", "packs_out")
        return [(group, at) for group in groups for at in rows.get(group, {}) if at[0] == name]
    of_two = {"skill hours": "skill_limits", "share of a lot": "lot_share", "share of a unit": "unit_share"}
    if limit in of_two:
        group = of_two[limit]
        labels = solved.compiled.rows[group]
        at = {(limit_name(group, label), day_of(group, label)): label for label in labels}
        return [(group, at[name, day])]
    group_of = {
        "slots": "slots",
        "units": "units_busy",
        "regular hours": "regular",
        "overtime hours": "overtime",
        "week hours": "week_hours",
        "one graft day": "day_share",
    }
    if limit == "buy-in":
        return [("buy_in_quantity", (name, str(day), "most"))]
    return [(group_of[limit], (name, str(day)))]


def _shortfalls(network: Network, relief: Relief, whole: list[Short]) -> list[str]:
    """What is short and what would cure it, in sentences; ``whole``: what is short in whole trays."""
    cure, told, retell = cures(network.scenario, relief), [], retelling(network.scenario)
    planned = {row.order.order: grouped(row.told) for row in whole}
    for name, plants in relief.short.items():
        what = f"To fill it: {retell('; '.join(cure[name]))}"
        what = f"No relief can fill it: {beyond(network, name)}" if name in relief.beyond else what
        told.append(f"{name} is short by {_plants(plants, planned.get(name))}. {what}.")
    told += [
        f"{row.order.order} is short by {grouped(row.told)} in whole trays alone: {row.why}."
        for row in whole
        if row.order.order not in relief.short and row.why
    ]
    if not told:
        return ["No order is short."]
    more = len(told) - TOLD
    if more > 0:
        told = told[:TOLD]
        told.append(f"{more} more order{' is' if more == 1 else 's are'} short: see the sheet Short orders.")
    if relief.items:
        told.append(
            "Proof by solving the continuous program again: with all of this relief no "
            f"{'other ' if relief.beyond else ''}order is short; without any one part of it, some order is."
        )
    return told


def _plants(continuous: float, planned: str | None) -> str:
    """Plants short in the plan, and in the continuous program where that differs."""
    some = grouped(continuous) if continuous >= 1 else "less than 1"
    return some if planned in (None, some) else f"{planned} ({some} in the continuous program)"


def _dearest(worth: list[LimitWorth], money: str, *, penal: bool) -> str:
    """What one more of the dearest limit saves; ``penal``: whether penalties are in it."""
    if not worth:
        return "More of any one limit alone saves nothing."
    first = worth[0]
    told = (
        f"{one_more(first.limit, first.name, first.day)} would save most in the continuous program"
        f"{f', {PENALTIES} counted' if penal else ''}: "
        f"{amount(first.dual, money)} if all of it saved as much as its first small part, "
        f"{digits(first.saving, money)} when solved again with all of it"
    )
    if first.whole is None:
        return f"{told}. {LARGE}"
    return (
        f"{told}; in plans of whole trays {digits(first.whole.saves, money)}, surely between "
        f"{digits(first.whole.least, money)} and {amount(first.whole.most, money)}."
    )


def _short_orders(short: list[Short]) -> Section:
    return column.section(
        "Short orders",
        "Orders that are short, why, and the least relief that would fill them.",
        [
            "The least relief is that of the continuous program, which may leave other orders short than the "
            f"plan in whole trays. {CONTINUOUS_COSTS}"
        ],
        short,
        [
            column.text("order", "Order", lambda row: row.order.order),
            column.text("product", "Product", lambda row: row.order.product),
            column.day("due", "Due", lambda row: row.order.due_day),
            column.count("quantity", "Plants ordered", lambda row: row.order.quantity),
            column.count("planned", "Plants short in the plan", lambda row: row.planned, total=True),
            column.count(
                "short", "Plants short in the continuous program", lambda row: row.plants, total=True
            ),
            column.text("why", "Why", lambda row: row.why, widest=60),
            column.text("cure", "Least relief", lambda row: row.cure, widest=60),
        ],
    )


def _relief(scenario: Scenario, relief: Relief) -> Section:
    retell = retelling(scenario)

    def words(item: Item) -> str:
        return retell(in_words(scenario, Span(item, item.day, item.amount)))

    def amount_of(item: Item) -> OfKind:
        return OfKind(item.amount, CellKind.PRICE if item.kind == "penalty" else CellKind.DECIMAL)

    proof = dict(zip(relief.items, relief.proof, strict=True))
    return column.section(
        "Relief",
        "The least relief that lets every order be filled, part by part, with its proof.",
        [
            "Relief is the smallest total increase of limits that lets every order be filled. Each increase "
            "counts as a share of the limit's highest value on any day. Hours are those of a hand at the "
            "standard pace. An order that cannot be ready in time, whatever the limits, gets the smallest "
            "change of days. An order that costs less short than filled, whatever the limits, gets the "
            "smallest rise of its penalty, in hundredths. Other relief comes in whole slots, units, seeds "
            "and plants, and in tenths of an hour.",
            "Proof by solving the continuous program again: with all parts, every order that relief can fill "
            "is filled; in whole trays a few plants may still be short. Without one part, the last column "
            "gives the plants short in all.",
        ],
        relief.items,
        [
            column.text("words", "In words", words, widest=72),
            column.text("kind", "Relief of", lambda item: item.kind),
            column.text("name", "Of", lambda item: item.name, widest=26),
            column.day("day", "Day", lambda item: item.day),
            column.decimal("amount", "Amount", amount_of),
            column.text("unit", "Unit", lambda item: item.unit),
            column.text("orders", "For orders", lambda item: ", ".join(item.orders), widest=40),
            column.decimal("proof", "Plants short without it", lambda item: proof[item]),
        ],
    )


def _worth(worth: list[LimitWorth], money: str, *, penal: bool) -> Section:
    def words(w: LimitWorth) -> str:
        return price_of_limit(w.limit, w.name, w.day, -w.dual, money)

    return column.section(
        "Worth of one more",
        f"The dearest limits: what one more of each saves{', penalties counted' if penal else ''}, and how "
        "far that holds.",
        [
            "Worth at first: the saving from a limit's first small increase, as a rate for each unit (in "
            "textbooks: its shadow price). "
            "Saved, solved again: the saving from one unit more, with all other limits as they are. "
            "It is never more than the worth at first. A tray stays for several days, so one more "
            "slot on one day may be of little use. Limits that save only if others are raised with them are "
            f"not here. {CONTINUOUS_COSTS}",
            "The worth at first holds at least in the range given. Above that range, each further unit may "
            "save less. In plans of whole trays: the plan made again with one more, for the "
            f"{IN_WHOLE} dearest limits of books that are not large. Each plan may miss its least cost by "
            "its gap, so the saving is surely no more than the figure beside it.",
        ],
        worth,
        [
            column.text("words", "In words", words, widest=60),
            column.text("limit", "Limit", lambda w: w.limit),
            column.text("name", "Of", lambda w: w.name, widest=22),
            column.day("day", "Day", lambda w: w.day),
            column.each("dual", f"Worth at first ({money})", lambda w: w.dual),
            column.each("saving", f"Saved, solved again ({money})", lambda w: w.saving),
            column.each(
                "whole",
                f"Saved in plans of whole trays ({money})",
                lambda w: w.whole.saves if w.whole else None,
            ),
            column.each(
                "most", f"Surely no more than ({money})", lambda w: w.whole.most if w.whole else None
            ),
            column.decimal("at", "Limit now", lambda w: w.at),
            column.text("unit", "Unit", lambda w: w.unit),
            column.text(
                "range", "Worth at first holds", lambda w: held_range(w.low, w.high, w.unit), widest=34
            ),
        ],
    )


PRICES = {
    "pay": "Pay of {name}",
    "overtime pay": "Overtime pay of {name}",
    "temporary pay": "Pay of temporary hands of {name}",
    "temporary overtime pay": "Overtime pay of temporary hands of {name}",
    "pack": "Pack of {detail} of {name}",
    "slots": "Slot-day in {name}",
    "bays": "Bay open for a week in {name}",
    "zones chosen": "Tray in a zone chosen: {name}",
    "buy-in": "Price of {name}",
    "run": "Vehicle of {name}",
    "penalty": "Penalty of order {name}",
    "order price": "Price of order {name}",
    "salvage": "Salvage price of {name}",
}
"""What the sheet calls each kind of price."""


def _prices(prices: pd.DataFrame, money: str) -> Section:
    rows: list[list[Cell]] = []
    for kind, name, detail, unit, value, effect, low, high in rows_of(prices, *prices.columns):
        what = PRICES[kind].format(name=name, detail=detail)
        end = "on" if isnan(high) else f"to {unit_digits(high, money)}"
        holds = f"at least from {unit_digits(low, money)} {end}"
        rows.append([what, value, low, None if isnan(high) else high, holds, unit, effect])
    return Section(
        "Price ranges",
        "How far each price may move, alone, before the plan changes.",
        [
            "The plan stays the best at least while the price is within its range and all other prices stay "
            "the same; the true range may be wider. Highest is blank where the price may rise without end. "
            "The last column says how much the cost changes when the price rises by 1, within the range. "
            "Where pay or the cost of a slot-day or bay differs by date, the sheet shows the first figure, "
            "and the range supposes that it changes by the same amount on all days. " + CONTINUOUS_COSTS,
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
        prints=False,
    )
