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

from reports.book import style
from reports.book.parts import SheetColumn, value_of
from reports.book.style import CellKind
from reports.book.words import printable, told_apart
from reports.book.writing import grouped, shown_share, writing
from reports.study import patterns as looks
from reports.study.axis import Axis
from reports.study.patterns import fill_of, line_of, mark_of
from reports.study.study import Chart, Section, Study, drawn_axis, number_in, series_name, x_title
from reports.study.templates import rendered

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


@dataclass(frozen=True, slots=True)
class Series:
    """Values drawn alike. ``n`` numbers the series of one kind and decides pattern, dash or mark."""

    name: str
    values: list[float | None]
    kind: CellKind
    drawn: Literal["columns", "stacked", "line", "points"]
    n: int

    @property
    def filled(self) -> bool:
        """Whether its values are columns."""
        return self.drawn in ("columns", "stacked")

    @property
    def tile(self) -> looks.Tile | None:
        """The pattern of its columns; None for plain ones."""
        pattern = fill_of(self.n)[1]
        return None if pattern is None or not self.filled else looks.TILES[pattern]

    @property
    def colour(self) -> str:
        """The colour of its columns or of their pattern."""
        return fill_of(self.n)[0]

    @property
    def dash(self) -> str:
        """Lengths of strokes and gaps of its line."""
        return looks.DASHES[line_of(self.n)[0]]

    @property
    def mark(self) -> str | None:
        """The name of its mark; None for a dot."""
        return mark_of(self.n) if self.drawn == "points" else line_of(self.n)[1]


@dataclass(frozen=True, slots=True)
class Mark:
    """A value as drawn: the box of a column (left, top, width, height), or the place of a mark."""

    words: str
    category: int
    box: tuple[float, float, float, float] | None
    at: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Frame:
    """The area of the values in the drawing: its left edge, number of categories and axis."""

    left: float
    categories: int
    axis: Axis

    @property
    def right(self) -> int:
        """Right edge, from the left of the drawing."""
        return WIDTH - RIGHT

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


def svg_of(section: Section, chart: Chart, name: str = "chart", *, decimals: int) -> str:
    """The chart of the section's rows as an SVG element; ``name`` starts its ids.

    ``decimals``: those of sums in the currency.
    It holds its title, its text and each value in words. The section must have at least one row.
    """
    columns = {column.key: column for column in section.columns}
    categories = _texts(section, chart, decimals)
    series = _series(section, chart, columns)
    axis = drawn_axis(section, chart)
    labels = told_apart(categories, LONGEST_LABEL)
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

    return rendered(
        "chart.svg",
        name=name,
        chart=chart,
        x_title=x_title(section, chart),
        width=WIDTH,
        height=height,
        top=HEIGHT_ABOVE,
        plot=PLOT_HEIGHT,
        below=below,
        size=SIZE,
        title_size=TITLE_SIZE,
        line_height=LINE,
        frame=frame,
        ticks=list(zip(axis.ticks, ticks, strict=True)),
        labels=list(enumerate(labels))[:: math.ceil(LEAST_BAND / frame.band)],
        slope=-math.degrees(SLOPE) if sloping else 0,
        legend=legend,
        drawn=[(one, _path(one, frame), _marks(one, series, frame, categories, decimals)) for one in series],
        looks=looks,
        rule=style.RULE,
        short=_short,
    ).replace("\n", "")


