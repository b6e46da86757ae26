"""A scenario while it is read: rows that hold their faultless cells, so that rules can run on all rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from typing import Any

from model.scenario.about_cells import Remark
from model.scenario.entities import Scenario
from model.scenario.tables import BY_NAME, TABLES, Table, records_of
from scenarios.cells.faults import Fault


@dataclass(slots=True)
class DraftRow:
    """A row of a table: the values of its faultless cells by column, and the text of every cell.

    ``file``: name of the file of the row; blank for the scenario's own table.
    """

    table: str
    number: int
    values: dict[str, Any] = field(default_factory=dict)
    shown: dict[str, str] = field(default_factory=dict)
    file: str = ""

    def __getitem__(self, column: str) -> Any:
        return self.values[column]

    def fault(self, column: str, wrong: str, remedy: str, value: str | None = None) -> Fault:
        """A fault of one cell of the row. ``value``: the text to show; None for the text of the cell."""
        text = self.shown.get(column) or text_of(self.values.get(column)) if value is None else value
        return Fault(self.file or self.table, self.number, column, text, wrong, remedy)

    @property
    def place(self) -> str:
        """The number and file of the row in words, for a message about another row of its table."""
        return f"row {self.number}{f' of {self.file}' if self.file else ''}"


def text_of(value: Any) -> str:
    """The text of a value in a cell of a CSV file."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return ";".join(value)
    return repr(value) if isinstance(value, float) else str(value)


@dataclass(slots=True)
class Draft:
    """All rows of a scenario.

    ``unsure``: tables and (table, column) pairs that could not be read fully. ``remarks``: on how a file was
    read whose rows were added.
    """

    tables: dict[str, list[DraftRow]] = field(default_factory=lambda: defaultdict(list))
    unsure: set[str | tuple[str, str]] = field(default_factory=set)
    remarks: list[Remark] = field(default_factory=list)

    def rows(self, table: str, *needs: str) -> list[DraftRow]:
        """Rows of a table without faults in the columns of ``needs``."""
        return [row for row in self.tables[table] if all(column in row.values for column in needs)]

    def sure(self, table: str, *columns: str) -> bool:
        """Whether all rows of the table, and all their cells in ``columns``, could be read."""
        return table not in self.unsure and all((table, column) not in self.unsure for column in columns)

    def by(self, table: str, key: str, *needs: str) -> dict[str, DraftRow]:
        """The first row for each value of a column, among rows without faults in ``needs``."""
        found: dict[str, DraftRow] = {}
        for row in self.rows(table, key, *needs):
            found.setdefault(row[key], row)
        return found

    def spoil(self, row: DraftRow, column: str) -> None:
        """Mark a cell as faulty: later rules skip it, so each mistake is reported once."""
        row.values.pop(column, None)
        self.unsure.add((row.table, column))

    def spoiled(self, row: DraftRow, column: str, wrong: str, remedy: str, value: str | None = None) -> Fault:
        """The fault of a cell that is now marked as faulty."""
        fault = row.fault(column, wrong, remedy, value)
        self.spoil(row, column)
        return fault

    def misfilled(
        self, row: DraftRow, column: str, wants: bool, blank: tuple[str, str], given: tuple[str, str]
    ) -> Iterator[Fault]:
        """The fault of a cell that is blank where the row ``wants`` it, or given where it does not.

        ``blank``, ``given``: what is wrong in each case, and the remedy.
        """
        if column in row.values and (row[column] is None) is wants:
            yield self.spoiled(row, column, *(blank if wants else given))

    def targets(
        self, rows: Iterable[DraftRow], column: str, *needs: str
    ) -> Iterator[tuple[DraftRow, DraftRow]]:
        """Rows with the row of another table that their cell in ``column`` names.

        Left out are rows whose target is missing, or has faults in ``needs``.
        """
        found: dict[str, DraftRow] | None = None
        for row in rows:
            if found is None:
                found = self.by(*BY_NAME[row.table].by_name[column].references[0], *needs)
            if row[column] in found:
                yield row, found[row[column]]

    def grouped(self, table: str, key: str, *needs: str) -> dict[str, list[DraftRow]]:
        """All rows for each value of a column, among rows without faults in ``needs``."""
        found: dict[str, list[DraftRow]] = defaultdict(list)
        for row in self.rows(table, key, *needs):
            found[row[key]].append(row)
        return found

    @property
    def first_day(self) -> date | None:
        """The nursery's first day; None where it could not be read."""
        return self._nursery("first_day")

    @property
    def last_day(self) -> date | None:
        """The nursery's last day; None where it could not be read."""
        return self._nursery("last_day")

    @property
    def today(self) -> date | None:
        """The nursery's today; None where it is blank or could not be read."""
        return self._nursery("today")

    def _nursery(self, column: str) -> date | None:
        rows = self.rows("nursery", column)
        day: date | None = rows[0][column] if rows else None
        return day


def row_of(table: Table, number: int, values: dict[str, Any]) -> DraftRow:
    """A row whose cells have no faults."""
    return DraftRow(table.name, number, values, {name: text_of(value) for name, value in values.items()})


def draft_of(scenario: Scenario) -> Draft:
    """The draft of a scenario that has no faults."""
    draft = Draft()
    for table in TABLES:
        for number, record in enumerate(records_of(scenario, table), 2):
            values = {name: getattr(record, name) for name in table.by_name}
            draft.tables[table.name].append(row_of(table, number, values))
    return draft


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule between cells, rows or tables: its name, and a function that finds where it is broken."""

    name: str
    faults: Callable[[Draft], Iterable[Fault]]


def repeated(rows: Iterable[DraftRow], columns: Sequence[str]) -> Iterator[tuple[DraftRow, DraftRow]]:
    """Rows with the first row that has the same cells in ``columns``, where that is an earlier one."""
    first: dict[tuple[Any, ...], DraftRow] = {}
    for row in rows:
        other = first.setdefault(tuple(row[column] for column in columns), row)
        if other is not row:
            yield row, other


def names(rows: Iterable[DraftRow], column: str) -> set[str]:
    """The values of a column."""
    return {row[column] for row in rows}
