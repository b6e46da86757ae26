"""A study: its answer, figures, tables and charts. All studies have one workbook and one terminal form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any, Literal

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from model.currencies import decimals
from model.planned.plan_tables import FACTS, Facts
from model.planned.tables.declared import MONEY
from model.planned.tables.plan_schema import PlanColumn
from model.scenario.about_cells import CellChange
from model.scenario.entities import Scenario
from model.scenario.schema import Type
from reports.book import style
from reports.book.changes import ABOUT, CHANGES, COLUMNS, NOTE, change_cells
from reports.book.parts import (
    NARROWEST_PAGE,
    PIXELS_A_ROW,
    Book,
    Cell,
    Placed,
    Sheet,
    SheetColumn,
    value_of,
    whole_file,
)
from reports.book.style import CellKind
from reports.book.words import digits, printable
from reports.book.writing import grouped, is_plain, shown_share
from reports.study.axis import Axis, axis_of, start_of_lines, start_of_points
from reports.study.patterns import fill_of, line_of, mark_of

CHART_HEIGHT = 380
CHART_WIDTHS = (560, 1100)
"""Least and greatest width of a chart in pixels; between them a chart is as wide as its table."""

LONGEST_NAME, FORBIDDEN = 31, "[]:*?/\\'"
"""Most characters in the name of a sheet, and the characters that it may not have."""

MANY = 5
"""A legend of more series than this leaves out their unit, which the axis shows."""

TALL = 520
"""Height in pixels of a chart of stacked columns: names of products need room below."""

PIXELS_A_CHARACTER = 7
ONE_PAGE = 34
"""Most rows of a table that prints. It prints on one page, with its charts if it prints in full."""

FIRST_ROWS = f"On paper: the first {ONE_PAGE} rows. All rows, and charts of them, are on the screen."

MANY_TABLES = 3
"""A study of fewer tables for paper prints on two pages: its answer, and the first of them."""

CONTINUOUS_COSTS = (
    "Costs are compared with fractional trays, packs and hands: rounding to whole ones would blur the "
    "differences. A plan in whole trays costs a little more."
)
"""The note on every sheet whose costs come from the continuous program."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A headline number, on the first sheet and on the terminal."""

    label: str
    value: Cell
    kind: CellKind


@dataclass(frozen=True, slots=True)
class Input(Figure):
    """A number that the reader may change. Formulas use its ``name``, a defined name of the workbook."""

    name: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart of a section's columns: ``x``, ``y`` and ``lines`` are keys of columns.

    ``shows``: what is drawn, in a sentence. ``lines`` are drawn as lines over columns or points, such as
    slots available over slots used. ``rows``: the first row drawn and the row past the last; None for all.
    ``x_title``: title of the axis of categories; None for the heading of their column.
    """

    kind: Literal["line", "points", "columns", "stacked"]
    title: str
    shows: str
    x: str
    y: tuple[str, ...]
    y_title: str
    lines: tuple[str, ...] = ()
    rows: tuple[int, int] | None = None
    x_title: str | None = None

    def drawn(self, section: Section) -> range:
        """The rows of a section that it draws."""
        return range(*(self.rows or (0, len(section.rows))))

    @property
    def alt(self) -> str:
        """The text for readers who do not see the chart."""
        return f"{self.shows} Numbers in the table above."


@dataclass(frozen=True, slots=True)
class Section:
    """One sheet: notes, a table and its charts. ``about`` is its line in the contents.

    ``prints``: whether it is for paper too.
    """

    name: str
    about: str
    notes: Sequence[str]
    columns: Sequence[SheetColumn]
    rows: Sequence[Sequence[Cell]]
    charts: Sequence[Chart] = ()
    prints: bool = True

    def heading(self, key: str) -> str:
        """Heading of the column of a key."""
        return next(column.heading for column in self.columns if column.key == key)


@dataclass(frozen=True, slots=True)
class Study:
    """What a study found. ``answer``: sentences in plain words, the answer first. ``facts``: what was run.

    ``files``: names and texts of files to write beside the workbook, such as a variant; ``books``: names of
    further workbooks, each with the function that writes it to a path.
    """

    title: str
    scenario: Scenario
    answer: Sequence[str]
    figures: Sequence[Figure]
    sections: Sequence[Section]
    facts: Sequence[tuple[str, Cell]]
    inputs: Sequence[Input] = ()
    files: Sequence[tuple[str, str]] = ()
    books: Sequence[tuple[str, Callable[[Path], None]]] = ()

    @property
    def decimals(self) -> int:
        """Decimals of sums in the scenario's currency."""
        return decimals(self.scenario.nursery.currency)


