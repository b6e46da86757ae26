"""The entry of the packed program: the command line for a person, Python for the processes that it starts."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from scenarios.files import settle

ROOT = Path(__file__).parents[2]


ENTRY = ROOT / ".ci" / "packing" / "entry.py"


def entered(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ENTRY), *arguments],
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


def test_what_the_desk_reads_is_written_in_utf_8_whatever_the_console_has() -> None:
    """Python heeds ``PYTHONUTF8`` by itself; a packed one, whose console is played here, does not."""
    code = (
        "import runpy, sys; sys.stdout.reconfigure(encoding='iso-8859-2'); "
        "runpy.run_path(sys.argv.pop(1), run_name='__main__')"
    )
    for told, right in (("1", "\u0142".encode()), ("0", "\u0142".encode("iso-8859-2"))):
        done = subprocess.run(
            [sys.executable, "-c", code, str(ENTRY), "-c", "print('\u0142')"],
            env={"PYTHONUTF8": told},
            capture_output=True,
            check=True,
        )
        assert done.stdout.strip() == right


WORKER = f"""
import runpy, sys, types
from contextlib import suppress
import joblib.externals.loky.backend.reduction, joblib.externals.loky.backend.spawn
for name in ("msvcrt", "_winapi", "multiprocessing.popen_spawn_win32"):
    sys.modules[name] = types.ModuleType(name)
sys.modules[name].Popen = object
from joblib.externals.loky.backend import popen_loky_win32 as windows
windows.main = lambda **told: print(told)
main = runpy.run_path({str(ENTRY)!r})["main"]
sys.platform, sys.frozen, sys.argv = "win32", True, ["graftwright.exe", "--version"]
with suppress(SystemExit):
    main()
command = windows.get_command_line(pipe_handle=7, parent_pid=8)
sys.frozen, sys.argv = True, [str(part) for part in command]
main()
"""


def test_workers_of_a_packed_program_on_windows_are_told_whose_pipe_they_read() -> None:
    """joblib's own code for Windows, with the system's modules left empty: what it starts is what it runs."""
    done = subprocess.run(
        [sys.executable, "-c", WORKER], env={"PYTHONPATH": str(ROOT)}, capture_output=True, text=True
    )
    assert done.stdout.splitlines()[-1] == "{'pipe_handle': 7, 'parent_pid': 8}", done.stderr


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
