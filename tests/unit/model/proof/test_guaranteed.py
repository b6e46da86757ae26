"""What the audit says of guaranteed hours, by hand.

One grafter is guaranteed 12 hours in a week of five working days, at 25 an hour; two from Wednesday 10 March
on, at 28. Monday 9 March is a day off. So 12 hours in the first week, (1 + 2 + 2 + 2) · 12 / 5 = 16.8 in the
second, 24 in the third, in which nothing is grafted.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from model.planned.plan_tables import Plan, frame, records
from model.proof.checks.business_checks import guaranteed_hours_are_paid
from model.proof.replay import Replay
from model.solve import plan
from tests.specimens import SPECIMENS

SCENARIO = SPECIMENS["guaranteed hours"]


@cache
def sound() -> Plan:
    return plan(SCENARIO)


def told(week: int, **cells: Any) -> list[tuple[str, float]]:
    """What is wrong where a row of the table has other cells."""
    rows = records(sound().guaranteed)
    rows[week] |= cells
    broken = replace(sound(), guaranteed=frame("guaranteed", rows))
    return [(place, round(size, 6)) for place, size in guaranteed_hours_are_paid(Replay(SCENARIO, broken))]


def test_the_weeks_by_hand() -> None:
    assert told(0) == []
    assert [row["guaranteed"] for row in records(sound().guaranteed)] == pytest.approx([12.0, 16.8, 24.0])
    third = records(sound().guaranteed)[2]
    assert (third["idle"], third["amount"]) == pytest.approx((24.0, 24 * 28))


@pytest.mark.parametrize(
    ("week", "cells", "words", "size"),
    [
        (0, {"guaranteed": 13.0}, "guaranteed hours", 1.0),
        (2, {"idle": 20.0}, "hours without work", 4.0),
        (2, {"amount": 600.0}, "pay of hours without work", 72.0),
    ],
)
def test_what_is_wrong_is_told(week: int, cells: dict[str, float], words: str, size: float) -> None:
    ((place, wrong),) = told(week, **cells)
    assert place.startswith(f"Grafters, week of 2027-03-{1 + 7 * week:02d}, {words}")
    assert wrong == size


def test_a_crew_without_guarantee_has_no_such_hours() -> None:
    (first, *_) = told(0, crew="Growers")
    assert first[0].startswith("Growers, week of 2027-03-01, hours without work")
