"""Names that look the same and are not: other letters of the same look, and characters that do not show."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import cache

from model.scenario.entities import Scenario
from model.scenario.tables import records_of
from scenarios.rules.names import naming_columns

BIDI_MARK = "\u200e"


def look_alikes(scenario: Scenario) -> Iterator[tuple[str, int, str, str, str]]:
    """Table, row, column, name and the earlier name that it looks like, for each such name."""
    for table, column in naming_columns():
        first: dict[str, str] = {}
        for row, record in enumerate(records_of(scenario, table), 2):
            name: str = getattr(record, column)
            other = first.setdefault(skeleton(name), name)
            if other != name:
                yield table.name, row, column, name, other


def skeleton(name: str) -> str:
    """What is left of a name for the eye: equal for two names that look the same.

    Unicode Technical Standard 39, section 4, with its table of confusable characters as the package
    confusable-homoglyphs has it: compatibility forms taken apart, characters that do not show left out,
    every other character as the one that stands for its look.
    """
    apart = unicodedata.normalize("NFKD", name)
    return "".join(_prototype(c) for c in apart if not _unseen(c))


def _unseen(character: str) -> bool:
    """Whether a character does not show: format characters, variation selectors, fillers."""
    return (
        unicodedata.category(character) == "Cf"
        or "\ufe00" <= character <= "\ufe0f"
        or character in "\u034f\u115f\u1160\u3164\uffa0"
    )


@cache
def _prototype(character: str) -> str:
    """The character that stands for the look of this one: the one that most others are confused with."""
    alike = _confused_with(character)
    most = max(alike, key=lambda c: len(_confused_with(c)), default=character)
    return most if len(_confused_with(most)) > len(alike) else character


@cache
def _confused_with(character: str) -> tuple[str, ...]:
    from confusable_homoglyphs import confusables

    found = confusables.is_confusable(character, greedy=True)
    names = [entry["c"].strip(BIDI_MARK) for entry in found[0]["homoglyphs"]] if found else []
    return tuple(name for name in names if len(name) == 1)
