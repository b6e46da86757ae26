"""Build one folder that runs by double-click on the system on which this runs.

``python .ci/packing/pack.py FOLDER``

In an environment of its own, PyInstaller packs the program with Python and all libraries into
``FOLDER/graftwright``. Started without a verb, the program in it opens the desk. It is tried before this
ends: it plans the demo, and asks a question that workers answer.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import venv
from pathlib import Path

HERE = Path(__file__).parent
PROJECT = HERE.parent.parent
PACKER = "pyinstaller>=6.15"
WINDOWS = sys.platform == "win32"

WITH_DATA = ("scenarios", "reports", "font_source_sans_pro", "confusable_homoglyphs", "icalendar", "babel")
"""Packages that read files of their own."""

WITH_MODULES = ("model", "reports", "scenarios", "joblib", "uvicorn")
"""Packages whose modules are imported by name when they are needed."""

LEFT_OUT = shutil.ignore_patterns(".*", "build", "*.egg-info", "__pycache__", "tests", "docs")
"""What is not installed, in the folder of this project."""


def pack(folder: Path) -> Path:
    """Build ``graftwright`` in ``folder``; the program. Raises CalledProcessError where a step fails."""
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        # A copy, since pip leaves files where it builds.
        source = shutil.copytree(PROJECT, room / "source", ignore=LEFT_OUT)
        venv.create(room / "env", with_pip=True)
        python = room / "env" / ("Scripts/python.exe" if WINDOWS else "bin/python")
        _run(python, "-m", "pip", "install", "-q", str(source), PACKER)
        options = [f"--collect-data={package}" for package in WITH_DATA]
        options += [f"--collect-submodules={package}" for package in WITH_MODULES]
        options += ["--copy-metadata=graftwright", "--collect-all=highspy", "--name=graftwright"]
        options += [
            f"--distpath={folder.resolve()}",
            f"--workpath={room}",
            f"--specpath={room}",
            "--noconfirm",
        ]
        _run(
            python,
            "-m",
            "PyInstaller",
            "--log-level=WARN",
            *options,
            str(HERE.resolve() / "entry.py"),
            at=room,
        )
    return folder.resolve() / "graftwright" / ("graftwright.exe" if WINDOWS else "graftwright")


def tried(program: Path) -> None:
    """Plan the demo and ask with workers, far from the project.

    Raises CalledProcessError where that fails.
    """
    with tempfile.TemporaryDirectory() as name:
        for asked in (
            ["--version"],
            ["plan", "hollow_ash", "-o", "plan"],
            ["limits", "hollow_ash", "-o", "limits"],
        ):
            _run(program, *asked, at=Path(name))


def _run(program: Path, *arguments: str, at: Path | None = None) -> None:
    clean = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    subprocess.run([str(program), *arguments], check=True, cwd=at, env=clean)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python .ci/packing/pack.py FOLDER")
    made = pack(Path(sys.argv[1]))
    tried(made)
    print(
        f"Built and tried: {made}. Give the whole folder {made.parent}; a double-click on the "
        "program opens the desk."
    )
