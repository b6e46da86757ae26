"""The front of the plan workbook: summary page, contents, charts."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from model.planned.plan_tables import rows_of
from model.planned.results import PART_OF, ResultPart, has_prices, result_of
from reports.book import style
from reports.book.batch_words import batch_words
from reports.book.parts import ON_SCREEN, Cell, Formula, Sheet, value_of
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import FIRST_PART, amount, counted, number, percent, told_apart, with_unit
from reports.book.writing import grouped, shown_day
from reports.plan.figures import (
    actions,
    bindings,
    first_week,
    fullest_chamber,
    key_numbers,
    product_costs,
    rooms_drawn,
    saving,
    share_of,
    zone_weeks,
)
from reports.plan.pictures import all_pictures, stack_picture, summary_pictures
from reports.plan.report import Report
from reports.sheets.accounts.money import placed_total
from reports.sheets.accounts.result_sheets import APART, BEFORE, CASH, RESULT, SALES
from reports.study.study import STATUS

PAGE = {0: 32.0, 1: 9.0, 2: 13.0, 3: 2.0, 4: 32.0, 5: 13.0, 6: 9.0}
"""Widths of the summary's columns: two blocks side by side."""

LEFT, RIGHT = (0, 2), (4, 6)
"""First and last column of each block."""

WIDTH = int(sum(PAGE.values()) * 1.1)
"""Characters in a line of the page; most are narrower than a figure."""

NAME = 32
"""Characters of a name that a cell of a block holds."""

ROOM = 2.5
"""Characters that stay free beside a figure in its cell: bold figures are wider."""

ROW_POINTS = 14.0
CHART_SIZE, CHART_ROWS = (388, 234), 13
MOST_PRODUCTS, MOST_AT_RISK, MOST_REASONS, MOST_SHORT, LIMITS, MOST_ACTIONS = 12, 12, 2, 3, 3, 8


def summary(report: Report) -> None:
    """One page: result, cost a plant, orders at risk, chamber, labour, cash, what binds, what to do."""
    sheet, nursery = report.sheets["Summary"], report.scenario.nursery
    sheet.widths, sheet.one_page = dict(PAGE), True
    sheet.page.set_default_row(ROW_POINTS)
    sheet.head(f"Plan for {nursery.name}")
    span = f"{shown_day(nursery.first_day)} to {shown_day(nursery.last_day)}"
    sheet.write(1, 0, f"{span}; all money in {report.currency}. Every figure is planned, none is promised.")
    sheet.link(1, RIGHT[1], "Contents", "Contents")
    sheet.row = 2
    sheet.lines(batch_words(report.scenario), WIDTH)
    for words in made_for_seasons(report):
        sheet.lines(words, WIDTH)
    sheet.row += 1
    _side_by_side(report, sheet, _key_numbers, _cost_lines)
    _side_by_side(report, sheet, _product_costs, _orders_at_risk)
    _why_short(report, sheet)
    _charts(report, sheet)
    _limits(report, sheet)
    _this_week(report, sheet)
    _foot(report, sheet)


Block = Callable[[Report, Sheet], None]


def _side_by_side(report: Report, sheet: Sheet, left: Block, right: Block) -> None:
    start = sheet.row
    left(report, sheet)
    below, sheet.row = sheet.row, start
    right(report, sheet)
    sheet.row = max(below, sheet.row) + 1


def _section(sheet: Sheet, title: str, columns: tuple[int, int] = (LEFT[0], RIGHT[1])) -> None:
    for n in range(columns[0], columns[1] + 1):
        sheet.write(sheet.row, n, title if n == columns[0] else None, **style.SECTION)
    sheet.row += 1


def _figure(sheet: Sheet, column: int, value: Cell, kind: CellKind, **more: object) -> None:
    look = {
        **style.CELL,
        "num_format": style.number_format(kind, sheet.book.decimals),
        "align": "right",
        **more,
    }
    sheet.write(sheet.row, column, value, **look)
    shown = style.shown(value_of(value), kind, sheet.book.decimals)
    sheet.widths[column] = max(sheet.widths[column], len(shown) + ROOM)


def _key_numbers(report: Report, sheet: Sheet) -> None:
    _section(sheet, "The plan in numbers", LEFT)
    for words, value, kind in headline(report):
        bold = {"bold": True} if kind in (CellKind.MONEY, CellKind.EACH) else {}
        sheet.write(sheet.row, LEFT[0], words, **style.CELL, **bold)
        _figure(sheet, LEFT[1], value, kind, **bold)
        sheet.row += 1


