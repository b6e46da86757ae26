"""Writes a variant's file: the cells that a study changes, as TOML that reads back unchanged."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from model.scenario.about_cells import CellChange
from model.scenario.tables import BY_NAME


@dataclass(frozen=True, slots=True)
class NewCell:
    """A cell that a study changes: table, key of the row by column, column, value before and after.

    ``before`` is None where the cell was blank.
    """

    table: str
    key: tuple[tuple[str, str | int], ...]
    column: str
    before: float | None
    after: float

    def told(self, file: str) -> CellChange:
        """The change as an entry of a list of changes, made by the variant ``file``."""
        row = ", ".join(str(part) for _, part in self.key)
        return CellChange(self.table, row, self.column, self.before, self.after, file)


def variant_text(name: str, note: str, parent: str, cells: Sequence[NewCell]) -> str:
    """The text of the variant's file (TOML); ``parent`` is relative to its folder."""
    lines = [f"name = {_text(name)}", f"parent = {_text(parent)}", f"note = {_text(note)}"]
    for cell in cells:
        key = ", ".join(f"{column} = {_text(part)}" for column, part in cell.key)
        lines += [
            "",
            "[[change]]",
            f'table = "{cell.table}"',
            f"row = {{ {key} }}",
            f'column = "{cell.column}"',
            f"value = {cell.after!r}",
        ]
    return "\n".join([*lines, ""])


def rows_variant(
    name: str, note: str, parent: str, table: str, removed: Sequence[str], added: Sequence[Any]
) -> str:
    """The text of a variant that removes rows of a table by their names, and adds records of it."""
    lines = [f"name = {_text(name)}", f"parent = {_text(parent)}", f"note = {_text(note)}"]
    for row in removed:
        lines += ["", "[[remove]]", f'table = "{table}"', f"row = {_text(row)}"]
    for record in added:
        lines += ["", "[[add]]", f'table = "{table}"', "", "[add.values]", *_cells(table, record)]
    return "\n".join([*lines, ""])


def _cells(table: str, record: Any) -> Iterator[str]:
    """The cells of a record that are not what a blank cell means."""
    for column in BY_NAME[table].columns:
        value = getattr(record, column.name)
        if value is not None and value != column.default:
            yield f"{column.name} = {_value(value)}"


def _value(value: str | float | bool | date) -> str:
    """A cell in TOML."""
    if isinstance(value, date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False)


def _text(value: str | int) -> str:
    """A text or number in TOML. JSON's strings are valid TOML but for DEL, which no scenario's text has."""
    return json.dumps(value, ensure_ascii=False)
