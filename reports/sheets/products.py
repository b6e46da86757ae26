"""Sheets of what each product costs: cost and price a plant, by purpose, and the traced costs."""

from __future__ import annotations

from collections import defaultdict
from functools import partial

from model.planned.plan_tables import rows_of
from model.questions.traced_costs import TRACED_LINES
from reports.book.parts import Cell, Formula, Placed, SheetColumn
from reports.book.style import CellKind
from reports.plan.figures import product_costs
from reports.plan.pictures import stack_picture
from reports.plan.report import Report

NO_PRODUCT = "no product"
"""Name for the cost of plants that no order got."""


def traced_costs(report: Report) -> None:
    """Every cost of the plan traced to products: share times amount."""
    sheet = report.sheets["Traced costs"]
    sheet.open(
        "Traced costs",
        [
            "Every cost of the plan, traced from seed to delivery to the product that it was spent on, and "
            "to its purpose. Amount: the share times the cost on the sheet Cost details. Amounts follow the "
            "sheet Prices; shares stay those of this plan. Waste and margin: plants grown beyond those "
            "delivered. Overhead, and paid hours without work, are shared by slot-days.",
        ],
    )
    costs = {
        (line, detail): amount
        for line, detail, amount in rows_of(report.plan.costs, "line", "detail", "amount")
    }
    sums: dict[tuple[str, str, str, str], float] = defaultdict(float)
    product_of = dict(rows_of(report.plan.orders, "order", "product"))
    for order, line, source, detail, amount in rows_of(
        report.traced, "order", "line", "cost_line", "detail", "amount"
    ):
        sums[product_of.get(order, NO_PRODUCT), line, source, detail] += amount
    rank = {product: n for n, (product, *_) in enumerate(product_costs(report.plan, report.traced))}
    rows: list[list[Cell]] = []
    for product, line, source, detail in sorted(sums, key=partial(_rank, rank)):
        amount = sums[product, line, source, detail]
        share = amount / costs[source, detail]
        whole = report.cost_cells[source, detail]
        rows.append([product, line, source, detail, share, Formula(f"={{share}}*{whole}", amount)])
    columns = [
        report.column("orders", "product", widest=30),
        SheetColumn("line", "Spent for"),
        SheetColumn("source", "Of cost line"),
        report.column("costs", "detail", widest=26),
        SheetColumn("share", "Share", CellKind.SHARE),
        report.column("costs", "amount", total=True),
    ]
    report.tables["Traced costs"] = sheet.table(columns, rows)
    report.keep_spans("Traced costs", [f"{row[0]}\n{row[1]}" for row in rows])
    report.keep_spans("Traced costs", [str(row[0]) for row in rows])


def _rank(rank: dict[str, int], key: tuple[str, str, str, str]) -> tuple[int, int, str, str]:
    product, line, source, detail = key
    return rank.get(product, len(rank)), TRACED_LINES.index(line), source, detail


def products(report: Report) -> None:
    """Cost of every product, cost a plant, and the price at the profit margin."""
    sheet, money = report.sheets["Products"], report.currency
    sheet.open(
        "Products",
        [
            "Traced cost: what the plan spends on a product, its share of overhead and its shortfall "
            "penalties included. The sheet Cost by product splits it by purpose. Price at profit margin: "
            "cost a plant, divided by 1 less the profit margin on the sheet Prices. The margin is a share of "
            "the price. Mean price: over the plants delivered, if all orders of the product have a price. "
            "Products with the most plants come first.",
        ],
    )
    priced = _priced(report)
    orders, margin = report.tables["Orders"], report.prices["profit margin",]
    rows: list[list[Cell]] = []
    for product, plants, cost in product_costs(report.plan, report.traced):
        each = cost / plants if plants else None
        target = (
            None if each is None else Formula(f"={{each}}/(1-{margin})", each / (1 - report.profit_margin))
        )
        value = priced.get(product) if plants else None
        mean = None if value is None else Formula(_value_of(orders, plants), value / plants)
        left = None
        if each is not None and value:
            left = Formula("=1-{each}/{mean}", 1 - each * plants / value)
        made = None if each is None else Formula("={cost}/{plants}", each)
        rows.append([product, plants, _total_of(report, product, cost), made, target, mean, left])
    columns = [
        report.column("orders", "product", widest=40),
        SheetColumn("plants", "Plants delivered", CellKind.COUNT, total=True),
        SheetColumn("cost", f"Traced cost ({money})", CellKind.MONEY, total=True),
        SheetColumn("each", f"Cost ({money} a plant)", CellKind.EACH),
        SheetColumn("target", f"Price at profit margin ({money} a plant)", CellKind.EACH),
        SheetColumn("mean", f"Mean price ({money} a plant)", CellKind.EACH),
        SheetColumn("left", "Margin at mean price", CellKind.SHARE),
    ]
    shown = [n for n, column in enumerate(columns) if column.key not in ("mean", "left") or priced]
    report.tables["Products"] = sheet.table(
        [columns[n] for n in shown], [[row[n] for n in shown] for row in rows]
    )


