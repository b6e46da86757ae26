"""Sentences that the model has written, which stand in the plan's files, told as the locale writes.

The model knows no locale: its days are ISO 8601, its numbers have a decimal point. What a person reads is
told again with the same days and numbers. A name that a user gave stays, whatever it looks like.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date

from model.planned.lots import SownWave
from model.scenario.entities import Scenario
from model.scenario.tables import TABLES, records_of
from reports.book.writing import grouped, is_plain, shown_day

_DAY = r"\d{4}-\d\d-\d\d"
_TOLD = rf"{_DAY}|\d{{1,3}}(?:,\d{{3}})+(?:\.\d+)?|\d+\.\d+"


def retelling(scenario: Scenario) -> Callable[[str], str]:
    """A function that tells a sentence of the model as the locale writes its days and numbers."""
    if is_plain():
        return lambda text: text
    names = sorted({name for name in _texts(scenario) if re.search(_TOLD, name)}, key=len, reverse=True)
    kept = set(names)
    pattern = re.compile("|".join([*map(re.escape, names), rf"(?<![\w.,-])(?:{_TOLD})(?![\w-])"]))
    return lambda text: pattern.sub(lambda found: found[0] if found[0] in kept else _told(found[0]), text)


def _texts(scenario: Scenario) -> Iterator[str]:
    for table in TABLES:
        for record in records_of(scenario, table):
            for column in table.columns:
                value = getattr(record, column.name)
                yield from (value,) if isinstance(value, str) else value if isinstance(value, tuple) else ()


def _told(plain: str) -> str:
    if re.fullmatch(_DAY, plain):
        return shown_day(date.fromisoformat(plain))
    return grouped(float(plain.replace(",", "")), len(plain.partition(".")[2]))


def lot_words(wave: SownWave) -> str:
    """A wave by its lot and its day of sowing."""
    return f"{wave.lot} sown {shown_day(wave.sown)}"
