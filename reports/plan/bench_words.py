"""What lies ready at the grafting table: clips, supports and other supplies of a crew's joins of a day.

Where joining is in roles, what a join uses is counted once, with the first role by name.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from math import ceil

from model.planned.job_crews import Assignment
from model.planned.plan_tables import TINY
from model.planned.tables.job_tables import Step
from model.scenario.capacity import by_use, closest, roles_of
from model.scenario.choices import Per, Task
from model.scenario.entities import Scenario
from reports.book.writing import grouped


def ready_at_the_table(scenario: Scenario, parts: Iterable[Assignment]) -> list[str]:
    """A sentence on the supplies of the joins among a crew's parts of jobs; none where they use none."""
    products = {product.product: product for product in scenario.products}
    uses = {
        supply: rows for (supply, per), rows in by_use(scenario.supply_uses).items() if per == Per.JOIN.value
    }
    units: dict[str, float] = defaultdict(float)
    roles = roles_of(scenario.labour_standards)
    for part in parts:
        if part.job.step is not Step.GRAFT:
            continue
        product = products[part.job.name]
        first = next(iter(roles(Task.GRAFT, product.method, product.final_format)), None)
        if first is None or part.job.role == (first.role or ""):
            for supply, rows in uses.items():
                row = closest(rows, product.method, product.final_format)
                joins = (part.end - part.start) * (part.job.count or 0.0)
                units[supply] += 0.0 if row is None else row.quantity * joins
    needed = [f"{grouped(ceil(number - TINY))} {supply}" for supply, number in units.items() if number > TINY]
    return [f"Ready at the table for the joins: {', '.join(needed)}."] if needed else []
