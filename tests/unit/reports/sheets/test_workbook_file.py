"""The plan workbook as a file: whole or not at all, the same each time, with links that lead to orders."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from model.scenario.choices import Decline
from reports.plan.figures import orders_at_risk
from tests.report_scenario import REMARKS, report_plan, report_scenario
from tests.strategies import base_scenario
from tests.workbooks import planned, write_report


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("workbook") / "plan.xlsx"
    write_report(target, report_scenario(), report_plan(), remarks=REMARKS)
    return target


def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    target = tmp_path / "plan.xlsx"
    target.write_text("old")
    broken = replace(report_plan(), costs=report_plan().costs.assign(line="no such line"))
    with pytest.raises(ValueError, match="'no such line' is not in"):
        write_report(target, report_scenario(), broken)
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_two_writings_hold_the_same_cells(path: Path, tmp_path: Path) -> None:
    write_report(tmp_path / "again.xlsx", report_scenario(), report_plan(), remarks=REMARKS)
    first, second = openpyxl.load_workbook(path), openpyxl.load_workbook(tmp_path / "again.xlsx")
    for one, other in zip(first, second, strict=True):
        assert [[cell.value for cell in row] for row in one] == [
            [cell.value for cell in row] for row in other
        ]


def links(sheet: Worksheet) -> dict[str, str]:
    """Where each link of a sheet leads, by its words."""
    return {
        cell.value: cell.hyperlink.location
        for row in sheet.iter_rows()
        for cell in row
        if cell.hyperlink is not None and cell.hyperlink.location is not None
    }


def led_to(book: Workbook, location: str) -> tuple[str, list[object]]:
    """The sheet and the row's values that a link leads to."""
    sheet, cell = location.rsplit("!", 1)
    name = sheet.strip("'")
    return name, [cell.value for cell in book[name][book[name][cell].row]]


def test_any_order_is_two_clicks_away(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    assert links(book["Summary"])["All orders, by month"] == "'Orders'!A1"
    on_orders, on_deliveries = links(book["Orders"]), links(book["Deliveries"])
    months = {f"{order.due_day:%Y-%m}" for order in report_scenario().orders}
    assert months <= set(on_orders)
    for month in months:
        sheet, row = led_to(book, on_orders[month])
        assert sheet == "Orders"
        assert any(isinstance(cell, datetime) and f"{cell:%Y-%m}" == month for cell in row)
    for order in set(report_plan().deliveries["order"]):
        assert order in led_to(book, on_orders[order])[1]
        assert led_to(book, on_orders[order])[0] == "Deliveries"
        assert order in led_to(book, on_deliveries[order])[1]
        assert led_to(book, on_deliveries[order])[0] == "Orders"


def test_an_order_at_risk_is_one_click_away(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    on_summary = links(book["Summary"])
    for risk in orders_at_risk(report_scenario(), report_plan()):
        words = next(words for words in on_summary if words.startswith(f"{risk.order}: "))
        sheet, row = led_to(book, on_summary[words])
        assert sheet == "Orders"
        assert risk.order in row


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"price": 0.0, "decline": Decline.WHOLE}, ("declined", "O-1", 100)),
        ({"shortfall_penalty": 0.0}, ("shortfall", "O-1", 100)),
    ],
)
def test_plants_that_cost_nothing_are_counted_all_the_same(
    tmp_path: Path, changes: dict[str, Any], line: tuple[str, str, int]
) -> None:
    """An order at a price or a penalty of 0 is not grown."""
    base = base_scenario()
    of = replace(base, orders=(replace(base.orders[0], **changes),))
    made, traced = planned(of)
    write_report(tmp_path / "plan.xlsx", of, made, traced=traced)
    rows = openpyxl.load_workbook(tmp_path / "plan.xlsx", data_only=True)["Cost details"].values
    assert line in {row[:3] for row in rows}
