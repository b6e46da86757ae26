"""Patterns, dashes and marks of a chart's series as SVG, under the names that workbooks use."""

from __future__ import annotations

from typing import NamedTuple

from reports.book import style


class Tile(NamedTuple):
    """The repeated tile of a pattern: its side, the path drawn in it, the width of the stroke."""

    side: int
    path: str
    stroke: float


TILES = {
    "wide_upward_diagonal": Tile(8, "M0,8 L8,0 M-2,2 L2,-2 M6,10 L10,6", 2.5),
    "light_horizontal": Tile(6, "M0,3 H6", 1),
    "dark_downward_diagonal": Tile(5, "M0,0 L5,5 M-2,3 L2,7 M3,-2 L7,2", 1.5),
    "small_grid": Tile(6, "M0,3 H6 M3,0 V6", 1),
    "dotted_grid": Tile(6, "M2,3 H4", 2),
    "light_vertical": Tile(6, "M3,0 V6", 1),
    "large_check": Tile(10, "M0,2.5 H5 M5,7.5 H10", 5),
    "zigzag": Tile(8, "M0,6 L4,2 L8,6", 1.2),
    "wide_downward_diagonal": Tile(8, "M0,0 L8,8 M-2,6 L2,10 M6,-2 L10,2", 2.5),
    "horizontal_brick": Tile(10, "M0,2.5 H10 M0,7.5 H10 M2.5,2.5 V7.5 M7.5,0 V2.5 M7.5,7.5 V10", 1),
    "solid_diamond": Tile(8, "M4,2 L6,4 L4,6 L2,4 Z", 2.5),
    "outlined_diamond": Tile(10, "M5,0 L10,5 L5,10 L0,5 Z", 1),
    "percent_25": Tile(4, "M0,1 H1 M2,3 H3", 1),
    "dark_horizontal": Tile(6, "M0,3 H6", 3),
}

DASHES = {
    "solid": "none",
    "dash": "8 4",
    "round_dot": "2 4",
    "long_dash_dot": "12 4 2 4",
    "square_dot": "4 4",
    "dash_dot": "8 4 2 4",
}
"""Lengths of strokes and gaps."""

MARKS = {
    "diamond": "M0,-5 L5,0 L0,5 L-5,0 Z",
    "circle": "M-4,0 A4,4 0 1 1 4,0 A4,4 0 1 1 -4,0 Z",
    "triangle": "M0,-5 L5,4 L-5,4 Z",
    "square": "M-4,-4 H4 V4 H-4 Z",
    "short_dash": "M-4,-1 H4 V1 H-4 Z",
    "long_dash": "M-7,-1 H7 V1 H-7 Z",
}
"""Outlines around the point that they mark."""

DOT = "M-2,0 A2,2 0 1 1 2,0 A2,2 0 1 1 -2,0 Z"
"""The dot at each value of a line without a mark of its own."""

INK, GRID = style.INK, "#D9D9D9"
FAMILY = f"{style.FONT}, Helvetica, sans-serif"


PATTERNS = (None, *TILES)
COLOURS = (style.BLUE, style.ORANGE, style.GREEN, style.RULE, style.INK)


def fill_of(n: int) -> tuple[str, str | None]:
    """Colour and pattern of the n-th series of columns; a pattern repeats only after all others."""
    return COLOURS[n % len(COLOURS)], PATTERNS[n % len(PATTERNS)]


def line_of(n: int) -> tuple[str, str | None]:
    """Dash and mark of the n-th line: the first lines have a dash alone, later ones a mark too."""
    more = n // len(DASHES)
    return list(DASHES)[n % len(DASHES)], mark_of(more - 1) if more else None


def mark_of(n: int) -> str:
    """Mark of the n-th series of points."""
    return list(MARKS)[n % len(MARKS)]
