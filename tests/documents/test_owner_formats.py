"""Files that LibreOffice writes: workbooks of three kinds, and text files of five countries."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from openpyxl.comments import Comment

from scenarios.cells.faults import BadInput, Fault
from scenarios.files.read_scenario import read_scenario, read_with_remarks
from scenarios.formats.read_workbook import read_workbook
from scenarios.rules.remarks import in_words
from tests.bad_input.forged import forge, swollen
from tests.bad_input.small import Tables, grids, small, workbook, write_csvs
from tests.documents.office import converted
from tests.locales import ambiguous

CONTENT = "content.xml"


@dataclass(frozen=True, slots=True)
class Saved:
    """How a country's program saves text files.

    The sign between cells, the character set, how days are read (blank: as the program itself writes them),
    and whether days have slashes.
    """

    separator: str
    character_set: int
    days: str
    slashes: bool = False


COUNTRIES = {
    "de-DE": Saved(";", 1, "day/month/year"),
    "fr-FR": Saved(";", 76, "day/month/year", slashes=True),
    "en-US": Saved(",", 76, "month/day/year", slashes=True),
    "pl-PL": Saved(";", 33, ""),
    "nl-NL": Saved("\t", 65535, "day/month/year"),
}
"""Character sets by LibreOffice's numbers: 1 and 33 are Windows' 1252 and 1250, 76 UTF-8, 65535 UTF-16."""


def tables() -> Tables:
    made = small()
    made["orders"][0] |= {"customer": "Gärtnerei Müßig", "price": 1234.5}
    made["orders"][1] |= {"customer": "Two lines", "price": 0.75, "note": "first\nsecond"}
    return made


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_csvs(grids(tables()), tmp_path_factory.mktemp("plain") / "plain")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workbook, its days in the short form of the country, its figures with thousands."""
    made = workbook(grids(tables()))
    for sheet in made.worksheets:
        for cell in (cell for row in sheet.iter_rows(min_row=2) for cell in row):
            if cell.is_date:
                cell.number_format = "mm-dd-yy"
            elif isinstance(cell.value, float):
                cell.number_format = "#,##0.0000"
    path = tmp_path_factory.mktemp("book") / "own.xlsx"
    made.save(path)
    return path


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workbook with what a reader may miss: hidden parts, errors, comments, merged cells, repeated rows."""
    made = workbook(grids(tables()) | {"# mine": [["anything", 1]]})
    orders, packs = made["orders"], made["packs"]
    orders["B3"].comment = Comment("called on Monday", "me")
    orders["D3"] = "=40*24"
    orders["B4"] = "=1/0"
    orders["C5"] = "=NA()"
    orders.row_dimensions[3].hidden = True
    orders.column_dimensions["E"].hidden = True
    packs.sheet_state = "hidden"
    packs["C2"] = 90
    made["crews"].merge_cells("A2:B2")
    made["zones"]["A30"].number_format = "0.00"
    path = tmp_path_factory.mktemp("odd") / "odd.xlsx"
    made.save(path)
    return path


@pytest.fixture(scope="module")
def ods(book: Path, odd: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return converted([book, odd], "ods", tmp_path_factory.mktemp("ods"), "de-DE")


@pytest.mark.parametrize("kind", ["xls", "xlsx"])
def test_workbooks(kind: str, book: Path, plain: Path, tmp_path: Path) -> None:
    made = converted([book], kind, tmp_path, "de-DE") / f"own.{kind}"
    scenario, remarks = read_with_remarks(made)
    assert scenario == read_scenario(plain)
    assert [remark.name for remark in remarks] == ["the workbook"] * (kind == "xls")
    renamed = made.rename(made.with_suffix(".ods"))
    assert read_scenario(renamed) == scenario


def test_opendocument(ods: Path, plain: Path) -> None:
    assert read_with_remarks(ods / "own.ods") == (read_scenario(plain), [])


def faults(path: Path) -> list[Fault]:
    with pytest.raises(BadInput) as caught:
        read_scenario(path)
    return caught.value.faults


def test_what_a_reader_of_opendocument_may_miss(ods: Path) -> None:
    assert [(f.table, f.row, f.column, f.wrong) for f in faults(ods / "odd.ods")] == [
        ("orders", 4, "customer", "is the error of a formula"),
        ("orders", 5, "product", "is the error of a formula"),
        ("crews", 2, "crew", "is merged cells"),
    ]


def test_hidden_parts_of_opendocument(ods: Path) -> None:
    source = read_workbook(ods / "odd.ods")
    assert list(map(in_words, source.told())) == [
        "orders, row 3: hidden by hand or by a filter; what stands there counts like all else",
        "orders, column E: hidden; what stands there counts like all else",
        "packs, the sheet: is hidden; its rows count like all others",
    ]
    rows = dict(source.grids["orders"].rows)
    assert rows[3][:4] == ["O-2", "Two lines", "Melon on Gourd", 960]


def edited(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    def edit(data: bytes) -> bytes:
        assert old in data
        return data.replace(old, new, 1)

    return edit


def test_forged_opendocument(ods: Path, tmp_path: Path) -> None:
    good = ods / "own.ods"

    def told(change: Callable[[bytes], bytes], part: str = CONTENT) -> str:
        return str(faults(forge(good, tmp_path / "bad.ods", part, change))[0])

    entity = b'?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><office:document-content'
    assert "entities" in told(lambda data: data.replace(b"?>\n<office:document-content", entity, 1))
    assert "damaged" in told(lambda data: data[:-30])
    repeated = b'<table:table-row table:number-rows-repeated="900000" table:style-name'
    assert "rows; keep only" in told(edited(b"<table:table-row table:style-name", repeated))
    wide = b'<table:table-cell table:number-columns-repeated="16000" office:value-type'
    assert "columns; keep only" in told(edited(b"<table:table-cell office:value-type", wide))
    assert "macros" in told(lambda data: b"x", "Basic/vbaProject.bin")
    bomb = swollen(good, tmp_path / "bomb.ods", CONTENT, 60_000_000, b" ")
    assert "zip bomb" in str(faults(bomb)[0])
    uncalculated = edited(b'office:value-type="float" office:value="480"', b'table:formula="of:=40*12"')
    assert "'=40*12' is a formula that was never calculated" in told(uncalculated)
    with zipfile.ZipFile(good) as archive:
        (day,) = {d for d in archive.read(CONTENT).split(b'"') if d == b"2027-04-30"}
    assert "has a time zone" in told(edited(day, day + b"T23:30:00+02:00"))


@pytest.mark.parametrize("country", COUNTRIES)
def test_text_files(country: str, book: Path, plain: Path, tmp_path: Path) -> None:
    saved = COUNTRIES[country]
    form = (
        f"Text - txt - csv (StarCalc):{ord(saved.separator)},34,{saved.character_set},1,,0,false,true,false"
    )
    made = converted([book], "csv", tmp_path, country, f"{form},false,false,-1")
    for file in made.iterdir():
        file.rename(made / file.name.removeprefix("own-"))
    asked = {
        (table, heading)
        for table, rows in grids(tables()).items()
        for position, heading in enumerate(rows[0])
        if saved.slashes and ambiguous(rows, position)
    }
    if asked:
        found = faults(made)
        assert {(fault.table, fault.column) for fault in found} == asked
        for table in {fault.table for fault in found}:
            file = made / f"{table}.csv"
            file.write_bytes(f"dates={saved.days}\n".encode() + file.read_bytes())
    scenario, remarks = read_with_remarks(made)
    assert scenario == read_scenario(plain)
    told = " ".join(map(in_words, remarks))
    assert (f"days read as {saved.days}" in told) is bool(saved.days)
    assert ("decimal commas" in told) is (country != "en-US")
