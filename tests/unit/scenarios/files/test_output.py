"""The output folder: what is in the way is named, what is written is there whole or not at all."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path

import pytest

from scenarios.cells.faults import Refused
from scenarios.files import output as output_module
from scenarios.files.output import claim, new_file, new_folder, settle_around
from scenarios.files.settle import HIDDEN, MANIFEST, locked, settle
from tests.depth import PROFILE
from tests.kills import calls
from tests.places import ROOT, visible

NAMES = ("plan.xlsx", "plan.html", "tables/", "calendar.ics")
EVERY_CALL = PROFILE == "ci"
"""Kills are tried at every call in the full search, elsewhere at some."""

Write = Callable[[Path], None]


def fill(part: Path, text: str, tables: Sequence[str] = ("a", "b")) -> None:
    """Three files and a folder of tables, all with the same text."""
    for name in ("plan.xlsx", "plan.html", "calendar.ics"):
        (part / name).write_text(text)
    (part / "tables").mkdir()
    for name in tables:
        (part / "tables" / f"{name}.csv").write_text(text)


def write(folder: Path, text: str, tables: Sequence[str] = ("a", "b")) -> None:
    """A run that writes them."""
    with claim(folder, NAMES, {}, carried=["calendar.ics"]).writing() as part:
        fill(part, text, tables)


def told(folder: Path) -> dict[str, str]:
    """What a person sees: texts by name."""
    found = (path for path in folder.rglob("*") if path.is_file() and HIDDEN not in path.parts)
    return {str(path.relative_to(folder)): path.read_text() for path in found}


def hidden(folder: Path) -> set[str]:
    """What the program keeps for itself."""
    return {path.name for path in (folder / HIDDEN).iterdir()}


def of(text: str, *tables: str) -> dict[str, str]:
    """What ``write`` leaves."""
    inside = [f"tables/{name}.csv" for name in tables or ("a", "b")]
    return dict.fromkeys(["plan.xlsx", "plan.html", "calendar.ics", *inside], text)


# What is replaced


def test_own_files_are_replaced_and_stale_ones_go(tmp_path: Path) -> None:
    write(tmp_path, "old", ("a", "stale"))
    (tmp_path / "tables" / "mine.csv").write_text("mine")
    (tmp_path / "mine.txt").write_text("mine")
    write(tmp_path, "new")
    assert told(tmp_path) == of("new") | {"tables/mine.csv": "mine", "mine.txt": "mine"}
    assert hidden(tmp_path) == {"lock", MANIFEST}


def test_a_folder_without_stale_files_left_goes(tmp_path: Path) -> None:
    write(tmp_path, "old", ("a",))
    write(tmp_path, "new", ())
    assert not (tmp_path / "tables").exists() or not list((tmp_path / "tables").iterdir())
    assert told(tmp_path).keys() == {"plan.xlsx", "plan.html", "calendar.ics"}


@pytest.mark.parametrize("name", ["plan.xlsx", "tables/a.csv"])
def test_a_file_changed_since_is_refused(tmp_path: Path, name: str) -> None:
    write(tmp_path, "old")
    (tmp_path / name).write_text("prices of mine")
    before = told(tmp_path)
    with pytest.raises(Refused, match=f"{name} has been changed since this program wrote it; move it away"):
        write(tmp_path, "new")
    assert told(tmp_path) == before


def test_a_file_moved_away_is_written_anew(tmp_path: Path) -> None:
    write(tmp_path, "old")
    (tmp_path / "plan.xlsx").rename(tmp_path / "mine.xlsx")
    write(tmp_path, "new")
    assert told(tmp_path) == of("new") | {"mine.xlsx": "old"}


def _file(path: Path) -> None:
    path.write_text("mine")


def _folder(path: Path) -> None:
    path.mkdir()
    (path / "inner").write_text("mine")


def _link(path: Path) -> None:
    path.with_name("elsewhere").mkdir()
    (path.with_name("elsewhere") / "mine").write_text("mine")
    path.symlink_to("elsewhere")


def _dead_link(path: Path) -> None:
    path.symlink_to("nowhere")


@pytest.mark.parametrize(
    "name, made, words",
    [
        ("plan.xlsx", _file, "was not written by this program"),
        ("plan.xlsx", _folder, "stands where a file is to be written"),
        ("plan.xlsx", _link, "is a link"),
        ("plan.xlsx", _dead_link, "is a link"),
        ("tables", _file, "stands where a folder is to be written"),
        ("tables", _link, "stands where a folder is to be written"),
        ("tables", _dead_link, "stands where a folder is to be written"),
        ("calendar.ics", _folder, "stands where a file is to be written"),
    ],
)
def test_what_is_in_the_way_is_named_and_stays(tmp_path: Path, name: str, made: Write, words: str) -> None:
    out = tmp_path / "out"
    out.mkdir()
    made(out / name)
    before = sorted(out.rglob("*"))
    with pytest.raises(Refused, match=words) as refused:
        claim(out, NAMES, {}, carried=["calendar.ics"])
    assert str(out / name) in str(refused.value)
    assert sorted(out.rglob("*")) == before


def test_all_that_is_in_the_way_is_named_at_once(tmp_path: Path) -> None:
    for name in ("plan.xlsx", "plan.html"):
        (tmp_path / name).write_text("mine")
    with pytest.raises(Refused) as refused:
        claim(tmp_path, NAMES, {})
    assert len(str(refused.value).splitlines()) == 2


def test_a_file_that_comes_while_the_run_solves_stays(tmp_path: Path) -> None:
    claimed = claim(tmp_path, NAMES, {})
    (tmp_path / "tables").mkdir()
    (tmp_path / "tables" / "a.csv").write_text("mine")

    def written() -> None:
        with claimed.writing() as part:
            fill(part, "new")

    with pytest.raises(Refused, match=r"a\.csv was not written by this program"):
        written()
    assert told(tmp_path) == {"tables/a.csv": "mine"}
    assert not (tmp_path / HIDDEN).exists()


def test_a_carried_file_may_be_anybodys(tmp_path: Path) -> None:
    (tmp_path / "calendar.ics").write_text("a feed copied here")
    write(tmp_path, "new")
    assert told(tmp_path) == of("new")


def test_nothing_but_what_was_claimed_is_written(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not claimed: other"), claim(tmp_path, NAMES, {}).writing() as part:
        (part / "other").write_text("new")
    assert visible(tmp_path) == []


# What is read


@pytest.mark.parametrize("how", ["itself", "link", "hard link", "through a folder"])
@pytest.mark.parametrize("name", ["plan.xlsx", "tables/a.csv"])
def test_what_is_read_is_never_written_over(tmp_path: Path, how: str, name: str) -> None:
    out = tmp_path / "out"
    write(out, "old")
    read = out / name
    if how == "link":
        read = tmp_path / "link"
        read.symlink_to(out / name)
    elif how == "hard link":
        read = tmp_path / "hard"
        os.link(out / "plan.xlsx", read)
    elif how == "through a folder":
        (tmp_path / "way").symlink_to("out")
        read = tmp_path / "way" / name
    with pytest.raises(Refused) as refused:
        claim(out, NAMES, {read: "the scenario"})
    assert str(read) in str(refused.value)
    assert str(out / name.split("/")[0]) in str(refused.value) or how == "hard link"
    assert told(out) == of("old")


def test_letters_that_the_file_system_takes_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where Plan.XLSX is plan.xlsx, both have the same number in the file system; here a hard link has."""
    write(tmp_path, "old")
    os.link(tmp_path / "plan.xlsx", tmp_path / "Plan.XLSX")
    with pytest.raises(Refused, match=r"Plan\.XLSX, which is read as the scenario"):
        claim(tmp_path, NAMES, {tmp_path / "Plan.XLSX": "the scenario"})


