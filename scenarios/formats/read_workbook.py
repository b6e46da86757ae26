"""Read a workbook of any kind into grids: all its tables, or one. Its kind is told by its content.

Workbooks are data. No formula is run: what a formula gave when the file was saved is its value. The
reader of a kind is imported when a file of the kind is read, which takes a while.
"""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import IO

from defusedxml.common import DefusedXmlException

from model.scenario.tables import BY_NAME
from scenarios.cells.faults import folded
from scenarios.cells.grid import NO_TABLE, FileFault, TableSource, file_fault, tables_named
from scenarios.formats.held import unreadable
from scenarios.formats.zip_checks import LARGEST_FILE, SAVE_AS, check_parts, check_xml

WORKBOOKS = (".xlsx", ".ods", ".xls")
"""Endings of workbooks that are read."""

OTHER_KINDS = {
    ".xlsm": "is a workbook with macros (.xlsm)",
    ".xlsb": "is a binary workbook (.xlsb)",
    ".numbers": "is a Numbers document",
    ".csv": "is a single table",
}

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""First bytes of a workbook of the old kind."""

Choice = Callable[[Sequence[str]], Mapping[str, str]]
"""The sheets to read by their titles, each with the name of its table."""


def read_workbook(path: Path) -> TableSource:
    """Read all sheets of a workbook as grids; skip sheets whose names start with '#'."""
    source = TableSource()

    def all_tables(titles: Sequence[str]) -> Mapping[str, str]:
        own = [title for title in titles if not title.startswith(NO_TABLE)]
        return {name: name for name in tables_named(own, "sheet", source)}

    try:
        _read(path, all_tables, source)
    except FileFault as refused:
        return TableSource(faults=[file_fault(path.name, refused.wrong, refused.remedy)])
    return source


def read_sheet(table: str, path: Path, source: TableSource) -> None:
    """Read the one table of a workbook: the sheet with its name, or the only sheet. Raises ``FileFault``."""

    def the_table(titles: Sequence[str]) -> Mapping[str, str]:
        own = [title for title in titles if not title.startswith(NO_TABLE)]
        named = [title for title in own if folded(title) == folded(table)] or own
        if len(named) != 1 or (named[0] != table and named[0] in BY_NAME):
            wrong = "has no sheet that must be the table" if len(own) < 2 else f"has {len(own)} sheets"
            raise FileFault(wrong, f"name the sheet with the rows '{table}'")
        return {named[0]: table}

    if path.is_symlink():
        raise FileFault("is a symbolic link", "put the file itself in the folder")
    _read(path, the_table, source)


def _read(path: Path, choice: Choice, source: TableSource) -> None:
    """Read the chosen sheets; raises ``FileFault``, whatever a damaged file makes its reader raise."""
    _check_file(path)
    try:
        with path.open("rb") as file:
            if file.read(len(OLE)) == OLE:
                file.seek(0)
                _check_old(file.read())
                from scenarios.formats.read_xls import read_xls

                read_xls(file, choice, source)
            else:
                file.seek(0)
                _read_zip(file, choice, source)
    except FileFault:
        raise
    except OSError as error:
        raise FileFault(*unreadable(path, error)) from None
    except (zipfile.BadZipFile, EOFError) as error:
        raise FileFault(f"is damaged: {error}", SAVE_AS) from None
    except DefusedXmlException:
        raise FileFault("declares XML entities, which no workbook needs", SAVE_AS) from None
    except BaseException as error:
        if not isinstance(error, Exception) and type(error).__name__ != "PanicException":  # that of Rust
            raise
        raise FileFault(f"cannot be read as a workbook ({type(error).__name__}: {error})", SAVE_AS) from None


def _check_file(path: Path) -> None:
    suffix = path.suffix.lower()
    if suffix == ".csv":
        raise FileFault(OTHER_KINDS[suffix], "name the folder in which it stands")
    if suffix not in WORKBOOKS:
        kinds = ", ".join(WORKBOOKS)
        raise FileFault(OTHER_KINDS.get(suffix, f"is neither a workbook ({kinds}) nor a folder"), SAVE_AS)
    if not path.is_file():
        raise FileFault("is not a file", "name a workbook")
    size = path.stat().st_size
    if size == 0:
        raise FileFault("is an empty file", "write a blank workbook and fill it in")
    if size > LARGEST_FILE:
        raise FileFault(f"is larger than {LARGEST_FILE:,} bytes", "keep only the tables in it")


def _check_old(data: bytes) -> None:
    """Refuse a workbook of the old kind that is protected, or has macros."""
    if "EncryptedPackage".encode("utf-16-le") in data:
        raise FileFault("is protected by a password", "save it without a password")
    if "_VBA_PROJECT".encode("utf-16-le") in data:
        raise FileFault("is a workbook with macros", SAVE_AS)


def _read_zip(file: IO[bytes], choice: Choice, source: TableSource) -> None:
    """Read the zip file as the workbook that its parts make it."""
    if file.read(4) != b"PK\x03\x04":
        raise FileFault("is not a workbook, whatever its name", SAVE_AS)
    with zipfile.ZipFile(file) as archive:
        check_parts(archive)
        names = set(archive.namelist())
        if any(name.endswith("vbaProject.bin") for name in names):
            raise FileFault("is a workbook with macros", SAVE_AS)
        if "xl/workbook.bin" in names:
            raise FileFault(OTHER_KINDS[".xlsb"], SAVE_AS)
        opened = "mimetype" in names and b"opendocument.spreadsheet" in archive.read("mimetype")
        if not opened and ("[Content_Types].xml" not in names or not any(n.startswith("xl/") for n in names)):
            raise FileFault("is a zip file, but not a workbook", SAVE_AS)
        check_xml(archive)
        if opened:
            from scenarios.formats.read_ods import read_ods as read
        else:
            from scenarios.formats.read_xlsx import read_xlsx as read
        read(file, archive, choice, source)
