"""Days, working days and weeks."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from model.scenario.calendar import WEEKDAYS, Calendar, Week
from model.scenario.entities import DayOff
from tests.known_answers.build import FIRST, day, nursery

FIVE_DAYS = WEEKDAYS[:5]
"""Monday to Friday; day 0 is a Monday."""


def two_weeks(*off: int) -> Calendar:
    return Calendar(nursery(14, working_weekdays=FIVE_DAYS), tuple(DayOff(day(t)) for t in off))


def test_days_count_from_the_first_day() -> None:
    calendar = two_weeks()
    assert calendar.days == 14
    assert calendar.day(FIRST) == 0
    assert calendar.day(FIRST + timedelta(days=13)) == 13
    assert calendar.day(FIRST - timedelta(days=1)) == -1
    assert calendar.date(13) == date(2027, 3, 14)


@pytest.mark.parametrize("number, name", [(0, "Mon"), (4, "Fri"), (6, "Sun"), (7, "Mon")])
def test_weekdays(number: int, name: str) -> None:
    assert two_weeks().weekday(number) == name


def test_a_leap_day_is_a_day() -> None:
    calendar = Calendar(nursery(1, first_day=date(2028, 2, 28), last_day=date(2028, 3, 1)))
    assert calendar.days == 3
    assert calendar.date(1) == date(2028, 2, 29)
    assert calendar.day(date(2028, 3, 1)) == 2


def test_the_clock_change_does_not_move_a_day() -> None:
    """In 2027 European clocks change on 28 March."""
    calendar = Calendar(nursery(1, last_day=date(2027, 4, 30)))
    assert calendar.day(date(2027, 3, 29)) == 28


def test_working_days_are_those_weekdays_that_are_not_off() -> None:
    assert two_weeks().working_days == [0, 1, 2, 3, 4, 7, 8, 9, 10, 11]
    assert two_weeks(1, 5, 7).working_days == [0, 2, 3, 4, 8, 9, 10, 11]


def test_days_off_outside_the_horizon_change_nothing() -> None:
    assert two_weeks(-1, 14, -13).working_days == two_weeks().working_days


@pytest.mark.parametrize(
    "number, found", [(-3, -3), (0, 0), (4, 4), (5, 7), (6, 7), (11, 11), (12, None), (14, None)]
)
def test_next_working_day(number: int, found: int | None) -> None:
    assert two_weeks().next_working(number) == found


@pytest.mark.parametrize("number, found", [(-1, None), (0, 0), (5, 4), (6, 4), (7, 7), (13, 11), (99, 11)])
def test_previous_working_day(number: int, found: int | None) -> None:
    assert two_weeks().previous_working(number) == found


def test_days_off_in_a_row_are_passed_over() -> None:
    calendar = two_weeks(0, 7, 8)
    assert calendar.next_working(0) == 1
    assert calendar.previous_working(0) is None
    assert calendar.next_working(5) == 9
    assert calendar.previous_working(8) == 4


def test_weeks_begin_on_monday_and_are_cut_to_the_horizon() -> None:
    """From a Thursday to the second Tuesday: 4, 7 and 2 days."""
    calendar = Calendar(
        nursery(1, first_day=day(3), last_day=day(15), working_weekdays=FIVE_DAYS), (DayOff(day(8)),)
    )
    assert calendar.weeks == [
        Week((0, 1, 2, 3), (0, 1)),
        Week((4, 5, 6, 7, 8, 9, 10), (4, 6, 7, 8)),
        Week((11, 12), (11, 12)),
    ]


def test_a_week_over_the_turn_of_the_year_is_one_week() -> None:
    """31 December 2026 is a Thursday; ISO week 53 goes on to 3 January 2027."""
    calendar = Calendar(nursery(1, first_day=date(2026, 12, 28), last_day=date(2027, 1, 4)))
    assert [week.days for week in calendar.weeks] == [(0, 1, 2, 3, 4, 5, 6), (7,)]


def test_every_day_lies_in_one_week() -> None:
    days = [t for week in two_weeks(3).weeks for t in week.days]
    assert days == list(range(14))
