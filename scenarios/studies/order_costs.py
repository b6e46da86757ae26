"""What each order costs, what to charge for it, and what grafting adds to the cost of a plant."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from model.phases import Say, silent
from model.planned.plan_tables import Plan
from model.questions.traced_costs import SPLIT, TRACED_LINES, traced_costs
from model.questions.trials import Trials
from model.questions.ungrafted import ungrafted
from model.scenario.choices import MethodKind
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Section, Study, run_facts
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
class OrderCost:
    """Costs of one order in currency: ``marginal`` of one more plant, ``avoidable`` of the whole order."""

    order: str
    marginal: float
    avoidable: float


def order_costs_study(
    scenario: Scenario,
    *,
    profit_margin: float,
    workers: int,
    progress: Say = silent,
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
    parts = run_all(
        _order_costs,
        [(scenario, names[start : start + CHUNK]) for start in range(0, len(names), CHUNK)],
        workers=workers,
        about="each order with one more plant, and the book without it",
        progress=progress,
    )
    found = {cost.order: cost for part in parts for cost in part}
    premium = extra_costs(scenario, made, traced, plan_of(plain), traced_costs(plain))
    lines = _by_order(traced)
    return Study(
        "Costs",
        scenario,
        _answer(scenario, made, lines, premium, profit_margin),
        _figures(scenario, made, traced),
        [
            _orders_section(scenario, made, lines, found, profit_margin),
            _lines_section(scenario, made, lines),
            _plants_section(scenario, made, lines),
            _products_section(scenario, made, lines),
            _premium_section(scenario, premium),
        ],
        run_facts(made.facts),
        [profit_margin_input(profit_margin)],
    )


def _order_costs(chunk: tuple[Scenario, Sequence[str]]) -> list[OrderCost]:
    scenario, names = chunk
    trials = Trials(solve(scenario, whole=False))
    return [
        OrderCost(name, trials.one_more(name) - trials.base, trials.base - trials.without(name))
        for name in names
    ]


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
    here, there = _parts_by_product(grafted, traced), _parts_by_product(plain, plain_traced)
    found = [
        ExtraCost(product, here[product][1], _each(*here[product]), _each(*there[product]))
        for product in products
        if here[product][1] > 0 and there[product][1] > 0
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


def _each(parts: dict[str, float], plants: float) -> dict[str, float]:
    return {part: parts[part] / plants for part in PARTS}


def _parts_by_product(made: Plan, traced: pd.DataFrame) -> dict[str, tuple[dict[str, float], float]]:
    """Money by part and plants grown, of each product."""
    product_of = dict(zip(made.orders["order"], made.orders["product"], strict=True))
    parts: dict[str, dict[str, float]] = defaultdict(lambda: dict.fromkeys(PARTS, 0.0))
    for order, line, amount in traced.itertuples(index=False):
        if order is not None and line not in NOT_OF_PLANTS:
            part = next((part for part, lines in SPLIT.items() if line in lines), "indirect")
            parts[product_of[order]][part] += amount
    grown: dict[str, float] = defaultdict(float)
    for product, plants in zip(made.orders["product"], made.orders["own"], strict=True):
        grown[product] += plants
    found: dict[str, tuple[dict[str, float], float]] = defaultdict(lambda: (dict.fromkeys(PARTS, 0.0), 0.0))
    found.update({product: (parts[product], plants) for product, plants in grown.items()})
    return found


# The study's tables

Traced = dict[str | None, dict[str, float]]


def _by_order(traced: pd.DataFrame) -> Traced:
    lines: Traced = defaultdict(dict)
    for order, line, amount in traced.itertuples(index=False):
        lines[order][line] = amount
    return lines


def _delivered(made: Plan) -> dict[str, float]:
    return dict(zip(made.orders["order"], made.orders["own"] + made.orders["bought"], strict=True))


def _answer(
    scenario: Scenario, made: Plan, lines: Traced, premium: list[ExtraCost], profit_margin: float
) -> list[str]:
    money, delivered = scenario.nursery.currency, _delivered(made)
    each = {
        order.order: sum(lines[order.order].values()) / delivered[order.order]
        for order in scenario.orders
        if delivered[order.order] > 0
    }
    answer = []
    if each:
        cheap, dear = min(each, key=lambda o: each[o]), max(each, key=lambda o: each[o])
        answer.append(
            f"Traced cost a plant delivered: from {each[cheap]:.4f} {money} ({cheap}) to "
            f"{each[dear]:.4f} {money} ({dear})."
        )
    priced = [o for o in scenario.orders if o.price is not None and o.order in each]
    below = [o.order for o in priced if (o.price or 0.0) < each[o.order]]
    thin = [
        o.order
        for o in priced
        if o.price and o.order not in below and 1 - each[o.order] / o.price < profit_margin
    ]
    if priced:
        answer.append(
            f"Of {len(priced)} orders with a price, {len(below)} {'is' if len(below) == 1 else 'are'} priced "
            f"below traced cost{': ' + ', '.join(below) if below else ''}. {len(thin)} more miss a profit "
            f"margin of {profit_margin:.0%} of the price."
        )
    if premium:
        extra = premium[-1]
        split = ", ".join(f"{part} {extra.extra(part):.4f}" for part in PARTS)
        answer.append(
            f"Grafting adds {extra.difference:.4f} {money} to the cost of a plant grown here "
            f"({sum(extra.grafted.values()):.4f} against {sum(extra.own_root.values()):.4f} own-root): "
            f"{split}."
        )
    return answer


def _figures(scenario: Scenario, made: Plan, traced: pd.DataFrame) -> list[Figure]:
    money = scenario.nursery.currency
    nobody = float(traced.loc[traced["order"].isna(), "amount"].sum())
    return [
        Figure(f"Cost of the plan ({money})", made.cost, CellKind.MONEY),
        Figure(f"Traced to orders ({money})", float(traced["amount"].sum()) - nobody, CellKind.MONEY),
        Figure(f"Traced to no order ({money})", nobody, CellKind.MONEY),
    ]


def _orders_section(
    scenario: Scenario, made: Plan, lines: Traced, found: dict[str, OrderCost], profit_margin: float
) -> Section:
    money, delivered = scenario.nursery.currency, _delivered(made)
    rows: list[list[Cell]] = []
    for order in sorted(scenario.orders, key=lambda o: (o.due_day, o.order)):
        cost, plants = found[order.order], delivered[order.order]
        traced = sum(lines[order.order].values())
        each = traced / plants if plants > 0 else None
        rows.append(
            [
                order.order,
                order.customer,
                order.product,
                order.due_day,
                float(order.quantity),
                plants,
                traced,
                None if each is None else Formula("={traced}/{plants}", each),
                cost.marginal,
                cost.avoidable,
                Formula("={avoidable}/{quantity}", cost.avoidable / order.quantity),
                None if each is None else Formula("={each}/(1-Profit_margin)", each / (1 - profit_margin)),
                order.price,
                Formula("=1-{each}/{price}", 1 - each / order.price)
                if each is not None and order.price
                else None,
            ]
        )
    return Section(
        "Orders",
        "Traced, marginal and avoidable cost of each order; the price at the profit margin.",
        [
            THREE_COSTS,
            "Price at the profit margin: traced cost a plant, divided by (1 - profit margin). The profit "
            "margin is a share of the price, not of the cost. Profit margin at its price: 1 - traced cost / "
            "price. Traced cost includes the penalties for plants short. Marginal and avoidable cost: "
            + CONTINUOUS_COSTS,
        ],
        [
            SheetColumn("order", "Order"),
            SheetColumn("customer", "Customer"),
            SheetColumn("product", "Product"),
            SheetColumn("due", "Due day", CellKind.DAY),
            SheetColumn("quantity", "Plants ordered", CellKind.COUNT, total=True),
            SheetColumn("plants", "Delivered", CellKind.COUNT, total=True),
            SheetColumn("traced", f"Traced cost ({money})", CellKind.MONEY, total=True),
            SheetColumn("each", f"Traced, a plant ({money})", CellKind.EACH),
            SheetColumn("marginal", f"Marginal: one more plant ({money})", CellKind.EACH),
            SheetColumn("avoidable", f"Avoidable cost ({money})", CellKind.MONEY),
            SheetColumn("avoidable_each", f"Avoidable, a plant ({money})", CellKind.EACH),
            SheetColumn("target", f"Price at profit margin ({money} a plant)", CellKind.EACH),
            SheetColumn("price", f"Its price ({money} a plant)", CellKind.PRICE, change=True),
            SheetColumn("margin", "Profit margin at its price", CellKind.SHARE),
        ],
        rows,
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


def _shown_lines(lines: Traced) -> list[str]:
    there = {line for own in lines.values() for line in own}
    return [line for line in TRACED_LINES if line in there]


def _line_columns(shown: list[str], unit: str, kind: CellKind, *, total: bool = False) -> list[SheetColumn]:
    """A column for each cost line, and one for their sum."""
    headings = [*((f"line{n}", line.capitalize()) for n, line in enumerate(shown)), ("all", "All")]
    return [SheetColumn(key, f"{heading} ({unit})", kind, total=total) for key, heading in headings]


def _total(amounts: list[float]) -> Formula:
    """The sum of a row's lines."""
    return Formula(f"=SUM({{line0}}:{{line{len(amounts) - 1}}})", sum(amounts))


