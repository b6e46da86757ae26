"""The command line as a user meets it: what it writes, what it prints, how it ends."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from model.proof.audit import Check
from model.scenario.entities import Scenario
from model.solver.compiled import SolveError
from scenarios.commands.command_line import BAD_INPUT, DONE, FAILED, SHORT, VERBS, main
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder, write_workbook
from scenarios.variants.by_name import path_of
from tests.places import ROOT, visible
from tests.strategies import base_scenario, with_rows

HOSTILE = "=HYPERLINK(A1)"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small scenario as a folder of CSV files."""
    write_folder(base_scenario(), tmp_path / "small")
    return tmp_path / "small"


def _short() -> Scenario:
    """A scenario whose bench holds no more than a tray."""
    return with_rows(base_scenario(), "zones", lambda zone: replace(zone, slots=1.0))


def test_plan_writes_workbook_and_tables(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    output = tmp_path / "out" / "plan"
    assert main(["plan", str(folder), "-o", str(output)]) == DONE
    assert visible(output) == ["plan.html", "plan.xlsx", "plan_pictures", "tables"]
    assert len(list((output / "plan_pictures").glob("*.png"))) > 4
    assert (output / "tables" / "waves.csv").is_file()
    assert len(openpyxl.load_workbook(output / "plan.xlsx").sheetnames) > 8
    told = capsys.readouterr()
    for word in ("cost", "short", "chamber", "work", "seed", "gap"):
        assert word in told.out
    assert "solve" in told.err
    assert "\x1b" not in told.out + told.err
    assert sorted(p.name for p in output.parent.iterdir()) == ["plan"]


def test_plan_and_check_remark_on_rows_that_do_not_show(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_workbook(base_scenario(), tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(tmp_path / "book.xlsx")
    book["orders"].row_dimensions[2].hidden = True
    book.save(tmp_path / "book.xlsx")
    assert main(["check", str(tmp_path / "book.xlsx")]) == DONE
    assert "remark: orders, row 2: hidden by hand or by a filter" in capsys.readouterr().out
    assert main(["plan", str(tmp_path / "book.xlsx"), "-o", str(tmp_path / "out")]) == DONE
    assert "remark: orders, row 2: hidden by hand or by a filter" in capsys.readouterr().err
    rows = openpyxl.load_workbook(tmp_path / "out" / "plan.xlsx")["Assumptions"].iter_rows(values_only=True)
    (told,) = [row for row in rows if row[:2] == ("orders", "row 2")]
    assert str(told[6]).startswith("hidden by hand or by a filter")


def test_compare_remarks_once_on_each_workbook_that_it_reads(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("one", "two"):
        write_workbook(base_scenario(), tmp_path / f"{name}.xlsx")
        book = openpyxl.load_workbook(tmp_path / f"{name}.xlsx")
        book["orders"].row_dimensions[2].hidden = True
        book.save(tmp_path / f"{name}.xlsx")
    (tmp_path / "dear.toml").write_text(
        'name = "dear"\nparent = "two.xlsx"\n'
        '[[change]]\ntable = "nursery"\ncolumn = "interest_rate"\nvalue = 0.05\n'
    )
    cases = [str(tmp_path / name) for name in ("one.xlsx", "two.xlsx", "dear.toml")]
    assert main(["compare", *cases, "-o", str(tmp_path / "out")]) == DONE
    remarks = [line for line in capsys.readouterr().err.splitlines() if "hidden" in line]
    assert [line.partition("orders, row 2: hidden")[0] for line in remarks] == [
        "remark: ",
        "remark: two.xlsx, ",
    ]


def test_a_plan_with_shortfall_ends_with_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_folder(_short(), tmp_path / "short")
    assert main(["plan", str(tmp_path / "short"), "-o", str(tmp_path / "out")]) == SHORT
    assert (tmp_path / "out" / "plan.xlsx").is_file()
    assert "short" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["program.lp", "program.mps"])
def test_the_program_is_written_beside_the_plan(
    name: str, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "new" / name
    assert main(["plan", str(folder), "-o", str(tmp_path / "out"), "--write-program", str(file)]) == DONE
    assert "joins(Red_on_Stout,2027.03.1" in file.read_text(encoding="ascii")
    assert [path.name for path in file.parent.iterdir()] == [name]
    assert str(file) in capsys.readouterr().out


@pytest.mark.parametrize("name", ["program.txt", "program", "program.lp.gz", "folder.lp"])
def test_a_program_of_no_known_format_is_refused_at_once(
    name: str, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "folder.lp").mkdir()
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(SystemExit) as stopped:
        main(["plan", str(folder), "-o", str(tmp_path / "out"), "--write-program", str(tmp_path / name)])
    assert stopped.value.code == BAD_INPUT
    assert ".lp or .mps" in capsys.readouterr().err
    assert sorted(tmp_path.rglob("*")) == before


def test_a_program_that_cannot_be_written_leaves_nothing(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr("model.solver.program_file.write_program", full)
    file = tmp_path / "new" / "program.lp"
    assert main(["plan", str(folder), "-o", str(tmp_path / "out"), "--write-program", str(file)]) == FAILED
    assert not (tmp_path / "out").exists()
    assert not file.parent.exists()


def test_planning_again_replaces_the_plan_and_keeps_other_files(folder: Path, tmp_path: Path) -> None:
    output = tmp_path / "out"
    assert main(["plan", str(folder), "-o", str(output)]) == DONE
    (output / "my notes.txt").write_text("keep", encoding="utf-8")
    (output / "tables" / "mine.csv").write_text("keep", encoding="utf-8")
    assert main(["plan", str(folder), "-o", str(output)]) == DONE
    assert (output / "my notes.txt").read_text(encoding="utf-8") == "keep"
    assert (output / "tables" / "mine.csv").read_text(encoding="utf-8") == "keep"


def test_a_plan_that_fails_the_audit_is_not_written(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = Check("seedlings suffice", False, "wave W0001, seedlings drawn: 12 is more than 10", 2.0)
    monkeypatch.setattr("model.proof.audit.audit", lambda *_: [wrong])
    assert main(["plan", str(folder), "-o", str(tmp_path / "out")]) == FAILED
    assert "wave W0001" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_solver_that_fails_leaves_the_last_plan(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    output = tmp_path / "out"
    assert main(["plan", str(folder), "-o", str(output)]) == DONE
    before = (output / "plan.xlsx").read_bytes()

    def fail(*_: object, **__: object) -> None:
        raise SolveError("Unknown")

    monkeypatch.setattr("model.solve.solve", fail)
    assert main(["plan", str(folder), "-o", str(output)]) == FAILED
    assert "Unknown" in capsys.readouterr().err
    assert (output / "plan.xlsx").read_bytes() == before


def test_a_write_that_fails_leaves_nothing_half_done(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("reports.plan.csv_tables.write_plan_tables", fail)
    assert main(["plan", str(folder), "-o", str(tmp_path / "out")]) == FAILED
    assert sorted(p.name for p in tmp_path.iterdir()) == ["small"]


def test_an_output_that_is_a_file_is_refused(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    assert main(["plan", str(folder), "-o", str(tmp_path / "file")]) == BAD_INPUT
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"


def test_check_tells_the_size_and_what_is_drawn_before_its_remarks(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["check", "hollow_ash"]) == DONE
    size, drawn, *remarks, last = capsys.readouterr().out.splitlines()
    assert "33 orders" in size
    assert drawn.startswith("Batches differ")
    assert remarks
    assert all(line.startswith("remark: ") for line in remarks)
    assert last == "no faults"


def test_check_of_nothing_is_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(tmp_path / "nowhere")]) == BAD_INPUT
    assert "does not exist" in capsys.readouterr().err


def test_blank_with_examples_is_the_demo(tmp_path: Path) -> None:
    assert main(["blank", str(tmp_path / "mine.xlsx"), "--examples"]) == DONE
    assert read_scenario(tmp_path / "mine.xlsx") == read_scenario(path_of("hollow_ash"))


def test_blank_writes_over_nothing(tmp_path: Path) -> None:
    (tmp_path / "mine.xlsx").write_text("mine", encoding="utf-8")
    assert main(["blank", str(tmp_path / "mine.xlsx")]) == BAD_INPUT
    assert (tmp_path / "mine.xlsx").read_text(encoding="utf-8") == "mine"
    assert main(["blank", str(tmp_path / "mine.csv")]) == BAD_INPUT
    assert not (tmp_path / "mine.csv").exists()


def test_convert_there_and_back_loses_nothing(folder: Path, tmp_path: Path) -> None:
    assert main(["convert", str(folder), str(tmp_path / "book.xlsx")]) == DONE
    assert main(["convert", str(tmp_path / "book.xlsx"), str(tmp_path / "again")]) == DONE
    assert read_scenario(tmp_path / "again") == base_scenario()
    assert main(["convert", str(folder), str(tmp_path / "book.ods")]) == BAD_INPUT


def test_names_that_look_like_formulas_or_paths_are_text_everywhere(tmp_path: Path) -> None:
    names = [HOSTILE, "+1", "-1", "@SUM(1)", "../../outside", "/etc/passwd"]
    base = base_scenario()
    orders = tuple(
        replace(base.orders[0], order=name, customer=name, quantity=10 + n) for n, name in enumerate(names)
    )
    write_workbook(replace(base, orders=orders), tmp_path / "hostile.xlsx")
    output = tmp_path / "out"
    assert main(["plan", str(tmp_path / "hostile.xlsx"), "-o", str(output)]) in (DONE, SHORT)
    book = openpyxl.load_workbook(output / "plan.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert {name for name in names if any(cell.value == name for cell in cells)} == set(names)
    for cell in cells:
        if cell.data_type == "f":
            assert not any(name in str(cell.value) for name in names[:4])
    csv = (output / "tables" / "orders.csv").read_text(encoding="utf-8")
    for name in names[:4]:
        assert f"'{name}" in csv
        assert f",{name}" not in csv
        assert f"\n{name}" not in csv
    assert sorted(p.name for p in tmp_path.iterdir()) == ["hostile.xlsx", "out"]


@pytest.mark.parametrize("verb", ["", "plan", "quote", "check"])
def test_the_help_comes_without_the_solver(verb: str) -> None:
    asked = [verb, "--help"] if verb else ["--help"]
    told = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "scenarios", *asked],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert told.returncode == 0
    assert (
        VERBS[verb].help in " ".join(told.stdout.split())
        if verb
        else all(name in told.stdout for name in VERBS)
    )
    imported = {line.split("|")[-1].strip() for line in told.stderr.splitlines()}
    assert "scenarios.commands.study_verbs" in imported
    assert not imported & {"pandas", "numpy", "pyomo", "highspy", "openpyxl", "rich"}
