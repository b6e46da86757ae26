"""Which orders to accept, where some may be declined: the plan of greatest contribution."""

from __future__ import annotations

from dataclasses import dataclass

from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.questions.trials import Limit, Trials
from model.scenario.choices import Decline
from model.scenario.entities import Order, Scenario
from model.solve import plan_of, solve
from reports.book.style import CellKind
from reports.book.words import amount, digits, unit_price
from reports.study import column
from reports.study.study import CONTINUOUS_COSTS, Figure, Section, Study, run_facts
from scenarios.cells.faults import Refused


@dataclass(frozen=True, slots=True)
class OrderWorth:
    """What it would cost to accept the whole of an order that may be declined.

    ``cost``: avoidable cost of delivering it; ``last``: the part of that which the last plant adds (both in
    currency); ``short``: plants that could not be delivered.
    """

    order: Order
    cost: float
    last: float
    short: float

    @property
    def undeliverable(self) -> float | None:
        """Plants that could not be delivered; None for less than half a plant."""
        return self.short if self.short > 0.5 else None

    @property
    def least_price(self) -> float | None:
        """Lowest price per plant at which it pays to accept the whole order, in currency.

        Where the order is taken whole or not at all, this is its average cost a plant. Where part of it may
        be declined, this is the cost of its last plant, which is the dearest. None if not all of it can be
        delivered.
        """
        if self.undeliverable:
            return None
        return self.last if self.order.decline is Decline.PART else self.cost / self.order.quantity

    @property
    def over(self) -> float | None:
        """Its price above that, in currency per plant."""
        return None if self.least_price is None else (self.order.price or 0.0) - self.least_price


def accept_study(scenario: Scenario, *, progress: Say = silent) -> Study:
    """The plan of greatest contribution, and the price at which each declined order would pay.

    Raises Refused where no order may be declined.
    """
    if all(order.decline is Decline.NO for order in scenario.orders):
        raise Refused(
            "no order may be declined: write 'in part' or 'whole' into the column decline of the table orders"
        )
    made = plan_of(solve(scenario, progress=progress))
    progress("what each order costs")
    found, money = worths(scenario), scenario.nursery.currency
    sold, left = contribution(made)
    declined = dict(rows_of(made.orders, "order", "declined"))
    refused = [w for w in found if declined[w.order.order] > 0]
    answer = [
        f"Of {len(found)} orders that may be declined, decline {len(refused)}"
        f"{' in whole or in part' if refused else ''}. The contribution is {amount(left, money)}: "
        f"{digits(sold, money)} for the plants delivered, less all costs.",
    ]
    answer += [
        f"{w.order.order}: {declined[w.order.order]:,.0f} plants declined; {_taking(w, money)}"
        for w in refused
    ]
    return Study(
        "Accept",
        scenario,
        answer,
        [
            Figure(f"Contribution ({money})", left, CellKind.MONEY),
            Figure(f"Price of plants delivered ({money})", sold, CellKind.MONEY),
            Figure("Orders that may be declined", len(found), CellKind.COUNT),
            Figure("Plants declined", float(made.orders["declined"].sum()), CellKind.COUNT),
            Figure("Plants short", made.short, CellKind.COUNT),
        ],
        [_orders_section(money, made, found)],
        run_facts(made.facts, money),
    )


def worths(scenario: Scenario) -> list[OrderWorth]:
    """Cost of accepting each order that may be declined; the program plans the other orders anew each time.

    The cost is that of the book with the order delivered less that of the book without it. Plants that are
    declined in other orders count at the price forgone.
    """
    solved = solve(scenario, whole=False)
    trials = Trials(solved)
    shorts = solved.compiled.position["short"]
    found = []
    for o, order in enumerate(scenario.orders):
        if order.decline is Decline.NO:
            continue
        variable = "declined" if order.decline is Decline.PART else "declined_whole"
        bound: Limit = (variable, (order.order,))
        accepted = trials.solve({bound: 0.0})
        short = float(accepted.columns[shorts[o]])
        lost = short * solved.program.network.orders[o].penalty
        last = float(accepted.row_dual[solved.compiled.rows["order"][order.order,]])
        found.append(OrderWorth(order, accepted.objective - lost - trials.without(order.order), last, short))
    return found


def contribution(plan: Plan) -> tuple[float, float]:
    """Revenue from the plants delivered, and the contribution: revenue less cost paid. Both in currency."""
    orders = rows_of(plan.orders, "price", "own", "bought")
    sold = sum((price or 0.0) * (own + bought) for price, own, bought in orders)
    forgone = float(plan.costs.loc[plan.costs["line"] == "declined", "amount"].sum())
    return sold, sold - (plan.cost - forgone)


def _taking(w: OrderWorth, money: str) -> str:
    """The price at which a declined order would pay, in words."""
    if w.least_price is None:
        return f"{w.short:,.0f} plants of it could not be delivered at any price."
    if w.least_price <= (w.order.price or 0.0):
        return "it would pay if trays did not have to be whole."
    least = unit_price(w.least_price, money)
    return f"it would pay from {least} a plant; the price offered is {w.order.price:g}."


def _orders_section(money: str, made: Plan, found: list[OrderWorth]) -> Section:
    declined = dict(rows_of(made.orders, "order", "declined"))
    taken = {name: own + bought for name, own, bought in rows_of(made.orders, "order", "own", "bought")}

    return column.section(
        "Orders",
        "Orders that may be declined: the plants delivered, and the price from which each order pays.",
        [
            "Worth taking from: the lowest price at which the order pays. For an order that is taken whole "
            "or not at all, this is the cost that it adds to the plan, divided by its plants. For an order "
            "that may be declined in part, this is the cost of its last plant when all of it is delivered. "
            "The plan takes an order whose price is higher, unless rounding to whole trays makes it too "
            "dear. The prices of the other orders count: a plant that pushes out another order costs what "
            f"that order would have paid. {CONTINUOUS_COSTS}"
        ],
        found,
        [
            column.text("order", "Order", lambda w: w.order.order),
            column.text("customer", "Customer", lambda w: w.order.customer),
            column.text("product", "Product", lambda w: w.order.product),
            column.day("due", "Due day", lambda w: w.order.due_day),
            column.count("quantity", "Plants ordered", lambda w: w.order.quantity),
            column.count("taken", "Delivered", lambda w: taken[w.order.order], total=True),
            column.count("declined", "Declined", lambda w: declined[w.order.order], total=True),
            column.price("price", f"Price ({money} a plant)", lambda w: w.order.price or 0.0, change=True),
            column.each("least", f"Worth taking from ({money} a plant)", lambda w: w.least_price),
            column.each("over", f"Price above that ({money} a plant)", lambda w: w.over, "={price}-{least}"),
            column.count("short", "Could not be delivered", lambda w: w.undeliverable),
        ],
    )
