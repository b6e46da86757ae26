"""Bad margins: each changes little in the small valid scenario and has one fault."""

from __future__ import annotations

from tests.bad_input.changes import Case, cell, rows

PRICED = (("nursery", 2, "margin_policy", "priced"), ("nursery", 2, "plant_cost", 1.2))
LEVEL = ("nursery", 2, "sowing_policy", "level")

MARGINS = [
    cell("graft days beyond margins", "methods", 2, "take_correlation", 0.9, "vary so much", "lower it"),
    Case(
        "seed lot beyond margins",
        rows(LEVEL, ("seed_lots", 2, "germination_correlation", 0.9)),
        "seed_lots",
        2,
        "germination_correlation",
        "0.9",
        "10 times the cells",
        "a sowing_margin",
    ),
    Case(
        "priced for no cost",
        rows(PRICED[0]),
        "nursery",
        2,
        "plant_cost",
        "",
        "margins are priced",
        "what a plant costs",
    ),
    Case(
        "plants cheaper to miss",
        rows(*PRICED, ("orders", 3, "shortfall_penalty", 1.2)),
        "orders",
        3,
        "shortfall_penalty",
        "1.2",
        "order 'O-2' cost no more than one grown (1.2)",
        "more than plant_cost",
    ),
    Case(
        "every plant cheaper to miss",
        rows(
            *PRICED,
            ("nursery", 2, "shortfall_penalty", 0.5),
            *(("orders", n, "shortfall_penalty", 9.0) for n in (2, 3, 4)),
        ),
        "nursery",
        2,
        "shortfall_penalty",
        "0.5",
        "order 'O-4' cost no more than one grown",
        "more than plant_cost",
    ),
    Case(
        "surplus that always pays",
        rows(*PRICED, ("products", 2, "salvage_price", 1.3), ("products", 2, "salvage_most", 50)),
        "products",
        2,
        "salvage_price",
        "1.3",
        "growing plants to sell as surplus would pay",
        "less than plant_cost",
    ),
    cell("no plant of one day", "orders", 2, "most_share_of_one_day", 0, "not above 0", "above 0"),
    cell("one day in percent", "nursery", 2, "most_share_of_one_day", 40, "a part of 1", "0.4"),
    cell("no plant of one lot", "orders", 2, "most_share_of_one_lot", 0, "not above 0", "above 0"),
    cell("one unit in percent", "nursery", 2, "most_share_of_one_unit", 50, "a part of 1", "0.5"),
    cell("negative margin", "orders", 2, "graft_margin", -0.1, "negative", "from 0 to 9"),
    cell("margin in percent", "seed_lots", 2, "sowing_margin", 12, "a share is a part of 1", "write 0.12"),
]
