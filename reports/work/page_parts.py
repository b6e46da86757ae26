"""Parts of the pages that are signed and go along with plants: lines to sign on, sections of text."""

from __future__ import annotations

from collections.abc import Sequence

from reports.book import style
from reports.book.parts import NARROWEST_PAGE, Sheet


def to_sign(sheet: Sheet, label: str) -> None:
    """Write a line to sign on, as wide as the table."""
    sheet.page.set_row(sheet.row, style.BOX_POINTS)
    sheet.write(sheet.row, 0, label, **style.CELL)
    for column in range(1, len(sheet.widths)):
        sheet.write(sheet.row, column, None, bottom=1, bottom_color=style.INK)
    sheet.row += 1


def section(sheet: Sheet, heading: str, texts: Sequence[str]) -> None:
    """Write a heading and texts below it, as wide as the page."""
    for column in range(len(sheet.widths)):
        sheet.write(sheet.row, column, None if column else heading, **style.SECTION)
    sheet.row += 1
    for text in texts:
        sheet.lines(text, page_width(sheet), style.NOTE)
    sheet.row += 1


def page_width(sheet: Sheet) -> float:
    """Width of the page in characters: that of its table, or the least for its texts."""
    return max(sheet.width, NARROWEST_PAGE)
