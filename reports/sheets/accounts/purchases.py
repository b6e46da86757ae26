"""Sheets of what is bought: seed, supplies, stock, buy-in, runs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from model.planned.cash import offer_terms, pack_terms
from model.planned.plan_tables import records
from model.planned.rides import rides_of
from model.scenario.calendar import week_of
from reports.book.parts import Cell, Formula, Placed, SheetColumn
from reports.book.style import CellKind
from reports.plan.report import Report


def seed(report: Report) -> None:
    """Seed to order: packs, price, last day to order."""
    variety = {lot.lot: lot.variety for lot in report.scenario.seed_lots}
    sender = {lot.lot: lot.customer for lot in report.scenario.seed_lots if lot.customer is not None}
    said = ABOUT_PACKS + (SENT if sender else "")
    report.open("Seed", "Seed budget", said, cautions=["sowing"])
    about = [(SheetColumn("about", "Variety"), variety)]
    if sender:
        about.append((SheetColumn("sender", "Sent by its customer"), sender))
    _packs(report, "Seed", "seed", "Seed lot", about)


def supplies(report: Report) -> None:
    """Clips, stakes, media, trays ... to order."""
    unit = {supply.supply: supply.unit for supply in report.scenario.supplies}
    report.open("Supplies", "Supplies budget", ABOUT_PACKS)
    _packs(report, "Supplies", "supply", "Supply", [(SheetColumn("about", "Unit"), unit)])


ABOUT_PACKS = (
    "Packs to order. The stock on hand is used first (see Stock). Order by: the first day of need less the "
    "lead time. Change the packs in the column marked *, or the price on the sheet Prices: the amounts "
    "follow."
)

SENT = (
    " Seed that a customer sends costs nothing: order by is then the day by which that many seeds are in the "
    "nursery. Tell the customer."
)


def _packs(
    report: Report,
    name: str,
    kind: str,
    item: str,
    about: Sequence[tuple[SheetColumn, dict[str, str]]],
) -> None:
    """The packs of a kind; ``item``: the heading of their names, ``about``: columns on what they are."""
    opening, line = report.scenario.nursery.first_day, "seed" if kind == "seed" else "supplies"
    terms = pack_terms(report.scenario)
    rows = [row for row in records(report.plan.purchases) if row["kind"] == kind]
    rows.sort(key=lambda row: (row["order_by"] or opening, row["item"], -row["size"]))
    some = any(row["ordered"] > 0 for row in rows)
    both = "({ordered}+{packs})" if some else "{packs}"
    for row in rows:
        paid = (row["order_by"] or opening) + timedelta(days=terms[row["item"], row["size"]])
        row["week"] = week_of(paid)
        row |= {of.key: told.get(row["item"]) for of, told in about}
        row["bought"] = Formula(f"={{size}}*{both}", row["size"] * row["packs"])
        row["price"] = Formula("=" + report.prices["pack", row["item"], repr(row["size"])], row["price"])
        row["amount"] = Formula(f"={both}*{{price}}", row["amount"])
        row["packs"] -= row["ordered"]
    columns = [
        SheetColumn("item", item),
        *(of for of, _ in about),
        *report.columns("purchases", "size", *(["ordered"] if some else [])),
        report.column("purchases", "packs", heading="Packs to order", change=True),
        SheetColumn("bought", "Units bought", CellKind.COUNT),
        report.column("purchases", "price"),
        report.column("purchases", "amount", total=True),
        *report.columns("purchases", "needed_day", "order_by"),
        SheetColumn("week", "Paid in week from", CellKind.DAY),
    ]
    _keep_amounts(report, report.table(name, columns, rows), line, [row["item"] for row in rows])


def _keep_amounts(report: Report, placed: Placed, line: str, names: Sequence[str]) -> None:
    """Keep the sum of the amounts of each name; ``names``: the item or offer of each row."""
    cells: dict[str, list[str]] = defaultdict(list)
    for n, name in enumerate(names):
        cells[name].append(placed.cell("amount", n))
    report.amounts.update({(line, name): "+".join(of) for name, of in cells.items()})


COME_BACK = (
    " Come back: units that are washed and stock again within the season; they are used many times, so used "
    "may be more than was ever there at one time."
)


def stock(report: Report) -> None:
    """Every seed lot and supply: on hand, bought, used, come back, left."""
    rows = records(report.plan.items)
    coming = any(row["back"] > 0 for row in rows)
    said = "Stock on hand is used before packs bought. Left: units left at the end, as packs are whole."
    sheet = report.open("Stock", "Stock of seed and supplies", said + (COME_BACK if coming else ""))
    for row in rows:
        row["of_stock"] = min(row["stock"], row["used"])
        row["left"] = Formula("={stock}+{bought}" + ("+{back}" if coming else "") + "-{used}", row["left"])
    columns = [
        *report.columns("items", "item", "kind", "unit", "stock", "bought", "used"),
        *report.columns("items", *(["back"] if coming else [])),
        SheetColumn("of_stock", "Of that from stock", CellKind.COUNT),
        *report.columns("items", "left", "lead_days"),
    ]
    sheet.table(columns, rows)


def buy_in(report: Report) -> None:
    """Finished plants from other nurseries."""
    report.open(
        "Buy-in",
        "Buy-in",
        "Finished plants bought from other nurseries, by offer, delivery and order. Change the plants in "
        "the column marked *, or the price on the sheet Prices: the amounts follow.",
    )
    rows, terms = records(report.plan.buy_in), offer_terms(report.scenario)
    for row in rows:
        row["week"] = week_of(row["arrival_day"] + timedelta(days=terms[row["offer"]]))
        row["price"] = Formula("=" + report.prices["offer", row["offer"]], row["price"])
        row["amount"] = Formula("=({plants}+{spare})*{price}", row["amount"])
    columns = [
        *report.columns("buy_in", "offer", "product", "order", "order_by", "arrival_day"),
        SheetColumn("week", "Paid in week from", CellKind.DAY),
        report.column("buy_in", "plants", total=True, change=True),
        report.column("buy_in", "spare", total=True),
        report.column("buy_in", "price"),
        report.column("buy_in", "amount", total=True),
    ]
    placed = report.table("Buy-in", columns, rows)
    _keep_amounts(report, placed, "buy-in", [row["offer"] for row in rows])


def runs(report: Report) -> None:
    """Vehicles that leave, what rides on them, what they cost."""
    report.open(
        "Runs",
        "Runs",
        "Vehicles that leave with orders, paid in the week in which they leave. Trays: whole ones for each "
        "order. Room for: the trays that they carry. Change the vehicles in the column marked *, or the "
        "prices on the sheet Prices: the amounts follow.",
    )
    riding: dict[tuple[str, date], list[str]] = defaultdict(list)
    for ride in rides_of(report.scenario, report.plan):
        riding[ride.run, ride.day].append(ride.order)
    of = {run.run: run for run in report.scenario.runs}
    rows: list[dict[str, Cell]] = []
    for row in records(report.plan.runs):
        name, run = row["run"], of[row["run"]]
        row["each"] = Formula("=" + report.prices["vehicle", name], run.fixed_cost)
        row["tray"] = Formula("=" + report.prices["tray", name], run.cost_per_tray)
        row["carries"] = Formula(f"={{vehicles}}*{run.trays}", row["carries"])
        row["amount"] = Formula("={vehicles}*{each}+{trays}*{tray}", row["amount"])
        row["week"], row["orders"] = week_of(row["day"]), "; ".join(riding[name, row["day"]])
        rows.append(row)
    money = report.currency
    columns = [
        *report.columns("runs", "run", "day"),
        SheetColumn("week", "Paid in week from", CellKind.DAY),
        report.column("runs", "vehicles", total=True, change=True),
        *report.columns("runs", "trays", "carries", total=True),
        SheetColumn("each", f"A vehicle ({money})", CellKind.PRICE),
        SheetColumn("tray", f"A tray ({money})", CellKind.PRICE),
        report.column("runs", "amount", total=True),
        SheetColumn("orders", "Orders", widest=60),
    ]
    placed = report.table("Runs", columns, rows)
    _keep_amounts(report, placed, "freight", report.plan.runs["run"].tolist())
