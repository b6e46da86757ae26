"""What a study tells, as tests read it, and the cost that its figures are checked against."""

from __future__ import annotations

from functools import cache

from model.scenario.entities import Scenario
from model.solve import plan
from reports.book.parts import Cell, Formula
from reports.study.study import Section, Study


@cache
def least(scenario: Scenario) -> float:
    """Least cost of the continuous program."""
    return plan(scenario, whole=False).cost


def section(study: Study, name: str) -> Section:
    """The section of that name."""
    return next(s for s in study.sections if s.name == name)


def records(part: Section) -> list[dict[str, Cell]]:
    """The rows of a section by key of column."""
    return [dict(zip([c.key for c in part.columns], row, strict=True)) for row in part.rows]


def worth(cell: Cell) -> float:
    """The number in a cell."""
    value = cell.value if isinstance(cell, Formula) else cell
    assert isinstance(value, int | float)
    return float(value)
