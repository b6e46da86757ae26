"""Bad rows of bays, in the small valid scenario."""

from __future__ import annotations

from datetime import date
from functools import partial

from tests.bad_input.changes import Case, added, both, one_more

BENCH = {"zone": "Bench", "from_day": date(2027, 1, 1), "slots_per_bay": 10, "cost_per_bay_week": 50}
"""A row that is right: the first one of a zone."""

bay = partial(one_more, "bays", 3, BENCH)
"""A case of one row, wrong in one cell."""

BAYS = [
    bay("bays of no zone", "zone", "Benh", "is not in table zones", "'Bench'"),
    bay("bays of units", "zone", "Chamber", "opened whole already", "name a pool"),
    bay("bays from no day", "from_day", None, "blank", "write"),
    bay("bays without slots", "slots_per_bay", 0, "is not above 0", "above 0"),
    bay("a bay of less than no slots", "slots_per_bay", -4, "is negative", "above 0"),
    bay("a bay larger than its zone", "slots_per_bay", 1_000_000, "slots of 'Bench'", "write at most"),
    bay("a bay that costs less than nothing", "cost_per_bay_week", -1, "is negative", "from 0"),
    bay("a cost in words", "cost_per_bay_week", "dear", "is text where a number belongs", "write a number"),
    bay("a first row without slots", "slots_per_bay", None, "first row of 'Bench'", "first day"),
    bay("a first row without a cost", "cost_per_bay_week", None, "first row of 'Bench'", "first day"),
    bay("bays from a late day", "from_day", date(2027, 3, 2), "without bays from", "or an earlier day"),
    Case(
        "bays without a new figure",
        both(
            added("bays", **BENCH),
            added("bays", zone="Bench", from_day=date(2027, 3, 8)),
        ),
        "bays",
        4,
        "zone",
        "Bench",
        "has no new figure",
        "slots_per_bay or cost_per_bay_week",
    ),
    Case(
        "bays of one day told twice",
        both(added("bays", **BENCH), added("bays", **BENCH | {"slots_per_bay": 5})),
        "bays",
        4,
        "zone",
        "Bench, 2027-01-01",
        "already in row 3",
        "keep one row",
    ),
]
