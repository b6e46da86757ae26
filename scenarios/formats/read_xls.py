"""Read a workbook of the old kind (.xls), by python-calamine.

Its reader shows no hidden rows, no merged cells, and reads the errors of formulas as blanks. That is told.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import IO, Any

from model.scenario.about_cells import Remark
from scenarios.cells.grid import FileFault, Grid, TableSource
from scenarios.cells.parse import Raw
from scenarios.formats.sheet_facts import SheetFacts

UNSEEN = (
    "is of the old kind (.xls), in which errors of formulas read as blanks, and hidden parts do not show: "
    "save it as .xlsx if it has any"
)


def read_xls(
    file: IO[bytes], choice: Callable[[Sequence[str]], Mapping[str, str]], source: TableSource
) -> None:
    """Read the chosen sheets; raises what its reader raises on a damaged file."""
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError

    file.seek(0)
    try:
        book = CalamineWorkbook.from_filelike(file)
    except PasswordError:
        raise FileFault("is protected by a password", "save it without a password") from None
    except CalamineError as error:
        raise FileFault(f"is damaged: {error}", "open it in a spreadsheet program and save it") from None
    source.remarks.append(Remark("", None, "the workbook", "", "", UNSEEN))
    for title, table in choice(book.sheet_names).items():
        rows = values_of(book, title)
        facts = SheetFacts()
        for number, row in enumerate(rows, 1):
            for position, cell in enumerate(row, 1):
                if cell is not None:
                    facts.fill(number, position)
        excess = facts.excess(table)
        if excess is not None:
            source.faults.append(excess)
            source.unread.add(table)
            continue
        source.grids[table] = Grid(table, facts.rows(table, rows, source), typed=True)


def values_of(book: Any, title: str) -> list[list[Raw]]:
    """The values of a sheet by row and column, from its first row and column on; None for a blank cell."""
    rows = book.get_sheet_by_name(title).to_python(skip_empty_area=False)
    return [[None if cell == "" else cell for cell in row] for row in rows]
