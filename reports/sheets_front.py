"""The front of the plan workbook: summary page, contents, charts."""

from __future__ import annotations

from datetime import timedelta

from reports import style
from reports.figures import (
    actions,
    bindings,
    fullest_chamber,
    key_numbers,
    latest_ready,
    rows_of,
)
from reports.parts import Cell, Formula, Sheet
from reports.pictures import all_pictures, summary_pictures
from reports.report import Report
from reports.sheets_money import placed_total
from reports.style import Kind
from reports.words import number, percent, saving

PAGE = {0: 30.0, 1: 14.0, 2: 3.0, 3: 26.0, 4: 14.0, 5: 10.0}
"""Widths of the summary's columns: two blocks side by side."""

WIDTH = int(sum(PAGE.values()) * 1.15)
"""Characters of text that a line of the page holds; most are narrower than a figure."""

ROW_POINTS = 14.0
CHART_SIZE = (350, 216)
CHART_ROWS = 11
MOST_ACTIONS, MOST_SHORT, LIMITS = 10, 3, 3


def summary(report: Report) -> None:
    """One page: cost, orders at risk, chamber, labour, cash, what binds, what to do this week."""
    sheet, nursery = report.sheets["Summary"], report.scenario.nursery
    sheet.widths, sheet.one_page = dict(PAGE), True
    sheet.page.set_default_row(ROW_POINTS)
    sheet.write(0, 0, f"Plan for {nursery.name}", **style.TITLE)
    sheet.page.set_row(0, 21)
    span = f"{nursery.first_day.isoformat()} to {nursery.last_day.isoformat()}"
    sheet.write(1, 0, f"{span}; all money in {report.currency}. Every figure is a plan's, not a promise.")
    sheet.link(1, 5, "Contents", "Contents")
    sheet.row = 3
    start = sheet.row
    _key_numbers(report, sheet)
    below = sheet.row
    sheet.row = start
    _cost_lines(report, sheet)
    sheet.row = max(below, sheet.row) + 1
    _orders_at_risk(report, sheet)
    _charts(report, sheet)
    _limits(report, sheet)
    _this_week(report, sheet)
    _foot(report, sheet)


def _section(sheet: Sheet, title: str, column: int = 0, last: int = 5) -> None:
    sheet.write(sheet.row, column, title, **style.SECTION)
    for n in range(column + 1, last + 1):
        sheet.write(sheet.row, n, None, **style.SECTION)
    sheet.row += 1


def _line(sheet: Sheet, column: int, words: str, value: Cell, kind: Kind, **more: object) -> None:
    sheet.write(sheet.row, column, words, **{**style.CELL, **more})
    look = {**style.CELL, "num_format": style.NUMBER_FORMATS[kind], "align": "right", **more}
    sheet.write(sheet.row, column + 1, value, **look)


