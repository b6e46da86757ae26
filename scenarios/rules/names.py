"""Rules of names: every reference names a row, and no two rows share a name."""

from __future__ import annotations

from collections.abc import Iterator

from model.scenario.tables import TABLES, Column, Table, Type
from scenarios.cells.draft import Draft, DraftRow, Rule, repeated, text_of
from scenarios.cells.faults import Fault, bounded_nearest, folded, shown, suggested


def _references(draft: Draft) -> Iterator[Fault]:
    """Faults of references that name no row; later rules skip their cells."""
    near = bounded_nearest()
    for table in TABLES:
        for column in table.columns:
            if not column.references or not all(_certain(draft, *target) for target in column.references):
                continue
            known = frozenset(name for target in column.references for name in _known(draft, *target))
            faulty = frozenset(name for target in column.references for name in _faulty(draft, *target))
            where = " or ".join(f"table {name}" for name, _ in column.references)
            otherwise = (
                f"write a name from {' or '.join(table for table, _ in column.references)}, or add it there"
            )
            for row in draft.rows(table.name, column.name):
                for name in _named(column, row):
                    if name in known or (faulty and near(name, faulty)):
                        continue
                    remedy = suggested(near(name, known), otherwise)
                    yield draft.spoiled(row, column.name, f"is not in {where}", remedy, value=name)


def _named(column: Column, row: DraftRow) -> tuple[str, ...]:
    """The names in a cell of references."""
    value = row[column.name]
    if value is None:
        return ()
    return value if column.type is Type.REFERENCES else (value,)


def _known(draft: Draft, table: str, column: str) -> set[str]:
    """Names in a column."""
    return {row[column] for row in draft.rows(table, column)}


def _faulty(draft: Draft, table: str, column: str) -> set[str]:
    """Texts of the faulty cells of a column: a reference that resembles one of them is not at fault."""
    return {row.shown[column] for row in draft.tables[table] if column not in row.values}


def _certain(draft: Draft, table: str, column: str) -> bool:
    """Whether the name of every row in the column is known, even where its cell is faulty."""
    if table in draft.unsure:
        return False
    return all(
        column in row.values or row.shown.get(column, "#")[:1] not in ("", "#", "=")
        for row in draft.tables[table]
    )


def _duplicates(draft: Draft) -> Iterator[Fault]:
    for table in TABLES:
        if table.key:
            for row, other in repeated(draft.rows(table.name, *table.key), table.key):
                key = [row[column] for column in table.key]
                value = ", ".join(shown(text_of(part)) for part in key if part is not None)
                remedy = f"keep one row for each {' and '.join(table.key)}"
                yield row.fault(table.key[0], f"is already in row {other.number}", remedy, value=value)


def _look_alikes(draft: Draft) -> Iterator[Fault]:
    for table, column in naming_columns():
        first: dict[str, DraftRow] = {}
        for row in draft.rows(table.name, column):
            other = first.setdefault(folded(row[column]), row)
            if other[column] != row[column]:
                name = shown(other[column])
                wrong = f"differs from '{name}' in row {other.number} only by letter case or spaces"
                yield row.fault(column, wrong, "write both alike, or give one of them another name")


def naming_columns() -> list[tuple[Table, str]]:
    """Columns of names that others refer to, or that tell rows apart."""
    referred = {target for table in TABLES for column in table.columns for target in column.references}
    return [
        (table, column.name)
        for table in TABLES
        for column in table.columns
        if column.type is Type.TEXT and ((table.name, column.name) in referred or table.key == (column.name,))
    ]


def _one_name_one_item(draft: Draft) -> Iterator[Fault]:
    lots = draft.by("seed_lots", "lot")
    for row in draft.rows("supplies", "supply"):
        if row["supply"] in lots:
            wrong = f"is also the name of a seed lot (row {lots[row['supply']].number})"
            yield row.fault("supply", wrong, "give the supply another name; packs name either")


NAMES = (
    Rule("every reference names a row", _references),
    Rule("keys are unique", _duplicates),
    Rule("names differ by more than case and spaces", _look_alikes),
    Rule("seed lots and supplies share no name", _one_name_one_item),
)
