"""What to charge for each product and delivery week, from the present book."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from model.phases import Say, silent
from model.scenario.entities import Order, Scenario
from model.solve import plan_of, solve
from reports.book.style import CellKind
from reports.book.words import unit_price
from reports.study import column
from reports.study.study import (
    CONTINUOUS_COSTS,
    Chart,
    Figure,
    Section,
    Study,
    run_facts,
    sheet_names,
)
from scenarios.studies.asking import (
    Added,
    Pricing,
    added_of,
    in_chunks,
    last_working_days,
    overhead_per_plant,
    price_formula,
)
from scenarios.studies.parallel import run_all


def price_list_study(
    scenario: Scenario, *, quantity: int, profit_margin: float, workers: int, progress: Say = silent
) -> Study:
    """Prices of ``quantity`` more plants of each product, due on the last working day of each week.

    ``profit_margin`` is a share of the price.
    """
    days = last_working_days(scenario)
    candidates = [
        Order(f"{product.product} | {day.isoformat()}", "price list", product.product, quantity, day)
        for product in scenario.products
        for day in days
    ]
    chunks = in_chunks(scenario, candidates, len(days))
    parts = run_all(added_of, chunks, workers, "price list", progress)
    offered = [added for part in parts for added in part]
    priced = [a for a in offered if a.verdict == "yes"]
    money, pricing = scenario.nursery.currency, Pricing(overhead_per_plant(scenario), profit_margin)
    crops = list(dict.fromkeys(product.crop for product in scenario.products))
    answer = [
        f"These prices are for {quantity:,} more plants of a product, due at the end of a week, at a profit "
        f"margin of {profit_margin:.0%} of the price. The extra plants make no booked order shorter.",
    ]
    by_product: dict[str, list[Added]] = defaultdict(list)
    for a in priced:
        by_product[a.order.product].append(a)
    for product, those in by_product.items():
        low = min(those, key=lambda a: (round(a.cost, 2), a.order.due_day))
        high = max(those, key=lambda a: (round(a.cost, 2), a.order.due_day))
        cheap, dear = (pricing.price(a.cost / a.delivered) or 0.0 for a in (low, high))
        answer.append(
            f"{product}: from {unit_price(cheap, money)} a plant (due on {low.order.due_day}) to "
            f"{unit_price(dear, money)} (due on {high.order.due_day})."
        )
    return Study(
        "Price list",
        scenario,
        answer,
        [
            Figure("Products and weeks priced", len(priced), CellKind.COUNT),
            Figure("Products and weeks with no room for all", len(offered) - len(priced), CellKind.COUNT),
        ],
        [
            *(
                _crop_section(scenario, crop, name, priced, pricing)
                for crop, name in zip(crops, sheet_names("Prices", crops), strict=True)
            ),
            _detail_section(money, offered, pricing),
        ],
        run_facts(plan_of(solve(scenario, whole=False)).facts, money),
        pricing.inputs(money),
    )


def _crop_section(scenario: Scenario, crop: str, name: str, priced: list[Added], pricing: Pricing) -> Section:
    """Weeks down, products of a crop across."""
    products = [product.product for product in scenario.products if product.crop == crop]
    costs = {(a.order.product, a.order.due_day): a.cost_per_plant for a in priced}
    money = scenario.nursery.currency
    columns: list[column.Column[date]] = [column.day("day", "Due day", lambda day: day)]
    for n, product in enumerate(products):
        columns += _product_columns(n, product, costs, money, pricing)
    shows = f"Lines: price a plant by due day, a line for each product of {crop}."
    keys = tuple(f"price{n}" for n in range(len(products)))
    return column.section(
        name,
        f"Prices of {crop} by week.",
        [
            "Cost: avoidable cost of a plant asked for. It is the cost of the book with the plants less the "
            "cost without them, divided by the plants. Price: (cost + overhead a plant) / (1 - profit "
            f"margin). Blank: not all the plants can be delivered. {CONTINUOUS_COSTS}"
        ],
        sorted({day for product, day in costs if product in products}),
        columns,
        Chart("line", f"{crop}: price a plant by week", shows, "day", keys, f"{money} a plant"),
    )


def _product_columns(
    n: int, product: str, costs: dict[tuple[str, date], float | None], money: str, pricing: Pricing
) -> list[column.Column[date]]:
    """Cost and price of the n-th product of a crop, by day."""

    def cost(day: date) -> float | None:
        return costs.get((product, day))

    def price(day: date) -> float | None:
        return pricing.price(cost(day))

    return [
        column.each(f"cost{n}", f"{product}: cost a plant ({money})", cost),
        column.each(f"price{n}", f"{product}: price ({money})", price, price_formula(f"cost{n}")),
    ]


def _detail_section(money: str, offered: list[Added], pricing: Pricing) -> Section:
    return column.section(
        "All weeks",
        "Every product and week: whether it can be delivered, cost and price.",
        ["In part: only the plants deliverable can be supplied; cost and price are for those."],
        offered,
        [
            column.text("product", "Product", lambda a: a.order.product),
            column.day("day", "Due day", lambda a: a.order.due_day),
            column.count("quantity", "Plants asked for", lambda a: a.order.quantity),
            column.text("verdict", "Answer", lambda a: a.verdict),
            column.count("delivered", "Plants deliverable", lambda a: a.delivered),
            column.count("bought", "Of them bought in", lambda a: a.bought),
            column.each("each", f"Cost a plant ({money})", lambda a: a.cost_per_plant),
            column.each(
                "price",
                f"Price ({money} a plant)",
                lambda a: pricing.price(a.cost_per_plant),
                price_formula("each"),
            ),
        ],
    )
