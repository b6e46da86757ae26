"""Pace of temporary hands that are new, in words for the crew's page of each day."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

from model.planned.plan_tables import Plan, rows_of
from model.scenario.calendar import week_of
from model.scenario.entities import Scenario
from reports.book.words import number, percent


def still_learning(scenario: Scenario, plan: Plan) -> dict[tuple[str, date], str]:
    """A sentence for each crew and Monday of a week in which temporary hands are below their full pace."""
    heads = {(c, week_of(day)): n for c, day, n in rows_of(plan.temporary, "crew", "week_day", "heads")}
    found: dict[tuple[str, date], str] = {}
    for name in sorted({row.crew for row in scenario.pace_by_week}):
        own = [row for row in scenario.pace_by_week if row.crew == name and row.share < 1]
        rows = sorted(own, key=lambda row: row.week)
        for crew, monday in heads:
            if crew == name:
                before = [heads.get((name, monday - timedelta(weeks=k)), 0.0) for k in range(len(rows) + 1)]
                stayed = [min(before[: k + 1]) for k in range(len(before))]
                parts = [
                    f"{number(here - left)} in week {row.week} ({percent(row.share)} of their pace)"
                    for row, (here, left) in zip(rows, pairwise(stayed), strict=True)
                    if here - left > 0.005
                ]
                if parts:
                    found[name, monday] = (
                        f"Temporary hands that still learn: {', '.join(parts)}. Hours here are at the "
                        "full pace: by the clock theirs are longer. They work no overtime."
                    )
    return found
