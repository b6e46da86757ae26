"""Files that LibreOffice writes: workbooks of three kinds, and text files of five countries."""

from __future__ import annotations

import random
import zipfile
from collections.abc import Callable
from contextlib import suppress
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


@pytest.fixture(scope="module")
def xls(book: Path, odd: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return converted([book, odd], "xls", tmp_path_factory.mktemp("xls"), "de-DE")


@pytest.fixture
def both(request: pytest.FixtureRequest) -> Path:
    """The odd workbook as OpenDocument or of the old kind."""
    folder: Path = request.getfixturevalue(request.param)
    return folder / f"odd.{request.param}"


def test_workbooks(ods: Path, xls: Path, book: Path, plain: Path, tmp_path: Path) -> None:
    """Each kind, and each under the name of another kind, is the scenario, with nothing to remark on."""
    xlsx = converted([book], "xlsx", tmp_path, "de-DE") / "own.xlsx"
    sound = read_scenario(plain)
    for made, other in ((xlsx, ".xls"), (ods / "own.ods", ".xlsx"), (xls / "own.xls", ".ods")):
        assert read_with_remarks(made) == (sound, [])
        renamed = tmp_path / f"renamed{other}"
        renamed.write_bytes(made.read_bytes())
        assert read_scenario(renamed) == sound


def faults(path: Path) -> list[Fault]:
    with pytest.raises(BadInput) as caught:
        read_scenario(path)
    return caught.value.faults


@pytest.mark.parametrize("both", ["ods", "xls"], indirect=True)
def test_what_a_reader_may_miss(both: Path) -> None:
    assert [(f.table, f.row, f.column, f.wrong) for f in faults(both)] == [
        ("orders", 4, "customer", "is the error of a formula"),
        ("orders", 5, "product", "is the error of a formula"),
        ("crews", 2, "crew", "is merged cells"),
    ]


@pytest.mark.parametrize("both", ["ods", "xls"], indirect=True)
def test_hidden_parts(both: Path) -> None:
    source = read_workbook(both)
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


@pytest.mark.parametrize("seed", range(40))
def test_a_damaged_workbook_of_the_old_kind_is_a_fault_or_harmless(
    seed: int, xls: Path, tmp_path: Path
) -> None:
    chance = random.Random(seed)
    data = bytearray((xls / "own.xls").read_bytes())
    for _ in range(chance.choice((1, 3, 20, 200))):
        data[chance.randrange(512, len(data))] = chance.randrange(256)
    (tmp_path / "bad.xls").write_bytes(data[: chance.choice((len(data), chance.randrange(len(data))))])
    with suppress(BadInput):
        assert read_scenario(tmp_path / "bad.xls").orders


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
