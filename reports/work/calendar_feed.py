"""The season's work as an iCalendar feed (RFC 5545): what a crew, a buyer or a driver acts on.

An entry is all jobs of one series on one day. Its UID is a UUID of nursery, season, series and a number
within the series, as RFC 7986 advises, without a clock or chance. The number, not the day, is in it, so that
an entry that moves keeps its UID. Numbers alone would shift when an entry comes in before others, so a feed
is written with the feed before it at hand: each entry looks for itself there, on the same day first, then
among the rest by the least days moved. An entry that is the same is written as it was, to the byte; one that
changed gets the next SEQUENCE; one that is gone is cancelled, so that a calendar that holds it learns of it.
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
from model.planned.job_tables import Step
from model.planned.lots import whole
from model.planned.plan_tables import TINY
from model.scenario.entities import Nursery, Scenario
from reports.book.words import TO_MIND, printable, to_mind

PRODID = "-//Graftwright//Work calendar//EN"
NAMESPACE = UUID("69f0ec28-0046-478d-b37f-47ba95e3e3bf")
"""Of the UIDs; any fixed UUID would do, and this one must stay."""

ONE_DAY = timedelta(days=1)

Series = tuple[str, ...]
Feed = dict[str, Any]
"""Events of a feed by UID; the library types a property as any of its thirty kinds."""


class NotAFeed(ValueError):
    """What should be an earlier feed is none of this tool's."""


@dataclass(frozen=True, slots=True)
class FeedEntry:
    """An entry of the calendar: what is done from ``day`` up to and with ``last``."""

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
) -> bytes:
    """The feed of a plan's jobs, as handed to crews.

    ``stamped`` is the day that new and changed entries say they were written (DTSTAMP), ``earlier`` the feed
    of the plan before this one. The same arguments give the same bytes; a feed written with itself as the
    earlier one is the same feed. Raises ``NotAFeed`` where ``earlier`` is no feed of this tool.
    """
    made = entries(given)
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
    """What the calendar shows: every job but tending, care as one entry a zone and run of days."""
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
    """The jobs of one series on one day as one entry."""
    jobs = list(dict.fromkeys(part.job for part in parts))
    job = jobs[0]
    amounts = {"trays": _sum(jobs, "trays"), job.unit: _sum(jobs, "count")}
    shown = [f"{amount:,} {unit}" for unit, amount in reversed(amounts.items()) if amount and unit]
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
        f"{job.task.capitalize()}{amount}: {job.name}",
        tuple(line for line in lines if line),
        job.to_zone or job.from_zone,
        (job.task, *hours),
    )


def _sum(jobs: Sequence[Any], name: str) -> int:
    return whole(sum(getattr(job, name) or 0.0 for job in jobs))


def _tenths(hours: float) -> str:
    """Hours to a tenth, a half upwards, so that a plan worked out again does not tip 7.15 the other way."""
    return f"{floor(hours * 10 + 0.5 + TINY) / 10:.1f}"


def _care(series: Series, zone: str, first: date, last: date) -> FeedEntry:
    lines = ("Every day, weekends and days off too.", *(f"Caution: {TO_MIND[key]}" for key in CARE_TO_MIND))
    return FeedEntry(series, first, last, Step.CARE, f"Care: {zone}", lines, zone, ("care",))


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
    """UIDs of a nursery's season, which is named by the year in which it ends: a plan made again in
    mid-season may begin later, and the season after has entries of its own."""

    nursery: Nursery

    def uid(self, series: Series, number: int) -> str:
        season = self.nursery.last_day.year
        name = json.dumps([self.nursery.name, season, list(series), number], ensure_ascii=False)
        return str(uuid5(NAMESPACE, name))

    def in_feed(self, series: Series, feed: Feed) -> list[str]:
        """UIDs of a series that a feed has; entries never leave a feed, so that numbers have no gaps."""
        found: list[str] = []
        for number in count(1):
            uid = self.uid(series, number)
            if uid not in feed:
                return found
            found.append(uid)
        return found


def _choose(made: Sequence[FeedEntry], before: Feed, uids: _Uids, today: date) -> list[tuple[FeedEntry, str]]:
    """A UID for each entry: that of the same entry of the earlier feed, or the next of its series.

    What was to happen before today moves only to when it happened, and what is to come stays to come:
    a pack ordered in January is not the one to order in May.
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
    """Entries paired with earlier ones so that they move by the fewest days in all (linear assignment)."""
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
        raise NotAFeed(f"no calendar that can be read ({error})") from None
    if not isinstance(calendar, Calendar) or calendar.get("prodid") != PRODID or not complete:
        raise NotAFeed("no calendar of Graftwright")
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
    """The event with SEQUENCE and DTSTAMP: those it had where nothing else changed."""
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