def _key_numbers(report: Report, sheet: Sheet) -> None:
    numbers, orders = key_numbers(report.scenario, report.plan), report.tables["Orders"]
    cost = placed_total(report.tables["Costs"], "amount")
    total = Formula(f"={cost}", numbers.cost)
    own, bought = orders.total("own"), orders.total("bought")
    _section(sheet, "The plan in numbers", 0, 1)
    here = f"B{sheet.row + 1}"
    _line(sheet, 0, f"Cost ({report.currency})", total, Kind.MONEY, bold=True)
    sheet.row += 1
    lines = report.cost_lines
    forgone = (
        f"-{report.tables['Costs'].cell('amount', lines.index('declined'))}" if "declined" in lines else ""
    )
    plant = Formula(f"=IF({own}+{bought}=0,0,({here}{forgone})/({own}+{bought}))", numbers.cost_per_plant)
    _line(sheet, 0, f"Cost a plant delivered ({report.currency})", plant, Kind.EACH, bold=True)
    sheet.row += 1
    chamber = fullest_chamber(report.scenario, report.plan)
    declined: list[tuple[str, Cell, Kind]] = []
    if numbers.declined:
        total = Formula(f"={orders.total('declined')}", numbers.declined)
        declined = [("Plants declined", total, Kind.COUNT)]
    rows: list[tuple[str, Cell, Kind]] = [
        ("Plants ordered", Formula(f"={orders.total('quantity')}", numbers.ordered), Kind.COUNT),
        ("Plants from own growing", Formula(f"={own}", numbers.own), Kind.COUNT),
        ("Plants bought in", Formula(f"={bought}", numbers.bought), Kind.COUNT),
        ("Plants short", Formula(f"={orders.total('short')}", numbers.short), Kind.COUNT),
        *declined,
        ("Chamber, fullest day", chamber.share if chamber else None, Kind.SHARE),
        ("Joins", numbers.joins, Kind.COUNT),
        ("Trays sown", numbers.trays, Kind.COUNT),
        ("Seeds sown", numbers.seeds, Kind.COUNT),
        ("Hours of work", numbers.hours, Kind.COUNT),
        ("Most it could be above least cost", report.plan.facts.gap, Kind.SHARE),
    ]
    for words, value, kind in rows:
        _line(sheet, 0, words, value, kind)
        sheet.row += 1


def _cost_lines(report: Report, sheet: Sheet) -> None:
    costs = report.tables["Costs"]
    sums: dict[str, float] = {}
    for line, amount in rows_of(report.plan.costs, "line", "amount"):
        sums[line] = sums.get(line, 0.0) + amount
    _section(sheet, f"Cost by line ({report.currency}; share)", 3, 5)
    total = sum(sums.values())
    for n, line in enumerate(report.cost_lines):
        amount = Formula(f"={costs.cell('amount', n)}", sums[line])
        _line(sheet, 3, line.capitalize(), amount, Kind.MONEY)
        share = Formula(f"={costs.cell('share', n)}", sums[line] / total if total else 0.0)
        look = {**style.CELL, "num_format": style.NUMBER_FORMATS[Kind.SHARE], "align": "right"}
        sheet.write(sheet.row, 5, share, **look)
        sheet.row += 1


def _orders_at_risk(report: Report, sheet: Sheet) -> None:
    _section(sheet, "Orders short or without a day to spare")
    plan = report.plan
    short = [
        row
        for row in rows_of(plan.orders, "order", "customer", "due_day", "short", "short_because")
        if row[3] > 0
    ]
    ready = latest_ready(plan)
    tight = [order for order, (last, pack) in ready.items() if last >= pack]
    if short:
        for order, customer, due, plants, why in sorted(short, key=lambda row: -row[3])[:MOST_SHORT]:
            words = (
                f"SHORT: {order} ({customer}, due {due.isoformat()}) by {number(plants)} plants. {why or ''}"
            )
            sheet.lines(words, WIDTH, most=2)
        if len(short) > MOST_SHORT:
            sheet.lines(f"... and {len(short) - MOST_SHORT} more orders short: see Orders.", WIDTH)
    else:
        sheet.lines("No order is short.", WIDTH)
    if tight:
        named = ", ".join(tight[:4]) + (f" and {len(tight) - 4} more" if len(tight) > 4 else "")
        words = f"{len(tight)} of {len(ready)} orders are ready only on the day of packing: {named}."
        sheet.lines(words, WIDTH, most=2)
    sheet.link(sheet.row, 0, "Orders", "All orders")
    sheet.row += 2


