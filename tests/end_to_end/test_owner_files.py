"""What belongs to the owner stays: no verb writes over what it reads, or over what it has not written."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from model.scenario.entities import Scenario
from scenarios.commands.command_line import BAD_INPUT, DONE, VERBS, main
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder, write_workbook
from tests.places import ROOT, visible
from tests.strategies import base_scenario, with_nursery

STUDIES = [
    verb
    for verb in VERBS
    if verb not in ("plan", "replan", "work", "check", "start", "blank", "convert", "desk")
]
MORE = {
    "quote": ["--product", "Red on Stout", "--quantity", "40", "--due", "2027-03-20"],
    "break-even": ["--of", "take"],
    "rates": ["counts.csv"],
    "heat": [
        *("--zone", "House", "--area", "100", "--u-value", "6", "--set-point", "18"),
        *("--outdoor=-3,-1,4,9,14,18,20,19,15,9,4,-1", "--fuel-price", "1", "--fuel-heat", "10"),
    ],
    "payback": ["--plants", "20000", "--own-root-yield", "60", "--fruit-price", "600"],
}


@pytest.fixture(autouse=True)
def nothing_is_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    """All of this is told before anything is solved."""

    def solved(*_: object, **__: object) -> None:
        raise AssertionError("solved")

    monkeypatch.setattr("model.solve.solve", solved)
    monkeypatch.setattr("model.season.replanning.replan", solved)


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a scenario, where the command is run."""
    monkeypatch.chdir(tmp_path)
    write_folder(base_scenario(), tmp_path / "book")
    return tmp_path / "book"


