"""The entry of the packed program: the command line for a person, Python for the processes that it starts."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from scenarios.files import settle

ROOT = Path(__file__).parents[2]


def entered(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ROOT / ".ci" / "packing" / "entry.py"), *arguments],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": ""},
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        timeout=120,
    )


@pytest.mark.parametrize(
    "arguments, said",
    [
        (("--version",), "graftwright"),
        (("-m", "scenarios", "--version"), "graftwright"),
        (("-I", "-S", "-c", "import sys; print(sys.argv)", "a"), "['-c', 'a']"),
        (("-u", "-m", "platform", "terse"), "-"),
    ],
)
def test_it_does_what_python_would(arguments: tuple[str, ...], said: str) -> None:
    done = entered(*arguments)
    assert done.returncode == 0, done.stderr
    assert said in done.stdout


def test_it_keeps_a_folder_as_the_keeper_does(tmp_path: Path) -> None:
    """The keeper is started by the path of its file, which a packed program does not have."""
    assert Path(settle.__file__).name == "settle.py"
    assert entered("-I", "-S", str(tmp_path / "gone" / "settle.py"), str(tmp_path)).returncode == 0


def test_every_package_with_files_of_its_own_is_packed_with_them() -> None:
    tree = ast.parse((ROOT / ".ci" / "packing" / "pack.py").read_text(encoding="utf-8"))
    named = next(
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "WITH_DATA"
    )
    own = {
        path.relative_to(ROOT).parts[0]
        for package in ("model", "reports", "scenarios")
        for path in (ROOT / package).rglob("*")
        if path.suffix in (".csv", ".toml", ".html", ".css", ".js", ".svg")
    }
    assert own <= set(named)
