"""Asked, not booked: what to hold for inquiries, what is then expected, and what a deposit is worth."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from model.inquiries.demand import Demand, asked_for, demands
from model.inquiries.expected import Expected, Held, expected_of, share_kept
from model.inquiries.held_plants import booked, held_orders, with_steps
from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.questions.whole_differences import WholeDifference, with_orders
from model.scenario.entities import Order, Scenario
from model.solve import Solved, plan_of, solve
from reports.book.style import CellKind
from reports.book.words import amount, digits, percent
from reports.book.writing import grouped, shown_day
from reports.study import column
from reports.study.study import Figure, Section, Study, run_facts
from scenarios.cells.faults import Refused
from scenarios.solves.asking import WholeAdded, booked_added_of, in_parts, solved_book
from scenarios.solves.parallel import run_all
from scenarios.variants.toml_write import rows_variant

FILE = "held.toml"
"""The variant with the plants held in its order book."""

NAME = "plants held for inquiries"

WHAT_IT_SAYS = "Plants held for inquiries, as graftwright hold found them."

HOW = (
    "What so many plants held are expected to sell for is worked out exactly from the chances of the "
    "inquiries. The plants go to the highest price first, and those of orders cancelled before those held. "
    "Plants left over sell at the salvage price of their product, up to salvage_most on each day."
)


@dataclass(frozen=True, slots=True)
class Cancellable:
    """An order that may be cancelled: what is kept then, and what the order adds to the cost, in currency.

    ``sale``: price of its plants delivered. ``kept``: share of it that the nursery keeps.
    """

    order: Order
    sale: float
    kept: float
    added: WholeAdded

    @property
    def chance(self) -> float:
        """Chance that it is cancelled."""
        return self.order.cancel_chance

    @property
    def deposit_worth(self) -> float:
        """What is kept adds so much to the expected result, in currency."""
        return self.chance * self.kept * self.sale

    @property
    def earned(self) -> float:
        """Expected sale less what the order adds to the cost, in currency."""
        return (1 - self.chance) * self.sale + self.deposit_worth - self.added.cost

    @property
    def least_kept(self) -> float | None:
        """Least share kept at which the order pays; None where it adds more than its price, or has none."""
        if self.sale <= 0 or self.added.cost > self.sale:
            return None
        return max(0.0, (self.added.cost - (1 - self.chance) * self.sale) / (self.chance * self.sale))


@dataclass(frozen=True, slots=True)
class Holding:
    """The plan of the book alone, ``without`` plants held, and the one ``with_held``, with what they add.

    ``orders``: the plants held, as orders. ``difference``: None where nothing is held. ``refused``: why not,
    where a try at holding plants did not pay.
    """

    without: Plan
    with_held: Plan
    nothing: Expected
    held: Expected
    orders: tuple[Order, ...] = ()
    difference: WholeDifference | None = None
    refused: str = ""

    @property
    def adds(self) -> float:
        """What the plants held add to the cost of the plan, in currency."""
        return 0.0 if self.difference is None else self.difference.adds

    @property
    def gain(self) -> float:
        """What holding them is expected to earn beyond what they cost, in currency."""
        return self.held.sales - self.adds


def hold_study(scenario: Scenario, *, parent: str | None, workers: int, progress: Say = silent) -> Study:
    """What to hold for inquiries, the result as booked and as expected, and what deposits are worth.

    ``parent``: path of the scenario as the variant ``FILE`` names it; None writes none. Raises Refused where
    nothing is asked for and no order may be cancelled.
    """
    if not asked_for(scenario):
        raise Refused(
            "nothing is asked for: fill in the table inquiries, or the column cancel_chance of the table "
            "orders"
        )
    book = booked(scenario)
    progress("the book")
    solved = solved_book(book)
    found = holding(scenario, solved, progress)
    risky = cancellable(book, found.without, workers, progress)
    money, facts = scenario.nursery.currency, found.with_held.facts
    removed = [order.order for order in scenario.orders if order.held]
    changes = parent is not None and (found.orders or removed)
    return Study(
        "Hold",
        scenario,
        [*_answer(found, money), *(_deposit(order, money) for order in risky)],
        [
            Figure("Plants held for inquiries", found.held.plants, CellKind.COUNT),
            Figure(f"They are expected to sell for ({money})", found.held.sales, CellKind.MONEY),
            Figure(f"They add to the cost ({money})", found.adds, CellKind.MONEY),
            Figure(f"Holding is expected to earn ({money})", found.gain, CellKind.MONEY),
            Figure(f"Result as booked, nothing held ({money})", found.nothing.booked.result, CellKind.MONEY),
            Figure(f"Result expected, nothing held ({money})", found.nothing.result, CellKind.MONEY),
            Figure(
                f"Result as booked, plants held and not sold ({money})",
                found.held.booked.result,
                CellKind.MONEY,
            ),
            Figure(f"Result expected ({money})", found.held.result, CellKind.MONEY),
        ],
        [
            _held_section(money, found.held.held),
            _result_section(money, found),
            *([_inquiries_section(scenario)] if scenario.inquiries else []),
            *([_deposits_section(money, risky)] if risky else []),
        ],
        run_facts(facts, money),
        files=[(FILE, rows_variant(NAME, WHAT_IT_SAYS, parent, "orders", removed, found.orders))]
        if changes and parent is not None
        else [],
    )


def holding(scenario: Scenario, book: Solved, progress: Say = silent) -> Holding:
    """What to hold of each product and day; ``book``: the plan in whole trays of the orders booked.

    Which plants pay comes from the plan of greatest contribution. What they add is the difference of whole
    plans. Nothing is held where that is no less than they are expected to sell for, or where it would make an
    order booked shorter.
    """
    without = plan_of(book)
    alone = book.program.network.scenario
    nothing = expected_of(alone, without)
    none = Holding(without, without, nothing, nothing)
    progress("what pays to hold")
    plants = _chosen(alone, demands(alone))
    if not plants:
        return none
    orders = held_orders(scenario, plants)
    progress("the book with plants held")
    difference = with_orders(book, orders)
    if difference.shorter:
        return _refused(none, f"it would leave less of {', '.join(difference.shorter)}")
    smaller, larger = plan_of(difference.smaller), plan_of(difference.larger)
    tried = Holding(
        smaller,
        larger,
        expected_of(alone, smaller),
        expected_of(difference.larger.program.network.scenario, larger),
        tuple(orders),
        difference,
    )
    if tried.gain <= 0:
        return _refused(none, "in whole trays it costs more than it is expected to earn")
    return tried


def _refused(none: Holding, why: str) -> Holding:
    return Holding(none.without, none.with_held, none.nothing, none.held, refused=why)


def _chosen(book: Scenario, found: Sequence[Demand]) -> dict[Demand, int]:
    """Plants that pay, by what may still be sold: those not declined in the plan of greatest contribution."""
    scenario, demand_of = with_steps(book, found)
    if not demand_of:
        return {}
    kept: dict[Demand, int] = defaultdict(int)
    for order, own, bought in rows_of(plan_of(solve(scenario)).orders, "order", "own", "bought"):
        if order in demand_of:
            kept[demand_of[order]] += round(own + bought)
    return {demand: plants for demand, plants in kept.items() if plants > 0}


def cancellable(book: Scenario, made: Plan, workers: int, progress: Say = silent) -> list[Cancellable]:
    """The orders that may be cancelled, with what each adds to the book; ``made``: its plan."""
    sale = {
        order: (price or 0.0) * (own + bought)
        for order, price, own, bought in rows_of(made.orders, "order", "price", "own", "bought")
    }
    orders = {order.order: order for order in book.orders if order.cancel_chance}
    parts = in_parts(book, list(orders))
    found = run_all(booked_added_of, parts, workers, "the book without an order", progress)
    added = {a.order.order: a for part in found for a in part}
    return [
        Cancellable(order, sale[name], share_kept(book, order), added[name]) for name, order in orders.items()
    ]


# The answer in words


def _answer(found: Holding, money: str) -> list[str]:
    as_booked, expected = found.nothing.booked.result, amount(found.held.result, money)
    leaves = f"As booked the season leaves {amount(as_booked, money)} with nothing held"
    by_chance = f"With inquiries and cancellations by their chances, {expected} is expected"
    if found.difference is None:
        why = f": {found.refused}" if found.refused else ""
        return [f"Hold no plants for inquiries{why}.", f"{leaves}. {by_chance}."]
    sells, adds = amount(found.held.sales, money), amount(found.adds, money)
    open_ = (
        ""
        if found.held.sales >= found.difference.most
        else "; the gaps of the plans leave open whether it pays"
    )
    least, most = digits(found.difference.least, money), amount(found.difference.most, money)
    unsold, nothing = (amount(of, money) for of in (found.held.booked.result, found.nothing.result))
    return [
        f"Hold {grouped(found.held.plants)} plants for inquiries. They are expected to sell for {sells} and "
        f"add {adds} to the cost of the plan, surely between {least} and {most}: holding them is expected to "
        f"earn {amount(found.gain, money)}{open_}.",
        *(_of_day(of) for of in found.held.held if of.plants),
        f"{leaves}; {unsold} if nobody buys the plants held. {by_chance}, and {nothing} with nothing held.",
    ]


def _of_day(of: Held) -> str:
    demand = of.demand
    return (
        f"{demand.product}, {shown_day(demand.due_day)}: hold {grouped(of.plants)}. All of them are sold "
        f"with a chance of {percent(demand.all_sold(of.plants))}; {grouped(demand.sold(of.plants))} are "
        "expected to be."
    )


def _deposit(order: Cancellable, money: str) -> str:
    worth, kept = amount(order.deposit_worth, money), percent(order.kept)
    keeps = (
        f"keeping {kept} of its price adds {worth} to what is expected" if order.kept else "nothing is kept"
    )
    told = f"{order.order.order} is cancelled with a chance of {percent(order.chance)}; {keeps}"
    if not order.added.delivered:
        return f"{told}. No plant of it is delivered."
    if not order.sale:
        return f"{told}. It has no price."
    if order.least_kept is None:
        return f"{told}. It costs more than its price, cancelled or not."
    if order.least_kept == 0:
        return f"{told}. It pays without a deposit."
    pays = "pays" if order.earned >= 0 else "would pay"
    return f"{told}. It {pays} from a deposit of {percent(order.least_kept)} on."


# The study's tables


def _held_section(money: str, found: Sequence[Held]) -> Section:
    def step(of: Held, more: int) -> float | None:
        at = of.plants + more
        return of.demand.sales(at) - of.demand.sales(at - 1) if at > 0 else None

    return column.section(
        "Held",
        "What to hold of each product for each day, and how likely it is sold.",
        [
            HOW,
            "Asked for: plants of inquiries beyond those that orders cancelled leave over. Last and next "
            "plant: what the last plant held, and one more, are expected to sell for. Where both a plant "
            "costs between the two, the number is the best.",
        ],
        found,
        [
            column.text("product", "Product", lambda of: of.demand.product),
            column.day("due", "Due day", lambda of: of.demand.due_day),
            column.count("mean", "Asked for, expected", lambda of: of.demand.asked.mean()),
            column.count("most", "Asked for, at most", lambda of: of.demand.most),
            column.count("held", "Plants held", lambda of: of.plants, total=True),
            column.share("all", "Chance that all are sold", lambda of: of.demand.all_sold(of.plants)),
            column.count("sold", "Expected to be sold", lambda of: of.demand.sold(of.plants), total=True),
            column.money("sales", f"Expected to sell for ({money})", lambda of: of.sales, total=True),
            column.each("last", f"Last plant ({money})", lambda of: step(of, 0)),
            column.each("next", f"Next plant ({money})", lambda of: step(of, 1)),
        ],
    )


def _result_section(money: str, found: Holding) -> Section:
    rows = [("nothing held", found.nothing)]
    if found.difference is not None:
        rows.append(("with plants held", found.held))
    return column.section(
        "Result",
        "The result as booked, and what is expected.",
        [
            "As booked: every order is paid, and plants held are grown and not sold. Lost: what orders "
            "cancelled would have paid, less what is kept of it. Resold: what their plants sell for to "
            "inquiries. All three on the right are expectations: they are in no result as booked, and in no "
            "other study."
        ],
        rows,
        [
            column.text("plan", "Plan", lambda row: row[0]),
            column.money("sales", f"Sales as booked ({money})", lambda row: row[1].booked.sales),
            column.money("cost", f"Cost without penalties ({money})", lambda row: row[1].booked.cost),
            column.money(
                "result", f"Result as booked ({money})", lambda row: row[1].booked.result, "={sales}-{cost}"
            ),
            column.money("lost", f"Lost by cancellations ({money})", lambda row: row[1].cancelled),
            column.money("resold", f"Their plants resold ({money})", lambda row: row[1].resold),
            column.money("held", f"Plants held, sold ({money})", lambda row: row[1].sales),
            column.money(
                "expected",
                f"Result expected ({money})",
                lambda row: row[1].result,
                "={result}-{lost}+{resold}+{held}",
            ),
        ],
    )


def _inquiries_section(scenario: Scenario) -> Section:
    money = scenario.nursery.currency
    return column.section(
        "Inquiries",
        "What is asked for, as in the table inquiries.",
        ["Rows of one inquiry exclude each other. Inquiries of different names come about independently."],
        sorted(scenario.inquiries, key=lambda row: (row.due_day, row.product, row.inquiry, row.quantity)),
        [
            column.text("inquiry", "Inquiry", lambda row: row.inquiry),
            column.text("customer", "Customer", lambda row: row.customer),
            column.text("product", "Product", lambda row: row.product),
            column.day("due", "Due day", lambda row: row.due_day),
            column.text("grows", "More of order", lambda row: row.grows),
            column.count("quantity", "Plants", lambda row: row.quantity),
            column.price("price", f"Price ({money} a plant)", lambda row: row.price),
            column.share("chance", "Chance", lambda row: row.chance),
            column.money(
                "worth",
                f"Price times chance ({money})",
                lambda row: row.quantity * row.price * row.chance,
                "={quantity}*{price}*{chance}",
            ),
        ],
    )


def _deposits_section(money: str, found: Sequence[Cancellable]) -> Section:
    def where(of: Cancellable, value: float) -> float | None:
        return value if of.added.delivered else None

    return column.section(
        "Deposits",
        "Orders that may be cancelled: what is kept is worth, and the least share at which each pays.",
        [
            "Worth: chance times share kept times price. Expected to earn: the price where the order is not "
            "cancelled, and what is kept where it is, less what the order adds to the cost of the plan. "
            "Least share: that at which this is 0. What the plants of a cancelled order sell for elsewhere "
            "is not in it: it makes the least share lower.",
        ],
        found,
        [
            column.text("order", "Order", lambda of: of.order.order),
            column.text("customer", "Customer", lambda of: of.order.customer),
            column.day("due", "Due day", lambda of: of.order.due_day),
            column.money("sale", f"Price of the plants delivered ({money})", lambda of: of.sale),
            column.money("adds", f"Adds to the cost ({money})", lambda of: where(of, of.added.cost)),
            column.share("chance", "Chance of being cancelled", lambda of: of.chance, change=True),
            column.share("kept", "Share kept", lambda of: of.kept, change=True),
            column.money("worth", f"Worth ({money})", lambda of: of.deposit_worth, "={chance}*{kept}*{sale}"),
            column.money(
                "earned",
                f"Expected to earn ({money})",
                lambda of: where(of, of.earned),
                "=(1-{chance})*{sale}+{worth}-{adds}",
            ),
            column.share(
                "least",
                "Least share at which it pays",
                lambda of: of.least_kept if of.added.delivered else None,
                "=MAX(0,({adds}-(1-{chance})*{sale})/({chance}*{sale}))",
            ),
        ],
    )
