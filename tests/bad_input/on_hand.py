"""Bad rows of trays on hand, in the small valid scenario."""

from __future__ import annotations

from datetime import date
from functools import partial

from tests.bad_input.changes import Case, added, both, one_more

RIGHT = {"lot": "Stout 26A", "format": "72", "sow_day": date(2027, 2, 20), "trays": 4, "seedlings": 250}
"""A row that is right: trays sown nine days before the first day."""

SLOW = {"lot": "Slow", "variety": "Slow", "germination": 0.9, "stock": 0, "germination_days": 120} | {
    "germination_zone": "Warm room",
    "bench_zone": "Bench",
}
"""A lot that comes up after the last day."""

stood = partial(one_more, "trays_on_hand", 3, RIGHT)
"""A case of one more row of trays on hand, wrong in one cell."""

ON_HAND = [
    stood("on hand of no lot", "lot", "Stout 26B", "is not in table seed_lots", "'Stout 26A'"),
    stood("on hand in no format", "format", "27", "is not in table tray_formats", "from tray_formats"),
    stood("on hand without a lot", "lot", None, "is blank", "from table seed_lots"),
    stood("on hand without a day", "sow_day", None, "is blank", "write a date"),
    stood("on hand sown on no day", "sow_day", "20 days", "is not a date", "with year, month, day"),
    stood(
        "on hand sown on the first day", "sow_day", date(2027, 3, 1), "is not before first_day", "as 'sown'"
    ),
    stood("on hand sown two years ago", "sow_day", date(2025, 2, 20), "more than 366 days", "remove the row"),
    stood("no trays on hand", "trays", 0, "is below", "1"),
    stood("trays on hand in parts", "trays", 2.5, "whole number", "whole number"),
    stood("fewer than no trays on hand", "trays", -3, "is", "1"),
    stood("more seedlings than cells", "seedlings", 300, "more than the 288 cells", "at most 288"),
    stood("seedlings counted as a share", "seedlings", 60.5, "whole number", "whole number"),
    stood("none of the seedlings came up", "seedlings", 0, "is below", "1"),
    Case(
        "on hand and never on the bench",
        both(added("seed_lots", **SLOW), added("trays_on_hand", **RIGHT | {"lot": "Slow"})),
        "trays_on_hand",
        3,
        "sow_day",
        "2027-02-20",
        "to the bench after last_day",
        "a later last_day",
    ),
    Case(
        "on hand told twice",
        both(added("trays_on_hand", **RIGHT), added("trays_on_hand", **RIGHT | {"trays": 5})),
        "trays_on_hand",
        4,
        "lot",
        "Stout 26A, 72, 2027-02-20",
        "already in row 3",
        "keep one row",
    ),
]

PLANTS = {
    "product": "Red on Stout",
    "graft_day": date(2027, 2, 20),
    "plants": 300,
    "lot": "Red 26A",
    "sow_day": date(2027, 2, 2),
    "rootstock_lot": "Stout 26A",
    "rootstock_sow_day": date(2027, 1, 30),
}
"""A row that is right: grafted nine days before the first day, healed after seven."""

planted = partial(one_more, "plants_on_hand", 2, PLANTS)
"""A case of one row of plants on hand, wrong in one cell."""

ON_HAND += [
    planted("plants of no product", "product", "Red on Stone", "is not in table products", "Red on Stout"),
    planted("plants without a graft day", "graft_day", None, "is blank", "write a date"),
    planted(
        "plants of the first day", "graft_day", date(2027, 3, 1), "is not before first_day", "as 'grafted'"
    ),
    planted("plants of last year", "graft_day", date(2026, 2, 1), "more than 366 days", "remove the row"),
    planted("plants that still heal", "graft_day", date(2027, 2, 26), "heal until 2027-03-05", "an earlier"),
    planted("no plants", "plants", 0, "is below", "1"),
    planted("plants in parts", "plants", 2.5, "whole number", "whole number"),
    planted("plants of no lot", "lot", "Red 26B", "is not in table seed_lots", "'Red 26A'"),
    planted("plants of another variety", "lot", "Green 26A", "not the scion of", "name a lot of 'Red'"),
    planted("scions of no day", "sow_day", None, "is blank", "write a date"),
    planted("grafted before they came up", "sow_day", date(2027, 2, 19), "come to the bench on", "were sown"),
    planted("plants without rootstocks", "rootstock_lot", None, "is blank, but", "name the seed lot"),
    planted("rootstocks of no day", "rootstock_sow_day", None, "is blank, but", "rootstocks were sown"),
    planted("scions as rootstocks", "rootstock_lot", "Red 26A", "not the rootstock of", "a lot of 'Stout'"),
    planted("plants in zones not chosen", "in_zones", "ramp in Attic", "no zones that", "clear it"),
    Case(
        "own-root plants with rootstocks",
        added("plants_on_hand", **PLANTS | {"product": "Red plain", "rootstock_sow_day": None}),
        "plants_on_hand",
        2,
        "rootstock_lot",
        "Stout 26A",
        "is own-root",
        "clear it",
    ),
    Case(
        "plants told twice",
        both(added("plants_on_hand", **PLANTS), added("plants_on_hand", **PLANTS | {"plants": 5})),
        "plants_on_hand",
        3,
        "product",
        "Red on Stout, 2027-02-20, Red 26A, 2027-02-02, Stout 26A, 2027-01-30",
        "already in row 2",
        "keep one row",
    ),
    Case(
        "seedlings left of plants on hand not counted",
        both(
            added("plants_on_hand", **PLANTS),
            added("trays_on_hand", lot="Stout 26A", format="72", sow_day=date(2027, 1, 30), trays=2),
        ),
        "trays_on_hand",
        3,
        "seedlings",
        "",
        "is blank, but seedlings of this sowing were joined (row 2)",
        "count the usable seedlings",
    ),
]
