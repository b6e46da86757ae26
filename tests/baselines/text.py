"""The rows of a constraint group as text, and where its baseline stands."""

from __future__ import annotations

from pathlib import Path

from model.network.expansion import expand
from model.program.build import GROUPS, build
from model.program.file_names import names
from model.program.index_sets import Row
from model.program.program import Program
from tests.baselines.scenarios import SCENARIOS

FOLDER = Path(__file__).parent


def baseline(group: str) -> Path:
    """File of the group's baseline."""
    return FOLDER / f"{group}.txt"


def program(group: str) -> Program:
    """The program of the group's scenario."""
    return build(expand(SCENARIOS[group]()))


def stated(group: str) -> str:
    """The rows that the program states for the group, a term a line, by the names of a program file."""
    stating = program(group)
    rows = GROUPS[group](stating)
    named = zip(names(group, list(rows)), rows.values(), strict=True)
    return "".join(f"{name}{_bounds(row)}\n{_terms(stating, row)}" for name, row in named)


def _bounds(row: Row) -> str:
    if row.lower is not None and row.lower == row.upper:
        return f" = {row.upper:.6g}"
    lower = "" if row.lower is None else f" >= {row.lower:.6g}"
    upper = "" if row.upper is None else f" <= {row.upper:.6g}"
    return lower + upper


def _terms(stating: Program, row: Row) -> str:
    return "".join(f"    {coef:+.6g} {stating.names[name][n]}\n" for (name, n), coef in row.coefs.items())
