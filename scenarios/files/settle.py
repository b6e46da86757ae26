"""Move the files of a run to their places in the output folder: all of them or none, even if it is killed.

A run keeps its files in a hidden folder of the output. It writes into ``next`` there. Then one rename, of
``next`` to ``ready``, decides. Before it, the output is as it was. After it, ``settle`` moves the files to
their places. An error on the way renames ``ready`` to ``back``, and ``settle`` puts the old files back. Each
step can be repeated, so the next run continues where another was killed.

This module imports only the standard library, because it also runs as a process of its own, the keeper. The
keeper waits until the run has decided or has died, and then settles. So the output is complete soon after a
run is killed.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from errno import EAGAIN, EEXIST, EINVAL
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

HIDDEN = ".graftwright"
"""The hidden folder in an output folder."""

LOCK, MANIFEST = "lock", "manifest.json"
NEXT, READY, BACK, DONE = "next", "ready", "back", "done"
FILES, OLD, JOURNAL = "files", "old", "journal.json"
"""In ``next``: new files, the files they replace, and which is which."""

MOST_TRIES = 1000
"""Attempts to lock a hidden folder that other runs remove again and again."""

KEPT_OLD = 3
"""Exit code of a keeper that has put the old files back."""


@contextmanager
def locked(folder: Path) -> Iterator[tuple[int, list[Path]]]:
    """Lock ``folder`` against other runs; gives the lock's file descriptor, and the folders made for it.

    A second run waits. Missing folders are made. Afterwards the hidden folder and the folders made are
    removed if no run has written into them. Raises ``OSError`` where the folder cannot be written into.
    """
    hidden = folder / HIDDEN
    made: list[Path] = []
    try:
        handle = _lock(hidden, made)
        try:
            yield handle, made
        finally:
            _give_back(folder, handle)
    finally:
        remove_empty(made)


def _give_back(folder: Path, handle: int) -> None:
    """Tidy, and give the lock back.

    Windows deletes no file that is open. So there the lock goes back first, and its file stays where another
    run has it open by then.
    """
    if sys.platform == "win32":
        os.close(handle)
        with suppress(PermissionError):
            tidy(folder)
        return
    try:
        tidy(folder)
    finally:
        os.close(handle)


def _lock(hidden: Path, made: list[Path]) -> int:
    """Take the lock; add the folders made for it to ``made``, the outermost first."""
    if hidden.is_symlink():
        raise FileExistsError(EEXIST, "a link stands in the place of the program's own folder", str(hidden))
    for _ in range(MOST_TRIES):
        missing = [path for path in (hidden, *hidden.parents) if not path.exists()]
        made += [path for path in reversed(missing) if path not in made]
        hidden.mkdir(parents=True, exist_ok=True)
        with suppress(FileNotFoundError):  # another run has removed the hidden folder
            handle = os.open(hidden / LOCK, os.O_RDWR | os.O_CREAT, 0o666)
            try:
                _wait_for(handle)
                if os.path.samestat(os.fstat(handle), os.stat(hidden / LOCK)):
                    return handle
            except BaseException:
                os.close(handle)
                raise
            os.close(handle)
    raise BlockingIOError(EAGAIN, "other runs come and go", str(hidden))


def _wait_for(handle: int) -> None:
    if sys.platform == "win32":
        while True:
            with suppress(OSError):  # after ten seconds it gives up
                msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
                return
    else:
        fcntl.flock(handle, fcntl.LOCK_EX)


def tidy(folder: Path) -> None:
    """Remove the hidden folder if no run has written into it; the caller holds the lock."""
    hidden = folder / HIDDEN
    if not any((hidden / name).exists() for name in (MANIFEST, NEXT, READY, BACK, DONE)):
        (hidden / LOCK).unlink(missing_ok=True)
        remove_empty([hidden])


def remove_empty(folders: Sequence[Path]) -> None:
    """Remove the empty ones of the folders, the last first."""
    for path in reversed(folders):
        with suppress(OSError):
            path.rmdir()


def settle(folder: Path) -> None:
    """Finish the renames that a run has decided on, and remove the rest; the caller holds the lock.

    Raises ``OSError`` where a file cannot take its place; all files are then as before.
    """
    hidden = folder / HIDDEN
    wrong = None
    if (hidden / BACK).exists():
        _go_back(folder)
    if (hidden / READY).exists():
        try:
            _go_on(folder)
        except OSError as error:
            os.rename(hidden / READY, hidden / BACK)
            _go_back(folder)
            wrong = error
    for name in (NEXT, DONE):
        if (hidden / name).exists():
            shutil.rmtree(hidden / name)
    if wrong is not None:
        raise wrong


def _go_on(folder: Path) -> None:
    """Move the new files of ``ready`` to their places."""
    ready = folder / HIDDEN / READY
    journal = _journal(ready)
    for name in (*journal["new"], *journal["replaced"]):
        if (ready / FILES / name).exists():
            (folder / name).parent.mkdir(exist_ok=True)
            os.replace(ready / FILES / name, folder / name)
    for name in journal["gone"]:
        _take_away(folder, name)
    os.rename(ready, ready.with_name(DONE))


def _go_back(folder: Path) -> None:
    """Put the old files of ``back`` in their places again."""
    back = folder / HIDDEN / BACK
    journal = _journal(back)
    for name in (*journal["new"], *journal["replaced"], *journal["gone"]):
        if (back / FILES / name).exists():  # has not been moved
            continue
        if (back / OLD / name).exists():
            os.replace(back / OLD / name, folder / name)
        elif name in journal["new"]:
            _take_away(folder, name)
    os.rename(back, back.with_name(DONE))


def _journal(place: Path) -> dict[str, list[str]]:
    """The names of files that are new, replaced and gone; raises ``OSError`` where one is outside the folder.

    Anybody may have made the folder, so its journal must not lead the program to other places.
    """
    folder = place.parents[1]
    try:
        found = json.loads((place / JOURNAL).read_bytes())
        journal = {what: [str(name) for name in found[what]] for what in ("new", "replaced", "gone")}
    except (ValueError, KeyError, TypeError):
        raise OSError(EINVAL, "is not as this program wrote it", str(place / JOURNAL)) from None
    for name in (name for names in journal.values() for name in names):
        if not is_inside(name) or (folder / name).parent.is_symlink():
            raise OSError(EINVAL, "a file would be written outside the folder", str(folder / name))
    return journal


def is_inside(name: str) -> bool:
    """Whether a name is that of a file in the folder, or in a folder directly inside it."""
    parts = name.split("/")
    return len(parts) <= 2 and not set(parts) & {"", ".", ".."} and not set(name) & set("\\:\0")


def _take_away(folder: Path, name: str) -> None:
    """Delete a file of ``folder``, and its own folder if that is then empty."""
    path = folder / name
    path.unlink(missing_ok=True)
    if path.parent != folder:
        remove_empty([path.parent])


def keeper(folder: Path, handle: int, made: Sequence[Path]) -> subprocess.Popen[bytes] | None:
    """Start a process that settles ``folder`` when its standard input ends, for instance as the run dies.

    It holds the lock too, so that no other run comes between, and belongs to no terminal's group. None where
    it cannot be started: on Windows a process cannot inherit the lock, and a machine may be out of processes.
    """
    if sys.platform == "win32":
        return None
    try:
        return subprocess.Popen(
            [sys.executable, "-I", "-S", __file__, str(folder), *map(str, made)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            pass_fds=[handle],
            start_new_session=True,
        )
    except OSError:
        return None


def keep(folder: Path, made: Sequence[Path]) -> int:
    """Run the keeper; return its exit code."""
    sys.stdin.buffer.read()
    try:
        settle(folder)
    except OSError as error:
        with suppress(OSError):  # nobody may be there to hear
            print(error, flush=True)
        return KEPT_OLD
    finally:
        tidy(folder)
        remove_empty(made)
    return 0


if __name__ == "__main__":
    sys.exit(keep(Path(sys.argv[1]), [Path(name) for name in sys.argv[2:]]))
