"""The sheet of the trace: from each delivery back to its seed lots, and from each wave to its orders."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from model.network.rooms import Route, routes_of
from model.planned.lots import Lots, SownWave
from model.planned.plan_tables import rows_of
from model.planned.tables.declared import FLOW
from model.scenario.choices import Part
from reports.book.parts import Cell, SheetColumn
from reports.book.retold import lot_words
from reports.book.style import CellKind
from reports.book.writing import grouped, shown_day
from reports.plan.report import Report

Key = tuple[date, str]
"""Graft day and product."""


def trace(report: Report) -> None:
    """Which lots each order comes from, and where the plants of each wave go."""
    sheet = report.open(
        "Trace",
        "From seed lot to delivery and back",
        "The first table leads back from an order: one line for each pair of waves that its plants come "
        "from, with the day and the crews that joined them and the zone in which they healed. Filter it by "
        "a lot to see all that the lot went into. The second table leads on from each wave to its orders. A "
        "tray never holds two lots. These are the plan's lots: keep the work lists and the dispatch notes, "
        "which say what was done. Margin and surplus plants are in neither table. Lots of plants bought in "
        "stand on the papers that came with them. Local law on plant health says which records to keep, and "
        "for how long.",
    )
    waves, orders = Lots(report.plan.tables).waves, {order.order: order for order in report.scenario.orders}
    crews, routes = _crews(report), routes_of(report.scenario)
    methods = {product.product: product.method for product in report.scenario.products}
    rows: list[dict[str, Cell]] = []
    gone: dict[SownWave, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    joined: dict[SownWave, set[date]] = defaultdict(set)
    columns_ = ("order", *FLOW, "rootstock_wave", "scion_wave", "pack_day", "plants")
    for order, product, graft, chosen, rootstock, scion, pack, plants in rows_of(
        report.plan.trace, *columns_
    ):
        root = None if rootstock is None else waves[rootstock]
        rows.append(
            {
                "order": order,
                "customer": orders[order].customer,
                "product": product,
                "pack_day": pack,
                "plants": plants,
                "root": None if root is None else lot_words(root),
                "scion": lot_words(waves[scion]),
                "graft_day": graft,
                "crews": ", ".join(crews[graft, product]) or None,
                "zones": _healed_in(routes[methods[product]][chosen]),
            }
        )
        for wave in filter(None, (root, waves[scion])):
            gone[wave][order] += plants
            joined[wave].add(graft)
    sheet.table(
        [
            *report.columns("trace", "order"),
            report.column("orders", "customer"),
            *report.columns("trace", "product", "pack_day"),
            report.column("trace", "plants", total=True),
            SheetColumn("root", "Rootstock lot", widest=24),
            SheetColumn("scion", "Scion or seed lot", widest=24),
            report.column("trace", "graft_day"),
            SheetColumn("crews", "Joined by", widest=20),
            SheetColumn("zones", "Healed in", widest=20),
        ],
        rows,
    )
    sheet.table(
        [
            report.column("waves", "lot"),
            *report.columns("waves", "variety", "sow_day", "format"),
            report.column("waves", "trays"),
            SheetColumn("joined", "Joined or moved on", widest=24),
            SheetColumn("plants", "Plants delivered", CellKind.COUNT),
            SheetColumn("orders", "Orders", widest=40),
        ],
        [
            {
                "lot": wave.lot,
                "variety": wave.variety,
                "sow_day": wave.sown,
                "format": wave.format,
                "trays": wave.trays,
                "joined": ", ".join(shown_day(day) for day in sorted(joined[wave])),
                "plants": sum(gone[wave].values()),
                "orders": "; ".join(f"{order} ({grouped(plants)})" for order, plants in gone[wave].items()),
            }
            for wave in sorted(waves.values(), key=lambda wave: (wave.lot, wave.sown, wave.format))
        ],
    )


def _crews(report: Report) -> dict[Key, list[str]]:
    """Crews that join a product on a day."""
    jobs = {
        job: (day, name)
        for job, day, step, name in rows_of(report.plan.jobs, "job", "day", "step", "name")
        if step == "graft"
    }
    found: dict[Key, list[str]] = defaultdict(list)
    for job, crew in rows_of(report.plan.job_crews, "job", "crew"):
        if job in jobs and crew is not None and crew not in found[jobs[job]]:
            found[jobs[job]].append(crew)
    return found


def _healed_in(route: Route) -> str | None:
    """Zones in which the joins of a route heal, in the order of its stages."""
    zones = dict.fromkeys(stage.zone for stage in route.stages if stage.part is Part.HEALING)
    return ", ".join(zones) or None
