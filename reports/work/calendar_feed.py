"""The season's work as an iCalendar feed (RFC 5545) for crews, buyers and drivers.

An entry holds all jobs of one series on one day. Its UID is a UUID of nursery, season, series and a number
within the series, as RFC 7986 advises; no clock and no chance is in it. The UID has a number, not the day, so
that an entry that moves keeps its UID. A new entry before others would shift the numbers. So a feed is
written from the feed before it: each entry is matched with an earlier one, on the same day first, then by the
fewest days moved. An entry without a change is written as before, to the byte. A changed entry gets the next
SEQUENCE. An entry that is gone is cancelled, so that calendars that hold it learn of it.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import count
from math import floor
from typing import Any
from uuid import UUID, uuid5

import numpy as np
from icalendar import Calendar, Event, vText
from scipy.optimize import linear_sum_assignment

from model.planned.job_crews import Assignment
from model.planned.lots import whole
from model.planned.plan_tables import TINY
from model.planned.tables.job_tables import Step
from model.scenario.entities import Nursery, Scenario
from reports.book.words import TO_MIND, printable, to_mind, with_unit
from reports.plan.apart_words import Cleaning

PRODID = "-//Graftwright//Work calendar//EN"
NAMESPACE = UUID("69f0ec28-0046-478d-b37f-47ba95e3e3bf")
"""Namespace of the UIDs. Any UUID would do, but it must never change."""

ONE_DAY = timedelta(days=1)

Series = tuple[str, ...]
Feed = dict[str, Any]
"""Events of a feed by UID. They are Any: the library types a property as any of its thirty kinds."""


class NotAFeed(ValueError):
    """The file given as the earlier feed is not a feed of this tool."""


@dataclass(frozen=True, slots=True)
class FeedEntry:
    """An entry of the calendar: work from ``day`` to ``last``, both included."""

    series: Series
    day: date
    last: date
    step: Step
    summary: str
    lines: tuple[str, ...]
    place: str
    categories: tuple[str, ...]


def calendar_feed(
    scenario: Scenario,
    given: Sequence[Assignment],
    *,
    stamped: date,
    earlier: bytes | None = None,
    cleaned: Sequence[Cleaning] = (),
) -> bytes:
    """The feed of a plan's jobs; ``given``: the jobs with their crews, ``cleaned``: days of cleaning.

    ``stamped`` is the date written on new and changed entries (DTSTAMP). ``earlier`` is the feed of the plan
    before this one. The same arguments give the same bytes. A feed written again with itself as the earlier
    one does not change. Raises ``NotAFeed`` if ``earlier`` is not a feed of this tool.
    """
    made = [*entries(given), *(_cleaning(cleaning) for cleaning in cleaned)]
    before = events_of(earlier)
    uids, fresh = _Uids(scenario.nursery), datetime(stamped.year, stamped.month, stamped.day, tzinfo=UTC)
    today = scenario.nursery.today or scenario.nursery.first_day
    chosen = _choose(made, before, uids, today)
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", vText(printable(f"Work of {scenario.nursery.name}")))
    found: list[tuple[tuple[date, int, Series, str], Event]] = [
        (
            (entry.day, entry.step.position, entry.series, uid),
            _dated(_event(entry, uid), before.get(uid), fresh),
        )
        for entry, uid in chosen
    ]
    kept = {uid for _, uid in chosen}
    for uid, event in before.items():
        if uid not in kept:
            gone = event if _day(event) < today else _cancelled(event)
            found.append(((_day(event), len(Step), (), uid), _dated(gone, event, fresh)))
    for _, event in sorted(found, key=lambda item: item[0]):
        calendar.add_component(event)
    written: bytes = calendar.to_ical()
    return written


# Entries


def entries(given: Sequence[Assignment]) -> list[FeedEntry]:
    """The entries: every job but tending. Care has one entry for each zone and run of days."""
    together: dict[tuple[date, Step, Series], list[Assignment]] = defaultdict(list)
    cared: dict[tuple[Series, str], list[date]] = defaultdict(list)
    for part in given:
        job = part.job
        if job.step is Step.CARE:
            cared[(job.step.name, job.name), job.name].append(job.day)
        elif job.step is not Step.TEND:
            together[job.day, job.step, job.series].append(part)
    found = [_entry(parts) for parts in together.values()]
    for (series, zone), days in cared.items():
        found += [_care(series, zone, first, last) for first, last in _runs(days)]
    return sorted(found, key=lambda entry: (entry.day, entry.step.position, entry.series))


def _entry(parts: Sequence[Assignment]) -> FeedEntry:
    """One entry for the jobs of one series on one day."""
    jobs = list(dict.fromkeys(part.job for part in parts))
    job = jobs[0]
    amounts = {"trays": _sum(jobs, "trays"), job.unit: _sum(jobs, "count")}
    shown = [with_unit(f"{amount:,}", unit) for unit, amount in reversed(amounts.items()) if amount and unit]
    lines = [", ".join(part for part in (*shown, job.format) if part)]
    seeds = _sum(jobs, "seeds")
    if seeds:
        lines.append(f"Seeds from stock: {seeds:,}")
    lines += [one.detail for one in jobs if one.detail]
    lines.append(job.where)
    hours: dict[str, float] = defaultdict(float)
    for part in parts:
        if part.crew is not None:
            hours[part.crew] += part.hours
    lines += [f"{crew}: {_tenths(worked)} h" for crew, worked in hours.items()]
    lines += [f"Caution: {TO_MIND[key]}" for key in to_mind(job.step)]
    amount = f" {shown[0]}" if shown else ""
    return FeedEntry(
        job.series,
        job.day,
        job.day,
        job.step,
        f"{job.task[:1].upper()}{job.task[1:]}{amount}: {job.name}",
        tuple(line for line in lines if line),
        job.to_zone or job.from_zone,
        (job.task, *hours),
    )


def _sum(jobs: Sequence[Any], name: str) -> int:
    return whole(sum(getattr(job, name) or 0.0 for job in jobs))


def _tenths(hours: float) -> str:
    """Hours to a tenth. A half is rounded up, so that rounding errors do not change 7.15 between runs."""
    return f"{floor(hours * 10 + 0.5 + TINY) / 10:.1f}"


def _care(series: Series, zone: str, first: date, last: date) -> FeedEntry:
    lines = (
        "Every day, weekends and days off included.",
        *(f"Caution: {TO_MIND[key]}" for key in CARE_TO_MIND),
    )
    return FeedEntry(series, first, last, Step.CARE, f"Care: {zone}", lines, zone, ("care",))


def _cleaning(cleaning: Cleaning) -> FeedEntry:
    lines = (
        f"No plants come before it is clean: groups are kept apart. It held {cleaning.after}.",
        *(f"Caution: {TO_MIND[key]}" for key in CLEANING_TO_MIND),
    )
    series = "cleaning", cleaning.place, cleaning.after
    summary = f"Cleaning: {cleaning.place}"
    days = cleaning.first, cleaning.last
    return FeedEntry(series, *days, Step.CARE, summary, lines, cleaning.place, ("cleaning",))


CLEANING_TO_MIND = ("disease", "chemicals")
CARE_TO_MIND = ("wet rooms", "heat")


def _runs(days: Sequence[date]) -> Iterator[tuple[date, date]]:
    """First and last day of each run of days without a gap."""
    ordered = sorted(set(days))
    first = ordered[0]
    for day, after in zip(ordered, [*ordered[1:], None], strict=True):
        if after is None or after - day > ONE_DAY:
            yield first, day
            first = after or first


# Which entry of the earlier feed is which


@dataclass
class _Uids:
    """UIDs of a nursery's season. The year of its last day names the season, since a plan made again in
    mid-season begins later."""

    nursery: Nursery

    def uid(self, series: Series, number: int) -> str:
        season = self.nursery.last_day.year
        name = json.dumps([self.nursery.name, season, list(series), number], ensure_ascii=False)
        return str(uuid5(NAMESPACE, name))

    def in_feed(self, series: Series, feed: Feed) -> list[str]:
        """UIDs of a series in a feed. Entries never leave a feed, so that numbers have no gaps."""
        found: list[str] = []
        for number in count(1):
            uid = self.uid(series, number)
            if uid not in feed:
                return found
            found.append(uid)
        return found


def _choose(made: Sequence[FeedEntry], before: Feed, uids: _Uids, today: date) -> list[tuple[FeedEntry, str]]:
    """A UID for each entry: that of the matching entry of the earlier feed, or a new one of its series.

    An entry before today matches only entries before today, and one from today on only entries from today
    on: a pack ordered in January is not the pack to order in May.
    """
    by_series: dict[Series, list[FeedEntry]] = defaultdict(list)
    for entry in made:
        by_series[entry.series].append(entry)
    chosen: list[tuple[FeedEntry, str]] = []
    for series, wanted in by_series.items():
        known = uids.in_feed(series, before)
        live = [uid for uid in known if not _is_cancelled(before[uid])]
        on_day = {_day(before[uid]): uid for uid in [*(u for u in known if u not in live), *live]}
        same = [(entry, on_day[entry.day]) for entry in wanted if entry.day in on_day]
        taken = {uid for _, uid in same}
        rest = [entry for entry in wanted if entry.day not in on_day]
        movable = [uid for uid in live if uid not in taken]
        moved = []
        for past in (True, False):
            there = [uid for uid in movable if (_day(before[uid]) < today) == past]
            moved += _least_moved([entry for entry in rest if (entry.day < today) == past], there, before)
        still = [entry for entry in rest if entry not in {entry for entry, _ in moved}]
        new = [(entry, uids.uid(series, len(known) + n)) for n, entry in enumerate(still, 1)]
        chosen += [*same, *moved, *new]
    return chosen


def _least_moved(
    wanted: Sequence[FeedEntry], movable: Sequence[str], before: Feed
) -> list[tuple[FeedEntry, str]]:
    """Pairs of entries and earlier ones with the fewest days moved in all (linear assignment)."""
    if not wanted or not movable:
        return []
    apart = np.array([[abs((entry.day - _day(before[uid])).days) for uid in movable] for entry in wanted])
    rows, columns = linear_sum_assignment(apart)
    return [(wanted[r], movable[c]) for r, c in zip(rows.tolist(), columns.tolist(), strict=True)]


# Events


def events_of(feed: bytes | None) -> Feed:
    """Events of an earlier feed by UID; raises ``NotAFeed`` where it is no feed of this tool."""
    if feed is None:
        return {}
    try:
        calendar = Calendar.from_ical(feed)
        found = {str(event["uid"]): event for event in calendar.walk("VEVENT")}
        complete = all({"dtstart", "dtstamp", "sequence", "summary"} <= _names(e) for e in found.values())
    except (ValueError, KeyError, IndexError) as error:
        raise NotAFeed(f"not a readable calendar ({error})") from None
    if not isinstance(calendar, Calendar) or calendar.get("prodid") != PRODID or not complete:
        raise NotAFeed("not a calendar of Graftwright")
    return found


def _names(event: Any) -> set[str]:
    return {name.casefold() for name in event}


def _event(entry: FeedEntry, uid: str) -> Event:
    event = Event()
    event.add("uid", uid)
    event.add("dtstart", entry.day)
    event.add("dtend", entry.last + ONE_DAY)
    event.add("summary", printable(entry.summary))
    event.add("description", "\n".join(printable(line) for line in entry.lines))
    if entry.place:
        event.add("location", printable(entry.place))
    event.add("categories", [printable(category) for category in entry.categories])
    event.add("status", "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    return event


def _cancelled(event: Any) -> Event:
    made: Event = event.copy(recursive=True)
    made["status"] = vText("CANCELLED")
    if not _is_cancelled(event):
        made["summary"] = vText(f"Cancelled: {event['summary']}")
    return made


def _is_cancelled(event: Any) -> bool:
    return str(event.get("status")) == "CANCELLED"


def _day(event: Any) -> date:
    day: date = event["dtstart"].dt
    return day


def _dated(event: Event, before: Any, fresh: datetime) -> Event:
    """The event with SEQUENCE and DTSTAMP, which stay as they were if nothing else changed."""
    sequence, stamp = 0, fresh
    if before is not None:
        sequence, stamp = int(before["sequence"]), before["dtstamp"].dt
    event = _stamped(event, sequence, stamp)
    if before is None or event.to_ical() == before.to_ical():
        return event
    return _stamped(event, sequence + 1, max(stamp, fresh))


def _stamped(event: Event, sequence: int, stamp: datetime) -> Event:
    for name in ("sequence", "dtstamp"):
        event.pop(name, None)
    event.add("sequence", sequence)
    event.add("dtstamp", stamp)
    return event
