"""Read tables from files of any kind: a folder with a file for each, or a file with one table."""

from __future__ import annotations

from pathlib import Path

from model.planned.tables.plan_schema import PlanTable
from model.scenario.tables import BY_NAME, Table
from scenarios.cells.grid import NO_TABLE, FileFault, TableSource, file_fault, table_fault, tables_named
from scenarios.formats.read_csv import read_text_table
from scenarios.formats.read_workbook import WORKBOOKS, read_sheet


def read_folder(folder: Path) -> TableSource:
    """Read all tables of a folder as grids.

    A table is a file .csv or .tsv, or a workbook that has the table's name. Passed over are files that are
    hidden, begin with '#' or are of another kind.
    """
    source = TableSource()
    try:
        names = sorted(folder.iterdir())
    except OSError as error:
        wrong = f"cannot be read: {error.strerror}"
        source.faults.append(file_fault(str(folder), wrong, "give it to be read"))
        return source
    paths = [path for path in names if is_table(path)]
    if not paths:
        remedy = "name a folder with nursery.csv, orders.csv and so on"
        source.faults.append(file_fault(str(folder), "holds no table", remedy))
    files = {path.stem: path for path in paths}
    for path in paths:
        if files[path.stem] != path:
            wrong, remedy = "is the same table again", "keep one of the files"
            source.faults.append(table_fault(path.stem, wrong, remedy, value=path.name))
    for name in tables_named(files, "CSV file", source):
        read_table_file(BY_NAME[name], files[name], source)
    return source


def is_table(path: Path) -> bool:
    """Whether a file in a scenario's folder is read."""
    if path.name.startswith((".", NO_TABLE, "~$")):
        return False
    kind = path.suffix.lower()
    return kind == ".csv" or (kind in (".tsv", *WORKBOOKS) and path.stem in BY_NAME)


def read_table_file(table: Table | PlanTable, path: Path, source: TableSource) -> None:
    """Read one table's file, text or workbook; add its grid, or the fault of the file, to the source."""
    if path.suffix.lower() not in WORKBOOKS:
        read_text_table(table, path, source)
        return
    try:
        read_sheet(table.name, path, source)
    except FileFault as fault:
        source.faults.append(table_fault(table.name, fault.wrong, fault.remedy, fault.row, fault.value))
        source.unread.add(table.name)