def write_png(section: Section, chart: Chart, path: Path, *, decimals: int) -> None:
    """Write the same drawing as a PNG file; raises OSError if that fails."""
    import font_source_sans_pro as font
    import resvg_py

    files = [font.font_files_ttf["SourceSansPro"], font.font_files_ttf["SourceSansProBold"]]
    made = resvg_py.svg_to_bytes(
        svg_string=svg_of(section, chart, decimals=decimals),
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
        write_png(section, chart, folder / name, decimals=study.decimals)
        words.append(f"{name}: {printable(chart.title)}. {printable(chart.alt)}\n")
    (folder / "alt_texts.txt").write_text("".join(words), encoding="utf-8", newline="\n")


# What is drawn


def _texts(section: Section, chart: Chart, decimals: int) -> list[str]:
    at = next(n for n, column in enumerate(section.columns) if column.key == chart.x)
    kind = section.columns[at].kind
    return [
        printable(style.printed(value_of(section.rows[row][at]), kind, decimals))
        for row in chart.drawn(section)
    ]


def _series(section: Section, chart: Chart, columns: dict[str, SheetColumn]) -> list[Series]:
    rows, places = chart.drawn(section), {key: n for n, key in enumerate(columns)}
    made = []
    for keys, drawn in ((chart.y, chart.kind), (chart.lines, "line")):
        for n, key in enumerate(keys):
            values = [number_in(section.rows[row][places[key]]) for row in rows]
            name = printable(series_name(section, chart, key))
            made.append(Series(name, values, columns[key].kind, drawn, n))
    return made


def _tick(tick: float, axis: Axis, kind: CellKind) -> str:
    step = axis.ticks[1] - axis.ticks[0]
    if kind is CellKind.SHARE:
        places = max(0, -math.floor(math.log10(step * 100) + 1e-9))
        return shown_share(tick, places)
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    places += not math.isclose(step * 10**places, round(step * 10**places))
    return _tick_of(tick, places, kind)


def _tick_of(tick: float, places: int, kind: CellKind) -> str:
    """A tick in words; of money with its sign, where a locale writes it."""
    if kind in (CellKind.MONEY, CellKind.PRICE, CellKind.EACH):
        return writing().sum(tick, places)
    return grouped(tick, places)


# Places in the drawing


def _short(length: float) -> str:
    """A length, rounded to a hundredth."""
    return f"{length:.2f}".rstrip("0").rstrip(".")


def _width(words: str) -> float:
    """Approximate width of a text, in units of the drawing."""
    return sum(1.0 if east_asian_width(c) in "WF" else 0.53 for c in words) * SIZE


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


def _path(one: Series, frame: Frame) -> str:
    """The SVG path from value to value, with a gap where a value is missing; empty for what is no line."""
    parts, pen = [], "M"
    for n, value in enumerate(one.values if one.drawn == "line" else ()):
        if value is None:
            pen = "M"
            continue
        parts.append(f"{pen}{frame.across(n):.2f},{frame.down(value):.2f}")
        pen = "L"
    return " ".join(parts)


def _marks(
    one: Series, series: list[Series], frame: Frame, categories: list[str], decimals: int
) -> list[Mark]:
    """The marks of a series' values, each with its words."""
    columns = sum(other.drawn == "columns" for other in series)
    width = 0.8 / columns if one.drawn == "columns" else 0.7
    marks = []
    for n, value in enumerate(one.values):
        if value is None or (one.drawn == "stacked" and value == 0):
            continue
        words = f"{categories[n]}, {one.name}: {style.printed(value, one.kind, decimals)}"
        if one.drawn == "stacked":
            under = [v for other in series[: one.n] if (v := other.values[n]) is not None]
            start = sum(v for v in under if (v < 0) == (value < 0))
            marks.append(Mark(words, n, _box(frame, n, width, (start, start + value))))
        elif one.drawn == "columns":
            aside = (one.n - (columns - 1) / 2) * width
            marks.append(Mark(words, n, _box(frame, n + aside, width, (0.0, value))))
        else:
            marks.append(Mark(words, n, None, (frame.across(n), frame.down(value))))
    return marks


def _box(
    frame: Frame, place: float, width: float, values: tuple[float, float]
) -> tuple[float, float, float, float]:
    """The box of a column between two values; ``width``: as a share of a category."""
    ends = sorted(frame.down(min(max(value, frame.axis.low), frame.axis.high)) for value in values)
    left = frame.across(place) - width * frame.band / 2
    return left, ends[0], width * frame.band, max(ends[1] - ends[0], 0.5)
