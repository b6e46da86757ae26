"""The heading of a table: which column stands where, what is missing or misspelt, what is the owner's own."""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import dataclass, field

from model.scenario.about_cells import Remark
from model.scenario.tables import Column, Table
from scenarios.cells.faults import Fault, nearest, shown
from scenarios.cells.grid import NO_TABLE, Grid, TableSource, table_fault
from scenarios.cells.parse import FAULTED, Raw, is_blank, shown_value


@dataclass(slots=True)
class Heading:
    """The column at each position, None where none is read; the faults; ``unsure``: columns not read."""

    columns: list[Column | None] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)


def read_heading(table: Table, grid: Grid, source: TableSource) -> Heading:
    """Read a table's heading; columns of the owner's own are passed over with a remark."""
    number, headings = grid.rows[0]
    found = Heading()
    parts = [name_and_unit(raw, table.by_name) for raw in headings]
    named = [name for name, _ in parts]
    free = set(table.by_name).difference(named)
    told = {near for name in named if _is_strange(name, table) and (near := nearest(name, free))}
    absent = [column.heading for column in table.columns if column.required and column.name in free - told]
    if FAULTED in headings:
        absent = []
    own = []
    for position, (raw, (name, unit)) in enumerate(zip(headings, parts, strict=True)):
        column, twice = table.by_name.get(name), name in named[:position]
        found.columns.append(None if twice else column)
        if raw is FAULTED:
            continue
        if is_blank(raw):
            unheaded = _unheaded(table, grid, position, absent)
            found.faults += unheaded
            absent = [] if unheaded else absent
        elif column is not None:
            found.faults += _misread(table, column, number, raw, unit, twice)
        elif _is_strange(name, table) and (near := nearest(name, free)):
            remedy = f"did you mean '{shown(near)}'? Else write '{NO_TABLE}' before it, and it is passed over"
            found.faults.append(Fault(table.name, number, name, shown_value(raw), "is not a column", remedy))
        elif not name.startswith(NO_TABLE):
            own.append(shown(shown_value(raw)))
    if own:
        says = "is no column of this table: passed over" if len(own) == 1 else "are no columns: passed over"
        source.remarks.append(Remark(table.name, number, f"column {', '.join(own)}", "", "", says))
    theirs = f", or give its name to one of yours: {', '.join(own)}" if own else ""
    found.faults += [
        Fault(
            table.name, number, heading.split(" [")[0], "", "is missing", f"add the column {heading}{theirs}"
        )
        for heading in absent
    ]
    required = {column.name for column in table.columns if column.required}
    found.unsure |= free & (required | told)
    return found


def name_and_unit(raw: Raw, known: Container[str]) -> tuple[str, str | None]:
    """A heading's name, and its unit if it has one in brackets.

    ``known``: names of columns; one that differs only by letter case, or by spaces for '_', is that column's.
    """
    text, unit = shown_value(raw), None
    if text.endswith("]") and "[" in text:
        text, _, unit = text[:-1].partition("[")
        text, unit = text.strip(), unit.strip()
    spelt = re.sub(r"[\s_]+", "_", text.casefold())
    return (spelt if spelt in known else text), unit


def _is_strange(name: str, table: Table) -> bool:
    """Whether a heading is no column's, and not set off by its owner."""
    return bool(name) and name not in table.by_name and not name.startswith(NO_TABLE)


def _misread(
    table: Table, column: Column, number: int, raw: Raw, unit: str | None, twice: bool
) -> list[Fault]:
    """The fault of a column that stands there twice, or with another unit."""
    if twice:
        wrong, remedy = "is a column twice", "keep one of the two columns"
    elif unit is not None and unit != column.unit:
        wrong = "has the wrong unit"
        remedy = f"the unit is [{column.unit}]" if column.unit else "this column has no unit"
    else:
        return []
    return [Fault(table.name, number, column.name, shown_value(raw), wrong, remedy)]


def _unheaded(table: Table, grid: Grid, position: int, absent: list[str]) -> list[Fault]:
    """The fault of cells without a heading; ``absent``: missing headings that may belong to them."""
    for number, cells in grid.rows[1:]:
        if position < len(cells) and not is_blank(cells[position]):
            value = shown_value(cells[position])
            wrong = f"stands under no heading (column {position + 1})"
            remedy = f"write a heading in row {grid.heading}"
            if absent:
                remedy += f": missing is {', '.join(absent)}"
            else:
                remedy += f" (one that begins with '{NO_TABLE}' is passed over), or clear it"
            return [table_fault(table.name, wrong, remedy, number, value)]
    return []
