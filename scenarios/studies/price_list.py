"""What to charge for each product and delivery week, from the present book."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from model.phases import Say, silent
from model.planned.plan_tables import Facts
from model.scenario.entities import Order, Scenario
from model.solve import plan
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Section, Study, run_facts, sheet_names
from scenarios.studies.asking import (
    Added,
    added_of,
    in_chunks,
    last_working_days,
    overhead_per_plant,
    price_at,
    price_formula,
    price_inputs,
)
from scenarios.studies.parallel import run_all


@dataclass(frozen=True, slots=True)
class Offered:
    """A product due on ``day``, and what the plants asked for would add to the cost of the book."""

    product: str
    day: date
    added: Added


def price_list_study(
    scenario: Scenario,
    *,
    quantity: int,
    profit_margin: float,
    workers: int,
    progress: Say = silent,
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
    parts = run_all(
        added_of,
        in_chunks(scenario, candidates, len(days)),
        workers=workers,
        about="price list",
        progress=progress,
    )
    offered = [Offered(a.order.product, a.order.due_day, a) for part in parts for a in part]
    facts = plan(scenario, whole=False).facts
    return _study(scenario, offered, quantity, profit_margin, facts)


def _study(
    scenario: Scenario, offered: list[Offered], quantity: int, profit_margin: float, facts: Facts
) -> Study:
    money, overhead = scenario.nursery.currency, overhead_per_plant(scenario)
    crops = list(dict.fromkeys(product.crop for product in scenario.products))
    priced = [o for o in offered if o.added.verdict == "yes"]
    answer = [
        f"These prices are for {quantity:,} more plants of a product, due at the end of a week, at a profit "
        f"margin of {profit_margin:.0%} of the price. The extra plants make no booked order shorter.",
    ]
    by_product: dict[str, list[Offered]] = defaultdict(list)
    for o in priced:
        by_product[o.product].append(o)
    for product, those in by_product.items():
        low = min(those, key=lambda o: (round(o.added.cost, 2), o.day))
        high = max(those, key=lambda o: (round(o.added.cost, 2), o.day))
        cheap, dear = (
            price_at(o.added.cost / o.added.delivered, overhead, profit_margin) for o in (low, high)
        )
        answer.append(
            f"{product}: from {cheap:.4f} {money} a plant (due on {low.day.isoformat()}) to {dear:.4f} "
            f"{money} (due on {high.day.isoformat()})."
        )
    return Study(
        "Price list",
        scenario,
        answer,
        [
            Figure("Products and weeks priced", float(len(priced)), CellKind.COUNT),
            Figure(
                "Products and weeks with no room for all", float(len(offered) - len(priced)), CellKind.COUNT
            ),
        ],
        [
            *(
                _crop_section(scenario, crop, name, offered, overhead, profit_margin)
                for crop, name in zip(crops, sheet_names("Prices", crops), strict=True)
            ),
            _detail_section(scenario, offered, overhead, profit_margin),
        ],
        run_facts(facts),
        price_inputs(scenario, profit_margin),
    )


def _crop_section(
    scenario: Scenario, crop: str, name: str, offered: list[Offered], overhead: float, profit_margin: float
) -> Section:
    """Weeks down, products of a crop across."""
    products = [product.product for product in scenario.products if product.crop == crop]
    by_cell = {(o.product, o.day): o.added for o in offered}
    days = sorted({o.day for o in offered if o.product in products and o.added.verdict == "yes"})
    rows: list[list[Cell]] = []
    for day in days:
        row: list[Cell] = [day]
        for n, product in enumerate(products):
            added = by_cell[product, day]
            each = added.cost_per_plant if added.verdict == "yes" else None
            row += [each, None if each is None else price_formula(f"cost{n}", each, overhead, profit_margin)]
        rows.append(row)
    money = scenario.nursery.currency
    columns = [SheetColumn("day", "Due day", CellKind.DAY)]
    for n, product in enumerate(products):
        columns += [
            SheetColumn(f"cost{n}", f"{product}: cost a plant ({money})", CellKind.EACH),
            SheetColumn(f"price{n}", f"{product}: price ({money})", CellKind.EACH),
        ]
    return Section(
        name,
        f"Prices of {crop} by week.",
        [
            "Cost: avoidable cost of a plant asked for. It is the cost of the book with the plants less the "
            "cost without them, divided by the plants. Price: (cost + overhead a plant) / (1 - profit "
            f"margin). Blank: not all the plants can be delivered. {CONTINUOUS_COSTS}"
        ],
        columns,
        rows,
        [
            Chart(
                "line",
                f"{crop}: price a plant by week",
                f"Lines: price a plant by due day, a line for each product of {crop}. Numbers in the table "
                "above.",
                "day",
                tuple(f"price{n}" for n in range(len(products))),
                "due day",
                f"{money} a plant",
            )
        ],
    )


def _detail_section(
    scenario: Scenario, offered: list[Offered], overhead: float, profit_margin: float
) -> Section:
    money = scenario.nursery.currency
    rows: list[list[Cell]] = []
    for o in offered:
        each = o.added.cost_per_plant
        rows.append(
            [
                o.product,
                o.day,
                float(o.added.order.quantity),
                o.added.verdict,
                o.added.delivered if each is not None else 0.0,
                o.added.bought if each is not None else 0.0,
                each,
                None if each is None else price_formula("each", each, overhead, profit_margin),
            ]
        )
    return Section(
        "All weeks",
        "Every product and week: whether it can be delivered, cost and price.",
        ["In part: only the plants deliverable can be supplied; cost and price are for those."],
        [
            SheetColumn("product", "Product"),
            SheetColumn("day", "Due day", CellKind.DAY),
            SheetColumn("quantity", "Plants asked for", CellKind.COUNT),
            SheetColumn("verdict", "Answer"),
            SheetColumn("delivered", "Plants deliverable", CellKind.COUNT),
            SheetColumn("bought", "Of them bought in", CellKind.COUNT),
            SheetColumn("each", f"Cost a plant ({money})", CellKind.EACH),
            SheetColumn("price", f"Price ({money} a plant)", CellKind.EACH),
        ],
        rows,
    )
