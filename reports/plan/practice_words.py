"""What new temporary hands practise on: words for the days of their training, and what is sown for it."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from typing import Any

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
            trays = "tray" if amount == 1 else "trays"
            words = f"{number(amount)} {trays} {row.format} of {row.item} sown {shown_day(day)}"
        for n in range((out - training).days):
            at = row.crew, training + timedelta(days=n)
            parts[at].append(words)
            heads[at] = hands
    return {
        at: f"New hands, {number(heads[at])}, practise until their training ends, on {'; '.join(words)}. "
        "None of these plants is sold."
        for at, words in parts.items()
    }


def sown_to_practise(scenario: Scenario, plan: Plan) -> list[dict[str, Any]]:
    """A row for each sowing of trays that new hands practise on, in the order of their days."""
    read = PlanReading(scenario, plan.tables)
    rows: list[dict[str, Any]] = []
    for row, trays, hands, training, day, bench, _ in read.practised():
        if row.format is None:
            continue
        lot = read.seed_lots[row.item]
        rows.append(
            {
                "sow_day": day,
                "lot": lot.lot,
                "variety": lot.variety,
                "format": row.format,
                "trays": trays,
                "seeds": trays * read.cells[row.format] * lot.seeds_per_cell,
                "bench_day": bench,
                "crew": row.crew,
                "hands": hands,
                "training": training,
            }
        )
    return sorted(rows, key=lambda row: (row["sow_day"], row["lot"], row["format"], row["crew"]))