def headline(report: Report) -> Iterator[tuple[str, Cell, CellKind]]:
    """Label, value and kind of the figures that an owner asks first: the result where orders have prices."""
    numbers, orders = key_numbers(report.scenario, report.plan), report.tables["Orders"]
    own, bought, costs = orders.total("own"), orders.total("bought"), report.tables["Costs"]
    money = report.currency
    if has_prices(report.plan.orders):
        yield from _result(report, f"({own}+{bought})")
    apart = [(n, line) for n, line in enumerate(report.cost_lines) if PART_OF[line] is ResultPart.APART]
    unpaid = "".join(f"-{costs.cell('amount', n)}" for n, _ in apart)
    whole = Formula(f"={placed_total(costs, 'amount')}", numbers.cost)
    if apart:
        paid = numbers.cost - sum(report.cost_lines[line] for _, line in apart)
        without = "penalties and prices declined" if numbers.forgone else "penalties"
        yield f"Cost without {without} ({money})", Formula(f"{whole.text}{unpaid}", paid), CellKind.MONEY
    plant = f"=IF({own}+{bought}=0,0,({whole.text[1:]}{unpaid})/({own}+{bought}))"
    yield f"Cost a plant delivered ({money})", Formula(plant, numbers.cost_per_plant), CellKind.EACH
    for n, line in apart:
        value = Formula(f"={costs.cell('amount', n)}", report.cost_lines[line])
        yield f"{APART[line].capitalize()} ({money})", value, CellKind.MONEY
    yield f"{'Cost with penalties' if apart else 'Cost'} ({money})", whole, CellKind.MONEY
    yield "Plants ordered", Formula(f"={orders.total('quantity')}", numbers.ordered), CellKind.COUNT
    if numbers.filling:
        yield "Of them to fill last trays", numbers.filling, CellKind.COUNT
    if numbers.extra:
        extra = Formula(f"={orders.total('extra')}", numbers.extra)
        yield "Of them extra, not billed", extra, CellKind.COUNT
    yield "Plants from own growing", Formula(f"={own}", numbers.own), CellKind.COUNT
    yield "Plants bought in", Formula(f"={bought}", numbers.bought), CellKind.COUNT
    yield "Plants short", Formula(f"={orders.total('short')}", numbers.short), CellKind.COUNT
    if numbers.declined:
        yield "Plants declined", Formula(f"={orders.total('declined')}", numbers.declined), CellKind.COUNT
    if numbers.late:
        yield "Plants late", Formula(f"={orders.total('late')}", numbers.late), CellKind.COUNT
    chamber = fullest_chamber(report.scenario, report.plan)
    yield "Chamber, fullest day", chamber.share if chamber else None, CellKind.SHARE
    yield "Joins", numbers.joins, CellKind.COUNT
    yield "Hours of work", numbers.hours, CellKind.COUNT
    yield "Above the least cost, at most", report.plan.facts.gap, CellKind.SHARE


def _result(report: Report, plants: str) -> Iterator[tuple[str, Cell, CellKind]]:
    """Sales less costs, before and after overhead and interest; ``plants``: cell of the plants delivered."""
    money, found, table = report.currency, result_of(report.plan), report.tables["Result"]
    cells = {words: table.cell("amount", report.spans["Result", words][0]) for words in STATED}
    values = dict(zip(STATED, (found.sales, found.cash, found.before, found.result), strict=True))
    for words in STATED[:-1]:
        yield f"{words} ({money})", Formula(f"={cells[words]}", values[words]), CellKind.MONEY
    for words, part, value in (
        ("Overhead", ResultPart.OVERHEAD, found.overhead),
        ("Interest and depreciation", ResultPart.CAPITAL, found.capital),
    ):
        lines = [n for n, line in enumerate(report.cost_lines) if PART_OF[line] is part]
        if lines:
            total = "+".join(report.tables["Costs"].cell("amount", n) for n in lines)
            yield f"{words} ({money})", Formula(f"={total}", value), CellKind.MONEY
    yield f"{RESULT} ({money})", Formula(f"={cells[RESULT]}", values[RESULT]), CellKind.MONEY
    each = Formula(f"=IF({plants}=0,0,{cells[RESULT]}/{plants})", found.per_plant or 0.0)
    yield f"Result a plant delivered ({money})", each, CellKind.EACH
    if found.unpriced:
        yield "Plants without a price, in no sales", found.unpriced, CellKind.COUNT


STATED = (SALES, CASH, BEFORE, RESULT)
"""Lines of the statement that the first page repeats."""


def _cost_lines(report: Report, sheet: Sheet) -> None:
    costs, lines = report.tables["Costs"], report.cost_lines
    counted = ", penalties counted" if any(PART_OF[line] is ResultPart.APART for line in lines) else ""
    _section(sheet, f"Cost by line{counted} ({report.currency}; share)", RIGHT)
    total = sum(lines.values())
    for n, (line, cost) in enumerate(lines.items()):
        sheet.write(sheet.row, RIGHT[0], line.capitalize(), **style.CELL)
        _figure(sheet, RIGHT[0] + 1, Formula(f"={costs.cell('amount', n)}", cost), CellKind.MONEY)
        share = Formula(f"={costs.cell('share', n)}", share_of(cost, total))
        _figure(sheet, RIGHT[1], share, CellKind.SHARE)
        sheet.row += 1


