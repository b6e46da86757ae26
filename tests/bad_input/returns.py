"""Bad cells of supplies that come back, open cuts, least batches and misting, in the small valid scenario."""

from __future__ import annotations

from functools import partial

from tests.bad_input.changes import Case, cell, rows

clips = partial(cell, table="supplies", row=2)
"""A case of one cell of the clips."""

RETURNS = [
    cell("no cut open at a time", "methods", 2, "open_cuts_most", 0, "is below 1", "from 1"),
    cell("half a cut open", "methods", 2, "open_cuts_most", 2.5, "whole", "whole"),
    cell("open cuts of own-root plants", "methods", 5, "open_cuts_most", 5, "not grafted", "clear it"),
    cell("a batch of nothing", "methods", 2, "least_batch", 0, "is below 1", "from 1"),
    cell("a batch of fewer than none", "methods", 2, "least_batch", -72, "is negative", "from 1"),
    cell("a batch and a half", "methods", 2, "least_batch", 72.5, "whole", "whole"),
    cell("a batch in words", "methods", 2, "least_batch", "a tray", "number", "whole number"),
    cell("a batch of own-root plants", "methods", 5, "least_batch", 72, "not grafted", "clear it"),
    cell("misted less than never", "stages", 2, "mistings", -1, "is negative", "from 0"),
    cell("misted often", "stages", 2, "mistings", "often", "number", "whole number"),
    clips("more come back than were used", column="return_share", value=1.2, wrong="part of 1", remedy="1"),
    clips("fewer than none come back", column="return_share", value=-0.1, wrong="negative", remedy="from 0"),
    clips(
        "a share in words", column="return_share", value="most", wrong="number belongs", remedy="from 0 to 1"
    ),
    clips("come back at once", column="return_days", value=0, wrong="is 0 although", remedy="days from use"),
    clips("come back half a day later", column="return_days", value=2.5, wrong="whole", remedy="whole"),
    clips("come back before", column="return_days", value=-3, wrong="negative", remedy="from 0"),
    clips("washed in no time", column="wash_seconds", value=-1, wrong="negative", remedy="from 0"),
    clips("washed by nobody", column="wash_skill", value=None, wrong="is blank although", remedy="a skill"),
    clips("washed by no crew", column="wash_skill", value="genral", wrong="no crew has", remedy="'general'"),
    clips("washed but none back", column="return_share", value=0, wrong="is 0 although", remedy="0 seconds"),
    Case(
        "clips that come back and are used by the hour",
        rows(("crews", 2, "supply", "Clips"), ("crews", 2, "supply_per_hour", 3)),
        "crews",
        2,
        "supply",
        "Clips",
        "by the hour does not",
        "a row of its own",
    ),
]
