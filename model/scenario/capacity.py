"""Capacity on each day (slots, units, bays, hands) with its cost, and the closest matching standards."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import cache
from itertools import pairwise
from typing import NamedTuple, TypeVar

from model.scenario.calendar import Calendar, Week
from model.scenario.choices import Task, ZoneMode
from model.scenario.entities import Scenario, Zone
from model.scenario.records.people import Crew, LabourStandard, PieceRate
from model.scenario.records.rooms import Bays
from model.scenario.records.trade import SupplyUse

Row = TypeVar("Row", LabourStandard, SupplyUse, PieceRate)
Figure = TypeVar("Figure", float, float | None)


def closest(rows: Iterable[Row], method: str | None, format_: str | None) -> Row | None:
    """The row that matches method and format most closely: both, then method, then format, then neither."""
    fitting = [row for row in rows if row.method in (None, method) and row.format in (None, format_)]
    return max(fitting, key=lambda row: (row.method is not None, row.format is not None), default=None)


def in_role(task: str, role: str | None) -> str:
    """Name of a task, or of the part of it that one role does, as plan and lists show it."""
    return f"{task}: {role}" if role else task


class TimedRole(NamedTuple):
    """The part of a task that one role does; all of it where the labour standard names no role."""

    name: str
    """The task, with the role."""
    task: Task
    role: str | None
    skill: str
    seconds: float
    """Time of a piece (a join, tray or plant) at the standard pace."""
    hours: float
    """The same, in hours."""
    share: float
    """The role's share of the seconds that all roles take for a piece."""


Roles = Callable[[Task, str | None, str | None], tuple[TimedRole, ...]]
"""The roles of a task for a method and tray format, by name; none if it takes no time."""


def roles_of(standards: Sequence[LabourStandard]) -> Roles:
    """The roles of every task by the labour standards that fit."""
    rows = by_task(standards)

    @cache
    def found(task: Task, method: str | None, format_: str | None) -> tuple[TimedRole, ...]:
        return _timed(rows.get(task.value, ()), method, format_)

    return found


def _timed(rows: Sequence[LabourStandard], method: str | None, format_: str | None) -> tuple[TimedRole, ...]:
    best = closest(rows, method, format_)
    if best is None:
        return ()
    fitting = [row for row in rows if (row.method, row.format) == (best.method, best.format)]
    timed = sorted((row for row in fitting if row.seconds > 0), key=lambda row: row.role or "")
    whole = sum(row.seconds for row in timed)
    return tuple(
        TimedRole(
            in_role(row.task.value, row.role),
            row.task,
            row.role,
            row.skill,
            row.seconds,
            row.seconds / 3600,
            row.seconds / whole,
        )
        for row in timed
    )


def _from_day(
    calendar: Calendar, start: Figure, changes: Iterable[tuple[date, float | None]]
) -> list[Figure]:
    """A figure's value on each day of the horizon, from dated changes; None leaves it as it was."""
    values = [start] * calendar.days
    for when, value in sorted(changes, key=lambda change: change[0]):
        if value is not None:
            first = max(calendar.day(when), 0)
            values[first:] = [value] * len(values[first:])
    return values


class ZoneLimits:
    """A zone's slots (pool) or units, and its cost per slot-day, for each day; modules included."""

    def __init__(self, scenario: Scenario, zone: Zone, calendar: Calendar) -> None:
        self.zone = zone
        self.pool = zone.mode is ZoneMode.POOL
        changes = [change for change in scenario.zone_days if change.zone == zone.zone]
        modules = [module for module in scenario.modules if module.zone == zone.zone]
        more = sum(module.added * ((module.slots or 0.0) if self.pool else 1) for module in modules)
        owned = (zone.slots if self.pool else zone.units) or 0
        dated = [(change.from_day, change.slots if self.pool else change.units) for change in changes]
        self.amount = [amount + more for amount in _from_day(calendar, owned, dated)]
        """Slots of a pool, or units."""
        self.cost = _from_day(
            calendar, zone.cost_per_slot_day, [(c.from_day, c.cost_per_slot_day) for c in changes]
        )
        self._cost_before = [0.0]
        for cost in self.cost:
            self._cost_before.append(self._cost_before[-1] + cost)
        self.slots_each = 1.0 if self.pool else (zone.unit_slots or 0.0)
        """Slots in one unit of ``amount``: 1 in a pool, else those of a unit."""

    def cost_between(self, start: int, end: int) -> float:
        """Cost of a slot in use from day ``start`` up to, but not including, ``end``, in currency."""
        return self._cost_before[end] - self._cost_before[start]


