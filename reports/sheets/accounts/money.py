"""Sheets of money: heat and light, cost details, costs by line, receipts, instalments, cash by week."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date

from model.planned.cash import (
    CUSTOMERS,
    DEPOSITS,
    INTO,
    OUT,
    SURPLUS,
    YEAR,
    Receipt,
    cash_of,
    days_in,
    net,
)
from model.planned.cash import instalments as instalments_of
from model.planned.cash import receipts as receipts_of
from model.planned.plan_tables import records, rows_of
from model.planned.results import PART_OF, ResultPart
from model.program.cost_terms import COST_LINES, yearly_cost
from model.scenario.calendar import mondays, week_of
from model.scenario.entities import Scenario
from model.scenario.records.overheads import Overhead, periods
from reports.book.parts import Cell, Formula, Placed, SheetColumn
from reports.book.style import CellKind
from reports.plan.figures import key_numbers, share_of
from reports.plan.pictures import cost_picture
from reports.plan.report import Report, spans_of

DATED = {
    "seed": "Seed",
    "supplies": "Supplies",
    "labour": "Pay",
    "guaranteed hours": "Pay",
    "piece rates": "Pay",
    "overtime": "Pay",
    "temporary hands": "Pay",
    "slots": "Heat and light",
    "bays": "Heat and light",
    "buy-in": "Buy-in",
    "freight": "Runs",
}
"""Cost lines with dates, and the sheet that lists their amounts by week."""


COUNTED = {
    "waves": "waves",
    "shortfall": "plants",
    "declined": "plants",
    "salvage": "plants",
    "modules": "modules, a year",
    "overhead": "plan",
}
"""Other cost lines that have prices, and what they count; any further line is an amount for the plan."""


def heat_and_light(report: Report) -> None:
    """Slot-days in use by zone and week, times their cost; bays open likewise, where zones have bays."""
    bays = not report.plan.bays.empty
    report.open(
        "Heat and light",
        "Heat and light by week",
        "Slot-days in use times the cost of a slot-day on the sheet Prices. One line for each zone, week "
        "and price." + (ABOUT_BAYS if bays else ""),
    )
    sums: dict[tuple[str, date, date], float] = defaultdict(float)
    costs: dict[tuple[str, date], float] = {}
    since: dict[str, date] = {}
    for zone, day, used, cost in rows_of(report.plan.slots, "zone", "day", "used", "cost_per_slot_day"):
        if zone not in since or costs[zone, since[zone]] != cost:
            since[zone] = day
            costs[zone, day] = cost
        sums[zone, week_of(day), since[zone]] += used
    rows: list[dict[str, Cell]] = []
    for (zone, week, start), used in sums.items():
        if used > 0:
            value = costs[zone, start]
            price = Formula("=" + report.prices["slots", zone, start.isoformat()], value)
            amount = Formula("={used}*{price}", used * value)
            row: dict[str, Cell] = {"zone": zone, "week": week, "used": used, "price": price}
            rows.append(row | {"bays": None, "cost_per_bay": None, "amount": amount})
    in_use = len(rows)
    rows += _bay_rows(report)
    columns = [
        report.column("slots", "zone", widest=30),
        SheetColumn("week", "Week from", CellKind.DAY),
        SheetColumn("used", "Slot-days", CellKind.DECIMAL, total=True),
        report.column("slots", "cost_per_slot_day", key="price"),
        *(report.columns("bays", "bays", "cost_per_bay") if bays else ()),
        report.column("slots", "amount", total=True),
    ]
    placed = report.table("Heat and light", columns, rows)
    zones = [str(row["zone"]) for row in rows]
    for line, before, of_line in (("slots", 0, zones[:in_use]), ("bays", in_use, zones[in_use:])):
        for zone, (first, end) in spans_of(of_line).items():
            report.amounts[line, zone] = f"SUM({placed.span('amount', before + first, before + end)})"


ABOUT_BAYS = " Below them the bays open in a week times the cost of a bay in that week, full or not."


def _bay_rows(report: Report) -> list[dict[str, Cell]]:
    """Bays open by zone and week, each at the price that counts since the last change."""
    rows: list[dict[str, Cell]] = []
    for at in records(report.plan.bays):
        zone, day, cost = at["zone"], at["week_day"], at["cost_per_bay"]
        row: dict[str, Cell] = {"zone": zone, "week": week_of(day), "used": None, "price": None}
        rows.append(
            row
            | {
                "bays": at["bays"],
                "cost_per_bay": Formula("=" + report.prices["bays", zone, day.isoformat()], cost),
                "amount": Formula("={bays}*{cost_per_bay}", at["amount"]),
            }
        )
    return rows


def cost_details(report: Report) -> None:
    """The plan's table of costs: every cost and what it is for."""
    about = "What each cost line pays for. Income is negative. All amounts follow the sheet Prices."
    report.open("Cost details", "Cost details", about)
    rows = records(report.plan.costs)
    rows.sort(key=lambda row: list(COST_LINES).index(row["line"]))
    for row in rows:
        row |= _cost(report, row["line"], row["detail"], row["amount"])
    columns = [
        report.column("costs", "line"),
        report.column("costs", "detail", widest=34),
        SheetColumn("quantity", "Quantity", CellKind.COUNT),
        SheetColumn("unit", "Unit"),
        SheetColumn("price", f"Price ({report.currency} a unit)", CellKind.PRICE),
        report.column("costs", "amount", total=True),
        SheetColumn("see", "Details on sheet"),
    ]
    placed = report.table("Cost details", columns, rows, "line")
    for n, row in enumerate(rows):
        report.cost_cells[row["line"], row["detail"]] = placed.cell("amount", n)


