"""Bad rows of groups kept apart, in the small valid scenario."""

from __future__ import annotations

from functools import partial

from tests.bad_input.changes import Case, added, both, cell, one_more

LOTS = {
    "by": "seed lot",
    "group": "Red 26A",
    "other_by": "health",
    "other": "untested",
    "share": "zone",
    "zone": "Bench",
}
"""A row that is right: no lot is untested yet."""

kept = partial(one_more, "apart", 3, LOTS)
"""A case of one row, wrong in one cell."""

of_itself = partial(kept, other_by="seed lot")
of_a_crop = partial(kept, other_by="crop")
of_a_customer = partial(kept, other_by="customer")


def twice(name: str, other: dict[str, str], column: str, value: str, wrong: str) -> Case:
    """A case of the row and another one that says the same."""
    change = both(added("apart", **LOTS), added("apart", **other))
    return Case(name, change, "apart", 4, column, value, wrong, "keep one")


APART = [
    kept("group of no kind", "by", "lot", "is not one of", "seed lot"),
    kept("kept apart from a lot that is not there", "group", "Red 26B", "is no seed lot", "'Red 26A'"),
    of_a_crop("kept apart from no crop", "other", "tomatoe", "is no crop", "'tomato'"),
    of_a_customer("kept apart from no customer", "other", "Nobody", "is no customer", "table orders"),
    kept("kept apart from no state of health", "other", "testd", "is no state of health", "'tested'"),
    of_itself("kept apart from itself", "other", "Red 26A", "the group itself", "another group"),
    kept("may not share a house", "share", "house", "is not one of", "zone"),
    kept("kept apart in a zone that is not there", "zone", "Benh", "is not in table zones", "'Bench'"),
    kept("a graft day in a zone", "zone", "Bench", "does not belong here", "clear it", share="graft day"),
    kept("a unit of a pool", "zone", "Bench", "has no units", "a zone in units", share="unit"),
    kept(
        "cleaning of a unit", "cleaning_days", 2, "is emptied whole", "write 0", share="unit", zone="Chamber"
    ),
    kept("cleaning of less than nothing", "cleaning_days", -1, "is negative", "from 0 to 60"),
    kept("cleaning in parts of a day", "cleaning_days", 1.5, "whole number", "whole number"),
    of_a_crop("a lot kept apart from its crop", "other", "tomato", "has seed lot 'Red 26A'", "in common"),
    twice(
        "kept apart twice",
        LOTS,
        "by",
        "seed lot, Red 26A, health, untested, zone, Bench",
        "already in row 3",
    ),
    twice(
        "kept apart both ways",
        LOTS | {"by": "health", "group": "untested", "other_by": "seed lot", "other": "Red 26A"},
        "other",
        "Red 26A",
        "already",
    ),
    cell("health of no kind", "seed_lots", 2, "health", "ill", "is not one of", "untested"),
    cell("a country in words", "nursery", 2, "country_of_origin", "Spain", "no code of two", "two capital"),
    cell("one lot, perhaps", "orders", 2, "one_lot", "perhaps", "is neither yes nor no", "yes or no"),
]
