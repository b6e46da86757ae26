"""What new temporary hands practise on, in words for the crew's page of each day of their training."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from model.planned.plan_reading import PlanReading
from model.planned.plan_tables import Plan
from model.scenario.entities import Scenario
from reports.book.words import number
from reports.book.writing import shown_day


def practised_on(scenario: Scenario, plan: Plan) -> dict[tuple[str, date], str]:
    """A sentence for each crew and day on which new hands are trained on what was sown for it."""
    units = {supply.supply: supply.unit for supply in scenario.supplies}
    parts: dict[tuple[str, date], list[str]] = defaultdict(list)
    heads: dict[tuple[str, date], float] = {}
    for row, amount, hands, training, day, _, out in PlanReading(scenario, plan.tables).practised():
        if row.format is None:
            words = f"{number(amount)} {units[row.item]} of {row.item}"
        else:
            words = f"{number(amount)} trays {row.format} of {row.item} sown {shown_day(day)}"
        for n in range((out - training).days):
            at = row.crew, training + timedelta(days=n)
            parts[at].append(words)
            heads[at] = hands
    return {
        at: f"New hands, {number(heads[at])}, practise until their training ends, on {'; '.join(words)}. "
        "None of these plants is sold."
        for at, words in parts.items()
    }
