"""Inputs changed in the small plan's workbook, and what the model says of the same plan at those inputs."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

import openpyxl

from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.planned.results import Result, result_of, results_by_order
from model.program.build import build
from model.program.cost_terms import costs
from model.questions.traced_costs import traced_parts
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from tests.report_scenario import report_scenario
from tests.workbooks import find

MARGIN = 0.35
"""The changed profit margin."""

ORDER_PRICE = ("bought", 2.4)
"""An order and its changed price."""

PRICES = {
    ("profit margin", "every product"): MARGIN,
    ("seed", "Red A"): 29.95,
    ("supplies", "media"): 3.19,
    ("plants bought in", "offer"): 1.31,
    ("regular hours", "Grafters"): 22.4,
    ("regular hours", "Growers"): 18.65,
    ("overtime and hours on days off", "Grafters"): 35.0,
    ("temporary hands", "Grafters"): 19.25,
    ("training", "Grafters"): 4.5,
    ("heat and light", "House"): 0.041,
    ("plants short", "early"): 61.0,
    ("surplus plants sold", "Red own-root"): 2.1,
    ("sowing a wave", "every wave"): 3.75,
    ("module, first cost", "shelf"): 640.0,
    ("interest", "modules"): 0.065,
    ("overhead", "the whole plan"): 133.0,
    ("overhead", "rent"): 41.0,
    ("interest", "overdraft"): 17.25,
    ("depreciation", "houses"): 611.0,
}
"""Rows of the sheet of prices (price of, for) and their changed values."""


def change_workbook(path: Path, target: Path) -> None:
    """The workbook at ``path`` with the inputs changed, saved as ``target``."""
    book = openpyxl.load_workbook(path)
    left = dict(PRICES)
    for row in book["Prices"].iter_rows():
        price = left.pop((row[0].value, row[1].value), None)
        if price is not None:
            row[3].value = price
    assert not left
    orders, (order, price) = book["Orders"], ORDER_PRICE
    orders.cell(find(orders, order)[0], find(orders, "Price (USD a plant)*")[1]).value = price
    book.save(target)


def changed_scenario() -> Scenario:
    """``report_scenario`` with the same inputs changed."""
    given = report_scenario()
    grafters, growers, helpers = given.crews
    pack_prices = {"Red A": PRICES["seed", "Red A"], "media": PRICES["supplies", "media"]}
    order, price = ORDER_PRICE
    return replace(
        given,
        nursery=replace(
            given.nursery,
            wave_cost=PRICES["sowing a wave", "every wave"],
            overhead=PRICES["overhead", "the whole plan"],
            interest_rate=PRICES["interest", "modules"],
        ),
        orders=tuple(
            replace(
                o,
                price=price if o.order == order else o.price,
                shortfall_penalty=PRICES["plants short", "early"]
                if o.order == "early"
                else o.shortfall_penalty,
            )
            for o in given.orders
        ),
        products=tuple(
            replace(p, salvage_price=PRICES.get(("surplus plants sold", p.product), p.salvage_price))
            for p in given.products
        ),
        packs=tuple(replace(p, price=pack_prices.get(p.item, p.price)) for p in given.packs),
        zones=tuple(
            replace(z, cost_per_slot_day=PRICES.get(("heat and light", z.zone), z.cost_per_slot_day))
            for z in given.zones
        ),
        crews=(
            replace(
                grafters,
                pay_per_hour=PRICES["regular hours", "Grafters"],
                overtime_pay_per_hour=PRICES["overtime and hours on days off", "Grafters"],
                temp_pay_per_hour=PRICES["temporary hands", "Grafters"],
                temp_training_cost=PRICES["training", "Grafters"],
            ),
            replace(growers, pay_per_hour=PRICES["regular hours", "Growers"]),
            helpers,
        ),
        buy_in_offers=tuple(
            replace(o, price=PRICES["plants bought in", "offer"]) for o in given.buy_in_offers
        ),
        overheads=tuple(replace(row, amount=PRICES[row.kind.value, row.overhead]) for row in given.overheads),
        modules=tuple(replace(m, first_cost=PRICES["module, first cost", "shelf"]) for m in given.modules),
    )


@dataclass(frozen=True, slots=True)
class Numbers:
    """What the model says: cost, cost by line, traced cost of a plant by product, results (all in currency).

    The traced cost is without penalties.
    """

    cost: float
    lines: dict[str, float]
    plants: dict[str, float]
    result: Result
    orders: dict[str | None, Result]


def model_numbers() -> Numbers:
    """The decisions of the plan as it was, at the changed inputs."""
    solved = solve(report_scenario())
    made = plan_of(solved)
    again = replace(solved, program=build(expand(changed_scenario())))
    values = again.values
    lines: dict[str, float] = defaultdict(float)
    for term in costs(again.program):
        lines[term.line] += term.constant + values.total(term.coefs)
    traced: dict[str, float] = defaultdict(float)
    product_of = dict(zip(made.orders["order"], made.orders["product"], strict=True))
    parts = traced_parts(again)[["order", "line", "amount"]]
    for order, line, amount in parts.itertuples(index=False):
        if order is not None and line not in ("shortfall", "declined"):
            traced[product_of[order]] += amount
    prices = {order.order: order.price for order in changed_scenario().orders}
    orders = made.orders.assign(price=[prices[order] for order in made.orders["order"]])
    cost = made.costs.assign(amount=0.0).head(0)
    cost = cost.reindex(range(len(lines))).assign(line=list(lines), amount=list(lines.values()))
    priced = replace(made, orders=orders, costs=cost)
    return Numbers(
        sum(lines.values()),
        lines,
        {p: traced[p] / n for p, n in _delivered(made).items()},
        result_of(priced),
        results_by_order(priced, traced_parts(again)),
    )


def _delivered(made: Plan) -> dict[str, float]:
    plants: dict[str, float] = defaultdict(float)
    for row in made.orders.to_dict("records"):
        plants[str(row["product"])] += row["own"] + row["bought"]
    return plants


class Shown(NamedTuple):
    """A cell of the workbook, and what it should show."""

    sheet: str
    cell: str
    value: float


def expected(path: Path) -> list[Shown]:
    """Cells of the workbook that should follow the changed inputs, with the model's numbers."""
    book, numbers = openpyxl.load_workbook(path), model_numbers()

    def beside(sheet: str, name: str, heading: str) -> str:
        page: Any = book[sheet]
        return str(page.cell(find(page, name)[0], find(page, heading)[1]).coordinate)

    found = [
        Shown("Summary", f"C{find(book['Summary'], 'Cost with penalties (USD)')[0]}", numbers.cost),
        Shown("Cost details", beside("Cost details", "Total", "Amount (USD)"), numbers.cost),
        Shown(
            "Cash",
            beside("Cash", "Total", "In less out (USD)"),
            numbers.result.result + numbers.result.not_cash,
        ),
        Shown("Result", beside("Result", "Result", "Amount (USD)"), numbers.result.result),
        Shown("Summary", f"C{find(book['Summary'], 'Result (USD)')[0]}", numbers.result.result),
    ]
    for name in ("order", "customer", "product"):
        sheet = f"Result by {name}"
        found.append(Shown(sheet, beside(sheet, "Total", "Result (USD)"), numbers.result.result))
    for order, result in numbers.orders.items():
        sheet = "Result by order"
        found.append(Shown(sheet, beside(sheet, order or "no order", "Result (USD)"), result.result))
    for line, amount in numbers.lines.items():
        found.append(Shown("Costs", beside("Costs", line, "Amount (USD)"), amount))
        found.append(Shown("Costs", beside("Costs", line, "Share of cost"), amount / numbers.cost))
    for product, cost in numbers.plants.items():
        found.append(Shown("Products", beside("Products", product, "Cost (USD a plant)"), cost))
        price = beside("Products", product, "Price from traced cost (USD a plant)")
        found.append(Shown("Products", price, cost / (1 - MARGIN)))
        found.append(Shown("Cost by product", beside("Cost by product", product, "All (USD)"), cost))
    mean = beside("Products", "Blue on Stout", "Mean price (USD a plant)")
    left = beside("Products", "Blue on Stout", "Margin at mean price")
    found.append(Shown("Products", mean, ORDER_PRICE[1]))
    found.append(Shown("Products", left, 1 - numbers.plants["Blue on Stout"] / ORDER_PRICE[1]))
    return found
