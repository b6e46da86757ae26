"""The jobs in which two plans differ, as columns and rows of a table."""

from __future__ import annotations

import pandas as pd

from model.planned.plan_tables import rows_of
from model.scenario.entities import Scenario
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.retold import retelling
from reports.book.style import CellKind


def job_columns(before: str, after: str) -> list[SheetColumn]:
    """Columns of the table; ``before`` and ``after``: headings of the two plans."""
    return [
        SheetColumn("day", "Day", CellKind.DAY),
        SheetColumn("what", "Job"),
        SheetColumn("name", "What"),
        SheetColumn("detail", "Detail", widest=60),
        SheetColumn("before", before, CellKind.DECIMAL),
        SheetColumn("after", after, CellKind.DECIMAL),
        SheetColumn("change", "Change", CellKind.DECIMAL),
        SheetColumn("unit", "Unit"),
    ]


def job_rows(scenario: Scenario, changed: pd.DataFrame) -> list[list[Cell]]:
    """A row for each job that differs, by day; days in its details are told as the locale writes them."""
    retell = retelling(scenario)
    return [
        [day, what, name, retell(detail), before, after, Formula("={after}-{before}", after - before), unit]
        for day, what, name, detail, unit, before, after in rows_of(changed, *changed.columns)
    ]
