"""Kills at a system call: an action in a process of its own, killed as it makes its n-th call (Linux)."""

from __future__ import annotations

import ctypes
import os
import signal
from collections.abc import Callable
from typing import NoReturn

LIBC = ctypes.CDLL(None, use_errno=True)
TRACE_ME, NEXT_CALL, SET_OPTIONS = 0, 24, 0x4200
"""Requests of ptrace(2): PTRACE_TRACEME, PTRACE_SYSCALL, PTRACE_SETOPTIONS."""

GOOD_CALLS = 1
"""PTRACE_O_TRACESYSGOOD: a stop at a system call is told from a signal by ``CALL``."""

CALL = signal.SIGTRAP | 0x80
SUBREAPER = 36
"""PR_SET_CHILD_SUBREAPER of prctl(2): processes that lose their parent become ours, so that we can wait."""


def calls(action: Callable[[], object], killed_at: int | None = None) -> int:
    """System calls that the action makes; with ``killed_at`` it is killed (SIGKILL) as it makes that one.

    Returns once the processes that the killed one left behind have ended, too. Raises ``AssertionError``
    where the action fails.
    """
    told, tell = os.pipe()
    tracer = os.fork()
    if tracer == 0:
        _leave(lambda: os.write(tell, str(_traced(action, killed_at)).encode()))
    os.close(tell)
    with os.fdopen(told) as answer:
        count = answer.read()
    _, status = os.waitpid(tracer, 0)
    assert status == 0, "the action failed; what it said stands on standard error"
    return int(count)


def _traced(action: Callable[[], object], killed_at: int | None) -> int:
    if LIBC.prctl(SUBREAPER, 1, 0, 0, 0):
        raise OSError(ctypes.get_errno(), "prctl")
    child = os.fork()
    if child == 0:
        _leave(lambda: (LIBC.ptrace(TRACE_ME, 0, None, None), os.kill(os.getpid(), signal.SIGSTOP), action()))
    os.waitpid(child, 0)
    _ptrace(SET_OPTIONS, child, GOOD_CALLS)
    count, passed_on, entering = 0, 0, True
    while True:
        _ptrace(NEXT_CALL, child, passed_on)
        _, status = os.waitpid(child, 0)
        if not os.WIFSTOPPED(status):
            assert status == 0, f"the action ended with {status:#x} after {count} calls"
            return count
        passed_on = 0
        if os.WSTOPSIG(status) != CALL:
            passed_on = os.WSTOPSIG(status)
            continue
        count += entering
        if entering and count == killed_at:
            os.kill(child, signal.SIGKILL)
            while True:
                try:
                    os.waitpid(-1, 0)
                except ChildProcessError:
                    return count
        entering = not entering


def _leave(action: Callable[[], object]) -> NoReturn:
    """Do it and end the process, which may not return into the test."""
    try:
        action()
        os._exit(0)
    except BaseException as error:
        os.write(2, f"{type(error).__name__}: {error}\n".encode())
        os._exit(1)


def _ptrace(request: int, child: int, data: int) -> None:
    if LIBC.ptrace(request, child, None, ctypes.c_void_p(data)):
        raise OSError(ctypes.get_errno(), "ptrace")
