"""Groups of plants that are kept apart.

Seedlings and plants belong to the groups of their seed lots, of both lots once they are joined, and to their
crop. To a customer belong the plants of the customer's orders, from the graft day on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from model.scenario.choices import GroupBy, Shared
from model.scenario.schema import NOTE, days, ref


@dataclass(frozen=True, slots=True)
class Apart:
    """What the plants of two groups may not share. Local law on plant health says which must."""

    by: Annotated[GroupBy, "What the first group is: a seed lot, a crop, a customer, or a state of health."]
    group: Annotated[str, "Name of the lot, crop or customer, or the state of health in table seed_lots."]
    other_by: Annotated[GroupBy, "What the second group is."]
    other: Annotated[str, "Name of the second group."]
    share: Annotated[
        Shared,
        "What they may not share. zone: a zone on one day. unit: a unit of a zone that is run in units. "
        "graft day: the grafting table on one day.",
    ]
    zone: Annotated[
        str | None,
        "Zone that they may not share, or in which they may not share a unit; blank: any zone. Blank for a "
        "graft day.",
        ref(("zones", "zone")),
    ] = None
    cleaning_days: Annotated[
        int,
        "Days of cleaning between them: from the day on which the last plants of one group leave, the zone "
        "or the table rests so many days before the other comes. 0 for a unit, which is emptied whole.",
        days(high=60),
    ] = 0
    note: Annotated[str | None, NOTE] = None
