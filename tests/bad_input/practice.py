"""Bad rows of what new hands practise on, in the small valid scenario."""

from __future__ import annotations

from functools import partial

from tests.bad_input.changes import one_more

SOWN = {"crew": "Grafters", "item": "Stout 26A", "format": "72", "quantity": 2, "days_before": 20}
"""A row that is right."""

practice = partial(one_more, "practice", 3, SOWN)
"""A case of one row, wrong in one cell."""

PRACTICE = [
    practice("practice of no crew", "crew", "Grafter", "is not in table crews", "'Grafters'"),
    practice("practice on nothing", "item", None, "blank", "write"),
    practice("practice on seed misspelt", "item", "Stout 26", "seed_lots or table supplies", "'Stout 26A'"),
    practice("practice on trays of no format", "format", None, "is blank although a lot", "name the tray"),
    practice("practice in an unknown format", "format", "73", "is not in table tray_formats", "write a name"),
    practice("practice on no trays", "quantity", 0, "nothing is used", "write a quantity"),
    practice("practice on less than no trays", "quantity", -2, "is negative", "from 0"),
    practice("practice in words", "quantity", "some", "number", "number"),
    practice("practice on seed not come up", "days_before", 1, "germinates", "the age"),
    practice("practice sown afterwards", "days_before", -3, "is negative", "from 0"),
    practice("practice on clips in a format", "format", "72", "is a supply", "clear it", item="Clips"),
]
