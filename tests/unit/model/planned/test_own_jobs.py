"""The nursery's own tasks, with days and hours worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.planned.jobs import Job, jobs_of
from model.planned.plan_tables import Plan, records
from model.scenario.calendar import Calendar
from model.scenario.choices import MethodKind, TaskPer
from model.scenario.own_tasks import days_done, fits
from model.scenario.records.people import OwnTask
from model.solve import plan
from tests.scenario_parts import day, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery

TASK = OwnTask("pinch", "hard", TaskPer.PLANT)


@pytest.fixture(scope="module")
def made() -> Plan:
    """Plan of the specimen: grafts on Tuesday 9 and Friday 12 March 2027; weekends are off."""
    return plan(SPECIMENS["own tasks"])


def _own(made: Plan, task: str) -> list[Job]:
    return [job for job in jobs_of(made).values() if job.own_task == task]


def test_days_by_hand(made: Plan) -> None:
    """Dark lasts 2 days, ramp 1, hardening 2. The ramp of Friday's grafts begins on a Sunday: Monday 15.

    Friday's plants wait in the ramp from Sunday to Monday, so they harden from Monday 15 to Wednesday 17.
    """
    assert [job.day for job in _own(made, "second clip")] == [day(10), day(14)]
    assert [job.day for job in _own(made, "spray")] == [day(n) for n in (11, 12, 13, 14, 15)]
    assert {job.day for job in _own(made, "label")} == {day(14), day(16)}
    # Rootstocks of Friday 5 and Tuesday 9 March germinate for two days; those of Red A alone are drenched.
    assert {(job.name, job.day.weekday()) for job in _own(made, "drench")} <= {("Red A", n) for n in range(5)}


def test_numbers_and_hours_by_hand(made: Plan) -> None:
    flows = records(made.flows)
    joins = {row["graft_day"]: row["joins"] for row in flows}
    for job, graft in zip(_own(made, "second clip"), sorted(joins), strict=True):
        assert (job.count, job.unit, job.skill) == (pytest.approx(joins[graft]), "joins", "grafting")
        assert job.hours == pytest.approx(joins[graft] * 6 / 3600)
        assert job.where == "in Chamber"
    held = sum(row["plants"] + row["margin_plants"] for row in records(made.deliveries))
    label = _own(made, "label")
    assert sum(job.count or 0 for job in label) == pytest.approx(held)
    assert {(job.skill, job.hours) for job in label} == {(None, 0.0)}
    clips = sum(row["used"] for row in records(made.items) if row["item"] == "Clips")
    assert clips == pytest.approx(sum(joins.values()) + 0.5 * held)
    sprayed = sum(row["hours"] for row in records(made.hours) if row["task"] == "spray")
    # Tuesday's trays harden from Friday to Monday, three days; Friday's from Monday to Wednesday, two.
    trays = {row["graft_day"]: row["trays_finishing"] for row in flows}
    assert sprayed == pytest.approx((3 * trays[day(8)] + 2 * trays[day(11)]) * 15 / 3600)


def test_seedlings_on_the_bench_are_those_that_stand_there(made: Plan) -> None:
    waves = {(row["lot"], row["sow_day"]): row for row in records(made.waves)}
    for job in _own(made, "turn"):
        (wave,) = [row for row in waves.values() if job.detail == f"bench, sown {row['sow_day']}"]
        assert job.day in (wave["bench_day"] + (day(1) - day(0)), day(10), day(14))
        assert job.count == pytest.approx((job.trays or 0) * wave["usable_per_tray"])


@pytest.mark.parametrize(
    ("due", "done"),
    [
        (1, [1]),  # a Tuesday
        (2, [2]),
        (4, [7]),  # a Friday, which is off: Monday
        (8, [8]),
        (9, []),  # the plants have left
    ],
)
def test_one_day_of_a_stage(due: int, done: list[int]) -> None:
    """A stage from Tuesday, day 1 of a calendar that starts on a Monday, to Wednesday of the next week."""
    calendar = Calendar(with_nursery(base_scenario(), working_weekdays=("Mon", "Tue", "Wed")).nursery)
    assert list(days_done(replace(TASK, day=due), 1, 1, 9, 9, calendar)) == done


def test_every_day_and_the_end() -> None:
    calendar = Calendar(with_nursery(base_scenario(), working_weekdays=("Mon", "Tue", "Wed")).nursery)
    assert list(days_done(TASK, 0, 2, 5, 5, calendar)) == [2, 3, 4]
    # Held from Wednesday to Friday, both ends off but the first: Thursday's label is done on Wednesday.
    assert list(days_done(replace(TASK, day=2), 2, 2, 4, 4, calendar)) == [2]
    # The horizon ends on a Sunday, day 20: no working day is left.
    assert list(days_done(replace(TASK, day=1), 18, 18, 21, 21, calendar)) == [16]
    # The stage ends on a Friday, which is off, but the plants stay in its room until Monday.
    assert list(days_done(replace(TASK, day=2), 2, 2, 4, 7, calendar)) == [7]


@pytest.mark.parametrize(
    ("change", "right"),
    [
        ({}, True),
        ({"method": "splice"}, True),
        ({"method": "cut"}, False),
        ({"product": "other"}, False),
        ({"format": "ten"}, True),
        ({"format": "twenty"}, False),
        ({"lot": "Red A"}, False),
        ({"stage": "dark"}, False),
    ],
)
def test_what_a_row_is_for(change: dict[str, str], right: bool) -> None:
    task = replace(TASK, **change)  # type: ignore[arg-type]
    assert fits(task, "hard", "ten", method="splice", product="Red on Stout", lot=None) is right


def test_own_root_plants_have_no_joins() -> None:
    """The same task, a join or a plant, on grafted and own-root plants of stages with one name."""
    own_root = SPECIMENS["own-root"]
    rows = (
        OwnTask("count joins", "grow", TaskPer.JOIN),
        OwnTask("count plants", "grow", TaskPer.PLANT),
    )
    assert own_root.methods[0].kind is MethodKind.OWN_ROOT
    made = plan(replace(own_root, own_tasks=rows, orders=(order("O-1", "Red plain", 10, 16),)))
    assert {job.own_task for job in jobs_of(made).values() if job.own_task} == {"count plants"}
