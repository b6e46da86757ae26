"""The same scenario gives the same bytes: SOURCE_DATE_EPOCH fixes the time that stands in workbooks."""

from __future__ import annotations

import zipfile
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from scenarios.commands.command_line import DONE, main
from scenarios.files.write_scenario import write_folder
from tests.strategies import base_scenario

AT = datetime(2027, 1, 4, 6, 30)


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int((AT - datetime(1970, 1, 1)).total_seconds())))
    write_folder(base_scenario(), tmp_path / "book")
    return tmp_path / "book"


def contents(folder: Path) -> dict[str, bytes]:
    """All files of a folder but the program's own list of them."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and ".graftwright" not in path.parts
    }


def test_two_plans_have_the_same_bytes(book: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert main(["plan", str(book), "-o", str(tmp_path / name)]) == DONE
    one, two = contents(tmp_path / "one"), contents(tmp_path / "two")
    assert {"plan.xlsx", "plan.html", "tables/facts.csv"} <= set(one)
    assert [name for name in one if one[name] != two.get(name)] == []
    assert set(one) == set(two)


def test_workbooks_to_fill_in_bear_the_fixed_time(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("one", "two"):
        monkeypatch.setattr("time.time", lambda name=name: {"one": 1.8e9, "two": 1.9e9}[name])
        assert main(["convert", str(book), str(tmp_path / f"{name}.xlsx")]) == DONE
        assert main(["blank", str(tmp_path / f"{name} blank.xlsx")]) == DONE
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    assert (tmp_path / "one blank.xlsx").read_bytes() == (tmp_path / "two blank.xlsx").read_bytes()
    with zipfile.ZipFile(tmp_path / "one.xlsx") as archive:
        assert {part.date_time for part in archive.infolist()} == {AT.timetuple()[:6]}
    properties = openpyxl.load_workbook(tmp_path / "one.xlsx").properties
    assert (properties.created, properties.modified) == (AT, AT)


@pytest.mark.parametrize("fixed", ["0", "9" * 30, "soon", ""])
def test_a_time_that_no_workbook_can_bear_does_no_harm(
    fixed: str, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", fixed)
    assert main(["convert", str(book), str(tmp_path / "made.xlsx")]) == DONE
    assert main(["check", str(tmp_path / "made.xlsx")]) == DONE
