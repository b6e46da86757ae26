"""The rules between cells, rows and tables, in the order in which they run.

A rule runs on all rows whose cells it needs are good. A cell that a rule faults counts as bad for the
rules after it where its fault would only be told a second time.
"""

from __future__ import annotations

from scenarios.draft import Draft, Rule
from scenarios.faults import Fault
from scenarios.rules_growing import GROWING
from scenarios.rules_margins import MARGINS
from scenarios.rules_names import NAMES
from scenarios.rules_nursery import NURSERY
from scenarios.rules_past import PAST
from scenarios.rules_progress import PROGRESS_ROWS
from scenarios.rules_timing import TIMING

RULES: tuple[Rule, ...] = NAMES + NURSERY + GROWING + MARGINS + TIMING + PROGRESS_ROWS + PAST


def check(draft: Draft) -> list[Fault]:
    """The faults of all rules."""
    return [fault for rule in RULES for fault in rule.faults(draft)]
