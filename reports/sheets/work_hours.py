"""Sheets of the labour: crews by week, tasks by week, work by day, pay by week."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date
from operator import itemgetter

from model.planned.plan_tables import records, rows_of
from model.scenario.calendar import Calendar, Week, week_of
from model.scenario.capacity import CrewLimits, in_role
from model.scenario.choices import PayBasis, Task
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.plan.figures import crew_weeks, is_full, share_of, weekday
from reports.plan.report import Report, spans_of
from reports.plan.role_words import role_hands

LEARNING = " Hours of temporary hands are at their full pace: one that still learns has its share of them."


def labour(report: Report) -> None:
    """Hours of every crew by week against the hours available."""
    report.open(
        "Labour",
        "Labour by week",
        "Hours worked by each crew, and hours available. Overtime includes hours on days off. FULL: all "
        "regular hours are worked. Training hours of temporary hands are not available hours. Hours of own "
        "hands with new hands are in their regular hours and overtime, and overtime of temporary hands is in "
        "theirs." + (LEARNING if report.scenario.pace_by_week else ""),
        cautions=["pay"],
    )
    there_are = ("regular_available", "overtime_available", "temporary_available")
    there = "=" + "+".join(f"{{{name}}}" for name in there_are)
    rows = [
        week._asdict()
        | {
            "worked": Formula("={regular}+{overtime}+{temporary}", week.worked),
            "there": Formula(there, week.available),
            "share": Formula("=IF({there}=0,0,{worked}/{there})", share_of(week.worked, week.available)),
            "full": "FULL" if is_full(week.regular, week.regular_available) else None,
        }
        for by_week in crew_weeks(report.plan).values()
        for week in by_week
    ]
    with_new = ("training",) if any(row["training"] for row in rows) else ()
    longer = ("temporary_overtime",) if any(row["temporary_overtime"] for row in rows) else ()
    called = [SheetColumn("called", "Called (hands × days)", CellKind.COUNT, total=True)]
    columns = [
        report.column("crew_days", "crew"),
        SheetColumn("week", "Week from", CellKind.DAY),
        *report.columns("crew_days", "regular", "overtime", *with_new, "temporary", *longer, total=True),
        *(called if any(row["called"] for row in rows) else ()),
        SheetColumn("worked", "All worked (h)", CellKind.DECIMAL, total=True),
        *report.columns("crew_days", *there_are, total=True),
        SheetColumn("there", "All available (h)", CellKind.DECIMAL, total=True),
        SheetColumn("share", "Share worked", CellKind.SHARE),
        SheetColumn("full", "Mark"),
    ]
    report.table("Labour", columns, rows, "crew")


def tasks(report: Report) -> None:
    """Hours of every crew by week and task."""
    about = "Hours worked by each crew, its temporary hands included, on each task."
    sheet = report.open("Tasks", "Tasks by week", about)
    sums: dict[tuple[str, date], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for crew, day, task, hours in rows_of(report.plan.hours, "crew", "day", "task", "hours"):
        sums[crew, week_of(day)][task] += hours
    there = {task for found in sums.values() for task in found}
    in_order = list(Task)
    at = {
        in_role(row.task.value, row.role): in_order.index(row.task)
        for row in report.scenario.labour_standards
    }
    done = sorted(there, key=lambda task: (at.get(task, len(in_order)), task))
    rows: list[list[Cell]] = []
    total = "=" + "+".join(f"{{task {n}}}" for n in range(len(done)))
    for (crew, week), found in sorted(sums.items()):
        hours = [found.get(task, 0.0) for task in done]
        rows.append([crew, week, *hours, Formula(total, sum(hours))])
    columns = [
        SheetColumn("crew", "Crew"),
        SheetColumn("week", "Week from", CellKind.DAY),
        *(
            SheetColumn(f"task {n}", f"{task[:1].upper()}{task[1:]} (h)", CellKind.DECIMAL, total=True)
            for n, task in enumerate(done)
        ),
        SheetColumn("total", "All (h)", CellKind.DECIMAL, total=True),
    ]
    sheet.table(columns, rows)


def roles(report: Report) -> None:
    """Hours and hands at each role by day."""
    sheet = report.open(
        "Roles",
        "Roles by day",
        "Tasks that hands of several roles do side by side: hours by the clock of all crews at each role, "
        "and the hands (or machines) that work them over a whole shift. Hands with several skills change "
        "roles in the day. "
        "Where crews have the same pace, hands stand in the ratio of the seconds of table labour_standards.",
    )
    rows = [
        {"weekday": weekday(row.day), **row._asdict()} for row in role_hands(report.scenario, report.plan)
    ]
    columns = [
        report.column("hours", "day"),
        SheetColumn("weekday", "Weekday"),
        SheetColumn("task", "Task"),
        SheetColumn("role", "Role"),
        report.column("hours", "hours", kind=CellKind.HOURS, total=True),
        SheetColumn("hands", "Hands for a whole shift", CellKind.DECIMAL),
    ]
    sheet.table(columns, rows)


def work_by_day(report: Report) -> None:
    """Hours of every crew by day, task and hands."""
    sheet = report.open(
        "Work by day",
        "Work by day",
        "Hours by the clock of each crew on each task. Own hands and temporary hands have a line each.",
        cautions=["lifting"],
    )
    rows = sorted(records(report.plan.hours), key=itemgetter("day", "crew", "hands", "task"))
    for row in rows:
        row["weekday"] = weekday(row["day"])
    columns = [
        report.column("hours", "day"),
        SheetColumn("weekday", "Weekday"),
        *report.columns("hours", "crew", "hands", "skill", "task"),
        report.column("hours", "hours", kind=CellKind.HOURS, total=True),
    ]
    sheet.table(columns, rows)


def pay(report: Report) -> None:
    """Pay by cost line, crew and week: hours times the rate on the prices sheet."""
    money = report.currency
    report.open(
        "Pay",
        "Pay by week",
        "Hours paid times the rate on the sheet Prices. A committed crew is paid all its regular hours, "
        "worked or not. Guaranteed hours are those paid without work. Piece rates are what pieces pay beyond "
        "the pay by the hour, at the prices of the plan. Temporary hands are paid for their "
        "training hours; each new hand also costs the training sum. Their overtime has a line of its own.",
        cautions=["pay"],
    )
    rows = [
        *_pay_rows(report, "labour"),
        *_guaranteed_rows(report),
        *_piece_rows(report),
        *_pay_rows(report, "overtime"),
        *_temporary_rows(report),
    ]
    columns = [
        report.column("costs", "line"),
        report.column("temporary", "crew"),
        SheetColumn("week", "Week from", CellKind.DAY),
        SheetColumn("hours", "Hours paid", CellKind.DECIMAL, total=True),
        SheetColumn("rate", f"Rate ({money}/h)", CellKind.PRICE),
        report.column("temporary", "new", total=True),
        SheetColumn("training", f"Training ({money} a new hand)", CellKind.PRICE),
        report.column("costs", "amount", total=True),
    ]
    placed = report.table("Pay", columns, rows, "line")
    for name, span in spans_of([f"{row['line']}\n{row['crew']}" for row in rows]).items():
        line, crew = name.split("\n", 1)
        report.amounts[line, crew] = f"SUM({placed.span('amount', *span)})"


def rate_starts(limits: CrewLimits, calendar: Calendar) -> list[date]:
    """For each day, the first day of its rate of pay."""
    starts: list[date] = []
    for t, rate in enumerate(limits.pay):
        same = t > 0 and rate == limits.pay[t - 1]
        starts.append(starts[-1] if same else calendar.date(t))
    return starts


def temporary_starts(
    limits: CrewLimits,
    calendar: Calendar,
    pay: Callable[[CrewLimits, Week], float] = CrewLimits.temporary_pay,
) -> dict[date, date]:
    """For the first day of each week, the first day of the rate ``pay`` that temporary hands are paid."""
    starts: dict[date, date] = {}
    last: tuple[float, date] | None = None
    for week in calendar.weeks:
        first, rate = calendar.date(week.days[0]), pay(limits, week)
        if last is None or last[0] != rate:
            last = rate, first
        starts[first] = last[1]
    return starts


def _pay_rows(report: Report, line: str) -> Iterator[dict[str, Cell]]:
    """Rows of regular pay or overtime: one for each crew, week and rate."""
    calendar = Calendar(report.scenario.nursery, report.scenario.days_off)
    limits = {crew.crew: CrewLimits(report.scenario, crew, calendar) for crew in report.scenario.crews}
    starts = {name: rate_starts(crew, calendar) for name, crew in limits.items()}
    sums: dict[tuple[str, date, date], float] = defaultdict(float)
    rates: dict[tuple[str, date], float] = {}
    names = ("crew", "day", "regular", "overtime", "regular_available")
    for crew, day, regular, overtime, available in rows_of(report.plan.crew_days, *names):
        t, of = calendar.day(day), limits[crew]
        committed = of.crew.pay_basis is PayBasis.COMMITTED
        hours = overtime if line == "overtime" else available if committed else regular
        start = starts[crew][t]
        sums[crew, week_of(day), start] += hours
        rates[crew, start] = of.overtime_pay[t] if line == "overtime" else of.pay[t]
    for (crew, week, start), hours in sums.items():
        if hours > 0:
            value = rates[crew, start]
            rate = Formula("=" + report.prices[line, crew, start.isoformat()], value)
            at: dict[str, Cell] = {"line": line, "crew": crew, "week": week, "hours": hours, "rate": rate}
            amount = Formula("={hours}*{rate}", hours * value)
            yield at | {"new": None, "training": None, "amount": amount}


def _guaranteed_rows(report: Report) -> Iterator[dict[str, Cell]]:
    """Guaranteed hours without work, at the rate of the week's first working day."""
    calendar = Calendar(report.scenario.nursery, report.scenario.days_off)
    limits = {crew.crew: CrewLimits(report.scenario, crew, calendar) for crew in report.scenario.crews}
    weeks = {calendar.date(week.days[0]): week for week in calendar.weeks}
    line = "guaranteed hours"
    for name, day, hours in rows_of(report.plan.guaranteed, "crew", "week_day", "idle"):
        crew, week = limits[name], weeks[day]
        start, value = rate_starts(crew, calendar)[crew.working(week)[0]], crew.idle_pay(week)
        yield {
            "line": line,
            "crew": name,
            "week": week_of(day),
            "hours": hours,
            "rate": Formula("=" + report.prices["labour", name, start.isoformat()], value),
            "new": None,
            "training": None,
            "amount": Formula("={hours}*{rate}", hours * value),
        }


