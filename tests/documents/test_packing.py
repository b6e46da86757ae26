"""The folder that runs by double-click: built, then used by a person whose account has nothing else."""

from __future__ import annotations

import io
import json
import os
import pwd
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.demo import demo_plan
from tests.desks import PATIENCE, Visitor
from tests.places import ROOT

USER = f"grower{os.getpid()}"


@pytest.fixture(scope="module")
def program() -> Iterator[Path]:
    """The program as the script builds and tries it, where every user can read it."""
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        room.chmod(0o755)
        script = ROOT / ".ci" / "packing" / "pack.py"
        subprocess.run([sys.executable, str(script), str(room / "built")], check=True)
        yield room / "built" / "graftwright" / "graftwright"


@pytest.fixture
def person() -> Iterator[dict[str, Any]]:
    """How to start a process as a fresh user; where only root may make one, as ours with an empty home.

    It finds no other program: its search path is an empty folder.
    """
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        told: dict[str, Any] = {"cwd": home, "env": {"HOME": name, "PATH": str(home / "nothing")}}
        if os.geteuid() != 0:
            yield told
            return
        subprocess.run(["useradd", "--no-create-home", f"--home-dir={name}", USER], check=True)
        try:
            about = pwd.getpwnam(USER)
            os.chown(home, about.pw_uid, about.pw_gid)
            yield told | {"user": about.pw_uid, "group": about.pw_gid, "extra_groups": []}
        finally:
            subprocess.run(["userdel", USER], check=True)


@contextmanager
def double_clicked(program: Path, person: dict[str, Any]) -> Iterator[Visitor]:
    """The program started without a word, and a browser that it has let in and that closes it."""
    process = subprocess.Popen(
        [str(program)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, **person
    )
    assert process.stdout is not None
    try:
        found = None
        while found is None:
            line = process.stdout.readline()
            assert line, "the program ended"
            found = re.search(r"http://127\.0\.0\.1:(\d+)(/\S+)", line)
        visitor = Visitor(int(found.group(1)))
        visitor.cookie = visitor.get(found.group(2)).headers["set-cookie"].partition(";")[0]
        yield visitor
        assert visitor.post("/close").has("What was done is kept.")
    except BaseException:
        process.kill()
        raise
    finally:
        told, _ = process.communicate(timeout=PATIENCE)
    assert "The desk is closed. What was done is kept." in told
    assert process.returncode == 0


def test_a_fresh_user_plans_the_demo_by_double_click(program: Path, person: dict[str, Any]) -> None:
    with double_clicked(program, person) as visitor:
        assert visitor.post("/book/start", {"with": "demo"}).status == 303
        assert visitor.get("/").has("No faults.")
        asked = visitor.post("/ask/plan")
        number = int(asked.headers["location"].rpartition("/")[2])
        assert visitor.answered(number) == "done"
        taken = visitor.get(f"/answers/{number}/files/plan.xlsx")
        assert openpyxl.load_workbook(io.BytesIO(taken.body)).sheetnames[0] == "Summary"
        assert visitor.get(f"/answers/{number}").has(f"{demo_plan().cost:,.2f}")

        order = {"product": "Amberfall on Stonebrook, 72", "quantity": "500", "due_day": "2027-04-16"}
        call = visitor.post("/phone", order).headers["location"]
        end = time.monotonic() + PATIENCE
        while json.loads(visitor.get(f"{call}/state").text)["state"] == "running":
            assert time.monotonic() < end
            time.sleep(0.2)
        assert visitor.get(call).has("In whole trays, packs and hands")
    kept = person["cwd"] / "Graftwright"
    assert (kept / "hollow ash.xlsx").is_file()
    assert shutil.which("python3", path=person["env"]["PATH"]) is None
