"""How much batches differ in a scenario, in words: what is drawn, and where its size comes from."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

from model.scenario.entities import Scenario
from reports.book.words import counted
from reports.book.writing import grouped

BY_DEFAULT = "by default (common practice, no source)"


class _Batch(NamedTuple):
    """The rate of a batch: its mean, its intra-lot correlation, and whether the scenario writes it."""

    mean: float
    correlation: float
    written: bool

    @property
    def points(self) -> float:
        """Standard deviation, in percentage points."""
        return 100 * sqrt(self.mean * (1 - self.mean) * self.correlation)


def batch_words(scenario: Scenario) -> str:
    """One sentence: the spread of takes and germinations between batches, and whence it comes."""
    lots = scenario.seed_lots
    takes = [
        _Batch(method.take, method.between_days, method.take_correlation is not None)
        for method in scenario.methods
        if method.take is not None
    ]
    of_lots = [
        _Batch(lot.germination, lot.between_lots, lot.germination_correlation is not None) for lot in lots
    ]
    sowings = [
        _Batch(lot.germination, lot.between_sowings, lot.sowing_correlation is not None) for lot in lots
    ]
    parts = [
        f"{what} {_size(batches)}"
        for what, batches in (
            ("take of a graft day", takes),
            ("germination of a lot", of_lots),
            ("germination of a sowing", sowings),
        )
        if batches
    ]
    mishaps = "no mishaps" if not scenario.mishaps else f"mishaps of {counted(len(scenario.mishaps), 'kind')}"
    return f"Batches differ (one standard deviation either way): {'; '.join(parts)}; {mishaps}."


def _size(batches: Sequence[_Batch]) -> str:
    sizes, written = sorted(batch.points for batch in batches), sum(batch.written for batch in batches)
    if sizes[-1] == 0:
        return "none, as written" if written else "none, since it is certain"
    low, high = grouped(sizes[0], 1), grouped(sizes[-1], 1)
    span = f"{low} points" if low == high else f"{low} to {high} points"
    if written == len(batches):
        return f"{span}, as written"
    return f"{span}, {BY_DEFAULT}" + (
        f" where not written ({written} of {len(batches)} are)" if written else ""
    )
