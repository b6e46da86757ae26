"""Work lists and tray tags in LibreOffice: a page a day, a page a week, tags a page in full."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from model.solve import plan
from reports.work.tray_tags import ACROSS, DOWN, tags
from scenarios.commands.work_files import LISTS, TAGS, write_work
from scenarios.variants.by_name import read
from tests.documents.office import broken_pages, convert, for_paper, ink, pages, sheets_printed
from tests.report_scenario import report_plan, report_scenario

WEEKS = {"demo": (date(2027, 3, 22), 7), "small": (report_scenario().nursery.first_day, 28)}


@pytest.fixture(scope="module", params=WEEKS)
def folder(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp(request.param)
    demo = read("hollow_ash")
    scenario, result = (demo, plan(demo)) if request.param == "demo" else (report_scenario(), report_plan())
    first, days = WEEKS[request.param]
    write_work(scenario, result, made, earlier=None, first=first, days=days)
    number: dict[date, int] = {}
    for tag in tags(scenario, result, first=first, days=days):
        number[tag.day] = number.get(tag.day, 0) + tag.trays
    needed = sum(-(-tags // (ACROSS * DOWN)) for tags in number.values())
    (made / "expected").write_text(f"{needed} {min(max(number.values()), ACROSS * DOWN)}")
    return made


@pytest.fixture(scope="module")
def lists(folder: Path) -> Path:
    return convert(folder / LISTS, "pdf", folder)


@pytest.fixture(scope="module")
def labels(folder: Path) -> Path:
    return convert(folder / TAGS, "pdf", folder)


def test_no_page_shows_a_broken_cell(lists: Path, labels: Path) -> None:
    assert broken_pages(lists) == []
    assert broken_pages(labels) == []


def test_every_day_and_every_week_is_one_page(folder: Path, lists: Path) -> None:
    sheets, feet = sheets_printed(folder / LISTS, lists)
    assert feet == for_paper(folder / LISTS) == [name for name in sheets if name != "Contents"]
    assert len(pages(lists)) == len(feet)


def test_no_page_of_the_lists_is_blank(lists: Path, tmp_path: Path) -> None:
    assert min(ink(lists, tmp_path)) > 300


def test_tags_fill_their_pages_and_run_over_none(folder: Path, labels: Path) -> None:
    printed = pages(labels)
    number, most = map(int, (folder / "expected").read_text().split())
    assert len(printed) == number
    assert max(page.count("Tray ") for page in printed) == most
    sheets = openpyxl.load_workbook(folder / TAGS, read_only=True).sheetnames
    assert sum(page.count("Tray 1 of") > 0 for page in printed) >= len(sheets)
