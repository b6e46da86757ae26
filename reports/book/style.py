"""The one look of all workbooks: fonts, number formats, page set-up and chart series.

Reports are also read in black and white and by screen readers. So a colour only repeats what a word, a
mark, a pattern or a dash already says. The colours are those of Okabe and Ito, a published palette
that people with any common colour vision tell apart.
"""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Any

from reports.book.writing import figure, grouped, shown_day, shown_share, writing

FONT = "Arial"
"""On every office computer, or replaced there by a font of the same widths."""

FONT_SIZE = 10

INK = "#1A1A1A"
RULE = "#7F7F7F"
HEADING_FILL = "#E6E6E6"
CHANGE_FILL = "#FFF6D6"
LINK = "#0B4F8A"

BLUE, ORANGE, GREEN, GREY = "#0072B2", "#E69F00", "#009E73", "#BFBFBF"

CHANGE_MARK = "*"
"""Ends the heading of a column that the reader may change."""


class CellKind(StrEnum):
    """What a column of a report holds. It decides the number format and the side of the cell."""

    TEXT = "text"
    DAY = "day"
    COUNT = "count"
    DECIMAL = "decimal"
    HOURS = "hours"
    MONEY = "money"
    PRICE = "price"
    EACH = "each"
    SHARE = "share"
    FACTOR = "factor"
    FIGURE = "figure"


NUMBER_FORMATS = {
    CellKind.TEXT: "General",
    CellKind.COUNT: "#,##0",
    CellKind.DECIMAL: "#,##0.0",
    CellKind.HOURS: "#,##0.00",
    CellKind.FACTOR: "#,##0.0000",
    CellKind.FIGURE: "General",
}
"""Number formats that are the same in all locales."""

FINER = 2
"""Decimals that the price or the cost of one plant, hour or pack has beyond those of the currency."""


def number_format(kind: CellKind, decimals: int) -> str:
    """The number format of a kind of value; ``decimals``: those of the currency.

    A price shows its finer decimals only where it has them, unless the currency has no decimals: a number
    format that leaves them out would then end in a bare point.
    """
    if kind in NUMBER_FORMATS:
        return NUMBER_FORMATS[kind]
    if kind is CellKind.DAY:
        return writing().day_format(writing().day)
    if kind is CellKind.SHARE:
        return writing().share_format()
    if kind is CellKind.MONEY:
        return writing().money_format("#,##0" + ("." + "0" * decimals if decimals else ""))
    optional = kind is CellKind.PRICE and decimals
    return writing().money_format("#,##0." + "0" * decimals + ("#" if optional else "0") * FINER)


CELL: dict[str, Any] = {"valign": "vcenter", "font_color": INK}
TITLE = {"bold": True, "font_size": 15, "font_color": INK}
SECTION = {"bold": True, "font_size": 11, "font_color": INK, "bottom": 1, "bottom_color": RULE}
SECTION_LINK: dict[str, Any] = {"bottom": 1, "bottom_color": RULE, "align": "right"}
NOTE: dict[str, Any] = {"font_color": INK}
FOOT: dict[str, Any] = {**NOTE, "font_size": 8}
CAUTION: dict[str, Any] = {"font_color": INK, "italic": True}
LINKED = {"font_color": LINK, "underline": 1, "valign": "vcenter"}
HEADING = {
    "bold": True,
    "text_wrap": True,
    "valign": "vcenter",
    "bg_color": HEADING_FILL,
    "bottom": 1,
    "font_color": INK,
}
TOTAL = {"bold": True, "top": 1, "bottom": 6, "valign": "vcenter", "font_color": INK}
BOX: dict[str, Any] = {"border": 1, "border_color": INK}
BOX_POINTS = 21.0
"""Height of a row that is written in by hand."""
CHANGE = {"bg_color": CHANGE_FILL, "border": 4, "border_color": RULE}


def side(kind: CellKind) -> str:
    """The side of its cell on which a value of this kind stands."""
    return "left" if kind in (CellKind.TEXT, CellKind.DAY, CellKind.FIGURE) else "right"


def shown(value: Any, kind: CellKind, decimals: int) -> str:
    """A value about as the workbook shows it, to estimate its width; ``decimals``: those of the currency."""
    if value is None:
        return ""
    if isinstance(value, date):
        return shown_day(value)
    if isinstance(value, str):
        return value
    if kind is CellKind.FIGURE:
        return figure(value)
    return _number(value, kind, _places(kind, decimals))


def _places(kind: CellKind, decimals: int) -> int:
    """Decimals of a kind of number; ``decimals``: those of the currency."""
    return {
        CellKind.COUNT: 0,
        CellKind.DECIMAL: 1,
        CellKind.SHARE: 1,
        CellKind.HOURS: 2,
        CellKind.FACTOR: 4,
        CellKind.MONEY: decimals,
    }.get(kind, decimals + FINER)


def _number(value: float, kind: CellKind, places: int) -> str:
    if kind is CellKind.SHARE:
        return shown_share(value, places)
    if kind not in (CellKind.MONEY, CellKind.PRICE, CellKind.EACH):
        return grouped(value, places)
    return writing().sum(value, places)


def columns_filled(colour: str, pattern: str | None = None) -> dict[str, Any]:
    """Fill of a chart's columns: plain, or a pattern of that colour on white."""
    look: dict[str, Any] = {"border": {"color": INK, "width": 0.5}, "gap": 40}
    if pattern is None:
        return {**look, "fill": {"color": colour}}
    return {**look, "pattern": {"pattern": pattern, "fg_color": colour, "bg_color": "#FFFFFF"}}


def line_drawn(dash: str = "solid", mark: str | None = None) -> dict[str, Any]:
    """Look of a chart's line: black, with its own dash and mark."""
    marker = {"type": "none"} if mark is None else _marker(mark)
    return {"line": {"color": INK, "width": 1.75, "dash_type": dash}, "marker": marker}


def points_drawn(mark: str) -> dict[str, Any]:
    """Look of a chart's points: black, with their own mark, and no line between them."""
    return {"line": {"none": True}, "marker": _marker(mark)}


def _marker(mark: str) -> dict[str, Any]:
    return {"type": mark, "size": 7, "border": {"color": INK}, "fill": {"color": INK}}


def printed(value: Any, kind: CellKind, decimals: int) -> str:
    """A value in the workbook's number format, for pages and pictures."""
    if isinstance(value, str | date) or value is None:
        return shown(value, kind, decimals)
    if kind in (CellKind.TEXT, CellKind.FIGURE):
        return figure(value, 10)
    places = _places(kind, decimals)
    rounded = f"{value * (100 if kind is CellKind.SHARE else 1):.{places}f}"
    if kind is CellKind.PRICE and decimals:
        places -= len(rounded[-FINER:]) - len(rounded[-FINER:].rstrip("0"))
    return _number(value if rounded.strip("-0.") else 0.0, kind, places)
