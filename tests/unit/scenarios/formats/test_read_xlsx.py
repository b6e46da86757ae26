"""Workbooks: what is wrong with the file itself, and what openpyxl passes over."""

from __future__ import annotations

import os
import random
import zipfile
from contextlib import suppress
from datetime import date
from pathlib import Path

import pytest
import xlsxwriter
from openpyxl.chart import BarChart, Reference
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from scenarios.cells.faults import BadInput, Fault
from scenarios.files.read_scenario import read_scenario
from tests.bad_input.forged import forge, swollen
from tests.bad_input.small import grids, small, workbook, write_csvs, write_xlsx

SHEET = "xl/worksheets/sheet2.xml"
"""The part that holds the orders."""


@pytest.fixture
def good(tmp_path: Path) -> Path:
    return write_xlsx(grids(small()), tmp_path / "good.xlsx")


def faults(path: Path) -> list[Fault]:
    with pytest.raises(BadInput) as caught:
        read_scenario(path)
    return caught.value.faults


def the_fault(path: Path) -> Fault:
    found = faults(path)
    assert len(found) == 1, found
    return found[0]


PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 100
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600

NOT_WORKBOOKS = {
    "picture": ("s.xlsx", PNG, "not a workbook", ".xlsx"),
    "empty": ("s.xlsx", b"", "empty file", "blank workbook"),
    "old workbook cut": ("s.xls", OLE, "damaged", "and save it"),
    "old workbook cut and renamed": ("s.xlsx", OLE, "damaged", "and save it"),
    "old workbook with macros": ("s.xls", OLE + "_VBA_PROJECT".encode("utf-16-le"), "macros", "save it"),
    "password": ("s.xlsx", OLE + "EncryptedPackage".encode("utf-16-le"), "password", "without"),
    "page": ("s.xls", b"<html><table>", "not a workbook, whatever its name", "save it as .xlsx"),
    "OpenDocument cut": ("s.ods", b"PK\x03\x04" + b"\0" * 50, "damaged", "save it as .xlsx"),
    "macros": ("s.xlsm", b"PK", "macros", "save it as .xlsx"),
    "binary": ("s.xlsb", b"PK", "binary", "save it as .xlsx"),
    "one table": ("orders.csv", b"order", "single table", "folder"),
    "text": ("s.txt", b"hello", "neither", "save it as .xlsx"),
    "cut zip": ("s.xlsx", b"PK\x03\x04" + b"\0" * 50, "damaged", "save it"),
}


@pytest.mark.parametrize("name", NOT_WORKBOOKS)
def test_not_a_workbook(name: str, tmp_path: Path) -> None:
    file, data, wrong, remedy = NOT_WORKBOOKS[name]
    (tmp_path / file).write_bytes(data)
    fault = the_fault(tmp_path / file)
    assert (fault.table, fault.row, fault.value) == ("", None, file)
    assert wrong in fault.wrong
    assert remedy in fault.remedy


def zip_of(path: Path, **parts: bytes) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


def test_zip_that_is_no_workbook(tmp_path: Path) -> None:
    assert "not a workbook" in the_fault(zip_of(tmp_path / "s.xlsx", notes=b"hello")).wrong


@pytest.mark.parametrize("kind", ["spreadsheet", "text"])
def test_opendocument_without_a_sheet(kind: str, tmp_path: Path) -> None:
    mime = b"application/vnd.oasis.opendocument." + kind.encode()
    assert "not a workbook" in the_fault(zip_of(tmp_path / "s.ods", mimetype=mime)).wrong


def test_damaged_part(good: Path, tmp_path: Path) -> None:
    data = bytearray(good.read_bytes())
    with zipfile.ZipFile(good) as archive:
        place = archive.getinfo(SHEET).header_offset + 100
    data[place : place + 40] = b"\xff" * 40
    (tmp_path / "bad.xlsx").write_bytes(data)
    assert (
        "damaged" in the_fault(tmp_path / "bad.xlsx").wrong
        or "cannot be read" in the_fault(tmp_path / "bad.xlsx").wrong
    )


