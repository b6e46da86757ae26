"""Sheets of the growing: season by week, sowing, graft days, flows."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from model.planned.plan_tables import rows_of
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.words import CAUTIONS
from reports.plan.figures import waves_charged, week_of, weekday, weeks
from reports.plan.report import Report


def season(report: Report) -> None:
    """Trays sown, joins made, plants ready and due in every week."""
    sheet, plan = report.sheets["Season"], report.plan
    sheet.open("Season by week", ["Weeks start on Monday."])
    sums: dict[tuple[str, date], float] = defaultdict(float)
    for day, trays, seeds in rows_of(plan.waves, "sow_day", "trays", "seeds"):
        sums["trays", week_of(day)] += trays
        sums["seeds", week_of(day)] += seeds
    for day, wave, joins in rows_of(plan.joins, "graft_day", "rootstock_wave", "joins"):
        sums["joins" if wave is not None else "moved", week_of(day)] += joins
    for day, finished in rows_of(plan.flows, "ready_day", "finished"):
        sums["ready", week_of(day)] += finished
    for order in report.scenario.orders:
        sums["due", week_of(order.due_day)] += order.quantity
    for week, count in waves_charged(report.scenario, plan).items():
        sums["waves", week] = count
        report.paid["waves", week] = count * report.scenario.nursery.wave_cost
    columns = [
        SheetColumn("week", "Week from", CellKind.DAY),
        SheetColumn("trays", "Trays sown", CellKind.COUNT, total=True),
        SheetColumn("seeds", "Seeds sown", CellKind.COUNT, total=True),
        SheetColumn("joins", "Joins", CellKind.COUNT, total=True),
        SheetColumn("moved", "Own-root seedlings moved on", CellKind.COUNT, total=True),
        SheetColumn("ready", "Plants ready", CellKind.COUNT, total=True),
        SheetColumn("due", "Plants due", CellKind.COUNT, total=True),
    ]
    if report.scenario.nursery.wave_cost:
        columns.append(SheetColumn("waves", "Waves at a fixed cost", CellKind.COUNT, total=True))
    rows: list[list[Cell]] = []
    for week in weeks(report.scenario):
        amounts: list[Cell] = [sums[column.key, week] for column in columns[1:]]
        rows.append([week, *amounts])
    report.tables["Season"] = sheet.table(columns, rows)


def sowing(report: Report) -> None:
    """What is sown when, and for which products."""
    sheet, plan = report.sheets["Sowing"], report.plan
    sheet.open(
        "Sowing",
        [
            "One line a wave: trays of one seed lot sown in one format on one day. To bench: day on which "
            "the trays leave germination. Cleared: first day without a tray of the wave on the bench.",
        ],
        CAUTIONS["sowing"],
    )
    products: dict[str, set[str]] = defaultdict(set)
    grafts: dict[str, list[date]] = defaultdict(list)
    for product, day, *waves in rows_of(plan.joins, "product", "graft_day", "rootstock_wave", "scion_wave"):
        for wave in waves:
            if wave is not None:
                products[wave].add(product)
                grafts[wave].append(day)
    names = ("wave", "lot", "variety", "format", "sow_day", "bench_day", "trays", "seeds", "clear_day")
    rows: list[list[Cell]] = []
    for wave, lot, variety, format_, sow, bench, trays, seeds, clear in rows_of(plan.waves, *names):
        days = sorted(grafts[wave])
        first, last = (days[0], days[-1]) if days else (None, None)
        used = "; ".join(sorted(products[wave]))
        rows.append(
            [sow, weekday(sow), wave, lot, variety, format_, trays, seeds, bench, first, last, clear, used]
        )
    columns = [
        report.column("waves", "sow_day"),
        SheetColumn("weekday", "Weekday"),
        *report.columns("waves", "wave", "lot", "variety", "format"),
        *report.columns("waves", "trays", "seeds", total=True),
        report.column("waves", "bench_day"),
        SheetColumn("first", "First drawn on", CellKind.DAY),
        SheetColumn("last", "Last drawn on", CellKind.DAY),
        report.column("waves", "clear_day"),
        SheetColumn("for", "For product", widest=40),
    ]
    sheet.table(columns, rows)


def graft_days(report: Report) -> None:
    """What is grafted when, from which waves."""
    sheet, plan = report.sheets["Graft days"], report.plan
    sheet.open(
        "Graft days",
        [
            "One line a product and pair of waves. Seedlings of each: seedlings brought to the bench from "
            "each of the two waves. They are more than the joins, since some find no partner of like stem. "
            "Own-root seedlings are moved on, not grafted. At planting, the union and any roots grown on the "
            "scion stay above the soil.",
        ],
        CAUTIONS["grafting"],
    )
    methods = {product.product: product.method for product in report.scenario.products}
    rows: list[list[Cell]] = []
    names = (
        "rootstock_wave",
        "rootstock_age",
        "scion_wave",
        "scion_age",
        "seedlings",
        "match",
        "joins",
        "take",
    )
    for day, product, *wave in rows_of(plan.joins, "graft_day", "product", *names):
        work = "move on" if wave[0] is None else "graft"
        rows.append([day, weekday(day), work, product, methods[product], *wave, wave[-2] * wave[-1]])
    columns = [
        report.column("joins", "graft_day"),
        SheetColumn("weekday", "Weekday"),
        SheetColumn("work", "Work"),
        report.column("joins", "product"),
        report.column("flows", "method"),
        *(report.column("joins", name, total=name == "joins") for name in names),
        SheetColumn("healed", "Expected to heal", CellKind.COUNT, total=True),
    ]
    sheet.table(columns, rows)


def flows(report: Report) -> None:
    """All joins of one product on one day, from graft day to ready day."""
    sheet = report.sheets["Healing and finishing"]
    sheet.open(
        "From graft day to ready day",
        [
            "One line for all joins of one product on one day. Counts of plants are expectations. "
            "Margin: plants kept beyond the orders as overseeding margin. Surplus: plants beyond orders and "
            "margin.",
        ],
        CAUTIONS["lifting"],
    )
    names = ("graft_day", "product", "method")
    counts = ("joins", "trays_loaded", "healed", "trays_finishing", "finished")
    more = ("delivered", "margin_plants", "surplus")
    found = rows_of(report.plan.flows, *names, *counts, "ready_day", *more)
    rows: list[list[Cell]] = [list(row) for row in found]
    rows.sort(key=lambda row: (row[0], row[1]))
    columns = [
        *report.columns("flows", *names),
        *report.columns("flows", *counts[:-2], total=True),
        report.column("flows", "trays_finishing", kind=CellKind.DECIMAL, total=True),
        report.column("flows", "finished", total=True),
        report.column("flows", "ready_day"),
        *report.columns("flows", *more, total=True),
    ]
    sheet.table(columns, rows)
