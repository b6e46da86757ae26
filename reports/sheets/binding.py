"""The sheet of what binds: shadow prices in plain words."""

from __future__ import annotations

from model.planned.plan_tables import rows_of
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.words import held_range, price_of_limit
from reports.plan.figures import is_day_off
from reports.plan.report import Report


def what_binds(report: Report) -> None:
    """Every limit with a price: what one more of it saves or costs, and how far that holds."""
    sheet, money = report.sheets["What binds"], report.currency
    sheet.open(
        "What binds",
        [
            "What one more slot, hour or plant would save, and what one more plant of an order would cost. "
            "Each price holds if that limit alone changes, within the range given. Beyond the range the "
            "saving is smaller and the cost larger. If the range ends at the limit now, this is so from the "
            "first one more. The prices come from the plan with fractional trays and packs; temporary hands, "
            "units opened and deliveries bought in stay as they are in this plan.",
        ],
    )
    names = ("limit", "name", "day", "unit", "value", "at", "low", "high")
    found = [row for row in rows_of(report.plan.shadow_prices, *names) if not is_day_off(row[0], row[5])]
    found.sort(key=lambda row: (row[0] == "order", row[4], row[0], row[1], str(row[2])))
    rows: list[list[Cell]] = []
    for limit, name, day, unit, value, at, low, high in found:
        words = price_of_limit(limit, name, day, value, money)
        rows.append([words, limit, name, day, value, at, unit, held_range(low, high, unit)])
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