def test_no_table_comes_among_those_of_the_scenario(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="among the tables of"):
        claim(tmp_path, ["progress_as_planned.csv"], {tmp_path: "the scenario"})
    claim(tmp_path, ["plan.xlsx"], {tmp_path: "the scenario"})


# Any folder


def test_the_folder_of_the_command_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write(Path(), "new")
    assert told(tmp_path) == of("new")


def test_a_link_to_a_folder_and_one_to_a_folder_to_be(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    for name in ("real", "to be"):
        (tmp_path / f"link to {name}").symlink_to(name)
        write(tmp_path / f"link to {name}", "new")
        assert told(tmp_path / name) == of("new")


def test_a_folder_that_is_not_there_is_made_only_to_be_written(tmp_path: Path) -> None:
    claimed = claim(tmp_path / "a" / "b", NAMES, {})
    assert visible(tmp_path) == []
    with suppress(KeyError), claimed.writing():
        raise KeyError
    assert visible(tmp_path) == []
    with claimed.writing() as part:
        (part / "plan.xlsx").write_text("new")
    assert told(tmp_path / "a" / "b") == {"plan.xlsx": "new"}


@pytest.mark.parametrize("name", ["/proc/nowhere", "/dev/null/x", "a\0b", "x" * 300])
def test_a_place_that_cannot_be_written_into_is_told_at_once(name: str) -> None:
    with pytest.raises(Refused, match=r"cannot write into|is a file"):
        claim(Path(name), NAMES, {})


def as_somebody(place: Path, action: Callable[[], object]) -> int:
    """The exit code of an action run by a user who owns ``place`` alone; 0 where it ends well."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            if os.geteuid() == 0:
                os.chown(place, 65534, 65534)
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            action()
            code = 0
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@pytest.fixture
def closed() -> Iterator[Path]:
    """A folder in one that nobody may write into."""
    made = subprocess.run(["mktemp", "-d"], capture_output=True, text=True, check=True)
    outer = Path(made.stdout.strip())
    (outer / "out").mkdir()
    outer.chmod(0o555)
    yield outer / "out"
    outer.chmod(0o755)
    subprocess.run(["rm", "-r", str(outer)], check=True)


def test_a_folder_whose_parent_may_not_be_written(closed: Path) -> None:
    assert as_somebody(closed, lambda: write(closed, "new")) == 0
    assert told(closed) == of("new")


def test_a_folder_that_may_not_be_written_is_told_at_once(closed: Path) -> None:
    def refused() -> None:
        with pytest.raises(Refused, match=r"cannot write into .*Permission denied; name another folder"):
            claim(closed.parent / "other", NAMES, {})

    assert as_somebody(closed, refused) == 0


# Whole or not at all


class Interrupted(Exception):
    """What stops a writer half way."""


def test_an_error_while_writing_leaves_all_as_it_was(tmp_path: Path) -> None:
    write(tmp_path, "old")
    with suppress(Interrupted), claim(tmp_path, NAMES, {}, carried=["calendar.ics"]).writing() as part:
        fill(part, "new")
        raise Interrupted
    assert told(tmp_path) == of("old")
    assert hidden(tmp_path) == {"lock", MANIFEST}


def _without_keeper(*_: object) -> None:
    """No second process, as on Windows."""


@pytest.mark.parametrize("keeper", [True, False])
def test_a_file_that_cannot_take_its_place_puts_all_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, keeper: bool
) -> None:
    write(tmp_path, "old", ("a", "stale"))
    if not keeper:
        monkeypatch.setattr(output_module, "keeper", _without_keeper)
    undisturbed = output_module._undisturbed

    def in_the_last_moment() -> object:
        (tmp_path / "tables" / "b.csv").mkdir()  # a file cannot replace it
        return undisturbed()

    monkeypatch.setattr(output_module, "_undisturbed", in_the_last_moment)
    with pytest.raises(OSError, match="directory"):
        write(tmp_path, "new")
    assert told(tmp_path) == of("old", "a", "stale")
    assert hidden(tmp_path) == {"lock", MANIFEST}
    (tmp_path / "tables" / "b.csv").rmdir()
    monkeypatch.undo()
    write(tmp_path, "new")
    assert told(tmp_path) == of("new")


def points(most: int, times: int, close: int) -> list[int]:
    """Numbers of calls: some of all, and ``close`` of the last thirty, among which the run decides."""
    return [*range(1, most - 30, most // times), *range(most - 30, most, 30 // close)]


def killed(tmp_path: Path, times: int, close: int, every: int) -> Iterator[Path]:
    """Folders of good output over which a run was killed at one of its calls.

    In the full search: at one of ``every`` so many, and at each of the last thirty.
    """
    write(tmp_path / "count", "old", ("a", "stale"))
    most = calls(lambda: write(tmp_path / "count", "new"))
    full = [*range(1, most - 30, every), *range(most - 30, most)]
    for n in full if EVERY_CALL else points(most, times, close):
        out = tmp_path / str(n)
        write(out, "old", ("a", "stale"))
        calls(lambda out=out: write(out, "new"), killed_at=n)  # type: ignore[misc]
        yield out


OLD, NEW = of("old", "a", "stale"), of("new")


@pytest.mark.deep
def test_killed_at_any_call_the_output_is_old_or_new_and_nothing_is_left(tmp_path: Path) -> None:
    found = [0, 0]
    for out in killed(tmp_path, 5, 10, every=1):
        assert told(out) in (OLD, NEW)
        assert hidden(out) <= {"lock", MANIFEST}
        found[told(out) == NEW] += 1
    assert all(found)


@pytest.mark.deep
def test_killed_without_a_keeper_each_file_is_whole_and_the_next_run_finishes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(output_module, "keeper", _without_keeper)
    for out in killed(tmp_path, 25, 10, every=4):
        at_once = told(out)
        assert {*at_once.values()} <= {"old", "new"}
        assert {"plan.xlsx", "plan.html", "calendar.ics"} <= at_once.keys()
        settle_around(out / "tables" / "a.csv")  # as the next run that reads it
        assert told(out) in (OLD, NEW)
        write(out, "next")
        assert told(out) == of("next")
        assert hidden(out) == {"lock", MANIFEST}


def test_a_keeper_that_is_killed_is_not_needed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path, "old", ("a", "stale"))
    kept = output_module.keeper

    def shot(*arguments: object) -> object:
        guard = kept(*arguments)  # type: ignore[arg-type]
        assert guard is not None
        guard.kill()
        return guard

    monkeypatch.setattr(output_module, "keeper", shot)
    write(tmp_path, "new")
    assert told(tmp_path) == NEW


@pytest.mark.deep
def test_settling_can_be_killed_at_every_call_and_done_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Going on, and going back where the last table cannot take its place."""
    for backward in (False, True):
        n, done = 0, False
        while not done:
            n += 1 if EVERY_CALL else 13
            place = tmp_path / f"{backward} {n}"
            out = ready(place, monkeypatch)
            if backward:
                (out / "tables" / "b.csv").mkdir()

            def settled(out: Path = out) -> None:
                with suppress(OSError):
                    settle(out)

            done = calls(settled, killed_at=n) < n
            settled()
            assert told(out) == (OLD if backward else NEW)
            assert hidden(out) == {"lock", MANIFEST}


def ready(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An output whose run has decided, and has moved nothing."""
    out = tmp_path / "out"
    write(out, "old", ("a", "stale"))

    def nothing(folder: Path) -> None:
        """In the place of ``settle``."""

    with monkeypatch.context() as patched:
        patched.setattr(output_module, "keeper", _without_keeper)
        patched.setattr(output_module, "settle", nothing)
        write(out, "new")
    assert told(out) == OLD
    return out


# Folders from strangers


def test_a_forged_folder_reaches_nothing_outside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    victim = tmp_path / "victim.txt"
    victim.write_text("mine")
    for name in ("../victim.txt", "tables/../../victim.txt", "/etc/passwd", "tables/..\\..\\x", "a/b/c", ""):
        out = ready(tmp_path / str(len(name)), monkeypatch)
        journal = out / HIDDEN / "ready" / "journal.json"
        journal.write_text(json.dumps({"new": [name], "replaced": [], "gone": [name]}))
        with pytest.raises(Refused, match="outside the folder"):
            claim(out, NAMES, {})
        journal = out / HIDDEN / ("back" if (out / HIDDEN / "back").exists() else "ready") / "journal.json"
        journal.write_text("[]")
        with pytest.raises(Refused, match="not as this program wrote it"):
            claim(out, NAMES, {})
    out = tmp_path / "list"
    write(out, "old")
    listed = json.loads((out / HIDDEN / MANIFEST).read_text())
    listed["files"]["tables/../../victim.txt"] = listed["files"]["plan.xlsx"]
    (out / HIDDEN / MANIFEST).write_text(json.dumps(listed))
    victim.write_text("old")
    write(out, "new")
    assert victim.read_text() == "old"


def test_a_link_in_the_place_of_the_hidden_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / HIDDEN).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(Refused, match="a link stands in the place"):
        claim(tmp_path / "out", NAMES, {})
    assert visible(tmp_path / "elsewhere") == []


def test_a_list_that_cannot_be_read_names_no_file(tmp_path: Path) -> None:
    write(tmp_path, "old")
    (tmp_path / HIDDEN / MANIFEST).write_text('{"files": 3}')
    with pytest.raises(Refused, match="was not written by this program"):
        write(tmp_path, "new")


# Several at once


def other_run(out: Path) -> subprocess.Popen[bytes]:
    """A run of another process, once it waits for a lock."""
    code = f"from tests.unit.scenarios.files.test_output import *; write(Path({str(out)!r}), 'other')"
    run = subprocess.Popen([sys.executable, "-c", code], cwd=ROOT)
    waits = f"-> FLOCK  ADVISORY  WRITE {run.pid} "
    while waits not in Path("/proc/locks").read_text():
        assert run.poll() is None, "it did not wait"
        time.sleep(0.02)
    return run


@pytest.mark.parametrize("written", [True, False])
def test_another_run_waits(tmp_path: Path, written: bool) -> None:
    """Also where the hidden folder with the lock is taken away before it has its turn."""
    out = tmp_path / "out"
    if written:
        write(out, "old")
    with locked(out):
        other = other_run(out)
        assert told(out) == (of("old") if written else {})
    assert other.wait() == 0
    assert told(out) == of("other")
    assert hidden(out) == {"lock", MANIFEST}


# New files and folders


def test_a_new_file_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "s.xlsx"
    with suppress(Interrupted), new_file(target) as part:
        part.write_text("half")
        raise Interrupted
    assert visible(tmp_path) == []
    with new_file(target) as part:
        part.write_text("new")
        assert not target.exists()
    assert target.read_text() == "new"
    assert os.listdir(target.parent) == ["s.xlsx"]


def test_a_new_file_replaces_nothing(tmp_path: Path) -> None:
    target = tmp_path / "s.xlsx"

    def written() -> None:
        with new_file(target) as part:
            part.write_text("new")
            target.write_text("came meanwhile")

    with pytest.raises(Refused, match="exists already"):
        written()
    assert target.read_text() == "came meanwhile"
    with pytest.raises(Refused, match="exists already"), new_file(target):
        pass
    target.unlink()
    target.symlink_to("nowhere")
    with pytest.raises(Refused, match="exists already"), new_file(target):
        pass
    assert os.listdir(tmp_path) == ["s.xlsx"]


def test_a_new_folder_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "s"
    for there in (False, True):
        with suppress(Interrupted), new_folder(target, ["a"]) as part:
            (part / "a").write_text("half")
            raise Interrupted
        assert not target.exists() or os.listdir(target) == []
        if not there:
            target.mkdir(parents=True)
    with new_folder(target, ["a"]) as part:
        (part / "a").write_text("new")
        assert visible(target) == []
    assert told(target) == {"a": "new"}
    with pytest.raises(Refused, match="exists already"), new_folder(target, ["a"]):
        pass


@pytest.mark.deep
def test_what_a_killed_writer_left_goes_with_the_next(tmp_path: Path) -> None:
    target = tmp_path / "s.xlsx"

    def made() -> None:
        with new_file(target) as part:
            part.write_text("new")

    most = calls(made)
    for n in range(1, most + 1, 1 if EVERY_CALL else 9):
        target.unlink(missing_ok=True)
        calls(made, killed_at=n)
        assert not target.exists() or target.read_text() == "new"
        target.unlink(missing_ok=True)
        made()
        assert os.listdir(tmp_path) == ["s.xlsx"]
