"""Bad rows of runs, and orders that cannot leave with theirs, in the small valid scenario."""

from __future__ import annotations

from datetime import date
from functools import partial

from tests.bad_input.changes import Case, Change, added, both, one_more, rows

COAST = {"run": "coast", "weekdays": "Tue;Fri", "fixed_cost": 40, "cost_per_tray": 0.5, "trays": 96}
"""A row that is right."""

run = partial(one_more, "runs", 3, COAST)
"""A case of one run, wrong in one cell."""


def coast(**cells: object) -> Change:
    """The customer of all orders has the run, with these cells."""
    return both(added("runs", **(COAST | cells)), rows(("customers", 2, "run", "coast")))


RUNS = [
    run("run without weekdays", "weekdays", None, "is blank", "Mon"),
    run("run on a day that is none", "weekdays", "Tue;Frog", "Frog", "Fri"),
    run("run that carries nothing", "trays", 0, "is below", "from 1"),
    run("run with parts of a tray", "trays", 1.5, "whole number", "whole number"),
    run("run that costs less than nothing", "fixed_cost", -1, "is negative", "from 0"),
    run("run without vehicles", "vehicles_most", 0, "is below", "from 1"),
    run(
        "run that ends before it begins",
        "to_day",
        "2027-04-01",
        "is before from_day (2027-05-01)",
        "2027-05-01 on",
        from_day="2027-05-01",
    ),
    Case(
        "run of a customer misspelt",
        both(added("runs", **COAST), rows(("customers", 2, "run", "caost"))),
        "customers",
        2,
        "run",
        "caost",
        "is not in table runs",
        "'coast'",
    ),
    Case(
        "order due before its run begins",
        coast(from_day="2027-04-13"),
        "orders",
        4,
        "due_day",
        "2027-04-09",
        "no day on which run 'coast' leaves in the week up to it",
        "write 2027-04-13 or later, or give the run other days",
    ),
    Case(
        "order due long after its run ends",
        coast(to_day=date(2027, 5, 7)),
        "orders",
        5,
        "due_day",
        "2027-05-14",
        "no day on which run 'coast' leaves in the week up to it",
        "give the run other days",
    ),
]
