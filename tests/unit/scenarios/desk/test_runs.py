"""Runs and processes: a process that only has a run's number is left alone; the page that opens the desk."""

from __future__ import annotations

import json
import os
import re
import stat
import subprocess
import sys
import webbrowser
from dataclasses import asdict, replace
from pathlib import Path

import pytest
import uvicorn

from scenarios.desk.runs import Run, Runs
from scenarios.desk.serve import serve
from scenarios.desk.workplace import Workplace
from scenarios.files.write_scenario import write_workbook
from tests.strategies import base_scenario


def test_a_process_that_has_the_number_of_a_run_by_chance_is_not_it(tmp_path: Path) -> None:
    """After the machine was started anew, the number of a run may be that of anything; here it is ours."""
    run = Run(1, "plan", "book.xlsx", (), "2027-03-01 08:00:00", "", "plan.html", process=os.getpid())
    folder = tmp_path / "answers" / "0001 plan"
    folder.mkdir(parents=True)
    (folder / "run.json").write_text(json.dumps(asdict(run)))
    runs = Runs(Workplace(tmp_path))
    assert [found.state for found in runs.all()] == ["stopped"]
    runs.stop(run)  # would interrupt this test


def test_a_run_that_outlives_its_desk_is_done_when_it_ends(tmp_path: Path) -> None:
    """The next desk sees it run, and then sees what it wrote."""
    run = Run(1, "plan", "book.xlsx", (), "2027-03-01 08:00:00", "", "plan.html")
    files = tmp_path / "answers" / "0001 plan" / "files"
    waits = [sys.executable, "-c", "import sys; sys.stdin.read()", f"--output={files}"]
    with subprocess.Popen(waits, stdin=subprocess.PIPE) as process:
        files.mkdir(parents=True)
        told = asdict(replace(run, process=process.pid))
        (files.parent / "run.json").write_text(json.dumps(told))
        runs = Runs(Workplace(tmp_path))
        assert [found.state for found in runs.all()] == ["running"]
        (files / "plan.html").write_text("an answer")
    assert [found.state for found in runs.all()] == ["done"]
    assert json.loads((files.parent / "run.json").read_text())["state"] == "done"


def test_a_folder_of_an_answer_that_was_killed_as_it_began_is_in_nobodys_way(tmp_path: Path) -> None:
    write_workbook(base_scenario(), tmp_path / "book.xlsx")
    place = Workplace(tmp_path)
    place.remember(book="book.xlsx")
    (tmp_path / "answers" / "0007 plan").mkdir()
    runs = Runs(place)
    run = runs.start("plan", [], [], "plan.html")
    runs.stop(run)
    assert [(found.number, found.state) for found in runs.all()] == [(8, "stopped")]


def test_the_browser_is_led_to_the_desk_by_a_page_that_only_its_owner_reads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It stands in the desk's folder, under no hidden name: some systems show a browser no other place."""
    seen = []

    def opened(address: str) -> None:
        (page,) = tmp_path.glob("*.html")
        seen.append((address, page.as_uri(), stat.S_IMODE(page.stat().st_mode), page.read_text()))

    monkeypatch.setattr(webbrowser, "open", opened)
    monkeypatch.setattr(uvicorn.Server, "run", lambda *_, **__: None)
    serve(tmp_path, [])
    ((address, uri, mode, text),) = seen
    assert address == uri
    assert mode == 0o600
    assert re.search(r'href="http://127\.0\.0\.1:\d+/open\?once=[\w-]+"', text)
    assert not list(tmp_path.glob("*.html"))
    assert "Open this address" in capsys.readouterr().out
