"""The end of a run that fails: one plain sentence and an exit code, never a traceback."""

from __future__ import annotations

import errno
import os
import sys
import threading
import traceback
from argparse import Namespace
from collections.abc import Iterator

from scenarios.cells.faults import BadInput, Refused, printable, render_faults
from scenarios.commands.running import BAD_INPUT, FAILED, STOPPED, Failed
from scenarios.formats.held import in_words

DETAILS = "GRAFTWRIGHT_DETAILS"
"""Environment variable: if it is set, an unexpected error prints its traceback too."""

HUSHED = "ignore:resource_tracker:UserWarning"
"""Python's rule for the warnings of the process that takes away what workers leave."""

NO_ROOM = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EFBIG: "a file would be larger than this machine allows",
}


def ending(error: BaseException, options: Namespace) -> tuple[str, int]:
    """The message and the exit code for an error that ends a run."""
    if isinstance(error, BadInput):
        return render_faults(error.faults), BAD_INPUT
    if isinstance(error, Refused | Failed):
        told = "\n".join(map(printable, str(error).split("\n")))
        return told, BAD_INPUT if isinstance(error, Refused) else FAILED
    if isinstance(error, KeyboardInterrupt):
        return "stopped; nothing written", STOPPED
    causes = list(_causes(error))
    if any(isinstance(cause, MemoryError) for cause in causes):
        return f"there is not enough memory; nothing was written; {_less(options)}", FAILED
    if any(type(cause).__name__ == "TerminatedWorkerError" for cause in causes):
        return (
            f"a worker was ended, most likely for lack of memory; nothing was written; {_less(options)}",
            FAILED,
        )
    for cause in causes:
        if isinstance(cause, OSError) and cause.errno in NO_ROOM:
            room = (
                f"{NO_ROOM[cause.errno]}; nothing was written; make room, or name a folder elsewhere with -o"
            )
            return room, FAILED
    for cause in causes:
        if isinstance(cause, OSError):
            if cause.errno == errno.ENAMETOOLONG:
                return "the name of a file or folder is too long; choose a shorter one", BAD_INPUT
            return printable(in_words(cause)), FAILED
    if DETAILS in os.environ:
        traceback.print_exception(error)
    what = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    told = printable(what if len(what) <= 300 else what[:297] + "...")
    where = f"set the environment variable {DETAILS}=1 and run again to see where, and please report it"
    return f"the program has an error of its own ({told}); nothing was written; {where}", FAILED


def _causes(error: BaseException) -> Iterator[BaseException]:
    """The error, and the errors that caused it."""
    seen: set[int] = set()
    at: BaseException | None = error
    while at is not None and id(at) not in seen:
        seen.add(id(at))
        yield at
        at = at.__cause__ or at.__context__


def _less(options: Namespace) -> str:
    """Ways to run with less memory, in words."""
    ways = []
    if getattr(options, "seasons", None) is not None:
        ways.append(f"draw fewer seasons than {options.seasons:,} (--seasons)")
    if getattr(options, "workers", 1) > 1:
        ways.append(f"use fewer than {options.workers} workers (--workers)")
    ways.append("plan a shorter horizon or fewer orders, or close other programs")
    return "; ".join(ways)


def never_fail_to_print() -> None:
    """Make every later print write characters that the terminal cannot show as escapes."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def hush_trackers() -> None:
    """Workers that Ctrl-C has ended leave locks behind. Python takes them away; it shall not warn of them."""
    rules = os.environ.get("PYTHONWARNINGS", "")
    if HUSHED not in rules.split(","):
        os.environ["PYTHONWARNINGS"] = f"{rules},{HUSHED}".lstrip(",")


def leave_quietly() -> int:
    """Discard further output, since its reader has gone (``| head``); return the exit code."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
    return FAILED


def still_solving() -> bool:
    """Whether a solver still runs in its thread after Ctrl-C."""
    from model.solver.compiled import SOLVING

    return any(thread.name == SOLVING for thread in threading.enumerate())


def leave_at_once(code: int) -> None:
    """End the process without waiting for a solver that still runs in its thread after Ctrl-C."""
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)
