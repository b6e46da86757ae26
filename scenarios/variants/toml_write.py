"""A variant's file written: cells that a study has found, as TOML that reads back as they are."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from model.scenario.about_cells import CellChange


@dataclass(frozen=True, slots=True)
class NewCell:
    """A cell that a study changes: its table, the key of its row by column, its column, both values.

    ``before`` is None where the cell was blank.
    """

    table: str
    key: tuple[tuple[str, str | int], ...]
    column: str
    before: float | None
    after: float

    def told(self, file: str) -> CellChange:
        """The change as lists of changes hold it, made by the variant ``file``."""
        row = ", ".join(str(part) for _, part in self.key)
        return CellChange(self.table, row, self.column, self.before, self.after, file)


def variant_text(name: str, note: str, parent: str, cells: Sequence[NewCell]) -> str:
    """The variant's file (TOML); ``parent`` is seen from its folder."""
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


def _text(value: str | int) -> str:
    """A text or number in TOML, whose basic strings hold JSON's; no text of a scenario has a DEL."""
    return json.dumps(value, ensure_ascii=False)
