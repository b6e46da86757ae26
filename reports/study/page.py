"""A study as one page of HTML that opens offline, with the workbook's figures, tables and charts.

The file needs no other. Its policy allows nothing from elsewhere and no script but its own. A user's text is
escaped. Without scripts the page shows the same, but tables cannot be sorted.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from reports.book import style
from reports.book.parts import DEFERS, Cell, SheetColumn, column_total, whole_file
from reports.book.style import CellKind
from reports.book.words import printable
from reports.study.charts import svg_of
from reports.study.study import Section, Study, value_of

PARTS = Path(__file__).with_name("page_parts")


@dataclass(frozen=True, slots=True)
class Heading:
    """The head of a column; ``look``: "n" for numbers, "d" for days, else nothing."""

    text: str
    look: str


@dataclass(frozen=True, slots=True)
class PageTable:
    """A table in words. ``named_by``: the column that names a row; None if every column has a blank.

    ``sorts``: whether a reader may sort it.
    """

    id: str
    caption: str
    headings: list[Heading]
    rows: list[list[str]]
    named_by: int | None
    totals: list[str]
    sorts: bool


@dataclass(frozen=True, slots=True)
class PageFigure:
    """A chart and its text."""

    svg: Markup
    alt: str


@dataclass(frozen=True, slots=True)
class PagePart:
    """A section in words."""

    id: str
    name: str
    notes: list[tuple[str, bool]]
    """Each with whether it is a caution."""
    table: PageTable
    charts: list[PageFigure]


def write_page(study: Study, path: Path) -> None:
    """Write the study's page to ``path``, whole or not at all; raises OSError if that fails."""
    nursery = study.scenario.nursery
    look = Markup(_environment(".css").get_template("page.css").render(style=style))
    script = Markup((PARTS / "page.js").read_text(encoding="utf-8"))
    page = _environment(".html")
    template = page.get_template("page.html")
    grid = page.get_template("grid.html")
    text = template.render(
        policy=_policy(look, script),
        look=look,
        script=script,
        title=printable(f"{study.title}: {nursery.name}"),
        span=f"{nursery.first_day.isoformat()} to {nursery.last_day.isoformat()}",
        currency=printable(nursery.currency),
        answer=[printable(sentence) for sentence in study.answer],
        front=_front(study),
        parts=[_part(section, n) for n, section in enumerate(study.sections, 1)],
        run=_values("run-values", "What was run", study.facts, ("Fact", "Value")),
        grid=lambda table: Markup(grid.render(table=table)),
    )
    with whole_file(path) as part:
        part.write_text(text, encoding="utf-8", newline="\n")


@cache
def _environment(kind: str) -> Environment:
    """Templates of a kind. Those of HTML escape every value."""
    return Environment(
        loader=FileSystemLoader(PARTS),
        autoescape=kind == ".html",
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _policy(look: str, script: str) -> str:
    """Content security policy (CSP level 3): only the page's own style and script, by their hashes."""
    style_hash, script_hash = (
        "'sha256-" + b64encode(sha256(text.encode()).digest()).decode() + "'" for text in (look, script)
    )
    return (
        f"default-src 'none'; style-src {style_hash}; script-src {script_hash}; base-uri 'none'; "
        "form-action 'none'"
    )


def _front(study: Study) -> list[PageTable]:
    """The headline figures, and the numbers that a reader may change in the workbook."""
    figures = [(figure.label, style.printed(value_of(figure.value), figure.kind)) for figure in study.figures]
    inputs = [(given.label, style.printed(given.value, given.kind)) for given in study.inputs]
    found = []
    if figures:
        found.append(_values("figures", "The answer in figures", figures, ("Figure", "Value"), right=True))
    if inputs:
        heads = ("Number", "Value")
        found.append(
            _values("inputs", "Numbers that you may change in the workbook", inputs, heads, right=True)
        )
    return found


def _values(
    name: str,
    caption: str,
    rows: Sequence[tuple[str, Cell]],
    heads: tuple[str, str],
    *,
    right: bool = False,
) -> PageTable:
    columns = [Heading(heads[0], ""), Heading(heads[1], "n" if right else "")]
    words = [[printable(label), _words(value, CellKind.FIGURE)] for label, value in rows]
    return PageTable(name, caption, columns, words, 0, [], False)


def _part(section: Section, number: int) -> PagePart:
    name = f"part-{number}"
    charts = section.charts if section.rows else ()
    return PagePart(
        name,
        printable(section.name),
        [(printable(note), note.startswith(("Caution: ", DEFERS))) for note in section.notes],
        _grid(section, name),
        [
            PageFigure(Markup(svg_of(section, chart, f"{name}-chart-{n}")), printable(chart.alt))
            for n, chart in enumerate(charts, 1)
        ],
    )


def _grid(section: Section, name: str) -> PageTable:
    kinds = [column.kind for column in section.columns]
    rows = [[_words(cell, kind) for cell, kind in zip(row, kinds, strict=True)] for row in section.rows]
    named_by = next((n for n in range(len(kinds)) if rows and all(row[n] for row in rows)), None)
    return PageTable(
        f"{name}-table",
        printable(section.about),
        [Heading(printable(column.heading), _look(column.kind)) for column in section.columns],
        rows,
        named_by,
        _totals(section.columns, section.rows) if rows else [],
        len(rows) > 1,
    )


def _look(kind: CellKind) -> str:
    if kind is CellKind.DAY:
        return "d"
    return "n" if style.side(kind) == "right" else ""


def _words(cell: Cell, kind: CellKind) -> str:
    return printable(style.printed(value_of(cell), kind))


def _totals(columns: Sequence[SheetColumn], rows: Sequence[Sequence[Cell]]) -> list[str]:
    """The totals under a table, blank under columns without one; empty if no column has a total."""
    if not any(column.total for column in columns):
        return []
    return [
        _words(column_total(rows, n), column.kind) if column.total else "" for n, column in enumerate(columns)
    ]
