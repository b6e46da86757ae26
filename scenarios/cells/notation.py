"""Numbers and days as people write them, decided for a whole column, or asked about.

A column's texts are read in every notation that fits them all. Where one fits, or all that fit say the same,
the column is read so, and that is told. Where two fit and differ, as in 01/02/2027 or 1,234, the owner is
asked.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from model.scenario.tables import Column, Type
from scenarios.cells.faults import Fault
from scenarios.cells.grid import COMMA, DATES, DECIMALS, DMY, MDY, POINT, YMD, Grid
from scenarios.cells.parse import FAULTED, NUMBER, Raw, Unreadable, shown_value

NUMBERS = (Type.NUMBER, Type.SHARE, Type.WHOLE)

_GAP = " '’\u00a0\u2009\u202f"
_WHOLE = r"[+-]?(?:[0-9]+|[1-9][0-9]{{0,2}}(?:([{0}])[0-9]{{3}})(?:\1[0-9]{{3}})*)"
_FORMS = {
    POINT: re.compile(rf"(?:{_WHOLE.format(',' + _GAP)}(?:\.[0-9]*)?|[+-]?\.[0-9]+)"),
    COMMA: re.compile(rf"(?:{_WHOLE.format('.' + _GAP)}(?:,[0-9]*)?|[+-]?,[0-9]+)"),
}
_BETWEEN = {POINT: "," + _GAP, COMMA: "." + _GAP}
"""Signs between thousands."""

_DAY = re.compile(
    r"([0-9]{1,4})([-/.])[ \u00a0]?([0-9]{1,2})\2[ \u00a0]?([0-9]{1,4})(\.?)(?:[T ]00:00(?::00(?:\.0+)?)?)?"
)
_FULL_YEAR = re.compile(r"[0-9]{4}[-/.]")
FULL = "full year first"
_LIKELY: Mapping[tuple[str, bool], tuple[str, ...]] = {
    ("-", True): (DMY,),
    ("-", False): (DMY, YMD),
    ("/", True): (DMY, MDY),
    ("/", False): (DMY, MDY, YMD),
    (".", True): (DMY,),
    (".", False): (DMY,),
}
"""Orders by the sign between and whether the year is written in full, at the end.

Those of the short and medium dates of all locales in the Unicode CLDR, as the package Babel has it, and year
first behind '-' with two digits. A full year at the beginning is always year, month, day.
"""


@dataclass(slots=True)
class Notation:
    """What the cells of a table are read as.

    ``cells``: by row and position, the plain form of a cell's text, or why it cannot be read. ``how``: in
    words how columns were read, with their names. ``faults``: the questions.
    """

    cells: dict[tuple[int, int], Raw] = field(default_factory=dict)
    how: dict[str, list[str]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def tell(self, how: str, column: str) -> None:
        """Note how a column was read."""
        names = self.how.setdefault(how, [])
        if column not in names:
            names.append(column)


Cells = list[tuple[int, str]]
"""Numbers of rows, and texts."""


def notation_of(
    grid: Grid, columns: Sequence[Column | None], body: Iterable[tuple[int, Sequence[Raw]]]
) -> Notation:
    """How the texts in a table's columns of numbers and days are read."""
    made = Notation()
    texts: dict[int, Cells] = {n: [] for n, c in enumerate(columns) if c and c.type in (*NUMBERS, Type.DATE)}
    for number, cells in body:
        for position, found in texts.items():
            raw = cells[position] if position < len(cells) else None
            if isinstance(raw, str) and raw.strip():
                found.append((number, raw.strip()))
    numbers: dict[int, _Numbers] = {}
    for position, found in texts.items():
        column = columns[position]
        if column is None or not found:
            continue
        if column.type is Type.DATE:
            _Days(column, found).decide(made, grid, position)
        else:
            numbers[position] = _Numbers(column, found)
    signs = {sign for of_column in numbers.values() for sign in of_column.count}
    for position, of_column in numbers.items():
        of_column.decide(made, grid, position, signs)
    return made


