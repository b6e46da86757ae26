"""Variants: a parent and the cells that change, expanded into a scenario that is checked like any other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from enum import Enum
from pathlib import Path
from typing import Any

from model.scenario.about_cells import CellChange, Remark
from model.scenario.entities import Scenario
from model.scenario.tables import BY_NAME, TABLES, Column, Table
from scenarios.cells.draft import Draft, DraftRow, draft_of, row_of, text_of
from scenarios.cells.faults import BadInput, Fault, meant, shown
from scenarios.cells.parse import CellFault, convert
from scenarios.files.read_scenario import NO_OVERRIDES, Overrides, build, in_order, read_with_remarks
from scenarios.formats.read_tables import is_table
from scenarios.rules.all_rules import check
from scenarios.variants.toml_read import (
    ALL_ROWS,
    TEXTS,
    Document,
    TomlEntry,
    VariantFault,
    changed_number,
    read_document,
    shown_toml,
)

SUFFIX = ".toml"
Shown = str | float | int | date | None
Key = tuple[Any, ...]
Cell = tuple[str, int, str]
"""Table, number of the row, column."""


@dataclass(frozen=True, slots=True)
class Variant:
    """A variant read and expanded: its scenario, and every cell that it and its parents changed, in order.

    ``as_read``: remarks on how its files were read: hidden parts, what was passed over or converted.
    """

    name: str
    note: str
    path: Path
    scenario: Scenario
    changes: tuple[CellChange, ...] = ()
    as_read: tuple[Remark, ...] = ()


def read_variant(path: Path, overrides: Overrides = NO_OVERRIDES) -> Variant:
    """Read the variant in a TOML file: its parents' changes, then its own, then ``overrides``.

    Raises ``BadInput`` with all faults at once: those of this file, of the variants and the scenario that it
    builds on, and of the scenario that results.
    """
    path = Path(path)
    documents, base, as_read, faults = _chain(path, Overrides(today=overrides.today))
    expansion = None if base is None else _Expansion(base)
    if expansion is not None:
        for document in documents:
            expansion.apply(document)
        overrides.set_today(expansion.draft)
        faults += in_order([*overrides.add_progress(expansion.draft), *expansion.check()])
    faults += [fault for document in documents for fault in document.faults]
    if expansion is not None and not faults:
        top = documents[-1]
        changes = tuple(expansion.changes)
        return Variant(
            top.name, top.note, path, build(expansion.draft), changes, (*as_read, *expansion.draft.remarks)
        )
    order = {document.path.name: number for number, document in enumerate(documents)}
    raise BadInput(sorted(faults, key=lambda fault: _place(fault, order)))


def sources(path: Path) -> list[Path]:
    """Files that a scenario or variant is read from: itself, the variants that it builds on, the tables.

    Where a file cannot be read, the list ends with it.
    """
    found: list[Path] = []
    at: Path | None = Path(path)
    while at is not None and at.resolve() not in [one.resolve() for one in found]:
        found.append(at)
        at = read_document(at).parent if at.suffix.lower() == SUFFIX else None
    with suppress(OSError):
        found += sorted(inner for inner in found[-1].glob("*") if is_table(inner))
    return found


def root_of(path: Path) -> Path:
    """The workbook or folder that a scenario or variant builds on in the end."""
    found = sources(path)
    return [one for one in found if one == path or one.parent not in found][-1]


def base_variant(path: Path, overrides: Overrides = NO_OVERRIDES) -> Variant:
    """A plain scenario as a variant without changes, named after its file or folder."""
    scenario, as_read = read_with_remarks(Path(path), overrides)
    return Variant(Path(path).stem, "", Path(path), scenario, as_read=tuple(as_read))


def read_case(path: Path, overrides: Overrides = NO_OVERRIDES) -> Variant:
    """Load a scenario or variant as a ``Variant``, applying ``overrides`` (--today and --progress).

    Raises ``BadInput``.
    """
    read = read_variant if Path(path).suffix.lower() == SUFFIX else base_variant
    return read(path, overrides)


def _place(fault: Fault, order: dict[str, int]) -> tuple[int, int]:
    if isinstance(fault, VariantFault):
        return order.get(fault.file, len(order)), fault.line or 0
    return -1, 0


def _chain(
    path: Path, overrides: Overrides
) -> tuple[list[Document], Scenario | None, Sequence[Remark], list[Fault]]:
    """The files from the first variant to this one, their base scenario, and the faults.

    The scenario is None where it cannot be read; the remarks are on how its files were read.
    """
    documents: list[Document] = []
    seen: dict[Path, str] = {}
    faults: list[Fault] = []
    base: Scenario | None = None
    as_read: Sequence[Remark] = ()
    at = path
    while True:
        seen[at.resolve()] = at.name
        document = read_document(at)
        documents.insert(0, document)
        if document.parent is None:
            break
        at = document.parent
        if at.suffix.lower() != SUFFIX:
            try:
                base, as_read = read_with_remarks(at, overrides)
            except BadInput as bad:
                faults += bad.faults
            break
        if at.resolve() in seen:
            names = list(seen.values())
            circle = " -> ".join([*names[list(seen).index(at.resolve()) :], at.name])
            remedy = "let one of them have a scenario as its parent"
            wrong = f"leads back to itself ({shown(circle)})"
            document.fault(("parent",), at.name, wrong, remedy, column="parent")
            break
    return documents, base, as_read, faults


def _shown(value: Any) -> Shown:
    """A value for the list of changes: numbers and dates unchanged, other values as a table writes them."""
    if value is None or (isinstance(value, str | int | float | date) and not isinstance(value, bool | Enum)):
        return value
    return text_of(value) or None


class _Expansion:
    """A scenario's rows, to which one document after the other is applied."""

    def __init__(self, scenario: Scenario) -> None:
        self.draft = draft_of(scenario)
        self.next = {table.name: len(self.draft.tables[table.name]) + 2 for table in TABLES}
        self.changes: list[CellChange] = []
        self.last: Document | None = None
        self.origins: dict[Cell | tuple[str, int], tuple[str, int | None]] = {}
        """File and line that last changed a cell, and those that first changed a row."""

    def apply(self, document: Document) -> None:
        """Apply all entries of a document; each refers to the rows of the document's parent."""
        self.last = document
        self.draft.unsure.update(document.unsure)
        step = _Step(document, self.draft)
        rows = [(entry, step.rows(entry)) for entry in document.entries]
        step.find_twice(rows)
        gone = {id(row): row for entry, found in rows if entry.kind == "remove" for row in found}
        for entry, found in rows:
            if entry.kind == "change":
                self._change(document, entry, [row for row in found if id(row) not in gone])
        for row in gone.values():
            self._remove(document, row)
        for name in {row.table for row in gone.values()}:
            self.draft.tables[name] = [row for row in self.draft.tables[name] if id(row) not in gone]
        for entry, _ in rows:
            if entry.kind == "add" and not entry.again:
                self._add(document, entry)

    def _change(self, document: Document, entry: TomlEntry, rows: list[DraftRow]) -> None:
        line = document.line(entry.place)
        for row in rows:
            for name in entry.faulty:
                self.draft.spoil(row, name)
        if not entry.sound:
            return
        if entry.how != "value":
            filled = [row for row in rows if all(row.values.get(name) is not None for name in entry.cells)]
            if rows and not filled:
                self._fault(document, entry, rows[0], f"is {entry.how} on a blank cell", "write value = ...")
            rows = filled
        for row in rows:
            self._change_cells(document, entry, row, line)

    def _change_cells(self, document: Document, entry: TomlEntry, row: DraftRow, line: int | None) -> None:
        for name, amount in entry.cells.items():
            column, before, key = entry.table.by_name[name], row.values.get(name), key_text(row)
            self.origins[row.table, row.number, name] = document.path.name, line
            self.origins.setdefault((row.table, row.number), (document.path.name, line))
            try:
                how = entry.how
                after = amount if how == "value" else changed_number(column, how, amount, before or 0.0)
            except CellFault as fault:
                self._fault(document, entry, row, fault.wrong, fault.remedy)
                self.draft.spoil(row, name)
                continue
            row.values[name], row.shown[name] = after, text_of(after)
            if after != before:
                told = CellChange(row.table, key, name, _shown(before), _shown(after), document.path.name)
                self.changes.append(told)

    def _fault(self, document: Document, entry: TomlEntry, row: DraftRow, wrong: str, remedy: str) -> None:
        for name, amount in entry.cells.items():
            place = (*entry.place, entry.how)
            where = {"table": row.table, "column": name, "key": key_text(row)}
            document.fault(place, shown_toml(amount), wrong, remedy, **where)

    def _remove(self, document: Document, row: DraftRow) -> None:
        key = key_text(row)
        for name, value in row.values.items():
            if _shown(value) is not None:
                told = CellChange(row.table, key, name, _shown(value), None, document.path.name)
                self.changes.append(told)

    def _add(self, document: Document, entry: TomlEntry) -> None:
        table, number = entry.table, self.next[entry.table.name]
        self.next[table.name] += 1
        values = {column.name: column.default for column in table.columns if not column.required}
        row = row_of(table, number, values | entry.cells)
        for name in entry.faulty:
            self.draft.spoil(row, name)
        self.draft.tables[table.name].append(row)
        self.origins[table.name, number] = document.path.name, document.line((*entry.place, "values"))
        for name in entry.cells:
            place = (*entry.place, "values", name)
            self.origins[table.name, number, name] = document.path.name, document.line(place)
        key = key_text(row)
        self.changes += [
            CellChange(table.name, key, name, None, _shown(value), document.path.name)
            for name, value in entry.cells.items()
            if _shown(value) is not None
        ]

    def check(self) -> Iterator[Fault]:
        """The faults of the changed scenario, each at the line of the file that caused it."""
        keys = {(row.table, row.number): key_text(row) for rows in self.draft.tables.values() for row in rows}
        for table in TABLES:
            if table.required and not self.draft.tables[table.name]:
                yield self._told(Fault(table.name, None, "", "", "has no rows left", "leave one"), {})
        for fault in check(self.draft):
            yield self._told(fault, keys)

    def _told(self, fault: Fault, keys: dict[tuple[str, int], str]) -> Fault:
        if fault.table not in BY_NAME:  # a row of a separate progress file
            return fault
        assert self.last is not None
        file, line = self.last.path.name, None
        number = fault.row or 0
        for place in ((fault.table, number, fault.column), (fault.table, number)):
            if place in self.origins:
                file, line = self.origins[place]
                break
        key = keys.get((fault.table, number), "")
        return VariantFault(
            fault.table, fault.row, fault.column, fault.value, fault.wrong, fault.remedy, file, line, key
        )


