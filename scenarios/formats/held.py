"""Whether a file is open in another program, so that its owner hears that and not an error's name."""

from __future__ import annotations

from pathlib import Path

SHARING, LOCKED = 32, 33
"""Windows' numbers of its errors of sharing and locking, for a file that another program holds."""

CLOSE = "close it in the program that has it open, such as a spreadsheet program, and try again"


def is_held(path: Path | str, error: OSError) -> bool:
    """Whether ``error`` came of ``path`` being open in another program.

    Windows says so by the error's number. Elsewhere the file's permission is denied, and the mark that a
    spreadsheet program leaves beside an open workbook tells why.
    """
    if getattr(error, "winerror", None) in (SHARING, LOCKED):
        return True
    return isinstance(error, PermissionError) and any(mark.exists() for mark in marks(Path(path)))


def marks(path: Path) -> list[Path]:
    """Files that spreadsheet programs put beside a workbook while it is open."""
    return [path.with_name(f"~${path.name}"), path.with_name(f".~lock.{path.name}#")]


def unreadable(path: Path, error: OSError) -> tuple[str, str]:
    """What is wrong with a file that cannot be read, and the remedy."""
    if is_held(path, error):
        return "is open in another program", CLOSE
    return f"cannot be read: {error.strerror or error}", "give it to be read"
