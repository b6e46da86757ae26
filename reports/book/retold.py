"""Sentences of the model and remarks on a scenario, told as the locale writes.

The model knows no locale: its days are ISO 8601, its numbers have a decimal point, its money the currency's
code. What a person reads is told again with the same days, numbers and sums. A name that a user gave stays,
whatever it looks like.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date

from model.currencies import decimals
from model.planned.lots import SownWave
from model.scenario.entities import Scenario
from model.scenario.tables import TABLES, records_of
from reports.book.writing import grouped, is_plain, money, shown_day

_DAY = r"\d{4}-\d\d-\d\d"
_NUMBER = r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+\.\d+"
_TOLD = rf"{_DAY}|{_NUMBER}"


def retelling(scenario: Scenario) -> Callable[[str], str]:
    """A function that tells a sentence of the model as the locale writes its days, numbers and sums."""
    if is_plain():
        return lambda text: text
    names = sorted({name for name in _texts(scenario) if re.search(_TOLD, name)}, key=len, reverse=True)
    kept = set(names)
    sum_ = rf"(?:{_NUMBER}|\d+) {scenario.nursery.currency}"
    pattern = re.compile("|".join([*map(re.escape, names), rf"(?<![\w.,-])(?:{sum_}|{_TOLD})(?![\w-])"]))
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
    figure, _, currency = plain.partition(" ")
    value, places = float(figure.replace(",", "")), len(figure.partition(".")[2])
    return money(value, currency, places - decimals(currency)) if currency else grouped(value, places)


def lot_words(wave: SownWave) -> str:
    """A wave by its lot and its day of sowing."""
    return f"{wave.lot} sown {shown_day(wave.sown)}"