def key_text(row: DraftRow) -> str:
    """The key of a row as text; blank for the one row of settings."""
    return ", ".join(part for name in BY_NAME[row.table].key if (part := text_of(row.values.get(name))))


def _key(table: Table, row: DraftRow) -> Key | None:
    """The key of a row; None where one of its cells is faulty."""
    if not all(name in row.values for name in table.key):
        return None
    return tuple(row.values[name] for name in table.key)


class _Step:
    """Finds the rows of the parent that the entries of one document refer to."""

    def __init__(self, document: Document, draft: Draft) -> None:
        self.document, self.draft = document, draft
        self._index: dict[str, dict[Key, DraftRow]] = {}

    def _rows_by_key(self, table: Table) -> dict[Key, DraftRow]:
        if table.name not in self._index:
            rows = [(_key(table, row), row) for row in self.draft.tables[table.name]]
            self._index[table.name] = {key: row for key, row in reversed(rows) if key is not None}
        return self._index[table.name]

    def rows(self, entry: TomlEntry) -> list[DraftRow]:
        """The rows of a change or removal; none, and a fault, where it names no row of the table."""
        table = entry.table
        if entry.kind == "add" or entry.row is None:
            return []
        if entry.row == ALL_ROWS:
            return list(self.draft.tables[table.name])
        before = len(self.document.faults)
        key = self._key_of(entry)
        row = None if key is None else self._rows_by_key(table).get(key)
        if row is None:
            if len(self.document.faults) == before:
                self._unknown(entry, key)
            self.draft.unsure.add(table.name)
            return []
        return [row]

    def _fault(self, entry: TomlEntry, place: tuple[str, ...], value: str, wrong: str, remedy: str) -> None:
        self.document.fault((*entry.place, *place), value, wrong, remedy, table=entry.table.name)

    def _unknown(self, entry: TomlEntry, key: Key | None) -> None:
        known = [", ".join(map(text_of, known)) for known in self._rows_by_key(entry.table)]
        text = ", ".join(map(text_of, key or ()))
        otherwise = f"none of the table's {len(known)} rows is similar; [[add]] makes a new row"
        self._fault(entry, ("row",), text, "is not a row of the table", meant(text, known, otherwise))

    def _key_of(self, entry: TomlEntry) -> Key | None:
        """The key that an entry names; None, and a fault, where it is not a key of the table."""
        table, raw = entry.table, entry.row
        if not table.key:
            one = table.name == "nursery"
            wrong = "the table has one row" if one else "the table's rows have no names"
            self._fault(entry, ("row",), shown_toml(raw), wrong, 'leave row out, or write "*"')
            return None
        if not isinstance(raw, dict):
            if len(table.key) == 1:
                raw = {table.key[0]: raw}
            else:
                remedy = f"write row = {{{', '.join(f'{name} = ...' for name in table.key)}}}"
                wrong = f"does not identify the row: the key has {len(table.key)} columns"
                self._fault(entry, ("row",), shown_toml(raw), wrong, remedy)
                return None
        for name in raw:
            if name not in table.key:
                remedy = meant(name, table.key, f"the key of the table is {', '.join(table.key)}")
                self._fault(entry, ("row", name), name, "is not a column of the key", remedy)
        if set(raw).difference(table.key):
            return None
        parts = [self._part(entry, table.by_name[name], raw.get(name)) for name in table.key]
        if any(part is _BAD for part in parts):
            return None
        return tuple(parts)

    def _part(self, entry: TomlEntry, column: Column, raw: Any) -> Any:
        """One part of a key, converted to the column's type; a part left out is blank."""
        if isinstance(raw, list | dict | bool) or (column.type in TEXTS and not isinstance(raw, str | None)):
            self._fault(entry, ("row",), shown_toml(raw), "is not a text", 'write it in double quotes: "..."')
            return _BAD
        try:
            typed = column.type in TEXTS or not isinstance(raw, str)
            return convert(entry.table.name, column, raw, typed)
        except CellFault as fault:
            self._fault(
                entry, ("row", column.name), shown_toml(raw), f"{column.name} {fault.wrong}", fault.remedy
            )
            return _BAD

    def find_twice(self, rows: list[tuple[TomlEntry, list[DraftRow]]]) -> None:
        """Report cells changed twice, and rows removed twice, added twice, or both removed and changed."""
        removed: dict[tuple[str, int], TomlEntry] = {}
        changed: dict[Cell, TomlEntry] = {}
        for entry, found in rows:
            if entry.kind == "remove":
                for row in found:
                    other = removed.setdefault((row.table, row.number), entry)
                    if other is not entry:
                        self._twice(entry, other, row, "", "is removed twice")
                        break
        for entry, found in rows:
            if entry.kind != "change":
                continue
            told: set[int] = set()
            for row in found:
                gone = removed.get((row.table, row.number))
                if gone is not None and entry.row != ALL_ROWS:
                    self._twice(entry, gone, row, "", "is both changed and removed")
                for name in {*entry.cells, *entry.faulty}:
                    other = changed.setdefault((row.table, row.number, name), entry)
                    if other is not entry and id(other) not in told:
                        told.add(id(other))
                        self._twice(entry, other, row, name, "is changed twice")
        self._added_twice([entry for entry, _ in rows if entry.kind == "add"])

    def _added_twice(self, entries: list[TomlEntry]) -> None:
        added: dict[tuple[str, Key], TomlEntry] = {}
        for entry in entries:
            table = entry.table
            values: dict[str, Any] = {name: table.by_name[name].default for name in table.key} | entry.cells
            if entry.faulty.intersection(table.key) or not table.key:
                continue
            key = tuple(values[name] for name in table.key)
            text = ", ".join(map(text_of, key))
            other = added.setdefault((table.name, key), entry)
            entry.again = other is not entry or key in self._rows_by_key(table)
            if other is not entry:
                line = self.document.line(other.place)
                self._fault(entry, (), text, f"is added twice, first in line {line}", "add it once")
            elif entry.again:
                self._fault(entry, (), text, "is already a row", "change its cells with [[change]]")

    def _twice(self, entry: TomlEntry, other: TomlEntry, row: DraftRow, column: str, wrong: str) -> None:
        line, own = self.document.line(other.place), self.document.line(entry.place)
        wrong = f"{wrong} in this file: lines {min(line or 0, own or 0)} and {max(line or 0, own or 0)}"
        where = {"table": row.table, "column": column, "key": key_text(row)}
        self.document.fault(entry.place, "", wrong, "keep one of the two", **where)


_BAD = object()
"""Stands for a part of a key that cannot be read."""