def _cost(report: Report, line: str, detail: str, amount: float) -> dict[str, Cell]:
    """Quantity, unit, price and amount of a cost, and the sheet that has its details."""
    if line in DATED:
        total = Formula("=" + report.amounts[line, detail], amount)
        return {"quantity": None, "unit": None, "price": None, "amount": total, "see": DATED[line]}
    if line == "modules":
        return _module(report, detail, amount)
    if (line, detail) in (rows := overhead_rows(report.scenario)):
        return _overhead(report, rows[line, detail], amount)
    key = (line,) if line in ("waves", "overhead") else (line, detail)
    price = _price(report, line, detail, amount)
    sign = "-" if line == "salvage" else ""
    return {
        "quantity": abs(amount / price) if price else _plants(report, line, detail),
        "unit": COUNTED.get(line, "plan"),
        "price": Formula("=" + report.prices[key], price),
        "amount": Formula(f"={sign}{{quantity}}*{{price}}", amount),
        "see": "Orders" if line in ("shortfall", "declined") else None,
    }


def _overhead(report: Report, row: Overhead, amount: float) -> dict[str, Cell]:
    """A row of the table overheads: its amount a period, times its periods in the plan."""
    nursery = report.scenario.nursery
    return {
        "quantity": periods(row, nursery.first_day, nursery.last_day),
        "unit": row.period.value,
        "price": Formula("=" + report.prices[row.kind.value, row.overhead], row.amount),
        "amount": Formula("={quantity}*{price}", amount),
        "see": None,
    }


def overhead_rows(scenario: Scenario) -> dict[tuple[str, str], Overhead]:
    """Rows of the table overheads by cost line and detail."""
    return {(row.kind.value, row.overhead): row for row in scenario.overheads}


def _price(report: Report, line: str, detail: str, amount: float) -> float:
    """Price of a unit of a cost line that has no sheet of its own."""
    if line == "waves":
        return report.scenario.nursery.wave_cost
    if COUNTED.get(line, "plan") == "plan":
        return amount
    table, name, column = {
        "shortfall": (report.plan.orders, "order", "penalty"),
        "declined": (report.plan.orders, "order", "price"),
        "salvage": (report.plan.salvage, "product", "price"),
    }[line]
    return float(next(price for key, price in rows_of(table, name, column) if key == detail))


def _plants(report: Report, line: str, order: str) -> float:
    """Plants short or declined of an order, for which no price tells them."""
    columns = "order", {"shortfall": "short", "declined": "declined"}[line]
    return float(next(plants for name, plants in rows_of(report.plan.orders, *columns) if name == order))


