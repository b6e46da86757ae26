"""The studies' workbooks in LibreOffice, where they print whole and formulas come out, and their pages."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from playwright.sync_api import Browser

from scenarios.commands.command_line import DONE, SHORT, main
from scenarios.commands.study_verbs import STUDIES
from tests.documents.browser import faults, opened
from tests.documents.office import broken_pages, convert, for_paper, ink, pages, sheets_printed
from tests.workbooks import formula_cells

ASKED: dict[str, list[str]] = {
    "quote": [
        *("hollow_ash", "--product", "Duskling on Ironmere, 72", "--quantity", "2400"),
        *("--due", "2027-04-23", "--price", "1.2"),
    ],
    "accept": ["hollow_ash/orders_may_be_declined.toml"],
    "break-even": ["hollow_ash", "--of", "buy-in-price"],
    "hold": ["hollow_ash/asked_not_booked.toml"],
    "limits": ["hollow_ash/variants/one_grafter_fewer.toml"],
    "payback": [
        *("hollow_ash", "--product", "Duskling on Ironmere, 72", "--own-root-price", "0.35"),
        *("--plants", "2100", "--own-root-yield", "40", "--fruit-price", "320"),
    ],
    "heat": [
        *(
            "hollow_ash",
            "--zone",
            "finishing house",
            "--area",
            "400",
            "--u-value",
            "3.97",
            "--set-point",
            "18",
        ),
        *("--outdoor=-3,-1,4,9,14,18,20,19,15,9,4,-1", "--fuel-price", "1.1", "--fuel-heat", "10"),
    ],
    "rates": ["hollow_ash", "hollow_ash/records/counts.csv"],
    "replan": [
        *("hollow_ash", "--progress", "hollow_ash/records/progress.csv", "--today", "2027-03-22"),
    ],
}


@pytest.fixture(scope="module", params=[*STUDIES, "replan"])
def path(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    verb: str = request.param
    folder = tmp_path_factory.mktemp(verb)
    asked = [verb, *ASKED.get(verb, ["hollow_ash"]), "-o", str(folder)]
    if verb == "replan":
        last = tmp_path_factory.mktemp("last")
        assert main(["plan", "hollow_ash", "-o", str(last)]) == DONE
        asked += ["--last", str(last)]
    with pytest.MonkeyPatch.context() as patch:
        # Sheets look the same with few whole plans behind them as with hundreds.
        patch.setattr("scenarios.studies.price_list.WHOLE_WORK", 0)
        patch.setattr("scenarios.studies.order_costs.MOST_WHOLE", 4)
        assert main(asked) in (DONE, SHORT)
    return folder / f"{verb}.xlsx"


@pytest.fixture(scope="module")
def printed(path: Path) -> Path:
    return convert(path, "pdf", path.parent)


def test_no_page_shows_a_broken_cell(printed: Path) -> None:
    assert broken_pages(printed) == []


def test_every_page_is_a_sheet_for_paper_and_none_is_blank(path: Path, printed: Path, tmp_path: Path) -> None:
    sheets, feet = sheets_printed(path, printed)
    assert feet == for_paper(path)
    assert feet[0] == "Answer"
    assert not {"Contents", "Run"} & set(feet)
    assert min(ink(printed, tmp_path)) > 300
    tables = len(sheets) - len(("Answer", "Contents", "Run"))
    assert len(feet) <= (2 if tables < 3 else 1 + tables)


def test_every_formula_recalculated_equals_its_cached_value(path: Path) -> None:
    cached = formula_cells(path)
    again = openpyxl.load_workbook(convert(path, "xlsx", path.parent), data_only=True)
    wrong = {
        at: (held, again[at[0]][at[1]].value)
        for at, held in cached.items()
        if abs(again[at[0]][at[1]].value - held) > 1e-5 * max(1.0, abs(held))
    }
    assert wrong == {}


@pytest.mark.parametrize("path", ["quote"], indirect=True)
def test_an_offer_is_one_page_and_comes_to_the_cent(path: Path) -> None:
    offers = path.with_name("offers.xlsx")
    cached = formula_cells(offers)
    assert cached
    again = openpyxl.load_workbook(convert(offers, "xlsx", path.parent), data_only=True)
    found = {at: again[at[0]][at[1]].value for at in cached}
    assert found == pytest.approx(cached, abs=0.005)
    assert len(pages(convert(offers, "pdf", path.parent))) == len(again.sheetnames) == 1


def test_the_page_has_no_serious_fault(path: Path, chromium: Browser) -> None:
    with opened(chromium, path.with_suffix(".html")) as page:
        assert faults(page) == []


def test_a_changed_margin_changes_the_prices(path: Path, tmp_path: Path) -> None:
    changed = openpyxl.load_workbook(path)
    if "Profit_margin" not in changed.defined_names:
        assert path.stem not in ("costs", "quote", "prices")
        return
    sheet, cell = changed.defined_names["Profit_margin"].attr_text.replace("$", "").split("!")
    before = formula_cells(path)
    margin = changed[sheet.strip("'")][cell].value
    changed[sheet.strip("'")][cell].value = 0.5
    priced = {
        (page.title, c.coordinate)
        for page in changed
        for row in page.iter_rows()
        for c in row
        if c.data_type == "f" and "Profit_margin" in c.value
    }
    target = tmp_path / "changed.xlsx"
    changed.save(target)
    again = openpyxl.load_workbook(convert(target, "xlsx", tmp_path), data_only=True)
    assert priced
    for at in priced:
        assert again[at[0]][at[1]].value == pytest.approx(before[at] * (1 - margin) / 0.5)
