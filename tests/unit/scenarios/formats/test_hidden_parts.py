"""What does not show in a workbook and counts all the same is remarked on."""

from __future__ import annotations

from pathlib import Path

import pytest

from scenarios.files.read_scenario import read_with_remarks
from scenarios.rules.remarks import in_words
from scenarios.variants.variants import read_case
from tests.bad_input.forged import forge
from tests.bad_input.small import grids, small, workbook, write_csvs, write_xlsx

ORDERS = "xl/worksheets/sheet2.xml"
"""The part that holds the orders."""


def told(path: Path) -> list[str]:
    return [in_words(remark) for remark in read_with_remarks(path)[1]]


def with_rows_as(tmp_path: Path, attributes: bytes) -> Path:
    """A workbook whose orders in rows 3 and 4 carry these attributes, as other programs write them."""

    def change(data: bytes) -> bytes:
        for row in (b"3", b"4"):
            assert data.count(b'<row r="%s"' % row) == 1
            data = data.replace(b'<row r="%s"' % row, b'<row r="%s" %s' % (row, attributes))
        return data

    return forge(write_xlsx(grids(small()), tmp_path / "plain.xlsx"), tmp_path / "s.xlsx", ORDERS, change)


def test_nothing_is_said_of_what_shows(tmp_path: Path) -> None:
    assert told(write_xlsx(grids(small()), tmp_path / "s.xlsx")) == []
    assert told(write_csvs(grids(small()), tmp_path / "s")) == []


def test_rows_that_a_filter_hides_count_and_are_remarked_on(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    sheet = book["orders"]
    sheet.auto_filter.ref = sheet.dimensions
    sheet.auto_filter.add_filter_column(0, ["O-1", "O-4"])
    for row in (3, 4):
        sheet.row_dimensions[row].hidden = True
    book.save(tmp_path / "s.xlsx")
    scenario, _ = read_with_remarks(tmp_path / "s.xlsx")
    assert [order.order for order in scenario.orders] == ["O-1", "O-2", "O-3", "O-4"]
    assert told(tmp_path / "s.xlsx") == [
        "orders, rows 3 to 4: hidden by hand or by a filter; what stands there counts like all else"
    ]


@pytest.mark.parametrize(
    "attributes",
    [b'hidden="1"', b'hidden="true" customHeight="false" ht="12.8"', b'ht="0" customHeight="1"'],
)
def test_hidden_rows_as_other_programs_write_them(attributes: bytes, tmp_path: Path) -> None:
    assert [line.partition(":")[0] for line in told(with_rows_as(tmp_path, attributes))] == [
        "orders, rows 3 to 4"
    ]


@pytest.mark.parametrize("attributes", [b'hidden="0"', b'hidden="false" ht="12.8"'])
def test_rows_said_to_show(attributes: bytes, tmp_path: Path) -> None:
    assert told(with_rows_as(tmp_path, attributes)) == []


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_a_hidden_sheet(state: str, tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["packs"].sheet_state = state
    book.save(tmp_path / "s.xlsx")
    assert told(tmp_path / "s.xlsx") == ["packs, the sheet: is hidden; its rows count like all others"]


def test_hidden_columns_each(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["orders"].column_dimensions["B"].hidden = True
    book["orders"].column_dimensions["D"].width = 30
    book.save(tmp_path / "wide.xlsx")
    forge(
        tmp_path / "wide.xlsx", tmp_path / "s.xlsx", ORDERS, lambda d: d.replace(b'width="30"', b'width="0"')
    )
    assert [line.partition(":")[0] for line in told(tmp_path / "s.xlsx")] == [
        "orders, column B",
        "orders, column D",
    ]


def test_nothing_is_said_of_what_is_hidden_and_empty(tmp_path: Path) -> None:
    sheets = grids(small())
    sheets["zone_days"] = sheets["zone_days"][:1]
    book = workbook(sheets)
    book["zone_days"].sheet_state = "hidden"
    book["orders"].row_dimensions[40].hidden = True
    sheet = book["crews"]
    sheet.cell(1, sheet.max_column + 1, "note")
    sheet.column_dimensions[sheet.cell(1, sheet.max_column).column_letter].hidden = True
    book.save(tmp_path / "s.xlsx")
    assert told(tmp_path / "s.xlsx") == []


def test_a_variant_carries_the_remarks_on_the_workbook_below_it(tmp_path: Path) -> None:
    with_rows_as(tmp_path, b'hidden="1"')
    (tmp_path / "v.toml").write_text('name = "v"\nparent = "s.xlsx"\n', encoding="utf-8")
    (tmp_path / "w.toml").write_text('name = "w"\nparent = "v.toml"\n', encoding="utf-8")
    assert [remark.name for remark in read_case(tmp_path / "w.toml").as_read] == ["rows 3 to 4"]
    assert [remark.name for remark in read_case(tmp_path / "s.xlsx").as_read] == ["rows 3 to 4"]
