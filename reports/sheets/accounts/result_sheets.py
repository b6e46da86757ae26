"""Sheets of the result: the statement, and the result of every order, customer and product."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import partial

from model.planned.plan_tables import records, rows_of
from model.planned.results import NOT_CASH, PART_OF, Result, ResultPart, result_of, results_by_order, summed
from model.program.cost_terms import COST_LINES
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.book.words import overhead_rule
from reports.book.writing import grouped
from reports.plan.figures import share_of
from reports.plan.report import Report

NO_ORDER = "no order"
"""Name for costs that no order caused."""

SALES, CASH = "Sales", "Cash cost"
BEFORE, RESULT = "Result before overhead and interest", "Result"
IN_CASH = "Result without depreciation"

SAID = (
    "Sales: plants delivered at their prices. Cash cost: what seed, supplies, work, heat and light, "
    "buying in and sowing cost, less surplus sold. Depreciation is not paid in the season: the yearly cost "
    "of modules spreads their first cost, with interest. Seed and supplies on hand are free: they were paid "
    "before. Penalties for plants short and prices of plants declined are paid to nobody: they stand apart, "
    "in no result."
)


def result(report: Report) -> None:
    """The statement: sales less costs line by line, before and after overhead and interest."""
    money, found = report.currency, result_of(report.plan)
    unpriced = f" {grouped(found.unpriced)} plants delivered have no price: they add no sales."
    report.open(
        "Result",
        "Result of the season",
        SAID + (unpriced if found.unpriced else ""),
        "All amounts follow the prices on the sheets Orders and Prices.",
    )
    orders = report.tables["Orders"]
    plants = f"({orders.total('own')}+{orders.total('bought')})"
    rows: list[dict[str, Cell]] = []
    for words, formula, value, cash in _statement(report, found):
        if words in (SALES, CASH, BEFORE, RESULT):
            report.spans["Result", words] = len(rows), len(rows) + 1
        plant = Formula(f"=IF({plants}=0,0,{{amount}}/{plants})", share_of(value, found.delivered))
        sales = orders.total("value")
        share = Formula(f"=IF({sales}=0,0,{{amount}}/{sales})", share_of(value, found.sales))
        row: dict[str, Cell] = {"what": words, "amount": Formula(f"={formula}", value), "cash": cash}
        apart = words.startswith("apart")
        rows.append(row | {"plant": None if apart else plant, "share": None if apart else share})
    columns = [
        SheetColumn("what", "What", widest=44),
        SheetColumn("amount", f"Amount ({money})", CellKind.MONEY),
        SheetColumn("plant", f"A plant delivered ({money})", CellKind.EACH),
        SheetColumn("share", "Share of sales", CellKind.SHARE),
        SheetColumn("cash", "Paid in the season"),
    ]
    report.table("Result", columns, rows)


def _statement(report: Report, found: Result) -> Iterator[tuple[str, str, float, str | None]]:
    """Lines of the statement: words, formula, value, and whether the amount is paid in the season."""
    lines, costs = report.cost_lines, report.tables["Costs"]
    at = {line: costs.cell("amount", n) for n, line in enumerate(lines)}

    def of(part: ResultPart) -> list[str]:
        return [line for line in lines if PART_OF[line] is part]

    def total(*parts: ResultPart) -> str:
        return "".join(f"-{at[line]}" for part in parts for line in of(part))

    sales = report.tables["Orders"].total("value")
    yield SALES, sales, found.sales, None
    for line in of(ResultPart.CASH):
        yield f"less {NAMED.get(line, line)}", at[line], lines[line], "yes"
    yield CASH, f"0{total(ResultPart.CASH).replace('-', '+')}", found.cash, "yes"
    before = f"{sales}{total(ResultPart.CASH)}"
    yield BEFORE, before, found.before, None
    for part in (ResultPart.OVERHEAD, ResultPart.CAPITAL):
        for line in of(part):
            yield f"less {line}", at[line], lines[line], "no" if line in NOT_CASH else "yes"
    after = f"{before}{total(ResultPart.OVERHEAD, ResultPart.CAPITAL)}"
    yield RESULT, after, found.result, None
    unpaid = [line for line in lines if line in NOT_CASH]
    if unpaid:
        back = "".join(f"+{at[line]}" for line in unpaid)
        yield IN_CASH, f"{after}{back}", found.result + found.not_cash, None
    for line in of(ResultPart.APART):
        yield f"apart: {APART[line]}", at[line], lines[line], "never"


NAMED = {"late": "discounts for plants late"}
"""Cost lines whose name alone would not say what they are."""

APART = {"shortfall": "penalties for plants short", "declined": "prices of plants declined"}
"""What the cost lines that are in no result are called."""

SPENT = (ResultPart.CASH, ResultPart.OVERHEAD, ResultPart.CAPITAL, ResultPart.APART)


def order_costs(report: Report) -> None:
    """Every cost of the plan, by the order that it was spent on."""
    report.open(
        "Order costs",
        "Costs by order",
        "Every cost of the plan, traced to the order that it was spent on. Amount: the share times the "
        "cost on the sheet Cost details. Amounts follow the sheet Prices; shares stay those of this plan. "
        f"{overhead_rule(report.scenario)}",
    )
    costs = {(row["line"], row["detail"]): row["amount"] for row in records(report.plan.costs)}
    sums: dict[tuple[str, str, str], float] = defaultdict(float)
    for order, line, detail, amount in rows_of(report.traced, "order", "cost_line", "detail", "amount"):
        sums[order or NO_ORDER, line, detail] += amount
    rank = {order: n for n, order in enumerate([*_order_of_rows(report), NO_ORDER])}
    rows: list[dict[str, Cell]] = []
    for order, line, detail in sorted(sums, key=partial(_rank, rank)):
        value = sums[order, line, detail]
        rows.append(
            {
                "order": order,
                "part": PART_OF[line].value,
                "line": line,
                "detail": detail,
                "share": value / costs[line, detail],
                "amount": Formula(f"={{share}}*{report.cost_cells[line, detail]}", value),
            }
        )
    columns = [
        report.column("orders", "order", widest=30),
        SheetColumn("part", "In the result as", widest=26),
        SheetColumn("line", "Cost line"),
        report.column("costs", "detail", widest=26),
        SheetColumn("share", "Share", CellKind.SHARE),
        report.column("costs", "amount", total=True),
    ]
    report.table("Order costs", columns, rows)
    report.keep_spans("Order costs", [f"{row['order']}\n{row['part']}" for row in rows])


def _rank(rank: dict[str, int], key: tuple[str, str, str]) -> tuple[int, int, int, str]:
    order, line, detail = key
    return rank[order], SPENT.index(PART_OF[line]), list(COST_LINES).index(line), detail


def _order_of_rows(report: Report) -> list[str]:
    """Orders by customer and due day."""
    columns = ("customer", "due_day", "order")
    return [order for *_, order in sorted(rows_of(report.plan.orders, *columns))]


def result_by_order(report: Report) -> None:
    """Sales, costs and result of every order, customer by customer."""
    report.open(
        "Result by order",
        "Result by order",
        f"{SAID} Costs are traced: each is what the plan spends on the order, as the sheet Order costs lists "
        "it. What an order adds to the whole plan comes from graftwright costs.",
    )
    found = results_by_order(report.plan, report.traced)
    orders = report.tables["Orders"]
    of = {row["order"]: row for row in records(report.plan.orders)}
    rows: list[dict[str, Cell]] = []
    for order in _order_of_rows(report):
        at = report.order_rows[order] - orders.first
        row = of[order]
        plants = Formula(f"={orders.cell('own', at)}+{orders.cell('bought', at)}", found[order].delivered)
        value = Formula(f"={orders.cell('value', at)}", found[order].sales)
        sales = 0.0 if row["price"] is None else value
        named = {"customer": row["customer"], "order": order, "product": row["product"]}
        rows.append({**named, **_cells(report, order, found[order], plants, sales)})
    spare = {"customer": None, "order": NO_ORDER, "product": None}
    rows.append({**spare, **_cells(report, NO_ORDER, found[None], 0.0, 0.0)})
    named_columns = [report.column("orders", name) for name in ("customer", "order", "product")]
    report.table("Result by order", [*named_columns, *_columns(report)], rows)
    report.keep_spans("Result by order", [str(row["customer"]) for row in rows[:-1]])


def _cells(report: Report, order: str, found: Result, plants: Cell, sales: Cell) -> dict[str, Cell]:
    """The figures of an order: costs are sums over its rows on the sheet Order costs."""
    values = (found.cash, found.overhead, found.capital, found.apart)
    costs: dict[str, Cell] = {}
    for part, value in zip(SPENT, values, strict=True):
        name = f"{order}\n{part.value}"
        there = ("Order costs", name) in report.spans
        span = report.span("Order costs", "amount", name) if there else ""
        costs[part.name] = Formula(f"=SUM({span})", value) if there else 0.0
    return {"plants": plants, "sales": sales, **costs, **_worked_out(found)}


def _worked_out(found: Result) -> dict[str, Cell]:
    """The result before and after overhead, from the cells beside it."""
    return {
        "before": Formula("={sales}-{CASH}", found.before),
        "result": Formula("={before}-{OVERHEAD}-{CAPITAL}", found.result),
        "each": Formula("=IF({plants}=0,0,{result}/{plants})", found.per_plant or 0.0),
    }


def _columns(report: Report) -> list[SheetColumn]:
    money = report.currency

    def of(key: str, title: str) -> SheetColumn:
        return SheetColumn(key, f"{title} ({money})", CellKind.MONEY, total=True)

    return [
        SheetColumn("plants", "Plants delivered", CellKind.COUNT, total=True),
        of("sales", SALES),
        of("CASH", CASH),
        of("before", BEFORE),
        of("OVERHEAD", "Overhead"),
        of("CAPITAL", "Interest and depreciation"),
        of("result", RESULT),
        SheetColumn("each", f"Result a plant ({money})", CellKind.EACH),
        of("APART", "Apart: penalties, prices declined"),
    ]


ADDED = ("plants", "sales", "CASH", "OVERHEAD", "CAPITAL", "APART")
"""Columns that a customer's or product's row adds up over its orders."""


def result_by_customer(report: Report) -> None:
    """Sales, costs and result of every customer."""
    _by_group(report, "Result by customer", "customer")


def result_by_product(report: Report) -> None:
    """Sales, costs and result of every product."""
    _by_group(report, "Result by product", "product")


def _by_group(report: Report, name: str, column: str) -> None:
    """The rows of the sheet Result by order added up, the greatest result first."""
    report.open(name, name, f"{SAID} Sums of the sheet Result by order.")
    by_order = report.tables["Result by order"]
    found = summed(
        results_by_order(report.plan, report.traced), dict(rows_of(report.plan.orders, "order", column))
    )
    rows: list[dict[str, Cell]] = []
    for group in sorted(found, key=lambda g: (g is None, -found[g].result, g or "")):
        of = found[group]
        values = (of.delivered, of.sales, of.cash, of.overhead, of.capital, of.apart)
        row: dict[str, Cell] = {"group": group or NO_ORDER, **_worked_out(of)}
        for key, value in zip(ADDED, values, strict=True):
            if group is None:
                formula = "=" + by_order.cell(key, by_order.count - 1)
            elif column == "customer":
                formula = f"=SUM({report.span('Result by order', key, group)})"
            else:
                within = f"EXACT({by_order.span(column)},{{group}})*{by_order.span(key)}"
                formula = f"=SUMPRODUCT({within})"
            row[key] = Formula(formula, value)
        rows.append(row)
    heading = report.column("orders", column, key="group", widest=40)
    report.table(name, [heading, *_columns(report)], rows)