def _product_costs(report: Report, sheet: Sheet) -> None:
    _section(sheet, f"Cost of a plant by product (plants; {report.currency} a plant)", LEFT)
    found = [(n, cost) for n, cost in enumerate(product_costs(report.plan, report.traced)) if cost.plants > 0]
    names = told_apart([cost.product for _, cost in found], NAME)
    for name, (n, (_, plants, cost)) in list(zip(names, found, strict=True))[:MOST_PRODUCTS]:
        sheet.write(sheet.row, LEFT[0], name, **style.CELL)
        _figure(sheet, LEFT[0] + 1, plants, CellKind.COUNT)
        each = Formula(f"={report.tables['Products'].cell('each', n)}", cost / plants)
        _figure(sheet, LEFT[1], each, CellKind.EACH)
        sheet.row += 1
    every = f"{'All ' if len(found) > 1 else ''}{counted(len(found), 'product')}"
    sheet.link(sheet.row, LEFT[0], "Products", f"{every}, prices from traced cost")
    sheet.row += 1


def _orders_at_risk(report: Report, sheet: Sheet) -> None:
    risks, orders = report.at_risk, report.scenario.orders
    _section(sheet, f"Orders at risk: {grouped(len(risks))} of {grouped(len(orders))} (due; plants)", RIGHT)
    names = told_apart([risk.order for risk in risks], NAME // 2)
    for name, risk in list(zip(names, risks, strict=True))[:MOST_AT_RISK]:
        words, at = f"{name}: {_few(risk.why)}", (report.order_rows[risk.order], 0)
        sheet.link(sheet.row, RIGHT[0], "Orders", words, at, shrink=True)
        _figure(sheet, RIGHT[0] + 1, risk.due_day, CellKind.DAY)
        _figure(sheet, RIGHT[1], risk.quantity, CellKind.COUNT)
        sheet.row += 1
    if not risks:
        sheet.write(
            sheet.row,
            RIGHT[0],
            "None: each has a spare day, a margin, and time to sow and graft again.",
            **style.CELL,
        )
        sheet.row += 1
    sheet.link(sheet.row, RIGHT[0], "Orders", "All orders, by month")
    sheet.row += 1


def _few(reasons: tuple[str, ...]) -> str:
    """The first reasons and how many more: a cell that shrinks to all of them could not be read."""
    more = len(reasons) - MOST_REASONS
    return ", ".join(reasons[:MOST_REASONS]) + (f" and {more} more" if more > 0 else "")


def _why_short(report: Report, sheet: Sheet) -> None:
    """Why the orders with the largest shortfalls are short."""
    columns = ("order", "customer", "due_day", "short", "short_because")
    short = [row for row in rows_of(report.plan.orders, *columns) if row[3] > 0]
    if not short:
        return
    _section(sheet, "Why orders are short")
    retell = retelling(report.scenario)
    for order, customer, due, plants, why in sorted(short, key=lambda row: (-row[3], row[0]))[:MOST_SHORT]:
        because = f": {retell(why)}" if why else ""
        missing = with_unit(number(plants), "plants")
        words = f"SHORT: {order} ({customer}, due {shown_day(due)}) by {missing}{because}"
        sheet.lines(words, WIDTH, most=2)
    if len(short) > MOST_SHORT:
        sheet.lines(f"... and {counted(len(short) - MOST_SHORT, 'more order')} short: see Orders.", WIDTH)
    sheet.row += 1


def _charts(report: Report, sheet: Sheet) -> None:
    _section(sheet, "Week by week (weeks by the month and day of their Monday)")
    rooms = rooms_drawn(report.scenario, report.plan)
    if len(rooms) > 1:
        weeks = zone_weeks(report.plan)
        fullest = [f"{zone} {percent(max(week.share for week in weeks[zone]))}" for zone in rooms]
        sheet.lines(f"Rooms that fill, on their fullest day: {', '.join(fullest)}. Charts draws all.", WIDTH)
    pictures = summary_pictures(report)
    for n, picture in enumerate(pictures):
        row = sheet.row + (n // 2) * CHART_ROWS
        sheet.chart(row, LEFT[0] if n % 2 == 0 else RIGHT[0], picture, CHART_SIZE)
    sheet.row += (len(pictures) + 1) // 2 * CHART_ROWS + 1


def _limits(report: Report, sheet: Sheet) -> None:
    _section(sheet, f"What binds most{', penalties counted' if report.plan.penalties else ''}")
    sheet.link(sheet.row - 1, RIGHT[1], "What binds", "All limits", **style.SECTION_LINK)
    found = bindings(report.plan)[:LIMITS]
    for binding in found:
        sheet.lines(saving(binding, report.currency), WIDTH, most=2)
    if found:
        sheet.lines(FIRST_PART, WIDTH, most=2)
    else:
        sheet.lines("No limit of slots, hours or offers binds.", WIDTH)
    sheet.row += 1


def _this_week(report: Report, sheet: Sheet) -> None:
    first, last = first_week(report.scenario, report.plan)
    found = actions(report.plan, first, last)
    _section(sheet, f"What to do in the first week with work, {shown_day(first)} to {shown_day(last)}")
    for action in found[:MOST_ACTIONS]:
        words = f"{shown_day(action.day)} {action.verb}: {action.what}"
        sheet.lines(words, WIDTH, most=2)
    if len(found) > MOST_ACTIONS:
        more = len(found) - MOST_ACTIONS
        sheet.lines(f"... and {more} more lines: see Seed, Supplies, Sowing, Graft days, Deliveries.", WIDTH)
    if not found:
        sheet.lines("Nothing is sown, grafted, packed or bought.", WIDTH)
    sheet.row += 1


def _foot(report: Report, sheet: Sheet) -> None:
    facts = report.plan.facts
    passed = sum(check.passed for check in report.checks)
    sheet.lines(
        f"{passed} of {len(report.checks)} checks passed. "
        f"{no_less(report)}: this one costs at most {percent(facts.gap)} more than the "
        f"least. Planned with {STATUS[facts.status]}, {grouped(sum(facts.seconds.values()), 1)} s, inputs "
        f"{facts.input_hash[:12]}.",
        WIDTH * 1.2,
        style.FOOT,
    )


def no_less(report: Report) -> str:
    """The proved bound on the cost of any plan, in words; its penalties are named where there are any."""
    with_them = ", penalties counted" if report.plan.penalties else ""
    return f"No plan costs less than {amount(report.plan.facts.bound, report.currency)}{with_them}"


def made_for_seasons(report: Report) -> list[str]:
    """What a plan over many seasons is and where its levels are told, in words; nothing for other plans."""
    seasons = report.plan.facts.seasons
    if not seasons:
        return []
    return [
        f"This plan is the best on average over {counted(seasons, 'sampled season')}: it may grow plants to "
        "spare and spread its work, and so cost more than the expected season needs. What a season costs and "
        "which orders reach their level stands in hedge.html."
    ]


def contents(report: Report) -> None:
    """Every sheet with a link, what it holds, and whether it prints unasked."""
    sheet = report.sheets["Contents"]
    sheet.widths = {0: 20.0, 1: 70.0, 2: 12.0}
    sheet.head("Contents")
    for row, other in enumerate(report.book.sheets, 2):
        sheet.link(row, 0, other.name, other.name)
        sheet.write(row, 1, other.about, **style.CELL)
        sheet.write(row, 2, "prints" if other.prints else None, **style.CELL)
    sheet.row = len(report.book.sheets) + 3
    for words in (
        ON_SCREEN,
        "Papers for the crews, a page a day and a page a week, come from graftwright work.",
        "You may change columns whose heading ends in *: amounts, totals and shares follow on every sheet.",
        "A plan is arithmetic, not advice on safety or law: there, local codes and licensed practice decide. "
        "Each sheet shows the cautions of its work.",
    ):
        sheet.lines(words, 90)


def charts(report: Report) -> None:
    """All charts, two a row; the chart of products has a row alone, as it has many names."""
    sheet = report.sheets["Charts"]
    sheet.widths = {0: 30.0, 1: 20.0, 2: 3.0, 3: 30.0, 4: 24.0}
    sheet.page.set_default_row(ROW_POINTS)
    sheet.head("Charts")
    sheet.link(1, 0, "Contents", "Contents")
    sheet.write(1, 1, "Weeks by the month and day of their Monday.", **style.NOTE)
    rows, top, a_page = 15, 3, 3
    pictures = all_pictures(report)
    for n, picture in enumerate(pictures):
        sheet.chart(top + n // 2 * (rows + 1), 0 if n % 2 == 0 else 3, picture, (380, 280))
    lines = (len(pictures) + 1) // 2
    if report.tables["Cost by product"].count:
        sheet.chart(top + lines * (rows + 1), 0, stack_picture(report), (745, 400))
        lines += 1
    sheet.last = (sheet.last[0], 4)
    breaks = range(a_page, lines, a_page)
    sheet.page.set_h_pagebreaks([top + line * (rows + 1) - 1 for line in breaks])