def _module(report: Report, name: str, amount: float) -> dict[str, Cell]:
    """The cost of a module that is added: its yearly cost by capital recovery."""
    module = next(module for module in report.scenario.modules if module.module == name)
    first, worth, i = (report.prices[key] for key in (("first cost", name), ("worth", name), ("interest",)))
    n = module.life_years
    factor = f"IF({i}=0,1/{n},{i}*(1+{i})^{n}/((1+{i})^{n}-1))"
    yearly = yearly_cost(report.scenario.nursery, module)
    return {
        "quantity": float(module.added),
        "unit": COUNTED["modules"],
        "price": Formula(f"=({first}-{worth})*{factor}+{worth}*{i}", yearly),
        "amount": Formula("={quantity}*{price}", amount),
        "see": None,
    }


def costs(report: Report) -> None:
    """Costs by line, with their share and the cost a plant."""
    money = report.currency
    apart = [line for line in report.cost_lines if PART_OF[line] is ResultPart.APART]
    sheet = report.open(
        "Costs",
        "Costs and penalties" if apart else "Costs",
        "The plan's cost by line. Income is negative. A plant: cost per plant delivered, own or bought in. "
        "The penalties for plants short and the price of plants declined are counted as costs, but nobody "
        "pays them: they are in no cost a plant.",
    )
    delivered = key_numbers(report.scenario, report.plan).delivered
    orders = report.tables["Orders"]
    plants = f"({orders.total('own')}+{orders.total('bought')})"
    details = report.tables["Cost details"]
    lines = report.cost_lines
    total = details.total("amount") if lines else "0"
    rows: list[dict[str, Cell]] = []
    for line, cost in lines.items():
        amount = Formula(f"=SUM({report.span('Cost details', 'amount', line)})", cost)
        share = Formula(f"=IF({total}=0,0,{{amount}}/{total})", share_of(cost, sum(lines.values())))
        plant = Formula(f"=IF({plants}=0,0,{{amount}}/{plants})", share_of(cost, delivered))
        paid = None if PART_OF[line] is ResultPart.APART else plant
        rows.append({"line": line, "amount": amount, "share": share, "plant": paid})
    columns = [
        SheetColumn("line", "Cost line", widest=30),
        SheetColumn("amount", f"Amount ({money})", CellKind.MONEY, total=True),
        SheetColumn("share", "Share of cost", CellKind.SHARE, total=True),
        SheetColumn("plant", f"A plant ({money})", CellKind.EACH, total=True),
    ]
    report.table("Costs", columns, rows)
    if lines:
        sheet.chart(sheet.row, 0, cost_picture(report), (580, 330))


def receipts(report: Report) -> None:
    """What customers pay for each order, and when."""
    report.open(
        "Receipts",
        "What customers pay",
        "Each order's deposit and balance, by the day on which its plants leave; an order whose plants "
        "leave on two days has two lines. Deposit: a share of the price of the plants ordered and not "
        "declined, paid so many days before the due day, but not before the order is placed. Balance: plants "
        "delivered at their price, less the discount for plants late and the deposit, paid so many days "
        "after the plants leave; below 0: given back. Change a share or days in the columns marked *: days, "
        "amounts and the sheet Cash follow.",
    )
    orders, money = report.tables["Orders"], report.currency
    rows = [_receipt(report, orders, receipt) for receipt in receipts_of(report.scenario, report.plan)]
    columns = [
        *report.columns("orders", "order", "customer"),
        SheetColumn("due_day", "Due day", CellKind.DAY),
        SheetColumn("leaves", "Plants leave", CellKind.DAY),
        report.column("orders", "own", key="plants", heading="Plants", total=True),
        SheetColumn("sales", f"Sales less late discount ({money})", CellKind.MONEY, total=True),
        SheetColumn("share", "Deposit, share", CellKind.SHARE, change=True),
        SheetColumn("deposit", f"Deposit ({money})", CellKind.MONEY, total=True),
        SheetColumn("before", "Deposit, days before due day", CellKind.COUNT, change=True),
        SheetColumn("deposit_day", "Deposit paid on", CellKind.DAY),
        SheetColumn("deposit_week", "In week from", CellKind.DAY),
        SheetColumn("balance", f"Balance ({money})", CellKind.MONEY, total=True),
        SheetColumn("terms", "Balance, days after leaving", CellKind.COUNT, change=True),
        SheetColumn("balance_day", "Balance paid on", CellKind.DAY),
        SheetColumn("balance_week", "Paid in week from", CellKind.DAY),
    ]
    report.table("Receipts", columns, rows)


