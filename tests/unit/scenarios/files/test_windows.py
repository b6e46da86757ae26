"""What Windows does otherwise with files, tried on Linux: open files stay, devices have names."""

from __future__ import annotations

import io
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from scenarios.commands.command_line import main
from scenarios.commands.running import BAD_INPUT, DONE, FAILED
from scenarios.desk.workplace import Workplace, written
from scenarios.files.output import claim, new_file, new_folder
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder, write_workbook
from scenarios.formats.held import in_words
from tests.strategies import base_scenario
from tests.windows import like_windows, open_below


def test_a_run_writes_its_files_where_no_open_file_can_be_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lock is open while it is held, so its file may not be deleted before it is given back."""
    like_windows(monkeypatch)
    folder = tmp_path / "made" / "here"
    claim(folder, ["a.txt"], {})
    assert not folder.parent.exists(), "a claim leaves nothing"
    for text in ("one", "two"):
        with claim(folder, ["a.txt", "tables/"], {}).writing() as part:
            (part / "a.txt").write_text(text)
            (part / "tables").mkdir()
            (part / "tables" / "b.csv").write_text(text)
        assert (folder / "a.txt").read_text() == (folder / "tables" / "b.csv").read_text() == text
    with new_file(tmp_path / "new.txt") as part:
        part.write_text("new")
    with new_folder(tmp_path / "other", ["a.txt"]) as part:
        (part / "a.txt").write_text("new")
    assert (tmp_path / "new.txt").read_text() == (tmp_path / "other" / "a.txt").read_text() == "new"
    assert open_below(tmp_path) == []


def test_a_file_of_the_last_run_that_is_open_is_told_and_all_stay_as_they_were(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    like_windows(monkeypatch)
    names = ["a.txt", "b.txt"]

    def write(text: str) -> None:
        with claim(tmp_path, names, {}).writing() as part:
            for name in names:
                (part / name).write_text(text)

    write("old")
    with (tmp_path / "b.txt").open(), pytest.raises(PermissionError) as caught:
        write("new")
    assert in_words(caught.value).startswith(f"{tmp_path / 'b.txt'} is open in another program; close it")
    assert [(tmp_path / name).read_text() for name in names] == ["old", "old"]


def test_a_plan_is_made_and_a_table_of_it_that_is_open_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book, out = tmp_path / "book.xlsx", tmp_path / "out"
    write_workbook(base_scenario(), book)
    like_windows(monkeypatch)
    assert main(["plan", str(book), "-o", str(out)]) == DONE
    table = next((out / "tables").glob("*.csv"))
    with table.open():
        assert main(["plan", str(book), "-o", str(out)]) == FAILED
    assert f"{table} is open in another program; close it" in capsys.readouterr().err
    assert main(["plan", str(book), "-o", str(out)]) == DONE
    assert open_below(tmp_path) == []


def test_reading_leaves_no_file_open_so_that_the_spreadsheet_program_can_save(tmp_path: Path) -> None:
    write_workbook(base_scenario(), tmp_path / "book.xlsx")
    write_folder(base_scenario(), tmp_path / "book")
    assert read_scenario(tmp_path / "book.xlsx") == read_scenario(tmp_path / "book")
    assert open_below(tmp_path) == []


def test_access_denied_is_told_as_an_open_file_only_where_it_is_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows denies access (5) where a file that is open would be replaced, and in a folder of others."""
    path = tmp_path / "a.csv"
    path.write_text("a")
    denied = PermissionError(13, "denied", str(tmp_path / "new"), None, str(path))
    denied.winerror = 5  # type: ignore[attr-defined]
    assert in_words(denied).startswith("cannot read or write: ")

    def shared(*_: Any, **__: Any) -> None:
        error = PermissionError(13, "shared")
        error.winerror = 32  # type: ignore[attr-defined]
        raise error

    monkeypatch.setattr("builtins.open", shared)
    assert in_words(denied).startswith(f"{path} is open in another program; close it")


def test_the_desk_writes_its_memory_while_another_page_reads_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = os.replace
    refused = iter(range(5))

    def busy(part: Any, path: Any) -> None:
        if next(refused, None) is not None:
            raise PermissionError(13, "shared")
        place(part, path)

    monkeypatch.setattr(os, "replace", busy)
    monkeypatch.setattr("scenarios.desk.workplace.PAUSE", 0)
    written(tmp_path / "desk.json", b"new")
    assert [path.name for path in tmp_path.iterdir()] == ["desk.json"]
    assert (tmp_path / "desk.json").read_bytes() == b"new"


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("CON.xlsx", "CON_.xlsx"),
        ("nul.tar.csv", "nul_tar_.csv"),
        ("com1 .toml", "com1_.toml"),
        ("console.xlsx", "console.xlsx"),
        ("book. .xlsx", "book.xlsx"),
        ("~$book.xlsx", "$book.xlsx"),
        ("....toml", "scenario.toml"),
        (f"{'a' * 300}.xlsx", f"{'a' * 80}.xlsx"),
        ('a<b>:"|?*.csv', "a_b______.csv"),
        ("C:\\Users\\me\\own.xlsx", "own.xlsx"),
        ("", "scenario"),
    ],
)
def test_a_file_dropped_gets_a_name_that_every_system_takes(given: str, kept: str, tmp_path: Path) -> None:
    assert Workplace(tmp_path).add(given, b"x") == kept


@pytest.mark.parametrize("console", ["cp850", "cp1252", "ascii"])
def test_a_console_with_few_letters_shows_the_others_as_escapes(
    console: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """cp850 and cp1252 are what Windows' consoles and redirected outputs have in Western Europe."""
    scenario = base_scenario()
    nursery = replace(scenario.nursery, name="Żółw Müller 苗", currency="EUR")
    write_folder(replace(scenario, nursery=nursery), tmp_path / "book")
    shown = {name: io.TextIOWrapper(io.BytesIO(), encoding=console) for name in ("stdout", "stderr")}
    for name, stream in shown.items():
        monkeypatch.setattr(sys, name, stream)
    assert main(["plan", str(tmp_path / "book"), "-o", str(tmp_path / "Żółw")]) == DONE
    assert main(["plan", str(tmp_path / "苗"), "-o", str(tmp_path / "out")]) == BAD_INPUT
    for stream in shown.values():
        stream.flush()
    out, err = (stream.buffer.getvalue().decode(console) for stream in shown.values())
    shown_name = "M\\xfcller" if console == "ascii" else "Müller"
    assert f"{shown_name} \\u82d7" in out
    assert "does not exist" in err
