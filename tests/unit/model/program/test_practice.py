"""What new hands practise on, with days, trays and money worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.planned.jobs import jobs_of
from model.planned.plan_reading import PlanReading
from model.planned.plan_tables import Plan, records
from model.proof.audit import audit
from model.questions.traced_costs import traced_costs
from model.scenario.choices import Task
from model.solve import plan, solve
from reports.plan.practice_words import practised_on
from tests.scenario_parts import day
from tests.specimens import SPECIMENS

SPECIMEN = SPECIMENS["practice"]
GRAFTING = tuple(row for row in SPECIMEN.labour_standards if row.task is Task.GRAFT)


@pytest.fixture(scope="module")
def made() -> Plan:
    """Plan of the specimen: three hands come on Monday 8 March 2027 and are trained until Tuesday."""
    return plan(SPECIMEN)


def test_days_and_trays_by_hand(made: Plan) -> None:
    """Each hand has two trays of rootstocks five days old, half a tray of scions three days old, 20 clips."""
    (hired,) = records(made.temporary)
    assert (hired["week_day"], hired["new"]) == (day(7), 3)
    jobs = [job for job in jobs_of(made).values() if "to practise on" in job.detail]
    told = {(job.step.value, job.name, job.day, job.trays, job.seeds) for job in jobs}
    assert told == {
        ("sow", "Stout A", day(2), 6, 60),
        ("move to bench", "Stout A", day(4), 6, None),
        ("sow", "Red A", day(4), 1.5, 30),
        ("move to bench", "Red A", day(7), 1.5, None),
    }
    clips = [p for p in PlanReading(SPECIMEN, made.tables).practised() if p.row.item == "Clips"]
    assert [(p.amount, p.day, p.out) for p in clips] == [(60, day(7), day(9))]
    words = practised_on(SPECIMEN, made)
    assert set(words) == {("Grafters", day(7)), ("Grafters", day(8))}
    assert "6 trays ten of Stout A" in words["Grafters", day(7)]


def test_a_hire_costs_what_it_practises_on() -> None:
    """20 seeds at .25, 10 at .50, 20 clips at 4 / 50 and one for each of 2.5 trays sown: 11.80 a hand."""
    clips = replace(SPECIMEN.supplies[0], stock=0.0, lead_days=0, return_share=0.0, wash_seconds=0.0)
    zones = tuple(replace(zone, cost_per_slot_day=0.0) for zone in SPECIMEN.zones)
    with_it = replace(SPECIMEN, supplies=(clips,), zones=zones, labour_standards=GRAFTING)
    dear, cheap = (plan(s, whole=False) for s in (with_it, replace(with_it, practice=())))
    new = [sum(row["new"] for row in records(made.temporary)) for made in (dear, cheap)]
    assert new[0] == pytest.approx(new[1])
    assert dear.cost - cheap.cost == pytest.approx(new[0] * 11.80)


def test_nobody_new_begins_before_what_is_practised_on_has_grown() -> None:
    """Sown on the first day, rootstocks of 8 days are ready on day 8: who comes on day 7 comes too early."""
    rows = tuple(replace(row, days_before=8) for row in SPECIMEN.practice[:1])
    late = replace(SPECIMEN, practice=rows)
    made = plan(late, whole=False)
    assert all(row["week_day"] >= day(14) for row in records(made.temporary) if row["new"] > 0)
    assert all(check.passed for check in audit(late, made))
    in_time = replace(late, practice=tuple(replace(row, days_before=7) for row in rows))
    assert plan(in_time, whole=False).cost < made.cost


def test_traced_costs_add_up_with_practice() -> None:
    solved = solve(SPECIMEN)
    assert traced_costs(solved)["amount"].sum() == pytest.approx(solved.solution.objective)