def shift_hours(scenario: Scenario, crew: Crew) -> dict[str, float]:
    """Regular hours of a hand by weekday, without the weekdays on which the crew has no shift.

    These are the nursery's weekdays with the crew's hours; table shifts changes them.
    """
    hours = dict.fromkeys(scenario.nursery.working_weekdays, crew.hours_per_head_day)
    for row in scenario.shifts:
        for weekday in row.weekdays if row.crew == crew.crew else ():
            if row.hours_per_head_day > 0:
                hours[weekday] = row.hours_per_head_day
            else:
                hours.pop(weekday, None)
    return hours


class BayLimits:
    """The bays of a zone: slots of a bay, and the cost of an open bay, for each day."""

    def __init__(self, rows: Sequence[Bays], calendar: Calendar) -> None:
        """``rows``: those of one zone."""
        self.slots = _from_day(calendar, 0.0, [(row.from_day, row.slots_per_bay) for row in rows])
        """Slots of a bay."""
        self._cost = _from_day(calendar, 0.0, [(row.from_day, row.cost_per_bay_week) for row in rows])

    def week_cost(self, week: Week) -> float:
        """Cost of a bay that is open in the week, in currency: a seventh of a bay-week for each day."""
        return sum(self._cost[t] for t in week.days) / 7


def bay_limits(scenario: Scenario, calendar: Calendar) -> dict[str, BayLimits]:
    """The bays of each zone that is divided into bays, in the order of the zones."""
    rows = {zone.zone: [row for row in scenario.bays if row.zone == zone.zone] for zone in scenario.zones}
    return {zone: BayLimits(own, calendar) for zone, own in rows.items() if own}


