"""Runs killed at random system calls over good output: all old or all new, and nothing left."""

from __future__ import annotations

import random
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from model.scenario.entities import Scenario
from scenarios.commands.command_line import DONE, SHORT, main
from scenarios.files.settle import HIDDEN
from scenarios.files.write_scenario import write_folder
from tests.depth import PROFILE
from tests.kills import calls
from tests.places import visible
from tests.strategies import base_scenario, with_nursery

KILLS = 50 if PROFILE == "ci" else 4
"""Kills of each verb: 200 of all four in the full search."""
LAST_CALLS = 40
"""Among which a run decides; a third of the kills are there."""

SOLVED = {
    "plan": ["scenarios.commands.plan_verbs._audited"],
    "work": ["scenarios.commands.plan_verbs._audited"],
    "replan": [
        "model.season.replanning.replan",
        "model.solve.plan_of",
        "scenarios.commands.plan_verbs._proved",
        "scenarios.studies.replan.replan_study",
    ],
    "margins": ["scenarios.studies.margins.margins_study"],
}
"""What a verb works out before it writes."""

DRAWN = "resvg_py.svg_to_bytes"

Files = dict[str, bytes]


class Runs:
    """A verb on two scenarios, the old and the new one, which it solves and draws once each."""

    def __init__(self, verb: str, place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.verb, self.place, self.which = verb, place, "old"
        self._found: dict[tuple[str, ...], Any] = {}
        for which, quantity in (("old", 100), ("new", 70)):
            write_folder(_scenario(quantity), place / which)
        self.last = place / "last"
        if verb == "replan":
            assert main(["plan", str(place / "old"), "-o", str(self.last)]) == DONE
        for name in (*SOLVED[verb], DRAWN):
            module, _, function = name.rpartition(".")
            real = getattr(__import__(module, fromlist=[function]), function)
            monkeypatch.setattr(name, self._once(name, real))

    def _once(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def found(*arguments: Any, **named: Any) -> Any:
            key = self.which, name, repr(named) if name == DRAWN else ""
            if key not in self._found:
                self._found[key] = real(*arguments, **named)
            return self._found[key]

        return found

    def run(self, which: str, out: Path) -> None:
        """The verb on one of the two scenarios."""
        self.which = which
        more = {"replan": ["--last", str(self.last), "--today", str(TODAY)], "margins": ["--seasons", "50"]}
        options = [*more.get(self.verb, []), "-o", str(out)]
        assert main([self.verb, str(self.place / which), *options]) in (DONE, SHORT)


TODAY = base_scenario().nursery.first_day + timedelta(days=1)


def _scenario(quantity: int) -> Scenario:
    base = base_scenario()
    base = with_nursery(base, overhead=float(quantity))
    return replace(base, orders=(replace(base.orders[0], quantity=quantity),))


def seen(folder: Path) -> Files:
    """What a person sees."""
    found = (path for path in folder.rglob("*") if path.is_file() and HIDDEN not in path.parts)
    return {str(path.relative_to(folder)): path.read_bytes() for path in found}


def is_new(found: Files, old: Files, new: Files) -> bool:
    """Whether all files are of the new run; workbooks tell the second in which they were written."""
    if found.keys() != new.keys():
        return False
    books = {name for name in new if name.endswith(".xlsx")}
    same = all(found[name] == new[name] for name in new.keys() - books)
    return same and all(found[name] != old.get(name) for name in books)


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Where temporary files of the system go."""
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    return place


@pytest.mark.deep
@pytest.mark.parametrize("verb", SOLVED)
def test_killed_runs(verb: str, tmp_path: Path, temporary: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    runs = Runs(verb, tmp_path / "runs", monkeypatch)
    good, done, out = tmp_path / "good", tmp_path / "done", tmp_path / "out"
    runs.run("old", good)
    runs.run("old", done)
    runs.run("new", done)
    old, new = seen(good), seen(done)
    differing = {name for name in new if not name.endswith(".xlsx") and new[name] != old.get(name)}
    assert differing, "old and new can be told apart"
    shutil.copytree(good, out)
    most = calls(lambda: runs.run("new", out))
    chance = random.Random(verb)
    close = KILLS // 3
    points = chance.choices(range(1, most - LAST_CALLS), k=KILLS - close)
    points += chance.choices(range(most - LAST_CALLS, most), k=close)
    for n in sorted(points):
        shutil.rmtree(out)
        shutil.copytree(good, out)
        calls(lambda: runs.run("new", out), killed_at=n)
        found = seen(out)
        assert found == old or is_new(found, old, new), f"mixed after a kill at call {n} of {most}"
        for name, data in found.items():
            if name.endswith(".xlsx"):
                (tmp_path / "book.xlsx").write_bytes(data)
                assert zipfile.ZipFile(tmp_path / "book.xlsx").testzip() is None
        assert sorted(path.name for path in (out / HIDDEN).iterdir()) == ["lock", "manifest.json"]
        assert not list(temporary.iterdir())
    runs.run("new", out)
    assert is_new(seen(out), old, new)
    assert visible(tmp_path) == sorted(path.name for path in tmp_path.iterdir())
