"""The jobs of random plans: hours, seed and plants as the audit's replay and the plan itself have them."""

from __future__ import annotations

from collections import defaultdict

import pytest
from hypothesis import given, settings

from model.planned.job_crews import assignments
from model.planned.jobs import jobs_of
from model.planned.plan_tables import PLAN_TABLES, Plan, rows_of
from model.planned.tables.job_tables import Step
from model.proof.replay import Replay
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from reports.work.calendar_feed import calendar_feed
from tests.depth import deep
from tests.report_scenario import report_plan, report_scenario
from tests.rfc5545 import faults
from tests.strategies import small_scenarios

SMALL = 1e-6


def check_jobs(scenario: Scenario, result: Plan) -> None:
    found = list(jobs_of(result).values())
    assert found == sorted(found, key=lambda job: (job.day, job.step.position))
    check_work_is_the_replays(scenario, result)
    given_ = assignments(result)
    worked: dict[tuple[object, ...], float] = defaultdict(float)
    shares: dict[object, float] = defaultdict(float)
    trays: dict[object, int] = defaultdict(int)
    for part in given_:
        assert 0 <= part.start < part.end <= 1
        shares[part.job] += part.end - part.start
        trays[part.job] += part.part(part.job.trays) or 0
        if part.crew is not None:
            worked[part.crew, "own", part.job.day, part.job.skill, part.job.task] += part.own
            worked[part.crew, "temporary", part.job.day, part.job.skill, part.job.task] += part.temporary
    assert list(shares) == found
    assert all(share == pytest.approx(1) for share in shares.values())
    for job in found:
        assert job.trays is None or job.trays - SMALL <= trays[job] < job.trays + 1
    planned = {tuple(at): hours for *at, hours in rows_of(result.hours, *PLAN_TABLES["hours"].names)}
    for at in {*planned, *worked}:
        assert worked[at] == pytest.approx(planned.get(at, 0.0), abs=SMALL), at
    assert faults(calendar_feed(scenario, given_, stamped=scenario.nursery.first_day)) == []


def check_work_is_the_replays(scenario: Scenario, result: Plan) -> None:
    """Hours by day, skill and task, and seeds by lot and day, as the audit finds them from the scenario."""
    replay = Replay(scenario, result)
    hours: dict[tuple[object, ...], float] = defaultdict(float)
    seeds: dict[tuple[str, object], float] = defaultdict(float)
    packed: dict[str, float] = defaultdict(float)
    for job in jobs_of(result).values():
        if job.skill is not None:
            hours[job.skill, job.task, job.day] += job.hours
        if job.step is Step.SOW:
            seeds[job.name, job.day] += job.seeds or 0.0
        if job.step is Step.PACK:
            packed[job.name] += job.count or 0.0
    for at in {*replay.needed, *hours}:
        assert hours.get(at, 0.0) == pytest.approx(replay.needed.get(at, 0.0), abs=SMALL), at
    for (lot, day), sown in seeds.items():
        assert sown == pytest.approx(replay.used[lot][day])
    for order, own, bought in rows_of(result.orders, "order", "own", "bought"):
        assert packed[order] == pytest.approx(own + bought, abs=SMALL)


@given(small_scenarios())
@settings(max_examples=deep(60))
def test_jobs_are_the_work_of_the_plan(scenario: Scenario) -> None:
    check_jobs(scenario, plan_of(solve(scenario)))


@given(small_scenarios())
@settings(max_examples=deep(20))
def test_jobs_of_a_plan_in_parts(scenario: Scenario) -> None:
    check_jobs(scenario, plan_of(solve(scenario, whole=False)))


def test_jobs_of_the_report_scenario() -> None:
    check_jobs(report_scenario(), report_plan())
