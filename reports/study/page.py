"""A study as one page of HTML that opens offline, with the workbook's figures, tables and charts.

The file needs no other. Its policy allows nothing from elsewhere and no script but its own. A user's text is
escaped. Without scripts the page shows the same, but tables cannot be sorted.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from datetime import date
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any

from markupsafe import Markup

from reports.book import style
from reports.book.paper import paper_of
from reports.book.parts import DEFERS, Cell, SheetColumn, column_total, kind_of, value_of, whole_file
from reports.book.style import CellKind
from reports.book.writing import is_plain, shown_day
from reports.study.charts import svg_of
from reports.study.study import Figure, Section, Study
from reports.study.templates import PARTS, rendered


def write_page(study: Study, path: Path) -> None:
    """Write the study's page to ``path``, whole or not at all; raises OSError if that fails."""
    look = rendered("page.css", style=style, paper=paper_of(study.scenario.nursery.currency))
    script = _script()
    text = rendered(
        "page.html",
        policy=_policy(look, script),
        look=look,
        script=script,
        study=study,
        nursery=study.scenario.nursery,
        shown_day=shown_day,
        deferring=("Caution: ", DEFERS),
        front=_front(study),
        run=_pairs("What was run", "Fact", study.facts),
        svg_of=partial(svg_of, decimals=study.decimals),
        in_words=partial(_in_words, decimals=study.decimals),
    )
    with whole_file(path) as part:
        part.write_text(text, encoding="utf-8", newline="\n")


def _script() -> Markup:
    """The page's script; where a locale writes the cells, it sorts them by their keys."""
    text, cell = (PARTS / "page.js").read_text(encoding="utf-8"), "row.cells[column].textContent"
    return Markup(text if is_plain() else text.replace(cell, f"row.cells[column].dataset.key ?? {cell}"))


def _policy(look: str, script: str) -> str:
    """Content security policy (CSP level 3): only the page's own style and script, by their hashes."""
    style_hash, script_hash = (
        "'sha256-" + b64encode(sha256(text.encode()).digest()).decode() + "'" for text in (look, script)
    )
    return (
        f"default-src 'none'; style-src {style_hash}; script-src {script_hash}; base-uri 'none'; "
        "form-action 'none'"
    )


def _front(study: Study) -> list[tuple[str, Section]]:
    """The headline figures, and the numbers that a reader may change in the workbook, with their ids."""
    inputs = "Numbers that you may change in the workbook"
    tables = [
        (
            "figures",
            _pairs(
                "The answer in figures", "Figure", _printed(study.figures, study.decimals), CellKind.COUNT
            ),
        ),
        ("inputs", _pairs(inputs, "Number", _printed(study.inputs, study.decimals), CellKind.COUNT)),
    ]
    return [(name, table) for name, table in tables if table.rows]


def _printed(figures: Sequence[Figure], decimals: int) -> list[tuple[str, Cell]]:
    """Figures in words, each in the format of its own kind."""
    return [
        (figure.label, style.printed(value_of(figure.value), figure.kind, decimals)) for figure in figures
    ]


def _pairs(
    about: str, what: str, rows: Sequence[tuple[str, Cell]], kind: CellKind = CellKind.FIGURE
) -> Section:
    """A table of labels and values."""
    return Section("", about, [], [SheetColumn("label", what), SheetColumn("value", "Value", kind)], rows)


def _in_words(section: Section, decimals: int) -> dict[str, Any]:
    """The section's table in words, as grid.html needs it.

    ``sorted_by``: what rows are sorted by, where a cell's words cannot be compared; else blank.
    ``looks``: "n" for columns of numbers, "d" for days, else nothing. ``named_by``: the column that names a
    row; None if every column has a blank. ``totals``: blank under columns without one, empty if no column has
    a total.
    """
    columns, rows = section.columns, section.rows
    words = [
        [_words(cell, column.kind, decimals) for cell, column in zip(row, columns, strict=True)]
        for row in rows
    ]
    totals = [
        _words(column_total(rows, n), c.kind, decimals) if c.total else "" for n, c in enumerate(columns)
    ]
    keys = [[_key(cell, column.kind) for cell, column in zip(row, columns, strict=True)] for row in rows]
    return {
        "sorted_by": keys,
        "looks": [_look(column.kind) for column in columns],
        "rows": words,
        "named_by": next((n for n in range(len(columns)) if rows and all(row[n] for row in words)), None),
        "totals": totals if rows and any(column.total for column in columns) else [],
    }


def _key(cell: Cell, kind: CellKind) -> str:
    value = value_of(cell)
    if is_plain() or value is None or isinstance(value, str):
        return ""
    return value.isoformat() if isinstance(value, date) else repr(float(value))


def _look(kind: CellKind) -> str:
    if kind is CellKind.DAY:
        return "d"
    return "n" if style.side(kind) == "right" else ""


def _words(cell: Cell, kind: CellKind, decimals: int) -> str:
    return style.printed(value_of(cell), kind_of(cell, kind), decimals)
