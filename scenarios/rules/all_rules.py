"""The rules between cells, rows and tables, in the order in which they run.

A rule runs on the rows in which the cells it needs are sound. Later rules skip faulted cells, so that each
mistake is reported once.
"""

from __future__ import annotations

from scenarios.cells.draft import Draft, Rule
from scenarios.cells.faults import Fault
from scenarios.rules.apart_rows import APART
from scenarios.rules.crops import GROWING
from scenarios.rules.hands.pace_rows import PACE
from scenarios.rules.hands.practice_rows import PRACTICE
from scenarios.rules.hands.role_rows import ROLES
from scenarios.rules.margin_settings import MARGINS
from scenarios.rules.mishap_rows import MISHAPS
from scenarios.rules.names import NAMES
from scenarios.rules.nursery import NURSERY
from scenarios.rules.other_ways import OTHER_WAYS
from scenarios.rules.own_task_rows import OWN_TASKS
from scenarios.rules.past.past_events import PAST
from scenarios.rules.past.plants_stood import PLANTS_ON_HAND
from scenarios.rules.past.progress_rows import ON_HAND, PROGRESS_ROWS
from scenarios.rules.sold.inquiry_rows import INQUIRIES
from scenarios.rules.sold.run_rows import RUN_ROWS
from scenarios.rules.timing import TIMING
from scenarios.rules.zone_rows import ZONES

RULES: tuple[Rule, ...] = (
    NAMES
    + ROLES
    + NURSERY
    + GROWING
    + OTHER_WAYS
    + INQUIRIES
    + ZONES
    + APART
    + OWN_TASKS
    + PRACTICE
    + PACE
    + MISHAPS
    + MARGINS
    + ON_HAND
    + PLANTS_ON_HAND
    + RUN_ROWS
    + TIMING
    + PROGRESS_ROWS
    + PAST
)


def check(draft: Draft) -> list[Fault]:
    """The faults of all rules."""
    return [fault for rule in RULES for fault in rule.faults(draft)]
