"""Which crew does which job, for how long.

The plan says for each crew and day how long it works on a task, not at which of the day's jobs. Jobs of a
task are handed out in their order: the first crew of the scenario takes the first jobs until its hours on the
task are used up, the next crew goes on from there. So crews share at most one job between two of them, and
each crew's hours are the plan's. Within a crew, own and temporary hands work side by side on every job.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from model.planned.job_tables import JOB_CREWS
from model.planned.jobs import Job, jobs_of, numbered
from model.planned.lots import whole
from model.planned.plan_tables import TINY, Plan, Tables, rows_of
from model.scenario.entities import Scenario

AtTask = tuple[date, str | None, str]
"""Day, skill and task."""


@dataclass(frozen=True, slots=True)
class Assignment:
    """A crew's part of a job, from the share ``start`` up to ``end`` of it, with hours by the clock.

    ``crew`` is None where no labour standard says how long the job takes, or nobody's it is.
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
        """This crew's part of an amount of the job: whole, and the crews' parts add up to the whole of it."""
        if amount is None:
            return None
        return _up_to(amount, self.end) - _up_to(amount, self.start)


def _up_to(amount: float, share: float) -> int:
    return round(whole(amount) * share)


@dataclass
class _Hands:
    """A crew's hours at a task of a day: at the standard pace; own and temporary hands by the clock."""

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
    """Every job of a plan with the crews that do it, in the order of work."""
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
    """Parts of each job: the jobs laid end to end, the crews' hours laid beside them."""
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
    """The crews whose hours lie beside the job's, which begins after ``begun`` hours of the task."""
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
