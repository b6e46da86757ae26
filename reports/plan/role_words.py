"""Hands at each role of a task: in words for a crew's page of a day, and by day for the workbook."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from model.planned.job_crews import Assignment
from model.planned.plan_tables import Plan, rows_of
from model.scenario.calendar import Calendar
from model.scenario.capacity import CrewLimits, in_role
from model.scenario.entities import Scenario
from reports.book.words import number


class RoleHands(NamedTuple):
    """Hours by the clock at a role of a task on a day, and the hands that work them over whole shifts."""

    day: date
    task: str
    role: str
    hours: float
    hands: float


def shift_hours_on(scenario: Scenario) -> dict[tuple[str, date], float]:
    """Regular hours of a hand of each crew on each day."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    limits = {crew.crew: CrewLimits(scenario, crew, calendar) for crew in scenario.crews}
    days = range(calendar.days)
    return {(name, calendar.date(t)): crew.hours[t] for name, crew in limits.items() for t in days}


def hands_by_role(parts: Iterable[Assignment], shift: float) -> list[str]:
    """A sentence on the hands at each role among a crew's parts of jobs; ``shift``: hours of a hand."""
    hours: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for part in parts:
        if part.job.role:
            hours[part.job.step.task][part.job.role] += part.hours
    if not hours or shift <= 0:
        return []
    told = []
    for task, roles in hours.items():
        hands = ", ".join(f"{role} {number(worked / shift)}" for role, worked in sorted(roles.items()))
        told.append(f"At {task}: {hands}.")
    return [f"Hands by role, each for the whole shift of {number(shift)} h. {' '.join(told)}"]


def role_hands(scenario: Scenario, plan: Plan) -> list[RoleHands]:
    """Hours and hands of each day and role; none where no labour standard is in roles.

    Crews whose hands have no regular hours on the day add hours and no hands.
    """
    named = {
        in_role(row.task.value, row.role): (row.task.value, row.role)
        for row in scenario.labour_standards
        if row.role
    }
    if not named:
        return []
    shifts = shift_hours_on(scenario)
    sums: dict[tuple[date, str, str], list[float]] = defaultdict(lambda: [0.0, 0.0])
    for crew, day, task, hours in rows_of(plan.hours, "crew", "day", "task", "hours"):
        if task in named:
            shift, entry = shifts[crew, day], sums[day, *named[task]]
            entry[0] += hours
            entry[1] += hours / shift if shift > 0 else 0.0
    return [RoleHands(*at, *found) for at, found in sorted(sums.items())]
