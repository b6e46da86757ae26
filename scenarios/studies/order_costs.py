"""What each order costs, what to charge for it, and what grafting adds to the cost of a plant."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain
from typing import NamedTuple

import pandas as pd

from model.network.charges import billed_share
from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import has_prices, result_of
from model.questions.traced_costs import PENALTIES, TRACED_LINES, overhead_shares, traced_costs
from model.questions.trials import Trials
from model.questions.ungrafted import SPLIT, ungrafted
from model.questions.whole_differences import declined_plants
from model.scenario.choices import MethodKind
from model.scenario.entities import Order, Scenario
from model.solve import plan_of, solve
from reports.book.style import CellKind
from reports.book.words import amount, overhead_rule, unit_digits, unit_price
from reports.book.writing import shown_share
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, run_facts
from scenarios.solves.asking import (
    Added,
    WholeAdded,
    added_or_none,
    booked_added_of,
    in_parts,
    price_formula,
    price_rule,
    profit_margin_input,
    solved_book,
    with_extra,
)
from scenarios.solves.parallel import run_all

CHUNK = 50
"""Orders that one worker takes at a time."""

PARTS = (*SPLIT, "indirect")

THREE_COSTS = (
    "Three different costs. Traced: the money that the plan spends on the order; every cost line is followed "
    "from seed to delivery, and overhead is shared out. Adds: the cost of the plan in whole trays "
    "less that of "
    "such a plan without the order; each plan may miss its least cost by its gap, so the two figures beside "
    "it bound what the order surely adds. Marginal: what one more plant would add in the continuous program, "
    "where trays, packs and hands may be fractional. Penalties for plants short are in none of the three."
)

FREIGHT_SPREAD = (
    " Freight in continuous figures: a vehicle's cost spread over the trays that it can carry, though plants "
    "that ride in a vehicle with room cost no vehicle."
)

MOST_WHOLE = 60
"""In a book of more orders, only so many are tried in whole plans: those whose price leaves least."""


@dataclass(frozen=True, slots=True)
class Costed:
    """Plants delivered and their traced cost, in currency by line: of an order, or of all of a product."""

    name: str
    product: str | None
    plants: float
    lines: dict[str, float]

    @property
    def traced(self) -> float:
        """Traced cost of all its plants, without penalties."""
        return sum(amount for line, amount in self.lines.items() if line not in PENALTIES)

    @property
    def each(self) -> float | None:
        """Traced cost of a plant; None where none is delivered."""
        return self.traced / self.plants if self.plants > 0 else None


@dataclass(frozen=True, slots=True)
class OrderCost(Costed):
    """Costs of one order in currency.

    ``marginal``: of one more plant, in the continuous program. ``continuous`` and ``whole``: what the order
    adds in the continuous program and in whole plans; ``whole`` is None where that was not tried.
    """

    order: Order
    marginal: float
    continuous: Added
    whole: WholeAdded | None

    @property
    def added(self) -> Added:
        """What the order adds: in whole plans where they were tried."""
        return self.whole or self.continuous

    @property
    def billed(self) -> float:
        """Plants of those delivered that are billed."""
        return self.plants * billed_share(self.order)

    @property
    def earned(self) -> float | None:
        """Price of the plants delivered less what they add, in currency; None without a price or plants."""
        added = self.added
        if self.order.price is None or not added.delivered:
            return None
        return self.order.price * added.delivered - added.cost

    @property
    def profit_margin(self) -> float | None:
        """Profit margin at its price, as a share of the price; None without a price or plants delivered."""
        return self.added.margin_left


def order_costs_study(
    scenario: Scenario, *, profit_margin: float, workers: int, progress: Say = silent
) -> Study:
    """What each order costs by trace and adds to the plan, prices, and the extra cost of grafting.

    ``profit_margin`` is a share of the price.
    """
    progress("the plan")
    solved = solved_book(scenario)
    made, traced = plan_of(solved), traced_costs(solved)
    progress("the same plants own-root")
    plain = solve(ungrafted(scenario))
    premium = extra_costs(scenario, made, traced, plan_of(plain), traced_costs(plain))
    lines: dict[str | None, dict[str, float]] = defaultdict(dict)
    for name, line, cost in traced.itertuples(index=False):
        lines[name][line] = cost
    delivered = (made.orders["own"] + made.orders["bought"]).tolist()
    added = _added(scenario, workers, progress)
    whole = _whole_added(scenario, [a for _, a in added], workers, progress)
    found = [
        OrderCost(
            order.order, order.product, plants, lines[order.order], order, *added[o], whole.get(order.order)
        )
        for o, (order, plants) in enumerate(zip(scenario.orders, delivered, strict=True))
    ]
    money, nobody = scenario.nursery.currency, Costed("no order", None, 0.0, lines[None])
    paid, penalties = (
        sum(cost.traced for cost in found),
        sum(sum(c.lines.get(p, 0.0) for p in PENALTIES) for c in found),
    )
    return Study(
        "Costs",
        scenario,
        _answer(money, found, premium, profit_margin),
        [
            *(
                [Figure(f"Result ({money})", result_of(made).result, CellKind.MONEY)]
                if has_prices(made.orders)
                else []
            ),
            Figure(f"Traced to orders ({money})", paid, CellKind.MONEY),
            Figure(f"Traced to no order ({money})", nobody.traced, CellKind.MONEY),
            Figure(f"Penalties and prices declined ({money})", penalties, CellKind.MONEY),
            Figure(f"Cost of the plan, with these ({money})", made.cost, CellKind.MONEY),
        ],
        [
            _orders_section(scenario, found, profit_margin),
            *_traced_sections(money, made.cost, scenario, found, nobody),
            _premium_section(money, premium),
        ],
        run_facts(made.facts, money),
        [profit_margin_input(profit_margin)],
    )


def _added(scenario: Scenario, workers: int, progress: Say) -> list[tuple[float, Added]]:
    """Marginal cost of each order, and what it adds in the continuous program."""
    names = [order.order for order in scenario.orders]
    chunks = [(scenario, names[start : start + CHUNK]) for start in range(0, len(names), CHUNK)]
    about = "each order with one more plant, and the book without it"
    return list(chain.from_iterable(run_all(_added_of, chunks, workers, about, progress)))


def _added_of(chunk: tuple[Scenario, Sequence[str]]) -> list[tuple[float, Added]]:
    """The same for the orders of the chunk."""
    scenario, names = chunk
    solved = solve(scenario, whole=False)
    trials, overhead = Trials(solved), overhead_shares(solved)
    network, values = solved.program.network, solved.compiled.values(trials.solution.columns)
    short, declined = values["short"], declined_plants(replace(solved, solution=trials.solution))
    found = []
    for o, term in enumerate(network.orders):
        name = term.order.order
        if name in names:
            forgone = term.penalty * short[o] + term.price * declined[name]
            cost = trials.base - forgone - trials.without(name)
            bought = sum(
                plants for b, plants in zip(network.buy_ins, values["bought"], strict=True) if b.order == o
            )
            delivered = term.order.quantity - float(short[o]) - declined[name]
            added = added_or_none(term.order, delivered, float(bought), float(cost), overhead[name])
            found.append((trials.one_more(name) - trials.base, added))
    return found


def _whole_added(
    scenario: Scenario, added: list[Added], workers: int, progress: Say
) -> dict[str, WholeAdded]:
    """What orders add in whole plans: all, or in a large book those whose price leaves least."""

    def left(a: Added) -> float:
        left_over = (a.own_price or 0.0) - (a.cost_per_plant or 0.0)
        return left_over * a.order.quantity * billed_share(a.order)

    tried = sorted(added, key=left)[:MOST_WHOLE]
    names = [a.order.order for a in tried]
    parts = run_all(
        booked_added_of, in_parts(scenario, names), workers, "whole plans without an order", progress
    )
    return {a.order.order: a for part in parts for a in part}


# Extra cost of grafting


@dataclass(frozen=True, slots=True)
class ExtraCost:
    """Cost per plant grown here of a product, grafted and own-root, by part (currency per plant).

    ``labour``: graft labour in the cost of a grafted plant, in currency.
    """

    product: str
    plants: float
    grafted: dict[str, float]
    own_root: dict[str, float]
    labour: float

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
        ExtraCost(product, own.plants, own.parts, there[product].parts, own.labour)
        for product in products
        if (own := here.get(product)) is not None and product in there
    ]
    if found:
        total = sum(extra.plants for extra in found)
        found.append(
            ExtraCost(
                "all grafted products",
                total,
                {p: sum(e.grafted[p] * e.plants for e in found) / total for p in PARTS},
                {p: sum(e.own_root[p] * e.plants for e in found) / total for p in PARTS},
                sum(e.labour * e.plants for e in found) / total,
            )
        )
    return found


class _Grown(NamedTuple):
    """Plants of a product grown here, and the cost of one by part and of its graft labour, in currency."""

    plants: float
    parts: dict[str, float]
    labour: float


def _grown(made: Plan, traced: pd.DataFrame) -> dict[str, _Grown]:
    """The products of which plants are grown here."""
    product_of = dict(rows_of(made.orders, "order", "product"))
    parts: dict[str, dict[str, float]] = defaultdict(lambda: dict.fromkeys(PARTS, 0.0))
    labour: dict[str, float] = defaultdict(float)
    for order, line, cost in traced.itertuples(index=False):
        if order is not None and line not in (*PENALTIES, "buy-in"):
            part = next((part for part, lines in SPLIT.items() if line in lines), "indirect")
            parts[product_of[order]][part] += cost
            labour[product_of[order]] += cost if line == "graft labour" else 0.0
    grown: dict[str, float] = defaultdict(float)
    for product, plants in rows_of(made.orders, "product", "own"):
        grown[product] += plants
    return {
        product: _Grown(
            plants, {part: parts[product][part] / plants for part in PARTS}, labour[product] / plants
        )
        for product, plants in grown.items()
        if plants > 0
    }


# The study's tables


def _answer(money: str, found: list[OrderCost], premium: list[ExtraCost], margin: float) -> list[str]:
    each = {cost.name: cost.each for cost in found if cost.each is not None}
    answer = []
    if each:
        cheap, dear = min(each, key=lambda name: each[name]), max(each, key=lambda name: each[name])
        answer.append(
            f"Traced cost a plant delivered: from {unit_price(each[cheap], money)} ({cheap}) to "
            f"{unit_price(each[dear], money)} ({dear})."
        )
    earned = {cost.name: cost.earned for cost in found if cost.earned is not None}
    losing = sorted((name for name in earned if earned[name] < 0), key=lambda name: earned[name])
    thin = [c for c in found if c.name in earned and earned[c.name] >= 0 and (c.profit_margin or 0) < margin]
    if losing:
        names = ", ".join(f"{name} ({amount(-earned[name], money)})" for name in losing)
        answer.insert(
            0,
            f"Priced below what they add: {names}. Without one of them the nursery would be richer by the "
            "sum in brackets.",
        )
    elif earned:
        answer.insert(0, f"None of {len(earned)} orders with a price is priced below what it adds.")
    served = [cost for cost in found if cost.order.price is not None and cost.plants > 0]
    displacing = [cost.name for cost in served if not cost.added.delivered]
    if displacing:
        answer.append(
            f"Left out: {', '.join(displacing)}. No plan is found that has such an order and leaves no other "
            "shorter than the plan without it, so what it adds is not told."
        )
    if thin:
        answer.append(
            f"{len(thin)} of {len(earned)} orders pay what they add, but leave less than "
            f"{shown_share(margin, 0)} of "
            "their price after it and their share of overhead."
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
        if (shares := _beside_print(extra)) is not None:
            answer.append(shares)
    return answer


def _orders_section(scenario: Scenario, found: list[OrderCost], profit_margin: float) -> Section:
    money, extra = scenario.nursery.currency, with_extra(o.order for o in found)

    billed: list[column.Column[OrderCost]] = [
        column.count("billed", "Of them billed", lambda o: o.billed, total=True)
    ]

    counted = ", penalties counted" if any(o.lines.get("shortfall") for o in found) else ""

    def whole(value: Callable[[WholeAdded], float]) -> Callable[[OrderCost], float | None]:
        return lambda o: value(o.whole) if o.whole is not None and o.whole.delivered else None

    return column.section(
        "Orders",
        "What each order costs by trace and adds to the plan; the price at the profit margin.",
        [
            f"{THREE_COSTS}{FREIGHT_SPREAD if scenario.runs else ''}",
            f"{price_rule(scenario, extra=extra)} Earns: price of the plants delivered less what they add. "
            + ("" if all(o.whole for o in found) else PARTLY_WHOLE),
        ],
        sorted(found, key=lambda o: (o.order.due_day, o.name)),
        [
            column.text("order", "Order", lambda o: o.name),
            column.text("customer", "Customer", lambda o: o.order.customer),
            column.text("product", "Product", lambda o: o.product),
            column.day("due", "Due day", lambda o: o.order.due_day),
            column.count("quantity", "Plants ordered", lambda o: o.order.quantity, total=True),
            column.count("plants", "Delivered", lambda o: o.plants, total=True),
            *(billed if extra else []),
            column.money("traced", f"Traced cost ({money})", lambda o: o.traced, total=True),
            column.each("traced_each", f"Traced, a plant ({money})", lambda o: o.each, "={traced}/{plants}"),
            column.money("adds", f"Adds ({money})", whole(lambda a: a.cost)),
            column.money("least", f"Surely no less than ({money})", whole(lambda a: a.least)),
            column.money("most", f"Surely no more than ({money})", whole(lambda a: a.most)),
            column.money("continuous", f"Continuous: adds ({money})", lambda o: o.continuous.cost),
            column.each("marginal", f"Continuous: one more plant{counted} ({money})", lambda o: o.marginal),
            column.each("each", f"Adds a plant ({money})", lambda o: o.added.cost_per_plant),
            column.each("overhead", f"Overhead a plant ({money})", lambda o: o.added.overhead_per_plant),
            column.each(
                "target",
                f"Price at profit margin ({money} a plant)",
                lambda o: o.added.price(profit_margin),
                price_formula("each", "overhead"),
            ),
            column.price("price", f"Its price ({money} a plant)", lambda o: o.added.own_price, change=True),
            column.share(
                "margin",
                "Profit margin at its price",
                lambda o: o.profit_margin,
                "=1-({each}+{overhead})/{price}",
            ),
            column.money(
                "earned",
                f"Earns ({money})",
                lambda o: o.earned,
                f"=({{price}}-{{each}})*{{{'billed' if extra else 'plants'}}}",
            ),
        ],
    )


PARTLY_WHOLE = (
    f"The book has more than {MOST_WHOLE} orders: only so many were tried in plans of whole "
    "trays, those whose price "
    "leaves least. Of the others the figures are those of the continuous program."
)

LINE_NOTES = (
    "Seed and supplies: money paid for an item, shared by use; stock on hand is free. Labour: hours at the "
    "mean cost of an hour on that day, overtime and temporary hands included. Chamber, bench, holding: "
    "slot-days at their cost; chamber modules count with the chamber. Waste and margin: plants grown beyond "
    "those delivered, and seedlings sown but not drawn, less what surplus sells for. Ordinary losses "
    "(germination, match, take) are in the other lines."
)


def _line_columns(
    kind: column.Kind, found: Sequence[Costed], unit: str, *, a_plant: bool
) -> list[column.Column[Costed]]:
    """A column for each cost line, and one for their sum; of all plants, or of ``a_plant``."""
    there = {line for costed in found for line in costed.lines} - set(PENALTIES if a_plant else ())
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
            [
                LINE_NOTES,
                overhead_rule(scenario),
                f"The total is the cost of the plan, {amount(cost, money)}.",
            ],
            [*orders, nobody],
            [*head, *whole],
            prints=False,
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


def _beside_print(extra: ExtraCost) -> str | None:
    """The two shares that print tells too, beside it; None where grafting adds nothing to a plant."""
    whole = sum(extra.grafted.values())
    if extra.difference <= 0 or whole <= 0:
        return None
    direct, labour = extra.extra("direct grafting") / extra.difference, extra.labour / whole
    return (
        f"Direct grafting is {shown_share(direct)} of what grafting adds, against about "
        f"{shown_share(0.38, 0)} and {shown_share(0.37, 0)} on two tomato farms in print. Graft labour is "
        f"{shown_share(labour)} of the cost of a grafted plant, against {shown_share(0.111)} to "
        f"{shown_share(0.144)} there and about a quarter in Spain. The sheet Cost of "
        "grafting names the sources."
    )


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
            "direct grafting about 38 % and 37 %, indirect 10 % and 30 %; graft labour alone was 11.1-14.4 % "
            "of the cost of the grafted plant (Rivard, Sydorovych, O'Connell, Peet, Louws 2010, "
            "HortTechnology 20(4):794-803, known by its abstract). Of the cost of a tomato plant in Spain, "
            "grafting work was about 1/4 and seed about 1/3 (Pardo-Alonso et al. 2019, Agronomy 9(12):880, "
            "read).",
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
            column.each("labour", f"Graft labour ({a_plant})", lambda e: e.labour),
            column.share(
                "of_grafted",
                "Graft labour, share of the grafted plant",
                lambda e: e.labour / sum(e.grafted.values()) if sum(e.grafted.values()) else None,
                "={labour}/{grafted}",
            ),
        ],
    )
