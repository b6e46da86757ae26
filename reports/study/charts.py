"""Charts as SVG and PNG, from the same description as the workbook's charts.

One drawing serves both: the PNG is the SVG in pixels. Series differ by pattern, dash or mark, so that they
can be told apart in black and white. Every value is a mark with its own words; a keyboard can reach it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from unicodedata import east_asian_width
from xml.etree import ElementTree as ET

from model.planned.plan_tables import TINY
from reports.book import style
from reports.book.parts import SheetColumn
from reports.book.style import CellKind
from reports.book.words import printable
from reports.study import patterns as looks
from reports.study.study import (
    Chart,
    Section,
    Study,
    fill_of,
    line_of,
    lowest,
    mark_of,
    series_name,
    value_of,
)

WIDTH = 900
PLOT_HEIGHT = 270
HEIGHT_ABOVE, RIGHT = 40, 24
SIZE, TITLE_SIZE = 13, 16
"""Sizes of text, in units of the drawing."""

LINE = 20
"""Height of a line of the legend, in units of the drawing."""

LONGEST_LABEL = 34
"""Most characters of a category's label; its marks say the full name."""

LEAST_BAND = 15
"""Least distance between two labels, in units of the drawing; closer ones are left out."""

SLOPE = math.radians(50)
"""Slope of labels that do not fit beside each other, in radians."""

ZOOM = 1.5
"""Pixels of a PNG for each unit of the drawing."""

TICKS = 5
"""About how many steps an axis of values has."""

CLOSE = 5 / 6
"""If the lowest value is above this share of the highest, an axis of lines does not start at 0."""

HELP = "Values. Left and right move along the chart, up and down between its series."


@dataclass(frozen=True, slots=True)
class Series:
    """Values drawn alike. ``n`` numbers the series of one kind and decides pattern, dash or mark."""

    name: str
    values: list[float | None]
    kind: CellKind
    drawn: Literal["columns", "stacked", "line", "points"]
    n: int


@dataclass(frozen=True, slots=True)
class Axis:
    """The axis of values, from ``low`` to ``high`` with lines at ``ticks``."""

    low: float
    high: float
    ticks: list[float]

    def share(self, value: float) -> float:
        """Height of a value on the axis, as a share from 0 to 1."""
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Frame:
    """The area of the values in the drawing: its left edge, number of categories and axis."""

    left: float
    categories: int
    axis: Axis

    @property
    def band(self) -> float:
        """Width of a category."""
        return (WIDTH - RIGHT - self.left) / self.categories

    def across(self, place: float) -> float:
        """Horizontal middle of the category ``place``, from the left of the drawing."""
        return self.left + (place + 0.5) * self.band

    def down(self, value: float) -> float:
        """Vertical place of a value, from the top of the drawing."""
        return HEIGHT_ABOVE + PLOT_HEIGHT * (1 - self.axis.share(value))


def svg_of(section: Section, chart: Chart, name: str = "chart") -> str:
    """The chart of the section's rows as an SVG element; ``name`` starts its ids.

    It holds its title, its text and each value in words. The section must have at least one row.
    """
    columns = {column.key: column for column in section.columns}
    categories = _texts(section, chart)
    series = _series(section, chart, columns)
    axis = _axis(series, lowest(section, chart) if chart.kind == "points" else None)
    labels = [label if len(label) <= LONGEST_LABEL else f"{label[:LONGEST_LABEL]}…" for label in categories]
    ticks = [_tick(tick, axis, series[0].kind) for tick in axis.ticks]
    left = 34 + max(map(_width, ticks))
    longest = max(map(_width, labels))
    sloping = longest > (WIDTH - RIGHT - left) / len(labels) - 6
    if sloping:
        left = max(left, longest * math.cos(SLOPE) - (WIDTH - RIGHT - left) / len(labels) / 2 + 8)
    frame = Frame(left, len(labels), axis)
    below = HEIGHT_ABOVE + PLOT_HEIGHT + 24 + (longest * math.sin(SLOPE) if sloping else 0)
    legend = _legend_lines(series) if len(series) > 1 else []
    height = math.ceil(below + 26 + LINE * len(legend) + 4)

    root = _root(name, chart, height)
    _patterns(root, series, name)
    back = ET.SubElement(root, "g", {"aria-hidden": "true"})
    _put(back, "rect", x=0, y=0, width=WIDTH, height=height, fill="#FFFFFF")
    _text(back, chart.title, 12, 24, size=TITLE_SIZE, weight="bold")
    _value_axis(back, frame, ticks, chart.y_title)
    _category_axis(back, frame, labels, sloping)
    _text(back, chart.x_title, (left + WIDTH - RIGHT) / 2, below + 12, anchor="middle")
    _legend(back, legend, below + 26, name)
    _values(root, frame, series, categories, name)
    return ET.tostring(root, encoding="unicode")


