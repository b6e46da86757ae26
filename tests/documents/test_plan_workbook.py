"""The plan workbook in LibreOffice: it prints whole, and its formulas come to the plan's numbers."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from model.planned.plan_tables import Plan
from model.proof.audit import audit
from model.scenario.entities import Scenario
from reports.book.paper import A4
from reports.sheets.workbook import ON_PAPER
from scenarios.files.read_scenario import read_scenario
from scenarios.rules.remarks import remarks
from scenarios.variants.by_name import path_of
from tests.changed_inputs import change_workbook, expected
from tests.documents.office import broken_pages, convert, for_paper, ink, pages, sheets_printed
from tests.report_scenario import CHECKS, REMARKS, report_plan, report_scenario
from tests.workbooks import formula_cells, held, planned, report_traced, write_report

CENT = 0.005


@pytest.fixture(scope="module", params=["demo", "small"])
def made(request: pytest.FixtureRequest) -> tuple[Scenario, Plan, pd.DataFrame]:
    if request.param == "small":
        return report_scenario(), report_plan(), report_traced()
    scenario = read_scenario(path_of("hollow_ash"))
    return scenario, *planned(scenario)


@pytest.fixture(scope="module")
def path(made: tuple[Scenario, Plan, pd.DataFrame], tmp_path_factory: pytest.TempPathFactory) -> Path:
    scenario, result, traced = made
    target = tmp_path_factory.mktemp("plan") / "plan.xlsx"
    small = result is report_plan()
    checks = CHECKS if small else audit(scenario, result)
    said = REMARKS if small else remarks(scenario)
    write_report(target, scenario, result, traced=traced, checks=checks, remarks=said)
    return target


@pytest.fixture(scope="module")
def printed(path: Path) -> Path:
    return convert(path, "pdf", path.parent)


def test_no_page_shows_a_broken_cell(printed: Path) -> None:
    assert broken_pages(printed) == []


def test_an_owner_gets_at_most_twelve_pages_and_all_others_stay_on_the_screen(
    path: Path, printed: Path
) -> None:
    sheets, feet = sheets_printed(path, printed)
    there = [name for name in sheets if name in ON_PAPER]
    assert list(dict.fromkeys(feet)) == there == for_paper(path)
    assert len(sheets) > 2 * len(there)
    assert feet.count("Summary") == 1
    assert len(feet) == len(pages(printed)) <= 12


def test_a_sheet_prints_once_its_print_area_is_cleared(path: Path, tmp_path: Path) -> None:
    asked = openpyxl.load_workbook(path)
    asked["Zones"].print_area = None  # type: ignore[assignment]
    asked.save(tmp_path / "asked.xlsx")
    _, feet = sheets_printed(tmp_path / "asked.xlsx", convert(tmp_path / "asked.xlsx", "pdf", tmp_path))
    assert set(feet) - {"Zones"} == set(for_paper(path))
    assert "Zones" in feet


def test_it_prints_on_the_paper_of_its_country(
    made: tuple[Scenario, Plan, pd.DataFrame], printed: Path
) -> None:
    told = subprocess.run(["pdfinfo", str(printed)], check=True, capture_output=True, text=True, timeout=60)
    assert made[0].nursery.currency == "USD"
    assert "(letter)" in told.stdout


def test_the_banks_sheets_take_one_page_each_on_either_paper(
    path: Path, printed: Path, tmp_path: Path
) -> None:
    """The result and the cash: one US letter each, as printed, and one A4."""
    other = openpyxl.load_workbook(path)
    for sheet in other:
        sheet.page_setup.paperSize = A4.number
    other.save(tmp_path / "a4.xlsx")
    a4 = convert(tmp_path / "a4.xlsx", "pdf", tmp_path)
    for made, paper in ((printed, "letter"), (a4, "A4")):
        told = subprocess.run(["pdfinfo", str(made)], check=True, capture_output=True, text=True, timeout=60)
        assert f"({paper})" in told.stdout
        _, feet = sheets_printed(path, made)
        assert feet.count("Result") == feet.count("Cash") == 1, paper


def test_no_page_is_blank(printed: Path, tmp_path: Path) -> None:
    dark = ink(printed, tmp_path)
    assert len(dark) == len(pages(printed))
    assert min(dark) > 300, dark.index(min(dark)) + 1


def test_no_heading_is_cut_off(path: Path, printed: Path) -> None:
    """Every word of every heading stands in full on the pages of its sheet."""
    text = {word for page in pages(printed) for word in page.split()}
    for sheet in openpyxl.load_workbook(path):
        if sheet.title in ON_PAPER and sheet.auto_filter.ref:
            row = int(re.search(r"\d+", sheet.auto_filter.ref).group())  # type: ignore[union-attr]
            words = {word for cell in sheet[row] if cell.value for word in cell.value.split()}
            assert words <= text, (sheet.title, words - text)


def test_every_formula_recalculated_equals_its_cached_value(path: Path) -> None:
    cached = formula_cells(path)
    again = openpyxl.load_workbook(convert(path, "xlsx", path.parent), data_only=True)
    found = {(sheet, cell): held(again[sheet][cell].value) for sheet, cell in cached}
    wrong = {at: (was, found[at]) for at, was in cached.items() if abs(found[at] - was) > CENT / 100}
    assert wrong == {}


@pytest.mark.parametrize("made", ["small"], indirect=True)
def test_changed_inputs_come_to_the_models_numbers(path: Path, tmp_path: Path) -> None:
    target = tmp_path / "changed.xlsx"
    change_workbook(path, target)
    again = openpyxl.load_workbook(convert(target, "xlsx", tmp_path), data_only=True)
    wrong = {
        (sheet, cell): (wanted, again[sheet][cell].value)
        for sheet, cell, wanted in expected(path)
        if abs(again[sheet][cell].value - wanted) > CENT / 100
    }
    assert wrong == {}
