"""Words for the zones in which the trays of a wave germinate."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from model.planned.plan_reading import PlanReading
from model.planned.plan_tables import Plan
from model.scenario.entities import Scenario
from reports.book.words import number
from reports.book.writing import shown_day


def germinates_in(scenario: Scenario, plan: Plan) -> dict[tuple[str, str, date], str]:
    """Zones and trays of each wave, by lot, format and sowing day; none for lots on the bench at once.

    Where trays come from a zone to the bench on another day than from the lot's own, it says so.
    """
    found: dict[tuple[str, str, date], list[str]] = defaultdict(list)
    for wave, there in PlanReading(scenario, plan.tables).germinating():
        if wave.bench > wave.sown:
            other = f", to bench {shown_day(there.bench)}" if there.bench != wave.bench else ""
            words = f"{there.zone}: {number(there.trays)}{other}"
            found[wave.lot, wave.format, wave.sown].append(words)
    return {wave: "; ".join(words) for wave, words in found.items()}
