"""Sheets of what is bought: seed, supplies, stock, buy-in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from model.planned.plan_tables import rows_of
from reports.book.parts import Cell, Formula, Placed, SheetColumn
from reports.book.style import CellKind
from reports.book.words import CAUTIONS
from reports.plan.figures import week_of
from reports.plan.report import Report


def seed(report: Report) -> None:
    """Seed to order: packs, price, last day to order."""
    variety = {lot.lot: lot.variety for lot in report.scenario.seed_lots}
    report.sheets["Seed"].open("Seed budget", [ABOUT_PACKS], CAUTIONS["sowing"])
    _packs(
        report, "Seed", "seed", [SheetColumn("item", "Seed lot"), SheetColumn("variety", "Variety")], variety
    )


def supplies(report: Report) -> None:
    """Clips, stakes, media, trays ... to order."""
    unit = {supply.supply: supply.unit for supply in report.scenario.supplies}
    report.sheets["Supplies"].open("Supplies budget", [ABOUT_PACKS])
    _packs(report, "Supplies", "supply", [SheetColumn("item", "Supply"), SheetColumn("unit", "Unit")], unit)


ABOUT_PACKS = (
    "Packs to order. The stock on hand is used first (see Stock). Order by: the first day of need less the "
    "lead time. Change the packs in the column marked *, or the price on the sheet Prices: the amounts "
    "follow."
)


def _packs(report: Report, name: str, kind: str, first: list[SheetColumn], second: dict[str, str]) -> None:
    sheet = report.sheets[name]
    opening, line = report.scenario.nursery.first_day, "seed" if kind == "seed" else "supplies"
    rows: list[list[Cell]] = []
    items: list[str] = []
    found = report.plan.purchases[report.plan.purchases["kind"] == kind]
    some = bool((found["ordered"] > 0).any())
    names = ("item", "size", "packs", "price", "amount", "needed_day", "order_by", "ordered")
    for item, size, packs, price, amount, needed, by, ordered in sorted(
        rows_of(found, *names), key=lambda row: (row[6] or opening, row[0], -row[1])
    ):
        cell = Formula("=" + report.prices["pack", item, repr(size)], price)
        both = "({ordered}+{packs})" if some else "{packs}"
        bought = Formula(f"={{size}}*{both}", size * packs)
        cost = Formula(f"={both}*{{price}}", amount)
        items.append(item)
        report.paid[line, week_of(by or opening)] += amount
        before: list[Cell] = [ordered] if some else []
        rows.append(
            [
                item,
                second.get(item),
                size,
                *before,
                packs - ordered,
                bought,
                cell,
                cost,
                needed,
                by,
                week_of(by or opening),
            ]
        )
    columns = [
        *first,
        *report.columns("purchases", "size", *(["ordered"] if some else [])),
        report.column("purchases", "packs", heading="Packs to order", change=True),
        SheetColumn("bought", "Units bought", CellKind.COUNT),
        report.column("purchases", "price"),
        report.column("purchases", "amount", total=True),
        *report.columns("purchases", "needed_day", "order_by"),
        SheetColumn("week", "Paid in week from", CellKind.DAY),
    ]
    report.tables[name] = placed = sheet.table(columns, rows)
    _keep_amounts(report, placed, line, items)


def _keep_amounts(report: Report, placed: Placed, line: str, names: Sequence[str]) -> None:
    """Keep the sum of the amounts of each name; ``names``: the item or offer of each row."""
    cells: dict[str, list[str]] = defaultdict(list)
    for n, name in enumerate(names):
        cells[name].append(placed.cell("amount", n))
    report.amounts.update({(line, name): "+".join(of) for name, of in cells.items()})


def stock(report: Report) -> None:
    """Every seed lot and supply: on hand, bought, used, left."""
    sheet = report.sheets["Stock"]
    sheet.open(
        "Stock of seed and supplies",
        ["Stock on hand is used before packs bought. Left: units left at the end, as packs are whole."],
    )
    rows: list[list[Cell]] = []
    names = ("item", "kind", "unit", "stock", "bought", "used", "left", "lead_days")
    for item, kind, unit, on_hand, bought, used, left, lead in rows_of(report.plan.items, *names):
        of_stock = min(on_hand, used)
        rest = Formula("={stock}+{bought}-{used}", left)
        rows.append([item, kind, unit, on_hand, bought, used, of_stock, rest, lead])
    columns = [
        *report.columns("items", "item", "kind", "unit", "stock", "bought", "used"),
        SheetColumn("of_stock", "Of that from stock", CellKind.COUNT),
        *report.columns("items", "left", "lead_days"),
    ]
    sheet.table(columns, rows)


def buy_in(report: Report) -> None:
    """Finished plants from other nurseries."""
    sheet = report.sheets["Buy-in"]
    sheet.open(
        "Buy-in",
        [
            "Finished plants bought from other nurseries, by offer, delivery and order. Change the plants in "
            "the column marked *, or the price on the sheet Prices: the amounts follow.",
        ],
    )
    rows: list[list[Cell]] = []
    offers: list[str] = []
    names = ("offer", "product", "order", "arrival_day", "order_by", "plants", "price", "amount")
    for offer, product, order, arrival, by, plants, price, amount in rows_of(report.plan.buy_in, *names):
        cell = Formula("=" + report.prices["offer", offer], price)
        cost = Formula("={plants}*{price}", amount)
        offers.append(offer)
        report.paid["buy-in", week_of(arrival)] += amount
        rows.append([offer, product, order, by, arrival, week_of(arrival), plants, cell, cost])
    columns = [
        *report.columns("buy_in", "offer", "product", "order", "order_by", "arrival_day"),
        SheetColumn("week", "Paid in week from", CellKind.DAY),
        report.column("buy_in", "plants", total=True, change=True),
        report.column("buy_in", "price"),
        report.column("buy_in", "amount", total=True),
    ]
    report.tables["Buy-in"] = placed = sheet.table(columns, rows)
    _keep_amounts(report, placed, "buy-in", offers)
