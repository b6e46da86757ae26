"""The sheet of what is asked for and not booked: plants held, orders that may be cancelled, the result."""

from __future__ import annotations

from model.inquiries.expected import Expected, Held, expected_of, share_kept
from model.planned.plan_tables import rows_of
from reports.book.parts import Cell, Formula, Placed, SheetColumn
from reports.book.style import CellKind
from reports.plan.report import Report
from reports.sheets.accounts.result_sheets import RESULT


def held(report: Report) -> None:
    """Plants held for inquiries, orders that may be cancelled, and the result expected with both."""
    found, money = expected_of(report.scenario, report.plan), report.currency
    sheet = report.open(
        "Held",
        "Asked, not booked",
        "Plants held for inquiries, by product and due day: how likely they are sold, and what they are "
        "expected to sell for, with surplus at its salvage price. Then the orders that may be cancelled, "
        "and the result expected.",
        "As booked: every order is paid, and plants held are grown and not sold. What is expected is in no "
        "other sheet. Change the cells in the columns marked *: the amounts follow.",
    )
    plants = sheet.table(_held_columns(money), [_held_row(row) for row in found.held])
    lost = sheet.table(_lost_columns(money), _lost_rows(report, found)) if found.lost else None
    columns = [
        SheetColumn("what", "What", widest=44),
        SheetColumn("amount", f"Amount ({money})", CellKind.MONEY),
    ]
    sheet.table(columns, _statement(report, found, plants, lost))


def _held_columns(money: str) -> list[SheetColumn]:
    return [
        SheetColumn("product", "Product"),
        SheetColumn("due", "Due day", CellKind.DAY),
        SheetColumn("most", "Asked for, at most", CellKind.COUNT),
        SheetColumn("mean", "Asked for, expected", CellKind.COUNT),
        SheetColumn("plants", "Plants held", CellKind.COUNT, total=True),
        SheetColumn("orders", "As orders"),
        SheetColumn("all", "Chance that all are sold", CellKind.SHARE),
        SheetColumn("sold", "Expected to be sold", CellKind.COUNT, total=True),
        SheetColumn("sales", f"Expected to sell for ({money})", CellKind.MONEY, total=True),
        SheetColumn("resold", f"Plants of orders cancelled sell for ({money})", CellKind.MONEY, total=True),
    ]


def _held_row(row: Held) -> dict[str, Cell]:
    return {
        "product": row.demand.product,
        "due": row.demand.due_day,
        "most": row.demand.most,
        "mean": row.demand.asked.mean(),
        "plants": row.plants,
        "orders": ", ".join(row.orders) or None,
        "all": row.demand.all_sold(row.plants) if row.plants else None,
        "sold": row.demand.sold(row.plants),
        "sales": row.sales,
        "resold": row.demand.resold,
    }


def _lost_columns(money: str) -> list[SheetColumn]:
    return [
        SheetColumn("order", "Order"),
        SheetColumn("customer", "Customer"),
        SheetColumn("sale", f"Price of the plants delivered ({money})", CellKind.MONEY),
        SheetColumn("chance", "Chance of being cancelled", CellKind.SHARE, change=True),
        SheetColumn("kept", "Share kept", CellKind.SHARE, change=True),
        SheetColumn("lost", f"Expected loss ({money})", CellKind.MONEY, total=True),
    ]


def _lost_rows(report: Report, found: Expected) -> list[dict[str, Cell]]:
    """The orders that may be cancelled; their sales follow the sheet Orders."""
    placed, rows = report.tables["Orders"], []
    prices = {
        name: (price or 0.0) * (own + bought)
        for name, price, own, bought in rows_of(report.plan.orders, "order", "price", "own", "bought")
    }
    for order in report.scenario.orders:
        if order.order in found.lost:
            sale, at = prices[order.order], report.order_rows[order.order] - placed.first
            row: dict[str, Cell] = {
                "order": order.order,
                "customer": order.customer,
                "sale": Formula(f"={placed.cell('value', at)}", sale) if "value" in placed.at else sale,
                "chance": order.cancel_chance,
                "kept": share_kept(report.scenario, order),
                "lost": Formula("={chance}*(1-{kept})*{sale}", found.lost[order.order]),
            }
            rows.append(row)
    return rows


def _statement(report: Report, found: Expected, plants: Placed, lost: Placed | None) -> list[dict[str, Cell]]:
    """From the result as booked to the result expected, line by line."""
    at, value = report.spans.get(("Result", RESULT)), found.booked.result
    booked = report.tables["Result"].cell("amount", at[0]) if at else repr(value)
    lines = [("Result as booked", booked, value)]
    if lost is not None:
        lines.append(("lost by orders cancelled", f"-{lost.total('lost')}", -found.cancelled))
    lines.append(("plants of orders cancelled, sold", plants.total("resold"), found.resold))
    lines.append(("plants held, sold", plants.total("sales"), found.sales))
    lines.append(("Result expected", "+".join(f"({of})" for _, of, _ in lines), found.result))
    return [{"what": what, "amount": Formula(f"={of}", value)} for what, of, value in lines]
