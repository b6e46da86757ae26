"""The output folder of a run: the run replaces no file of the user's, and writes all its files or none.

A run claims its folder before it solves, so that it stops early where a file is in the way. It replaces only
files that the program itself wrote: the hidden folder holds a list of them, with a hash of each. ``settle``
moves the files to their places; docs/files.md explains all this to users.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext, suppress
from hashlib import sha256
from pathlib import Path

from scenarios.cells.faults import Refused
from scenarios.files.settle import (
    BACK,
    FILES,
    HIDDEN,
    JOURNAL,
    KEPT_OLD,
    MANIFEST,
    NEXT,
    OLD,
    READY,
    is_inside,
    keeper,
    locked,
    remove_empty,
    settle,
)

HELD_BACK = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals that wait until files have taken their places."""

ABOUT = "Files in this folder that Graftwright wrote, and the SHA-256 of each. It replaces no other file."
ELSEWHERE = "name another folder with -o"


class Output:
    """A folder claimed for a run's files.

    ``names``: the files that the run may write; a name that ends in / is a folder. ``carried``: files that
    the run reads and updates; it may replace them even if they are not on the list of the program's files.
    """

    def __init__(self, folder: Path, names: Sequence[str], carried: Sequence[str] = ()) -> None:
        self.folder, self.names, self.carried = folder, tuple(names), frozenset(carried)
        self.place = Path(os.path.realpath(folder))

    @contextmanager
    def writing(self) -> Iterator[Path]:
        """A folder to write into; afterwards its files take their places in the output, all or none.

        Raises ``Refused`` where a file has come in the way since the claim, and ``OSError`` where a file
        cannot be written; the output is then as it was.
        """
        with locked(self.place) as (handle, made):
            settle(self.place)
            upcoming = self.place / HIDDEN / NEXT
            guard = keeper(self.place, handle, made)
            try:
                (upcoming / FILES).mkdir(parents=True)
                yield upcoming / FILES
                self._make_ready(upcoming)
                with _undisturbed():
                    os.rename(upcoming, upcoming.with_name(READY))
                    _to_disk(upcoming.parent)
                    if guard is not None:
                        told = guard.communicate()[0].decode(errors="replace").strip()
                        if guard.returncode == KEPT_OLD:
                            raise OSError(f"{told}; {self.folder} is as it was")
                    settle(self.place)
            finally:
                shutil.rmtree(upcoming, ignore_errors=True)
                if guard is not None and guard.poll() is None:
                    guard.communicate()

    def in_the_way(self, names: Sequence[str]) -> list[str]:
        """The ``names`` that the program may not replace, with the reasons; the caller holds the lock."""
        written = _written(self.place)
        found = []
        for name in names:
            path = self.place / name
            if name.endswith("/"):
                if path.is_symlink() or (path.exists() and not path.is_dir()):
                    found.append(f"{self.folder / name} stands where a folder is to be written")
                    continue
                inside = [own for own in written if own.startswith(name)]
                found += [wrong for own in inside if (wrong := self._unlike(own, written))]
            elif wrong := self._unlike(name, written):
                found.append(wrong)
        return list(dict.fromkeys(found))

    def _unlike(self, name: str, written: Mapping[str, str]) -> str | None:
        """The reason why a file may not be replaced; None where it may be, or does not exist."""
        path, shown = self.place / name, self.folder / name
        if path.is_symlink():
            return f"{shown} is a link"
        if not path.exists():
            return None
        if not path.is_file():
            return f"{shown} stands where a file is to be written"
        if name in self.carried:
            return None
        if name not in written:
            return f"{shown} was not written by this program"
        if _hash(path) != written[name]:
            return f"{shown} has been changed since this program wrote it"
        return None

    def _make_ready(self, upcoming: Path) -> None:
        """Add the old files, the journal and the list of files to the new files, and put all on the disk."""
        made = sorted(_files(upcoming / FILES))
        strange = [name for name in made if not self._may_write(name)]
        if strange:
            raise ValueError(f"written, but not claimed: {', '.join(strange)}")
        folders = tuple(name for name in self.names if name.endswith("/"))
        refuse(self.in_the_way([*made, *folders]))
        written = _written(self.place)
        gone = [
            name
            for name in written
            if name.startswith(folders) and name not in made and (self.place / name).exists()
        ]
        kept = {name: hashed for name, hashed in written.items() if (self.place / name).exists()}
        listed = {name: kept[name] for name in kept if name not in gone}
        listed |= {name: _hash(upcoming / FILES / name) for name in made}
        manifest = f"{HIDDEN}/{MANIFEST}"
        _write_json(upcoming / FILES / manifest, {"about": ABOUT, "files": dict(sorted(listed.items()))})
        names = [*made, manifest]
        replaced = [name for name in names if (self.place / name).exists()]
        for name in (*replaced, *gone):
            _keep(self.place / name, upcoming / OLD / name)
        new = [name for name in names if name not in replaced]
        _write_json(upcoming / JOURNAL, {"new": new, "replaced": replaced, "gone": gone})
        for path in upcoming.rglob("*"):
            _to_disk(path)
        _to_disk(upcoming)

    def _may_write(self, name: str) -> bool:
        return any(name.startswith(own) if own.endswith("/") else name == own for own in self.names)


