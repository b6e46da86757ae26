"""Helpers to look into written workbooks: cells, cached values, recalculation in Python."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import formulas
import openpyxl
import pandas as pd
from openpyxl.utils.datetime import to_excel
from openpyxl.worksheet.worksheet import Worksheet

from model.planned.plan_tables import Plan
from model.proof.audit import Check
from model.questions.traced_costs import traced_parts
from model.scenario.about_cells import CellChange, Remark
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from reports.sheets.workbook import write_plan_workbook
from tests.report_scenario import CHECKS, report_scenario

MARGIN = 0.2
"""Profit margin of the workbooks under test."""

Address = tuple[str, str]
"""Sheet and cell."""


@cache
def report_traced() -> pd.DataFrame:
    """Traced costs of the plan of ``report_scenario``."""
    return traced_parts(solve(report_scenario()))


def write_report(
    path: Path,
    scenario: Scenario,
    result: Plan,
    *,
    traced: pd.DataFrame | None = None,
    checks: Sequence[Check] = CHECKS,
    remarks: Sequence[Remark] = (),
    changes: Sequence[CellChange] = (),
) -> None:
    """Write the plan's workbook; traced costs are those of ``report_scenario`` where none are given."""
    costs = report_traced() if traced is None else traced
    write_plan_workbook(scenario, result, costs, checks, remarks, path, changes, profit_margin=MARGIN)


def planned(scenario: Scenario, *, whole: bool = True) -> tuple[Plan, pd.DataFrame]:
    """The plan of a scenario and its traced costs."""
    solved = solve(scenario, whole=whole)
    return plan_of(solved), traced_parts(solved)


def formula_cells(path: Path) -> dict[Address, Any]:
    """The cached value of every cell that holds a formula; a day as the number that a workbook holds."""
    texts, values = openpyxl.load_workbook(path), openpyxl.load_workbook(path, data_only=True)
    return {
        (sheet.title, cell.coordinate): held(values[sheet.title][cell.coordinate].value)
        for sheet in texts
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }


def held(value: Any) -> Any:
    """A value as a workbook holds it: a day as a number."""
    return to_excel(value) if isinstance(value, datetime) else value


def recalculated(path: Path) -> Callable[[str, str], float]:
    """A function that gives a cell's value after every formula has been calculated again."""
    solution = formulas.ExcelModel().loads(str(path)).finish().calculate()
    by_upper = {str(key).upper(): value for key, value in solution.items()}

    def value(sheet: str, cell: str) -> float:
        found = by_upper[f"'[{path.name}]{sheet}'!{cell}".upper()]
        return float(found.value[0, 0])

    return value


def table(sheet: Worksheet, heading: str) -> list[dict[str, Any]]:
    """Rows under the heading row that starts with ``heading``, by heading, up to the first blank row."""
    start = next(cell.row for (cell,) in sheet.iter_rows(max_col=1) if cell.value == heading)
    headings = [cell.value for cell in sheet[start] if cell.value is not None]
    rows = []
    for row in sheet.iter_rows(min_row=start + 1, max_col=len(headings), values_only=True):
        if all(value is None for value in row):
            break
        rows.append({name: _plain(value) for name, value in zip(headings, row, strict=True)})
    return rows


def find(sheet: Worksheet, text: str) -> tuple[int, int]:
    """Row and column of the first cell that holds the text."""
    return next((cell.row, cell.column) for row in sheet.iter_rows() for cell in row if cell.value == text)


def _plain(value: Any) -> Any:
    return value.date() if isinstance(value, datetime) else value
