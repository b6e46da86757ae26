"""Small changes of sense made to the model, and whether its tests notice: mutmut run module by module.

``python -m tests.mutants [--from N] [MODULE ...]`` takes the modules of ``[tool.mutants.tests]`` in
pyproject.toml, or those named, each in a copy of the project where only it is changed and only the tests
named for it are run, in one process. Of each function every ``[tool.mutants] every``-th change is tried, from
the N-th on (3 where nothing is said): another N gives changes for which no test was written. It prints the
changes that no test noticed, with their differences, and at the end a table for docs/mutation.md.

The tests run once before any change is made, and each change in a fork of that process with the tests that
then called the function. So what the module itself makes must be made in each test: a ``functools.cache``
would hold it as it was before, and of tests that share a fixture only the first would be seen to call the
function.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections import Counter
from pathlib import Path

from tests.places import ROOT

SURVIVED, NOT_TESTED = 0, 33
"""mutmut's codes: all tests pass; no test calls the function. None is not tried, all others are noticed."""


def settings() -> tuple[dict[str, list[str]], int]:
    """Test files by module, and of how many changes one is tried."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["mutants"]
    return told["tests"], told["every"]


def copied(to: Path, module: str, tests: list[str]) -> None:
    """A copy of the project whose mutmut changes one module and runs some tests."""
    for name in ("model", "reports", "scenarios", "tests", "pyproject.toml", "README.md"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, to / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, to)
    project = to / "pyproject.toml"
    more = f"only_mutate = [{module!r}]\npytest_add_cli_args_test_selection = {tests!r}\n"
    text = project.read_text("utf-8")
    project.write_text(text.replace("[tool.mutmut]\n", f"[tool.mutmut]\n{more}"), "utf-8")


def patterns(every: int, first: int) -> list[str]:
    """Names of one in so many changes of each function, as mutmut numbers them from 1, from ``first`` on."""
    return [f"*__mutmut_{n}" for n in range(first, 1000, every)]


def run(module: str, tests: list[str], every: int, first: int) -> Counter[str]:
    """Changes of a module noticed and survived; prints the survivors."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        copied(place, module, tests)
        command = [sys.executable, "-m", "mutmut"]
        chosen = patterns(every, first) if every > 1 else []
        done = subprocess.run(
            [*command, "run", "--max-children", "1", *chosen], cwd=place, capture_output=True, text=True
        )
        told = place / "mutants" / f"{module}.meta"
        codes = json.loads(told.read_text("utf-8"))["exit_code_by_key"] if told.is_file() else {}
        tried = {name: code for name, code in codes.items() if code is not None}
        if not tried:
            raise SystemExit(f"{module}: nothing tried\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        survivors = [name for name, code in tried.items() if code in (SURVIVED, NOT_TESTED)]
        for name in survivors:
            shown = subprocess.run([*command, "show", name], cwd=place, capture_output=True, text=True)
            print(shown.stdout, flush=True)
        return Counter(all=len(codes), tried=len(tried), noticed=len(tried) - len(survivors))


def main() -> None:
    """Run the modules and print the table."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutants")
    asked.add_argument("--from", dest="first", type=int, default=3, help="number of the first change tried")
    asked.add_argument("modules", nargs="*", help="all of pyproject.toml where none is named")
    told = asked.parse_args()
    os.nice(10)
    tests, every = settings()
    print("| module | changes | tried | noticed | share |\n|---|---|---|---|---|", file=sys.stderr)
    for module in told.modules or list(tests):
        found = run(module, tests[module], every, told.first)
        share = found["noticed"] / found["tried"]
        row = f"| `{module}` | {found['all']} | {found['tried']} | {found['noticed']} | {share:.0%} |"
        print(row, file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
