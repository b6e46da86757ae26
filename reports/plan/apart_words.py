"""What is kept apart, in words: on a day for the work lists, and the days of cleaning for the calendar."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import BATCH
from model.planned.tables.job_tables import CLEANING
from model.program.apart_sets import GRAFTING_TABLE
from reports.book.writing import shown_day


class Cleaning(NamedTuple):
    """Days on which a place rests for cleaning, from ``first`` to ``last``, after a group."""

    place: str
    after: str
    first: date
    last: date


def kept_apart_on(plan: Plan, day: date) -> list[str]:
    """A sentence for the day: where groups kept apart are, what is cleaned, and what is loaded into units

    that are not for some groups; none if there is nothing.
    """
    told = [
        f"{place}: cleaning after {group}" if what == CLEANING else f"{place}: {group}"
        for place, what, group, start, end in _rows(plan)
        if start <= day < end
    ]
    told += _loaded_on(plan, day)
    return [f"Kept apart on this day: {'; '.join(told)}."] if told else []


def _loaded_on(plan: Plan, day: date) -> Iterator[str]:
    """What is loaded on a day into which units that are not for some groups, in words."""
    units: dict[tuple[str, date, date, str], dict[str, None]] = defaultdict(dict)
    columns = (*BATCH, "product", "load_day")
    for zone, opened, shut, not_for, product, loaded in rows_of(plan.unit_loads, *columns):
        if not_for is not None and loaded == day:
            units[zone, opened, shut, not_for][product] = None
    for (zone, opened, _, not_for), products in units.items():
        yield f"{zone}, units opened {shown_day(opened)} and not for {not_for}: {', '.join(products)}"


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
