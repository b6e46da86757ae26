"""The cost that candidate orders, asked for but not booked, would add to the present book.

Two figures answer. One is the difference of whole plans, with the interval that their gaps leave. The other
is the difference of the continuous program: it holds all candidates with quantity 0, and each trial opens one
of them and solves again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from typing import Protocol, TypeVar

from model.collector import collector_paused
from model.network.charges import billed_price, billed_share, charged, extra_plants, filling_plants
from model.network.expansion import expand
from model.questions.traced_costs import overhead_shares
from model.questions.trials import Limit, Trials
from model.questions.whole_differences import WholeDifference, in_full, with_orders, without_order
from model.scenario.calendar import Calendar
from model.scenario.choices import Decline, OverheadRule
from model.scenario.entities import Order, Scenario
from model.scenario.run_days import run_by_customer
from model.shortage.routes import reached
from model.solve import Solved, solve
from model.solver.compiled import Solution
from reports.book.style import CellKind
from reports.book.words import overhead_rule
from reports.study import column
from reports.study.study import Input
from scenarios.solves.seed_to_send import SeedToSend, seed_to_send


class OfOrder(Protocol):
    """What is said of an order."""

    @property
    def order(self) -> Order:
        """The order as it is sent."""


T = TypeVar("T", bound=OfOrder)

ENOUGH = 1e-6
"""An order that is short by fewer plants than this counts as filled: the solver's tolerance."""

WHOLE_PARTS = 8
"""Parts in which orders of the book are tried in whole plans."""


EXTRA_HEAD = "Of them extra, unbilled"

FILLING_HEAD = "Of them to fill the last tray, billed"

EXTRA_NOTE = (
    " Plants asked for and deliverable are those sent, extra plants among them. Extra plants are not "
    "billed: their cost and overhead are in those of each plant billed, and prices are of plants billed."
)


DECLINED_NOTE = "What takes the place of plants that may be declined adds their price too. "


def with_extra(orders: Iterable[Order]) -> bool:
    """Whether plants of some order are sent unbilled."""
    return any(extra_plants(order) for order in orders)


def sent_columns(rows: Sequence[T]) -> list[column.Column[T]]:
    """Of the plants sent, those that fill the last tray, and extra ones; each only if some order has any."""
    orders = [row.order for row in rows]
    found: list[column.Column[T]] = []
    if any(map(filling_plants, orders)):
        found.append(column.count("filling", FILLING_HEAD, lambda row: filling_plants(row.order)))
    if with_extra(orders):
        found.append(column.count("extra", EXTRA_HEAD, lambda row: extra_plants(row.order)))
    return found


def no_freight(scenario: Scenario, order: Order) -> bool:
    """Whether no run carries an order, though there are runs: no freight is in what it adds then."""
    return bool(scenario.runs) and order.customer not in run_by_customer(scenario)


def price_note(scenario: Scenario, *, extra: bool) -> str:
    """What an order adds, its overhead and its price, in words; ``extra``: plants are sent unbilled."""
    return (
        "Adds: the cost of the plan in whole trays with the order, less penalties for its own "
        "plants short, less the "
        "cost of such a plan without it. Each plan may miss its least cost by its gap. So the order "
        "surely adds no less than the one and no more than the other figure beside it. "
        f"{price_rule(scenario, extra=extra)}"
    )


def price_rule(scenario: Scenario, *, extra: bool) -> str:
    """How a price is made of what a plant adds and of its overhead."""
    rules = {scenario.nursery.overhead_by, *(row.shared_by for row in scenario.overheads)}
    waste = (
        ""
        if rules <= {None, OverheadRule.NONE}
        else " The overhead of its waste and margin is in an order's share."
    )
    declining = any(order.decline is not Decline.NO for order in scenario.orders)
    return (
        f"{DECLINED_NOTE if declining else ''}{overhead_rule(scenario)}{waste} Price: (what a plant adds + "
        "overhead a plant) / (1 - profit margin). The profit margin is a share of the price, not of the cost."
        f"{EXTRA_NOTE if extra else ''}"
    )


