"""The sheet of what binds: shadow prices in plain words."""

from __future__ import annotations

from model.planned.plan_tables import records
from reports.book.parts import SheetColumn
from reports.book.style import CellKind
from reports.book.words import AS_PLANNED, held_range, price_of_limit
from reports.plan.figures import is_day_off
from reports.plan.report import Report

ON_PAGE = 40
"""Rows that print on one page."""

PENAL = (
    " Penalties are counted: a limit that keeps an order short saves its penalty, and one more plant of that "
    "order costs it, though nobody pays it."
)
"""What is said where plants are short."""


def what_binds(report: Report) -> None:
    """Every limit with a price: what one more of it saves or costs, and how far that holds."""
    sheet = report.open(
        "What binds",
        "What binds",
        "What one more slot, hour or plant would save, and what one more plant of an order would cost. "
        "Each price holds if that limit alone changes, within the range given. Beyond the range the "
        "saving may be smaller and the cost larger. If the range ends at the limit now, this may be so from "
        "the first one more. The prices come from the plan with fractional trays, packs and units; "
        f"{AS_PLANNED}."
        f"{PENAL if report.plan.penalties else ''}",
        f"On paper: the first {ON_PAGE} rows, the limits whose saving is largest.",
    )
    sheet.one_page, sheet.paper_rows = True, ON_PAGE
    rows = [row for row in records(report.plan.shadow_prices) if not is_day_off(row["limit"], row["at"])]
    rows.sort(
        key=lambda row: (row["limit"] == "order", row["value"], row["limit"], row["name"], str(row["day"]))
    )
    for row in rows:
        limit = row["limit"], row["name"], row["day"], row["value"]
        row["words"] = price_of_limit(*limit, report.currency)
        row["range"] = held_range(row["low"], row["high"], row["unit"])
    columns = [
        SheetColumn("words", "In words", widest=72),
        report.column("shadow_prices", "limit"),
        report.column("shadow_prices", "name", widest=22),
        report.column("shadow_prices", "day"),
        report.column("shadow_prices", "value", kind=CellKind.EACH),
        report.column("shadow_prices", "at", kind=CellKind.DECIMAL),
        report.column("shadow_prices", "unit"),
        SheetColumn("range", "Price holds", widest=46),
    ]
    sheet.table(columns, rows)