def write_study(study: Study, path: Path) -> None:
    """Write the study's workbook to ``path``, whole or not at all; raises OSError if that fails."""
    with whole_file(path) as part:
        book = Book(part, f"{study.title}, {study.scenario.nursery.name}", study.scenario.nursery)
        _front(book.sheet("Answer", "The answer in a few lines, and the numbers you may change."), study)
        on_paper = printed_sections(study)
        for section in on_paper:
            _section(book.sheet(section.name, section.about), section)
        contents, named = book.sheet("Contents", "This list."), {section.name for section in on_paper}
        for section in study.sections:
            if section.name not in named:
                sheet = book.sheet(section.name, section.about)
                sheet.prints = False
                _section(sheet, section)
        run = book.sheet("Run", "What was run.")
        run.prints = False
        run.open("What was run", [f"Money is in {study.scenario.nursery.currency}."])
        run.table(
            [SheetColumn("fact", "Fact"), SheetColumn("value", "Value", widest=80)],
            [list(f) for f in study.facts],
        )
        contents.list_sheets()
        book.close()


def printed_sections(study: Study) -> list[Section]:
    """The sections that print unasked, each on a page after the answer: see ``MANY_TABLES``."""
    for_paper = [section for section in study.sections if section.prints]
    found = [section for section in for_paper if section.rows]
    return found if len(for_paper) >= MANY_TABLES else found[:1]


def _front(sheet: Sheet, study: Study) -> None:
    sheet.one_page = True
    sheet.open(f"{study.title}: {study.scenario.nursery.name}", study.answer)
    if study.inputs:
        placed = _figures(sheet, "Number you may change", study.inputs, style.CHANGE)
        for n, given in enumerate(study.inputs):
            sheet.book.workbook.define_name(given.name, f"={placed.cell('value', n)}")
    placed = _figures(sheet, "Figure", study.figures, {})
    widths = [len(_shown(figure, study)) + 3 for figure in study.figures]
    sheet.widths[placed.at["value"]] = max([sheet.widths[placed.at["value"]], *widths])
    run = "; ".join(f"{fact} {_in_a_line(value_of(value))}" for fact, value in study.facts)
    sheet.lines(f"What was run: {run}.", NARROWEST_PAGE * 1.2, style.FOOT)


def _in_a_line(value: Any) -> str:
    """A fact in the line of what was run; numbers in full where no locale writes them."""
    number = isinstance(value, int | float)
    return str(value) if is_plain() and number else style.printed(value, CellKind.FIGURE, 0)


def _shown(figure: Figure, study: Study) -> str:
    return style.shown(value_of(figure.value), figure.kind, study.decimals)


def _figures(sheet: Sheet, what: str, figures: Sequence[Figure], look: dict[str, Any]) -> Placed:
    """Write a table of figures, each in the format of its own kind."""
    columns = [SheetColumn("label", what, widest=60), SheetColumn("value", "Value", change=bool(look))]
    placed = sheet.table(columns, [[figure.label, None] for figure in figures])
    for row, figure in enumerate(figures, placed.first):
        number = {"num_format": style.number_format(figure.kind, sheet.book.decimals), "align": "right"}
        sheet.write(row, placed.at["value"], figure.value, **style.CELL, **look, **number)
    return placed


def _section(sheet: Sheet, section: Section) -> None:
    cut = sheet.prints and len(section.rows) > ONE_PAGE
    sheet.open(section.name, [*section.notes, *([FIRST_ROWS] if cut else [])])
    sheet.one_page, sheet.paper_rows = True, ONE_PAGE if cut else None
    placed = sheet.table(section.columns, section.rows)
    width = min(max(int(sheet.width * PIXELS_A_CHARACTER), CHART_WIDTHS[0]), CHART_WIDTHS[1])
    row = sheet.row + 1
    for chart in section.charts:
        if section.rows:
            picture = (_chart(sheet.book, section, placed, chart), chart.alt)
            height = TALL if chart.kind == "stacked" else CHART_HEIGHT
            sheet.chart(row, 0, picture, (width, height))
            row += height // PIXELS_A_ROW + 2


def _chart(book: Book, section: Section, placed: Placed, chart: Chart) -> Any:
    kinds_of_chart = {"line": {"type": "line"}, "points": {"type": "line"}, "columns": {"type": "column"}}
    made = book.workbook.add_chart(kinds_of_chart.get(chart.kind, {"type": "column", "subtype": "stacked"}))
    for n, key in enumerate(chart.y):
        if chart.kind == "line":
            look = style.line_drawn(*line_of(n))
        elif chart.kind == "points":
            look = style.points_drawn(mark_of(n))
        else:
            look = style.columns_filled(*fill_of(n))
        made.add_series({**_series(section, placed, chart, key), **look})
    if chart.lines:
        over = book.workbook.add_chart({"type": "line"})
        for n, key in enumerate(chart.lines):
            over.add_series({**_series(section, placed, chart, key), **style.line_drawn(*line_of(n))})
        made.combine(over)
    made.set_title({"name": chart.title, "name_font": {"size": 12}})
    kinds = {column.key: column.kind for column in section.columns}
    axis = drawn_axis(section, chart)
    made.set_x_axis(
        {
            "name": x_title(section, chart),
            "num_format": style.number_format(kinds[chart.x], book.decimals),
            "text_axis": True,
        }
    )
    made.set_y_axis(
        {
            "name": f"{chart.y_title}{axis.remark}",
            "major_gridlines": {"visible": True, "line": {"color": style.GREY}},
            "min": _least(chart, axis),
        }
    )
    alone = len(chart.y) + len(chart.lines) == 1
    made.set_legend({"none": True} if alone else {"position": "bottom"})
    return made


