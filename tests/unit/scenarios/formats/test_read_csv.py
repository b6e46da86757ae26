"""Folders of CSV files: what is wrong with the files themselves, and what is passed over."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from scenarios.cells.faults import BadInput, Fault
from scenarios.files.read_scenario import read_scenario
from tests.bad_input.small import grids, small, write_csvs


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_csvs(grids(small()), tmp_path / "scenario")


def the_fault(path: Path) -> Fault:
    with pytest.raises(BadInput) as caught:
        read_scenario(path)
    assert len(caught.value.faults) == 1, caught.value.faults
    return caught.value.faults[0]


def text(*lines: str) -> bytes:
    return "\n".join(lines).encode()


HEADING = "order,customer,product,quantity,due_day"
GOOD, REST = "O-1,Farm,Red on Stout,480,2027-04-30", "Red on Stout,480,2027-04-30"

FILES = {
    "empty": (b"", None, "empty file", "take the file away"),
    "only spaces": (b" \n \n", None, "empty file", "take the file away"),
    "not UTF-8": (
        text(HEADING, GOOD, "O-2,") + b"Mu\xf1oz," + text(REST),
        3,
        "not UTF-8 text (byte 0xf1), and may be text of several code pages",
        "encoding=windows-1252 for 'Muñoz', encoding=windows-1250 for 'Muńoz'",
    ),
    "only a byte order mark": ("\ufeff".encode(), None, "empty file", "take the file away"),
    "half of UTF-16": (("\ufeff" + HEADING).encode("utf-16-le")[:-1], None, "UTF-16", "CSV UTF-8"),
    "UTF-16 without its mark": (HEADING.encode("utf-16-le"), None, "NUL", "CSV UTF-8"),
    "an encoding that is none": (text("encoding=latin", HEADING, GOOD), 1, "'latin'", "windows-1252"),
    "not the encoding it names": (text("encoding=utf-8", HEADING) + b"\xe9", 2, "not utf-8", "another"),
    "order of dates that is none": (
        text("dates=day/month", HEADING, GOOD),
        1,
        "known here",
        "day/month/year",
    ),
    "NUL": (text(HEADING, GOOD) + b"\0", None, "NUL", "CSV UTF-8"),
    "semicolons in the heading alone": (
        text(HEADING.replace(",", ";"), GOOD),
        2,
        "1 cells, the heading 5",
        "by semicolons",
    ),
    "another separator than it names": (text("sep=;", HEADING, GOOD), 1, "names semicolons", "sep=,"),
    "long row": (
        text(HEADING, GOOD, f"O-2,Farm,1,{REST}"),
        3,
        "6 cells",
        "double quotes",
    ),
    "short row": (text(HEADING, "O-1,Farm,Red on Stout,480"), 2, "4 cells, the heading 5", "comma"),
    "open quotes": (text(HEADING, 'O-1,"Farm,Red on Stout,480,2027-04-30'), 2, "double quotes", "twice"),
    "long cell": (
        text(HEADING, f"O-1,{'x' * 200_000},{REST}"),
        2,
        "131,072",
        "shorten",
    ),
    "no heading": (text("", HEADING, GOOD), 1, "no heading", "order, customer"),
    "too many rows": (text(HEADING, *[GOOD] * 100_000), None, "100,000 rows", "rows of the table"),
    "too many cells": (text("order" + ",x" * 149, *[","] * 14_000), None, "2,000,000 cells", "rows of"),
    "too many columns": (
        text("c" + ",c" * 299, "1"),
        1,
        "300 columns",
        "columns of",
    ),
}


@pytest.mark.parametrize("name", FILES)
def test_a_bad_file_is_one_fault(name: str, folder: Path) -> None:
    data, row, wrong, remedy = FILES[name]
    (folder / "orders.csv").write_bytes(data)
    fault = the_fault(folder)
    assert (fault.table, fault.row) == ("orders", row)
    assert wrong in fault.wrong
    assert remedy in fault.remedy


def test_missing_path(tmp_path: Path) -> None:
    fault = the_fault(tmp_path / "nowhere")
    assert fault.value == str(tmp_path / "nowhere")
    assert "does not exist" in fault.wrong
    assert "folder of CSV files" in fault.remedy


def test_path_that_cannot_be() -> None:
    assert "cannot be looked up" in the_fault(Path("x" * 5000)).wrong


def test_broken_link(tmp_path: Path) -> None:
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "nothing")
    assert "symbolic link to nothing" in the_fault(link).wrong


def test_link_to_a_folder_is_followed(folder: Path, tmp_path: Path) -> None:
    link = tmp_path / "link"
    link.symlink_to(folder)
    assert read_scenario(link) == read_scenario(folder)


def test_link_within_a_folder_is_a_fault(folder: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("a secret, that no message may show")
    (folder / "orders.csv").unlink()
    (folder / "orders.csv").symlink_to(secret)
    fault = the_fault(folder)
    assert (fault.table, fault.wrong) == ("orders", "is a symbolic link")
    assert "file itself" in fault.remedy
    assert "secret" not in str(fault)


def test_folder_in_place_of_a_file(folder: Path) -> None:
    (folder / "crews.csv").unlink()
    (folder / "crews.csv").mkdir()
    fault = the_fault(folder)
    assert (fault.table, fault.wrong) == ("crews", "is not a file")


def test_pipe_in_place_of_a_file(folder: Path) -> None:
    (folder / "crews.csv").unlink()
    os.mkfifo(folder / "crews.csv")
    assert the_fault(folder).wrong == "is not a file"


def test_unreadable_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(BadInput) as caught:
        read_scenario(folder)
    assert {fault.wrong for fault in caught.value.faults} == {"cannot be read: Permission denied"}
    assert len(caught.value.faults) == len(small())


def test_unreadable_folder(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    assert the_fault(folder).wrong == "cannot be read: Permission denied"


def test_folder_without_tables(tmp_path: Path) -> None:
    (tmp_path / "readme.txt").write_text("hello")
    fault = the_fault(tmp_path)
    assert (fault.value, fault.wrong) == (str(tmp_path), "holds no table")
    assert "nursery.csv" in fault.remedy


def test_one_table_in_two_files(folder: Path) -> None:
    (folder / "orders.CSV").write_bytes((folder / "orders.csv").read_bytes())
    fault = the_fault(folder)
    assert (fault.table, fault.wrong) == ("orders", "is the same table again")
    assert "keep one" in fault.remedy


def test_other_and_hidden_files_are_passed_over(folder: Path) -> None:
    before = read_scenario(folder)
    (folder / "# how to fill in.csv").write_text("read me")
    (folder / "fewer hands.toml").write_text("[crews]")
    (folder / ".orders.csv").write_text("nonsense")
    assert read_scenario(folder) == before


def test_blank_rows_order_of_columns_and_units_are_free(folder: Path) -> None:
    before = read_scenario(folder)
    lines = (folder / "packs.csv").read_text().splitlines()
    turned = [",".join(reversed(line.split(","))) for line in lines]
    turned[0] = "price [currency/pack],size [units],item"
    (folder / "packs.csv").write_text("\ufeff" + "\r\n".join([turned[0], "", ",,", *turned[1:], "", ""]))
    assert read_scenario(folder) == before


@pytest.mark.parametrize(
    "name", ["NA", "null", "None", "nan", "#N/A", "-", "1e5", "TRUE", "2027-04-30", "=1+1", "'t Hof"]
)
def test_names_are_text_whatever_they_look_like(name: str, tmp_path: Path) -> None:
    tables = small()
    tables["orders"][0]["customer"] = name
    scenario = read_scenario(write_csvs(grids(tables), tmp_path / "scenario"))
    assert scenario.orders[0].customer == name


def test_spaces_around_names_are_passed_over(tmp_path: Path) -> None:
    tables = small()
    tables["products"][0]["product"] = "  Red on Stout\u00a0"
    tables["orders"][0]["product"] = "Red on Stout "
    tables["crews"][0]["skills"] = " grafting ;  general "
    plain = read_scenario(write_csvs(grids(small()), tmp_path / "plain"))
    assert read_scenario(write_csvs(grids(tables), tmp_path / "spaced")) == plain


@pytest.mark.parametrize("name", ["../../x", "C:\\x", "/etc/passwd", "con", "a/../b"])
def test_a_name_that_is_a_path_is_text(name: str, tmp_path: Path) -> None:
    tables = small()
    tables["nursery"][0]["name"] = name
    for table, column in (("orders", "order"), ("zones", "zone")):
        tables[table].append(tables[table][0] | {column: name})
    scenario = read_scenario(write_csvs(grids(tables), tmp_path / "scenario"))
    assert scenario.nursery.name == scenario.orders[-1].order == scenario.zones[-1].zone == name
