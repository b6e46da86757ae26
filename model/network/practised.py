"""What new temporary hands practise on: sown or used before their training, thrown away after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from model.network.types import Network
from model.scenario.capacity import CrewLimits
from model.scenario.entities import SeedLot, TrayFormat
from model.scenario.records.people import Practice


class Practised(NamedTuple):
    """What a new temporary hand practises on: ``key`` is the decision to hire, by the week.

    ``day``: day of sowing or use, w, the last working day that lies ``days_before`` before the first day t₀
    of the training. ``end``: day after the last one of the training.

    trays sown = quantity · A[c,q] on w = prev(t₀ − days before), of a lot
    units used = quantity · A[c,q] on w, of a supply
    A[c,q] = 0      where w lies before the first day
    """

    key: tuple[str, int]
    row: Practice
    day: int
    end: int


def practised(
    network: Network, crews: Mapping[str, CrewLimits], crew_weeks: Sequence[tuple[str, int]]
) -> tuple[list[Practised], set[int]]:
    """What new hands practise on, and the crew-weeks from today on for which it is too late to sow it."""
    found: list[Practised] = []
    too_early: set[int] = set()
    calendar, rows = network.calendar, network.scenario.practice
    for n, (name, q) in enumerate(crew_weeks if rows else ()):
        days = crews[name].training_days(calendar.weeks[q])
        for row in rows if days else ():
            if row.crew == name:
                day = calendar.previous_working(days[0] - row.days_before)
                if day is None and calendar.weeks[q].days[0] >= network.past.today:
                    too_early.add(n)
                elif day is not None:
                    found.append(Practised(("new_hands", n), row, day, days[-1] + 1))
    return found, too_early


def practice_waves(
    network: Network, found: Sequence[Practised]
) -> list[tuple[Practised, SeedLot, TrayFormat, int]]:
    """Trays sown for practice, and their first day on the bench."""
    scenario, waves = network.scenario, []
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    formats = {tray.format: tray for tray in scenario.tray_formats}
    for each in found:
        lot = lots.get(each.row.item)
        if lot is not None and each.row.format is not None:
            late = each.day + lot.germination_days
            bench = network.calendar.next_working(late) if lot.germination_days else late
            bench = each.end if bench is None else min(bench, each.end)
            waves.append((each, lot, formats[each.row.format], bench))
    return waves