def _charts(report: Report, sheet: Sheet) -> None:
    _section(sheet, "Week by week (weeks by the month and day of their Monday)")
    pictures = summary_pictures(report)
    for n, picture in enumerate(pictures):
        row = sheet.row + (n // 2) * (CHART_ROWS + 1)
        sheet.chart(row, 0 if n % 2 == 0 else 3, picture, CHART_SIZE)
    sheet.row += (len(pictures) + 1) // 2 * (CHART_ROWS + 1)


def _limits(report: Report, sheet: Sheet) -> None:
    _section(sheet, "What binds most")
    found = bindings(report.plan)[:LIMITS]
    for binding in found:
        sheet.lines(saving(binding, report.currency), WIDTH, most=2)
    if not found:
        sheet.lines("No limit of slots, hours or offers binds.", WIDTH)
    sheet.link(sheet.row, 0, "What binds", "All limits and their prices")
    sheet.row += 2


def _this_week(report: Report, sheet: Sheet) -> None:
    first = report.scenario.nursery.first_day
    found = actions(report.plan, first, first + timedelta(days=6))
    _section(
        sheet,
        f"What to do in the first week, {first.isoformat()} to {(first + timedelta(days=6)).isoformat()}",
    )
    for action in found[:MOST_ACTIONS]:
        words = f"{action.day.isoformat()} {action.verb}: {action.what}"
        sheet.lines(words, WIDTH, most=2)
    if len(found) > MOST_ACTIONS:
        sheet.lines(f"... and {len(found) - MOST_ACTIONS} lines more: see Sowing, Graft days.", WIDTH)
    if not found:
        later = actions(report.plan, first, report.scenario.nursery.last_day)
        words = (
            f" First of all, on {later[0].day.isoformat()}: {later[0].verb} {later[0].what}" if later else ""
        )
        sheet.lines(f"Nothing.{words}", WIDTH, most=2)
    sheet.row += 1


def _foot(report: Report, sheet: Sheet) -> None:
    facts = report.plan.facts
    passed = sum(check.passed for check in report.checks)
    sheet.lines(
        f"{passed} of {len(report.checks)} checks passed. No plan costs less than {facts.bound:,.2f} "
        f"{report.currency}: this one costs at most {percent(facts.gap)} more than the least. Status "
        f"{facts.status}, {sum(facts.seconds.values()):.1f} s, inputs {facts.input_hash[:12]}.",
        WIDTH * 1.2,
        {**style.NOTE, "font_size": 8},
    )


def contents(report: Report) -> None:
    """Every sheet with a link and what it holds."""
    sheet = report.sheets["Contents"]
    sheet.widths = {0: 20.0, 1: 70.0}
    sheet.write(0, 0, "Contents", **style.TITLE)
    sheet.page.set_row(0, 21)
    for row, other in enumerate(report.book.sheets, 2):
        sheet.link(row, 0, other.name, other.name)
        sheet.write(row, 1, other.about, **style.CELL)
    sheet.row = len(report.book.sheets) + 3
    for words in (
        "Columns whose heading ends in * may be changed; amounts, totals and shares follow on every sheet.",
        "A plan is arithmetic, not advice on safety or law; where either matters, local codes and licensed "
        "practice decide. Cautions stand on the sheets of the work that they belong to.",
    ):
        sheet.lines(words, 90)


def charts(report: Report) -> None:
    """All charts, two a row."""
    sheet = report.sheets["Charts"]
    sheet.widths = {0: 30.0, 1: 20.0, 2: 3.0, 3: 30.0, 4: 24.0}
    sheet.page.set_default_row(ROW_POINTS)
    sheet.write(0, 0, "Charts", **style.TITLE)
    sheet.page.set_row(0, 21)
    sheet.link(1, 0, "Contents", "Contents")
    sheet.write(1, 1, "Weeks by the month and day of their Monday.", **style.NOTE)
    rows, top, a_page = 15, 3, 3
    pictures = all_pictures(report)
    for n, picture in enumerate(pictures):
        sheet.chart(top + n // 2 * (rows + 1), 0 if n % 2 == 0 else 3, picture, (380, 280))
    sheet.last = (sheet.last[0], 4)
    lines = range(a_page, (len(pictures) + 1) // 2, a_page)
    sheet.page.set_h_pagebreaks([top + line * (rows + 1) for line in lines])
