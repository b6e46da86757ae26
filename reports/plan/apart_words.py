"""What is kept apart, in words: on a day for the work lists, and the days of cleaning for the calendar."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.job_tables import CLEANING
from model.program.apart_sets import GRAFTING_TABLE


class Cleaning(NamedTuple):
    """Days on which a place rests for cleaning, from ``first`` to ``last``, after a group."""

    place: str
    after: str
    first: date
    last: date


def kept_apart_on(plan: Plan, day: date) -> list[str]:
    """A sentence for the day: where groups kept apart are, and what is cleaned; none if there is nothing."""
    told = [
        f"{place}: cleaning after {group}" if what == CLEANING else f"{place}: {group}"
        for place, what, group, start, end in _rows(plan)
        if start <= day < end
    ]
    return [f"Kept apart on this day: {'; '.join(told)}."] if told else []


def cleanings(plan: Plan) -> list[Cleaning]:
    """All days of cleaning, in the order of the plan."""
    return [
        Cleaning(place, group, start, end - timedelta(days=1))
        for place, what, group, start, end in _rows(plan)
        if what == CLEANING
    ]


def _rows(plan: Plan) -> Iterator[tuple[str, str, str, date, date]]:
    """Place, what, group in words, first day and day after the last of each row."""
    columns = ("zone", "what", "by", "group", "from_day", "to_day")
    for zone, what, by, group, start, end in rows_of(plan.kept_apart, *columns):
        yield zone or GRAFTING_TABLE, what, f"{by} {group}", start, end
