"""Shifts by weekday, temporary hands by date, by the day, with overtime and trainers: worked by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.scenario.choices import Happened, PayBasis, Task
from model.scenario.entities import DayOff, Scenario
from model.scenario.records.past import Progress
from model.scenario.records.people import Crew, CrewDay, LabourStandard, Shift
from model.solve import plan
from tests.scenario_parts import crew, day, one_day_splice, order
from tests.strategies import base_scenario, with_nursery, with_rows

PAY = 25.0
SECONDS = 360.0
"""100 joins of 360 s are 10 hours of grafting."""


def firm(*crews: Crew, **tables: Any) -> Scenario:
    """100 plants that can be grafted on one day alone; nothing fails, and only grafting takes time."""
    made = base_scenario(
        methods=(one_day_splice(),),
        crews=crews,
        labour_standards=(LabourStandard(Task.GRAFT, "grafting", None, None, SECONDS),),
        **tables,
    )
    sure = with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))
    return with_nursery(sure, working_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"))


def line(made: Plan, name: str) -> float:
    return sum(amount for line, amount in rows_of(made.costs, "line", "amount") if line == name)


def sound(of: Scenario) -> Plan:
    made = plan(of)
    assert [check.name for check in audit(of, made) if not check.passed] == []
    return made


def test_a_committed_crew_is_paid_its_shifts() -> None:
    """Three weeks of four days of 8 h, Fridays of 4 h, Sundays of 2 h; a Monday off."""
    grafters = crew("Grafters", "grafting", heads=2.0, pay_per_hour=PAY, pay_basis=PayBasis.COMMITTED)
    shifts = (Shift("Grafters", ("Fri",), 4.0), Shift("Grafters", ("Sun",), 2.0))
    made = sound(firm(grafters, shifts=shifts, days_off=(DayOff(day(0)),)))
    assert line(made, "labour") == pytest.approx(2 * PAY * (3 * (4 * 8 + 4 + 2) - 8))


def graft_day() -> str:
    (found,) = set(sound(firm(crew("Grafters", "grafting", heads=2.0))).flows["graft_day"])
    return f"{found:%a}"


def test_nobody_grafts_on_the_crews_day_off() -> None:
    """The one graft day is off for the crew: all 100 plants are short, though the nursery works."""
    grafters = crew("Grafters", "grafting", heads=2.0, day_off_hours_per_head=0.0)
    made = sound(firm(grafters, shifts=(Shift("Grafters", (graft_day(),), 0.0),)))
    assert made.short == pytest.approx(100)


@pytest.mark.parametrize("trainer, rates", [(0.0, (20.0, 20.0)), (1.5, (20.0, 20.0)), (1.5, (20.0, 26.0))])
def test_a_new_hand_takes_hours_of_an_own_hand(trainer: float, rates: tuple[float, float]) -> None:
    """One own hand has 8 of the 10 hours; a new hand, trained on Monday, has the rest of its day for nothing.

    Own hands then graft 2 hours, and spend the trainer's hours on Monday. The new hand is paid for the week.
    """
    grafters = crew(
        "Grafters",
        "grafting",
        heads=1.0,
        pay_per_hour=PAY,
        temp_heads_most=1,
        temp_pay_per_hour=rates[0],
        temp_training_days=1,
        temp_trainer_hours=trainer,
    )
    dearer = CrewDay("Grafters", day(1), temp_pay_per_hour=rates[1])
    shifts = (Shift("Grafters", ("Thu",), 4.0),)
    made = sound(firm(grafters, crew_days=(dearer,), shifts=shifts))
    (week,) = set(made.temporary["week_day"])
    assert graft_day() == "Fri"
    assert line(made, "labour") == pytest.approx(PAY * (2 + trainer))
    assert line(made, "temporary hands") == pytest.approx(36 * rates[int(week > day(1))])
    spent = {day: hours for day, hours in rows_of(made.crew_days, "day", "training") if hours > 0}
    assert spent == ({week: trainer} if trainer else {})


def hired(**changes: Any) -> Crew:
    """No own hands; up to three temporary ones at 20 an hour, trained for a day."""
    terms = {"temp_heads_most": 3, "temp_pay_per_hour": 20.0, "temp_training_days": 1, "temp_pace": 1.0}
    return crew("Grafters", "grafting", heads=0.0, **(terms | changes))


@pytest.mark.parametrize(
    "changes, hours, longer, rate",
    [
        # 10 hours need two hands for a week of 40 hours each, or one that may work 2 hours longer.
        ({}, 80.0, 0.0, 0.0),
        ({"temp_overtime_hours_per_head_day": 2.0}, 40.0, 2.0, 20.0),
        ({"temp_overtime_hours_per_head_day": 2.0, "temp_overtime_pay_per_hour": 30.0}, 40.0, 2.0, 30.0),
        # A week of 41 hours leaves each hand one hour longer, so two of them share the two hours.
        ({"temp_overtime_hours_per_head_day": 2.0, "week_hours_per_head": 41.0}, 80.0, 0.0, 0.0),
        # By the day: each is paid for its training and for the one graft day.
        ({"temp_days_least": 0}, 32.0, 0.0, 0.0),
        ({"temp_days_least": 0, "temp_overtime_hours_per_head_day": 2.0}, 16.0, 2.0, 20.0),
        # Three days at least; a week of 17 hours has room for two shifts alone, so nobody can come.
        ({"temp_days_least": 3}, 48.0, 0.0, 0.0),
        ({"temp_days_least": 3, "week_hours_per_head": 17.0}, 0.0, 0.0, 0.0),
    ],
)
def test_temporary_hands_by_the_day_and_longer(
    changes: dict[str, Any], hours: float, longer: float, rate: float
) -> None:
    """Ten hours of grafting on one day, by temporary hands alone."""
    made = sound(with_nursery(firm(hired(**changes)), shortfall_penalty=500.0))
    assert line(made, "temporary hands") == pytest.approx(hours * 20 + longer * rate)
    assert made.temporary["paid_hours"].sum() == pytest.approx(hours)
    assert made.crew_days["temporary_overtime"].sum() == pytest.approx(longer)
    assert made.short == pytest.approx(0 if hours else 100)


@pytest.mark.parametrize("least, paid", [(0, 5), (1, 6)])
def test_hands_on_the_list_are_trained_once(least: int, paid: int) -> None:
    """Two graft days, two weeks apart: one hand is trained once, and called on both.

    With a least day a week it is called in the week between too, for that is less than two days of training.
    """
    later = (order("O-1", "Red on Stout", 80, 16), order("O-2", "Red on Stout", 80, 30))
    called = hired(temp_days_least=least, temp_training_days=3, temp_training_cost=100.0)
    of = with_nursery(firm(called, orders=later), last_day=day(34))
    made = sound(of)
    assert made.temporary["new"].sum() == pytest.approx(1)
    assert made.temporary["heads"].max() == pytest.approx(1)
    assert line(made, "temporary hands") == pytest.approx(100 + paid * 8 * 20)


@pytest.mark.parametrize(
    "today, called, longest, hours, short",
    [
        # The graft day and one day more of three left, as long as there are two left.
        (9, 0, None, 48.0, 0.0),
        (11, 0, None, 32.0, 0.0),
        # Called on Tuesday too: training, Tuesday and the graft day are three.
        (9, 2, None, 48.0, 0.0),
        # A week of 16 hours is over by then: nobody can be called again.
        (9, 2, 16.0, 32.0, 100.0),
    ],
)
def test_least_days_hold_in_a_week_that_has_begun(
    today: int, called: int, longest: float | None, hours: float, short: float
) -> None:
    """Two hands hired and trained on Monday, day 7; the graft day is Friday, day 11."""
    of = with_nursery(
        firm(hired(temp_days_least=3, week_hours_per_head=longest)), shortfall_penalty=500.0, today=day(today)
    )
    rows = [Progress(day(7), Happened.HIRED, 2.0, crew="Grafters")]
    if called:
        rows.append(Progress(day(8), Happened.CALLED, float(called), crew="Grafters"))
    for (lot, tray), sown in (("Red A", "twenty"), 8), (("Stout A", "ten"), 7):
        trays = 100 / (10 if tray == "ten" else 20)
        rows.append(Progress(day(sown), Happened.SOWN, trays, lot=lot, format=tray))
    made = sound(replace(of, progress=tuple(rows)))
    assert made.temporary["paid_hours"].sum() == pytest.approx(hours)
    assert made.short == pytest.approx(short)


def test_a_team_is_hired_whole() -> None:
    """A team of four takes 360 s for a join, at the pay of four. Own hands lack 2 of 10 hours."""
    team = crew("Teams", "grafting", heads=1.0, pay_per_hour=4 * PAY, temp_heads_most=2)
    made = sound(with_nursery(firm(replace(team, temp_pay_per_hour=4 * PAY)), shortfall_penalty=500.0))
    assert made.temporary["heads"].tolist() == [1.0]
    assert line(made, "temporary hands") == pytest.approx(40 * 4 * PAY)
