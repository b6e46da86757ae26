"""Faults of a scenario's files: what is wrong where, and what would be right."""

from __future__ import annotations

import difflib
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

SHOWN = 60
"""Longest piece of a user's text that a message repeats, in characters."""

MANY, FEW = 4, 3
"""So many faults of one kind in a column are told together; so many different cells have a line each."""

MOST_LINES, MOST_RANGES = 50, 5
"""Most lines of faults, and most ranges of rows in a line; of the rest the number is told."""

VARYING = re.compile(r"'[^']*'|[0-9][0-9.,-]*")
"""What differs between faults of one kind: quoted texts, numbers, days."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a scenario.

    ``table`` is blank where the whole file is meant; ``row`` is the spreadsheet's row number (the
    heading is row 1), None where no row is meant; ``column`` and ``value`` are blank likewise.
    """

    table: str
    row: int | None
    column: str
    value: str
    wrong: str
    remedy: str

    def __str__(self) -> str:
        return self.told(
            [shown(self.table), "" if self.row is None else f"row {self.row}", shown(self.column)]
        )

    def told(self, place: Iterable[str], more: str = "") -> str:
        """The fault in one line, at a place in words; blank parts of the place are left out."""
        where = ", ".join(part for part in place if part)
        value = f"'{shown(self.value)}' " if self.value else ""
        return printable(f"{where}{': ' if where else ''}{value}{self.wrong}; {self.remedy}{more}")

    @property
    def number(self) -> int | None:
        """What counts the faults of one kind: the row; None where the fault stands alone."""
        return self.row

    @property
    def kind(self) -> tuple[str, ...]:
        """What faults that are told together have in common."""
        return self.table, self.column, VARYING.sub("", self.wrong)

    def places(self, numbers: Sequence[int]) -> list[str]:
        """Where faults of this kind stand that are told together."""
        column = f"column {shown(self.column)}" if self.column else ""
        return [shown(self.table), column, ranges("row", numbers)]


class BadInput(Exception):
    """A scenario that cannot be used; ``faults`` holds all that is wrong with it."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = list(faults)
        super().__init__(self.faults)

    def __str__(self) -> str:
        return render_faults(self.faults)


class Refused(ValueError):
    """A wish of the user that cannot be met, in words for the user."""


def render_faults(faults: Sequence[Fault]) -> str:
    """The faults as plain text, at most ``MOST_LINES`` lines, and their count.

    A fault that many rows of a column have is told once, with its rows.
    """
    lines = _lines(faults)
    told, rest = lines[:MOST_LINES], lines[MOST_LINES:]
    text = [line for line, _ in told]
    if rest:
        text.append(f"and {_count(sum(count for _, count in rest), 'fault')} more, not shown here")
    return "\n".join([*text, f"{_count(len(faults), 'fault')}; the scenario was not used"])


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def _lines(faults: Sequence[Fault]) -> list[tuple[str, int]]:
    """The lines that tell the faults, in their order, and how many faults each line tells."""
    kinds = [fault.kind for fault in faults]
    of_kind: dict[tuple[str, ...], list[Fault]] = defaultdict(list)
    for fault, kind in zip(faults, kinds, strict=True):
        if fault.number is not None:
            of_kind[kind].append(fault)
    lines: list[tuple[str, int]] = []
    for fault, kind in zip(faults, kinds, strict=True):
        alike = of_kind[kind]
        if fault.number is None or len(alike) < MANY:
            lines.append((str(fault), 1))
        elif fault is alike[0]:
            lines += _together(alike)
    return lines


def _together(alike: Sequence[Fault]) -> list[tuple[str, int]]:
    """The lines for many faults of one kind: one for each of few different cells, else one for all."""
    same: dict[tuple[str, str, str], list[Fault]] = defaultdict(list)
    for fault in alike:
        same[fault.value, fault.wrong, fault.remedy].append(fault)
    groups = list(same.values()) if len(same) <= FEW else [list(alike)]
    lines = []
    for group in groups:
        numbers = [fault.number for fault in group if fault.number is not None]
        more = "" if len(same) <= FEW else " (this is the first of them; mend the others likewise)"
        lines.append((group[0].told(group[0].places(numbers), more), len(group)))
    return lines


def ranges(what: str, numbers: Iterable[int]) -> str:
    """Numbers in words as ranges: ``rows 4 to 4003 and 4010``; of many ranges the first ones."""
    found: list[list[int]] = []
    for number in sorted(set(numbers)):
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    if len(found) == 1 and found[0][0] == found[0][1]:
        return f"{what} {found[0][0]}"
    parts = [f"{low}" if low == high else f"{low} to {high}" for low, high in found[:MOST_RANGES]]
    rest = sum(high - low + 1 for low, high in found[MOST_RANGES:])
    if rest:
        parts.append(f"{rest:,} more")
    return f"{what}s {', '.join(parts[:-1])}{' and ' if parts[1:] else ''}{parts[-1]}"


def shown(text: str) -> str:
    """A user's text fit for a message: one line, nothing unprintable, not too long."""
    return printable(text if len(text) <= SHOWN else text[: SHOWN - 3] + "...")


def printable(text: str) -> str:
    """The text in one line; what is not printable as an escape, so that no terminal acts on it."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def nearest(word: str, words: Iterable[str]) -> str | None:
    """The one of ``words`` that ``word`` was most likely meant to be; None where none is alike."""
    return _nearest(word, frozenset(words))


@lru_cache(maxsize=1000)
def _nearest(word: str, words: frozenset[str]) -> str | None:
    by_folded = _by_folded(words)
    found = difflib.get_close_matches(folded(word), list(by_folded), n=1, cutoff=0.6)
    return by_folded[found[0]] if found else None


@lru_cache(maxsize=50)
def _by_folded(words: frozenset[str]) -> dict[str, str]:
    return {folded(known): known for known in sorted(words, reverse=True)}


def folded(word: str) -> str:
    """A name without what the eye passes over: case, and how much space there is."""
    return " ".join(word.casefold().split())


def meant(word: str, words: Iterable[str], otherwise: str) -> str:
    """The remedy for a misspelt name: the nearest one, or ``otherwise``."""
    near = nearest(word, words)
    return otherwise if near is None else f"did you mean '{shown(near)}'?"
