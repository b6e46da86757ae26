"""A scenario's rates as the log of counts gives them, and the cells that a variant changes to them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isnan

from model.planned.plan_tables import rows_of
from model.rates.estimates import Counted, estimate
from model.scenario.entities import Scenario
from model.scenario.tables import BY_NAME
from scenarios.counts.log import Count, seconds_of_a_join, standards
from scenarios.variants.toml_write import NewCell

FILE = "counted_rates.toml"

PLACES = 4
"""Decimal places of a share or pace written into a cell: no log is more precise."""


@dataclass(frozen=True, slots=True)
class Rate:
    """The rate of one lot, method or crew from the counts, and the scenario's figure.

    ``rate`` with its 95 % interval: a share, or pace as a ratio; ``low`` and ``high`` are None where there is
    only one day or one count of pace. The rate of grading is the share kept. ``correlation`` is for the cell
    of that name, ``sowings`` says how much sowings of a lot differ; None where the counts do not give it, or
    the table has no such cell. ``now``, ``now_correlation``, ``now_sowings``: the scenario's, with what
    stands in for a blank cell.
    """

    counted: Counted
    name: str
    rate: float
    low: float | None
    high: float | None
    correlation: float | None
    records: int
    tried: int
    now: float
    now_correlation: float | None
    sowings: float | None = None
    now_sowings: float | None = None

    @property
    def verdict(self) -> str:
        """Whether the scenario's figure is below, within or above the interval."""
        if self.low is None or self.high is None:
            return "no interval"
        if self.low <= self.now <= self.high:
            return "within"
        return "below" if self.now < self.low else "above"

    @property
    def outside(self) -> bool:
        """Whether the scenario's figure lies outside the interval."""
        return self.verdict in ("below", "above")


def counted_rates(scenario: Scenario, counts: Sequence[Count]) -> list[Rate]:
    """The rates that the counts give, by kind and name.

    ``counts`` come from ``scenarios.counts.log.read_counts`` for this scenario.
    """
    table = estimate((count.record for count in counts), seconds_of(scenario))
    said: dict[tuple[str, str], tuple[float, float | None]] = {}
    sowings = {}
    for lot in scenario.seed_lots:
        said[Counted.GERMINATION, lot.lot] = lot.germination, lot.between_lots
        said[Counted.GRADING, lot.lot] = 1 - lot.grade_out, None
        sowings[Counted.GERMINATION, lot.lot] = lot.between_sowings
    for method in scenario.methods:
        said[Counted.MATCH, method.method] = method.match or 1.0, None
        said[Counted.TAKE, method.method] = method.take or 1.0, method.between_days
    for crew in scenario.crews:
        said[Counted.PACE, crew.crew] = crew.pace, None
    return [
        Rate(
            Counted(kind),
            name,
            rate,
            _known(low),
            _known(high),
            _known(alike),
            records,
            tried,
            *said[kind, name],
            _known(between),
            sowings.get((Counted(kind), name)),
        )
        for kind, name, rate, low, high, alike, between, records, tried in rows_of(table, *table.columns)
    ]


def _known(value: float) -> float | None:
    return None if isnan(value) else value


def seconds_of(scenario: Scenario) -> dict[str, float]:
    """Seconds of a join at the standard pace, for each method with exactly one standard."""
    found = {
        method: {seconds_of_a_join(roles) for roles in by_format}
        for method, by_format in standards(scenario).items()
    }
    return {method: min(seconds) for method, seconds in found.items() if len(seconds) == 1}


def changed_cells(scenario: Scenario, rates: Sequence[Rate]) -> list[NewCell]:
    """The cells of rates with an interval whose rounded figure differs from the scenario's.

    A take by age is multiplied by the same factor as its method's take, up to 1.
    """
    found: list[NewCell | None] = []
    for rate in rates:
        if rate.low is None:
            continue
        table, column = CELLS[rate.counted]
        key = ((BY_NAME[table].key[0], rate.name),)
        figures: list[tuple[str, float | None, float | None]] = [(column, rate.now, rate.rate)]
        if rate.counted is Counted.GRADING:
            figures = [(column, 1 - rate.now, 1 - rate.rate)]
        figures += [
            (f"{column}_correlation", rate.now_correlation, rate.correlation),
            ("sowing_correlation", rate.now_sowings, rate.sowings),
        ]
        found += [_cell(table, key, *figure) for figure in figures]
        if rate.counted is Counted.TAKE:
            found += _by_age(scenario, rate)
    return [cell for cell in found if cell is not None]


CELLS = {
    Counted.GERMINATION: ("seed_lots", "germination"),
    Counted.GRADING: ("seed_lots", "grade_out"),
    Counted.MATCH: ("methods", "match"),
    Counted.TAKE: ("methods", "take"),
    Counted.PACE: ("crews", "pace"),
}
"""Table and column that a rate goes into."""


def _by_age(scenario: Scenario, rate: Rate) -> Iterator[NewCell | None]:
    for effect in scenario.age_effects:
        if effect.method == rate.name and effect.take is not None:
            key = tuple((name, getattr(effect, name)) for name in BY_NAME["age_effects"].key)
            yield _cell("age_effects", key, "take", effect.take, effect.take * rate.rate / rate.now)


def _cell(
    table: str, key: tuple[tuple[str, str | int], ...], column: str, before: float | None, after: float | None
) -> NewCell | None:
    """The changed cell; None where its figure is not counted, stays, or is too low for the column."""
    if after is None:
        return None
    range_ = BY_NAME[table].by_name[column]
    value = round(after if range_.high is None else min(after, range_.high), PLACES)
    if value == before or value < (low := range_.low or 0.0) or (range_.above_low and value == low):
        return None
    return NewCell(table, key, column, before, value)
