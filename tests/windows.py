"""Windows' rules on Linux: an open file is not deleted, renamed or replaced, and locks are msvcrt's."""

from __future__ import annotations

import fcntl
import os
import sys
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from scenarios.files import settle

SHARING = 32
"""Windows' number of the error that a file is open elsewhere."""

HANDLES = Path("/proc/self/fd")


def open_below(path: str | Path) -> list[str]:
    """Files at a path or below it that this process has open."""
    found = []
    for handle in os.listdir(HANDLES):
        with suppress(OSError):
            at = os.readlink(HANDLES / handle)
            if (at == str(path) or at.startswith(f"{path}/")) and os.path.isfile(at):
                found.append(at)
    return found


def like_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have this process refuse what Windows refuses, until the test ends."""
    for name in ("unlink", "remove", "rename", "replace"):
        monkeypatch.setattr(os, name, _refusing(getattr(os, name)))
    monkeypatch.setattr(sys, "platform", "win32")
    locks = SimpleNamespace(LK_LOCK=1, locking=lambda handle, *_: fcntl.flock(handle, fcntl.LOCK_EX))
    monkeypatch.setattr(settle, "msvcrt", locks, raising=False)


def _refusing(call: Any) -> Any:
    def refusing(*paths: Any, dir_fd: int | None = None, **others: Any) -> None:
        place = os.getcwd() if dir_fd is None else os.readlink(HANDLES / str(dir_fd))
        for path in paths:
            if open_below(os.path.realpath(os.path.join(place, path))):
                error = PermissionError(13, "used by another process", str(path))
                error.winerror = SHARING  # type: ignore[attr-defined]
                raise error
        call(*paths, **({} if dir_fd is None else {"dir_fd": dir_fd}), **others)

    return refusing
