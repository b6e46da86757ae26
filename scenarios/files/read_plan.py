"""Read the last plan from the tables that were written with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from model.csv_text import uncover
from model.planned.plan_tables import FACTS, PLAN_TABLES, Tables, frame
from model.planned.tables.plan_schema import PlanColumn, PlanTable
from model.scenario.schema import Type
from scenarios.cells.faults import BadInput, Fault
from scenarios.cells.grid import TableSource
from scenarios.cells.parse import CellFault, convert, shown_value
from scenarios.formats.read_tables import read_table_file

Row = dict[str, Any]

NEEDED = (
    "waves",
    "germination",
    "joins",
    "deliveries",
    "orders",
    "unit_batches",
    "temporary",
    "crew_days",
    "purchases",
    "buy_in",
    "costs",
)
"""The tables that hold the decisions of the last plan."""

LATER = ("germination",)
"""Those that not every version of the program wrote: without a file they have no rows."""

TAKE_OUT = "take the column out, or name a folder whose files are as 'graftwright plan' wrote them"

AGAIN = "name a folder that 'graftwright plan' or 'graftwright replan' has written, with its files unchanged"

ROUNDING = 1e-6
"""A number that must be at least 0 counts as 0 if it is below 0 by at most this."""


def read_last(folder: Path) -> Tables:
    """Tables of the plan in ``folder``, or in its folder ``tables``.

    Raises ``BadInput`` with every fault: a missing table or column, a cell that does not fit its column, two
    rows with one key, a name that no row of the plan has.
    """
    source = TableSource()
    rows: dict[str, list[tuple[int, Row]]] = {}
    for name, path in zip(NEEDED, last_tables(folder), strict=True):
        if name in LATER and not path.exists():
            rows[name] = []
            continue
        read_table_file(PLAN_TABLES[name], path, source)
    faults = source.faults
    for name, grid in source.grids.items():
        found = list(_headings(PLAN_TABLES[name], grid.rows))
        faults += found
        if not found:
            rows[name] = _rows(PLAN_TABLES[name], grid.rows, faults)
    if not faults:
        faults += [fault for name in NEEDED for fault in _unfit(PLAN_TABLES[name], rows)]
    if faults:
        raise BadInput(faults)
    return {name: frame(name, [row for _, row in rows[name]]) for name in NEEDED}


def left_open(folder: Path) -> float:
    """What the proof of the plan in ``folder`` left open, in currency; 0 where its facts are not there.

    Raises ``BadInput`` with every fault of the facts.
    """
    path, source = last_tables(folder)[0].with_name(f"{FACTS.name}.csv"), TableSource()
    if not path.is_file():
        return 0.0
    read_table_file(FACTS, path, source)
    faults = source.faults
    rows: list[tuple[int, Row]] = []
    for grid in source.grids.values():
        found = list(_headings(FACTS, grid.rows))
        faults += found
        if not found:
            rows += _rows(FACTS, grid.rows, faults)
    if faults:
        raise BadInput(faults)
    return max((float(row["objective"] - row["bound"]) for _, row in rows), default=0.0)


def last_tables(folder: Path) -> list[Path]:
    """The files of ``NEEDED`` in ``folder``, or in its folder ``tables``."""
    place = folder / "tables" if (folder / "tables").is_dir() else folder
    return [place / f"{name}.csv" for name in NEEDED]


def _headings(table: PlanTable, lines: list[tuple[int, list[Any]]]) -> Iterator[Fault]:
    """A fault for each column that the heading lacks or has twice, and for each that no plan has."""
    heading = lines[0][1] if lines else []
    known = {column.name for column in table.columns}
    for name, times in Counter(heading).items():
        if name not in known:
            yield Fault(table.name, 1, shown_value(name), "", "is not a column", TAKE_OUT)
        elif times > 1:
            yield Fault(table.name, 1, name, "", "is a column twice", TAKE_OUT)
    for column in table.columns:
        if column.name not in heading:
            yield Fault(table.name, 1, column.name, "", "is missing", AGAIN)


def _rows(table: PlanTable, lines: list[tuple[int, list[Any]]], faults: list[Fault]) -> list[tuple[int, Row]]:
    """The numbered rows below the heading, by column; adds the faults of cells to ``faults``."""
    heading, rows = lines[0][1], []
    for number, line in lines[1:]:
        cells, row = dict(zip(heading, line, strict=False)), {}
        for column in table.columns:
            raw = cells.get(column.name, "")
            try:
                row[column.name] = _value(table.name, column, raw)
            except CellFault as fault:
                value = shown_value(raw)
                faults.append(Fault(table.name, number, column.name, value, fault.wrong, AGAIN))
        rows.append((number, row))
    return rows


def _value(table: str, column: PlanColumn, raw: str) -> Any:
    """The value of a cell; raises ``CellFault``."""
    if column.type in (Type.TEXT, Type.REFERENCE) and (raw or column.required):
        if not raw:
            raise CellFault("is blank", AGAIN)
        return uncover(raw)
    if column.low == 0 and raw.startswith("-"):
        with suppress(ValueError):
            raw = "0" if -ROUNDING <= float(raw) <= 0 else raw
    return convert(table, column, raw, False)


def _unfit(table: PlanTable, rows: dict[str, list[tuple[int, Row]]]) -> Iterator[Fault]:
    """Faults of rows whose key another row has, and of names that no row of the plan has."""
    first: dict[tuple[Any, ...], int] = {}
    for number, row in rows[table.name]:
        other = first.setdefault(tuple(row[column] for column in table.key), number)
        if other != number:
            wrong = f"stands in row {other} already"
            yield Fault(table.name, number, table.key[0], shown_value(row[table.key[0]]), wrong, AGAIN)
    for column in table.columns:
        for target, key in column.references:
            if target not in rows or target == table.name:
                continue
            known = {row[key] for _, row in rows[target]}
            for number, row in rows[table.name]:
                name = row[column.name]
                if name is not None and name not in known:
                    yield Fault(table.name, number, column.name, name, f"is not in table {target}", AGAIN)
