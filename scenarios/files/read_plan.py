"""The last plan, read back from the tables that were written with it."""

from __future__ import annotations

import csv
from datetime import date
from math import isfinite
from pathlib import Path
from typing import Any

import pandas as pd

from model.planned.plan_tables import PLAN_TABLES, frame
from model.proof.plan_rows import BLANK, DAYS, TEXTS
from model.season.last_plan import Tables
from scenarios.cells.faults import BadInput, Fault
from scenarios.cells.parse import uncover

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
    heading, columns = lines[0] if lines else [], list(PLAN_TABLES[name])
    missing = [column for column in columns if column not in heading]
    if missing:
        faults += [Fault(name, 1, column, "", "is missing", AGAIN) for column in missing]
        return frame(name, [])
    rows = []
    for number, line in enumerate(lines[1:], 2):
        cells = dict(zip(heading, line, strict=False))
        rows.append(tuple(_cell(name, number, column, cells.get(column, ""), faults) for column in columns))
    return frame(name, rows)


def _cell(table: str, row: int, column: str, text: str, faults: list[Fault]) -> Any:
    if text == "" and (table, column) in BLANK:
        return None
    if column in TEXTS:
        return uncover(text)
    try:
        if column in DAYS:
            return date.fromisoformat(text)
        number = float(text)
        if isfinite(number):
            return number
    except ValueError:
        pass
    what = "day" if column in DAYS else "number"
    faults.append(Fault(table, row, column, text, f"is no {what}", AGAIN))
    return None
