"""What each order costs, what to charge for it, and what grafting adds to the cost of a plant."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import chain

import pandas as pd

from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.questions.traced_costs import SPLIT, TRACED_LINES, traced_costs
from model.questions.trials import Trials
from model.questions.ungrafted import ungrafted
from model.scenario.choices import MethodKind
from model.scenario.entities import Order, Scenario
from model.solve import plan_of, solve
from reports.book.style import CellKind
from reports.book.words import amount, unit_digits, unit_price
from reports.study import column
from reports.study.study import (
    CONTINUOUS_COSTS,
    Chart,
    Figure,
    Section,
    Study,
    run_facts,
)
from scenarios.studies.asking import profit_margin_input
from scenarios.studies.parallel import run_all

CHUNK = 50
"""Orders that one worker takes at a time."""

NOT_OF_PLANTS = ("shortfall", "declined", "buy-in")
"""Cost lines that do not belong to plants grown here."""

PARTS = (*SPLIT, "indirect")

THREE_COSTS = (
    "Three different costs. Traced: the money that the plan spends on the order; every cost line is followed "
    "from seed to delivery, and overhead is shared out. Marginal: what one more plant of the order would add "
    "to the cost. Avoidable: the cost of the book with the order less the cost without it."
)


@dataclass(frozen=True, slots=True)
class Costed:
    """Plants delivered and their traced cost, in currency by line: of an order, or of all of a product."""

    name: str
    product: str | None
    plants: float
    lines: dict[str, float]

    @property
    def traced(self) -> float:
        """Traced cost of all its plants."""
        return sum(self.lines.values())

    @property
    def each(self) -> float | None:
        """Traced cost of a plant; None where none is delivered."""
        return self.traced / self.plants if self.plants > 0 else None


@dataclass(frozen=True, slots=True)
class OrderCost(Costed):
    """Costs of one order in currency: ``marginal`` of one more plant, ``avoidable`` of the whole order."""

    order: Order
    marginal: float
    avoidable: float

    @property
    def profit_margin(self) -> float | None:
        """Profit margin at its price, as a share of the price; None without a price or plants delivered."""
        return 1 - self.each / self.order.price if self.each is not None and self.order.price else None


def order_costs_study(
    scenario: Scenario, *, profit_margin: float, workers: int, progress: Say = silent
) -> Study:
    """Traced, marginal and avoidable cost of each order, prices, and the extra cost of grafting.

    ``profit_margin`` is a share of the price.
    """
    progress("the plan")
    solved = solve(scenario)
    made, traced = plan_of(solved), traced_costs(solved)
    progress("the same plants own-root")
    plain = solve(ungrafted(scenario))
    names = [order.order for order in scenario.orders]
    chunks = [(scenario, names[start : start + CHUNK]) for start in range(0, len(names), CHUNK)]
    about = "each order with one more plant, and the book without it"
    parts = run_all(_order_costs, chunks, workers, about, progress)
    premium = extra_costs(scenario, made, traced, plan_of(plain), traced_costs(plain))
    lines: dict[str | None, dict[str, float]] = defaultdict(dict)
    for name, line, cost in traced.itertuples(index=False):
        lines[name][line] = cost
    delivered = (made.orders["own"] + made.orders["bought"]).tolist()
    found = [
        OrderCost(order.order, order.product, plants, lines[order.order], order, *costs)
        for order, plants, costs in zip(scenario.orders, delivered, chain.from_iterable(parts), strict=True)
    ]
    money, nobody = scenario.nursery.currency, Costed("no order", None, 0.0, lines[None])
    return Study(
        "Costs",
        scenario,
        _answer(money, found, premium, profit_margin),
        [
            Figure(f"Cost of the plan ({money})", made.cost, CellKind.MONEY),
            Figure(f"Traced to orders ({money})", traced["amount"].sum() - nobody.traced, CellKind.MONEY),
            Figure(f"Traced to no order ({money})", nobody.traced, CellKind.MONEY),
        ],
        [
            _orders_section(money, found, profit_margin),
            *_traced_sections(money, made.cost, scenario, found, nobody),
            _premium_section(money, premium),
        ],
        run_facts(made.facts, money),
        [profit_margin_input(profit_margin)],
    )


def _order_costs(chunk: tuple[Scenario, Sequence[str]]) -> list[tuple[float, float]]:
    """Marginal and avoidable cost of each order of the chunk."""
    scenario, names = chunk
    trials = Trials(solve(scenario, whole=False))
    return [(trials.one_more(name) - trials.base, trials.base - trials.without(name)) for name in names]


# Extra cost of grafting


@dataclass(frozen=True, slots=True)
class ExtraCost:
    """Cost per plant grown here of a product, grafted and own-root, by part (currency per plant)."""

    product: str
    plants: float
    grafted: dict[str, float]
    own_root: dict[str, float]

    def extra(self, part: str) -> float:
        """What grafting adds to a part."""
        return self.grafted[part] - self.own_root[part]

    @property
    def difference(self) -> float:
        """What grafting adds to a plant."""
        return sum(self.extra(part) for part in PARTS)


def extra_costs(
    scenario: Scenario, grafted: Plan, traced: pd.DataFrame, plain: Plan, plain_traced: pd.DataFrame
) -> list[ExtraCost]:
    """The extra cost of each grafted product that both plans grow, and of all of them together (last).

    ``grafted`` and ``plain``: the plan, and the plan of the same orders own-root. ``traced`` and
    ``plain_traced``: their results of ``traced_costs``. Plants bought in, short or declined are left out.
    """
    kinds = {method.method: method.kind for method in scenario.methods}
    products = [p.product for p in scenario.products if kinds[p.method] is not MethodKind.OWN_ROOT]
    here, there = _grown(grafted, traced), _grown(plain, plain_traced)
    found = [
        ExtraCost(product, *here[product], there[product][1])
        for product in products
        if product in here and product in there
    ]
    if found:
        total = sum(extra.plants for extra in found)
        found.append(
            ExtraCost(
                "all grafted products",
                total,
                {p: sum(e.grafted[p] * e.plants for e in found) / total for p in PARTS},
                {p: sum(e.own_root[p] * e.plants for e in found) / total for p in PARTS},
            )
        )
    return found


def _grown(made: Plan, traced: pd.DataFrame) -> dict[str, tuple[float, dict[str, float]]]:
    """Plants grown of each product, where any, and the cost of a plant by part."""
    product_of = dict(rows_of(made.orders, "order", "product"))
    parts: dict[str, dict[str, float]] = defaultdict(lambda: dict.fromkeys(PARTS, 0.0))
    for order, line, cost in traced.itertuples(index=False):
        if order is not None and line not in NOT_OF_PLANTS:
            part = next((part for part, lines in SPLIT.items() if line in lines), "indirect")
            parts[product_of[order]][part] += cost
    grown: dict[str, float] = defaultdict(float)
    for product, plants in rows_of(made.orders, "product", "own"):
        grown[product] += plants
    return {
        product: (plants, {part: parts[product][part] / plants for part in PARTS})
        for product, plants in grown.items()
        if plants > 0
    }


# The study's tables


def _answer(money: str, found: list[OrderCost], premium: list[ExtraCost], profit_margin: float) -> list[str]:
    costs = {cost.name: cost.each for cost in found if cost.each is not None}
    answer = []
    if costs:
        cheap, dear = min(costs, key=lambda name: costs[name]), max(costs, key=lambda name: costs[name])
        answer.append(
            f"Traced cost a plant delivered: from {unit_price(costs[cheap], money)} ({cheap}) to "
            f"{unit_price(costs[dear], money)} ({dear})."
        )
    priced = [cost for cost in found if cost.order.price is not None and cost.each is not None]
    below = [cost.name for cost in priced if (cost.order.price or 0.0) < costs[cost.name]]
    thin = sum(0 <= (cost.profit_margin or 0.0) < profit_margin for cost in priced if cost.name not in below)
    if priced:
        answer.append(
            f"Of {len(priced)} orders with a price, {len(below)} {'is' if len(below) == 1 else 'are'} priced "
            f"below traced cost{': ' + ', '.join(below) if below else ''}. {thin} more miss a profit "
            f"margin of {profit_margin:.0%} of the price."
        )
    if premium:
        extra = premium[-1]
        split = ", ".join(f"{part} {unit_digits(extra.extra(part), money)}" for part in PARTS)
        answer.append(
            f"Grafting adds {unit_price(extra.difference, money)} to the cost of a plant grown here "
            f"({unit_digits(sum(extra.grafted.values()), money)} against "
            f"{unit_digits(sum(extra.own_root.values()), money)} own-root): "
            f"{split}."
        )
    return answer


def _orders_section(money: str, found: list[OrderCost], profit_margin: float) -> Section:
    def avoidable(cost: OrderCost) -> float:
        return cost.avoidable / cost.order.quantity

    def target(cost: OrderCost) -> float | None:
        return None if cost.each is None else cost.each / (1 - profit_margin)

    return column.section(
        "Orders",
        "Traced, marginal and avoidable cost of each order; the price at the profit margin.",
        [
            THREE_COSTS,
            "Price at the profit margin: traced cost a plant, divided by (1 - profit margin). The profit "
            "margin is a share of the price, not of the cost. Profit margin at its price: 1 - traced cost / "
            "price. Traced cost includes the penalties for plants short. Marginal and avoidable cost: "
            + CONTINUOUS_COSTS,
        ],
        sorted(found, key=lambda o: (o.order.due_day, o.name)),
        [
            column.text("order", "Order", lambda o: o.name),
            column.text("customer", "Customer", lambda o: o.order.customer),
            column.text("product", "Product", lambda o: o.product),
            column.day("due", "Due day", lambda o: o.order.due_day),
            column.count("quantity", "Plants ordered", lambda o: o.order.quantity, total=True),
            column.count("plants", "Delivered", lambda o: o.plants, total=True),
            column.money("traced", f"Traced cost ({money})", lambda o: o.traced, total=True),
            column.each("each", f"Traced, a plant ({money})", lambda o: o.each, "={traced}/{plants}"),
            column.each("marginal", f"Marginal: one more plant ({money})", lambda o: o.marginal),
            column.money("avoidable", f"Avoidable cost ({money})", lambda o: o.avoidable),
            column.each(
                "avoidable_each", f"Avoidable, a plant ({money})", avoidable, "={avoidable}/{quantity}"
            ),
            column.each(
                "target", f"Price at profit margin ({money} a plant)", target, "={each}/(1-Profit_margin)"
            ),
            column.price("price", f"Its price ({money} a plant)", lambda o: o.order.price, change=True),
            column.share(
                "margin", "Profit margin at its price", lambda o: o.profit_margin, "=1-{each}/{price}"
            ),
        ],
    )


LINE_NOTES = (
    "Seed and supplies: money paid for an item, shared by use; stock on hand is free. Labour: hours at the "
    "mean cost of an hour on that day, overtime and temporary hands included. Chamber, bench, holding: "
    "slot-days at their cost; chamber modules count with the chamber. Waste and margin: plants grown beyond "
    "those delivered, and seedlings sown but not drawn, less what surplus sells for. Ordinary losses "
    "(germination, match, take) are in the other lines. Overhead, and paid hours without work: shared by "
    "slot-days, as greenhouse budgets share them by space and time (Fisher, Five keys to accurate greenhouse "
    "production costing)."
)


def _line_columns(
    kind: column.Kind, found: Sequence[Costed], unit: str, *, a_plant: bool
) -> list[column.Column[Costed]]:
    """A column for each cost line, and one for their sum; of all plants, or of ``a_plant``."""
    there = {line for costed in found for line in costed.lines}
    shown = [line for line in TRACED_LINES if line in there]

    def spent(costed: Costed, line: str) -> float:
        return costed.lines.get(line, 0.0) / (costed.plants if a_plant else 1)

    def total(costed: Costed) -> float:
        return sum(spent(costed, line) for line in shown)

    columns = [
        kind(f"line{n}", f"{line.capitalize()} ({unit})", partial(spent, line=line), total=not a_plant)
        for n, line in enumerate(shown)
    ]
    sum_ = f"=SUM({{line0}}:{{line{len(shown) - 1}}})"
    return [*columns, kind("all", f"All ({unit})", total, sum_, total=not a_plant)]


def _traced_sections(
    money: str, cost: float, scenario: Scenario, orders: Sequence[OrderCost], nobody: Costed
) -> list[Section]:
    """The cost lines of each order, of a plant of each, and of a plant of each product."""
    whole = _line_columns(column.money, [*orders, nobody], money, a_plant=False)
    each = _line_columns(column.each, [*orders, nobody], f"{money} a plant", a_plant=True)
    plants: column.Column[Costed] = column.count("plants", "Plants delivered", lambda costed: costed.plants)
    head: list[column.Column[Costed]] = [
        column.text("order", "Order", lambda costed: costed.name),
        column.text("product", "Product", lambda costed: costed.product),
    ]
    products = [_of_product(product.product, orders) for product in scenario.products]
    keys = tuple(f"line{n}" for n in range(len(each) - 1))
    shows = "Stacked columns: traced cost of a plant by cost line, a column for each product."
    return [
        column.section(
            "Traced lines",
            "Every cost line of the plan by order.",
            [LINE_NOTES, f"The total is the cost of the plan, {amount(cost, money)}."],
            [*orders, nobody],
            [*head, *whole],
        ),
        column.section(
            "A plant",
            "Traced cost of a plant delivered, by order and line.",
            ["The costs of the sheet Traced lines, divided by the plants delivered."],
            [order for order in orders if order.plants > 0],
            [*head, plants, *each],
        ),
        column.section(
            "Products",
            "Traced cost of a plant delivered, by product and line, with a picture.",
            ["The costs of all orders of a product, divided by the plants delivered."],
            [product for product in products if product.plants > 0],
            [head[1], plants, *each],
            Chart("stacked", "Traced cost of a plant", shows, "product", keys, f"{money} a plant"),
        ),
    ]


def _of_product(name: str, found: Sequence[Costed]) -> Costed:
    """All orders of a product together."""
    lines: dict[str, float] = defaultdict(float)
    orders = [costed for costed in found if costed.product == name]
    for costed in orders:
        for line, cost in costed.lines.items():
            lines[line] += cost
    return Costed(name, name, sum(costed.plants for costed in orders), lines)


def _premium_section(money: str, premium: list[ExtraCost]) -> Section:
    a_plant = f"{money} a plant"

    def share(extra: ExtraCost, part: str) -> float | None:
        return extra.extra(part) / extra.difference if extra.difference else None

    return column.section(
        "Cost of grafting",
        "The same plants own-root beside the grafted ones: what grafting adds to a plant.",
        [
            "A separate plan fills the same orders without grafting. In it the scion is sown in the "
            "final tray and goes to finishing at the age at which it would be grafted. Costs are traced "
            "costs of plants grown here. Seed: rootstock and scion. Direct grafting: graft labour, clips "
            "and stakes, chamber. Indirect: all the rest.",
            "For comparison, the extra cost of grafting on two tomato farms: seed was 52 % and 33 % of it, "
            "direct grafting about 38 % and 37 %, indirect 10 % and 30 % (Rivard, Sydorovych, O'Connell, "
            "Peet, Louws 2010, HortTechnology 20(4):794-803, known by its abstract).",
        ],
        premium,
        [
            column.text("product", "Product", lambda e: e.product),
            column.count("plants", "Plants grown here", lambda e: e.plants),
            column.each("grafted", f"Grafted ({a_plant})", lambda e: sum(e.grafted.values())),
            column.each("own", f"Own-root ({a_plant})", lambda e: sum(e.own_root.values())),
            column.each("difference", f"Difference ({a_plant})", lambda e: e.difference, "={grafted}-{own}"),
            *(
                column.each(
                    f"part{n}", f"{part.capitalize()} ({a_plant})", partial(ExtraCost.extra, part=part)
                )
                for n, part in enumerate(PARTS)
            ),
            *(
                column.share(
                    f"share{n}",
                    f"{part.capitalize()}, share",
                    partial(share, part=part),
                    f"={{part{n}}}/{{difference}}",
                )
                for n, part in enumerate(PARTS)
            ),
        ],
    )
