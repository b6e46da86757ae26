"""Cells written with one call each are those that the library writes."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
import xlsxwriter
from xlsxwriter.worksheet import Worksheet

from reports.book.quick_page import LONG_KNOWN, QuickPage

FORMULAS = [f"={name}A1)" for name in sorted(LONG_KNOWN)]
FORMULAS += [
    "=A1",
    "=A1*2",
    "=IF(A1>0,SORT(B1:B3),XLOOKUP(1,B1:B3,C1:C3))",
    "=_xlfn.SWITCH(A1,1,2)",
    "{=SUM(A1)}",
]


def _written(path: Path, page: type[Worksheet], *, constant_memory: bool) -> dict[str, bytes]:
    book = xlsxwriter.Workbook(path, {"constant_memory": constant_memory})
    book.set_properties({"created": datetime(2027, 1, 1)})
    sheet, bold, red = (
        book.add_worksheet("one", page),
        book.add_format({"bold": 1}),
        book.add_format({"font_color": "red"}),
    )
    values: list[Any] = [0, -1.5, 1e-17, 1 / 3, 46_000, 1e22, "a", "a", "<&\"'", " _x0041_", None, True]
    for n, look in enumerate((bold, red, None)):
        for row, value in enumerate([*values, *FORMULAS]):
            sheet.write(row, 30 * n, value, look)
        sheet.write_datetime(len(values), 30 * n + 1, datetime(2027, 2, 28), look)
    sheet.set_row(2, 30, red)
    sheet.set_column(31, 31, 12, bold)
    book.close()
    with ZipFile(path) as parts:
        return {name: parts.read(name) for name in parts.namelist()}


@pytest.mark.parametrize("constant_memory", [False, True])
def test_the_file_is_the_same_to_the_byte(tmp_path: Path, constant_memory: bool) -> None:
    ours = _written(tmp_path / "ours.xlsx", QuickPage, constant_memory=constant_memory)
    assert ours == _written(tmp_path / "theirs.xlsx", Worksheet, constant_memory=constant_memory)
