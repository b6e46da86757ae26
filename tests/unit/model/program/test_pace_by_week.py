"""Pace of temporary hands by week since they were hired: worked by hand, and against one pace."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.planned.plan_tables import rows_of
from model.proof.audit import audit
from model.scenario.choices import Happened
from model.scenario.records.past import Progress
from model.scenario.records.people import WeekPace
from model.solve import plan
from reports.plan.pace_words import still_learning
from tests.scenario_parts import crew, day
from tests.specimens import SPECIMENS
from tests.strategies import with_nursery
from tests.unit.model.program.test_shifts import firm, sound

SPECIMEN = SPECIMENS["pace by week"]


@pytest.mark.parametrize(
    "shares, overtime, heads",
    [
        # Ten hours of grafting on one Friday, by hands of eight hours a day.
        ((), 0.0, [2]),
        ((1.0,), 0.0, [2]),
        # At 0.75, two new hands bring 12 hours and are enough; at 0.5, three bring 12.
        ((0.75,), 0.0, [2]),
        ((0.5,), 0.0, [3]),
        # At 0.2, two hands that come a week before cost less than the seven that would be needed in one week.
        ((0.2,), 0.0, [2, 2]),
        # One hand with two hours of overtime is enough once it has learned, and new ones work none.
        ((0.5,), 2.0, [1, 1]),
        ((0.3, 0.6), 2.0, [5]),
    ],
)
def test_hands_come_as_early_as_it_pays(shares: tuple[float, ...], overtime: float, heads: list[int]) -> None:
    hired = crew(
        "Grafters",
        "grafting",
        heads=0.0,
        temp_heads_most=9,
        temp_pay_per_hour=20.0,
        temp_pace=1.0,
        temp_overtime_hours_per_head_day=overtime,
    )
    paces = tuple(WeekPace("Grafters", n, share) for n, share in enumerate(shares, start=1))
    made = sound(with_nursery(firm(hired, pace_by_week=paces), shortfall_penalty=500.0))
    assert made.short == 0
    assert list(made.temporary["heads"]) == heads


def test_the_plan_counts_each_week_at_its_share() -> None:
    """Three hands of 8 hours come on Wednesday of the first week: 0.5 · 24 hours, then 0.8 · 24."""
    made = plan(SPECIMEN)
    assert list(rows_of(made.temporary, "week_day", "heads")) == [(day(0), 3), (day(7), 3)]
    there = {d: h for d, h in rows_of(made.crew_days, "day", "temporary_available") if h > 0}
    assert there[day(2)] == pytest.approx(12)
    assert there[day(7)] == pytest.approx(19.2)


def test_the_audit_knows_the_weeks() -> None:
    made = plan(SPECIMEN)
    assert all(check.passed for check in audit(SPECIMEN, made))
    slower = replace(SPECIMEN, pace_by_week=tuple(replace(row, share=0.4) for row in SPECIMEN.pace_by_week))
    failed = [check.name for check in audit(slower, made) if not check.passed]
    assert failed == ["temporary hands are trained"]


def test_a_slower_beginning_never_costs_less() -> None:
    """With shares of 1 the plan is the one without them."""
    cost = {
        share: plan(replace(SPECIMEN, pace_by_week=(WeekPace("Grafters", 1, share),)), whole=False).cost
        for share in (0.1, 0.5, 1.0)
    }
    assert cost[0.1] >= cost[0.5] - 1e-6
    assert cost[0.5] > cost[1.0]
    assert cost[1.0] == pytest.approx(plan(replace(SPECIMEN, pace_by_week=()), whole=False).cost)


def test_hands_hired_before_today_count_by_their_weeks() -> None:
    """One hand came in the week before today. It brings 6.4 of 8 hours, and two more new ones 4 each."""
    told = Progress(day(0), Happened.HIRED, 1.0, crew="Grafters")
    later = with_nursery(replace(SPECIMEN, progress=(told,)), today=day(7))
    made = sound(later)
    assert list(made.temporary["heads"]) == [1, 3]
    there = {d: h for d, h in rows_of(made.crew_days, "day", "temporary_available") if h > 0}
    assert there[day(2)] == pytest.approx(4)
    assert there[day(11)] == pytest.approx(6.4 + 2 * 4)


def test_the_work_list_says_who_is_new() -> None:
    words = still_learning(SPECIMEN, plan(SPECIMEN))
    assert set(words) == {("Grafters", day(0)), ("Grafters", day(7))}
    assert "3 in week 2 (80" in words["Grafters", day(7)]
