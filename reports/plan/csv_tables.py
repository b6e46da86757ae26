"""The plan's tables as CSV files, for other programs.

UTF-8, comma, decimal point, ISO 8601 dates, full precision; the columns are those of
``model.planned.plan_tables``, listed in docs/plan_tables.md. A text that a spreadsheet would take for a
formula gets an apostrophe before it, as in a scenario's files. A text that has apostrophes before such a
start gets one more, so that a reader can restore it.
"""

from __future__ import annotations

import csv
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from model.csv_text import cover
from model.planned.plan_tables import FACTS, PLAN_TABLES, Plan


def write_plan_tables(plan: Plan, folder: Path) -> None:
    """Write each table of the plan, and its facts, to ``folder``, which is made if it is missing.

    Raises OSError where a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for table in (*PLAN_TABLES.values(), FACTS):
        rows = plan.facts.table() if table is FACTS else plan.table(table.name)
        with (folder / f"{table.name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(table.names)
            columns = ([_field(value) for value in rows[name].tolist()] for name in table.names)
            writer.writerows(zip(*columns, strict=True))


def _field(value: Any) -> str:
    if type(value) is float:
        return repr(value).removesuffix(".0")
    if value is None:
        return ""
    if isinstance(value, str):
        return _covered(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return value.isoformat()
    return repr(value).removesuffix(".0")


_covered = lru_cache(100_000)(cover)