class CrewLimits:
    """A crew's regular and overtime hours and its pay for each day; modules included."""

    def __init__(self, scenario: Scenario, crew: Crew, calendar: Calendar) -> None:
        self.crew = crew
        changes = [change for change in scenario.crew_days if change.crew == crew.crew]
        more = sum(module.added for module in scenario.modules if module.crew == crew.crew)
        owned = _from_day(calendar, crew.heads, [(c.from_day, c.heads) for c in changes])
        self.heads = [heads + more for heads in owned]
        self.pay = _from_day(calendar, crew.pay_per_hour, [(c.from_day, c.pay_per_hour) for c in changes])
        self._temporary_pay = _from_day(
            calendar, crew.temp_pay_per_hour, [(c.from_day, c.temp_pay_per_hour) for c in changes]
        )
        self._temporary_overtime_pay = _from_day(
            calendar,
            crew.temp_overtime_pay_per_hour,
            [(c.from_day, c.temp_overtime_pay_per_hour) for c in changes],
        )
        by_weekday, off = shift_hours(scenario, crew), {entry.day for entry in scenario.days_off}
        shifts = [
            None if calendar.date(t) in off else by_weekday.get(calendar.weekday(t))
            for t in range(calendar.days)
        ]
        self.on_duty = [hours is not None for hours in shifts]
        """Whether the crew has a shift on each day."""
        self.hours = [hours or 0.0 for hours in shifts]
        """Regular hours of one hand on each day."""
        self.regular = [heads * hours for heads, hours in zip(self.heads, self.hours, strict=True)]
        self.overtime = [
            heads * (crew.overtime_hours_per_head_day if works else crew.day_off_hours_per_head)
            for heads, works in zip(self.heads, self.on_duty, strict=True)
        ]
        self._weekdays = len(by_weekday)
        own = [row for row in scenario.skill_limits if row.crew in (None, crew.crew)]
        self.skill_hours = {
            row.skill: row.hours_per_head_day for row in sorted(own, key=lambda row: row.crew is not None)
        }
        """Most hours of a hand a day at each limited skill."""
        paces = sorted((row.week, row.share) for row in scenario.pace_by_week if row.crew == crew.crew)
        self.shares = tuple(share for _, share in paces if share < 1)
        """Share of its pace at which a temporary hand works in each week in which it still learns."""
        self._piece_rates = by_task([row for row in scenario.piece_rates if row.crew == crew.crew])
        rate = crew.overtime_pay_per_hour
        self.overtime_pay = list(self.pay) if rate is None else [rate] * calendar.days

    @property
    def by_piece(self) -> bool:
        """Whether the crew's own hands are paid by the piece for some task."""
        return bool(self._piece_rates)

    def piece_rate(self, of: TimedRole, method: str | None, format_: str | None) -> float | None:
        """Pay for a piece of a role's part of a task, in currency; None if it is paid by the hour."""
        rows = self._piece_rates.get(of.task.value, ())
        named = closest([row for row in rows if row.role == of.role], method, format_)
        if named is not None:
            return named.pay_per_piece
        row = closest([row for row in rows if row.role is None], method, format_)
        return None if row is None else row.pay_per_piece * of.share

    def beyond_the_hour(self, rate: float, each: float, day: int) -> float:
        """What an hour of pieces pays beyond the pay by the hour, in currency; ``each``: hours of a piece."""
        return max(0.0, rate * self.crew.pace / each - self.pay[day])

    @property
    def payroll(self) -> float:
        """Pay of all regular hours of the calendar, in currency."""
        return sum(hours * pay for hours, pay in zip(self.regular, self.pay, strict=True))

    def week_hours(self, week: Week) -> float | None:
        """Most hours of the crew in the week; None if there is no limit."""
        if self.crew.week_hours_per_head is None:
            return None
        return max(self.heads[t] for t in week.days) * self.crew.week_hours_per_head

    def guaranteed_hours(self, week: Week) -> float:
        """Hours for which the crew's own hands are paid in the week at least."""
        each = (self.crew.guaranteed_hours_per_head_week or 0.0) / self._weekdays
        return sum(self.heads[t] * each for t in self.working(week))

    def idle_pay(self, week: Week) -> float:
        """Pay of a guaranteed hour without work, in currency: that of the week's first working day."""
        return self.pay[self.working(week)[0]]

    def working(self, week: Week) -> tuple[int, ...]:
        """Days of the week on which the crew has a shift."""
        return tuple(t for t in week.days if self.on_duty[t])

    def training_days(self, week: Week) -> tuple[int, ...]:
        """Days of a temporary hand's first week that it spends in training."""
        return self.working(week)[: self.crew.temp_training_days]

    def temporary_pay(self, week: Week) -> float:
        """Pay of an hour of a temporary hand in the week: that of its first day."""
        return self.temporary_pay_on(week.days[0])

    def temporary_pay_on(self, day: int) -> float:
        """Pay of an hour of a temporary hand hired from that day on."""
        return self._temporary_pay[day]

    @property
    def pace_steps(self) -> tuple[float, ...]:
        """What each week of its stay adds to the share of its pace at which a temporary hand works."""
        return tuple(after - before for before, after in pairwise((0.0, *self.shares, 1.0)))

    @property
    def by_day(self) -> bool:
        """Whether temporary hands are hired by the day."""
        return self.crew.temp_days_least is not None

    def temporary_hours(self, day: int) -> float:
        """Most hours of a trained temporary hand at work on a day, overtime included."""
        return self.hours[day] + self.on_duty[day] * self.crew.temp_overtime_hours_per_head_day

    def temporary_overtime_pay(self, week: Week) -> float:
        """Pay of an hour of overtime of a temporary hand in the week: that of its first day."""
        rate = self._temporary_overtime_pay[week.days[0]]
        return self.temporary_pay(week) if rate is None else rate

    def temporary_overtime_apart(self, week: Week) -> bool:
        """Whether overtime of temporary hands has a rate of its own in the week."""
        return self._temporary_overtime_pay[week.days[0]] is not None

    def temporary_week_pay(self, week: Week) -> float:
        """Pay of one temporary hand for the week whatever it does, in currency; 0 if hired by the day."""
        return self.temporary_week_hours(week) * self.temporary_pay(week)

    def temporary_week_hours(self, week: Week) -> float:
        """Hours for which one temporary hand is paid in the week whatever it does; 0 if hired by the day."""
        return 0.0 if self.by_day else sum(self.hours[t] for t in self.working(week))

    def training_hours(self, week: Week) -> float:
        """Hours of training for which a new hand is paid besides the pay of its week."""
        return sum(self.hours[t] for t in self.training_days(week)) if self.by_day else 0.0

    def new_hand_cost(self, week: Week) -> float:
        """Cost of a new temporary hand besides the pay of its week and of days called, in currency."""
        return self.crew.temp_training_cost + self.training_hours(week) * self.temporary_pay(week)


Standard = TypeVar("Standard", LabourStandard, PieceRate)


def by_task(standards: Sequence[Standard]) -> dict[str, list[Standard]]:
    """Labour standards, or piece rates, by task."""
    rows: dict[str, list[Standard]] = {}
    for row in standards:
        rows.setdefault(row.task.value, []).append(row)
    return rows


def by_use(uses: Sequence[SupplyUse]) -> dict[tuple[str, str], list[SupplyUse]]:
    """Supply uses by supply and by what the quantity is for."""
    rows: dict[tuple[str, str], list[SupplyUse]] = {}
    for row in uses:
        rows.setdefault((row.supply, row.per.value), []).append(row)
    return rows