@dataclass(frozen=True, slots=True)
class Added:
    """Plants of a candidate order that can be delivered, and the cost that they add to the book.

    ``cost`` is in currency, without penalties; ``overhead`` is the order's share of overhead.
    All four are 0 where no plant can be delivered. The candidate makes no booked order shorter.
    """

    order: Order
    delivered: float
    bought: float
    cost: float
    overhead: float

    @property
    def short(self) -> float:
        """Plants of it that cannot be delivered."""
        return self.order.quantity - self.delivered

    @property
    def verdict(self) -> str:
        """yes, in part or no."""
        if not self.delivered:
            return "no"
        return "yes" if self.short <= ENOUGH else "in part"

    @property
    def billed(self) -> float:
        """Plants of those delivered that are billed: all but the extra ones."""
        return self.delivered * billed_share(self.order)

    @property
    def cost_per_plant(self) -> float | None:
        """Cost added per plant billed; None where no plant is delivered."""
        return self.cost / self.billed if self.delivered else None

    @property
    def overhead_per_plant(self) -> float | None:
        """Overhead per plant billed; None where no plant is delivered."""
        return self.overhead / self.billed if self.delivered else None

    def price(self, profit_margin: float) -> float | None:
        """Price per plant billed that leaves the profit margin; None where no plant is delivered."""
        if self.cost_per_plant is None or self.overhead_per_plant is None:
            return None
        return (self.cost_per_plant + self.overhead_per_plant) / (1 - profit_margin)

    @property
    def own_price(self) -> float | None:
        """The order's price of a plant billed, in currency; None where it has none."""
        return billed_price(self.order)

    @property
    def margin_left(self) -> float | None:
        """Profit margin that its price leaves, as a share of it; None without a price or plants."""
        price, asked = self.own_price, self.price(0.0)
        return 1 - asked / price if asked is not None and price else None


def as_candidate(scenario: Scenario, order: Order) -> Order:
    """The order with the nursery's penalty and no right to decline it, so that a trial fills all it can.

    It is not late either: what is asked is whether it can be delivered on its day.
    """
    penalty = scenario.nursery.shortfall_penalty
    order = charged(scenario, order)
    return replace(order, shortfall_penalty=penalty, decline=Decline.NO, late_days_most=0)


class Asking:
    """The book's continuous program with the candidates in it, each closed until a trial opens it."""

    def __init__(self, scenario: Scenario, candidates: Sequence[Order], near: Solved | None = None) -> None:
        """``near``: the book's plan, where it has been made: the program starts from its optimum."""
        self.candidates = {order.order: as_candidate(scenario, order) for order in candidates}
        book = replace(scenario, orders=(*scenario.orders, *self.candidates.values()))
        self.solved: Solved = solve(book, whole=False, near=near, closed=tuple(self.candidates))
        self.trials = Trials(self.solved, closed=tuple(self.candidates))
        self._short = self.solved.compiled.position["short"]
        network = self.solved.program.network
        self._number = {term.order.order: o for o, term in enumerate(network.orders)}
        self._bought = {
            name: [
                int(self.solved.compiled.position["bought"][i])
                for i, buy_in in enumerate(network.buy_ins)
                if buy_in.order == self._number[name]
            ]
            for name in self.candidates
        }
        self.trials.keep_filled()

    def opened(self, name: str) -> dict[Limit, float]:
        """The changed right-hand side that opens a candidate: its quantity."""
        return {("order", (name,)): float(self.candidates[name].quantity)}

    def short_of(self, solution: Solution, name: str) -> float:
        """Plants of an order that a solution leaves short."""
        return float(solution.columns[self._short[self._number[name]]])

    def penalty(self, name: str) -> float:
        """Penalty per plant of a candidate left short."""
        return self.solved.program.network.orders[self._number[name]].penalty

    def added(self, name: str) -> Added:
        """What the candidate alone would add to the book."""
        order, solution = self.candidates[name], self.trials.solve(self.opened(name))
        short = self.short_of(solution, name)
        bought = float(solution.columns[self._bought[name]].sum())
        cost = solution.objective - self.trials.base - self.penalty(name) * short
        delivered = order.quantity - short
        overhead = overhead_shares(replace(self.solved, solution=solution))[name]
        return added_or_none(order, delivered, bought, cost, overhead)


