"""Write a scenario as a folder of CSV files or as a workbook, and a blank workbook to fill in.

The files read back as the same scenario. Texts are data: no program that opens a file runs one as a formula.
"""

from __future__ import annotations

import csv
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from openpyxl.writer.excel import ExcelWriter

from model.csv_text import cover
from model.scenario.entities import Scenario
from model.scenario.tables import TABLES, Table, Type, records_of
from reports.book.stamp import written
from scenarios.cells.draft import text_of
from scenarios.cells.faults import Refused
from scenarios.files.dress import dressed_workbook
from scenarios.files.output import new_file, new_folder

FIRST_IN_ZIP = datetime(1980, 1, 1)
"""A zip file knows no earlier time."""

TEXTS = {Type.TEXT, Type.REFERENCE, Type.REFERENCES, Type.CHOICES}


def write(scenario: Scenario, path: str | Path) -> None:
    """Write a scenario as a new workbook (a path that ends in .xlsx) or a new folder of CSV files.

    Raises ``Refused``, a ``ValueError``, where a file or a folder with content exists already, and where the
    path has another ending.
    """
    target = Path(path)
    if target.suffix.lower() == ".xlsx":
        write_workbook(scenario, target)
    elif target.suffix:
        raise Refused(f"{target}: name a file that ends in .xlsx, or a folder without a suffix")
    else:
        write_folder(scenario, target)


def write_folder(scenario: Scenario, path: Path) -> None:
    """Write the tables as CSV files (UTF-8, commas) into a new or empty folder.

    Leaves out tables without rows. Raises ``Refused`` where the folder holds anything.
    """
    rows = {table: records_of(scenario, table) for table in TABLES}
    written = [table for table in TABLES if rows[table] or table.required]
    with new_folder(Path(path), [f"{table.name}.csv" for table in written]) as folder:
        for table in written:
            write_table(table, rows[table], folder / f"{table.name}.csv")


def write_table(table: Table, rows: tuple[Any, ...], path: Path) -> None:
    """Write rows of one table as a CSV file; raises ``OSError`` where it cannot be written."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(column.heading for column in table.columns)
        for row in rows:
            cells = []
            for column in table.columns:
                text = text_of(getattr(row, column.name))
                cells.append(cover(text) if column.type in TEXTS else text)
            writer.writerow(cells)


def write_workbook(scenario: Scenario, path: Path) -> None:
    """Write the tables as sheets of a workbook (.xlsx), with headings, notes and pick lists.

    Raises ``Refused`` where the file exists already.
    """
    _save(scenario, Path(path))


def write_blank(path: Path, examples: Scenario | None = None) -> None:
    """Write a workbook (.xlsx) to fill in, with the rows of ``examples`` if given.

    Raises ``Refused`` where the file exists already.
    """
    _save(examples, Path(path))


def _save(scenario: Scenario | None, path: Path) -> None:
    rows = {table.name: records_of(scenario, table) if scenario else () for table in TABLES}
    book, at = dressed_workbook(rows), written()
    book.properties.created = book.properties.modified = at
    with new_file(path) as part:
        # A killed run leaves openpyxl's temporary files behind; in this folder the next run removes them.
        before, tempfile.tempdir = tempfile.tempdir, str(part.parent)
        try:
            with _Archive(part, at) as archive:
                ExcelWriter(book, archive).write_data()
        finally:
            tempfile.tempdir = before


class _Archive(ZipFile):
    """A new zip file whose members all bear one time, the time of the workbook in it."""

    def __init__(self, path: Path, at: datetime) -> None:
        super().__init__(path, "w", ZIP_DEFLATED)
        self._date = max(at, FIRST_IN_ZIP).timetuple()[:6]

    def writestr(self, zinfo_or_arcname: Any, data: Any, *_: Any) -> None:
        """Writes a member from memory."""
        super().writestr(ZipInfo(zinfo_or_arcname, self._date), data, ZIP_DEFLATED)

    def write(self, filename: Any, arcname: Any = None, *_: Any) -> None:
        """Writes a member from a file."""
        self.writestr(arcname, Path(filename).read_bytes())
