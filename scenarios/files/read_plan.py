"""The last plan, read back from the tables that were written with it."""

from __future__ import annotations

import csv
from datetime import date
from math import isfinite
from pathlib import Path
from typing import Any

import pandas as pd

from model.planned.plan_schema import DTYPES, PlanColumn
from model.planned.plan_tables import PLAN_TABLES, frame
from model.scenario.csv_text import uncover
from model.scenario.schema import Type
from model.season.last_plan import Tables
from scenarios.cells.faults import BadInput, Fault

NEEDED = (
    "waves",
    "joins",
    "deliveries",
    "orders",
    "unit_batches",
    "temporary",
    "purchases",
    "buy_in",
    "costs",
)
"""The tables that tell what the last plan was going to do."""

AGAIN = "name the folder that 'graftwright plan' or 'graftwright replan' has written, as it was written"


def read_last(folder: Path) -> Tables:
    """Tables of the plan in ``folder``, or in its folder ``tables``.

    Raises BadInput with every fault: a table missing, a column missing, a cell that is no day or number.
    """
    place = folder / "tables" if (folder / "tables").is_dir() else folder
    faults: list[Fault] = []
    tables = {name: _read(place / f"{name}.csv", name, faults) for name in NEEDED}
    if faults:
        raise BadInput(faults)
    return tables


def _read(path: Path, name: str, faults: list[Fault]) -> pd.DataFrame:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            lines = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        faults.append(Fault(name, None, "", str(path), f"cannot be read: {error}", AGAIN))
        return frame(name, [])
    heading, columns = lines[0] if lines else [], PLAN_TABLES[name].columns
    missing = [column.name for column in columns if column.name not in heading]
    found = [Fault(name, 1, column, "", "is missing", AGAIN) for column in missing]
    rows = []
    for number, line in enumerate(lines[1:] if not missing else [], 2):
        cells = dict(zip(heading, line, strict=False))
        rows.append({c.name: _cell(name, number, c, cells.get(c.name, ""), found) for c in columns})
    faults += found
    return frame(name, [] if found else rows)


def _cell(table: str, row: int, column: PlanColumn, text: str, faults: list[Fault]) -> Any:
    if text == "" and not column.required:
        return None
    if column.type is not Type.DATE and column.type not in DTYPES:
        return uncover(text)
    try:
        if column.type is Type.DATE:
            return date.fromisoformat(text)
        number = float(text)
        if isfinite(number) and (column.type is not Type.WHOLE or number.is_integer()):
            return number
    except ValueError:
        pass
    what = "day" if column.type is Type.DATE else column.type.value
    faults.append(Fault(table, row, column.name, text, f"is no {what}", AGAIN))
    return None