def _least(chart: Chart, axis: Axis) -> float | None:
    """Where the workbook's axis starts; None where it follows the values, which the reader may change."""
    return axis.low if axis.low == 0 or chart.kind == "points" else None


def _series(section: Section, placed: Placed, chart: Chart, key: str) -> dict[str, Any]:
    rows = chart.rows or (0, placed.count)
    return {
        "name": series_name(section, chart, key),
        "categories": placed.series(chart.x, *rows),
        "values": placed.series(key, *rows),
    }


def series_name(section: Section, chart: Chart, key: str) -> str:
    """Name of a series in the legend: its column's heading, without the unit if there are many series."""
    heading = section.heading(key)
    return heading.split(" (")[0] if len(chart.y) > MANY else heading


def x_title(section: Section, chart: Chart) -> str:
    """Title of the axis of categories."""
    heading = section.heading(chart.x)
    return chart.x_title or heading[:1].lower() + heading[1:]


def number_in(cell: Cell) -> float | None:
    """The number that a cell shows; None where it shows none."""
    value = value_of(cell)
    return float(value) if isinstance(value, int | float) and isfinite(value) else None


def drawn_axis(section: Section, chart: Chart) -> Axis:
    """The axis of a chart's values. Columns start at 0; points and lines close together may not."""
    at = {column.key: n for n, column in enumerate(section.columns)}
    rows = [section.rows[n] for n in chart.drawn(section)]
    of = {key: [number_in(row[at[key]]) for row in rows] for key in (*chart.y, *chart.lines)}
    stacked = chart.y if chart.kind == "stacked" else ()
    reached = [value for key, values in of.items() if key not in stacked for value in values]
    for stack in zip(*(of[key] for key in stacked), strict=True):
        values = [value for value in stack if value is not None]
        reached += [sum(v for v in values if v > 0), sum(v for v in values if v < 0)]
    found = [value for value in reached if value is not None]
    if chart.kind == "points":
        return axis_of(found, start_of_points(found))
    return axis_of(found, start_of_lines(found) if chart.kind == "line" else None)


def sheet_names(before: str, texts: Sequence[str]) -> list[str]:
    """A sheet name for each text: allowed characters only, short enough, and all different."""
    names: list[str] = []
    for text in texts:
        kept = "".join(" " if c in FORBIDDEN or not c.isprintable() else c for c in text)
        name, number = f"{before} {kept}"[:LONGEST_NAME].strip(), 2
        while name.casefold() in {other.casefold() for other in names}:
            name, number = f"{before} {number} {kept}"[:LONGEST_NAME].strip(), number + 1
        names.append(name)
    return names


def changes_section(changes: Sequence[CellChange]) -> Section:
    """The sheet of the cells that a variant changes."""
    rows = [change_cells(change) for change in changes]
    return Section(CHANGES, ABOUT, [NOTE], COLUMNS, rows, prints=False)


def run_facts(facts: Facts, currency: str) -> list[tuple[str, Cell]]:
    """The facts of a run with their titles, for the last sheet; money is in the scenario's currency."""
    (row,) = facts.table().to_dict("records")
    return [(column.title, _fact(column, row[column.name], currency)) for column in FACTS.columns]


STATUS = {"whole": "whole trays, packs and hands", "optimal": "fractional trays allowed"}
"""What kind of plan it is, in words, by the fact ``status``."""


def _fact(column: PlanColumn, value: Any, currency: str) -> str:
    if column.name == "status":
        return STATUS[value]
    if column.type is Type.YES_NO:
        return "yes" if value else "no"
    if column.type is Type.SHARE:
        return shown_share(value, 4)
    if column.unit == MONEY:
        return digits(value, currency)
    if column.type is Type.NUMBER:
        return grouped(value, 2)
    return grouped(value) if column.type is Type.WHOLE else str(value)


def print_study(console: Console, study: Study) -> None:
    """Print the answer and the headline figures; plain text if the console is no terminal."""
    console.print(
        Text(printable(f"{study.title}: {study.scenario.nursery.name}"), style="bold"), soft_wrap=True
    )
    for sentence in study.answer:
        console.print(Text(printable(sentence)), soft_wrap=True)
    if study.figures:
        table = Table(box=box.SIMPLE if console.is_terminal else None, show_header=False, pad_edge=False)
        table.add_column()
        table.add_column(justify="right")
        for figure in study.figures:
            table.add_row(Text(printable(figure.label)), Text(printable(_shown(figure, study))))
        console.print(table)
