"""The result: sales less costs, before and after overhead and interest, with penalties apart.

sales = Σ price[o] · plants delivered[o]
before = sales − cash cost
result = before − overhead − interest and depreciation

A cost line belongs to one part of the result (``PART_OF``), so the parts of all orders add up to the plan's.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import astuple, dataclass
from enum import StrEnum
from itertools import chain

import pandas as pd

from model.planned.plan_tables import Plan, Tables, rows_of
from model.program.cost_terms import COST_LINES, costs
from model.program.program import Program
from model.solver.compiled import Compiled, Solution


class ResultPart(StrEnum):
    """What a cost line is in the result."""

    CASH = "cash cost"
    OVERHEAD = "overhead"
    CAPITAL = "interest and depreciation"
    APART = "penalties"


_OTHER = {
    "overhead": ResultPart.OVERHEAD,
    "modules": ResultPart.CAPITAL,
    "interest": ResultPart.CAPITAL,
    "depreciation": ResultPart.CAPITAL,
    "shortfall": ResultPart.APART,
    "declined": ResultPart.APART,
}

PART_OF: dict[str, ResultPart] = {line: _OTHER.get(line, ResultPart.CASH) for line in COST_LINES}
"""The part of the result that each cost line belongs to.

Penalties and prices forgone are paid to nobody: no result holds them. The yearly cost of modules is capital
recovery: depreciation with interest.
"""

NOT_CASH = ("modules", "depreciation")
"""Cost lines in the result that are not paid in the season: they spread what was paid once."""


def is_cash(line: str) -> bool:
    """Whether a cost line is paid in the season."""
    return PART_OF[line] is not ResultPart.APART and line not in NOT_CASH


@dataclass(frozen=True, slots=True)
class Result:
    """Sales, and costs by part of the result, all in currency; ``delivered`` in plants.

    ``apart``: penalties for plants short and prices of plants declined, in no result. ``not_cash``: the part
    of interest and depreciation that is not paid in the season. ``unpriced``: plants delivered for orders
    without a price, which add no sales.
    """

    sales: float = 0.0
    cash: float = 0.0
    overhead: float = 0.0
    capital: float = 0.0
    apart: float = 0.0
    not_cash: float = 0.0
    delivered: float = 0.0
    unpriced: float = 0.0

    @property
    def cost(self) -> float:
        """All costs without penalties and prices forgone."""
        return self.cash + self.overhead + self.capital

    @property
    def before(self) -> float:
        """The result before overhead and interest."""
        return self.sales - self.cash

    @property
    def result(self) -> float:
        """The result after overhead, interest and depreciation."""
        return self.sales - self.cost

    @property
    def per_plant(self) -> float | None:
        """The result a plant delivered; None where no plant is delivered."""
        return self.result / self.delivered if self.delivered > 0 else None


def has_prices(orders: pd.DataFrame) -> bool:
    """Whether any order has a price, so that there are sales; ``orders``: the plan's table."""
    return any(price is not None for price in orders["price"].tolist())


def result_of(plan: Plan | Tables) -> Result:
    """The result of the whole plan, or of the tables of a plan."""
    tables = plan.tables if isinstance(plan, Plan) else plan
    sold = list(rows_of(tables["orders"], "price", "own", "bought"))
    return _result(rows_of(tables["costs"], "line", "amount"), sold)


def result_in(program: Program, compiled: Compiled, solution: Solution) -> float | None:
    """The result of a solution of the program, in currency: Σ price · (d + b) − cost without penalties.

    None where no order has a price.
    """
    network = program.network
    if all(term.order.price is None for term in network.orders):
        return None
    values = {name: of.tolist() for name, of in compiled.values(solution.columns).items()}
    own = (
        (delivery.order, plants)
        for delivery, plants in zip(network.deliveries, values["delivered"], strict=True)
    )
    bought = (
        (buy_in.order, plants) for buy_in, plants in zip(network.buy_ins, values["bought"], strict=True)
    )
    sales = sum(network.orders[o].price * plants for o, plants in chain(own, bought))
    apart = sum(
        coef * values[variable][n]
        for term in costs(program)
        if PART_OF[term.line] is ResultPart.APART
        for (variable, n), coef in term.coefs.items()
    )
    return float(sales - (solution.objective - apart))


def results_by_order(plan: Plan, traced: pd.DataFrame) -> dict[str | None, Result]:
    """The result of each order; under None what no order caused. ``traced``: from ``traced_parts``.

    Each part of the result adds up over the orders to that of the plan.
    """
    lines: dict[str | None, list[tuple[str, float]]] = defaultdict(list)
    for order, line, amount in rows_of(traced, "order", "cost_line", "amount"):
        lines[order].append((line, amount))
    found: dict[str | None, Result] = {
        order: _result(lines.pop(order, ()), [(price, own, bought)])
        for order, price, own, bought in rows_of(plan.orders, "order", "price", "own", "bought")
    }
    found[None] = _result(lines.pop(None, ()), [])
    return found


def summed(results: Mapping[str | None, Result], group_of: Mapping[str, str]) -> dict[str | None, Result]:
    """Results added up by group, such as the customer of each order; None stays by itself."""
    sums: dict[str | None, Result] = {}
    for order, result in results.items():
        group = None if order is None else group_of[order]
        sums[group] = _added(sums.get(group, Result()), result)
    return sums


def _added(one: Result, other: Result) -> Result:
    return Result(*(a + b for a, b in zip(astuple(one), astuple(other), strict=True)))


def _result(lines: Iterable[tuple[str, float]], sold: Iterable[tuple[float | None, float, float]]) -> Result:
    parts: dict[ResultPart, float] = defaultdict(float)
    sales = delivered = unpriced = not_cash = 0.0
    for line, amount in lines:
        parts[PART_OF[line]] += amount
        not_cash += amount if line in NOT_CASH else 0.0
    for price, own, bought in sold:
        delivered += own + bought
        sales += (price or 0.0) * (own + bought)
        unpriced += own + bought if price is None else 0.0
    return Result(
        sales,
        parts[ResultPart.CASH],
        parts[ResultPart.OVERHEAD],
        parts[ResultPart.CAPITAL],
        parts[ResultPart.APART],
        not_cash,
        delivered,
        unpriced,
    )
