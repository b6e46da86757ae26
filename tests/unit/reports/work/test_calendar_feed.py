"""The calendar feed: valid by RFC 5545, and a plan made again changes only what moved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar

from model.planned.job_crews import Assignment, assignments
from model.planned.jobs import Job
from model.planned.tables.job_tables import Step
from model.scenario.entities import Scenario
from model.season.as_planned import as_planned
from model.season.replanning import replan
from model.solve import plan_of
from reports.work.calendar_feed import NotAFeed, calendar_feed, entries
from tests.demo import demo, demo_plan
from tests.depth import deep
from tests.report_scenario import CUSTOMER, ORDER, report_plan, report_scenario
from tests.rfc5545 import faults, unfolded
from tests.strategies import with_nursery

STAMPED = date(2027, 3, 1)
DAY = timedelta(days=1)

RFC_EXAMPLE = "\r\n".join(
    [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//hacksw/handcal//NONSGML v1.0//EN",
        "BEGIN:VEVENT",
        "UID:20070423T123432Z-541111@example.com",
        "DTSTAMP:20070423T123432Z",
        "DTSTART;VALUE=DATE:20070628",
        "DTEND;VALUE=DATE:20070709",
        "SUMMARY:Festival International de Jazz de Montreal",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    ]
)
"""The all-day event of RFC 5545, 3.6.1, in the calendar object of 3.4."""


def given_of(scenario: Scenario | None = None) -> list[Assignment]:
    scenario, plan = scenario or report_scenario(), report_plan()
    return assignments(plan)


def feed_of(given: list[Assignment], earlier: bytes | None = None, stamped: date = STAMPED) -> bytes:
    return calendar_feed(report_scenario(), given, stamped=stamped, earlier=earlier)


def changed(
    given: list[Assignment], which: Callable[[Job], bool], change: Callable[[Job], Job]
) -> list[Assignment]:
    return [replace(part, job=change(part.job)) if which(part.job) else part for part in given]


def events(feed: bytes) -> dict[str, Any]:
    return {str(event["uid"]): event for event in Calendar.from_ical(feed).walk("VEVENT")}


def as_text(feed: bytes) -> dict[str, bytes]:
    return {uid: event.to_ical() for uid, event in events(feed).items()}


def sowings(given: list[Assignment]) -> list[Job]:
    return [part.job for part in given if part.job.step is Step.SOW]


# Valid


def test_the_checker_finds_nothing_in_the_standards_own_example() -> None:
    assert faults(RFC_EXAMPLE.encode()) == []


@pytest.mark.parametrize(
    ("before", "after", "fault"),
    [
        ("UID:20070423T123432Z-541111@example.com\r\n", "", "VEVENT without UID"),
        ("PRODID:-//hacksw/handcal//NONSGML v1.0//EN\r\n", "", "VCALENDAR without PRODID"),
        ("\r\nSUMMARY", "\nSUMMARY", "a line does not end in CRLF"),
        ("Jazz", "Jazz, Blues", "SUMMARY may not be"),
        ("Jazz", "Jazz \\x", "SUMMARY may not be"),
        ("Jazz", "Jazz \x07", "SUMMARY may not be"),
        ("Jazz", "Jazz" * 20, "octets"),
        ("20070709", "20070628", "DTEND is not after DTSTART"),
        ("20070709", "20070231", "20070231 is no day"),
        ("T123432Z\r\nDTSTART", "T123432\r\nDTSTART", "DTSTAMP may not be"),
        (";VALUE=DATE:20070628", ":20070628", "DTSTART may not have"),
        ("END:VEVENT\r\n", "", "not open"),
        ("TRANSP", "SUMMARY:x\r\nTRANSP", "SUMMARY stands 2 times"),
    ],
)
def test_the_checker_finds_what_breaks_a_rule(before: str, after: str, fault: str) -> None:
    assert before in RFC_EXAMPLE
    assert fault in "\n".join(faults(RFC_EXAMPLE.replace(before, after).encode()))


def test_the_feed_is_valid_and_two_libraries_read_the_same() -> None:
    feed = feed_of(given_of())
    assert faults(feed) == []
    other = {event.uid: event for event in IcsCalendarStream.calendar_from_ics(feed.decode()).events}
    mine = events(feed)
    assert len(mine) == len(entries(given_of())) > 20
    assert set(other) == set(mine)
    for uid, event in mine.items():
        assert str(event["summary"]) == other[uid].summary
        assert event["dtstart"].dt == other[uid].dtstart
        assert str(event["description"]) == other[uid].description


def test_a_users_text_comes_out_as_it_went_in() -> None:
    feed = feed_of(given_of())
    summaries = {str(event["summary"]): event for event in events(feed).values()}
    delivered = next(event for text, event in summaries.items() if text.endswith(f"plants: {ORDER}"))
    assert any(CUSTOMER in str(event["description"]) for event in summaries.values())
    assert delivered["status"] == "CONFIRMED"


@given(st.text(max_size=120))
@settings(max_examples=deep(60))
def test_any_text_of_a_user_makes_a_valid_feed(text: str) -> None:
    job = Job(STAMPED, Step.OWN_TASK, ("OWN", text), text, text, text, text, text, text, 1.0, 2.0, "plants")
    feed = feed_of([Assignment(job, text, 0.0, 1.0, 1.0, 0.0)])
    assert faults(feed) == []
    assert IcsCalendarStream.calendar_from_ics(feed.decode()).events
    assert feed_of([Assignment(job, text, 0.0, 1.0, 1.0, 0.0)], feed) == feed


# What stands in it


def test_every_deadline_and_delivery_of_the_plan_is_an_entry() -> None:
    found = {(entry.step, entry.day, entry.series[-1]) for entry in entries(given_of())}
    plan = report_plan()
    columns = ["order", "due_day", "pack_day"]
    for order, due, packed in plan.deliveries[columns].itertuples(index=False):
        assert (Step.DELIVER, max(due, packed), order) in found
    for item, by in zip(plan.purchases["item"], plan.purchases["order_by"], strict=True):
        assert by is None or (Step.ORDER, by, item) in found
    for order, by, arrival in zip(
        *(plan.buy_in[c] for c in ("order", "order_by", "arrival_day")), strict=True
    ):
        assert (Step.ORDER, by, order) in found
        assert (Step.RECEIVE, arrival, order) in found


def test_care_is_one_entry_a_zone_and_run_of_days_and_tending_none() -> None:
    given = given_of()
    care = [entry for entry in entries(given) if entry.step is Step.CARE]
    days = {part.job.day for part in given if part.job.step is Step.CARE}
    spanned = [entry.day + n * DAY for entry in care for n in range((entry.last - entry.day).days + 1)]
    assert sorted(spanned) == sorted(days)
    assert all(entry.last + DAY not in days for entry in care)
    assert not any(entry.step is Step.TEND for entry in entries(given))


def test_cautions_stand_with_the_work() -> None:
    texts = {entry.step: "\n".join(entry.lines) for entry in entries(given_of())}
    assert "Blades cut" in texts[Step.GRAFT]
    assert "licensed electrician" in texts[Step.CARE]
    assert "Wet trays" in texts[Step.PACK]


# A plan made again


def test_the_same_plan_gives_the_same_bytes_and_no_clock_is_read() -> None:
    feed = feed_of(given_of())
    assert feed == feed_of(given_of())
    assert feed == feed_of(given_of(), feed, STAMPED + 30 * DAY)
    assert {event["dtstamp"].dt.date() for event in events(feed).values()} == {STAMPED}


def test_a_moved_job_keeps_its_uid_and_nothing_else_changes() -> None:
    given = given_of()
    job = sowings(given)[0]
    moved = changed(given, lambda one: one == job, lambda one: replace(one, day=one.day + 2 * DAY))
    first = feed_of(given)
    second = feed_of(moved, first, STAMPED + DAY)
    before, after = as_text(first), as_text(second)
    assert set(before) == set(after)
    (uid,) = [uid for uid in before if before[uid] != after[uid]]
    was, now = events(first)[uid], events(second)[uid]
    assert (was["dtstart"].dt, now["dtstart"].dt) == (job.day, job.day + 2 * DAY)
    assert (was["sequence"], now["sequence"]) == (0, 1)
    assert now["dtstamp"].dt.date() == STAMPED + DAY
    assert faults(second) == []


def test_without_the_earlier_feed_a_moved_job_has_the_same_uid_too() -> None:
    given = given_of()
    job = sowings(given)[-1]
    moved = changed(given, lambda one: one == job, lambda one: replace(one, day=one.day + DAY))
    assert set(events(feed_of(given))) == set(events(feed_of(moved)))


def series_of(days: list[int]) -> list[Assignment]:
    """Sowings of one lot in one format on the days given, each with trays of its own."""
    found = []
    for n in days:
        job = Job(STAMPED + n * DAY, Step.SOW, ("SOW", "A", "72"), "A", trays=10.0 + n)
        found.append(Assignment(job, None, 0.0, 1.0, 0.0, 0.0))
    return found


def days_by_uid(feed: bytes, status: str = "CONFIRMED") -> dict[str, int]:
    return {
        uid: (event["dtstart"].dt - STAMPED).days
        for uid, event in events(feed).items()
        if event["status"] == status
    }


def test_an_entry_that_comes_in_before_others_leaves_them_alone() -> None:
    first = feed_of(series_of([7, 14, 21]))
    second = feed_of(series_of([3, 7, 14, 21]), first)
    before, after = as_text(first), as_text(second)
    assert {uid: after[uid] for uid in before} == before
    assert sorted(days_by_uid(second).values()) == [3, 7, 14, 21]


def test_an_entry_that_is_gone_is_cancelled_and_comes_back_under_its_uid() -> None:
    first = feed_of(series_of([7, 14, 21]))
    second = feed_of(series_of([7, 21]), first)
    (uid,) = days_by_uid(second, "CANCELLED")
    assert days_by_uid(first)[uid] == 14
    assert events(second)[uid]["summary"].startswith("Cancelled: ")
    assert events(second)[uid]["sequence"] == 1
    assert faults(second) == []
    assert feed_of(series_of([7, 21]), second) == second
    third = feed_of(series_of([7, 14, 21]), second)
    assert days_by_uid(third) == days_by_uid(first)
    assert events(third)[uid]["sequence"] == 2


def test_entries_are_paired_by_the_fewest_days_moved() -> None:
    first = feed_of(series_of([7, 14, 21]))
    second = feed_of(series_of([8, 20, 21]), first)
    was, now = days_by_uid(first), days_by_uid(second)
    assert {was[uid]: now[uid] for uid in now} == {7: 8, 14: 20, 21: 21}


def test_what_was_to_happen_before_today_is_history() -> None:
    first = feed_of(series_of([7, 14]))
    later = with_nursery(report_scenario(), today=STAMPED + 10 * DAY)
    second = calendar_feed(later, series_of([15]), stamped=STAMPED, earlier=first)
    was, now = days_by_uid(first), days_by_uid(second)
    assert {was[uid]: now[uid] for uid in was} == {7: 7, 14: 15}
    third = calendar_feed(later, series_of([8, 20]), stamped=STAMPED, earlier=first)
    assert {was[uid]: day for uid, day in days_by_uid(third).items()} == {7: 8, 14: 20}
    bought = calendar_feed(later, series_of([14, 20]), stamped=STAMPED, earlier=feed_of(series_of([7])))
    assert sorted(days_by_uid(bought).values()) == [7, 14, 20]


def test_seasons_and_nurseries_have_entries_of_their_own() -> None:
    base, given = report_scenario(), series_of([7])
    feeds = [
        calendar_feed(scenario, given, stamped=STAMPED)
        for scenario in (
            base,
            with_nursery(base, name="another"),
            with_nursery(base, last_day=base.nursery.last_day.replace(year=2028)),
        )
    ]
    assert len({uid for feed in feeds for uid in events(feed)}) == 3
    again = calendar_feed(with_nursery(base, first_day=STAMPED + DAY), given, stamped=STAMPED)
    assert set(events(again)) == set(events(feeds[0]))


@given(*(st.lists(st.integers(0, 30), max_size=6, unique=True) for _ in range(3)))
@settings(max_examples=deep(60))
def test_plans_made_again_and_again_show_each_plan_once(a: list[int], b: list[int], c: list[int]) -> None:
    feed = None
    for days in (a, b, c):
        before = {} if feed is None else events(feed)
        feed = calendar_feed(
            with_nursery(report_scenario(), first_day=STAMPED), series_of(days), stamped=STAMPED, earlier=feed
        )
        assert sorted(days_by_uid(feed).values()) == sorted(days)
        assert set(before) <= set(events(feed))
        assert faults(feed) == []
        for uid, event in before.items():
            now = events(feed)[uid]
            assert (now["sequence"] > event["sequence"]) == (now.to_ical() != event.to_ical())


@pytest.mark.parametrize(
    "feed", [b"", b"no calendar", RFC_EXAMPLE.encode(), b"BEGIN:VCALENDAR\r\n", b"\xff\xfe\x00"]
)
def test_another_programs_calendar_is_refused(feed: bytes) -> None:
    with pytest.raises(NotAFeed):
        feed_of(given_of(), feed)


def test_lines_are_folded_in_octets() -> None:
    job = Job(STAMPED, Step.SOW, ("SOW", "ü" * 200), "ü" * 200, trays=1.0)
    feed = feed_of([Assignment(job, None, 0.0, 1.0, 0.0, 0.0)])
    assert faults(feed) == []
    assert any("ü" * 200 in line for line in unfolded(feed))


def test_a_plan_carried_on_from_today_changes_no_entry() -> None:
    """The demo, planned again in mid-season with all done as planned: nothing moves, nothing doubles."""
    scenario, last, today = demo(), demo_plan(), date(2027, 3, 22)
    again = with_nursery(replace(scenario, progress=as_planned(last, today)), today=today)
    carried = replan(again, last.tables)
    assert carried.kept
    feed = calendar_feed(scenario, assignments(last), stamped=STAMPED)
    result = plan_of(carried.solved)
    given = assignments(result)
    second = calendar_feed(again, given, stamped=today, earlier=feed)
    before, after = as_text(feed), as_text(second)
    assert set(before) == set(after)
    assert [after[uid] for uid in before if before[uid] != after[uid]] == []