def everything(folder: Path) -> dict[str, bytes | None]:
    """All that is there, hidden or not."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


def refused(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> str:
    """What is told where a command is refused; nothing has changed then."""
    before = everything(Path())
    assert main([str(argument) for argument in arguments]) == BAD_INPUT
    assert everything(Path()) == before
    told = capsys.readouterr()
    assert "solve" not in told.err
    return told.err


def test_the_scenario_is_not_written_over(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("s").mkdir()
    write_workbook(base_scenario(), Path("s/plan.xlsx"))
    told = refused(capsys, "plan", "s/plan.xlsx", "-o", "s")
    assert told == (
        "s/plan.xlsx would be written over s/plan.xlsx, which is read as the scenario; "
        "name another folder with -o\n"
    )
    Path("link").symlink_to("s/plan.xlsx")
    Path("way").symlink_to("s")
    for scenario in ("link", "way/plan.xlsx"):
        assert f"over {scenario}," in refused(capsys, "plan", scenario, "-o", "way")


@pytest.mark.parametrize("verb", STUDIES)
def test_no_study_writes_over_its_scenario(verb: str, book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("counts.csv").write_text("")
    shutil.copytree(book, f"out/{verb}_pictures")
    write_workbook(base_scenario(), Path(f"out/{verb}.xlsx"))
    for scenario in (f"{verb}.xlsx", f"{verb}_pictures"):
        told = refused(capsys, verb, f"out/{scenario}", *MORE.get(verb, []), "-o", "out")
        assert f"out/{scenario} would be written over out/{scenario}" in told


@pytest.mark.parametrize("verb", ["plan", "work", "replan", *STUDIES])
def test_a_workbook_of_the_owner_is_not_replaced(
    verb: str, book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("counts.csv").write_text("")
    name = "work_lists.xlsx" if verb == "work" else f"{verb}.xlsx"
    Path("out").mkdir()
    Path("out", name).write_text("mine")
    more = ["--last", "last"] if verb == "replan" else MORE.get(verb, [])
    told = refused(capsys, verb, "book", *more, "-o", "out")
    assert f"out/{name} was not written by this program; move it away, or name another folder" in told


def test_the_scenarios_progress_is_not_replaced_by_a_forecast(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = refused(capsys, "work", "book", "-o", "book")
    assert "book/progress_as_planned.csv would be written among the tables of book, the scenario" in told
    Path("out").mkdir()
    shutil.copy(book / "orders.csv", "out/progress_as_planned.csv")
    told = refused(capsys, "work", "book", "--progress", "out/progress_as_planned.csv", "-o", "out")
    assert "would be written over out/progress_as_planned.csv, which is read as the progress" in told


@pytest.mark.parametrize("verb, name", [("rates", "counted_rates"), ("margins", "tuned_margins")])
def test_a_variant_is_not_written_over_its_parent(
    verb: str, name: str, book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("counts.csv").write_text("")
    Path("out").mkdir()
    Path(f"out/{name}.toml").write_text('name = "mine"\nparent = "../book"\n')
    Path("child.toml").write_text(f'name = "child"\nparent = "out/{name}.toml"\n')
    for scenario, what in ((f"out/{name}.toml", "the scenario"), ("child.toml", "a part of the scenario")):
        told = refused(capsys, verb, scenario, *MORE.get(verb, []), "-o", "out")
        assert f"over out/{name}.toml, which is read as {what};" in told


def test_other_files_that_are_read(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("out/tables").mkdir(parents=True)
    write_workbook(base_scenario(), Path("out/compare.xlsx"))
    told = refused(capsys, "compare", "book", "out/compare.xlsx", "-o", "out")
    assert "over out/compare.xlsx, which is read as a variant to compare" in told
    told = refused(capsys, "replan", "book", "--last", "out", "-o", "out")
    assert "out/tables would be written over out/tables/waves.csv, which is read as the last plan" in told
    Path("out/rates_pictures").mkdir()
    Path("out/rates_pictures/counts.csv").write_text("")
    told = refused(capsys, "rates", "book", "out/rates_pictures/counts.csv", "-o", "out")
    assert "which is read as the log of counts" in told
    Path("out/quote_pictures").mkdir()
    Path("out/quote_pictures/asked.csv").write_text("")
    told = refused(capsys, "quote", "book", "--orders", "out/quote_pictures/asked.csv", "-o", "out")
    assert "which is read as the orders asked for" in told


def test_all_in_the_way_is_named(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("out/plan.xlsx").mkdir(parents=True)
    Path("out/plan.xlsx/mine").write_text("mine")
    Path("out/tables").write_text("mine")
    told = refused(capsys, "plan", "book", "-o", "out")
    assert told.count("move it away, or name another folder with -o") == 2


def test_new_files_and_folders_replace_nothing(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_workbook(base_scenario(), Path("mine.xlsx"))
    Path("full").mkdir()
    Path("full/mine.txt").write_text("mine")
    Path("dead").symlink_to("nowhere")
    for target in ("mine.xlsx", "full", "book", "dead"):
        assert f"{target} exists already" in refused(capsys, "convert", "book", target)
    assert "mine.xlsx exists already" in refused(capsys, "blank", "mine.xlsx")
    Path("mine.lp").write_text("mine")
    told = refused(capsys, "plan", "book", "-o", "out", "--write-program", "mine.lp")
    assert "mine.lp exists already" in told
    told = refused(capsys, "plan", "book", "-o", "out", "--write-program", "/proc/mine.lp")
    assert "cannot write /proc/mine.lp: No such file or directory; name another place" in told


def test_a_scenario_converted_into_the_folder_of_the_command(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("empty").mkdir()
    monkeypatch.chdir("empty")
    assert main(["convert", "../book", "."]) == DONE
    assert read_scenario(Path()) == base_scenario()
    assert main(["check", "."]) == DONE


# Several at once


def _scenario(quantity: int) -> Scenario:
    base = with_nursery(base_scenario(), overhead=float(quantity))
    return replace(base, orders=(replace(base.orders[0], quantity=quantity),))


def _command(*arguments: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "scenarios.commands.command_line", *arguments],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd=ROOT,
    )


def test_a_reader_always_finds_a_whole_workbook_while_two_runs_write(tmp_path: Path) -> None:
    out, quantities = tmp_path / "out", (60, 100)
    for quantity in quantities:
        write_folder(_scenario(quantity), tmp_path / str(quantity))
    arguments = [("plan", str(tmp_path / str(quantity)), "-o", str(out)) for quantity in quantities]
    assert _command(*arguments[0]).wait() == DONE
    reader = subprocess.Popen(
        [sys.executable, "-m", "tests.reader", str(out / "plan.xlsx")],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    for _ in range(2):
        runs = [_command(*one) for one in arguments]
        assert [run.wait() for run in runs] == [DONE, DONE]
        (told,) = pd.read_csv(out / "tables" / "orders.csv")["quantity"].tolist()
        book = openpyxl.load_workbook(out / "plan.xlsx", data_only=True)
        numbers = {cell for row in book["Orders"].values for cell in row if isinstance(cell, int | float)}
        assert {*quantities} & numbers == {told}
    found, _ = reader.communicate()
    assert reader.returncode == 0
    opened, different = map(int, found.split())
    assert opened > 5
    assert 2 <= different <= 5
    assert visible(tmp_path) == ["100", "60", "out"]