def claim(
    folder: Path, names: Sequence[str], reads: Mapping[Path, str], carried: Sequence[str] = ()
) -> Output:
    """Claim the folder for a run's files, before the run reads or solves anything.

    ``names``, ``carried``: see ``Output``. ``reads``: every file and folder that the run reads, with its
    purpose in words. Raises ``Refused`` where the run would write a file that it reads, where a user's file
    is in the way, and where the folder cannot be written into; nothing has changed then. Finishes or removes
    what a killed run left half done, here and in the folders that the run reads.
    """
    try:
        output = Output(folder, names, carried)
        if output.place.exists() and not output.place.is_dir():
            raise Refused(f"{folder} is a file; name a folder to write into")
        for read in reads:
            settle_around(read)
        refuse(_clashes(output, reads), ELSEWHERE)
        with locked(output.place):
            settle(output.place)
            refuse(output.in_the_way(names))
    except (OSError, ValueError) as error:
        if isinstance(error, Refused):
            raise
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise Refused(f"cannot write into {folder}: {why}; {ELSEWHERE}") from None
    return output


def refuse(wrong: Sequence[str], remedy: str = f"move it away, or {ELSEWHERE}") -> None:
    """Raise ``Refused`` with a line for each entry of ``wrong``, if there is any."""
    if wrong:
        raise Refused("\n".join(f"{one}; {remedy}" for one in wrong))


def settle_around(path: Path) -> None:
    """Finish or remove what a killed run left in the folders around a path that is about to be read."""
    with suppress(OSError, ValueError):  # a folder that cannot be written into is read as it is
        real = Path(os.path.realpath(path))
        for folder in (real, *real.parents[:2]):
            if any((folder / HIDDEN / name).is_dir() for name in (NEXT, READY, BACK)):
                with locked(folder):
                    settle(folder)


def _clashes(output: Output, reads: Mapping[Path, str]) -> list[str]:
    """A message for each file that the run would both read and write."""
    found = []
    for name in output.names:
        target = output.place / name
        for read, what in reads.items():
            real = Path(os.path.realpath(read))
            shown = f"{output.folder / name} would be written over {read}, which is read as {what}"
            if _same(target, real) or (
                name.endswith("/") and any(_same(target, parent) for parent in real.parents)
            ):
                found.append(shown)
            elif name.endswith(".csv") and real.is_dir() and _same(output.place, real):
                found.append(f"{output.folder / name} would be written among the tables of {read}, {what}")
    return list(dict.fromkeys(found))