def _receipt(report: Report, orders: Placed, receipt: Receipt) -> dict[str, Cell]:
    at = report.order_rows[receipt.order] - orders.first
    price, ordered = orders.cell("price", at), orders.cell("quantity", at)
    if "declined" in orders.at:
        ordered = f"({ordered}-{orders.cell('declined', at)})"
    late = ("late", receipt.order)
    discount = f"-{receipt.lateness!r}*{report.cost_cells[late]}" if late in report.cost_cells else ""
    deposit_day, balance_day = receipt.deposit_day, receipt.balance_day
    return {
        "order": receipt.order,
        "customer": receipt.customer,
        "due_day": receipt.due_day,
        "leaves": receipt.leave_day,
        "plants": receipt.plants,
        "sales": Formula(f"={{plants}}*{price}{discount}", receipt.sales),
        "share": receipt.terms.deposit_share,
        "deposit": Formula(f"={{share}}*{price}*{ordered}*{receipt.part!r}", receipt.deposit),
        "before": receipt.terms.deposit_days,
        "deposit_day": Formula(_deposit_day(receipt), deposit_day),
        "deposit_week": Formula("={deposit_day}-MOD({deposit_day}+5,7)", week_of(deposit_day)),
        "balance": Formula("={sales}-{deposit}", receipt.balance),
        "terms": receipt.terms.terms_days,
        "balance_day": Formula("={leaves}+{terms}", balance_day),
        "balance_week": Formula("={balance_day}-MOD({balance_day}+5,7)", week_of(balance_day)),
    }


def _deposit_day(receipt: Receipt) -> str:
    placed, asked = receipt.ordered_day, "{due_day}-{before}"
    return f"={asked}" if placed is None else f"=MAX({asked},DATE({placed.year},{placed.month},{placed.day}))"


def instalments(report: Report) -> None:
    """When overheads, zones chosen and surplus sold are paid."""
    report.open(
        "Instalments",
        "Instalments",
        "Costs that no other sheet dates. An overhead is paid on its own day, or at the end of each week or "
        "month by its days. Zones chosen: by the slots in use there, at the end of each week. Surplus is "
        "sold on the last day. Income is negative. Amount: the share times the cost on the sheet Cost "
        "details.",
    )
    costs = {(row["line"], row["detail"]): row["amount"] for row in records(report.plan.costs)}
    rank = list(COST_LINES).index
    found = sorted(instalments_of(report.scenario, report.plan), key=lambda row: (rank(row.line), row.day))
    rows: list[dict[str, Cell]] = [
        {
            "line": line,
            "detail": detail,
            "day": day,
            "week": week_of(day),
            "share": share,
            "amount": Formula(f"={{share}}*{report.cost_cells[line, detail]}", share * costs[line, detail]),
        }
        for line, detail, day, share in found
    ]
    columns = [
        *report.columns("costs", "line", "detail"),
        SheetColumn("day", "Paid on", CellKind.DAY),
        SheetColumn("week", "Paid in week from", CellKind.DAY),
        SheetColumn("share", "Share", CellKind.SHARE),
        report.column("costs", "amount", total=True),
    ]
    report.table("Instalments", columns, rows, "line")


def cash(report: Report) -> None:
    """Money in and out by week, the balance, and what the overdraft costs."""
    money, found = report.currency, cash_of(report.scenario, report.plan)
    sheet = report.open("Cash", "Cash by week", ABOUT_CASH)
    paid = [found.before, *(week.paid for week in found.weeks), found.after]
    kinds = {kind for of in paid for kind in of if _listed(report, kind)}
    into, out = ([kind for kind in order if kind in kinds] for order in (INTO, OUT))
    rows = [_paid(report, n, of, into, out) for n, of in enumerate(paid, -1)]
    start, rate = report.prices["opening balance",], report.prices["overdraft",]
    rows[0] |= {"week": "before", "balance": Formula(f"={start}", found.opening)}
    for row, week in zip(rows[1:-1], found.weeks, strict=True):
        days = days_in(report.scenario.nursery, week.week)
        overdraft = f"={rate}*{days}/{YEAR}*MAX(0,-({{above_balance}}+{{net}}))"
        row["overdraft"] = Formula(overdraft, week.overdraft)
        row["balance"] = Formula("={above_balance}+{net}-{overdraft}", week.balance)
    rows[-1]["week"] = "after"
    rows = [{"overdraft": None, "balance": None} | row for row in rows]
    columns = [
        SheetColumn("week", "Week from", CellKind.DAY),
        *(_money(kind, kind.capitalize(), money) for kind in into),
        _money("into", "In", money),
        *(_money(kind, kind.capitalize(), money) for kind in out),
        _money("out", "Out", money),
        _money("net", "In less out", money),
        _money("overdraft", "Overdraft costs", money),
        replace(_money("balance", "Balance at the end", money), total=False),
    ]
    report.tables["Cash"] = sheet.table(columns, rows)


