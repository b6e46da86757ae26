"""The plan as a study, so that it can be a page and pictures as well as a workbook."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Literal

from model.inquiries.demand import asked_for
from model.inquiries.expected import expected_of
from model.planned.cash import cash_of, terms_given
from model.planned.plan_tables import rows_of
from model.planned.results import has_prices, result_of
from reports.book.batch_words import batch_words
from reports.book.parts import Cell, Sheet, SheetColumn
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import FIRST_PART, PENALTIES, number, percent, unit_price, with_penalties
from reports.book.writing import grouped, shown_day
from reports.plan.figures import (
    actions,
    bindings,
    crew_weeks,
    first_week,
    fullest_chamber,
    key_numbers,
    rooms_drawn,
    saving,
    waves_sown,
)
from reports.plan.pictures import CASH_TITLE, MOST_STACKS, cash_words, labour_words, room_words, stack_words
from reports.plan.report import Report
from reports.plan.result_words import cash_sentence, expected_words, result_words
from reports.sheets.checks import facts_with_seconds
from reports.sheets.front import headline, made_for_seasons, no_less
from reports.study.study import Chart, Figure, Section, Study

LIMITS = 3
"""Limits that the answer names."""


WORKBOOK_ONLY = ("Order costs",)
"""Long sheets from which others are worked out: the page leaves them out."""


def plan_study(report: Report) -> Study:
    """The plan as its workbook shows it; ``report`` is the result of ``write_plan_workbook``."""
    return Study(
        "Plan",
        report.scenario,
        _answer(report),
        [Figure(label, value, kind) for label, value, kind in headline(report)],
        [
            _first_week(report),
            _at_risk(report),
            *(
                _of_sheet(report, sheet)
                for sheet in report.book.sheets
                if sheet.tables and sheet.name not in WORKBOOK_ONLY
            ),
        ],
        facts_with_seconds(report),
    )


def _answer(report: Report) -> list[str]:
    plan, scenario, money = report.plan, report.scenario, report.currency
    numbers = key_numbers(scenario, plan)
    short = f"{number(numbers.short)} are short" if numbers.short else "none is short"
    without = ", without penalties" if numbers.penalties else ""
    declined = f", {number(numbers.declined)} are declined" if numbers.declined else ""
    left = [f"{result_words(result_of(plan), money)}."] if has_prices(plan.orders) else []
    sentences = [
        *left,
        f"The plan delivers {grouped(numbers.delivered)} of {numbers.ordered_words} plants ordered, for "
        f"{with_penalties(numbers.cost, numbers.penalties, money)}. A plant delivered costs "
        f"{unit_price(numbers.cost_per_plant, money)}{without}.",
        f"Of the plants, {grouped(numbers.own)} are grown here and {grouped(numbers.bought)} bought in; "
        f"{short}{declined}.",
        batch_words(scenario),
        f"{no_less(report)}: this one costs at most {percent(plan.facts.gap)} more than the least.",
        *made_for_seasons(report),
    ]
    chamber = fullest_chamber(scenario, plan)
    if chamber is not None:
        sentences.append(
            f"The healing chamber is fullest on {shown_day(chamber.day)}: {number(chamber.used)} of "
            f"{number(chamber.available)} slots of {chamber.zone} ({percent(chamber.share)})."
        )
    if asked_for(scenario):
        sentences.append(f"Expected is {expected_words(expected_of(scenario, plan), scenario)}.")
    if terms_given(scenario):
        sentences.append(f"{cash_sentence(cash_of(scenario, plan), scenario)}.")
    binding = bindings(plan)[:LIMITS]
    sentences += [saving(limit, money) for limit in binding]
    if binding:
        sentences.append(FIRST_PART)
    if binding and plan.penalties:
        sentences.append(f"What one more saves counts the {PENALTIES}.")
    passed = sum(check.passed for check in report.checks)
    return [*sentences, f"{passed} of {len(report.checks)} checks of the audit passed."]


def _first_week(report: Report) -> Section:
    first, last = first_week(report.scenario, report.plan)
    return Section(
        "To do first",
        f"What to do in the first week with work, {shown_day(first)} to {shown_day(last)}.",
        ["Packs and plants bought in are listed on the last day to order them."],
        [SheetColumn("day", "Day", CellKind.DAY), SheetColumn("verb", "To do"), SheetColumn("what", "What")],
        [list(action) for action in actions(report.plan, first, last)],
    )


def _at_risk(report: Report) -> Section:
    retell = retelling(report.scenario)
    reasons = dict(rows_of(report.plan.orders, "order", "short_because"))
    rows: list[list[Cell]] = [
        [
            risk.order,
            risk.customer,
            risk.due_day,
            risk.quantity,
            risk.short,
            "; ".join(filter(None, (", ".join(risk.why), retell(reasons[risk.order] or "")))),
        ]
        for risk in report.at_risk
    ]
    return Section(
        "Orders at risk",
        f"{grouped(len(rows))} of {grouped(len(report.scenario.orders))} orders, the worst first.",
        [
            "Orders that are short, late, or that one mishap would leave short: ready only on the packing "
            "day, grown without a graft margin, or with no time to sow or graft again once a loss is "
            "counted. For the chance to fill each, run graftwright risk."
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
    """The first table of a sheet, with its charts."""
    columns, rows = sheet.tables[0]
    charts = list(CHARTS[sheet.name](report)) if sheet.name in CHARTS and rows else ()
    return Section(sheet.name, sheet.about, sheet.notes, columns, rows, charts)


Kind = Literal["columns", "stacked"]


def _by_week(kind: Kind, title: str, words: str, keys: tuple[str, ...], unit: str, *more: Any) -> Chart:
    """A chart of the table above with a column for each week; ``more``: its lines and its rows."""
    return Chart(kind, title, words, "week", keys, unit, *more)


def _rooms(report: Report) -> Iterator[Chart]:
    for zone in rooms_drawn(report.scenario, report.plan):
        title, words = f"Slots by week: {zone}", room_words(report, zone)
        more = ("available",), report.spans["Zones", zone]
        yield _by_week("columns", title, words, ("used",), "slots, fullest day", *more)


def _crews(report: Report) -> Iterator[Chart]:
    for crew, weeks in crew_weeks(report.plan).items():
        worked = [key for key in ("overtime", "temporary") if any(getattr(week, key) for week in weeks)]
        title, words = f"Hours by week: {crew}", labour_words(report, crew)
        more = ("regular_available", "there"), report.spans["Labour", crew]
        yield _by_week("stacked", title, words, ("regular", *worked), "hours", *more)


def _season(report: Report) -> Iterator[Chart]:
    trays = sum(waves_sown(report.plan)["trays"].tolist())
    joins = key_numbers(report.scenario, report.plan).joins
    for title, what, keys, unit in (
        ("Sowing", f"trays sown in each week, {number(trays)} in all", ("trays",), "trays"),
        ("Grafting", f"joins in each week, {grouped(joins)} in all", ("joins",), "joins"),
        ("Plants", "plants ready and plants due in each week", ("ready", "due"), "plants"),
    ):
        yield _by_week("columns", f"{title} by week", f"Columns: {what}.", keys, unit)


def _costs(report: Report) -> Iterator[Chart]:
    words = "Columns: the plan's cost by line."
    yield Chart("columns", "Cost by line", words, "line", ("amount",), report.currency)


def _products(report: Report) -> Iterator[Chart]:
    count = report.tables["Cost by product"].count
    title, words = "Cost of a plant by product", stack_words(report)
    keys = tuple(f"line{n}" for n in range(len(report.traced_lines)))
    unit, rows = f"{report.currency} a plant", (0, min(count, MOST_STACKS))
    yield Chart("stacked", title, words, "product", keys, unit, rows=rows)


def _cash(report: Report) -> Iterator[Chart]:
    more = ("balance",), (1, report.tables["Cash"].count - 1)
    yield _by_week("columns", CASH_TITLE, cash_words(report), ("into", "out"), report.currency, *more)


CHARTS: dict[str, Callable[[Report], Iterator[Chart]]] = {
    "Zones": _rooms,
    "Labour": _crews,
    "Season": _season,
    "Costs": _costs,
    "Cost by product": _products,
    "Cash": _cash,
}
"""The charts below the table of each sheet."""
