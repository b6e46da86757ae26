"""The summary page of the plan workbook: what it names, and what it counts where there is no room."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from model.planned.plan_tables import Plan
from tests.report_scenario import ORDER, report_plan, report_scenario
from tests.workbooks import report_traced, write_report


def on_summary(tmp_path: Path, result: Plan, traced: pd.DataFrame | None = None, **nursery: object) -> str:
    scenario = report_scenario()
    changed = replace(scenario, nursery=replace(scenario.nursery, **nursery))  # type: ignore[arg-type]
    write_report(tmp_path / "plan.xlsx", changed, result, traced=traced)
    sheet = openpyxl.load_workbook(tmp_path / "plan.xlsx")["Summary"]
    return "\n".join(str(row[0]) for row in sheet.iter_rows(max_col=1, values_only=True))


def test_summary_names_the_largest_shortfalls_and_counts_the_rest(tmp_path: Path) -> None:
    orders = report_plan().orders
    short = orders.assign(short=[4.0, 60.0, 2.0, 7.0, 0.0, 0.0], short_because="x" * 1000)
    costs = report_plan().costs
    text = on_summary(
        tmp_path,
        replace(report_plan(), orders=short, costs=costs.query("line != 'shortfall'")),
        report_traced().query("cost_line != 'shortfall'"),
    )
    named = re.findall(r"SHORT: (\S+) \(", text)
    assert named == ["early", "own", ORDER]
    assert "... and 1 more order short: see Orders." in text
    assert "Why orders are short" not in on_summary(
        tmp_path,
        replace(report_plan(), orders=orders.assign(short=0.0), costs=costs.query("line != 'shortfall'")),
        report_traced().query("cost_line != 'shortfall'"),
    )
    assert "x" * 300 not in text.replace("\n", "")


def test_summary_lists_what_is_sown_in_the_first_week(tmp_path: Path) -> None:
    waves = report_plan().waves
    first = report_scenario().nursery.first_day
    text = on_summary(tmp_path, report_plan())
    sown = sorted(day for day in set(waves["sow_day"]) if (day - first).days < 7)
    assert [line[:10] for line in text.splitlines() if line[10:16] == " sow: "] == [str(day) for day in sown]


def test_summary_counts_what_it_leaves_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    everything = on_summary(tmp_path, report_plan())
    monkeypatch.setattr("reports.sheets.front.MOST_ACTIONS", 1)
    text = on_summary(tmp_path, report_plan())
    listed = re.findall(r"^2027-03-0\d [a-z ]+: ", everything, re.M)
    assert f"... and {len(listed) - 1} more lines: see Seed" in text


def test_summary_shows_the_first_week_with_work(tmp_path: Path) -> None:
    first = report_scenario().nursery.first_day
    text = on_summary(tmp_path, report_plan(), first_day=first - timedelta(days=14))
    assert f"What to do in the first week with work, {first}" in text
    assert re.search(r"^2027-03-0\d sow: ", text, re.M)


def test_an_order_at_risk_has_two_reasons_on_the_summary_and_the_number_of_others(tmp_path: Path) -> None:
    orders = report_plan().orders
    late = replace(report_plan(), orders=orders.assign(short=5.0, late=5.0, margin=0.0, own=9.0))
    write_report(tmp_path / "plan.xlsx", report_scenario(), late)
    sheet = openpyxl.load_workbook(tmp_path / "plan.xlsx")["Summary"]
    cells = [str(cell) for row in sheet.iter_rows(values_only=True) for cell in row]
    assert any(re.search(r"^\S+: SHORT, late and [1-5] more$", cell) for cell in cells)
    assert not any(cell.count(", ") > 1 for cell in cells if ": SHORT, " in cell)
