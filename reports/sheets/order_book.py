"""Sheets of the order book: orders, and the deliveries that fill them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from operator import itemgetter
from typing import Any

from model.network.charges import charge_of, filling_plants, with_charges
from model.planned.plan_tables import records, rows_of
from model.scenario.choices import Decline
from model.scenario.entities import Order, Scenario
from model.scenario.lateness import days_late_most
from reports.book import style
from reports.book.parts import FREE, Formula, SheetColumn
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import AS_PLANNED
from reports.book.writing import grouped, shown_month
from reports.plan.figures import latest_ready
from reports.plan.report import Report, in_zones


def orders(report: Report) -> None:
    """Every order: how it is filled, what is short and why, and what one more plant costs."""
    money, counted = report.currency, ", penalties counted" if report.plan.penalties else ""
    report.open(
        "Orders",
        "Orders",
        "Plants from own growing, bought in and short, by due day. An order's name links to its "
        "deliveries. Spare days: from the ready day of the last plants to the packing day. Mark: why an "
        "order is at risk: short, late, no spare day, own plants without a graft margin, or no time to sow "
        "or graft again once a loss is counted. For the chance to fill each order, run graftwright risk. One "
        "more plant costs: the rise of the plan's cost "
        f"(marginal cost), while {AS_PLANNED}. The sheet What binds gives the range in which it holds. "
        "Made as: the ways in which plants are made, where a product has several; the sheet Ways says why."
        f"{SENT if sum(report.plan.orders['extra'].tolist()) else ''}"
        f"{FILLED if any(_filling(report.scenario).values()) else ''}",
        room=1 + len(_months(report)) // MONTHS_A_ROW,
    )
    columns = [
        SheetColumn("mark", "Mark", widest=24),
        *report.columns("orders", "order", "customer", "product", "due_day"),
        *report.columns("orders", "quantity", "extra", total=True),
        SheetColumn("filling", "Of them to fill the last tray", CellKind.COUNT, total=True),
        *report.columns("orders", "own", "bought", "short", "declined", "late", total=True),
        SheetColumn("days_late", "Days late, at most", CellKind.COUNT),
        report.column("orders", "margin"),
        report.column("flows", "ready_day"),
        SheetColumn("spare", "Spare days", CellKind.COUNT),
        report.column("orders", "price", change=True),
        SheetColumn("billed", f"Price ({money} a plant billed)", CellKind.PRICE),
        SheetColumn("spared", f"Early discount, in the price ({money})", CellKind.MONEY, total=True),
        SheetColumn("value", f"Value delivered ({money})", CellKind.MONEY, total=True),
        report.column("orders", "late_discount", total=True),
        report.column("orders", "penalty"),
        SheetColumn("marginal", f"One more plant costs{counted} ({money})", CellKind.EACH),
        SheetColumn("made", "Made as", widest=40),
        report.column("orders", "short_because", widest=40),
        SheetColumn("note", "Note"),
    ]
    rows = sorted(_order_rows(report), key=itemgetter("due_day", "order"))
    shown = [c for c in columns if c.key in ALWAYS or any(row[c.key] is not None for row in rows)]
    if len({row["penalty"] for row in rows}) == 1:
        shown = [c for c in shown if c.key != "penalty"]
    placed = report.table("Orders", shown, rows)
    report.order_rows = {str(row["order"]): placed.first + n for n, row in enumerate(rows)}
    _link_months(report)


SENT = (
    " Plants ordered are all that are sent, extra ones among them, which are not billed. The price is that "
    "of a plant sent; that of a plant billed stands beside it."
)


FILLED = " Plants that fill the last tray of an order are grown, sent and billed with those ordered."


def _filling(scenario: Scenario) -> dict[str, int]:
    """Plants that fill the last tray of each order."""
    return {order.order: filling_plants(order) for order in with_charges(scenario).orders}


def _months(report: Report) -> list[date]:
    """First days of the months in which orders are due."""
    return sorted({due.replace(day=1) for due in report.plan.orders["due_day"].tolist()})


def _link_months(report: Report) -> None:
    """Write links to the first order due in each month at the head of the sheet."""
    sheet, orders = report.sheets["Orders"], list(rows_of(report.plan.orders, "order", "due_day"))
    sheet.write(FREE, 0, "Due in", **style.CELL)
    for n, month in enumerate(_months(report), 1):
        first = min(report.order_rows[name] for name, due in orders if due.replace(day=1) == month)
        at = FREE + n // MONTHS_A_ROW, n % MONTHS_A_ROW
        sheet.link(*at, "Orders", shown_month(month), (first, 0), indent=1)


MONTHS_A_ROW = 10
"""Columns of links, "Due in" included; a table of orders has at least as many."""


ALWAYS = (
    *("order", "product", "due_day", "quantity", "own", "bought", "short", "margin"),
    *("ready_day", "spare"),
)


def _charge(row: dict[str, Any], price: float | None, spared: float | None) -> None:
    """What a row tells of extra plants and of an early order; blank where an order has none."""
    extra, sent = row["extra"] or None, row["quantity"]
    row["extra"], row["spared"] = extra, spared
    of = None if price is None or extra is None else price * sent / (sent - extra)
    row["billed"] = None if of is None else Formula("={price}*{quantity}/({quantity}-{extra})", of)


def _spared(scenario: Scenario) -> dict[str, float]:
    """What orders that the list charges are spared since they were placed early, in currency."""
    charges = {order.order: charge_of(scenario, order) for order in scenario.orders}
    return {name: charge.lowered for name, charge in charges.items() if charge and charge.lowered}


def _order_rows(report: Report) -> list[dict[str, Any]]:
    ready = latest_ready(report.plan)
    risks = {risk.order: risk.why for risk in report.at_risk}
    inputs = {order.order: order for order in report.scenario.orders}
    nursery = report.scenario.nursery
    days_late: dict[str, int] = defaultdict(int)
    for name, days in rows_of(report.plan.deliveries, "order", "days_late"):
        days_late[name] = max(days_late[name], days)
    prices = report.plan.shadow_prices
    marginal = {
        name: value for limit, name, value in rows_of(prices, "limit", "name", "value") if limit == "order"
    }
    spared, filling, retell = _spared(report.scenario), _filling(report.scenario), retelling(report.scenario)
    rows, made = records(report.plan.orders), _made_as(report)
    for row in rows:
        name, price, declined = row["order"], row["price"], row["declined"]
        order, last, delivered = inputs[name], ready.get(name), row["own"] + row["bought"]
        row["mark"] = "; ".join(_marks(order, declined, risks.get(name, ()))) or None
        row["declined"] = declined if order.decline is not Decline.NO else None
        if not days_late_most(order, nursery):
            row["late"] = row["late_discount"] = None
        row["filling"] = filling[name] or None
        row["days_late"] = None if row["late"] is None else days_late[name]
        row["ready_day"], row["spare"] = (None, None) if last is None else (last[0], (last[1] - last[0]).days)
        _charge(row, price, spared.get(name))
        row["value"] = None if price is None else Formula("=({own}+{bought})*{price}", delivered * price)
        row["short_because"] = retell(row["short_because"] or "") or None
        row["marginal"], row["note"] = marginal.get(name), order.note
        row["made"] = "; ".join(made.get(name, ())) or None
    return rows


def _made_as(report: Report) -> dict[str, list[str]]:
    """In words, how many own plants of an order are made in which way, where there are several."""
    several = set(report.plan.ways["way"])
    plants: dict[tuple[str, str], float] = defaultdict(float)
    columns = ("order", "product", "source", "plants")
    for order, product, source, number in rows_of(report.plan.deliveries, *columns):
        if source == "own" and product in several:
            plants[order, product] += number
    found: dict[str, list[str]] = defaultdict(list)
    for (order, product), number in plants.items():
        found[order].append(f"{grouped(number)} {product}")
    return found


def _marks(order: Order, declined: float, risks: tuple[str, ...]) -> Iterator[str]:
    if order.held:
        yield "HELD"
    if declined > 0:
        yield "DECLINED"
    yield from risks


def deliveries(report: Report) -> None:
    """Where the plants of every order come from."""
    sheet = report.open(
        "Deliveries",
        "Deliveries",
        "The graft day or buy-in offer that the plants of each order come from. Held as margin: plants "
        "kept as overseeding margin until the order is packed. An order's name links back to the order.",
        cautions=["lifting", "planting"],
    )
    customers = {order.order: order.customer for order in report.scenario.orders}
    rows = sorted(records(report.plan.deliveries), key=itemgetter("pack_day", "order", "ready_day"))
    for row in rows:
        row["customer"] = customers[row["order"]]
    columns = [
        *report.columns("deliveries", "pack_day", "order"),
        report.column("orders", "customer"),
        *report.columns("deliveries", "product", "source", "graft_day"),
        *in_zones(report, "deliveries"),
        *report.columns("deliveries", "offer", "ready_day", "due_day"),
        *(report.columns("deliveries", "days_late") if any(row["days_late"] for row in rows) else ()),
        *report.columns("deliveries", "plants", "margin_plants", total=True),
    ]
    placed = sheet.table(columns, rows)
    orders, column = report.tables["Orders"], placed.at["order"]
    first: dict[str, int] = {}
    for n, row in enumerate(rows):
        first.setdefault(row["order"], placed.first + n)
    for order, at in first.items():
        there, here = (report.order_rows[order], orders.at["order"]), (at, column)
        sheet.link(*here, "Orders", order, there, indent=1)
        report.sheets["Orders"].link(*there, "Deliveries", order, here, indent=min(there[1], 1))
