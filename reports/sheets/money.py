"""Sheets of money: heat and light by week, cost details, costs by line, cash by week."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from model.planned.plan_tables import records, rows_of
from model.planned.results import PART_OF, ResultPart, is_cash
from model.program.cost_terms import COST_LINES, yearly_cost
from model.scenario.entities import Scenario
from model.scenario.overheads import Overhead, periods
from reports.book.parts import Cell, Formula, Placed, SheetColumn
from reports.book.style import CellKind
from reports.plan.figures import key_numbers, share_of, week_of, weeks
from reports.plan.pictures import cost_picture
from reports.plan.report import Report, spans_of

DATED = {
    "seed": "Seed",
    "supplies": "Supplies",
    "labour": "Pay",
    "guaranteed hours": "Pay",
    "overtime": "Pay",
    "temporary hands": "Pay",
    "slots": "Heat and light",
    "buy-in": "Buy-in",
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
    """Slot-days in use by zone and week, times their cost."""
    report.open(
        "Heat and light",
        "Heat and light by week",
        "Slot-days in use times the cost of a slot-day on the sheet Prices. One line for each zone, week "
        "and price.",
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
            rows.append({"zone": zone, "week": week, "used": used, "price": price, "amount": amount})
            report.paid["slots", week] += used * value
    columns = [
        report.column("slots", "zone", widest=30),
        SheetColumn("week", "Week from", CellKind.DAY),
        SheetColumn("used", "Slot-days", CellKind.DECIMAL, total=True),
        report.column("slots", "cost_per_slot_day", key="price"),
        report.column("slots", "amount", total=True),
    ]
    placed = report.table("Heat and light", columns, rows)
    for zone, span in spans_of([str(row["zone"]) for row in rows]).items():
        report.amounts["slots", zone] = f"SUM({placed.span('amount', *span)})"


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
        "quantity": abs(amount / price),
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


def cash(report: Report) -> None:
    """Money out by week."""
    money = report.currency
    sheet = report.open(
        "Cash",
        "Cash out by week",
        "The week in which each cost is paid. Packs: the week of their last day to order. Pay: the week "
        "of the work. Heat and light: the week of use. Buy-in: the week of delivery. Fixed cost of a "
        "wave: the week of sowing. Overhead and surplus sold have no date. Depreciation, penalties for "
        "plants short and prices of plants declined are paid to nobody: they are left out.",
    )
    lines = {line: cost for line, cost in report.cost_lines.items() if is_cash(line)}
    undated = [line for line in lines if line not in DATED and line != "waves"]
    dated = [line for line in lines if line not in undated]
    total = f"=SUM({{{'line0' if dated else 'other'}}}:{{other}})"
    rows: list[list[Cell]] = []
    for n, week in enumerate(weeks(report.scenario)):
        amounts: list[Cell] = [_in_week(report, line, n, week) for line in dated]
        paid = sum(report.paid[line, week] for line in dated)
        rows.append([week, *amounts, None, Formula(total, paid)])
    other = sum(lines[line] for line in undated)
    refs = [f"SUM({report.span('Cost details', 'amount', line)})" for line in undated]
    rest: Cell = Formula("=" + "+".join(refs), other) if refs else 0.0
    rows.append(["no date", *(None for _ in dated), rest, Formula(total, other)])
    columns = [
        SheetColumn("week", "Week from", CellKind.DAY),
        *(
            SheetColumn(f"line{n}", f"{line.capitalize()} ({money})", CellKind.MONEY, total=True)
            for n, line in enumerate(dated)
        ),
        SheetColumn("other", f"Others ({money})", CellKind.MONEY, total=True),
        SheetColumn("total", f"All ({money})", CellKind.MONEY, total=True),
    ]
    report.tables["Cash"] = sheet.table(columns, rows)


def _in_week(report: Report, line: str, n: int, week: date) -> Cell:
    """Amount of a dated cost line in the n-th week: a sum over the sheet that lists it."""
    value = report.paid[line, week]
    if line == "waves":
        return Formula(f"={report.tables['Season'].cell('waves', n)}*{report.prices['waves',]}", value)
    table = report.tables[DATED[line]]
    rows = report.spans["Pay", line] if DATED[line] == "Pay" else (0, table.count)
    return Formula(f"=SUMIF({table.span('week', *rows)},{{week}},{table.span('amount', *rows)})", value)


def placed_total(placed: Placed, key: str) -> str:
    """Reference to a total; "0" for an empty table, which has none."""
    return placed.total(key) if placed.count else "0"
