"""One change of the small valid scenario, and the fault that it must give."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.bad_input.small import Tables

Cells = dict[str, Any]

Change = Callable[[Tables], None]


@dataclass(frozen=True)
class Case:
    """A change, and the fault that it must give: place, value, words of what is wrong and of the remedy."""

    name: str
    change: Change
    table: str
    row: int | None
    column: str
    value: str
    wrong: str
    remedy: str


def cell(
    name: str,
    table: str,
    row: int,
    column: str,
    value: Any,
    wrong: str,
    remedy: str,
    shown: str | None = None,
) -> Case:
    """A case in which one cell holds ``value``; ``row`` is the spreadsheet's row number."""

    def change(tables: Tables) -> None:
        tables[table][row - 2][column] = value

    told = ("" if value is None else str(value).strip()) if shown is None else shown
    return Case(name, change, table, row, column, told, wrong, remedy)


def rows(*changes: tuple[str, int, str, Any]) -> Change:
    """A change of several cells."""

    def change(tables: Tables) -> None:
        for table, row, column, value in changes:
            tables[table][row - 2][column] = value

    return change


def added(table: str, **cells: Any) -> Change:
    """A change that adds a row."""
    return lambda tables: tables.setdefault(table, []).append(cells)


def one_more(
    table: str,
    row: int,
    right: Cells,
    name: str,
    column: str,
    value: Any,
    wrong: str,
    remedy: str,
    *,
    shown: str | None = None,
    **cells: Any,
) -> Case:
    """A case of one more row, which stands in ``row``: the ``right`` cells but those given, wrong in one."""
    told = ("" if value is None else str(value)) if shown is None else shown
    return Case(
        name, added(table, **(right | cells | {column: value})), table, row, column, told, wrong, remedy
    )


def copied(table: str, row: int, **cells: Any) -> Change:
    """A change that adds a copy of a row, with some cells changed."""
    return lambda tables: tables[table].append(tables[table][row - 2] | cells)


def neither_learns_nor_comes_back(tables: Tables) -> None:
    """No pace by week, which machines and hands called by the day may not have, and no supply comes back."""
    tables.pop("pace_by_week", None)
    for supply in tables["supplies"]:
        for name in ("return_share", "return_days", "wash_seconds", "wash_skill"):
            supply.pop(name, None)


def both(*changes: Change) -> Change:
    """Several changes."""

    def change(tables: Tables) -> None:
        for one in changes:
            one(tables)

    return change


def renamed(table: str, old: str, new: str) -> Change:
    """A change of a column's heading."""

    def change(tables: Tables) -> None:
        tables[table] = [{new if k == old else k: v for k, v in row.items()} for row in tables[table]]

    return change


def without(table: str, column: str) -> Change:
    """A change that takes a column away."""

    def change(tables: Tables) -> None:
        for row in tables[table]:
            row.pop(column, None)

    return change


def no_table(table: str) -> Change:
    """A change that takes a table away."""
    return lambda tables: tables.pop(table) and None


def renamed_table(old: str, new: str) -> Change:
    """A change of a table's name."""

    def change(tables: Tables) -> None:
        tables[new] = tables.pop(old)

    return change


def headed(table: str) -> Change:
    """A change that leaves only a table's heading."""

    def change(tables: Tables) -> None:
        tables[table] = [dict.fromkeys(tables[table][0])]

    return change
