"""A variant that a study finds: its file, and the sheet of the cells that it changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reports.study.study import Section, changes_section
from scenarios.variants.toml_write import NewCell, variant_text


@dataclass(frozen=True, slots=True)
class NewVariant:
    """The cells that a variant changes, with the name of its file, its own name and its note."""

    file: str
    name: str
    note: str
    cells: Sequence[NewCell]

    def files(self, parent: str | None) -> list[tuple[str, str]]:
        """The file with its text; none without a parent or a change."""
        if parent is None or not self.cells:
            return []
        return [(self.file, variant_text(self.name, self.note, parent, self.cells))]

    def sheets(self) -> list[Section]:
        """The sheet of the cells that the variant changes, where it changes any."""
        if not self.cells:
            return []
        told = changes_section([cell.told(self.file) for cell in self.cells])
        return [replace(told, name="Cells changed", about=f"What the variant {self.file} changes.", notes=())]