def test_half_a_workbook(good: Path, tmp_path: Path) -> None:
    half = tmp_path / "half.xlsx"
    half.write_bytes(good.read_bytes()[:3000])
    assert "damaged" in the_fault(half).wrong


def test_sheet_that_is_no_xml(good: Path, tmp_path: Path) -> None:
    bad = forge(good, tmp_path / "bad.xlsx", SHEET, lambda data: data[:-30])
    assert "damaged" in the_fault(bad).wrong


def test_number_that_is_none(good: Path, tmp_path: Path) -> None:
    bad = forge(good, tmp_path / "bad.xlsx", SHEET, lambda data: data.replace(b"<v>480</v>", b"<v>many</v>"))
    assert "cannot be read as a workbook" in the_fault(bad).wrong


@pytest.mark.parametrize("zone", ["Z", "+02:00", "-0500"])
def test_date_with_a_time_zone(zone: str, good: Path, tmp_path: Path) -> None:
    held = b'<c r="E2" t="d"><v>2027-04-30T23:30:00%s</v></c>' % zone.encode()

    def change(data: bytes) -> bytes:
        start = data.index(b'<c r="E2"')
        return data[:start] + held + data[data.index(b"</c>", start) + 4 :]

    fault = the_fault(forge(good, tmp_path / "s.xlsx", SHEET, change))
    assert (fault.table, fault.row, fault.column) == ("orders", 2, "due_day")
    assert (fault.value, fault.wrong) == (f"2027-04-30T23:30:00{zone}", "has a time zone")
    assert "at the nursery" in fault.remedy


def test_zip_bomb(good: Path, tmp_path: Path) -> None:
    bomb = swollen(good, tmp_path / "bomb.xlsx", SHEET, 60_000_000, b"\0")
    fault = the_fault(bomb)
    assert bomb.stat().st_size < 1_000_000
    assert "zip bomb" in fault.wrong
    assert "that you know" in fault.remedy


def test_sheet_of_300_megabytes(good: Path, tmp_path: Path) -> None:
    filler = b"<row><c><v>480</v></c><c><v>2027</v></c></row>"
    large = swollen(good, tmp_path / "large.xlsx", SHEET, 300_000_000, filler)
    fault = the_fault(large)
    assert "larger than 100,000,000 bytes when expanded" in fault.wrong
    assert "only the tables" in fault.remedy


