"""The program as a file that any solver reads: LP or MPS by the file's ending, named as in ``file_names``."""

from __future__ import annotations

from pathlib import Path

import highspy
import numpy as np

from model.program.file_names import names
from model.program.program import Program
from model.program.variables import WHOLE
from model.solver.compiled import Compiled, solver

ENDINGS = (".lp", ".mps")


def write_program(program: Program, compiled: Compiled, path: Path) -> None:
    """Write the program that is solved, whole variables marked integer, rows and columns in its order.

    ``path`` ends with one of ``ENDINGS``. Raises OSError where it cannot be written.
    """
    columns, rows = column_names(program, compiled), row_names(compiled)
    highs = solver(compiled, compiled.columns(WHOLE))
    lp = highs.getLp()
    lp.col_names_, lp.row_names_ = columns, rows
    highs.passModel(lp)
    if highs.writeModel(str(path)) != highspy.HighsStatus.kOk:
        raise OSError(f"the program cannot be written to {path}")
    if path.suffix == ".lp":
        _state_all_costs(path, columns, compiled)


def column_names(program: Program, compiled: Compiled) -> list[str]:
    """Names of the columns, in order."""
    named = np.empty(len(compiled.cost), dtype=object)
    for variable, position in compiled.position.items():
        there = position >= 0
        named[position[there]] = np.array(program.names[variable], dtype=object)[there]
    return list(named)


def row_names(compiled: Compiled) -> list[str]:
    """Names of the rows, in order."""
    named = [""] * len(compiled.row_upper)
    for group, rows in compiled.rows.items():
        for name, row in zip(names(group, list(rows)), rows.values(), strict=True):
            named[row] = name
    return named


def _state_all_costs(path: Path, columns: list[str], compiled: Compiled) -> None:
    """State the objective of an LP file anew, with the columns that cost nothing too.

    HiGHS leaves these out, and readers number columns in the order in which they meet them.
    """
    _, rest = path.read_text(encoding="ascii").split("\nst\n", 1)
    terms = [f"  {cost:+.17g} {name}\n" for name, cost in zip(columns, compiled.cost.tolist(), strict=True)]
    objective = f"min\n obj:\n{''.join(terms)}  {compiled.offset:+.17g}\n"
    path.write_text(f"{objective}st\n{rest}", encoding="ascii")
