"""Rules of the pace of temporary hands by week: every week from the first, never falling."""

from __future__ import annotations

from collections.abc import Iterator

from scenarios.cells.draft import Draft, Rule
from scenarios.cells.faults import Fault


def _weeks(draft: Draft) -> Iterator[Fault]:
    """The weeks of a crew run from 1 without a gap, and no share is below that of the week before."""
    for crew, rows in draft.grouped("pace_by_week", "crew", "week", "share").items():
        before = None
        for n, row in enumerate(sorted(rows, key=lambda row: int(row["week"])), start=1):
            if row["week"] > n and draft.sure("pace_by_week", "crew", "week"):
                yield row.fault("week", f"has no week {n} of '{crew}' before it", f"add a row for week {n}")
                break
            if before is not None and row["share"] < before["share"]:
                wrong = f"is below that of the week before ({before['share']:g})"
                yield row.fault("share", wrong, "write at least as much: who has learned stays as fast")
            before = row


def _crews(draft: Draft) -> Iterator[Fault]:
    """Hands that are called by the day, and machines, have one pace."""
    rows = draft.rows("pace_by_week", "crew")
    for row, crew in draft.targets(rows, "crew", "temp_days_least", "attendants"):
        if crew["temp_days_least"] is not None:
            wrong = "calls its temporary hands by the day, so its weeks are not weeks at work"
            yield row.fault("crew", wrong, "clear the row, or temp_days_least of the crew")
        if crew["attendants"]:
            yield row.fault("crew", "is of machines, which do not learn", "name a crew of hands")


PACE = (
    Rule("every week of pace by week has its share", _weeks),
    Rule("hands hired by the week learn", _crews),
)
