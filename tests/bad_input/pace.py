"""Bad rows of the pace of temporary hands by week, in the small valid scenario."""

from __future__ import annotations

from functools import partial

from tests.bad_input.changes import Case, one_more, rows

NEXT = {"crew": "Grafters", "week": 2, "share": 0.8}
"""A row that is right."""

pace = partial(one_more, "pace_by_week", 3, NEXT)
"""A case of one row, wrong in one cell."""

PACE = [
    pace("pace of no crew", "crew", "Grafter", "is not in table crews", "'Grafters'"),
    pace("pace of nobody", "crew", None, "is blank", "write"),
    pace("pace of a week left out", "week", 3, "has no week 2", "add a row"),
    pace("pace of the week before", "week", 0, "below 1", "from 1"),
    pace("pace of half a week", "week", 1.5, "whole number", "whole number"),
    pace(
        "pace of a week told twice",
        "crew",
        "Grafters",
        "is already in row 2",
        "keep one row",
        week=1,
        shown="Grafters, 1",
    ),
    pace("pace above the full one", "share", 1.2, "above 1", "to 1"),
    pace("pace of hands that stand still", "share", 0, "below 0.05", "from 0.05"),
    pace("pace in words", "share", "slow", "number", "number"),
    pace("pace that falls", "share", 0.5, "below that of the week before (0.6)", "at least as much"),
    Case(
        "pace of hands called by the day",
        rows(("crews", 2, "temp_days_least", 2)),
        "pace_by_week",
        2,
        "crew",
        "Grafters",
        "by the day",
        "clear the row",
    ),
]
