"""Sheets of what is bought: seed, supplies, stock, buy-in."""

from __future__ import annotations

from collections import defaultdict

from model.planned.plan_tables import rows_of
from reports.book.parts import Cell, Column, Formula
from reports.book.style import Kind
from reports.book.words import CAUTIONS
from reports.plan.figures import week_of
from reports.plan.report import Report


def seed(report: Report) -> None:
    """Seed to order: packs, price, last day to order."""
    variety = {lot.lot: lot.variety for lot in report.scenario.seed_lots}
    report.sheets["Seed"].open("Seed budget", [ABOUT_PACKS], CAUTIONS["sowing"])
    _packs(report, "Seed", "seed", [Column("item", "Seed lot"), Column("variety", "Variety")], variety)


def supplies(report: Report) -> None:
    """Clips, stakes, media, trays ... to order."""
    unit = {supply.supply: supply.unit for supply in report.scenario.supplies}
    report.sheets["Supplies"].open("Supplies budget", [ABOUT_PACKS])
    _packs(report, "Supplies", "supply", [Column("item", "Supply"), Column("unit", "Unit")], unit)


ABOUT_PACKS = (
    "Packs to order over and above the stock on hand, which is used first (see Stock). Order by: the day on "
    "which they are first needed less the lead time. Change the packs in the column marked *, or the price "
    "on the sheet Prices, and the amounts follow."
)


def _packs(report: Report, name: str, kind: str, first: list[Column], second: dict[str, str]) -> None:
    money, sheet = report.currency, report.sheets[name]
    opening, line = report.scenario.nursery.first_day, "seed" if kind == "seed" else "supplies"
    rows: list[list[Cell]] = []
    items: list[str] = []
    found = [row for row in rows_of(report.plan.purchases) if row[1] == kind]
    some = any(row[8] > 0 for row in found)
    for item, _, size, packs, price, amount, needed, by, ordered in sorted(
        found, key=lambda row: (row[7] or opening, row[0], -row[2])
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
        Column("size", "In a pack (units)", Kind.COUNT),
        *([Column("ordered", "Packs ordered before today", Kind.COUNT)] if some else []),
        Column("packs", "Packs to order", Kind.COUNT, change=True),
        Column("bought", "Units bought", Kind.COUNT),
        Column("price", f"Price ({money} a pack)", Kind.PRICE),
        Column("amount", f"Amount ({money})", Kind.MONEY, total=True),
        Column("needed", "First needed on", Kind.DAY),
        Column("by", "Order by", Kind.DAY),
        Column("week", "Paid in week from", Kind.DAY),
    ]
    placed = sheet.table(columns, rows)
    report.tables[name] = placed
    cells: dict[str, list[str]] = defaultdict(list)
    for n, item in enumerate(items):
        cells[item].append(placed.cell("amount", n))
    for item, addresses in cells.items():
        report.amounts[line, item] = "+".join(addresses)


def stock(report: Report) -> None:
    """Every seed lot and supply: on hand, bought, used, left."""
    sheet = report.sheets["Stock"]
    sheet.open(
        "Stock of seed and supplies",
        ["What is on hand is used before what is bought. Left: what whole packs leave over at the end."],
    )
    rows: list[list[Cell]] = []
    for item, kind, unit, on_hand, bought, used, left, lead in rows_of(report.plan.items):
        of_stock = min(on_hand, used)
        rest = Formula("={stock}+{bought}-{used}", left)
        rows.append([item, kind, unit, on_hand, bought, used, of_stock, rest, float(lead)])
    columns = [
        Column("item", "Seed lot or supply"),
        Column("kind", "Kind"),
        Column("unit", "Unit"),
        Column("stock", "On hand", Kind.COUNT),
        Column("bought", "Bought", Kind.COUNT),
        Column("used", "Used", Kind.COUNT),
        Column("of_stock", "Of that from stock", Kind.COUNT),
        Column("left", "Left", Kind.COUNT),
        Column("lead", "Lead time (days)", Kind.COUNT),
    ]
    sheet.table(columns, rows)


def buy_in(report: Report) -> None:
    """Finished plants from other nurseries."""
    sheet, money = report.sheets["Buy-in"], report.currency
    sheet.open(
        "Buy-in",
        [
            "Finished plants bought from other nurseries, by offer, delivery and order. Change the plants in "
            "the column marked *, or the price on the sheet Prices, and the amounts follow.",
        ],
    )
    rows: list[list[Cell]] = []
    names: list[str] = []
    for offer, product, order, arrival, by, plants, price, amount in rows_of(report.plan.buy_in):
        cell = Formula("=" + report.prices["offer", offer], price)
        cost = Formula("={plants}*{price}", amount)
        names.append(offer)
        report.paid["buy-in", week_of(arrival)] += amount
        rows.append([offer, product, order, by, arrival, week_of(arrival), plants, cell, cost])
    columns = [
        Column("offer", "Offer"),
        Column("product", "Product"),
        Column("order", "For order"),
        Column("by", "Order by", Kind.DAY),
        Column("arrival", "Delivery", Kind.DAY),
        Column("week", "Paid in week from", Kind.DAY),
        Column("plants", "Plants", Kind.COUNT, total=True, change=True),
        Column("price", f"Price ({money} a plant)", Kind.PRICE),
        Column("amount", f"Amount ({money})", Kind.MONEY, total=True),
    ]
    placed = sheet.table(columns, rows)
    report.tables["Buy-in"] = placed
    cells: dict[str, list[str]] = defaultdict(list)
    for n, offer in enumerate(names):
        cells[offer].append(placed.cell("amount", n))
    for offer, addresses in cells.items():
        report.amounts["buy-in", offer] = "+".join(addresses)