def _lines_section(scenario: Scenario, made: Plan, lines: Traced) -> Section:
    money, shown = scenario.nursery.currency, _shown_lines(lines)
    owners = [(order.order, order.product, order.order) for order in scenario.orders]
    rows: list[list[Cell]] = []
    for name, product, key in [*owners, ("no order", None, None)]:
        amounts = [lines[key].get(line, 0.0) for line in shown]
        rows.append([name, product, *amounts, _total(amounts)])
    return Section(
        "Traced lines",
        "Every cost line of the plan by order.",
        [LINE_NOTES, f"The total is the cost of the plan, {made.cost:,.2f} {money}."],
        [
            SheetColumn("order", "Order"),
            SheetColumn("product", "Product"),
            *_line_columns(shown, money, CellKind.MONEY, total=True),
        ],
        rows,
    )


def _per_plant(
    lines: Traced, shown: list[str], delivered: dict[str, float], orders: list[str]
) -> list[Cell] | None:
    """Plants delivered for the orders, cost a plant by line, and its sum; None without plants delivered."""
    plants = sum(delivered[name] for name in orders)
    if plants <= 0:
        return None
    each = [sum(lines[name].get(line, 0.0) for name in orders) / plants for line in shown]
    return [plants, *each, _total(each)]


def _plants_section(scenario: Scenario, made: Plan, lines: Traced) -> Section:
    shown, delivered = _shown_lines(lines), _delivered(made)
    found = [(o, _per_plant(lines, shown, delivered, [o.order])) for o in scenario.orders]
    return Section(
        "A plant",
        "Traced cost of a plant delivered, by order and line.",
        ["The costs of the sheet Traced lines, divided by the plants delivered."],
        [
            SheetColumn("order", "Order"),
            SheetColumn("product", "Product"),
            SheetColumn("plants", "Plants delivered", CellKind.COUNT),
            *_line_columns(shown, f"{scenario.nursery.currency} a plant", CellKind.EACH),
        ],
        [[order.order, order.product, *row] for order, row in found if row is not None],
    )


