"""The packed program: the command line, and for the processes that it starts the Python which it replaces.

The desk, the keeper of output folders and joblib's workers start ``sys.executable`` with ``-m``, ``-c`` or a
file. In a packed program that is this one.
"""

from __future__ import annotations

import os
import runpy
import sys
from multiprocessing import freeze_support
from pathlib import Path

FLAGS = ("-B", "-E", "-I", "-P", "-S", "-s", "-u")
"""Options of Python that change nothing in a packed program."""


def main() -> None:
    """Run what is asked for."""
    freeze_support()
    as_python()
    given = sys.argv[1:]
    while given and given[0] in FLAGS:
        given.pop(0)
    if given[:1] == ["-c"]:
        sys.argv = ["-c", *given[2:]]
        exec(given[1], {"__name__": "__main__"})
    elif given[:1] == ["-m"]:
        sys.argv = given[1:]
        runpy.run_module(given[1], run_name="__main__", alter_sys=True)
    elif given and Path(given[0]).name == "settle.py":
        sys.argv = given
        runpy.run_module("scenarios.files.settle", run_name="__main__", alter_sys=True)
    else:
        runpy.run_module("scenarios", run_name="__main__", alter_sys=True)


def as_python() -> None:
    """Heed what a packed Python does not, and what joblib asks of one."""
    if os.environ.get("PYTHONUTF8") == "1":
        for stream in (sys.stdout, sys.stderr):
            stream.reconfigure(encoding="utf-8")
    if sys.platform == "win32" and hasattr(sys, "frozen"):
        # In a packed program joblib would start its workers without saying whose pipe they read.
        del sys.frozen


if __name__ == "__main__":
    main()
