"""The plan as a study: what its workbook holds, told so that it can be a page and pictures as well."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reports.book.parts import Cell, Sheet, SheetColumn
from reports.book.style import CellKind
from reports.book.words import number, percent
from reports.plan.figures import (
    actions,
    bindings,
    crew_weeks,
    first_week,
    fullest_chamber,
    healing_zones,
    key_numbers,
    orders_at_risk,
    saving,
    zone_weeks,
)
from reports.plan.pictures import MOST_STACKS
from reports.plan.report import Report
from reports.sheets.checks import run_facts
from reports.sheets.front import headline
from reports.study.study import Chart, Figure, Section, Study, value_of

LIMITS = 3
"""Limits that the answer names."""

ABOVE = "Numbers in the table above."


def plan_study(report: Report) -> Study:
    """The plan as its workbook shows it; ``report`` is the result of ``write_plan_workbook``."""
    return Study(
        "Plan",
        report.scenario,
        _answer(report),
        [Figure(label, value, kind) for label, value, kind in headline(report, "0")],
        [
            _first_week(report),
            _at_risk(report),
            *(_of_sheet(report, sheet) for sheet in report.book.sheets if sheet.tables),
        ],
        [(str(fact), value) for fact, value in run_facts(report)],
    )


def _answer(report: Report) -> list[str]:
    plan, scenario, money = report.plan, report.scenario, report.currency
    numbers = key_numbers(scenario, plan)
    short = f"{number(numbers.short)} are short" if numbers.short else "none is short"
    declined = f", {number(numbers.declined)} are declined" if numbers.declined else ""
    told = [
        f"The plan delivers {numbers.delivered:,.0f} of {numbers.ordered:,.0f} plants ordered, for "
        f"{numbers.cost:,.2f} {money}: {numbers.cost_per_plant:,.4f} {money} a plant.",
        f"Of the plants, {numbers.own:,.0f} are grown here and {numbers.bought:,.0f} bought in; "
        f"{short}{declined}.",
        f"No plan costs less than {plan.facts.bound:,.2f} {money}: this one costs at most "
        f"{percent(plan.facts.gap)} more than the least.",
    ]
    chamber = fullest_chamber(scenario, plan)
    if chamber is not None:
        told.append(
            f"The healing chamber is fullest on {chamber.day.isoformat()}: {number(chamber.used)} of "
            f"{number(chamber.available)} slots of {chamber.zone} ({percent(chamber.share)})."
        )
    told += [saving(binding, money) for binding in bindings(plan)[:LIMITS]]
    passed = sum(check.passed for check in report.checks)
    return [*told, f"{passed} of {len(report.checks)} checks of the audit passed."]


def _first_week(report: Report) -> Section:
    first, last = first_week(report.scenario, report.plan)
    return Section(
        "To do first",
        f"What to do in the first week with work, {first.isoformat()} to {last.isoformat()}.",
        ["Packs and plants bought in: on the last day to order."],
        [SheetColumn("day", "Day", CellKind.DAY), SheetColumn("verb", "To do"), SheetColumn("what", "What")],
        [list(action) for action in actions(report.plan, first, last)],
    )


def _at_risk(report: Report) -> Section:
    rows: list[list[Cell]] = [
        [risk.order, risk.customer, risk.due_day, risk.quantity, risk.short, ", ".join(risk.why)]
        for risk in orders_at_risk(report.plan)
    ]
    return Section(
        "Orders at risk",
        f"{len(rows):,} of {len(report.scenario.orders):,} orders, the worst first.",
        [
            "Orders that are short, or that one mishap would leave short: ready only on the day of packing, "
            "or grown without an overseeding margin. How likely each is filled, the study of risk tells."
        ],
        [
            SheetColumn("order", "Order"),
            SheetColumn("customer", "Customer"),
            SheetColumn("due", "Due day", CellKind.DAY),
            SheetColumn("quantity", "Plants ordered", CellKind.COUNT, total=True),
            SheetColumn("short", "Short", CellKind.COUNT, total=True),
            SheetColumn("why", "Why"),
        ],
        rows,
    )


def _of_sheet(report: Report, sheet: Sheet) -> Section:
    """The first table of a sheet, with the charts that belong to it."""
    columns, rows = sheet.tables[0]
    charts = CHARTS[sheet.name](report) if sheet.name in CHARTS and rows else ()
    return Section(sheet.name, sheet.about, sheet.notes, columns, rows, charts)


def _chambers(report: Report) -> list[Chart]:
    weeks = zone_weeks(report.plan)
    return [_chamber(report, zone) for zone in healing_zones(report.scenario) if zone in weeks]


def _chamber(report: Report, zone: str) -> Chart:
    top = max(zone_weeks(report.plan)[zone], key=lambda week: week.share)
    return Chart(
        "columns",
        f"Slots by week: {zone}",
        f"Columns: slots used in {zone} on the fullest day of each week; line: slots there are. Fullest on "
        f"{top.day.isoformat()} with {number(top.used)} of {number(top.available)} slots "
        f"({percent(top.share)}). {ABOVE}",
        "week",
        ("used",),
        "week from",
        "slots, fullest day",
        ("available",),
        report.spans["Zones", zone],
    )


def _crews(report: Report) -> list[Chart]:
    return [_crew(report, crew) for crew in crew_weeks(report.plan)]


def _crew(report: Report, crew: str) -> Chart:
    weeks = crew_weeks(report.plan)[crew]
    more = [key for key in ("overtime", "temporary") if any(getattr(week, key) for week in weeks)]
    top = max(weeks, key=lambda week: week.worked)
    return Chart(
        "stacked",
        f"Hours by week: {crew}",
        f"Stacked columns: hours worked by {crew} in each week; lines: regular hours there are, and all "
        f"hours there are with overtime and temporary hands. Most in the week from {top.week.isoformat()}: "
        f"{number(top.worked)} of {number(top.available)} hours. {ABOVE}",
        "week",
        ("regular", *more),
        "week from",
        "hours",
        ("regular_available", "there"),
        report.spans["Labour", crew],
    )


def _season(report: Report) -> list[Chart]:
    trays = sum(report.plan.waves["trays"].tolist())
    joins = key_numbers(report.scenario, report.plan).joins
    return [
        _by_week("Sowing by week", f"trays sown in each week, {number(trays)} in all", ("trays",), "trays"),
        _by_week("Grafting by week", f"joins in each week, {joins:,.0f} in all", ("joins",), "joins"),
        _by_week("Plants by week", "plants ready and plants due in each week", ("ready", "due"), "plants"),
    ]


def _by_week(title: str, what: str, keys: tuple[str, ...], unit: str) -> Chart:
    return Chart("columns", title, f"Columns: {what}. {ABOVE}", "week", keys, "week from", unit)


def _costs(report: Report) -> list[Chart]:
    words = f"Columns: the plan's cost by line. {ABOVE}"
    return [Chart("columns", "Cost by line", words, "line", ("amount",), "cost line", report.currency)]


def _products(report: Report) -> list[Chart]:
    count = report.tables["Cost by product"].count
    first = "" if count <= MOST_STACKS else f" of the {MOST_STACKS} products with the most plants"
    return [
        Chart(
            "stacked",
            "Cost of a plant by product",
            f"Stacked columns: cost of a plant{first}, by what it is spent for: "
            f"{', '.join(report.traced_lines)}. {ABOVE}",
            "product",
            tuple(f"line{n}" for n in range(len(report.traced_lines))),
            "product",
            f"{report.currency} a plant",
            rows=(0, min(count, MOST_STACKS)),
        )
    ]


def _cash(report: Report) -> list[Chart]:
    rows = _dated(report.book.sheets)
    top = max(rows, key=lambda row: _amount(row[-1]))
    return [
        Chart(
            "columns",
            "Cash out by week",
            f"Columns: cash out in each week. Most in the week from {value_of(top[0])}: "
            f"{_amount(top[-1]):,.0f} {report.currency}. {ABOVE}",
            "week",
            ("total",),
            "week from",
            report.currency,
            rows=(0, len(rows)),
        )
    ]


def _dated(sheets: Sequence[Sheet]) -> Sequence[Sequence[Cell]]:
    """Rows of the sheet of cash, without the last, which has no date."""
    return next(sheet.tables[0][1][:-1] for sheet in sheets if sheet.name == "Cash")


def _amount(cell: Cell) -> float:
    value = value_of(cell)
    return float(value) if isinstance(value, int | float) else 0.0


CHARTS: dict[str, Callable[[Report], list[Chart]]] = {
    "Zones": _chambers,
    "Labour": _crews,
    "Season": _season,
    "Costs": _costs,
    "Cost by product": _products,
    "Cash": _cash,
}
"""The charts that stand below the table of a sheet."""
