"""How much batches differ, in words."""

from __future__ import annotations

from dataclasses import replace

from model.scenario.entities import Scenario
from reports.book.batch_words import batch_words
from tests.strategies import base_scenario, with_rows


def with_takes(alike: float | None) -> Scenario:
    return with_rows(base_scenario(), "methods", lambda row: replace(row, take_correlation=alike))


def test_sizes_are_told_with_their_source() -> None:
    """A take of .8 at .01: sqrt(.8 * .2 * .01) = 4.0 points; at the default of .008: 3.6."""
    start = "Batches differ (one standard deviation either way): take of a graft day "
    rest = "germination of a lot none, as written; germination of a sowing none, as written; no mishaps."
    assert batch_words(with_takes(0.01)) == f"{start}4.0 points, as written; {rest}"
    assert batch_words(with_takes(0.0)) == f"{start}none, as written; {rest}"
    default = "3.6 points, by default (common practice, no source)"
    assert batch_words(with_takes(None)) == f"{start}{default}; {rest}"


def test_lots_in_part_written_are_told_so() -> None:
    scenario = with_rows(
        base_scenario(),
        "seed_lots",
        lambda row: replace(row, sowing_correlation=None if row.variety == "Red" else 0.01),
    )
    told = "germination of a sowing 1.6 to 3.0 points, by default (common practice, no source) where not "
    assert f"{told}written (1 of 2 are); no mishaps." in batch_words(scenario)
