"""What prints: paper by country, sheets that stay on the screen, long tables cut for paper."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from model.currencies import CODES
from reports.book.paper import _LETTER, A4, LETTER, paper_of
from reports.book.parts import Book, SheetColumn
from reports.book.style import CellKind
from reports.study.study import FIRST_ROWS, ONE_PAGE, Section, Study, printed_sections, write_study
from reports.work.tray_tags import write_tray_tags
from scenarios.files.write_scenario import write_blank, write_workbook
from tests.report_scenario import report_plan, report_scenario
from tests.strategies import base_scenario

COLUMNS = [SheetColumn("name", "Name"), SheetColumn("many", "Many", CellKind.COUNT)]


def section(name: str, rows: int, *, prints: bool = True) -> Section:
    return Section(name, "Rows.", ["A note."], COLUMNS, [[f"row {n}", n] for n in range(rows)], prints=prints)


def study(*sections: Section) -> Study:
    return Study("Trial", report_scenario(), ["Yes."], [], sections, [("Gap", "0.1%")])


def test_paper_of_a_country() -> None:
    assert {code: paper_of(code) for code in ("USD", "CAD", "MXN")} == dict.fromkeys(
        ("USD", "CAD", "MXN"), LETTER
    )
    assert {paper_of(code) for code in ("EUR", "GBP", "JPY", "AUD", "TRY", "BRL")} == {A4}
    assert _LETTER < CODES


@pytest.mark.parametrize("currency", ["EUR", "CAD"])
def test_every_workbook_prints_on_it(currency: str, tmp_path: Path) -> None:
    base = base_scenario()
    scenario = replace(base, nursery=replace(base.nursery, currency=currency))
    write_workbook(scenario, tmp_path / "own.xlsx")
    write_study(replace(study(section("One", 2)), scenario=scenario), tmp_path / "study.xlsx")
    small = report_scenario()
    small = replace(small, nursery=replace(small.nursery, currency=currency))
    first = small.nursery.first_day
    write_tray_tags(small, report_plan(), tmp_path / "tags.xlsx", first=first, days=28)
    for name in ("own", "study", "tags"):
        sheets = openpyxl.load_workbook(tmp_path / f"{name}.xlsx").worksheets
        assert {int(sheet.page_setup.paperSize or 0) for sheet in sheets} == {paper_of(currency).number}


def test_a_blank_workbook_knows_no_country(tmp_path: Path) -> None:
    write_blank(tmp_path / "blank.xlsx")
    sheets = openpyxl.load_workbook(tmp_path / "blank.xlsx").worksheets
    assert {int(sheet.page_setup.paperSize or 0) for sheet in sheets} == {A4.number}


def test_a_sheet_that_stays_on_the_screen_prints_one_empty_cell(tmp_path: Path) -> None:
    """The cell stands outside the rows that every page repeats, where no text of its row runs over."""
    book = Book(tmp_path / "book.xlsx", "Book", report_scenario().nursery)
    for name, prints in (("Paper", True), ("Screen", False)):
        sheet = book.sheet(name, "")
        sheet.prints = prints
        sheet.open("A title that is longer than the table is wide" * 3, ["A note."])
        sheet.table(COLUMNS, [["a", 1], ["b", 2]])
    book.close()
    made = openpyxl.load_workbook(tmp_path / "book.xlsx")
    assert made["Paper"].print_area.split("!")[1].startswith("$A$1:")
    sheet = made["Screen"]
    at = sheet.print_area.split("!")[1].replace("$", "")
    cell = sheet[at]
    assert cell.value is None
    assert not cell.has_style
    assert cell.column > sheet.max_column - (sheet.max_column == cell.column)
    heading = int(sheet.print_title_rows.split(":")[0].strip("$"))
    assert cell.row < heading
    assert [c.value for c in sheet[cell.row] if c.value] == ["Contents"]


def test_contents_tell_what_prints_and_how_to_print_the_rest(tmp_path: Path) -> None:
    write_study(study(section("One", 2), section("Two", 2, prints=False)), tmp_path / "study.xlsx")
    book = openpyxl.load_workbook(tmp_path / "study.xlsx")
    assert book.sheetnames == ["Answer", "One", "Contents", "Two", "Run"]
    rows = [[cell for cell in row if cell is not None] for row in book["Contents"].values]
    assert [row[0] for row in rows if row[-1:] == ["yes"]] == ["Answer", "One"]
    assert "Print Ranges, Clear" in " ".join(str(row[0]) for row in rows if row)


def test_what_was_run_stands_at_the_foot_of_the_answer(tmp_path: Path) -> None:
    write_study(study(section("One", 2)), tmp_path / "study.xlsx")
    answer = openpyxl.load_workbook(tmp_path / "study.xlsx")["Answer"]
    assert "What was run: Gap 0.1%." in [cell.value for cell in answer["A"]]


def test_a_study_of_few_tables_prints_the_first_alone() -> None:
    one, two, three = (section(name, 2) for name in ("One", "Two", "Three"))
    assert printed_sections(study(one)) == [one]
    assert printed_sections(study(one, two)) == [one]
    assert printed_sections(study(one, two, three)) == [one, two, three]
    assert printed_sections(study(one, two, replace(three, prints=False))) == [one]
    assert printed_sections(study(one, section("None", 0), three)) == [one, three]


@pytest.mark.parametrize("rows, cut", [(ONE_PAGE, False), (ONE_PAGE + 1, True)])
def test_a_long_table_prints_its_first_rows_and_says_so(rows: int, cut: bool, tmp_path: Path) -> None:
    write_study(study(section("One", rows)), tmp_path / "study.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "study.xlsx")["One"]
    assert sheet.page_setup.fitToHeight in (None, 1)
    assert (FIRST_ROWS.split(".")[0] in str(list(sheet.values))) is cut
    last = int(sheet.print_area.split("$")[-1])
    assert sheet.cell(last, 1).value == f"row {min(rows, ONE_PAGE) - 1}"
