"""The packed program: the command line, and for the processes that it starts the Python which it replaces.

The desk, the keeper of output folders and joblib's workers start ``sys.executable`` with ``-m``, ``-c`` or a
file. In a packed program that is this one.
"""

from __future__ import annotations

import runpy
import sys
from multiprocessing import freeze_support
from pathlib import Path

FLAGS = ("-B", "-E", "-I", "-P", "-S", "-s", "-u")
"""Options of Python that change nothing in a packed program."""


def main() -> None:
    """Run what is asked for."""
    freeze_support()
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


if __name__ == "__main__":
    main()
