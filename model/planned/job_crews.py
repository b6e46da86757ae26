"""Assign the jobs of a day to crews, with hours.

The plan's hours say how long each crew works on a task each day, but not on which jobs. Jobs of a task are
handed out in order. The first crew of the scenario takes jobs until its hours on the task are used up, and
the next crew continues there. So two crews share at most one job, and each crew works exactly the plan's
hours. Within a crew, own and temporary hands work side by side on every job.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from model.planned.jobs import Job, jobs_of, numbered
from model.planned.lots import whole
from model.planned.plan_tables import TINY, Plan, Tables, rows_of
from model.planned.tables.job_tables import JOB_CREWS
from model.scenario.entities import Scenario

AtTask = tuple[date, str | None, str]
"""Day, skill and task."""


@dataclass(frozen=True, slots=True)
class Assignment:
    """A crew's part of a job, from share ``start`` to share ``end``, with hours by the clock.

    ``crew`` is None if the job has no labour standard, or no crew has hours for it.
    """

    job: Job
    crew: str | None
    start: float
    end: float
    own: float
    temporary: float

    @property
    def hours(self) -> float:
        """Hours by the clock of own and temporary hands."""
        return self.own + self.temporary

    @property
    def shared(self) -> bool:
        """Whether another crew does the rest of the job."""
        return self.start > 0 or self.end < 1

    def part(self, amount: float | None) -> int | None:
        """This crew's part of an amount of the job, in whole numbers that add up over its crews."""
        if amount is None:
            return None
        return _up_to(amount, self.end) - _up_to(amount, self.start)


def _up_to(amount: float, share: float) -> int:
    return round(whole(amount) * share)


@dataclass
class _Hands:
    """A crew's hours at a task on a day: ``standard`` at the standard pace, the others by the clock."""

    crew: str
    standard: float = 0.0
    own: float = 0.0
    temporary: float = 0.0


def assigned(scenario: Scenario, tables: Tables, found: list[Job]) -> list[list[Assignment]]:
    """The crews of each job, in the order of the jobs."""
    hands = _hands(scenario, tables)
    by_task: dict[AtTask, list[Job]] = defaultdict(list)
    for job in found:
        by_task[job.day, job.skill, job.task].append(job)
    given: dict[int, list[Assignment]] = {}
    for at, together in by_task.items():
        for job, parts in zip(together, _hand_out(together, hands.get(at, [])), strict=True):
            given[id(job)] = parts
    return [given[id(job)] for job in found]


def crew_rows(given: Sequence[Sequence[Assignment]]) -> list[dict[str, Any]]:
    """Assignments of each job as rows of the table ``job_crews``."""
    return [
        {
            "job": numbered(n),
            "crew": part.crew,
            "starts": part.start,
            "ends": part.end,
            "own": part.own,
            "temporary": part.temporary,
        }
        for n, parts in enumerate(given)
        for part in parts
    ]


def assignments(plan: Plan) -> list[Assignment]:
    """All crews' parts of a plan's jobs, in the order of work."""
    found = jobs_of(plan)
    return [Assignment(found[job], *rest) for job, *rest in rows_of(plan.job_crews, *JOB_CREWS.names)]


def _hands(scenario: Scenario, tables: Tables) -> dict[AtTask, list[_Hands]]:
    crews = {crew.crew: crew for crew in scenario.crews}
    order = {name: n for n, name in enumerate(crews)}
    made: dict[AtTask, dict[str, _Hands]] = defaultdict(dict)
    for name, kind, day, skill, task, hours in rows_of(
        tables["hours"], "crew", "hands", "day", "skill", "task", "hours"
    ):
        entry = made[day, skill, task].setdefault(name, _Hands(name))
        if kind == "own":
            entry.own += hours
            entry.standard += hours * crews[name].pace
        else:
            entry.temporary += hours
            entry.standard += hours * crews[name].temp_pace
    return {at: sorted(entries.values(), key=lambda h: order[h.crew]) for at, entries in made.items()}


def _hand_out(together: list[Job], hands: list[_Hands]) -> list[list[Assignment]]:
    """Split the jobs of one task among its crews: jobs and crews' hours are both laid end to end."""
    total, there = sum(job.hours for job in together), sum(entry.standard for entry in hands)
    if total <= TINY or there <= 0:
        return [[Assignment(job, None, 0.0, 1.0, 0.0, 0.0)] for job in together]
    ends, so_far = [], 0.0
    for entry in hands:
        so_far += entry.standard / there * total
        ends.append((entry, so_far))
    parts, begun = [], 0.0
    for job in together:
        parts.append(_parts(job, begun, hands=ends, scale=there / total))
        begun += job.hours
    return parts


def _parts(job: Job, begun: float, *, hands: list[tuple[_Hands, float]], scale: float) -> list[Assignment]:
    """Parts of a job that begins after ``begun`` hours of the task; ``hands`` says where each crew ends."""
    made: list[Assignment] = []
    done = begun
    for entry, end in hands:
        last = entry is hands[-1][0]
        upto = begun + job.hours if last else min(end, begun + job.hours)
        if upto - done <= TINY and not (last and not made):
            continue
        share = (upto - done) * scale / entry.standard
        start = made[-1].end if made else 0.0
        stop = 1.0 if begun + job.hours - upto <= TINY else (upto - begun) / job.hours
        made.append(Assignment(job, entry.crew, start, stop, entry.own * share, entry.temporary * share))
        done = upto
    return made
