"""Sheets of what each product costs: cost and price a plant, by purpose, and the traced costs."""

from __future__ import annotations

from collections import defaultdict
from functools import partial

from model.planned.plan_tables import records, rows_of
from model.questions.traced_costs import PENALTIES, TRACED_LINES
from reports.book.parts import Cell, Formula, Placed, SheetColumn
from reports.book.style import CellKind
from reports.book.words import overhead_rule
from reports.plan.figures import product_costs
from reports.plan.pictures import stack_picture
from reports.plan.report import Report

NO_PRODUCT = "no product"
"""Name for the cost of plants that no order got."""


def traced_costs(report: Report) -> None:
    """Every cost of the plan traced to products: share times amount."""
    report.open(
        "Traced costs",
        "Traced costs",
        "Every cost of the plan, traced from seed to delivery to the product that it was spent on, and "
        "to its purpose. Amount: the share times the cost on the sheet Cost details. Amounts follow the "
        "sheet Prices; shares stay those of this plan. Waste and margin: plants grown beyond those "
        f"delivered. {overhead_rule(report.scenario)}",
    )
    costs = {(row["line"], row["detail"]): row["amount"] for row in records(report.plan.costs)}
    sums: dict[tuple[str, str, str, str], float] = defaultdict(float)
    product_of = dict(rows_of(report.plan.orders, "order", "product"))
    for row in records(report.traced):
        product = product_of.get(row["order"], NO_PRODUCT)
        sums[product, row["line"], row["cost_line"], row["detail"]] += row["amount"]
    rank = {product: n for n, (product, *_) in enumerate(product_costs(report.plan, report.traced))}
    rows: list[dict[str, Cell]] = []
    for key in sorted(sums, key=partial(_rank, rank)):
        product, line, source, detail = key
        amount = Formula(f"={{share}}*{report.cost_cells[source, detail]}", sums[key])
        of = {"product": product, "line": line, "source": source, "detail": detail}
        rows.append({**of, "share": sums[key] / costs[source, detail], "amount": amount})
    columns = [
        report.column("orders", "product", widest=30),
        SheetColumn("line", "Spent for"),
        SheetColumn("source", "Of cost line"),
        report.column("costs", "detail", widest=26),
        SheetColumn("share", "Share", CellKind.SHARE),
        report.column("costs", "amount", total=True),
    ]
    report.table("Traced costs", columns, rows, "product")
    report.keep_spans("Traced costs", [f"{row['product']}\n{row['line']}" for row in rows])


def _rank(rank: dict[str, int], key: tuple[str, str, str, str]) -> tuple[int, int, str, str]:
    product, line, source, detail = key
    return rank.get(product, len(rank)), TRACED_LINES.index(line), source, detail


def products(report: Report) -> None:
    """Cost of every product without penalties, cost a plant, and the price at the profit margin."""
    money = report.currency
    report.open(
        "Products",
        "Products",
        "Traced cost: what the plan spends on a product, with its share of overhead and without penalties. "
        "The sheet Cost by product splits it by purpose. Price from traced cost: cost a plant, divided by "
        "1 less the profit margin on the sheet Prices. The margin is a share of the price. It carries the "
        "mean cost of all plants of the product; the price of one order, by what that order adds, comes "
        "from graftwright costs and quote. Mean price: over the plants delivered, if all orders of the "
        "product have a price. Products with the most plants come first.",
    )
    priced = _priced(report)
    orders, margin = report.tables["Orders"], report.prices["profit margin",]
    rows: list[dict[str, Cell]] = []
    for product, plants, cost in product_costs(report.plan, report.traced):
        row = dict.fromkeys(("each", "target", "mean", "left"))
        row |= {"product": product, "plants": plants, "cost": _total_of(report, product, cost)}
        if plants:
            each, value = cost / plants, priced.get(product)
            row["each"] = Formula("={cost}/{plants}", each)
            row["target"] = Formula(f"={{each}}/(1-{margin})", each / (1 - report.profit_margin))
            if value is not None:
                row["mean"] = Formula(_value_of(orders), value / plants)
            if value:
                row["left"] = Formula("=1-{each}/{mean}", 1 - each * plants / value)
        rows.append(row)
    columns = [
        report.column("orders", "product", widest=40),
        SheetColumn("plants", "Plants delivered", CellKind.COUNT, total=True),
        SheetColumn("cost", f"Traced cost ({money})", CellKind.MONEY, total=True),
        SheetColumn("each", f"Cost ({money} a plant)", CellKind.EACH),
        SheetColumn("target", f"Price from traced cost ({money} a plant)", CellKind.EACH),
        SheetColumn("mean", f"Mean price ({money} a plant)", CellKind.EACH),
        SheetColumn("left", "Margin at mean price", CellKind.SHARE),
    ]
    shown = [column for column in columns if column.key not in ("mean", "left") or priced]
    report.table("Products", shown, rows)


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


def _value_of(orders: Placed) -> str:
    """Mean price of this row's product. SUMIF would read a name with * or ? as a pattern."""
    return f"=SUMPRODUCT(({orders.span('product')}={{product}})*{orders.span('value')})/{{plants}}"


def _total_of(report: Report, product: str, cost: float) -> Cell:
    if ("Traced costs", product) not in report.spans:
        return 0.0
    penalties = [f"{product}\n{line}" for line in PENALTIES]
    less = "".join(
        f"-SUM({report.span('Traced costs', 'amount', name)})"
        for name in penalties
        if ("Traced costs", name) in report.spans
    )
    return Formula(f"=SUM({report.span('Traced costs', 'amount', product)}){less}", cost)


def cost_by_product(report: Report) -> None:
    """Cost of a plant of every product, by purpose."""
    money = report.currency
    sheet = report.open(
        "Cost by product",
        "Cost of a plant by product",
        "Amounts of the sheet Traced costs, without penalties, divided by the plants delivered. A product "
        "of which none is delivered is left out.",
    )
    product_of = dict(rows_of(report.plan.orders, "order", "product"))
    sums: dict[tuple[str, str], float] = defaultdict(float)
    for order, line, amount in rows_of(report.traced, "order", "line", "amount"):
        if order is not None and line not in PENALTIES:
            sums[product_of[order], line] += amount
    lines = [line for line in TRACED_LINES if any(key[1] == line for key in sums)]
    keys = {line: f"line{n}" for n, line in enumerate(lines)}
    rows: list[dict[str, Cell]] = []
    for product, plants, cost in product_costs(report.plan, report.traced):
        if plants > 0 and lines:
            row: dict[str, Cell] = {"product": product, "plants": plants}
            for line in lines:
                row[keys[line]] = _each(report, product, line, sums[product, line] / plants)
            row["all"] = Formula(f"=SUM({{line0}}:{{line{len(lines) - 1}}})", cost / plants)
            rows.append(row)
    columns = [
        report.column("orders", "product", widest=34),
        SheetColumn("plants", "Plants", CellKind.COUNT),
        *(SheetColumn(keys[line], f"{line.capitalize()} ({money})", CellKind.EACH) for line in lines),
        SheetColumn("all", f"All ({money})", CellKind.EACH),
    ]
    report.table("Cost by product", columns, rows)
    report.traced_lines = lines
    if rows:
        sheet.chart(sheet.row, 0, stack_picture(report), (900, 420))


def _each(report: Report, product: str, line: str, value: float) -> Cell:
    name = f"{product}\n{line}"
    if ("Traced costs", name) not in report.spans:
        return 0.0
    return Formula(f"=SUM({report.span('Traced costs', 'amount', name)})/{{plants}}", value)
