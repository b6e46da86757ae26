"""Supplies that come back, with days, units and hours worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.planned.jobs import jobs_of
from model.planned.plan_tables import Plan, records
from model.scenario.choices import Per
from model.scenario.records.trade import Pack, Supply, SupplyUse
from model.solve import plan
from tests.least import least
from tests.scenario_parts import day, one_day_splice, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario

SPECIMEN = SPECIMENS["supplies that come back"]


@pytest.fixture(scope="module")
def made() -> Plan:
    """Plan of the specimen: grafts on Monday 8, Tuesday 9 and Friday 12 March 2027; weekends are off."""
    return plan(SPECIMEN)


def test_days_units_and_hours_by_hand(made: Plan) -> None:
    """Nine of ten clips are back three days later; three clips are washed in a minute."""
    joins = {row["graft_day"]: row["joins"] for row in records(made.flows)}
    washed = [job for job in jobs_of(made).values() if job.name == "Clips" and job.step.value == "wash"]
    assert sorted(joins) == [day(7), day(8), day(11)]
    assert [job.day for job in washed] == [day(10), day(11), day(14)]
    for job, graft in zip(washed, sorted(joins), strict=True):
        assert (job.count, job.skill) == (pytest.approx(0.9 * joins[graft]), "general")
        assert job.hours == pytest.approx(0.9 * joins[graft] / 3 / 60)
    hours = sum(row["hours"] for row in records(made.hours) if row["task"] == "wash")
    assert hours == pytest.approx(sum(job.hours for job in washed))


def test_packs_hold_what_is_out_at_one_time(made: Plan) -> None:
    """110 are out on Tuesday; on Friday nine tenths of them are back. 10 are there, 100 are 3 packs of 40."""
    monday, tuesday, friday = (
        row["joins"] for row in sorted(records(made.flows), key=lambda r: r["graft_day"])
    )
    out = max(monday + tuesday, 0.1 * (monday + tuesday) + friday)
    (clips,) = (row for row in records(made.items) if row["item"] == "Clips")
    assert clips["used"] == pytest.approx(monday + tuesday + friday)
    assert (out, clips["bought"]) == (pytest.approx(109.888, abs=1e-3), 120)
    assert clips["left"] == pytest.approx(10 + clips["bought"] - 0.1 * (monday + tuesday + friday))


def test_two_orders_a_fortnight_apart_share_their_clips() -> None:
    """60 plants for day 9 and 90 for day 23, no joins lost: 90 clips where all are back in time, else 150.

    Where a fifth is lost, the 48 that come back leave 42 to buy beside the first 60.
    """
    base = base_scenario()
    bought = {}
    for share, days in ((0.0, 0), (1.0, 10), (0.8, 10), (1.0, 14), (1.0, 15)):
        made = plan(
            replace(
                base,
                nursery=replace(base.nursery, last_day=day(30)),
                methods=(one_day_splice(),),
                orders=(order("O-1", "Red on Stout", 60, 9), order("O-2", "Red on Stout", 90, 23)),
                supplies=(Supply("Clips", "clip", 0.0, 0, share, days),),
                supply_uses=(SupplyUse("Clips", Per.JOIN, None, None, 1.0),),
                packs=(*base.packs, Pack("Clips", 1.0, 0.01)),
            )
        )
        assert made.orders["short"].sum() == 0
        (clips,) = (row for row in records(made.items) if row["item"] == "Clips")
        bought[share, days] = clips["bought"]
    assert bought == {(0.0, 0): 150, (1.0, 10): 90, (0.8, 10): 102, (1.0, 14): 90, (1.0, 15): 150}


def test_more_that_comes_back_never_costs_more() -> None:
    clips, crates = SPECIMEN.supplies
    costs = [
        least(replace(SPECIMEN, supplies=(replace(clips, return_share=share, wash_seconds=0.0), crates)))
        for share in (0.0, 0.5, 0.9, 1.0)
    ]
    assert costs == sorted(costs, reverse=True)
    assert costs[0] > costs[-1]
