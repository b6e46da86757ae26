"""Files and folders that appear whole or not at all."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows, which has no locks of this kind
    fcntl = None  # type: ignore[assignment]

HELD_BACK = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals that wait until files have taken their places."""


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A place beside ``path`` to write to; it takes the place of ``path`` once all is written.

    Raises ``OSError`` where the place cannot be written; ``path`` is then as it was.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    part = _beside(path)
    try:
        yield part
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def whole_folder(path: Path) -> Iterator[Path]:
    """A folder beside ``path`` to write into; it becomes ``path`` once all is written.

    Raises ``FileExistsError`` where ``path`` is a file or holds anything: nothing of a user's is replaced.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.is_symlink() or (path.exists() and (not path.is_dir() or any(path.iterdir()))):
        raise FileExistsError(f"{path} exists already and is not an empty folder")
    part = _beside(path)
    part.mkdir()
    try:
        yield part
        if path.is_dir():
            path.rmdir()
        os.replace(part, path)
    finally:
        shutil.rmtree(part, ignore_errors=True)


@contextmanager
def whole_files(folder: Path) -> Iterator[Path]:
    """A folder beside ``folder`` to write into; what it then holds takes its place in ``folder``.

    Files and folders of the same names are replaced once all is written; others stay. They change places
    together: no other run comes between, and a signal waits until all are there. Raises ``OSError`` where a
    place cannot be written.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    part = _beside(folder)
    part.mkdir()
    try:
        yield part
        with _alone(folder), _undisturbed():
            folder.mkdir(exist_ok=True)
            for made in sorted(part.iterdir()):
                target = folder / made.name
                if target.is_dir():
                    target.rename(part / f"old {made.name}")
                os.replace(made, target)
    finally:
        shutil.rmtree(part, ignore_errors=True)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """No two runs at once where files take their places in ``folder``; the second waits."""
    if fcntl is None:
        yield
        return
    handle = os.open(folder.parent, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Signals that would end the run are held back; they come afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, HELD_BACK)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _beside(path: Path) -> Path:
    """A name in the same folder that nothing else has; the suffix stays, since writers look at it."""
    return path.with_name(f".{path.stem}-{os.urandom(4).hex()}{path.suffix}")
