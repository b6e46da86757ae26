"""The check of bays that are opened whole."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from model.proof.problems import CENT, Problem, differs, exceeds, wrong
from model.proof.replay import Replay
from model.scenario.records.rooms import Bays


def bays_hold_their_trays(r: Replay) -> Iterator[Problem]:
    """What stands in a zone with bays fits into those open in the week, and each costs what its days cost.

    Weeks in which a bay costs nothing are not listed.
    """
    told = {(row["zone"], r.world.week(row["week_day"])): row for row in r.rows["bays"]}
    for zone in dict.fromkeys(row.zone for row in r.world.scenario.bays):
        for monday in sorted({r.world.week(day) for day in r.world.days}):
            figures = {day: _figures(r.world.scenario.bays, zone, day) for day in r.world.week_days(monday)}
            cost = sum(cost for _, cost in figures.values()) / 7
            if cost <= 0:
                continue
            row, place = told.pop((zone, monday), None), f"{zone}, week of {monday}"
            used = {day: r.standing.get((zone, day), 0.0) for day in figures}
            if row is None:
                yield from exceeds(f"{place} is not in table bays, slots used", max(used.values()), 0.0)
                continue
            for day, (slots, _) in figures.items():
                room = row["bays"] * slots
                yield from exceeds(f"{zone} on {day}, slots used against open bays", used[day], room)
            fullest = max(figures, key=lambda day: used[day] / figures[day][0])
            yield from differs(f"{place}, slots used on the fullest day", row["used"], used[fullest])
            room = row["bays"] * figures[fullest][0]
            yield from differs(f"{place}, slots of open bays", row["room"], room)
            yield from differs(f"{place}, cost of a bay", row["cost_per_bay"], cost, CENT)
            yield from differs(f"{place}, cost", row["amount"], row["bays"] * cost, CENT)
    for zone, monday in told:
        yield from wrong(f"{zone}, week of {monday}: no bay is to be paid there", False)


def _figures(rows: tuple[Bays, ...], zone: str, day: date) -> tuple[float, float]:
    """Slots of a bay and cost of a bay-week on a day."""
    slots = cost = 0.0
    for row in sorted(rows, key=lambda row: row.from_day):
        if row.zone == zone and row.from_day <= day:
            slots = slots if row.slots_per_bay is None else row.slots_per_bay
            cost = cost if row.cost_per_bay_week is None else row.cost_per_bay_week
    return slots, cost