def _piece_rows(report: Report) -> Iterator[dict[str, Cell]]:
    """What pieces pay beyond the hour, by crew and week."""
    line = "piece rates"
    sums: dict[tuple[str, date], float] = defaultdict(float)
    for crew, day, amount in rows_of(report.plan.pieces, "crew", "day", "amount"):
        sums[crew, week_of(day)] += amount
    for (crew, week), amount in sorted(sums.items()):
        at: dict[str, Cell] = {"line": line, "crew": crew, "week": week, "amount": amount}
        yield at | {"hours": None, "rate": None, "new": None, "training": None}


def _temporary_rows(report: Report) -> Iterator[dict[str, Cell]]:
    calendar = Calendar(report.scenario.nursery, report.scenario.days_off)
    limits = {crew.crew: CrewLimits(report.scenario, crew, calendar) for crew in report.scenario.crews}
    starts = {name: temporary_starts(crew, calendar) for name, crew in limits.items()}
    line = "temporary hands"
    weeks = {calendar.date(week.days[0]): week for week in calendar.weeks}
    columns = ("crew", "week_day", "new", "paid_hours", "overtime_hours")
    for name, day, new, hours, longer in rows_of(report.plan.temporary, *columns):
        crew, rate = limits[name].crew, limits[name].temporary_pay_on(calendar.day(day))
        value = hours * rate + new * crew.temp_training_cost
        yield {
            "line": line,
            "crew": name,
            "week": week_of(day),
            "hours": hours,
            "rate": Formula("=" + report.prices[line, name, starts[name][day].isoformat()], rate),
            "new": new,
            "training": Formula("=" + report.prices["training", name], crew.temp_training_cost),
            "amount": Formula("={hours}*{rate}+{new}*{training}", value),
        }
        if longer > 0:
            week = weeks[day]
            since = temporary_starts(limits[name], calendar, CrewLimits.temporary_overtime_pay)[day]
            rate = limits[name].temporary_overtime_pay(week)
            price = report.prices["temporary overtime", name, since.isoformat()]
            yield {
                "line": line,
                "crew": name,
                "week": week_of(day),
                "hours": longer,
                "rate": Formula("=" + price, rate),
                "new": None,
                "training": None,
                "amount": Formula("={hours}*{rate}", longer * rate),
            }
