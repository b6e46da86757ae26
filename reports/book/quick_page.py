"""A worksheet whose plain cells are written with one call each.

A plan's workbook has hundreds of thousands of cells, and writing them takes longer than anything else in it.
The library builds each from a list of attributes, of which it looks through each for characters to escape;
the address and the look of a cell never hold one. In a formula it looks for each of the functions that Excel
has known only since 2010, one after the other. What is written is the same to the byte.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any

from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

LONG_KNOWN = {"SUM(", "IF(", "MAX(", "SUMIF(", "SUMPRODUCT(", "MOD(", "DATE("}
"""Functions that need no prefix in a file."""

_called = re.compile(r"[A-Z.]+\(").findall
_letters = cache(xl_col_to_name)


class QuickPage(Worksheet):  # type: ignore[misc]  # the library has no types
    """A worksheet that writes numbers, days, shared strings and blank cells with a look itself."""

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        plain = formula.startswith("=") and not formula.endswith("}")
        if plain and LONG_KNOWN.issuperset(_called(formula)):
            return formula[1:]
        return str(super()._prepare_formula(formula, expand_future_functions))

    def _write_cell(self, row: int, col: int, cell: Any) -> None:
        kind, look = type(cell).__name__, cell.format
        if look is None or self.constant_memory:
            super()._write_cell(row, col, cell)
        elif kind in ("Number", "Datetime"):
            at = f'r="{_letters(col)}{row + 1}" s="{look._get_xf_index()}"'
            self.fh.write(f"<c {at}><v>{cell.number:.16G}</v></c>")
        elif kind == "String":
            at = f'r="{_letters(col)}{row + 1}" s="{look._get_xf_index()}"'
            self.fh.write(f'<c {at} t="s"><v>{cell.string}</v></c>')
        elif kind == "Blank":
            self.fh.write(f'<c r="{_letters(col)}{row + 1}" s="{look._get_xf_index()}"/>')
        else:
            super()._write_cell(row, col, cell)
