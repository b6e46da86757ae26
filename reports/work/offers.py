"""Offer sheets: one page for each order asked for, to send to the customer.

The price is that of the quote: what the plants add to the cost of the plan and their overhead, at the profit
margin, or the customer's or the list's where there is one. No penalty is in it. Amounts follow the price, the
deposit and the plants, which the nursery may change before it sends the page.

That plants short are not charged, and their deposit is given back, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import floor
from pathlib import Path
from typing import NamedTuple

from model.network.charges import billed_share, filling_plants
from model.planned.cash import Terms, terms_of
from model.planned.lots import whole
from model.scenario.choices import MethodKind
from model.scenario.entities import Order, Product, Scenario, TrayFormat
from model.scenario.lateness import days_late_most
from model.scenario.own_seed import own_lots
from model.scenario.run_days import leaving, run_by_customer
from reports.book import style
from reports.book.parts import DEFERS, Book, Cell, Formula, Sheet, SheetColumn, whole_file
from reports.book.style import CellKind
from reports.book.words import TO_MIND, percent, plants_in_words, plants_told
from reports.book.writing import grouped, shown_day
from reports.plan.figures import weekday
from reports.study.study import sheet_names
from reports.work.dispatch_notes import OWN_SEED, varieties
from reports.work.page_parts import page_width, section, to_sign

NAME = "offers.xlsx"
"""The file of the offer sheets."""

PROMISED = (
    "The plants named above leave the nursery on the day named, in trays of the format named. The nursery "
    "has planned them beside all orders that it has booked."
)

WHOLE = 1e-6
"""Part of a plant by which a number of extra plants may miss a whole one."""

SHORT = (
    "Plants grow and may fail. Those that do not come are not charged, and a deposit paid for them is given "
    "back. Say so at once if fewer plants, or later ones, would leave you without a crop."
)

TAX = "Prices are without sales tax, unless a note on this page says otherwise."

LAW = "Terms that both sides have signed, and local law on sales and plant health, come before this page."


class Offer(NamedTuple):
    """An order asked for, the plants of it that are offered, and the price of a plant billed, in currency.

    ``early``: share of the list price that it is spared since it is placed early. ``seed``: the seed that the
    customer must send, in words; blank for none.
    """

    order: Order
    plants: int
    price: float
    early: float = 0.0
    seed: str = ""

    @property
    def billed(self) -> int:
        """Plants offered that are billed: all but the extra ones."""
        return self.plants - floor(self.plants * (1 - billed_share(self.order)) + WHOLE)


def write_offers(scenario: Scenario, offers: Sequence[Offer], path: Path) -> None:
    """Write the sheets to ``path``, whole or not at all; each prints on one page. Raises OSError if it fails.

    If nothing can be offered, one sheet says so.
    """
    names = sheet_names("", [offer.order.order for offer in offers])
    with whole_file(path) as part:
        book = Book(part, f"Offers of {scenario.nursery.name}", scenario.nursery)
        for name, offer in zip(names, offers, strict=True):
            sheet = book.sheet(name, f"Offer for {offer.order.order}.")
            sheet.one_page = True
            _page(sheet, scenario, offer)
        if not offers:
            page = book.workbook.add_worksheet("No offers")
            page.write_string(0, 0, "None of the plants asked for can be delivered: nothing is offered.")
        book.close()


def _page(sheet: Sheet, scenario: Scenario, offer: Offer) -> None:
    offer = offer._replace(order=leaving(scenario, offer.order))
    order, nursery = offer.order, scenario.nursery
    product = next(row for row in scenario.products if row.product == order.product)
    tray = next(row for row in scenario.tray_formats if row.format == product.final_format)
    method = next(row for row in scenario.methods if row.method == product.method)
    grafted = method.kind is not MethodKind.OWN_ROOT
    terms = terms_of(scenario, order.customer)
    sheet.write(0, 0, "Offer", **style.TITLE)
    sheet.row = 2
    sheet.table(FACTS, _facts(scenario, offer, product, tray, grafted=grafted))
    _money(sheet, scenario, offer, terms)
    note = nursery.tax_note or TAX
    late = [_late(order, days, scenario)] if (days := days_late_most(order, nursery)) else []
    seed = [OWN_SEED] if own_lots(scenario, order) else []
    for heading, texts in (
        ("What is promised", [PROMISED]),
        ("What you risk", [SHORT, *late, *seed, *([TO_MIND["planting"]] if grafted else [])]),
        ("Tax and law", [note, LAW, *([order.note] if order.note else [])]),
    ):
        section(sheet, heading, texts)
    for label in ("Offer holds until", "For the nursery, day", "Accepted, day"):
        to_sign(sheet, label)
    sheet.lines(DEFERS, page_width(sheet), style.CAUTION)


FACTS = (SheetColumn("what", "This offer", widest=24), SheetColumn("said", "Details", widest=48))


def _facts(
    scenario: Scenario, offer: Offer, product: Product, tray: TrayFormat, *, grafted: bool
) -> list[list[Cell]]:
    order, nursery, trays = offer.order, scenario.nursery, whole(offer.plants / tray.cells)
    full, extra = offer.plants == order.quantity, offer.plants - offer.billed
    fewer = "" if full else f"; {plants_told(order)} were asked for"
    plants = plants_in_words(offer.billed, filling_plants(order) if full else 0, extra)
    plants += ", not billed" if extra else ""
    placed = order.ordered_day
    placed_early: list[list[Cell]] = []
    if offer.early and placed:
        said = f"placed on {_on(placed)}: {percent(offer.early)} off the list price"
        placed_early = [["Early order", said]]
    rows: list[list[Cell]] = [
        ["Nursery", nursery.name],
        ["For", order.customer],
        ["Offer", order.order],
        ["Product", product.product],
        ["Crop and varieties", varieties(product, grafted=grafted)],
        ["Plants", f"{plants}{fewer}"],
        ["Trays", f"{grouped(trays)} of {tray.format}, {grouped(tray.cells)} cells each"],
        ["Plants leave on", _on(order.due_day)],
        *placed_early,
    ]
    rows += [["Your seed", offer.seed]] if offer.seed else []
    if (run := run_by_customer(scenario).get(order.customer)) is not None:
        rows.append(["With run", run.run])
    return [*rows, ["Written on", _on(nursery.today)]] if nursery.today else rows


def _on(day: date) -> str:
    return f"{weekday(day)} {shown_day(day)}"


def _money(sheet: Sheet, scenario: Scenario, offer: Offer, terms: Terms) -> None:
    """Price, deposit and the rest to pay, each with its day; cells marked * may be changed.

    No deposit is asked for before the day of the offer.
    """
    money, today = scenario.nursery.currency, scenario.nursery.today or scenario.nursery.first_day
    due, pays_first = offer.order.due_day, terms.deposit_share > 0
    amount = offer.billed * offer.price
    what = {"plants": offer.billed, "price": offer.price, "share": terms.deposit_share}
    deposit = terms.deposit_share * amount
    columns = [
        SheetColumn(
            "plants",
            "Plants" if offer.billed == offer.plants else "Plants billed",
            CellKind.COUNT,
            change=True,
        ),
        SheetColumn("price", f"Price ({money} a plant)", CellKind.PRICE, change=True),
        SheetColumn("amount", f"Amount ({money})", CellKind.MONEY),
        *([SheetColumn("share", "Deposit, share", CellKind.SHARE, change=True)] if pays_first else []),
    ]
    placed = sheet.table(columns, [what | {"amount": Formula("={plants}*{price}", amount)}])
    # A sheet is named as its order, whose braces a formula would take for a column.
    of, *share = (placed.cell(key, 0).rpartition("!")[2] for key in ("amount", "share") if key in placed.at)
    first = f"{share[0]}*{of}" if share else "0"
    rows: list[list[Cell]] = [
        ["Deposit", terms.deposit_day(due, today), Formula(f"={first}", deposit)],
        [
            "Rest, when the plants have left",
            due + timedelta(days=terms.terms_days),
            Formula(f"={of}-{first}", amount - deposit),
        ],
    ]
    columns = [
        SheetColumn("what", "To pay"),
        SheetColumn("day", "By", CellKind.DAY),
        SheetColumn("amount", f"Amount ({money})", CellKind.MONEY, total=True),
    ]
    sheet.table(columns, rows if pays_first else rows[1:])


def _late(order: Order, days: int, scenario: Scenario) -> str:
    own = order.late_discount
    share = scenario.nursery.late_discount if own is None else own
    return (
        f"Plants may leave up to {days} days late. A plant that does costs {percent(share or 0.0)} less for "
        "each week, or part of one, that it comes late."
    )