def write_png(section: Section, chart: Chart, path: Path) -> None:
    """Write the same drawing as a PNG file; raises OSError if that fails."""
    import font_source_sans_pro as font
    import resvg_py

    files = [font.font_files_ttf["SourceSansPro"], font.font_files_ttf["SourceSansProBold"]]
    made = resvg_py.svg_to_bytes(
        svg_string=svg_of(section, chart),
        font_files=files,
        style_sheet="text { font-family: 'Source Sans Pro' }",
        zoom=ZOOM,
    )
    path.write_bytes(made)


def write_pictures(study: Study, folder: Path) -> None:
    """Write every chart of the study as a PNG to a new folder, with a list of titles and texts.

    A study without charts gets no folder. Files have numbers for names, since no user's text may become a
    path. Raises OSError if a file cannot be written.
    """
    charts = [(section, chart) for section in study.sections if section.rows for chart in section.charts]
    if not charts:
        return
    folder.mkdir()
    words = []
    for n, (section, chart) in enumerate(charts, 1):
        name = f"{n:02}.png"
        write_png(section, chart, folder / name)
        words.append(f"{name}: {printable(chart.title)}. {printable(chart.alt)}\n")
    (folder / "alt_texts.txt").write_text("".join(words), encoding="utf-8", newline="\n")


# What is drawn


def _drawn_rows(section: Section, chart: Chart) -> list[int]:
    return list(range(*(chart.rows or (0, len(section.rows)))))


def _texts(section: Section, chart: Chart) -> list[str]:
    at = next(n for n, column in enumerate(section.columns) if column.key == chart.x)
    kind = section.columns[at].kind
    return [
        printable(style.printed(value_of(section.rows[row][at]), kind)) for row in _drawn_rows(section, chart)
    ]


def _series(section: Section, chart: Chart, columns: dict[str, SheetColumn]) -> list[Series]:
    rows, places = _drawn_rows(section, chart), {key: n for n, key in enumerate(columns)}
    made = []
    for keys, drawn in ((chart.y, chart.kind), (chart.lines, "line")):
        for n, key in enumerate(keys):
            values = [_number(value_of(section.rows[row][places[key]])) for row in rows]
            name = printable(series_name(section, chart, key))
            made.append(Series(name, values, columns[key].kind, drawn, n))
    return made


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else None


def _axis(series: list[Series], low: float | None) -> Axis:
    """From 0, or ``low``, to the highest value, in round steps; from below 0 if a value is negative.

    If there are only lines, and their values differ by less than a sixth, the axis begins at the lowest
    value, as in workbooks, so that the difference shows.
    """
    reached = [value for one in series if one.drawn != "stacked" for value in one.values if value is not None]
    stacks = [one.values for one in series if one.drawn == "stacked"]
    for stack in zip(*stacks, strict=True):
        values = [value for value in stack if value is not None]
        reached += [sum(v for v in values if v > 0), sum(v for v in values if v < 0)]
    if low is None and reached and all(one.drawn == "line" for one in series):
        low = min(reached) if min(reached) > CLOSE * max(reached) else None
    bottom = min([*reached, 0.0]) if low is None else low
    top = max([*reached, bottom])
    step = _step(top - bottom if top - bottom > TINY else 1.0)
    first, last = math.floor(bottom / step + 1e-9), math.ceil(top / step - 1e-9)
    ticks = [n * step for n in range(first, max(last, first + 1) + 1)]
    return Axis(ticks[0], ticks[-1], ticks)