def _same(one: Path, other: Path) -> bool:
    """Whether two paths are one file or folder, through links, hard links, or letters that differ in case."""
    try:
        return os.path.samefile(one, other)
    except OSError:
        return os.path.normcase(one) == os.path.normcase(other)


@contextmanager
def new_file(path: Path) -> Iterator[Path]:
    """A path to write a new file to; afterwards the complete file is renamed to ``path``.

    Raises ``Refused`` where ``path`` exists already, and ``OSError`` where the file cannot be written.
    """
    check_new(path)
    with _beside(path) as part:
        yield part
        _to_disk(part)
        try:
            os.link(part, path)  # unlike a rename, a link does not replace a file made meanwhile
        except OSError:  # such a file exists, or this file system has no hard links
            check_new(path)
            os.rename(part, path)


@contextmanager
def new_folder(path: Path, names: Sequence[str]) -> Iterator[Path]:
    """A folder to write ``names`` into; afterwards it takes the place of ``path``, which is new or empty.

    Raises ``Refused`` where ``path`` holds anything, and ``OSError`` where the folder cannot be written.
    """
    if path.is_dir() and all(inner.name == HIDDEN for inner in path.iterdir()):
        with claim(path, names, {}).writing() as part:
            yield part
        return
    check_new(path)
    with _beside(path) as part:
        part.mkdir()
        yield part
        for inner in part.rglob("*"):
            _to_disk(inner)
        check_new(path)
        os.rename(part, path)


def claim_new(path: Path) -> None:
    """Raise ``Refused`` where ``path`` exists already, and where no file can be written there."""
    check_new(path)
    try:
        with _beside(path):
            pass
    except OSError as error:
        raise Refused(f"cannot write {path}: {error.strerror}; name another place") from None


def check_new(path: Path) -> None:
    """Raise ``Refused`` where ``path`` exists already."""
    if os.path.lexists(path):
        raise Refused(f"{path} exists already; name a new one, or move it away first")


@contextmanager
def _beside(path: Path) -> Iterator[Path]:
    """A path of the same name in a hidden folder next to ``path``; removes what killed runs left there."""
    place = Path(os.path.abspath(path)).parent
    missing = [folder for folder in (place, *place.parents) if not folder.exists()][::-1]
    stem = f"{HIDDEN}-{sha256(os.fsencode(path.name)).hexdigest()[:8]}"
    hidden = place / f"{stem}-{os.urandom(4).hex()}"
    try:
        place.mkdir(parents=True, exist_ok=True)
        for left in place.glob(f"{stem}-*"):
            shutil.rmtree(left, ignore_errors=True)
        hidden.mkdir()
        yield hidden / path.name
    finally:
        shutil.rmtree(hidden, ignore_errors=True)
        remove_empty(missing)


def _written(place: Path) -> dict[str, str]:
    """The files that the program wrote into a folder, and the hash of each."""
    try:
        found = json.loads((place / HIDDEN / MANIFEST).read_bytes())["files"]
        return {name: str(hashed) for name, hashed in found.items() if is_inside(name)}
    except (FileNotFoundError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _files(folder: Path) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()]


def _hash(path: Path) -> str:
    return sha256(path.read_bytes()).hexdigest()


def _write_json(path: Path, value: Mapping[str, object]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(value, indent=1, ensure_ascii=True) + "\n", encoding="utf-8")


def _keep(path: Path, old: Path) -> None:
    """Keep a file under a second name: as a hard link, or as a copy where the file system has no links."""
    old.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(path, old)
    except OSError:
        shutil.copy2(path, old)


def _to_disk(path: Path) -> None:
    """Wait until a file or folder is on the disk; some systems cannot do this for folders."""
    with suppress(OSError) if path.is_dir() else nullcontext():
        handle = os.open(path, os.O_RDWR if path.is_file() else os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Hold back signals that would end the run until the block ends."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, HELD_BACK)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
