"""How runs end that cannot go on: one plain sentence, an exit code, nothing written; and Ctrl-C."""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from model.scenario.canonical import canonical
from model.scenario.records.trade import Module
from model.solve import plan
from reports.plan.csv_tables import write_plan_tables
from scenarios.cells.faults import BadInput, Fault, ranges, render_faults
from scenarios.commands import command_line
from scenarios.commands.command_line import BAD_INPUT, DONE, FAILED, STOPPED, main
from scenarios.commands.endings import DETAILS, ending
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder
from scenarios.rules.look_alikes import look_alikes, skeleton
from tests.bad_input.small import grids, small, write_csvs
from tests.places import ROOT
from tests.scenario_parts import order
from tests.strategies import base_scenario


def _raises(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def run(options: Namespace) -> int:
        raise error

    verb = command_line.VERBS["check"]
    monkeypatch.setitem(command_line.VERBS, "check", verb._replace(run=run))


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (MemoryError(), FAILED, "not enough memory"),
        (np._core._exceptions._ArrayMemoryError((3,), np.dtype(float)), FAILED, "not enough memory"),
        (OSError(errno.ENOSPC, "x"), FAILED, "the disk is full"),
        (OSError(errno.EFBIG, "x"), FAILED, "larger than this machine allows"),
        (OSError(errno.ENAMETOOLONG, "x"), BAD_INPUT, "is too long"),
        (PermissionError(errno.EACCES, "denied"), FAILED, "cannot read or write"),
        (KeyboardInterrupt(), STOPPED, "stopped; nothing written"),
        (ZeroDivisionError("by 0"), FAILED, "error of its own (ZeroDivisionError: by 0)"),
        (RecursionError(), FAILED, "error of its own (RecursionError)"),
    ],
)
def test_every_error_ends_in_one_sentence(
    error: BaseException,
    code: int,
    words: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.delenv(DETAILS, raising=False)
    _raises(monkeypatch, error)
    assert main(["check", "hollow_ash"]) == code
    told = capsys.readouterr().err
    assert words in told
    assert "Traceback" not in told
    assert len(told.splitlines()) == 1


def test_details_of_an_error_are_told_where_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv(DETAILS, "1")
    _raises(monkeypatch, ZeroDivisionError("by 0"))
    assert main(["check", "hollow_ash"]) == FAILED
    assert "Traceback" in capsys.readouterr().err


def test_a_wrapped_error_is_told_by_its_cause_and_memory_by_what_needs_less() -> None:
    outer = RuntimeError("workbook")
    outer.__cause__ = OSError(errno.ENOSPC, "x")
    assert ending(outer, Namespace())[0].startswith("the disk is full")
    told, _ = ending(MemoryError(), Namespace(seasons=5000, workers=4))
    assert "fewer seasons than 5,000" in told
    assert "fewer than 4 workers" in told


@pytest.mark.parametrize(
    "asked",
    [
        ["work", "--days", "4000000"],
        ["work", "--days", "22"],
        ["work", "--from", "9999-12-31"],
        ["work", "--from", "0001-01-01"],
        ["risk", "--seasons", "1000000000"],
        ["chamber", "--most", "1000000000"],
        ["costs", "--workers", "99999999999999"],
        ["prices", "--quantity", "1000000000000"],
    ],
)
def test_more_than_the_scenario_has_is_refused_before_anything_is_solved(
    asked: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("solved")

    monkeypatch.setattr("model.solve.solve", never)
    write_folder(base_scenario(), tmp_path / "book")
    try:
        code: object = main([asked[0], str(tmp_path / "book"), "-o", str(tmp_path / "out"), *asked[1:]])
    except SystemExit as end:
        code = end.code
    assert code == BAD_INPUT
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "path",
    ["a\0b", "a\udcffb", "a" * 5000, "\x1b[31m", "book/\0/x"],
    ids=["NUL", "undecodable", "long", "escape", "NUL within"],
)
@pytest.mark.parametrize(
    "asked",
    [
        ["check", "{path}"],
        ["plan", "{path}", "-o", "out"],
        ["replan", "book", "--last", "{path}", "-o", "out", "--today", "2027-03-03"],
        ["plan", "book", "-o", "out", "--progress", "{path}"],
        ["rates", "book", "{path}", "-o", "out"],
        ["compare", "book", "{path}", "-o", "out"],
        ["quote", "book", "--orders", "{path}", "-o", "out"],
        ["convert", "{path}", "x.xlsx"],
    ],
    ids=lambda asked: asked[0],
)
def test_no_name_of_a_file_ends_in_a_traceback(
    asked: list[str],
    path: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    write_folder(base_scenario(), tmp_path / "book")
    monkeypatch.chdir(tmp_path)
    try:
        code: object = main([part.format(path=path) for part in asked])
    except SystemExit as end:
        code = end.code
    told = capsys.readouterr().err
    assert code in (BAD_INPUT, FAILED), told
    assert "Traceback" not in told
    assert "error of its own" not in told
    assert "\x1b" not in told
    assert [found.name for found in tmp_path.iterdir()] == ["book"]


def test_a_plan_into_the_folder_where_one_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(base_scenario(), tmp_path / "book")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert main(["plan", "../book", "-o", "."]) == DONE
    assert (tmp_path / "here" / "plan.xlsx").is_file()


def test_a_variant_with_a_key_of_5000_parts_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_folder(base_scenario(), tmp_path / "book")
    key = ".".join(["a"] * 5000)
    text = f'name = "v"\nparent = "book"\n{key} = 1\n'
    (tmp_path / "v.toml").write_text(text, encoding="utf-8")
    assert main(["check", str(tmp_path / "v.toml")]) == BAD_INPUT
    told = capsys.readouterr().err
    assert "v.toml" in told
    assert "error of its own" not in told
    assert max(map(len, told.splitlines())) < 1000


@pytest.mark.parametrize(
    ("table", "change", "words"),
    [
        ("deliveries", lambda text: text.replace("O-1", "O-9"), "'O-9' is not in table orders"),
        ("joins", lambda text: text.replace("W0002", "W0009"), "'W0009' is not in table waves"),
        ("waves", lambda text: text + text.splitlines()[1] + "\n", "stands in row 2 already"),
        ("waves", lambda text: text.replace("trays", "crates"), "is missing"),
    ],
)
def test_a_last_plan_whose_tables_do_not_fit_is_refused(
    table: str,
    change: Callable[[str], str],
    words: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    write_folder(base_scenario(), tmp_path / "book")
    write_plan_tables(plan(base_scenario()), tmp_path / "last" / "tables")
    file = tmp_path / "last" / "tables" / f"{table}.csv"
    text = file.read_text(encoding="utf-8")
    assert change(text) != text
    file.write_text(change(text), encoding="utf-8")
    asked = ["replan", str(tmp_path / "book"), "--today", "2027-03-02", "--last", str(tmp_path / "last")]
    assert main([*asked, "-o", str(tmp_path / "out")]) == BAD_INPUT
    told = capsys.readouterr().err
    assert f"{table}, " in told
    assert words in told
    assert not (tmp_path / "out").exists()


def test_a_limit_on_the_size_of_files_is_told(tmp_path: Path) -> None:
    """The limit as a shell sets it: no file over 2,000 bytes."""
    made = subprocess.run(
        [sys.executable, "-m", "scenarios", "blank", str(tmp_path / "out" / "blank.xlsx")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000)),
        check=False,
    )
    assert made.returncode == FAILED
    assert "a file would be larger than this machine allows" in made.stderr
    assert len(made.stderr.splitlines()) == 1
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_ctrl_c_in_a_solve_ends_with_130_and_leaves_nothing(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "scenarios", "plan", "hollow_ash", "-o", str(tmp_path / "out" / "plan")]
    run = subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
    assert run.stderr is not None
    for line in run.stderr:
        if line.startswith("solve"):
            os.kill(run.pid, signal.SIGINT)
            break
    assert run.stderr.read().splitlines()[-1] == "stopped; nothing written"
    assert run.wait() == STOPPED
    assert not list(tmp_path.iterdir())


def test_ctrl_c_ends_two_workers_too(tmp_path: Path) -> None:
    rack = Module("Rack", "Chamber", 8.0, 1, 900.0, 100.0, 8)
    write_folder(base_scenario(modules=(rack,)), tmp_path / "book")
    asked = ["chamber", str(tmp_path / "book"), "--workers", "2", "--most", "100"]
    run = subprocess.Popen(
        [sys.executable, "-m", "scenarios", *asked, "-o", str(tmp_path / "out")],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert run.stderr is not None
    for line in run.stderr:
        if " of 101" in line:
            os.killpg(run.pid, signal.SIGINT)  # as a terminal does, to all processes of the run
            break
    out, rest = run.communicate()
    assert (out, rest.splitlines()[-1]) == ("", "stopped; nothing written")
    assert "Traceback" not in rest
    assert run.returncode == STOPPED
    assert [path.name for path in tmp_path.iterdir()] == ["book"]


def _fault(row: int, value: str = "x", wrong: str = "is text", remedy: str = "write 1") -> Fault:
    return Fault("orders", row, "price", value, wrong, remedy)


def test_the_same_fault_in_many_rows_is_told_once() -> None:
    told = render_faults([_fault(row) for row in range(4, 4004)])
    assert told == (
        "orders, column price, rows 4 to 4003: 'x' is text; write 1\n4,000 faults; the scenario was not used"
    )


def test_faults_alike_are_told_once_and_few_ones_each() -> None:
    alike = [_fault(row, f"{row},5", f"has {row} commas", f"write {row}.5") for row in (2, 3, 5, 9)]
    line, count = render_faults(alike).splitlines()
    assert line.startswith("orders, column price, rows 2 to 3, 5 and 9: '2,5' has 2 commas; write 2.5 (")
    assert count == "4 faults; the scenario was not used"
    assert render_faults(alike[:3]).splitlines()[:3] == [str(fault) for fault in alike[:3]]
    two = [_fault(row, "ab"[row % 2]) for row in range(2, 12)]
    assert [line.split(":")[1][1:4] for line in render_faults(two).splitlines()[:2]] == ["'a'", "'b'"]


def test_at_most_fifty_lines_are_told_and_how_many_more() -> None:
    faults = [Fault("orders", 2, f"c{n}", "", f"is {chr(97 + n % 26)}", "") for n in range(73)]
    lines = str(BadInput(faults)).splitlines()
    assert len(lines) == 52
    assert lines[50:] == ["and 23 faults more, not shown here", "73 faults; the scenario was not used"]


def test_faults_in_every_cell_have_a_line_a_column_and_few_names_are_compared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The cost of a fault does not grow with how many there are: names are compared up to a bound."""
    compared: list[str] = []

    def compare(name: str, names: frozenset[str]) -> None:
        compared.append(name)

    monkeypatch.setattr("scenarios.cells.faults.nearest", compare)
    monkeypatch.setattr("scenarios.cells.faults.MOST_COMPARED", 40)
    tables, rows = grids(small()), 300
    head = tables["orders"][0]
    tables["orders"] = [head] + [[f"x{row}" for _ in head[:-1]] + [f"y{row}"] for row in range(rows)]
    with pytest.raises(BadInput) as bad:
        read_scenario(write_csvs(tables, tmp_path / "s"))
    faulty = ("product", "quantity", "due_day")
    lines = str(bad.value).splitlines()
    assert lines[-1] == f"{rows * len(faulty):,} faults; the scenario was not used"
    assert [line.split(":")[0] for line in lines[:-1]] == [
        f"orders, column {column}, rows 2 to {rows + 1}" for column in faulty
    ]
    assert 0 < len(compared) < 40


def test_ranges_in_words() -> None:
    assert ranges("row", [7]) == "row 7"
    assert ranges("row", [3, 2, 9]) == "rows 2 to 3 and 9"
    assert ranges("row", range(2, 40, 2)) == "rows 2, 4, 6, 8, 10 and 14 more"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Red A", "Red \u0410"),
        ("lot 1", "lot l"),
        ("O-10", "0-10"),
        ("Red", "Re\u200bd"),
        ("Red", "\uff32ed"),
    ],
)
def test_names_that_look_alike(one: str, other: str) -> None:
    assert skeleton(one) == skeleton(other)
    book = base_scenario(orders=tuple(order(name, "Red on Stout", 100, 16) for name in (one, other)))
    assert [(row, name, like) for _, row, _, name, like in look_alikes(book)] == [(3, other, one)]


def test_names_that_the_eye_tells_apart() -> None:
    assert len({skeleton(name) for name in ("Red A", "Red B", "R\u00e9d A", "red A", "Red 2", "Red 7")}) == 6


def test_the_order_of_rows_does_not_matter_to_the_last_digit() -> None:
    book = base_scenario(
        orders=tuple(order(f"O-{n}", "Red on Stout", 100 + 7 * n, 14 + n) for n in range(5)),
    )
    turned = replace(
        book,
        orders=book.orders[::-1],
        zones=book.zones[2:] + book.zones[:2],
        seed_lots=book.seed_lots[::-1],
        packs=book.packs[::-1],
        stages=book.stages[::-1],
        tray_formats=book.tray_formats[::-1],
    )
    assert turned != book
    assert canonical(turned) == canonical(book)
    made, again = plan(canonical(book)), plan(canonical(turned))
    assert made.orders.to_csv() == again.orders.to_csv()
    assert [zone.zone for zone in canonical(turned).zones] == ["Warm room", "Bench", "Chamber", "House"]
