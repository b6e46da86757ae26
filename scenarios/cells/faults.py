"""Faults of a scenario's files: what is wrong where, and what would be right."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

SHOWN = 60
"""Longest piece of a user's text that a message repeats, in characters."""


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
        place = [self.table, "" if self.row is None else f"row {self.row}", self.column]
        where = ", ".join(shown(part) for part in place if part)
        value = f"'{shown(self.value)}' " if self.value else ""
        return printable(f"{where}{': ' if where else ''}{value}{self.wrong}; {self.remedy}")


class BadInput(Exception):
    """A scenario that cannot be used; ``faults`` holds all that is wrong with it."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = list(faults)
        super().__init__(render_faults(self.faults))


class Refused(ValueError):
    """A wish of the user that cannot be met, in words for the user."""


def render_faults(faults: Sequence[Fault]) -> str:
    """All faults as plain text, a line each, and their count."""
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return "\n".join([*map(str, faults), f"{count}; the scenario was not used"])


def shown(text: str) -> str:
    """A user's text fit for a message: one line, nothing unprintable, not too long."""
    return printable(text if len(text) <= SHOWN else text[: SHOWN - 3] + "...")


def printable(text: str) -> str:
    """The text in one line; what is not printable as an escape, so that no terminal acts on it."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def nearest(word: str, words: Iterable[str]) -> str | None:
    """The one of ``words`` that ``word`` was most likely meant to be; None where none is alike."""
    by_folded = {folded(known): known for known in sorted(words, reverse=True)}
    found = difflib.get_close_matches(folded(word), list(by_folded), n=1, cutoff=0.6)
    return by_folded[found[0]] if found else None


def folded(word: str) -> str:
    """A name without what the eye passes over: case, and how much space there is."""
    return " ".join(word.casefold().split())


def meant(word: str, words: Iterable[str], otherwise: str) -> str:
    """The remedy for a misspelt name: the nearest one, or ``otherwise``."""
    near = nearest(word, words)
    return otherwise if near is None else f"did you mean '{shown(near)}'?"
