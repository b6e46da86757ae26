"""The cost that candidate orders, asked for but not booked, would add to the present book.

One program holds all candidates with quantity 0. Each trial opens one of them and solves again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from model.questions.trials import Limit, Trials
from model.scenario.calendar import Calendar
from model.scenario.choices import Decline
from model.scenario.entities import Order, Scenario
from model.solve import Solved, solve
from model.solver.compiled import Solution
from reports.book.style import CellKind
from reports.study.study import Input

ENOUGH = 1e-6
"""An order that is short by fewer plants than this counts as filled: the solver's tolerance."""


@dataclass(frozen=True, slots=True)
class Added:
    """Plants of a candidate order that can be delivered, and the cost that they add to the book.

    ``cost`` is in currency, without penalties. All three are 0 where no plant can be delivered. The candidate
    makes no booked order shorter.
    """

    order: Order
    delivered: float
    bought: float
    cost: float

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
    def cost_per_plant(self) -> float | None:
        """Avoidable cost per plant delivered; None where no plant is delivered."""
        return self.cost / self.delivered if self.delivered else None


def as_candidate(scenario: Scenario, order: Order) -> Order:
    """The order with the nursery's penalty and no right to decline it, so that a trial fills all it can."""
    return replace(order, shortfall_penalty=scenario.nursery.shortfall_penalty, decline=Decline.NO)


class Asking:
    """The book's continuous program with the candidates in it, each closed until a trial opens it."""

    def __init__(self, scenario: Scenario, candidates: Sequence[Order]) -> None:
        self.candidates = {order.order: as_candidate(scenario, order) for order in candidates}
        book = replace(scenario, orders=(*scenario.orders, *self.candidates.values()))
        self.solved: Solved = solve(book, whole=False)
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
        return Added(order, *((delivered, bought, cost) if delivered > ENOUGH else (0.0, 0.0, 0.0)))


def last_working_days(scenario: Scenario) -> list[date]:
    """The last working day of each calendar week of the horizon."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    return [calendar.date(week.working[-1]) for week in calendar.weeks if week.working]


def overhead_per_plant(scenario: Scenario) -> float:
    """The nursery's overhead spread evenly over the plants of the book, in currency per plant."""
    plants = sum(order.quantity for order in scenario.orders)
    return scenario.nursery.overhead / plants if plants else 0.0


@dataclass(frozen=True, slots=True)
class Pricing:
    """What a price covers besides cost: overhead in currency per plant, and a profit margin.

    ``profit_margin`` is a share of the price.
    """

    overhead: float
    profit_margin: float

    def price(self, cost: float | None) -> float | None:
        """Price per plant that leaves the profit margin over cost and overhead per plant; None for None."""
        return None if cost is None else (cost + self.overhead) / (1 - self.profit_margin)

    def left(self, cost: float | None, price: float | None) -> float | None:
        """Profit margin that a price leaves, as a share of it; None without a price or a cost."""
        return 1 - (cost + self.overhead) / price if cost is not None and price else None

    def inputs(self, money: str) -> list[Input]:
        """The numbers that ``price_formula`` uses and the reader may change; ``money``: the currency."""
        return [
            profit_margin_input(self.profit_margin),
            Input(f"Overhead a plant ({money})", self.overhead, CellKind.EACH, "Overhead_a_plant"),
        ]


def price_formula(key: str) -> str:
    """``Pricing.price`` of the cost a plant in the column ``key``, as a workbook formula."""
    return f"=({{{key}}}+Overhead_a_plant)/(1-Profit_margin)"


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