class _Numbers:
    """The texts of a column of numbers, each in both notations."""

    def __init__(self, column: Column, cells: Cells) -> None:
        self.column = column
        self.read = [
            (row, text, {sign: number_of(text, sign, share=column.type is Type.SHARE) for sign in DECIMALS})
            for row, text in cells
        ]
        self.count = Counter(
            sign
            for *_, plain in self.read
            for sign in DECIMALS
            if plain[sign] and plain[_other(sign)] is None
        )
        """Cells that show a decimal sign beyond doubt, by the sign."""
        self.open = [one for one in self.read if None not in one[2].values() and len({*one[2].values()}) > 1]

    def decide(self, made: Notation, grid: Grid, position: int, of_table: set[str]) -> None:
        """Write the plain form of every cell, or the question."""
        sign = self._sign(grid, of_table)
        if sign is None:
            made.faults.append(self._question(grid))
            made.cells.update({(row, position): FAULTED for row, *_ in self.read})
            return
        for row, text, plain in self.read:
            own, other = plain[sign], plain[_other(sign)]
            if own is not None:
                self._tell(made, grid, text, own, sign)
                made.cells[row, position] = own
            elif other is not None and sign == COMMA:
                wrong = "has a decimal point, where the column has decimal commas"
                made.cells[row, position] = Unreadable(text, wrong, f"write {other.replace('.', ',')}")

    def _question(self, grid: Grid) -> Fault:
        row, text, plain = self.open[0]
        point, comma = plain[POINT], plain[COMMA]
        as_point, as_comma = "a thousands separator", "a decimal comma"
        if "," not in text:
            as_point, as_comma = "a decimal point", "a thousands separator"
        wrong = f"may be {point}, with {as_point}, or {comma}, with {as_comma}, and no cell says which"
        remedy = f"write {point} or {comma} without a thousands separator"
        if not grid.typed:
            remedy = f"write decimal={POINT} or decimal={COMMA} into a line above the heading, or {remedy}"
        return Fault(grid.table, row, self.column.name, text, wrong, remedy)

    def _sign(self, grid: Grid, of_table: set[str]) -> str | None:
        """The column's decimal sign; None where that must be asked.

        Where no cell of the column says it, the line above the heading does, else the table's other columns.
        Without those, points between commas are decimal points, as the program itself writes them.
        """
        if grid.told.decimal:
            return grid.told.decimal
        if self.count:
            return max(DECIMALS, key=lambda sign: self.count[sign])
        if not self.open:
            return POINT
        if grid.separator == "," and not any("," in text for _, text, _ in self.open):
            return None if COMMA in of_table else POINT
        return next(iter(of_table)) if len(of_table) == 1 else None

    def _tell(self, made: Notation, grid: Grid, text: str, plain: str, sign: str) -> None:
        if text.endswith("%"):
            made.tell("percentages read as shares", self.column.name)
        if sign == COMMA and "," in text:
            made.tell("read with decimal commas", self.column.name)
        if any(mark in text.rstrip("% ") for mark in _BETWEEN[sign]):
            made.tell("read with thousands separators", self.column.name)
        if grid.typed:
            made.tell("numbers stored as text", self.column.name)


def _other(sign: str) -> str:
    return COMMA if sign == POINT else POINT


def number_of(text: str, sign: str, *, share: bool = False) -> str | None:
    """A number in plain form, from its text with this decimal sign; None where it is no such number.

    ``share``: it may be a percentage.
    """
    percent = share and text.endswith("%")
    bare = text[:-1].rstrip(_GAP) if percent else text
    if sign == POINT and not percent and NUMBER.fullmatch(bare):
        return bare
    if not _FORMS[sign].fullmatch(bare):
        return None
    plain = "".join(c for c in bare if c not in _BETWEEN[sign]).replace(",", ".")
    return f"{Decimal(plain) / 100:f}" if percent else plain


