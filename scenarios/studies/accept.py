"""Which orders to accept, where some may be declined: the plan of greatest contribution."""

from __future__ import annotations

from dataclasses import dataclass, replace

from model.network.charges import billed_price, billed_share
from model.network.expansion import expand
from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import result_of
from model.questions.trials import Limit, Trials
from model.questions.whole_differences import SHORTER, Taking, order_declined
from model.scenario.choices import Decline
from model.scenario.entities import Order, Scenario
from model.shortage.relief import least_relief
from model.shortage.why_short import LUMPY, reasons
from model.solve import Solved, explained, plan_of, solve
from model.solver.declining import MOST_DIVES, declinable_of
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted, digits, unit_price
from reports.book.writing import grouped
from reports.study import column
from reports.study.study import Figure, Section, Study, run_facts
from scenarios.cells.faults import Refused
from scenarios.solves.asking import EXTRA_NOTE, sent_columns, with_extra


@dataclass(frozen=True, slots=True)
class OrderWorth:
    """What it costs to take the whole of an order that may be declined.

    ``taking``: what that adds to the whole plan. ``last``: what the last plant adds in the continuous
    program with all of it delivered, in currency, penalties counted.
    """

    order: Order
    taking: Taking
    last: float

    @property
    def undeliverable(self) -> float | None:
        """Plants that could not be delivered; None for less than half a plant."""
        return self.taking.short if self.taking.short > SHORTER else None

    @property
    def least_price(self) -> float | None:
        """Lowest price per plant billed at which it pays to take the whole order, in currency.

        None if not all of it can be delivered, or others would be shorter: no price holds a penalty.
        """
        billed = self.order.quantity * billed_share(self.order)
        return None if self.undeliverable or self.taking.shorter else self.taking.adds / billed

    @property
    def price(self) -> float:
        """Its price of a plant billed, in currency; 0 if it has none."""
        return billed_price(self.order) or 0.0

    @property
    def over(self) -> float | None:
        """Its price above that, in currency per plant."""
        return None if self.least_price is None else self.price - self.least_price


def accept_study(scenario: Scenario, *, progress: Say = silent) -> Study:
    """The plan of greatest contribution, and the price at which each declined order would pay.

    Raises Refused where no order may be declined.
    """
    if all(order.decline is Decline.NO for order in scenario.orders):
        raise Refused(
            "no order may be declined: write 'in part' or 'whole' into the column decline of the table orders"
        )
    solved = solve(scenario, progress=progress)
    made, money = explained(solved, plan_of(solved), progress=progress), scenario.nursery.currency
    found = worths(solved, progress)
    retell = retelling(scenario)
    undelivered = _reasons(scenario, [w.order.order for w in found if w.undeliverable])
    because = {
        **{name: retell(why) for name, why in undelivered.items()},
        **{name: retell(why) for name, why in rows_of(made.orders, "order", "short_because") if why},
    }
    left = result_of(made)
    declined = dict(rows_of(made.orders, "order", "declined"))
    refused = [w for w in found if declined[w.order.order] > 0]
    answer = [
        f"Of {counted(len(found), 'order')} that may be declined, decline {len(refused) or 'none'}"
        f"{' in whole or in part' if refused else ''}. The season then leaves a result of "
        f"{amount(left.result, money)}: {digits(left.sales, money)} for the plants delivered, less all costs"
        f"{'; no penalty is in it' if left.apart else ''}.",
    ]
    answer += [
        f"{w.order.order}: {grouped(declined[w.order.order])} plants declined; {_taking(w, money, because)}"
        for w in refused
    ]
    answer += [
        f"{name}: {grouped(short)} plants short: {because[name]}."
        for name, short in rows_of(made.orders, "order", "short")
        if short > 0
    ]
    return Study(
        "Accept",
        scenario,
        answer,
        [
            Figure(f"Result ({money})", left.result, CellKind.MONEY),
            Figure(f"Sales ({money})", left.sales, CellKind.MONEY),
            Figure(f"Cost without penalties and prices declined ({money})", left.cost, CellKind.MONEY),
            Figure(f"{PENALTIES.capitalize()} ({money})", made.penalties, CellKind.MONEY),
            Figure("Orders that may be declined", len(found), CellKind.COUNT),
            Figure("Plants declined", float(made.orders["declined"].sum()), CellKind.COUNT),
            Figure("Plants short", made.short, CellKind.COUNT),
        ],
        [_orders_section(scenario, made, found, because)],
        run_facts(made.facts, money),
    )


