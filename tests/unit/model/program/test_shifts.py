"""Shifts by weekday, pay of temporary hands by date, own hands with new ones: worked by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.scenario.choices import PayBasis, Task
from model.scenario.entities import DayOff, Scenario
from model.scenario.records.people import Crew, CrewDay, LabourStandard, Shift
from model.solve import plan
from tests.scenario_parts import one_day_splice
from tests.strategies import base_scenario, crew, day, with_nursery, with_rows

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