def _step(span: float) -> float:
    """A round step, so that about ``TICKS`` make the span: 1, 2, 2.5 or 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(span / TICKS))
    return next(step * power for step in (1, 2, 2.5, 5, 10) if step * power * TICKS >= span * (1 - 1e-9))


def _tick(tick: float, axis: Axis, kind: CellKind) -> str:
    step = axis.ticks[1] - axis.ticks[0]
    if kind is CellKind.SHARE:
        places = max(0, -math.floor(math.log10(step * 100) + 1e-9))
        return f"{tick:.{places}%}"
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    places += not math.isclose(step * 10**places, round(step * 10**places))
    return f"{tick:,.{places}f}"


# The drawing


def _root(name: str, chart: Chart, height: int) -> ET.Element:
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {WIDTH} {height}",
            "width": str(WIDTH),
            "height": str(height),
            "class": "chart",
            "role": "graphics-document",
            "aria-labelledby": f"{name}-title",
            "aria-describedby": f"{name}-text",
            "font-family": looks.FAMILY,
        },
    )
    _put(root, "title", id=f"{name}-title").text = printable(chart.title)
    _put(root, "desc", id=f"{name}-text").text = printable(chart.alt)
    return root


def _put(parent: ET.Element, tag: str, **attributes: object) -> ET.Element:
    """Add an element. Lengths are rounded to a hundredth; ``_`` in a name becomes ``-``."""
    words = {
        key.rstrip("_").replace("_", "-"): f"{value:.2f}".rstrip("0").rstrip(".")
        if isinstance(value, float)
        else str(value)
        for key, value in attributes.items()
    }
    return ET.SubElement(parent, tag, words)


def _text(
    parent: ET.Element,
    words: str,
    x: float,
    y: float,
    *,
    anchor: str = "start",
    size: int = SIZE,
    weight: str = "normal",
    turn: float = 0,
) -> None:
    made = _put(parent, "text", x=x, y=y, font_size=size, fill=looks.INK, text_anchor=anchor)
    if weight != "normal":
        made.set("font-weight", weight)
    if turn:
        made.set("transform", f"rotate({turn:g} {x:.2f} {y:.2f})")
    made.text = printable(words)


def _width(words: str) -> float:
    """Approximate width of a text, in units of the drawing."""
    return sum(1.0 if east_asian_width(c) in "WF" else 0.53 for c in words) * SIZE


def _patterns(root: ET.Element, series: list[Series], name: str) -> None:
    defs = ET.SubElement(root, "defs")
    for one in series:
        colour, pattern = fill_of(one.n)
        if one.drawn in ("columns", "stacked") and pattern is not None:
            tile = looks.TILES[pattern]
            made = _put(defs, "pattern", id=f"{name}-fill-{one.n}", width=tile.side, height=tile.side)
            made.set("patternUnits", "userSpaceOnUse")
            _put(made, "rect", width=tile.side, height=tile.side, fill="#FFFFFF")
            _put(made, "path", d=tile.path, stroke=colour, stroke_width=tile.stroke, fill="none")


def _fill(one: Series, name: str) -> str:
    colour, pattern = fill_of(one.n)
    return colour if pattern is None else f"url(#{name}-fill-{one.n})"


def _value_axis(back: ET.Element, frame: Frame, ticks: list[str], title: str) -> None:
    right = WIDTH - RIGHT
    for tick, words in zip(frame.axis.ticks, ticks, strict=True):
        y, zero = frame.down(tick), tick in (0, frame.axis.low)
        _put(back, "path", d=f"M{frame.left:.2f},{y:.2f} H{right}", stroke=style.RULE if zero else looks.GRID)
        _text(back, words, frame.left - 6, y + SIZE / 3, anchor="end")
    words = f"{title} (axis begins above 0)" if frame.axis.low > 0 else title
    _text(back, words, 16, HEIGHT_ABOVE + PLOT_HEIGHT / 2, anchor="middle", turn=-90)


def _category_axis(back: ET.Element, frame: Frame, labels: list[str], sloping: bool) -> None:
    y, every = HEIGHT_ABOVE + PLOT_HEIGHT + SIZE + 5, math.ceil(LEAST_BAND / frame.band)
    for n in range(0, len(labels), every):
        if sloping:
            x = frame.across(n) + 4
            _text(back, labels[n], x, y - 4, anchor="end", turn=-math.degrees(SLOPE))
        else:
            _text(back, labels[n], frame.across(n), y, anchor="middle")


def _legend_lines(series: list[Series]) -> list[list[tuple[Series, float]]]:
    """Lines of the legend: each series with its horizontal place."""
    lines: list[list[tuple[Series, float]]] = [[]]
    x = 12.0
    for one in series:
        width = 46 + _width(one.name)
        if lines[-1] and x + width > WIDTH - RIGHT:
            lines.append([])
            x = 12.0
        lines[-1].append((one, x))
        x += width + 14
    return lines


def _legend(back: ET.Element, lines: list[list[tuple[Series, float]]], top: float, name: str) -> None:
    for n, line in enumerate(lines):
        middle = top + LINE * n + LINE / 2
        for one, x in line:
            if one.drawn in ("columns", "stacked"):
                fill = _fill(one, name)
                _put(back, "rect", x=x, y=middle - 7, width=32, height=14, fill=fill, stroke=looks.INK)
            elif one.drawn == "line":
                _path(back, f"M{x:.2f},{middle:.2f} h34", one)
                _mark(back, one, x + 17, middle)
            else:
                _mark(back, one, x + 17, middle)
            _text(back, one.name, x + 40, middle + SIZE / 3)


def _path(parent: ET.Element, d: str, one: Series) -> None:
    dash, _ = line_of(one.n)
    made = _put(parent, "path", d=d, stroke=looks.INK, stroke_width=2, fill="none")
    made.set("stroke-dasharray", looks.DASHES[dash])
    made.set("aria-hidden", "true")


def _mark(parent: ET.Element, one: Series, x: float, y: float) -> ET.Element:
    mark = mark_of(one.n) if one.drawn == "points" else line_of(one.n)[1]
    d = looks.DOT if mark is None else looks.MARKS[mark]
    made = _put(
        parent, "path", d=d, fill="#FFFFFF" if mark is None else looks.INK, stroke=looks.INK, stroke_width=1.5
    )
    made.set("transform", f"translate({x:.2f} {y:.2f})")
    return made


def _values(root: ET.Element, frame: Frame, series: list[Series], categories: list[str], name: str) -> None:
    """Draw every value as a mark with its words: columns first, lines over them."""
    group = ET.SubElement(root, "g", {"class": "values", "role": "application", "aria-label": HELP})
    columns = [one for one in series if one.drawn == "columns"]
    heaps = [(0.0, 0.0)] * len(categories)
    for order, one in enumerate(series):
        if one.drawn == "line" and any(value is not None for value in one.values):
            _path(group, _line(frame, one), one)
        for n, value in enumerate(one.values):
            if value is None or (one.drawn == "stacked" and value == 0):
                continue
            if one.drawn == "stacked":
                start = heaps[n][value < 0]
                heaps[n] = (heaps[n][0], start + value) if value < 0 else (start + value, heaps[n][1])
                made = _column(group, frame, (n, 0.0, 0.7), (start, start + value))
            elif one.drawn == "columns":
                width = 0.8 / len(columns)
                aside = (columns.index(one) - (len(columns) - 1) / 2) * width
                made = _column(group, frame, (n, aside, width), (0.0, value))
            else:
                made = _mark(group, one, frame.across(n), frame.down(value))
            if one.drawn in ("stacked", "columns"):
                made.set("fill", _fill(one, name))
            _say(made, f"{categories[n]}, {one.name}: {style.printed(value, one.kind)}", n, order)
    first = group.find("*[@tabindex]")
    if first is not None:
        first.set("tabindex", "0")


def _column(
    group: ET.Element, frame: Frame, place: tuple[int, float, float], values: tuple[float, float]
) -> ET.Element:
    """Draw a column between two values; ``place``: category, offset and width as shares of the category."""
    n, aside, width = place
    ends = sorted(frame.down(min(max(value, frame.axis.low), frame.axis.high)) for value in values)
    across = frame.across(n + aside) - width * frame.band / 2
    height = max(ends[1] - ends[0], 0.5)
    made = _put(group, "rect", x=across, y=ends[0], width=width * frame.band, height=height)
    made.set("stroke", looks.INK)
    made.set("stroke-width", "0.75")
    return made


def _line(frame: Frame, one: Series) -> str:
    """The SVG path from value to value, with a gap where a value is missing."""
    parts, pen = [], "M"
    for n, value in enumerate(one.values):
        if value is None:
            pen = "M"
            continue
        parts.append(f"{pen}{frame.across(n):.2f},{frame.down(value):.2f}")
        pen = "L"
    return " ".join(parts)


def _say(made: ET.Element, words: str, across: int, order: int) -> None:
    for key, value in {
        "role": "graphics-symbol",
        "aria-label": words,
        "tabindex": "-1",
        "data-x": str(across),
        "data-y": str(order),
    }.items():
        made.set(key, value)
