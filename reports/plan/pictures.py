"""The charts of the plan workbook, each with its text in words.

Columns have patterns and lines have dashes, so that they differ in black and white.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from model.planned.cash import cash_of
from model.scenario.calendar import mondays
from reports.book import style
from reports.book.parts import Placed
from reports.book.style import CellKind
from reports.book.words import number, percent
from reports.book.writing import shown_day, writing
from reports.plan.figures import (
    busiest_crew,
    crew_weeks,
    fullest_chamber,
    rooms_drawn,
    waves_sown,
    zone_weeks,
)
from reports.plan.report import Report
from reports.study.patterns import fill_of
from reports.study.study import number_in

Picture = tuple[Any, str]
"""A chart and its text in words."""


def summary_pictures(report: Report) -> list[Picture]:
    """The charts of the summary page: fullest chamber, busiest crew, sowing and grafting, cash."""
    chamber = fullest_chamber(report.scenario, report.plan)
    crew = busiest_crew(report.plan)
    pictures = [] if chamber is None else [room_picture(report, chamber.zone)]
    pictures += [] if crew is None else [labour_picture(report, crew)]
    return [*pictures, growing_picture(report), cash_picture(report)]


def all_pictures(report: Report) -> list[Picture]:
    """A chart for each room that fills, each crew, and the whole nursery."""
    return [
        *(room_picture(report, zone) for zone in rooms_drawn(report.scenario, report.plan)),
        *(labour_picture(report, crew) for crew in crew_weeks(report.plan)),
        growing_picture(report),
        cash_picture(report),
        cost_picture(report),
    ]


def room_picture(report: Report, zone: str) -> Picture:
    """Slots used on the fullest day of each week as columns, slots available as a line."""
    placed, span = report.tables["Zones"], report.spans["Zones", zone]
    used = _chart(report, COLUMNS, placed, "week", {"used": _filled("slots used", style.BLUE)}, span)
    there = {"available": _drawn("slots available", "solid")}
    used.combine(_chart(report, LINES, placed, "week", there, span))
    _finish(used, f"Slots by week: {zone}", "slots, fullest day", step=_step(report))
    return used, f"{room_words(report, zone)} Numbers on the sheet Zones."


def room_words(report: Report, zone: str) -> str:
    """What the chart of a room shows."""
    top = max(zone_weeks(report.plan)[zone], key=lambda week: week.share)
    return (
        f"Columns: slots used in {zone} on the fullest day of each week. Line: slots available. The fullest "
        f"day is {shown_day(top.day)}, with {number(top.used)} of {number(top.available)} slots "
        f"({percent(top.share)})."
    )


def labour_picture(report: Report, crew: str) -> Picture:
    """Hours worked by week as stacked columns, hours available as lines."""
    placed, span = report.tables["Labour"], report.spans["Labour", crew]
    by_week = crew_weeks(report.plan)[crew]
    shown = {"regular": _filled("regular", style.BLUE)}
    if any(week.overtime for week in by_week):
        shown["overtime"] = _filled("overtime", style.ORANGE, "wide_upward_diagonal")
    if any(week.temporary for week in by_week):
        shown["temporary"] = _filled("temporary hands", style.GREEN, "light_horizontal")
    chart = _chart(report, STACKED, placed, "week", shown, span)
    there = {"regular_available": _drawn("own hands, regular", "solid"), "there": _drawn("all hands", "dash")}
    chart.combine(_chart(report, LINES, placed, "week", there, span))
    _finish(chart, f"Hours by week: {crew}", "hours", step=_step(report))
    return chart, f"{labour_words(report, crew)} Numbers on the sheet Labour."


def labour_words(report: Report, crew: str) -> str:
    """What the chart of a crew shows."""
    top = max(crew_weeks(report.plan)[crew], key=lambda week: week.worked)
    return (
        f"Stacked columns: hours worked by {crew} in each week. Solid line: regular hours available. Dashed "
        "line: all hours available, with overtime and temporary hands. The busiest week starts on "
        f"{shown_day(top.week)}, with {number(top.worked)} of {number(top.available)} hours."
    )


def growing_picture(report: Report) -> Picture:
    """Trays sown by week as columns, joins as a line on a second axis."""
    placed = report.tables["Season"]
    chart = _chart(report, COLUMNS, placed, "week", {"trays": _filled("trays sown", style.GREEN)})
    joins = {"joins": {**_drawn("joins (right)", "solid"), "y2_axis": True}}
    lines = _chart(report, LINES, placed, "week", joins)
    chart.combine(lines)
    _finish(chart, "Sowing and grafting by week", "trays", step=_step(report))
    lines.set_y2_axis({"name": "joins", "min": 0, **AXIS, "major_gridlines": {"visible": False}})
    trays = sum(waves_sown(report.plan)["trays"].tolist())
    return chart, (
        f"Columns: trays sown in each week, {number(trays)} in all. Line, on the right axis: joins made in "
        "each week. Numbers on the sheet Season."
    )


def cash_picture(report: Report) -> Picture:
    """Money in and out by week as columns, the balance at the end of each week as a line."""
    placed = report.tables["Cash"]
    weeks = (1, placed.count - 1)
    moved = {
        "into": _filled("in", style.GREEN),
        "out": _filled("out", style.ORANGE, "light_upward_diagonal"),
    }
    chart = _chart(report, COLUMNS, placed, "week", moved, weeks)
    chart.combine(
        _chart(report, LINES, placed, "week", {"balance": _drawn("balance at the end", "solid")}, weeks)
    )
    _finish(chart, CASH_TITLE, report.currency, step=_step(report), below=True)
    return chart, f"{cash_words(report)} Numbers on the sheet Cash."


CASH_TITLE = "Cash by week"


def cash_words(report: Report) -> str:
    """What the chart of cash shows."""
    found = cash_of(report.scenario, report.plan).deepest
    return (
        "Columns: money in and out in each week. Line: the balance at the end of the week. The deepest week "
        f"starts on {shown_day(found.week)}: it ends with "
        f"{writing().money(found.balance, report.currency, 0)}."
    )


def cost_picture(report: Report) -> Picture:
    """Cost lines as bars."""
    labels = {"value": True, "num_format": writing().money_format("#,##0"), "font": FONT}
    cost = {"amount": {**_filled("cost", style.GREY), "data_labels": labels}}
    chart = _chart(report, {"type": "bar"}, report.tables["Costs"], "line", cost)
    _finish(chart, "Cost by line", "", legend=False)
    money = {"name": report.currency, "major_gridlines": GRID, **_from_nothing(report.cost_lines.values())}
    chart.set_x_axis({**AXIS, **money})
    chart.set_y_axis({**AXIS, "reverse": True, "label_position": "low"})
    return chart, "Bars: the plan's cost by line. Numbers on the sheet Costs."


def stack_picture(report: Report) -> Picture:
    """Cost of a plant by product, stacked by purpose, for the products with the most plants."""
    placed, lines = report.tables["Cost by product"], report.traced_lines
    shown = (0, min(placed.count, MOST_STACKS))
    series = {f"line{n}": _filled(line, *fill_of(n)) for n, line in enumerate(lines)}
    chart = _chart(report, STACKED, placed, "product", series, shown)
    _finish(chart, "Cost of a plant by product", f"{report.currency} a plant")
    chart.set_x_axis({**AXIS, "text_axis": True})
    unit = {
        "name": f"{report.currency} a plant",
        "num_format": style.number_format(CellKind.MONEY, report.book.decimals),
    }
    costs = (
        number_in(cell) or 0.0
        for _, rows in report.sheets["Cost by product"].tables
        for row in rows
        for cell in row
    )
    chart.set_y_axis({**AXIS, **unit, "major_gridlines": GRID, **_from_nothing(costs)})
    chart.set_legend({"position": "right", "font": FONT})
    return chart, f"{stack_words(report)} Numbers on the sheet Cost by product."


def stack_words(report: Report) -> str:
    """What the chart of the cost of a plant shows."""
    many = report.tables["Cost by product"].count > MOST_STACKS
    first = f" of the {MOST_STACKS} products with the most plants" if many else ""
    return (
        f"Stacked columns: cost of a plant{first}, by what it is spent for: {', '.join(report.traced_lines)}."
    )


MOST_STACKS = 20
"""Products that a chart has room for."""

FONT = {"name": style.FONT, "size": 8, "color": style.INK}
GRID = {"visible": True, "line": {"color": "#D9D9D9", "width": 0.5}}
AXIS = {
    "num_font": FONT,
    "name_font": {**FONT, "bold": False},
    "line": {"color": style.RULE},
    "num_format": "#,##0",
}


COLUMNS, LINES = {"type": "column"}, {"type": "line"}
STACKED = {"type": "column", "subtype": "stacked"}

Look = dict[str, Any]
"""Name and look of a series of a chart."""


def _chart(
    report: Report,
    kind: dict[str, str],
    placed: Placed,
    categories: str,
    series: Mapping[str, Look],
    span: tuple[int, int] | None = None,
) -> Any:
    """A chart of some columns of a table, by their keys; ``span``: its rows, else all."""
    chart = report.book.workbook.add_chart(kind)
    rows = span or (0, placed.count)
    for key, look in series.items():
        cells = {"categories": placed.series(categories, *rows), "values": placed.series(key, *rows)}
        chart.add_series(cells | look)
    return chart


def _filled(name: str, colour: str, pattern: str | None = None) -> Look:
    return {"name": name, **style.columns_filled(colour, pattern)}


def _drawn(name: str, dash: str) -> Look:
    return {"name": name, **style.line_drawn(dash)}


def _from_nothing(values: Iterable[float]) -> dict[str, int]:
    """The start of an axis at 0, unless a value is below."""
    return {"min": 0} if min(values, default=0.0) >= 0 else {}


def _step(report: Report) -> int:
    """Weeks from one label of an axis to the next."""
    return -(-len(mondays(report.scenario.nursery)) // MOST_LABELS)


MOST_LABELS = 26
"""Weeks that an axis has room to name."""


def _finish(
    chart: Any, title: str, unit: str, *, legend: bool = True, step: int = 1, below: bool = False
) -> None:
    """Set title and axes; ``below``: values may be below 0.

    A space after "!" keeps a workbook from reading the title as a cell's address.
    """
    chart.set_title(
        {"name": title.replace("!", "! "), "name_font": {**FONT, "size": 10, "bold": True}, "overlay": False}
    )
    weeks = {
        "num_format": writing().day_format(writing().day_and_month),
        "text_axis": True,
        "interval_unit": step,
    }
    low = {"label_position": "low"} if below else {}
    chart.set_x_axis({**AXIS, **weeks, **low, "num_font": {**FONT, "rotation": -90}})
    least = {} if below else {"min": 0}
    chart.set_y_axis({**AXIS, "name": unit, "major_gridlines": GRID, **least} if unit else AXIS)
    chart.set_legend({"position": "bottom", "font": FONT} if legend else {"none": True})
    chart.set_chartarea({"border": {"color": style.RULE}})