def _priced(report: Report) -> dict[str, float]:
    """Value of the plants delivered of each product whose orders all have a price."""
    values: dict[str, float] = defaultdict(float)
    unpriced = set()
    for product, own, bought, price in rows_of(report.plan.orders, "product", "own", "bought", "price"):
        if price is None:
            unpriced.add(product)
        else:
            values[product] += (own + bought) * price
    return {product: value for product, value in values.items() if product not in unpriced}


def _value_of(orders: Placed, plants: float) -> str:
    """Mean price of this row's product. SUMIF would read a name with * or ? as a pattern."""
    return f"=SUMPRODUCT(({orders.span('product')}={{product}})*{orders.span('value')})/{{plants}}"


def _total_of(report: Report, product: str, cost: float) -> Cell:
    if ("Traced costs", product) not in report.spans:
        return 0.0
    return Formula(f"=SUM({report.span('Traced costs', 'amount', product)})", cost)


def cost_by_product(report: Report) -> None:
    """Cost of a plant of every product, by purpose."""
    sheet, money = report.sheets["Cost by product"], report.currency
    sheet.open(
        "Cost of a plant by product",
        [
            "Amounts of the sheet Traced costs, divided by the plants delivered. A product of which none is "
            "delivered is left out."
        ],
    )
    product_of = dict(rows_of(report.plan.orders, "order", "product"))
    sums: dict[tuple[str, str], float] = defaultdict(float)
    for order, line, amount in rows_of(report.traced, "order", "line", "amount"):
        if order is not None:
            sums[product_of[order], line] += amount
    lines = [line for line in TRACED_LINES if any(key[1] == line for key in sums)]
    keys = {line: f"line{n}" for n, line in enumerate(lines)}
    rows: list[list[Cell]] = []
    for product, plants, cost in product_costs(report.plan, report.traced):
        if plants > 0 and lines:
            each = [_each(report, product, line, sums[product, line] / plants) for line in lines]
            total = Formula(f"=SUM({{line0}}:{{line{len(lines) - 1}}})", cost / plants)
            rows.append([product, plants, *each, total])
    columns = [
        report.column("orders", "product", widest=34),
        SheetColumn("plants", "Plants", CellKind.COUNT),
        *(SheetColumn(keys[line], f"{line.capitalize()} ({money})", CellKind.EACH) for line in lines),
        SheetColumn("all", f"All ({money})", CellKind.EACH),
    ]
    placed = sheet.table(columns, rows)
    report.tables["Cost by product"] = placed
    report.traced_lines = lines
    if rows:
        sheet.chart(sheet.row, 0, stack_picture(report), (900, 420))


def _each(report: Report, product: str, line: str, value: float) -> Cell:
    name = f"{product}\n{line}"
    if ("Traced costs", name) not in report.spans:
        return 0.0
    return Formula(f"=SUM({report.span('Traced costs', 'amount', name)})/{{plants}}", value)
