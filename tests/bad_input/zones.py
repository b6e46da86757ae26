"""Bad rows of zones to choose from, in the small valid scenario."""

from __future__ import annotations

from functools import partial

from tests.bad_input.changes import Case, added, both, one_more, rows
from tests.bad_input.small import Tables

SPLICE = {"method": "tomato splice", "stage": "hard", "zone": "Bench"}
"""A row that is right: plants harden on the bench too."""


further = partial(one_more, "stage_zones", 3, SPLICE)
"""A case of one further zone, wrong in one cell."""


waiting = partial(further, stage="holding")
"""A case of one further zone to wait in, wrong in one cell."""


MATS = {"lot": "Stout 26A", "zone": "Bench"}
"""A row that is right: trays may germinate on the bench."""


SHELVES = {"zone": "Shelves", "use": "bench", "mode": "units", "units": 2, "unit_slots": 20, "load_days": 1}
"""A bench that is loaded and emptied as a whole."""


germinates = partial(one_more, "germination_zones", 3, MATS)
"""A case of one further zone to germinate in, wrong in one cell."""


def many_tunnels(tables: Tables) -> None:
    """Five tunnels for one stage and five others for the next: 6 · 6 ways."""
    for stage in ("dark", "ramp"):
        for n in range(5):
            zone = f"Tunnel {n} for {stage}"
            added("zones", zone=zone, use="healing", slots=40)(tables)
            added("stage_zones", method="root cut", stage=stage, zone=zone)(tables)


ZONES = [
    further(
        "further zone of no method", "method", "tomato splic", "is not in table methods", "'tomato splice'"
    ),
    further("further zone of a stage misspelt", "stage", "hrd", "is no stage of method", "'hard'"),
    further(
        "further zone of another method's stage", "stage", "grow", "no stage of method", "dark, hard, ramp"
    ),
    further("further zone in germination", "stage", "germination", "germination_zones", "dark, hard, ramp"),
    waiting("zone to wait in that heals", "zone", "Chamber", "serve for holding", "bench or finishing"),
    waiting("zone to wait in that is the method's own", "zone", "House", "holding zone already", "delete"),
    waiting("days of waiting", "days", 2, "plants wait until they leave", "clear it"),
    waiting("take while waiting", "take", 0.9, "counted when healing ends", "clear it"),
    Case(
        "a stage named as waiting is",
        both(
            added(
                "stages",
                method="tomato splice",
                step=4,
                stage="holding",
                part="finishing",
                zone="House",
                days=1,
            ),
            added("stage_zones", **SPLICE | {"stage": "holding"}),
        ),
        "stage_zones",
        3,
        "stage",
        "holding",
        "also the name of a stage",
        "another name",
    ),
    germinates(
        "zone to germinate in of no lot", "lot", "Stot 26A", "is not in table seed_lots", "'Stout 26A'"
    ),
    germinates("place to germinate that heals", "zone", "Chamber", "for germination", "bench or germination"),
    germinates("place that is the lot's own", "zone", "Warm room", "already", "delete the row"),
    germinates("place that is not there", "zone", "Banch", "is not in table zones", "'Bench'"),
    germinates("no days of germination", "days", 0, "below 1", "from 1"),
    germinates("days of germination in parts", "days", 1.5, "whole number", "whole number"),
    germinates("care in germination below nothing", "care", -1, "is negative", "from 0 to 100"),
    germinates("cost in germination below nothing", "cost_per_tray", -0.5, "is negative", "from 0"),
    Case(
        "zone to germinate in told twice",
        both(added("germination_zones", **MATS), added("germination_zones", **MATS, days=3)),
        "germination_zones",
        4,
        "lot",
        "Stout 26A, Bench",
        "already in row 3",
        "keep one row",
    ),
    Case(
        "zone to germinate in for a lot that is on the bench at once",
        both(added("germination_zones", **MATS), rows(("seed_lots", 3, "germination_days", 0))),
        "germination_zones",
        3,
        "lot",
        "Stout 26A",
        "has no germination_days",
        "give the lot germination_days",
    ),
    *(
        Case(
            f"zone run in units, of table {table}",
            both(added("zones", **SHELVES), change),
            table,
            3,
            column,
            "Shelves",
            "is run in units",
            "mode is pool",
        )
        for table, column, change in (
            ("germination_zones", "zone", added("germination_zones", lot="Stout 26A", zone="Shelves")),
            ("seed_lots", "bench_zone", rows(("seed_lots", 3, "bench_zone", "Shelves"))),
            ("methods", "holding_zone", rows(("methods", 3, "holding_zone", "Shelves"))),
            ("stage_zones", "zone", added("stage_zones", **SPLICE | {"stage": "holding", "zone": "Shelves"})),
        )
    ),
    further("further zone that is not there", "zone", "Benh", "is not in table zones", "'Bench'"),
    further("further zone for germination", "zone", "Warm room", "a zone for germ", "bench or finishing"),
    further(
        "further zone to heal on a bench",
        "zone",
        "Bench",
        "cannot serve for healing",
        "is healing",
        stage="dark",
    ),
    further("further zone that is the stage's own", "zone", "House", "own zone already", "delete the row"),
    further("take of a finishing stage", "take", 0.9, "when healing ends", "stage of healing"),
    further("take above 1", "take", 90, "part of 1", "write 0.9"),
    further("care of less than nothing", "care", -1, "is negative", "from 0 to 100"),
    further("cost of less than nothing", "cost_per_tray", -0.5, "is negative", "from 0"),
    further("days in parts", "days", 2.5, "whole number", "whole number"),
    Case(
        "further zone told twice",
        both(added("stage_zones", **SPLICE), added("stage_zones", **SPLICE, days=3)),
        "stage_zones",
        4,
        "method",
        "tomato splice, hard, Bench",
        "already in row 3",
        "keep one row",
    ),
    Case(
        "take of an own-root method's zone",
        added("stage_zones", method="own root", stage="grow", zone="Bench", take=0.9),
        "stage_zones",
        3,
        "take",
        "0.9",
        "when healing ends",
        "clear it",
    ),
    Case(
        "more ways through the zones than can be planned",
        many_tunnels,
        "stage_zones",
        3,
        "method",
        "root cut",
        "more than 24 ways",
        "name fewer zones",
    ),
]
