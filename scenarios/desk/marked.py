"""A copy of a workbook in which every faulty cell is marked, with the fault and its remedy as a comment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.comments import Comment
from openpyxl.styles import Border, PatternFill, Side

from scenarios.cells.faults import Fault, printable

FILL = PatternFill("solid", fgColor="FFD9CC")
EDGE = Side("thick", color="B00020")
LIST = "Faults"


def write_marked(book: Path, faults: Sequence[Fault], target: Path) -> None:
    """Write the copy to ``target``: marks, comments, and a first sheet that lists all faults.

    A fault without a cell is marked at the heading of its column, or at the first cell of its sheet. The
    list holds those of sheets that the workbook lacks too.
    """
    copy = openpyxl.load_workbook(book)
    told: dict[Any, list[str]] = defaultdict(list)
    rows = []
    for fault in faults:
        place = ""
        if fault.table in copy.sheetnames:
            sheet = copy[fault.table]
            cell = sheet.cell(fault.row or 1, _column(sheet, fault.column))
            told[sheet.title, cell.coordinate].append(f"{fault.wrong}; {fault.remedy}")
            place = cell.coordinate
        rows.append((fault.table, place, fault.column, fault.value, fault.wrong, fault.remedy))
    for (title, coordinate), words in told.items():
        cell = copy[title][coordinate]
        cell.fill, cell.border = FILL, Border(EDGE, EDGE, EDGE, EDGE)
        cell.comment = Comment(printable(" / ".join(words))[:1000], "Graftwright", height=140, width=320)
    listed = copy.create_sheet(_free(copy.sheetnames), 0)
    for n, row in enumerate(
        [("table", "cell", "column", "value", "what is wrong", "what would be right"), *rows]
    ):
        for m, text in enumerate(row):
            at = listed.cell(n + 1, m + 1)
            at.value, at.data_type = printable(text)[:1000], "s"
    for letter, width in zip("ABCDEF", (18, 8, 22, 24, 44, 60), strict=True):
        listed.column_dimensions[letter].width = width
    listed.freeze_panes = "A2"
    copy.active = 0
    copy.save(target)


def _column(sheet: Any, name: str) -> int:
    """Number of the column of that heading, with or without its unit; 1 where there is none."""
    for cell in sheet[1]:
        if str(cell.value or "").split(" [")[0].strip() == name:
            return int(cell.column)
    return 1


def _free(names: Sequence[str]) -> str:
    """A name for the list that no sheet has."""
    taken = {name.casefold() for name in names}
    return next(name for n in range(len(names) + 2) if (name := f"{LIST}{n or ''}").casefold() not in taken)
