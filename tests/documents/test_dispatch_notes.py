"""Dispatch notes in LibreOffice: a page each, nothing cut off, whatever the names and notes of orders."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from model.planned.plan_tables import Plan
from model.scenario.entities import Scenario
from model.solve import plan
from reports.work.dispatch_notes import deliveries, write_dispatch_notes
from scenarios.variants.by_name import read
from tests.documents.office import broken_pages, convert, ink, pages, sheets_printed
from tests.report_scenario import report_plan, report_scenario

SEASON = 300
LAST_LINE = "In all of this, local codes and licensed practice come first."


def demo() -> tuple[Scenario, Plan]:
    scenario = read("hollow_ash")
    return scenario, plan(scenario)


def small() -> tuple[Scenario, Plan]:
    return report_scenario(), report_plan()


def wordy() -> tuple[Scenario, Plan]:
    """Long names of customers, with and without spaces, and long notes."""
    scenario = report_scenario()
    told = "Leave the trays at the north gate before seven, and ring the bell twice. " * 12

    def long(name: str) -> str:
        return f"{'Long Lane Growers ' * 6}{name}{'x' * 70}"

    orders = [replace(order, customer=long(order.customer), note=told) for order in scenario.orders]
    customers = [replace(row, customer=long(row.customer)) for row in scenario.customers]
    return replace(scenario, orders=tuple(orders), customers=tuple(customers)), report_plan()


@pytest.fixture(scope="module", params=[demo, small, wordy], ids=lambda made: made.__name__)
def notes(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, int]:
    """Workbook, its pages, and how many there are: one for each run, for its driver, and each delivery."""
    folder = tmp_path_factory.mktemp("notes")
    scenario, result = request.param()
    first = scenario.nursery.first_day
    write_dispatch_notes(scenario, result, folder / "notes.xlsx", first=first, days=SEASON)
    number = len(result.runs) + len(deliveries(scenario, result, first=first, days=SEASON))
    return folder / "notes.xlsx", convert(folder / "notes.xlsx", "pdf", folder), number


def about(pdf: Path) -> dict[str, str]:
    """What pdfinfo says of a document."""
    told = subprocess.run(["pdfinfo", str(pdf)], check=True, capture_output=True, text=True, timeout=60)
    return dict(line.split(":", 1) for line in told.stdout.splitlines())


def test_every_delivery_is_one_upright_page(notes: tuple[Path, Path, int]) -> None:
    workbook, pdf, number = notes
    assert int(about(pdf)["Pages"]) == number > 2
    width, _, height, *_ = about(pdf)["Page size"].split()
    assert float(width) < float(height)
    sheets, feet = sheets_printed(workbook, pdf)
    assert feet == sheets


def test_no_page_is_broken_blank_or_cut_off(notes: tuple[Path, Path, int], tmp_path: Path) -> None:
    _, pdf, _ = notes
    assert broken_pages(pdf) == []
    assert min(ink(pdf, tmp_path)) > 300
    for page in pages(pdf):
        assert ("Driver, day" if page.startswith("Run\n") else "Taken over by, day") in page
        assert LAST_LINE in " ".join(page.split())


def test_every_note_shows_the_whole_of_its_texts(notes: tuple[Path, Path, int]) -> None:
    workbook, pdf, _ = notes
    for sheet, page in zip(openpyxl.load_workbook(workbook), pages(pdf), strict=True):
        printed = "".join(page.split())
        texts = {cell.value for row in sheet.iter_rows() for cell in row if cell.data_type == "s"}
        for text in texts:
            missing = [word for word in text.split() if len(word) < 20 and word not in printed]
            assert not missing, (sheet.title, text)
