"""Faults of a scenario's files: the place, what is wrong, and the remedy."""

from __future__ import annotations

import difflib
import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

SHOWN = 60
"""Longest piece of a user's text that a message repeats, in characters."""

MANY, FEW = 4, 3
"""From ``MANY`` faults of one kind in a column on, they share lines; up to ``FEW`` different cells get a line
each."""

MOST_LINES, MOST_RANGES = 50, 5
"""Most lines of faults, and most ranges of rows in a line; the message counts the rest."""

MOST_COMPARED = 200_000
"""Pairs of names compared in search of the nearest; a file that needs more has other faults than spelling."""

VARYING = re.compile(r"'[^']*'|[0-9][0-9.,-]*")
"""The parts that differ between faults of one kind: quoted texts, numbers, days."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a scenario.

    ``table``: blank for a fault of the whole file. ``row``: the spreadsheet's row number (the heading is row
    1); None where the fault is not in one row. ``column``, ``value``: blank where they do not apply.
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
        """The fault as one line of text. ``place``: its parts in words; blank parts are left out."""
        where = ", ".join(part for part in place if part)
        value = f"'{shown(self.value)}' " if self.value else ""
        return printable(f"{where}{': ' if where else ''}{value}{self.wrong}; {self.remedy}{more}")

    @property
    def number(self) -> int | None:
        """The row, by which faults of one kind are listed; None for a fault that is not in one row."""
        return self.row

    @property
    def kind(self) -> tuple[str, ...]:
        """The parts that faults of one kind share; such faults are reported together."""
        return self.table, self.column, VARYING.sub("", self.wrong)

    def places(self, numbers: Sequence[int]) -> list[str]:
        """The places of faults of this kind, in one list."""
        column = f"column {shown(self.column)}" if self.column else ""
        return [shown(self.table), column, ranges("row", numbers)]


class BadInput(Exception):
    """The scenario cannot be used; ``faults`` lists every fault."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = list(faults)
        super().__init__(self.faults)

    def __str__(self) -> str:
        return render_faults(self.faults)


class Refused(ValueError):
    """The program refuses what the user asks for; the message says why, in words for the user."""


def render_faults(faults: Sequence[Fault]) -> str:
    """The faults as plain text, at most ``MOST_LINES`` lines, and their count.

    Faults of one kind in many rows of a column share one line, which lists the rows.
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
    """The lines of the message in the order of the faults, and how many faults each line stands for."""
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
    """The lines for many faults of one kind: one for each different cell if these are few, else one."""
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
    """Numbers in words as ranges: ``rows 4 to 4003 and 4010``; after ``MOST_RANGES`` ranges a count."""
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
    """A user's text for a message: in one line, printable, shortened to ``SHOWN`` characters."""
    return printable(text if len(text) <= SHOWN else text[: SHOWN - 3] + "...")


def printable(text: str) -> str:
    """The text in one line; unprintable characters become escapes, so that no terminal acts on them."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def nearest(word: str, words: Iterable[str], alike: float = 0.6) -> str | None:
    """The word of ``words`` that is most like ``word``; None where none is similar.

    ``alike``: the least part of their letters that two similar words share, as ``difflib`` counts it.
    """
    return _nearest(word, frozenset(words), alike)


@lru_cache(maxsize=1000)
def _nearest(word: str, words: frozenset[str], alike: float) -> str | None:
    by_folded = _by_folded(words)
    found = difflib.get_close_matches(folded(word), list(by_folded), n=1, cutoff=alike)
    return by_folded[found[0]] if found else None


@lru_cache(maxsize=50)
def _by_folded(words: frozenset[str]) -> dict[str, str]:
    return {folded(known): known for known in sorted(words, reverse=True)}


def folded(word: str) -> str:
    """A name without differences that the eye misses: case, and the amount of space."""
    return " ".join(word.casefold().split())


def bounded_nearest() -> Callable[[str, frozenset[str]], str | None]:
    """``nearest`` for one file: asked once for each word; None after ``MOST_COMPARED`` pairs of names."""
    compared = 0

    @cache
    def near(word: str, words: frozenset[str]) -> str | None:
        nonlocal compared
        compared += len(words)
        return in_part(word, words) or nearest(word, words) if compared < MOST_COMPARED else None

    return near


LEAST_PART = 3
"""Characters of the shortest text that may stand for a name of which it is a part."""


def in_part(word: str, words: Iterable[str]) -> str | None:
    """The one name that holds all words of ``word``, in any order and case; None where none or several do."""
    parts = set(folded(word).split())
    if not parts or max(map(len, parts)) < LEAST_PART:
        return None
    holding = [known for known in words if parts < set(folded(known).split())]
    return holding[0] if len(holding) == 1 else None


def meant(word: str, words: Iterable[str], otherwise: str) -> str:
    """The remedy for a misspelt name: the most similar word, else ``otherwise``."""
    return suggested(nearest(word, words), otherwise)


def suggested(near: str | None, otherwise: str) -> str:
    """The remedy for a misspelt name whose nearest known name is ``near``; without one, ``otherwise``."""
    return otherwise if near is None else f"did you mean '{shown(near)}'?"
