"""What the audit says of bays that are opened whole, in a plan with one thing changed.

A bay of the bench has 5 slots and costs 20 a week; from Tuesday 9 March on it has 4. One of the house costs
30 a week, from Wednesday 10 March on 12, from the next Monday on nothing.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from model.planned.plan_tables import Plan, frame, records
from model.proof.checks.bay_checks import bays_hold_their_trays
from model.proof.replay import Replay
from model.solve import plan
from tests.specimens import SPECIMENS

SCENARIO = SPECIMENS["bays"]


@cache
def sound() -> Plan:
    """The plan of the specimen."""
    return plan(SCENARIO)


def told(rows: list[dict[str, Any]]) -> list[tuple[str, float]]:
    """What the check says of other rows of the table ``bays``."""
    broken = replace(sound(), bays=frame("bays", rows))
    return [(place, round(size, 4)) for place, size in bays_hold_their_trays(Replay(SCENARIO, broken))]


def test_what_a_bay_costs() -> None:
    rows = {(row["zone"], row["week_day"].isoformat()): row for row in records(sound().bays)}
    assert rows["Bench", "2027-03-08"]["cost_per_bay"] == pytest.approx(20.0)
    assert rows["House", "2027-03-08"]["cost_per_bay"] == pytest.approx((2 * 30 + 5 * 12) / 7)
    assert ("House", "2027-03-15") not in rows
    assert told(records(sound().bays)) == []


def test_bays_too_few() -> None:
    rows = records(sound().bays)
    rows[0] |= {"bays": rows[0]["bays"] - 1, "room": rows[0]["room"] - 5}
    rows[0]["amount"] = rows[0]["bays"] * 20
    found = told(rows)
    assert found
    assert all("slots used against open bays" in place for place, _ in found)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"cost_per_bay": 21.0}, "cost of a bay"),
        ({"amount": 0.0}, "cost: the plan"),
        ({"used": 0.0}, "slots used on the fullest day"),
        ({"room": 1.0}, "slots of open bays"),
    ],
)
def test_a_figure_that_is_wrong(change: dict[str, Any], what: str) -> None:
    rows = records(sound().bays)
    rows[0] |= change
    ((place, _),) = told(rows)
    assert what in place
    assert place.startswith("Bench, week of 2027-03-08")


def test_a_week_left_out_or_too_many() -> None:
    rows = records(sound().bays)
    ((place, _),) = told(rows[1:])
    assert "Bench, week of 2027-03-08 is not in table bays" in place
    free = rows[-1] | {"zone": "House", "week_day": SCENARIO.nursery.first_day.replace(day=15)}
    assert told([*rows, free]) == [("House, week of 2027-03-15: no bay is to be paid there", 1.0)]
