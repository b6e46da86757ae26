"""Runs and processes: a process that only has a run's number is left alone; the page that opens the desk."""

from __future__ import annotations

import json
import os
import re
import stat
import webbrowser
from dataclasses import asdict
from pathlib import Path

import pytest
import uvicorn

from scenarios.desk.runs import Run, Runs
from scenarios.desk.serve import serve
from scenarios.desk.workplace import Workplace


def test_a_process_that_has_the_number_of_a_run_by_chance_is_not_it(tmp_path: Path) -> None:
    """After the machine was started anew, the number of a run may be that of anything; here it is ours."""
    run = Run(1, "plan", "book.xlsx", (), "2027-03-01 08:00:00", "", "plan.html", process=os.getpid())
    folder = tmp_path / "answers" / "0001 plan"
    folder.mkdir(parents=True)
    (folder / "run.json").write_text(json.dumps(asdict(run)))
    runs = Runs(Workplace(tmp_path))
    assert [found.state for found in runs.all()] == ["stopped"]
    runs.stop(run)  # would interrupt this test


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
