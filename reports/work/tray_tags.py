"""Tray tags: labels of one size, three across and eight down on a sheet, to print and cut.

Each tray has a tag. Seedling trays get theirs when sown; trays with joins get theirs on the graft day. A tag
names a wave by lot, format and day of sowing, which stay the same when the plan is made again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from model.network.rooms import Route, routes_of
from model.planned.lots import Lots, whole
from model.planned.plan_reading import PlanReading
from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.scenario.choices import MethodKind
from model.scenario.entities import Scenario
from reports.book import style
from reports.book.parts import Book, whole_file
from reports.book.retold import lot_words
from reports.book.writing import grouped, shown_day

ACROSS, DOWN = 3, 8
LINES = 8
"""Lines of a tag."""

WIDTH_CHARACTERS = 29.0
"""Width of a tag: three fit between the margins of A4 and of US letter."""

HEAD_POINTS, LINE_POINTS = 15.0, 10.8
"""Heights of lines in points: eight tags fit on A4 and on US letter."""


class Tag(NamedTuple):
    """A tag for ``trays`` trays: a heading and up to six lines. The number of the tray comes last."""

    day: date
    heading: str
    lines: tuple[str, ...]
    trays: int


def tags(scenario: Scenario, plan: Plan, *, first: date, days: int) -> list[Tag]:
    """Tags of the trays sown, and of those loaded with joins, in the ``days`` days from ``first`` on."""
    reading, last = PlanReading(scenario, plan.tables), first + timedelta(days=days - 1)
    found = [*_sown(reading), *_grafted(scenario, plan, reading.lots)]
    return [tag for tag in sorted(found) if first <= tag.day <= last]


def _sown(reading: PlanReading) -> Iterator[Tag]:
    """A tag for each zone in which trays of a wave germinate; it names the zone where the lot has several."""
    lots, several = reading.lots, {row.lot for row in reading.scenario.germination_zones}
    for wave, there in reading.germinating():
        flows = sorted(lots.grafts[wave], key=lambda flow: (flow[1], flow[0], flow[2] or ""))
        products = "; ".join(dict.fromkeys(product for product, *_ in flows))
        used = f"; used from {shown_day(flows[0][1])}" if flows else ""
        yield Tag(
            wave.sown,
            wave.lot,
            (
                f"{wave.variety}, {wave.format}{used}",
                f"Sown {shown_day(wave.sown)}, to bench {shown_day(there.bench)}",
                f"{reading.cells[wave.format]} cells, {whole(wave.seeds / wave.trays)} seeds; "
                f"{grouped(wave.usable, 0)} usable",
                f"For {products}",
                f"Orders {_orders(lots, flows)}",
                f"Germinates in {there.zone}" if wave.lot in several else "",
            ),
            whole(there.trays),
        )


def _orders(lots: Lots, flows: Sequence[FlowKey]) -> str:
    return ", ".join(dict.fromkeys(order for flow in flows for order in lots.orders[flow])) or "none"


def _grafted(scenario: Scenario, plan: Plan, lots: Lots) -> Iterator[Tag]:
    """One tag for each pair of waves, since a tray never holds two lots."""
    products = {product.product: product for product in scenario.products}
    methods = {method.method: method for method in scenario.methods}
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    routes = routes_of(scenario)
    for *cells_, ready in rows_of(plan.flows, *FLOW, "ready_day"):
        flow = flow_key(cells_)
        name, day, in_zones = flow
        product = products[name]
        kind = methods[product.method].kind
        for pair in lots.pairs[flow]:
            if pair.rootstock is None or pair.joins <= 0:
                continue
            root_cut = kind is MethodKind.ROOT_CUT
            trays = pair.joins / cells[product.final_format] if root_cut else pair.trays[0]
            yield Tag(
                day,
                name,
                (
                    f"{product.method}, grafted {shown_day(day)}" + (f", in {in_zones}" if in_zones else ""),
                    f"Rootstock {lot_words(pair.rootstock)}",
                    f"Scion {lot_words(pair.scion)}",
                    f"{product.final_format}, {grouped(pair.joins / trays)} joins expected; "
                    f"ready {shown_day(ready)}",
                    f"Orders {_orders(lots, [flow])}",
                    _climates(routes[product.method][in_zones]),
                ),
                whole(trays),
            )


def _climates(route: Route) -> str:
    """The climate of each stage of a route, in order; stages without one are left out."""
    return "; ".join(f"{stage.stage} {stage.climate}" for stage in route.stages if stage.climate)


def write_tray_tags(scenario: Scenario, plan: Plan, path: Path, *, first: date, days: int) -> None:
    """Write the tags of ``days`` days from ``first`` on to ``path``, a sheet a day, whole or not at all.

    Raises OSError if the file cannot be written.
    """
    by_day: dict[date, list[Tag]] = defaultdict(list)
    for tag in tags(scenario, plan, first=first, days=days):
        by_day[tag.day].append(tag)
    with whole_file(path) as part:
        book = Book(part, f"Tray tags of {scenario.nursery.name}", scenario.nursery)
        for day, found in by_day.items():
            _sheet(book, str(day), found)
        if not by_day:
            page = book.workbook.add_worksheet("No tags")
            page.write_string(0, 0, f"No tray is sown or grafted in the {days} days from {shown_day(first)}.")
        book.close()


def _sheet(book: Book, name: str, found: Sequence[Tag]) -> None:
    page = book.workbook.add_worksheet(name)
    numbered = [(tag, n) for tag in found for n in range(1, tag.trays + 1)]
    page.set_column(0, ACROSS - 1, WIDTH_CHARACTERS)
    looks = [book.format(**_look(line)) for line in range(LINES)]
    for at, (tag, number) in enumerate(numbered):
        top, column = at // ACROSS * LINES, at % ACROSS
        last = f"Tray {number} of {tag.trays}"
        for line, text in enumerate((tag.heading, *tag.lines, last)):
            page.write_string(top + line, column, text, looks[line])
    rows = -(-len(numbered) // ACROSS) * LINES
    for row in range(rows):
        page.set_row(row, HEAD_POINTS if row % LINES == 0 else LINE_POINTS)
    page.set_h_pagebreaks(list(range(DOWN * LINES, rows, DOWN * LINES)))
    page.set_paper(book.paper.number)
    page.set_margins(left=0.2, right=0.2, top=0.4, bottom=0.3)
    page.center_horizontally()
    page.print_area(0, 0, rows - 1, ACROSS - 1)
    page.hide_gridlines(2)


def _look(line: int) -> dict[str, Any]:
    """Look of a line: a bold heading, dashed cut lines around the tag. A long text shrinks to fit."""
    frame: dict[str, Any] = {"left": 3, "right": 3, "top": 3 if line == 0 else 0}
    frame["bottom"] = 3 if line == LINES - 1 else 0
    head = line in (0, LINES - 1)
    size = {"bold": True, "font_size": 11 if line == 0 else 9} if head else {"font_size": 8}
    return {"font_color": style.INK, "indent": 1, "shrink": True, "valign": "vcenter", **frame, **size}
