"""Bad rows of what new hands practise on, in the small valid scenario."""

from __future__ import annotations

from typing import Any

from tests.bad_input.changes import Case, added, both, one_more, rows

SOWN = {"crew": "Grafters", "item": "Stout 26A", "format": "72", "quantity": 2, "days_before": 20}
"""A row that is right, where new hands are trained."""

TRAINED = rows(("crews", 2, "temp_heads_most", 3), ("crews", 2, "temp_training_days", 2))


def practice(name: str, column: str, value: Any, wrong: str, remedy: str, **cells: Any) -> Case:
    """A case of one row, wrong in one cell, of a crew whose new hands are trained."""
    case = one_more("practice", 2, SOWN, name, column, value, wrong, remedy, **cells)
    return Case(name, both(TRAINED, case.change), *case_place(case))


def case_place(case: Case) -> tuple[Any, ...]:
    """Where the fault of a case is, and its words."""
    return case.table, case.row, case.column, case.value, case.wrong, case.remedy


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
    Case(
        "practice of hands who are not trained",
        both(rows(("crews", 2, "temp_heads_most", 3)), added("practice", **SOWN)),
        "practice",
        2,
        "crew",
        "Grafters",
        "not trained",
        "temp_training_days",
    ),
    Case(
        "practice where nobody new comes",
        added("practice", **SOWN),
        "practice",
        2,
        "crew",
        "Grafters",
        "no temporary hands",
        "temp_heads_most",
    ),
]