def _products_section(scenario: Scenario, made: Plan, lines: Traced) -> Section:
    money, shown, delivered = scenario.nursery.currency, _shown_lines(lines), _delivered(made)
    orders = {
        p.product: [o.order for o in scenario.orders if o.product == p.product] for p in scenario.products
    }
    found = [(product, _per_plant(lines, shown, delivered, names)) for product, names in orders.items()]
    return Section(
        "Products",
        "Traced cost of a plant delivered, by product and line, with a picture.",
        ["The costs of all orders of a product, divided by the plants delivered."],
        [
            SheetColumn("product", "Product"),
            SheetColumn("plants", "Plants delivered", CellKind.COUNT),
            *_line_columns(shown, f"{money} a plant", CellKind.EACH),
        ],
        [[product, *row] for product, row in found if row is not None],
        [
            Chart(
                "stacked",
                "Traced cost of a plant",
                "Stacked columns: traced cost of a plant by cost line, a column for each product. Numbers in "
                "the table above.",
                "product",
                tuple(f"line{n}" for n in range(len(shown))),
                "product",
                f"{money} a plant",
            )
        ],
    )


def _premium_section(scenario: Scenario, premium: list[ExtraCost]) -> Section:
    money = scenario.nursery.currency
    rows: list[list[Cell]] = []
    for extra in premium:
        grafted, own = sum(extra.grafted.values()), sum(extra.own_root.values())
        rows.append(
            [
                extra.product,
                extra.plants,
                grafted,
                own,
                Formula("={grafted}-{own}", extra.difference),
                *(extra.extra(part) for part in PARTS),
                *(
                    Formula(f"={{part{n}}}/{{difference}}", extra.extra(part) / extra.difference)
                    if extra.difference
                    else None
                    for n, part in enumerate(PARTS)
                ),
            ]
        )
    return Section(
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
        [
            SheetColumn("product", "Product"),
            SheetColumn("plants", "Plants grown here", CellKind.COUNT),
            SheetColumn("grafted", f"Grafted ({money} a plant)", CellKind.EACH),
            SheetColumn("own", f"Own-root ({money} a plant)", CellKind.EACH),
            SheetColumn("difference", f"Difference ({money} a plant)", CellKind.EACH),
            *(
                SheetColumn(f"part{n}", f"{part.capitalize()} ({money} a plant)", CellKind.EACH)
                for n, part in enumerate(PARTS)
            ),
            *(
                SheetColumn(f"share{n}", f"{part.capitalize()}, share", CellKind.SHARE)
                for n, part in enumerate(PARTS)
            ),
        ],
        rows,
    )
