"""Sheets of what the plan rests on: assumptions with remarks, checks, facts of the run, changes."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from reports.book.changes import CHANGES, COLUMNS, NOTE, change_cells
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.writing import grouped, shown_day
from reports.plan.inputs import InputCell, inputs
from reports.plan.report import Report
from reports.study.study import run_facts

HEADING_ROWS = 1
"""Rows above the first record in a scenario's table, which the row numbers of remarks include."""


def assumptions(report: Report) -> None:
    """Every input of the scenario with unit, note and remark."""
    sheet = report.open(
        "Assumptions",
        "Assumptions and sources",
        "Every input of the scenario with its unit. The source is the note of its row in the scenario. "
        "The sheet Orders lists the orders; this sheet shows only those with a remark. Shares run from 0 "
        f"to 1. Money is in {report.currency}.",
        f"Remarks: {len(report.remarks) or 'none'}. A remark marks an input outside published or usual "
        "values. Inputs with a remark come first.",
    )
    remarks = _by_cell(report)
    rows: list[list[Cell]] = []
    plain: list[list[Cell]] = []
    sources: dict[tuple[str, int], str] = {}
    last: tuple[str, int] | None = None
    for entry in inputs(report.scenario):
        found, of = remarks.pop((entry.table, entry.number, entry.column), []), (entry.table, entry.number)
        source = sources.setdefault(of, entry.note or NO_SOURCE)
        if found:
            rows.append([*_cells(entry, report.currency), source, "; ".join(found)])
        elif entry.table != "orders":
            plain.append([*_cells(entry, report.currency), AS_ABOVE if of == last else source, None])
            last = of
    for (table, number, column), found in remarks.items():
        rows.append([table, f"row {number + HEADING_ROWS + 1}", column, None, None, None, "; ".join(found)])
    rows += [
        [remark.table, remark.name, remark.column or None, None, None, None, remark.sentence]
        for remark in report.remarks
        if remark.row is None
    ]
    rows += plain
    columns = [
        SheetColumn("table", "Table", widest=16),
        SheetColumn("row", "Row", widest=38),
        SheetColumn("column", "Input", widest=34),
        SheetColumn("value", "Value", CellKind.FIGURE, widest=30),
        SheetColumn("unit", "Unit", widest=16),
        SheetColumn("source", "Source", widest=44),
        *([SheetColumn("remark", "Remark", widest=44)] if report.remarks else []),
    ]
    sheet.table(columns, [row[: len(columns)] for row in rows])


AS_ABOVE, NO_SOURCE = "as above", "no source given"


def _cells(entry: InputCell, currency: str) -> list[Cell]:
    value = shown_day(entry.value) if isinstance(entry.value, date) else entry.value
    words = entry.table.replace("_", " "), entry.row, entry.column.replace("_", " ")
    return [*(word or None for word in words), value, entry.unit.replace("currency", currency) or None]


def _by_cell(report: Report) -> dict[tuple[str, int, str], list[str]]:
    found: dict[tuple[str, int, str], list[str]] = defaultdict(list)
    for remark in report.remarks:
        if remark.row is not None:
            found[remark.table, remark.row - HEADING_ROWS - 1, remark.column].append(remark.sentence)
    return found


def checks(report: Report) -> None:
    """The audit's checks, and the facts of the run."""
    passed = sum(check.passed for check in report.checks)
    sheet = report.open(
        "Checks",
        "Checks",
        f"{passed} of {len(report.checks)} checks passed. The audit replays the plan day by day from the "
        "scenario. Its code shares nothing with the code that made the plan. Worst: the largest miss "
        f"found, in the check's own unit. Money is in {report.currency}.",
    )
    sheet.one_page = True
    rows: list[list[Cell]] = [
        [check.name, check.detail, "passed" if check.passed else "FAILED", check.worst]
        for check in report.checks
    ]
    columns = [
        SheetColumn("check", "Check", widest=40),
        SheetColumn("detail", "Detail", widest=68),
        SheetColumn("result", "Result"),
        SheetColumn("worst", "Worst", CellKind.FIGURE),
    ]
    sheet.table(columns, rows)
    facts = [SheetColumn("fact", "What was run", widest=40), SheetColumn("value", "Value", widest=68)]
    sheet.table(facts, facts_with_seconds(report))


def facts_with_seconds(report: Report) -> list[tuple[str, Cell]]:
    """The facts of the run, and the seconds of each phase."""
    facts = report.plan.facts
    seconds = ", ".join(f"{phase} {grouped(seconds, 2)}" for phase, seconds in facts.seconds.items())
    return [*run_facts(facts, report.currency), ("Seconds", seconds)]


def changed(report: Report) -> None:
    """The cells that the planned variant changes."""
    report.open(CHANGES, CHANGES, NOTE).table(COLUMNS, [change_cells(change) for change in report.changes])
