"""Offer sheets: what stands on them, and amounts that follow a changed price."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from model.network.charges import with_charges
from model.scenario.entities import Scenario
from model.scenario.records.trade import Customer
from reports.work.offers import TAX, Offer, write_offers
from tests.report_scenario import HOSTILE
from tests.scenario_parts import FIRST, day
from tests.strategies import base_scenario, with_nursery
from tests.workbooks import find, recalculated


def nursery() -> Scenario:
    """A customer pays 30 % on 1 March, and the rest on 20 March: 3 days after the plants leave."""
    made = base_scenario(customers=(Customer("Market farm", 3, 0.3, 16),))
    return with_nursery(made, terms_days=60)


def sheet_of(scenario: Scenario, path: Path, plants: int = 90, price: float = 1.25) -> Any:
    (order,) = scenario.orders
    write_offers(scenario, [Offer(order, plants, price)], path)
    return openpyxl.load_workbook(path).worksheets[0]


def texts(sheet: Any) -> str:
    return "\n".join(str(cell.value) for row in sheet.iter_rows() for cell in row if cell.value is not None)


def test_amounts_and_days_by_hand(tmp_path: Path) -> None:
    """90 plants at 1.25 are 112.50: 33.75 as a deposit, 78.75 when the plants have left."""
    sheet = sheet_of(nursery(), tmp_path / "offers.xlsx")
    value = recalculated(tmp_path / "offers.xlsx")
    head, amount = find(sheet, "To pay")[0], find(sheet, "By")[1] + 1
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    for row, when, paid in ((head + 1, day(0), 33.75), (head + 2, day(19), 78.75)):
        assert sheet.cell(row, amount - 1).value == datetime(when.year, when.month, when.day)
        assert value(sheet.title, sheet.cell(row, amount).coordinate) == pytest.approx(paid)
    assert value(sheet.title, sheet.cell(head + 3, amount).coordinate) == pytest.approx(112.5)
    assert "90; 100 were asked for" in texts(sheet)
    assert "9 of ten, 10 cells each" in texts(sheet)


def test_plants_that_fill_the_last_tray_are_told(tmp_path: Path) -> None:
    """96 plants and 2 % extra fill 10 trays of 10: 98 of them are billed, 2 of those nobody ordered."""
    made = with_nursery(nursery(), whole_trays_to_customer=True, extra_share=0.02)
    (asked,) = made.orders
    made = with_charges(replace(made, orders=(replace(asked, quantity=96),)))
    assert "98 (2 to fill last trays) and 2 extra, not billed" in texts(
        sheet_of(made, tmp_path / "offers.xlsx", plants=100)
    )


def test_totals_follow_a_changed_price(tmp_path: Path) -> None:
    sheet_of(nursery(), tmp_path / "offers.xlsx")
    book = openpyxl.load_workbook(tmp_path / "offers.xlsx")
    sheet = book.worksheets[0]
    row, column = find(sheet, "Price (USD a plant)*")
    sheet.cell(row + 1, column).value = 2.0
    share = find(sheet, "Deposit, share*")[1]
    sheet.cell(row + 1, share).value = 0.5
    book.save(tmp_path / "changed.xlsx")
    value = recalculated(tmp_path / "changed.xlsx")
    head, amount = find(sheet, "To pay")[0], find(sheet, "By")[1] + 1
    paid = [value(sheet.title, sheet.cell(head + n, amount).coordinate) for n in (1, 2, 3)]
    assert paid == pytest.approx([90.0, 90.0, 180.0])


def test_no_deposit_is_due_before_the_offer(tmp_path: Path) -> None:
    """Paid 30 days before, the deposit would be due before the first day."""
    early = replace(nursery().customers[0], deposit_days=30)
    sheet = sheet_of(replace(nursery(), customers=(early,)), tmp_path / "offers.xlsx")
    row, column = find(sheet, "By")
    assert sheet.cell(row + 1, column).value == datetime(FIRST.year, FIRST.month, FIRST.day)


def test_risk_and_tax_are_said_where_they_are(tmp_path: Path) -> None:
    plain = texts(sheet_of(replace(nursery(), customers=()), tmp_path / "plain.xlsx"))
    assert TAX in plain
    assert "days late" not in plain
    assert "Deposit" not in plain
    changed = with_nursery(nursery(), tax_note="7 % added on the bill", late_days_most=5, late_discount=0.1)
    said = texts(sheet_of(changed, tmp_path / "said.xlsx")).replace("\n", " ")
    assert "7 % added on the bill" in said
    assert TAX not in said
    assert "up to 5 days late" in said
    assert "costs 10.0% less" in said


def test_names_are_text_and_nothing_offered_is_said(tmp_path: Path) -> None:
    for name in HOSTILE:
        order = replace(nursery().orders[0], order=name, customer=name)
        sheet = sheet_of(replace(nursery(), orders=(order,)), tmp_path / "hostile.xlsx")
        cells = [cell for row in sheet.iter_rows() for cell in row if cell.value == name]
        assert [cell.data_type for cell in cells] == ["s", "s"]
    write_offers(nursery(), [], tmp_path / "none.xlsx")
    assert "nothing is offered" in texts(openpyxl.load_workbook(tmp_path / "none.xlsx").worksheets[0])
