"""The folder that a person chose: scenarios in it, and which of them the desk shows.

Nothing that comes from the browser is a path. A name counts only where it is one of those that the folder
lists, and new files get names that the desk cleans.
"""

from __future__ import annotations

import json
import os
import re
import tempfile
import threading
import time
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from scenarios.formats.read_tables import is_table
from scenarios.formats.read_workbook import WORKBOOKS

ANSWERS, STATE = "answers", "desk.json"
PROGRESS = " progress.csv"
"""Ends the name of the file of a book's season, which stands beside it."""

BOOKS = (*WORKBOOKS, ".toml")
LISTS = (".csv", *WORKBOOKS)
"""Ends the names of files that may hold one table: a log of counts, a list of orders."""

LONGEST = 80
"""Characters of a name."""

DEVICES = {"con", "prn", "aux", "nul", "conin$", "conout$"} | {
    f"{d}{n}" for d in ("com", "lpt") for n in "123456789¹²³"
}
"""Names that stand for devices on Windows, whatever their ending."""

TRIES, PAUSE = 20, 0.05
"""How often a file is put in its place, and the seconds between. Windows refuses it while a virus scanner or
another page reads the old one."""


class Workplace:
    """A folder of scenarios and of the answers to questions about them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        (self.folder / ANSWERS).mkdir(parents=True, exist_ok=True)
        self._lock = threading.Lock()

    def books(self) -> list[str]:
        """Names of the scenarios in the folder: workbooks, folders of CSV files, variants."""
        return sorted(path.name for path in self.folder.iterdir() if _is_book(path))

    def files(self) -> list[str]:
        """Names of files beside the scenario on the desk: logs of counts, lists of orders, progress."""
        found = (path for path in self.folder.iterdir() if path.suffix.lower() in LISTS and _plain(path))
        return sorted(path.name for path in found if path.name != self.state.get("book"))

    def path(self, name: str) -> Path | None:
        """The scenario or file of that name; None where the folder has none."""
        return self.folder / name if name in {*self.books(), *self.files()} else None

    def progress(self, book: str) -> Path:
        """The file of a book's season, whether it is there or not."""
        return self.folder / f"{Path(book).stem}{PROGRESS}"

    def add(self, name: str, data: bytes) -> str:
        """Write a new file under a clean name that no other has; the name."""
        stem, suffix = os.path.splitext(_clean(name))
        free = f"{stem}{suffix}"
        with self._lock:
            for number in range(2, 10_000):
                if not (self.folder / free).exists():
                    break
                free = f"{stem} {number}{suffix}"
            written(self.folder / free, data)
        return free

    @property
    def state(self) -> dict[str, Any]:
        """What the desk remembers: ``book``, and ``always``, to plan when it is saved."""
        with suppress(OSError, ValueError):
            told = json.loads((self.folder / STATE).read_text(encoding="utf-8"))
            if isinstance(told, dict):
                return told
        return {}

    def remember(self, **told: Any) -> None:
        """Change what the desk remembers."""
        with self._lock:
            written(self.folder / STATE, json.dumps(self.state | told, ensure_ascii=False, indent=1).encode())

    @property
    def book(self) -> str | None:
        """Name of the scenario on the desk."""
        name = self.state.get("book")
        return name if isinstance(name, str) and name in self.books() else None

    def stamp(self, book: str) -> tuple[tuple[str, int, int], ...]:
        """What changes when the book or its season is saved: name, time and size of each of its files."""
        found = []
        for path in (*self._parts(book), self.progress(book)):
            with suppress(OSError):
                about = path.stat()
                found.append((path.name, about.st_mtime_ns, about.st_size))
        return tuple(found)

    def hashed(self, book: str) -> str:
        """SHA-256 of the book's files and of its season's, as hexadecimal digits."""
        made = sha256()
        for path in (*self._parts(book), self.progress(book)):
            with suppress(OSError):
                made.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
        return made.hexdigest()

    def _parts(self, book: str) -> list[Path]:
        place = self.folder / book
        return sorted(path for path in place.iterdir() if is_table(path)) if place.is_dir() else [place]


def named(title: str, suffix: str) -> str:
    """The name of a file for what a person calls a thing: a slash in it, as in 2026/27, is a dash."""
    return re.sub(r"[/\\]", "-", title) + suffix


def written(path: Path, data: bytes) -> None:
    """Write a file whole or not at all, in the place of another of the same name."""
    handle, part = tempfile.mkstemp(dir=path.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _put(Path(part), path)
    except BaseException:
        with suppress(OSError):
            os.unlink(part)
        raise


def _put(part: Path, path: Path) -> None:
    for _ in range(TRIES - 1):
        with suppress(PermissionError):
            os.replace(part, path)
            return
        time.sleep(PAUSE)
    os.replace(part, path)


def _is_book(path: Path) -> bool:
    if path.is_symlink():
        return False
    if path.is_dir():
        return (path / "nursery.csv").is_file()
    return path.suffix.lower() in BOOKS and _plain(path)


def _plain(path: Path) -> bool:
    """Whether it is a file of a person's own: no link, and not the mark of a program that has it open."""
    return path.is_file() and not path.is_symlink() and not path.name.startswith(("~$", ".", "_"))


def _clean(name: str) -> str:
    """A name without folders, control characters and what means something to an operating system."""
    last = re.split(r"[/\\]", name)[-1]
    kept = "".join(c if c.isprintable() and c not in '<>:"|?*' else "_" for c in last).rstrip(" ._~")
    whole, dot, ending = kept.rpartition(".") if "." in kept else (kept, "", "")
    stem = whole.lstrip(" ._~")[:LONGEST].rstrip(" .") or "scenario"
    if stem.partition(".")[0].rstrip().casefold() in DEVICES:
        stem = f"{stem}_".replace(".", "_")
    return f"{stem}{dot}{ending[:10]}"