def last_working_days(scenario: Scenario) -> list[date]:
    """The last working day of each calendar week of the horizon."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    return [calendar.date(week.working[-1]) for week in calendar.weeks if week.working]


@dataclass(frozen=True, slots=True)
class WholeAdded(Added):
    """The same from whole plans. The added cost of least cost lies surely between ``least`` and ``most``.

    ``shorter``: booked orders that would be shorter; where there are any, nothing is delivered. ``seed``:
    what its customer must send for it. ``declined``: plants of other orders that are declined for it; what
    it adds holds their price. All money is in currency.
    """

    least: float
    most: float
    shorter: tuple[str, ...]
    seed: tuple[SeedToSend, ...] = ()
    declined: tuple[tuple[str, float], ...] = ()

    @property
    def within_gaps(self) -> bool:
        """Whether the added cost is no larger than the gaps of the two plans together."""
        return bool(self.delivered) and self.cost < self.most - self.least


def whole_added(book: Solved, order: Order) -> WholeAdded:
    """What a candidate alone would add to the book, whose plan in whole trays ``book`` is."""
    return added_by(book, order, with_candidate(book, order))


def with_candidate(book: Solved, order: Order) -> WholeDifference | None:
    """The plans with and without a candidate; None where none of its plants can be had."""
    scenario = book.program.network.scenario
    asked = as_candidate(scenario, order)
    network = expand(replace(scenario, orders=(*scenario.orders, asked)))
    return with_orders(book, [asked], network, near=True) if asked.order in reached(network) else None


def added_by(book: Solved, order: Order, found: WholeDifference | None) -> WholeAdded:
    """What a candidate adds, by the plans of ``with_candidate``."""
    order = charged(book.program.network.scenario, order)
    if found is None:
        return WholeAdded(order, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, ())
    added = whole_or_none(order, found, overhead_shares(found.larger)[order.order])
    return replace(added, seed=seed_to_send(order, found)) if added.delivered else added


def all_of_it(a: WholeAdded, found: WholeDifference | None) -> Added | None:
    """All of a candidate, where the plans ``found`` leave some of it short though all can be delivered.

    Its overhead is not told. None where no plan that delivers it all is found.
    """
    full = None if found is None or a.verdict == "yes" else in_full(found, a.order)
    return None if full is None else Added(a.order, a.order.quantity, 0.0, full.adds, 0.0)


def whole_or_none(order: Order, found: WholeDifference, overhead: float) -> WholeAdded:
    """What an order adds by the difference of whole plans with it and without it."""
    delivered = found.delivered[order.order]
    if found.shorter or delivered <= ENOUGH:
        return WholeAdded(order, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, found.shorter)
    bought, declined = found.bought[order.order], tuple(found.declined.items())
    added = WholeAdded(order, delivered, bought, found.adds, overhead, found.least, found.most, ())
    return replace(added, declined=declined)


def added_or_none(order: Order, delivered: float, bought: float, cost: float, overhead: float) -> Added:
    """The same of the continuous program: nothing, where no plant is delivered."""
    return Added(order, *((delivered, bought, cost, overhead) if delivered > ENOUGH else (0.0,) * 4))


def whole_added_of(chunk: tuple[Scenario, tuple[Order, ...]]) -> list[WholeAdded]:
    """What each candidate of the chunk, alone, would add to the book in whole plans."""
    scenario, candidates = chunk
    book = solved_book(scenario)
    with collector_paused():
        return [whole_added(book, order) for order in candidates]


def in_parts(scenario: Scenario, names: Sequence[str]) -> list[tuple[Scenario, Sequence[str]]]:
    """Orders of the book in at most ``WHOLE_PARTS`` parts for ``booked_added_of``."""
    return [(scenario, names[start::WHOLE_PARTS]) for start in range(min(WHOLE_PARTS, len(names)))]


def booked_added_of(chunk: tuple[Scenario, Sequence[str]]) -> list[WholeAdded]:
    """What each order of the chunk, which the book has, adds to it in whole plans."""
    scenario, names = chunk
    book = solved_book(scenario)
    overhead, trials = overhead_shares(book), Trials(book)
    orders = {order.order: order for order in scenario.orders}
    return [
        whole_or_none(orders[name], without_order(book, name, trials.had(name)), overhead[name])
        for name in names
    ]


@lru_cache(maxsize=1)
def solved_book(scenario: Scenario) -> Solved:
    """The book's plan in whole trays; each process makes it once for all chunks. Nobody changes it."""
    return solve(scenario)


