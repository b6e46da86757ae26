"""Writing a scenario as a folder of CSV files, as a workbook, and a blank workbook to fill in.

What is written reads back as the same scenario. Texts are data: none is run as a formula by a program
that opens the file.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from model.scenario.csv_text import cover
from model.scenario.entities import Scenario
from model.scenario.tables import TABLES, Table, Type, records_of
from scenarios.cells.draft import text_of
from scenarios.files.atomic import whole_file, whole_folder
from scenarios.files.dress import dressed_workbook

TEXTS = {Type.TEXT, Type.REFERENCE, Type.REFERENCES, Type.CHOICES}


def write(scenario: Scenario, path: str | Path) -> None:
    """Writes a scenario as a new workbook (a path that ends in .xlsx) or a new folder of CSV files.

    Raises ``FileExistsError`` where the path exists already, ``ValueError`` where it has another ending.
    """
    target = Path(path)
    if target.exists():
        raise FileExistsError(f"{target} exists already; name a new one, or move it away first")
    if target.suffix.lower() == ".xlsx":
        write_workbook(scenario, target)
    elif target.suffix:
        raise ValueError(f"{target}: name a file that ends in .xlsx, or a folder without a suffix")
    else:
        write_folder(scenario, target)


def write_folder(scenario: Scenario, path: Path) -> None:
    """Writes the tables as CSV files (UTF-8, commas) into a new or empty folder.

    Tables without rows are left out. Raises ``FileExistsError`` where the folder holds anything.
    """
    with whole_folder(Path(path)) as folder:
        for table in TABLES:
            rows = records_of(scenario, table)
            if rows or table.required:
                write_table(table, rows, folder / f"{table.name}.csv")


def write_table(table: Table, rows: tuple[Any, ...], path: Path) -> None:
    """Writes rows of one table as a CSV file; raises ``OSError`` where it cannot."""
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
    """Writes the tables as sheets of a workbook (.xlsx), headings, notes and pick lists as in a blank one."""
    _save(scenario, Path(path))


def write_blank(path: Path, examples: Scenario | None = None) -> None:
    """Writes a workbook (.xlsx) to fill in; the rows of ``examples`` stand in it where given."""
    _save(examples, Path(path))


def _save(scenario: Scenario | None, path: Path) -> None:
    rows = {table.name: records_of(scenario, table) if scenario else () for table in TABLES}
    book = dressed_workbook(rows)
    with whole_file(path) as part:
        book.save(part)
