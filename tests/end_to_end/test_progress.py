"""Progress on the command line: told in a file, with today, for any verb that reads a scenario."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from scenarios.commands.command_line import BAD_INPUT, DONE, SHORT, main
from scenarios.files.read_scenario import read_scenario
from tests.bad_input.progress import record, told
from tests.bad_input.small import Cells, grids, write_csvs

BESIDE = ("--progress", "week_15.csv", "--today", "2027-04-17")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the scenario of the record, which tells nothing itself, and the record as a file."""
    tables = told()
    tables.pop("progress")
    tables["nursery"][0]["today"] = None
    write_csvs(grids(tables), tmp_path / "spring")
    write_file(record(), tmp_path)
    (tmp_path / "late.toml").write_text(
        'name = "late"\nparent = "spring"\n'
        '[[change]]\ntable = "orders"\nrow = "O-4"\ncolumn = "due_day"\nvalue = 2027-05-28\n'
    )
    monkeypatch.chdir(tmp_path)
    return tmp_path


def write_file(rows: list[Cells], place: Path) -> None:
    write_csvs({"week_15": grids({"progress": rows})["progress"]}, place)


@pytest.mark.parametrize("scenario", ["spring", "late.toml"])
def test_a_plan_from_today_keeps_what_was_told(scenario: str, place: Path) -> None:
    assert main(["plan", scenario, *BESIDE, "-o", "out"]) == SHORT
    waves = pd.read_csv(place / "out" / "tables" / "waves.csv")
    sown = {(row["lot"], row["sow_day"]): row["trays"] for _, row in waves.iterrows()}
    assert sown["Stout 26A", "2027-03-17"] == 8
    assert not [key for key in sown if key[1] < "2027-04-17" and key[1] > "2027-03-18"]
    delivered = pd.read_csv(place / "out" / "tables" / "deliveries.csv").set_index("order")
    assert delivered.loc["O-3", "plants"] == 180


@pytest.mark.parametrize("verb", ["costs", "compare", "risk", "prices"])
def test_a_study_from_today(verb: str, place: Path) -> None:
    variants = ["late.toml"] if verb == "compare" else []
    assert main([verb, "spring", *variants, *BESIDE, "-o", "out"]) == DONE
    assert (place / "out" / f"{verb}.xlsx").is_file()


def test_check_says_how_much_is_told(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "spring", *BESIDE]) == DONE
    assert "14 rows of progress before 2027-04-17" in capsys.readouterr().out
    assert main(["check", "spring"]) == DONE
    assert "progress" not in capsys.readouterr().out


@pytest.mark.parametrize("target", ["told.xlsx", "told"])
def test_convert_puts_table_and_file_together(target: str, place: Path) -> None:
    assert main(["convert", "spring", target, *BESIDE]) == DONE
    found = read_scenario(place / target)
    assert (found.nursery.today, len(found.progress)) == (date(2027, 4, 17), len(record()))
    assert main(["check", target]) == DONE


@pytest.mark.parametrize("command", ["check spring", "plan spring -o out", "costs late.toml -o out"])
def test_faults_name_the_file_and_nothing_is_written(
    command: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = record()
    rows[5]["number"] = 206
    rows[13]["day"] = date(2027, 4, 17)
    write_file(rows, place)
    before = sorted(place.rglob("*"))
    assert main([*command.split(), *BESIDE]) == BAD_INPUT
    assert capsys.readouterr().err.splitlines()[-3:] == [
        "week_15.csv, row 7, number: '206' is more than the 205 seedlings of lot 'Red 26A' in '72' sown on "
        "2027-03-08; write at most 205, or correct the wave's count",
        "week_15.csv, row 15, day: '2027-04-17' is not before today (2027-04-17); write an earlier "
        "day; to record today's work, first set today to the next day",
        "2 faults; the scenario was not used",
    ]
    assert sorted(place.rglob("*")) == before


def test_a_file_that_is_not_there(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "spring", "--progress", "week_16.csv", "--today", "2027-04-17"]) == BAD_INPUT
    assert capsys.readouterr().err.startswith("week_16.csv: is not a file; put a CSV file in its place")


def test_a_quote_from_today(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is asked for has no past, and none can be due in it."""
    asked = ["--product", "Red on Stout", "--quantity", "300", "--due"]
    assert main(["quote", "spring", *BESIDE, *asked, "2027-05-26", "-o", "out"]) == DONE
    assert (place / "out" / "quote.xlsx").is_file()
    capsys.readouterr()
    assert main(["quote", "spring", *BESIDE, *asked, "2027-04-15", "-o", "late"]) == BAD_INPUT
    told = capsys.readouterr().err
    assert "due_day: '2027-04-15' is before today (2027-04-17); write a day from 2027-04-17 on" in told