ABOUT_CASH = (
    "What is paid in and out in each week. Deposits and customers: as the sheet Receipts says. Packs: the "
    "week of their last day to order, or later by the days that their supplier gives. Pay: the week of the "
    "work. Heat and light: the week of use. Buy-in: the week of delivery, or later likewise. Waves: the week "
    "of sowing. Overhead, interest, zones chosen and surplus sold: as the sheet Instalments says. Before and "
    "after: what is paid before the first week or after the last, the open items. Depreciation, penalties "
    "and prices declined are paid to nobody. The total of in less out, open items included, is the result "
    "without depreciation. What the overdraft costs is in no result: the yearly rate on the balance "
    "below 0 at the end of each week. Opening balance and rate stand on the sheet Prices."
)

CASH_SHEETS = {
    DEPOSITS: "Receipts",
    CUSTOMERS: "Receipts",
    "seed": "Seed",
    "supplies": "Supplies",
    "pay": "Pay",
    "heat and light": "Heat and light",
    "buy-in": "Buy-in",
    "freight": "Runs",
}
"""The sheet that lists the payments of a kind; waves are on Season, the others on Instalments."""

RECEIPT_COLUMNS = {DEPOSITS: ("deposit_week", "deposit"), CUSTOMERS: ("balance_week", "balance")}
"""Columns of the week and the amount of each kind of receipt."""


def _money(key: str, title: str, money: str) -> SheetColumn:
    return SheetColumn(key, f"{title} ({money})", CellKind.MONEY, total=True)


def _paid(report: Report, n: int, paid: dict[str, float], into: list[str], out: list[str]) -> dict[str, Cell]:
    """The payments of the n-th week, each a sum over the sheet that lists it; n = −1: before, and after."""
    weeks = mondays(report.scenario.nursery)
    row: dict[str, Cell] = {"week": weeks[n]} if 0 <= n < len(weeks) else {}
    for kind in (*into, *out):
        row[kind] = Formula(_in_week(report, kind, n, weeks), paid.get(kind, 0.0))
    for key, kinds in (("into", into), ("out", out)):
        total = "+".join(f"{{{kind}}}" for kind in kinds) or "0"
        row[key] = Formula(f"={total}", sum(paid.get(kind, 0.0) for kind in kinds))
    return row | {"net": Formula("={into}-{out}", net(paid))}


def _listed(report: Report, kind: str) -> bool:
    """Whether the sheet that lists the payments of a kind has rows: one without amounts may have none."""
    sheet = CASH_SHEETS.get(kind)
    return sheet is None or report.tables[sheet].count > 0


def _in_week(report: Report, kind: str, n: int, weeks: list[date]) -> str:
    """The formula of a kind's payments in the n-th week."""
    if kind == "waves":
        within = 0 <= n < len(weeks)
        return f"={report.tables['Season'].cell('waves', n)}*{report.prices['waves',]}" if within else "=0"
    sheet = CASH_SHEETS.get(kind, "Instalments")
    table, (week, amount) = report.tables[sheet], RECEIPT_COLUMNS.get(kind, ("week", "amount"))
    line = "salvage" if kind == SURPLUS else kind
    rows = report.spans[sheet, line] if sheet == "Instalments" else (0, table.count)
    found, amounts = table.span(week, *rows), table.span(amount, *rows)
    sign = "-" if kind == SURPLUS else ""
    if 0 <= n < len(weeks):
        return f"={sign}SUMIF({found},{{week}},{amounts})"
    than, day = ("<", weeks[0]) if n < 0 else (">", weeks[-1])
    return f"={sign}SUMPRODUCT(({found}{than}DATE({day.year},{day.month},{day.day}))*{amounts})"


def placed_total(placed: Placed, key: str) -> str:
    """Reference to a total; "0" for an empty table, which has none."""
    return placed.total(key) if placed.count else "0"