def test_large_file(good: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scenarios.formats.read_workbook.LARGEST_FILE", 1000)
    assert "larger than 1,000 bytes" in the_fault(good).wrong


def test_zip_of_many_parts(tmp_path: Path) -> None:
    many = zip_of(tmp_path / "many.xlsx", **{f"xl/p{n}": b"" for n in range(1001)})
    assert "1,001 parts" in the_fault(many).wrong


def test_external_entities(good: Path, tmp_path: Path) -> None:
    doctype = b'<!DOCTYPE x [<!ENTITY secret SYSTEM "file:///etc/passwd">]>'

    def declare(data: bytes) -> bytes:
        start = data.index(b"<worksheet")
        return data[:start] + doctype + data[start:].replace(b"<v>480</v>", b"<v>&secret;</v>")

    fault = the_fault(forge(good, tmp_path / "bad.xlsx", SHEET, declare))
    assert "entities" in fault.wrong
    assert "save it" in fault.remedy


def test_billion_laughs_in_styles(good: Path, tmp_path: Path) -> None:
    doctype = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    part = "xl/styles.xml"
    bad = forge(
        good,
        tmp_path / "bad.xlsx",
        part,
        lambda data: data.replace(b"<styleSheet", doctype + b"<styleSheet", 1),
    )
    assert "entities" in the_fault(bad).wrong


def test_macros_within(good: Path, tmp_path: Path) -> None:
    bad = forge(good, tmp_path / "bad.xlsx", "xl/vbaProject.bin", lambda data: b"macro")
    assert "macros" in the_fault(bad).wrong


def test_binary_workbook_renamed(tmp_path: Path) -> None:
    parts = {"[Content_Types].xml": b"<Types/>", "xl/workbook.bin": b"\0"}
    assert "binary" in the_fault(zip_of(tmp_path / "s.xlsx", **parts)).wrong


def test_zip_with_a_password(good: Path, tmp_path: Path) -> None:
    data = bytearray(good.read_bytes())
    place = data.index(b"PK\x01\x02")
    data[place + 8] |= 1
    (tmp_path / "s.xlsx").write_bytes(data)
    assert "password" in the_fault(tmp_path / "s.xlsx").wrong


def test_pipe_in_place_of_a_workbook(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "s.xlsx")
    assert the_fault(tmp_path / "s.xlsx").wrong == "is not a file"


def test_unreadable_workbook(good: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, mode: str) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert the_fault(good).wrong == "cannot be read: Permission denied"


@pytest.mark.parametrize("seed", range(60))
def test_damage_of_any_kind_is_a_fault_or_harmless(seed: int, good: Path, tmp_path: Path) -> None:
    """Bytes of a sheet changed, taken out or put in at random never give anything but faults."""
    chance = random.Random(seed)

    def damage(data: bytes) -> bytes:
        place = chance.randrange(len(data))
        pieces = [
            b"",
            b"0",
            b"-1",
            b"NaN",
            b"1e999",
            b"9" * 30,
            b' t="e"',
            b' t="s"',
            b' r="A0"',
            b"&x;",
            b"<f>",
        ]
        return data[:place] + chance.choice(pieces) + data[place + chance.randrange(4) :]

    with suppress(BadInput):
        assert read_scenario(forge(good, tmp_path / "bad.xlsx", SHEET, damage)).orders


def test_escaped_characters_are_read(tmp_path: Path) -> None:
    """Spreadsheets store the line ends of pasted texts so."""
    tables = small()
    tables["orders"][0]["note"] = "first_x000D_\nsecond _x005F_x0041_"
    scenario = read_scenario(write_xlsx(grids(tables), tmp_path / "s.xlsx"))
    assert scenario.orders[0].note == "first\nsecond _x0041_"


def test_empty_sheet_has_no_heading(tmp_path: Path) -> None:
    fault = the_fault(write_xlsx(grids(small()) | {"crew_days": []}, tmp_path / "s.xlsx"))
    assert (fault.table, fault.row, fault.wrong) == ("crew_days", 1, "has no heading")
    assert "from_day" in fault.remedy


def test_truth_values_serve_as_yes_and_no(tmp_path: Path) -> None:
    tables = small()
    tables["methods"][0]["consolidate"] = True
    tables["methods"][1]["consolidate"] = False
    scenario = read_scenario(write_xlsx(grids(tables), tmp_path / "s.xlsx"))
    assert [method.consolidate for method in scenario.methods[:2]] == [True, False]


def test_dates_from_1904(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book.epoch = CALENDAR_MAC_1904
    book.save(tmp_path / "s.xlsx")
    fault = the_fault(tmp_path / "s.xlsx")
    assert "1904" in fault.wrong
    assert "switch off" in fault.remedy


def test_merged_cells(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["orders"].merge_cells("B2:B3")
    book.save(tmp_path / "s.xlsx")
    fault = the_fault(tmp_path / "s.xlsx")
    assert (fault.table, fault.row, fault.column, fault.value) == ("orders", 2, "customer", "B2:B3")
    assert "merged" in fault.wrong
    assert "unmerge" in fault.remedy


def test_merged_heading(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["orders"].merge_cells("A1:B1")
    book.save(tmp_path / "s.xlsx")
    fault = the_fault(tmp_path / "s.xlsx")
    assert (fault.table, fault.row, fault.value) == ("orders", 1, "A1:B1")


@pytest.mark.parametrize("serial", [-3, 3_000_000])
def test_date_that_no_spreadsheet_knows(serial: int, tmp_path: Path) -> None:
    book = workbook(grids(small()))
    cell = book["orders"]["E2"]
    cell.value = serial
    cell.number_format = "yyyy-mm-dd"
    book.save(tmp_path / "s.xlsx")
    fault = the_fault(tmp_path / "s.xlsx")
    assert (fault.table, fault.row, fault.column, fault.value) == ("orders", 2, "due_day", str(serial))
    assert "no such day" in fault.wrong
    assert "write a date" in fault.remedy


def test_too_many_rows(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["orders"]["A1000000"] = "O-9"
    book.save(tmp_path / "s.xlsx")
    fault = the_fault(tmp_path / "s.xlsx")
    assert (fault.table, fault.wrong) == ("orders", "has 1,000,000 rows")
    assert "rows of the table" in fault.remedy


def test_too_many_columns(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["orders"]["ZZ2"] = "far away"
    book.save(tmp_path / "s.xlsx")
    assert the_fault(tmp_path / "s.xlsx").wrong == "has 702 columns"


def test_too_many_cells(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["orders"]["CV90000"] = "far away"
    book.save(tmp_path / "s.xlsx")
    assert the_fault(tmp_path / "s.xlsx").wrong == "has 9,000,000 cells"


def test_too_many_merged_ranges(tmp_path: Path) -> None:
    book = workbook(grids(small()))
    for row in range(2, 103):
        book["orders"].merge_cells(start_row=row, end_row=row, start_column=1, end_column=2)
    book.save(tmp_path / "s.xlsx")
    assert the_fault(tmp_path / "s.xlsx").wrong == "has 101 merged ranges"


def test_formatted_blank_cells_are_passed_over(good: Path, tmp_path: Path) -> None:
    book = workbook(grids(small()))
    book["orders"]["A1000000"].number_format = "0.00"
    book["orders"]["ZZ2"].number_format = "0.00"
    book.save(tmp_path / "s.xlsx")
    assert read_scenario(tmp_path / "s.xlsx") == read_scenario(good)


def test_chart_in_place_of_a_table(tmp_path: Path) -> None:
    book = workbook({name: rows for name, rows in grids(small()).items() if name != "crew_days"})
    chart = BarChart()
    chart.add_data(Reference(book["orders"], min_col=4, min_row=2, max_row=5))
    book.create_chartsheet("crew_days").add_chart(chart)
    book.save(tmp_path / "s.xlsx")
    fault = the_fault(tmp_path / "s.xlsx")
    assert (fault.table, fault.wrong) == ("crew_days", "is a chart, not a table")


def test_sheets_for_people_are_passed_over(good: Path, tmp_path: Path) -> None:
    sheets = grids(small()) | {"# my sums": [["anything"], [1], [None, 2]]}
    assert read_scenario(write_xlsx(sheets, tmp_path / "s.xlsx")) == read_scenario(good)


def test_calculated_formulas_are_values(good: Path, tmp_path: Path) -> None:
    with xlsxwriter.Workbook(tmp_path / "s.xlsx") as book:
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for name, rows in grids(small()).items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                for position, cell in enumerate(row):
                    if isinstance(cell, date):
                        sheet.write_datetime(number, position, cell, day)
                    elif cell == 480:
                        sheet.write_formula(number, position, "=40*12", value=480)
                    elif cell == "Market farm":
                        sheet.write_formula(number, position, '="Market "&"farm"', value="Market farm")
                    elif cell is not None:
                        sheet.write(number, position, cell)
    assert read_scenario(tmp_path / "s.xlsx") == read_scenario(good)


def test_numbers_serve_as_names(tmp_path: Path) -> None:
    tables = small()
    tables["orders"][0]["order"] = 1042
    tables["orders"][1]["order"] = 1043.0
    tables["orders"][2]["order"] = 10.5
    scenario = read_scenario(write_xlsx(grids(tables), tmp_path / "s.xlsx"))
    assert [order.order for order in scenario.orders[:3]] == ["1042", "1043", "10.5"]


def test_workbook_and_folder_are_one_scenario(good: Path, tmp_path: Path) -> None:
    assert read_scenario(good) == read_scenario(write_csvs(grids(small()), tmp_path / "folder"))
