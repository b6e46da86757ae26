"""Rules across the rows of progress about hands: hired, called, longer at work, hours worked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from datetime import date

from model.scenario.choices import Happened
from scenarios.cells.draft import Draft, Rule
from scenarios.cells.faults import Fault, shown
from scenarios.cells.parse import plain
from scenarios.rules.nursery import weekday_hours
from scenarios.rules.past.claims import Claim, excesses, too_many, with_before
from scenarios.rules.past.progress_rows import all_told, latest, told


def _hired(draft: Draft) -> Iterator[Fault]:
    """A crew has no more temporary hands in a week than there can be."""
    claims, most = [], dict[Hashable, float]()
    for row, crew in draft.targets(told(draft, Happened.HIRED, "crew", "number"), "crew", "temp_heads_most"):
        week = row["crew"], _week(row["day"])
        claims.append(Claim(row, week, row["number"]))
        most[week] = float(crew["temp_heads_most"])
    for row, _, before, heads in excesses(claims, most):
        wrong = f"{with_before(before, 'hands')} more than the {plain(heads)} that the crew may have"
        remedy = f"raise temp_heads_most to {plain(before + row['number'])}, or correct the number"
        yield row.fault("number", wrong, remedy)


def _week(day: date) -> tuple[int, int]:
    return day.isocalendar()[:2]


def _worked(draft: Draft) -> Iterator[Fault]:
    """Nobody works more than 24 hours a day."""
    hands: dict[tuple[str, tuple[int, int]], float] = defaultdict(float)
    for row in told(draft, Happened.HIRED, "crew", "number"):
        hands[row["crew"], _week(row["day"])] += row["number"]
    sure = draft.sure("crew_days", "crew", "from_day", "heads")
    if not (sure and draft.sure("modules", "crew", "added")):
        return
    if not all_told(draft, Happened.HIRED, "crew", "number", "day"):
        return
    more: dict[str, float] = defaultdict(float)
    for row in draft.rows("modules", "crew", "added"):
        more[row["crew"]] += row["added"]
    claims, most = [], dict[Hashable, float]()
    for row, crew in draft.targets(told(draft, Happened.WORKED, "crew", "number"), "crew", "heads"):
        name, day = row["crew"], row["day"]
        heads = latest(draft, "crew_days", ("crew", name), "heads", day, crew["heads"]) + more[name]
        most[name, day] = 24 * (heads + hands[name, _week(day)])
        claims.append(Claim(row, (name, day), row["number"]))
    than, remedy = "hours of its hands in a day", "correct the crew's hands"
    yield from too_many(draft, claims, most, "hours", than, remedy)


def _called(draft: Draft) -> Iterator[Fault]:
    """Hands called are of a crew that calls them by the day, and no more than its list has in the week."""
    listed: dict[Hashable, float] = defaultdict(float)
    for row in told(draft, Happened.HIRED, "crew", "number"):
        listed[row["crew"], _week(row["day"])] += row["number"]
    sure = all_told(draft, Happened.HIRED, "crew", "number", "day")
    claims, most = [], dict[Hashable, float]()
    for row, crew in draft.targets(told(draft, Happened.CALLED, "crew"), "crew", "temp_days_least"):
        name, day = row["crew"], row["day"]
        if crew["temp_days_least"] is None:
            wrong = f"is 'called', but the temporary hands of '{shown(name)}' are hired by the week"
            yield row.fault("what", wrong, "write 'hired', or fill in the crew's temp_days_least")
        elif "number" in row.values:
            claims.append(Claim(row, (name, day), row["number"]))
            most[name, day] = listed[name, _week(day)]
    if sure:
        than, remedy = "hands hired for that week", "record more hands as hired"
        yield from too_many(draft, claims, most, "hands", than, remedy)


def _longer(draft: Draft) -> Iterator[Fault]:
    """Overtime is of temporary hands that may work it."""
    column = "temp_overtime_hours_per_head_day"
    for row, crew in draft.targets(told(draft, Happened.OVERTIME, "crew"), "crew", column):
        if crew[column] == 0:
            wrong = f"is 'temporary overtime', but '{shown(row['crew'])}' has none"
            yield row.fault("what", wrong, f"remove the row, or fill in the crew's {column}")


def _shifts(draft: Draft) -> Iterator[Fault]:
    """Temporary hands are called, and work longer, on days on which their crew has a shift."""
    if not draft.sure("days_off", "day"):
        return
    off = {row["day"] for row in draft.rows("days_off", "day")}
    rows = [*told(draft, Happened.CALLED, "crew"), *told(draft, Happened.OVERTIME, "crew")]
    for row, crew in draft.targets(rows, "crew", "hours_per_head_day"):
        hours, day = weekday_hours(draft, crew), row["day"]
        if hours is not None and (day in off or not hours.get(f"{day:%a}")):
            wrong = f"is a day on which '{shown(row['crew'])}' has no shift"
            yield row.fault("day", wrong, "correct the day, or give the crew a row in table shifts")


HANDS_TOLD = (
    Rule("a crew has at most its temporary hands", _hired),
    Rule("hands are called from a list", _called),
    Rule("temporary hands that may work longer do", _longer),
    Rule("temporary hands work in shifts", _shifts),
    Rule("a day has 24 hours", _worked),
)
