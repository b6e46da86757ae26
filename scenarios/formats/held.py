"""Whether a file is open in another program, so that its owner hears that and not an error's name."""

from __future__ import annotations

from pathlib import Path

DENIED, SHARING, LOCKED = 5, 32, 33
"""Windows' numbers of its errors of access, sharing and locking."""

CLOSE = "close it in the program that has it open, such as a spreadsheet program, and try again"


def is_held(path: Path | str, error: OSError) -> bool:
    """Whether ``error`` came of ``path`` being open in another program.

    Windows says so by the error's number. When it is asked to replace the file, it only says that access is
    denied; it tells why when the file is opened. Elsewhere the file's permission is denied, and the mark
    that a spreadsheet program leaves beside an open workbook tells why.
    """
    number = getattr(error, "winerror", None)
    if number in (SHARING, LOCKED):
        return True
    if not isinstance(error, PermissionError):
        return False
    return any(mark.exists() for mark in marks(Path(path))) or (
        number == DENIED and _is_shared_with_nobody(path)
    )


def _is_shared_with_nobody(path: Path | str) -> bool:
    try:
        with open(path, "r+b"):
            return False
    except OSError as error:
        return getattr(error, "winerror", None) in (SHARING, LOCKED)


def in_words(error: OSError) -> str:
    """Why a file cannot be read or written, and what to do where it is open in another program."""
    for name in (error.filename2, error.filename):
        if isinstance(name, str) and is_held(name, error):
            return f"{name} is open in another program; {CLOSE}"
    return f"cannot read or write: {error}"


def marks(path: Path) -> list[Path]:
    """Files that spreadsheet programs put beside a workbook while it is open."""
    return [path.with_name(f"~${path.name}"), path.with_name(f".~lock.{path.name}#")]


def unreadable(path: Path, error: OSError) -> tuple[str, str]:
    """What is wrong with a file that cannot be read, and the remedy."""
    if is_held(path, error):
        return "is open in another program", CLOSE
    return f"cannot be read: {error.strerror or error}", "give it to be read"
