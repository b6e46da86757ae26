"""Long phases say how far they are, as counts: so many of so many."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.season.as_planned import as_planned
from model.season.cures import cures
from model.season.replanning import replan
from model.solve import plan
from scenarios.studies.margins import margins_study
from scenarios.studies.risk import risk_study
from tests.scenario_parts import day, order
from tests.strategies import base_scenario, with_nursery

HOW_FAR = re.compile(r"([0-9,]+) of ([0-9,]+)")


def book() -> Scenario:
    return base_scenario(orders=(order("O-1", "Red on Stout", 100, 14), order("O-2", "Red on Stout", 61, 17)))


def counts(heard: list[str], phase: str) -> list[tuple[int, int]]:
    """How far each word of a phase says that it is; the phase stands before the count."""
    told = [text.partition(phase)[2] for text in heard if phase in text]
    found = [match for text in told if (match := HOW_FAR.search(text))]
    return [(int(k.replace(",", "")), int(n.replace(",", ""))) for k, n in map(re.Match.groups, found)]


def rising(found: list[tuple[int, int]]) -> bool:
    """Whether the counts rise, all of the same number, and some are told."""
    return bool(found) and found == sorted(found) and all(0 <= k <= found[0][1] == n for k, n in found)


TRY = "whole trays, try 1 of at most 3: "


def test_plan_says_how_many_numbers_are_whole() -> None:
    heard: list[str] = []
    plan(book(), progress=heard.append)
    assert rising(counts(heard, TRY))
    assert [text for text in heard if ":" not in text] == [
        "expand",
        "build",
        "compile",
        "solve",
        "whole trays",
        "whole trays, bound",
        "whole trays, search for a cheaper plan",
        "tables",
    ]


def test_replan_says_how_many_numbers_are_whole_and_how_many_cures_are_tried() -> None:
    last = plan(book())
    told = tuple(
        replace(row, counted=row.number * 0.4) if row.what is Happened.GRAFTED else row
        for row in as_planned(last, day(9))
    )
    later = with_nursery(replace(book(), progress=told), today=day(9))
    heard: list[str] = []
    replan(later, last.tables, progress=heard.append)
    assert rising(counts(heard, TRY))
    heard.clear()
    hit, ways = cures(later, last.tables, progress=heard.append)
    assert hit
    assert counts(heard, "cures: ") == [(k, len(ways)) for k in range(1, len(ways))]


def test_risk_says_how_many_graft_days_are_drawn() -> None:
    heard: list[str] = []
    risk_study(book(), seasons=20, seed=1, progress=heard.append)
    found = counts(heard, "20 seasons: graft day ")
    assert found == [(k, len(found)) for k in range(1, len(found) + 1)]
    assert found


@pytest.mark.parametrize("phase", ["margins, round ", "graft day ", TRY])
def test_margins_say_how_far_they_are(phase: str) -> None:
    heard: list[str] = []
    margins_study(book(), seasons=20, seed=1, progress=heard.append)
    if phase == "margins, round ":
        rounds = [text for text in heard if text.startswith(phase) and ":" not in text]
        assert rounds == [f"{phase}{k} of at most 12" for k in range(1, len(rounds) + 1)]
        assert rounds
    else:
        of_rounds = [text for text in heard if text.startswith("margins, round 1")]
        assert rising(counts(of_rounds, phase))
        assert rising(counts([text for text in heard if text.startswith("20 % over")], phase))