class _Days:
    """The texts of a column of days, each in every likely order."""

    def __init__(self, column: Column, cells: Cells) -> None:
        self.column = column
        self.read = [(row, text, orders_of(text)) for row, text in cells]
        turned = [days for *_, days in self.read if days and FULL not in days]
        self.fit = [order for order in DATES if turned and all(order in days for days in turned)]
        """Orders in which all cells are days; a cell with its full year first says nothing of the others."""
        count = Counter(order for days in turned for order in days)
        self.most = max(DATES, key=lambda order: count[order]) if turned else None

    def decide(self, made: Notation, grid: Grid, position: int) -> None:
        """Write the plain form of every cell, or the question."""
        open_ = [one for one in self.read if len({one[2][o] for o in self.fit if o in one[2]}) > 1]
        if open_ and not grid.told.dates:
            made.faults.append(self._question(grid, *open_[0]))
            made.cells.update({(row, position): FAULTED for row, *_ in self.read})
            return
        order = grid.told.dates or (self.fit[0] if self.fit else self.most)
        for row, text, days in self.read:
            day = days.get(FULL) or days.get(order or "")
            if day is not None:
                made.cells[row, position] = day.isoformat()
                if text != day.isoformat():
                    made.tell(f"days read as {YMD if FULL in days else order}", self.column.name)
                if grid.typed:
                    made.tell("days stored as text", self.column.name)
            elif order and _DAY.fullmatch(text) and not _FULL_YEAR.match(text):
                wrong = f"is no day of the calendar, read as {order} like the rest of its column"
                made.cells[row, position] = Unreadable(text, wrong, "write a day that exists, as 2026-03-31")

    def _question(self, grid: Grid, row: int, text: str, days: Mapping[str, date]) -> Fault:
        orders = [order for order in self.fit if order in days]
        which = " or ".join(str(days[order]) for order in orders)
        wrong = f"may be {which}, and no cell of the column says which"
        remedy = "format the column as dates and write them again"
        if not grid.typed:
            lines = " or ".join(f"dates={order}" for order in orders)
            remedy = f"write {lines} into a line above the heading, or write days as 2026-03-31"
        return Fault(grid.table, row, self.column.name, text, wrong, remedy)


def orders_of(text: str) -> dict[str, date]:
    """The day that a text means in each likely order; none where it is no day, or has a time or a zone.

    A day with its full year first stands under ``FULL``.
    """
    match = _DAY.fullmatch(text)
    if match is None:
        return {}
    first, sign, middle, last, dot = match.groups()
    if len(first) == 4:
        return _made({FULL: (first, middle, last)}) if len(last) <= 2 else {}
    if len(first) > 2 or len(last) not in (2, 4):
        return {}
    likely = _LIKELY[sign, len(last) == 4]
    if dot and len(last) == 2:
        likely = (*likely, YMD)  # as in Korea; Serbian ends so too, with the day first
    parts = {DMY: (last, middle, first), MDY: (last, first, middle), YMD: (first, middle, last)}
    return _made({order: parts[order] for order in likely})


def _made(parts: Mapping[str, tuple[str, str, str]]) -> dict[str, date]:
    """The days that exist; a year of two digits lies in this century."""
    found = {}
    for order, (year, month, day) in parts.items():
        with suppress(ValueError):
            found[order] = date(int(year) if len(year) == 4 else 2000 + int(year), int(month), int(day))
    return found


def number_in(raw: Raw) -> float | None:
    """The number in a cell of plain form; None where it holds none."""
    if isinstance(raw, bool) or not isinstance(raw, int | float | str):
        return None
    if isinstance(raw, str):
        return float(raw) if NUMBER.fullmatch(raw.strip()) else None
    return float(raw)


def text_in(raw: Raw) -> str:
    """The text of a cell that holds no number; blank where it holds one, or nothing."""
    return "" if number_in(raw) is not None else shown_value(raw)
