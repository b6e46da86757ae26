"""Days, working days and weeks of a scenario. Day 0 is the nursery's first day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from model.scenario.entities import DayOff, Nursery

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def week_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def mondays(nursery: Nursery) -> list[date]:
    """Mondays of all weeks that the horizon touches."""
    first = week_of(nursery.first_day)
    return [first + timedelta(days=n) for n in range(0, (nursery.last_day - first).days + 1, 7)]


@dataclass(frozen=True, slots=True)
class Week:
    """An ISO week cut to the horizon: its days and working days as day numbers."""

    days: tuple[int, ...]
    working: tuple[int, ...]


class Calendar:
    """Turns dates into day numbers and back, and knows which days are worked."""

    def __init__(self, nursery: Nursery, days_off: tuple[DayOff, ...] = ()) -> None:
        self.first = nursery.first_day
        self.days = (nursery.last_day - nursery.first_day).days + 1
        weekdays = {WEEKDAYS.index(name) for name in nursery.working_weekdays}
        off = {self.day(entry.day) for entry in days_off}
        self.is_working = [
            (self.first + timedelta(days=t)).weekday() in weekdays and t not in off for t in range(self.days)
        ]
        self._next = self._scan(range(self.days - 1, -1, -1))
        self._prev = self._scan(range(self.days))

    def _scan(self, order: range) -> list[int | None]:
        found: list[int | None] = [None] * self.days
        last = None
        for t in order:
            if self.is_working[t]:
                last = t
            found[t] = last
        return found

    def day(self, when: date) -> int:
        """Day number of a date; negative before the first day."""
        return (when - self.first).days

    def date(self, day: int) -> date:
        """Date of a day number."""
        return self.first + timedelta(days=day)

    def weekday(self, day: int) -> str:
        """Weekday of a day number, as in ``WEEKDAYS``."""
        return WEEKDAYS[self.date(day).weekday()]

    def next_working(self, day: int) -> int | None:
        """First working day on or after ``day``; None if that lies after the horizon.

        Which days before the first were worked is not known: such a day stands for itself.
        """
        if day < 0:
            return day
        return self._next[day] if day < self.days else None

    def previous_working(self, day: int) -> int | None:
        """Last working day on or before ``day``; None if that lies before the horizon."""
        if day < 0:
            return None
        return self._prev[min(day, self.days - 1)]

    @property
    def working_days(self) -> list[int]:
        """All working days, in order."""
        return [t for t in range(self.days) if self.is_working[t]]

    @property
    def weeks(self) -> list[Week]:
        """All ISO weeks that the horizon touches, in order."""
        starts: dict[date, list[int]] = {}
        for t in range(self.days):
            when = self.date(t)
            starts.setdefault(week_of(when), []).append(t)
        return [
            Week(tuple(days), tuple(t for t in days if self.is_working[t]))
            for _, days in sorted(starts.items())
        ]