def price_formula(each: str, overhead: str) -> str:
    """``Added.price`` as a workbook formula over columns of cost and of overhead a plant."""
    return f"=({{{each}}}+{{{overhead}}})/(1-Profit_margin)"


def answer_columns(rows: Sequence[Added]) -> list[column.Column[Added]]:
    """What was asked for and what can be delivered, for these rows."""
    return [
        column.count("quantity", "Plants asked for", lambda a: a.order.quantity),
        *sent_columns(rows),
        column.text("verdict", "Answer", lambda a: a.verdict),
        column.count("delivered", "Plants deliverable", lambda a: a.delivered),
        column.count("bought", "Of them bought in", lambda a: a.bought),
    ]


def price_columns(money: str, profit_margin: float) -> list[column.Column[Added]]:
    """What a plant adds, its overhead, and the price at the profit margin."""
    return [
        column.each("each", f"Adds a plant ({money})", lambda a: a.cost_per_plant),
        column.each("overhead", f"Overhead a plant ({money})", lambda a: a.overhead_per_plant),
        column.each(
            "price",
            f"Price at profit margin ({money} a plant)",
            lambda a: a.price(profit_margin),
            price_formula("each", "overhead"),
        ),
    ]


def price_columns_by_day(
    number: int, about: str, there: Mapping[date, Added], money: str, profit_margin: float
) -> list[column.Column[date]]:
    """The same by due day, for one of several things side by side: ``about`` and ``number`` tell it apart.

    Days that are not ``there`` are blank.
    """

    def shown(value: Callable[[Added], float | None]) -> Callable[[date], float | None]:
        return lambda day: value(there[day]) if day in there else None

    each, overhead = f"each{number}", f"overhead{number}"
    price = shown(lambda a: a.price(profit_margin))
    return [
        column.each(each, f"{about}: adds a plant ({money})", shown(lambda a: a.cost_per_plant)),
        column.each(overhead, f"{about}: overhead ({money})", shown(lambda a: a.overhead_per_plant)),
        column.each(f"price{number}", f"{about}: price ({money})", price, price_formula(each, overhead)),
    ]


def profit_margin_input(profit_margin: float) -> Input:
    """The profit margin as a number that the reader may change."""
    return Input("Profit margin, a share of the price", profit_margin, CellKind.SHARE, "Profit_margin")


def added_of(chunk: tuple[Scenario, tuple[Order, ...]]) -> list[Added]:
    """What each candidate of the chunk, alone, would add to the book, in the order of the candidates."""
    scenario, candidates = chunk
    asking = Asking(scenario, candidates)
    return [asking.added(order.order) for order in candidates]


def in_chunks(
    scenario: Scenario, candidates: Sequence[Order], size: int
) -> list[tuple[Scenario, tuple[Order, ...]]]:
    """The candidates in chunks of ``size`` for ``added_of``: small programs solve quickly."""
    return [(scenario, tuple(candidates[n : n + size])) for n in range(0, len(candidates), size)]
