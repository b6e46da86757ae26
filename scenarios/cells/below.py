"""Rows that people write under a table or between its rows, and that are none of its own: totals and remarks.

What is one beyond doubt is passed over, and that is told. What may be one is told as such, and refused.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile
from math import isclose

from model.scenario.about_cells import Remark
from model.scenario.tables import Column
from scenarios.cells.faults import Fault
from scenarios.cells.grid import NO_TABLE, Grid, TableSource, table_fault
from scenarios.cells.notation import NUMBERS, number_in, text_in
from scenarios.cells.parse import Raw, Unreadable, is_blank, plain

_IN_MANY_TONGUES = """
    total totals totales totaux totale totalt totalsumma totaal toplam sum som somme somma soma suma summe
    summa subtotal subtotale subtotaal gesamt gesamtsumme zwischensumme insgesamt razem łącznie celkem celkom 
    összesen összeg i-alt yhteensä kokku kopā viso skupaj ukupno укупно сума итого всего разом загалом σύνολο
"""
TOTALS = frozenset(_IN_MANY_TONGUES.split())
"""The word for a total in languages of Europe (common practice, no source)."""

WORDS_OF_A_REMARK = 3
"""A text of at least so many words that stands alone below a blank row is a remark, and no name."""

SET_OFF = f"take it away, or write '{NO_TABLE}' before its first text"

Row = tuple[int, Sequence[Raw]]


@dataclass(frozen=True, slots=True)
class _Own:
    """A row that may be none of the table's own.

    ``first``: the text of its first filled cell. ``texts``: how many cells hold text; ``label``: the first.
    ``numbers``: by position. ``after_gap``: whether a blank row is above.
    """

    number: int
    first: str
    texts: int
    label: str
    numbers: Mapping[int, float]
    after_gap: bool

    @property
    def is_named_total(self) -> bool:
        words = self.label.casefold().replace(":", " ").split()
        return self.texts == 1 and any(word in TOTALS for word in words)


def without_own_rows(
    grid: Grid, columns: Sequence[Column | None], body: Sequence[Row], source: TableSource
) -> tuple[list[Row], list[Fault]]:
    """The table's rows, and the faults of others that may be rows of it; what is passed over is told.

    ``body``: the rows below the heading that are not blank, numbers in plain form.
    """
    lacking = dict(_lacking(columns, body))
    last = len(body) - sum(1 for _ in takewhile(lambda row: row[0] in lacking, reversed(body)))
    rows: list[Row] = []
    faults: list[Fault] = []
    for place, (number, cells) in enumerate(body):
        own = lacking.get(number)
        if own is None:
            rows.append((number, cells))
            continue
        passed, wrong = _judged(own, columns, rows, below=place >= last)
        if passed:
            source.remarks.append(Remark(grid.table, number, f"row {number}", "", own.first, passed))
        elif wrong:
            remedy = SET_OFF if own.is_named_total else f"fill in the row, or {SET_OFF}"
            faults.append(table_fault(grid.table, wrong, remedy, number, own.first))
        else:
            rows.append((number, cells))
    return rows, faults


def _lacking(columns: Sequence[Column | None], body: Sequence[Row]) -> list[tuple[int, _Own]]:
    """Rows with a blank cell where the table needs one, with their numbers; not those with an odd cell."""
    needed = [n for n, column in enumerate(columns) if column is not None and column.required]
    found, before = [], None
    for number, cells in body:
        gap, before = before is not None and number > before + 1, number
        if not any(is_blank(cells[n] if n < len(cells) else None) for n in needed):
            continue
        if any(isinstance(cell, Unreadable) for cell in cells):
            continue
        filled = [cell for cell in cells if not is_blank(cell)]
        texts = [text for cell in filled if (text := text_in(cell))]
        numbers = {
            n: value
            for n, column in enumerate(columns)
            if column
            and column.type in NUMBERS
            and n < len(cells)
            and (value := number_in(cells[n])) is not None
        }
        first = text_in(filled[0]) if filled else ""
        found.append((number, _Own(number, first, len(texts), texts[0] if texts else "", numbers, gap)))
    return found


def _judged(
    own: _Own, columns: Sequence[Column | None], rows: Sequence[Row], *, below: bool
) -> tuple[str, str]:
    """Why the row is passed over, or what it looks like; both blank where it is a row of the table."""
    if own.first.startswith(NO_TABLE):
        return f"begins with '{NO_TABLE}' and lacks cells: passed over as a remark", ""
    if own.is_named_total:
        sums = [
            (column.name, value, _sum(rows, n)) for n, value in own.numbers.items() if (column := columns[n])
        ]
        unlike = [one for one in sums if not isclose(one[1], one[2], abs_tol=0.005)]
        if below and sums and not unlike:
            told = " and ".join(f"{name} {plain(value)}" for name, value, _ in sums)
            return f"is a total ({told}, the sum of the rows above): passed over", ""
        for name, value, total in unlike:
            return "", f"looks like a total, but {name} {plain(value)} is not the sum above, {plain(total)}"
        return "", "looks like a total, and not like a row of the table"
    if own.texts == 1 and not own.numbers and below:
        if own.after_gap and len(own.label.split()) >= WORDS_OF_A_REMARK:
            return "stands alone under the table: passed over as a remark", ""
        if rows:
            return "", "stands alone in its row: a remark, or a row not filled in"
    return "", ""


def _sum(rows: Sequence[Row], position: int) -> float:
    return sum(number_in(cells[position]) or 0.0 for _, cells in rows if position < len(cells))