def worths(book: Solved, progress: Say = silent) -> list[OrderWorth]:
    """What taking each order that may still be declined adds; ``book`` is the plan in whole trays."""
    scenario = book.program.network.scenario
    open_ = declinable_of(book.program, book.compiled).orders
    trials = Trials(solve(scenario, whole=False))
    found: list[OrderWorth] = []
    for order in scenario.orders:
        if order.order in open_:
            progress(f"what each order adds: {len(found) + 1} of {len(open_)}")
            variable = "declined" if order.decline is Decline.PART else "declined_whole"
            bound: Limit = (variable, (order.order,))
            row = book.compiled.rows["order"][order.order,]
            last = float(trials.solve({bound: 0.0}).row_dual[row])
            found.append(OrderWorth(order, order_declined(book, order.order), last))
    return found


def _reasons(scenario: Scenario, names: list[str]) -> dict[str, str]:
    """Why each of these orders could not be delivered if it were taken, by the least relief."""
    found: dict[str, str] = {}
    for name in names:
        orders = tuple(
            replace(order, decline=Decline.NO) if order.order == name else order for order in scenario.orders
        )
        taken = replace(scenario, orders=orders)
        found |= {
            order: why for order, why in reasons(expand(taken), least_relief(taken)).items() if order == name
        }
    return found


def _taking(w: OrderWorth, money: str, because: dict[str, str]) -> str:
    """The price at which a declined order would pay, in words."""
    if w.undeliverable:
        why = because.get(w.order.order, LUMPY[False])
        return f"if it were taken, {grouped(w.undeliverable)} plants of it could not be delivered: {why}."
    if w.least_price is None:
        return f"if all of it were taken, {_shorter(w)}."
    least = unit_price(w.least_price, money)
    if w.over is not None and w.over > 0:
        return f"the rest pays; all of it would pay from {least} a plant, but taking a part pays more."
    return f"it would pay from {least} a plant; the price offered is {unit_price(w.price, money)}."


def _shorter(w: OrderWorth) -> str | None:
    """Whom taking all of an order leaves shorter, in words."""
    return f"less of {', '.join(w.taking.shorter)} could be delivered" if w.taking.shorter else None


def _orders_section(
    scenario: Scenario, made: Plan, found: list[OrderWorth], because: dict[str, str]
) -> Section:
    declined = dict(rows_of(made.orders, "order", "declined"))
    money, extra = scenario.nursery.currency, with_extra(w.order for w in found)
    taken = {name: own + bought for name, own, bought in rows_of(made.orders, "order", "own", "bought")}

    return column.section(
        "Orders",
        "Orders that may be declined: the plants delivered, and the price from which each order pays.",
        [
            "Worth taking from: what the whole order adds to the whole plan, divided by its plants. The "
            "other orders are taken and declined as in the plan. The plan comes from a search. It ends where "
            "no change of one or two orders between taken and declined is found to make it cheaper, or after "
            f"{MOST_DIVES} plans. So it takes an order whose price is higher. Of an order that may be "
            "declined in part it takes the plants that pay. Last plant: what it adds when the whole order is "
            "delivered, in the continuous program, where trays, packs and hands may be fractional; penalties "
            "of orders that it leaves shorter are counted, though nobody pays them. Where all of an order "
            "cannot be taken without leaving others shorter, no price makes up for that, and Why names them."
            f"{EXTRA_NOTE if extra else ''}"
        ],
        found,
        [
            column.text("order", "Order", lambda w: w.order.order),
            column.text("customer", "Customer", lambda w: w.order.customer),
            column.text("product", "Product", lambda w: w.order.product),
            column.day("due", "Due day", lambda w: w.order.due_day),
            column.count("quantity", "Plants ordered", lambda w: w.order.quantity),
            *sent_columns(found),
            column.count("taken", "Delivered", lambda w: taken[w.order.order], total=True),
            column.count("declined", "Declined", lambda w: declined[w.order.order], total=True),
            column.price("price", f"Price ({money} a plant)", lambda w: w.price, change=True),
            column.each("least", f"Worth taking from ({money} a plant)", lambda w: w.least_price),
            column.each("over", f"Price above that ({money} a plant)", lambda w: w.over, "={price}-{least}"),
            column.each("last", f"Continuous: last plant, penalties counted ({money})", lambda w: w.last),
            column.count("short", "Could not be delivered", lambda w: w.undeliverable),
            column.text("why", "Why", lambda w: because.get(w.order.order) or _shorter(w), widest=60),
        ],
    )
