"""Read a scenario from a workbook or a folder of CSV files, with all its faults at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from model.scenario.about_cells import Remark
from model.scenario.entities import Order, Scenario
from model.scenario.tables import BY_NAME, TABLES, Column, Table
from scenarios.cells.below import without_own_rows
from scenarios.cells.draft import Draft, DraftRow, draft_of, text_of
from scenarios.cells.faults import BadInput, Fault
from scenarios.cells.grid import Grid, TableSource, file_fault, table_fault
from scenarios.cells.headings import read_heading
from scenarios.cells.notation import notation_of
from scenarios.cells.parse import FAULTED, CellFault, Raw, convert, is_blank, shown_value
from scenarios.formats.read_tables import read_folder, read_table_file
from scenarios.formats.read_workbook import WORKBOOKS, read_workbook
from scenarios.rules.all_rules import check


@dataclass(frozen=True, slots=True)
class Overrides:
    """Overrides of a scenario: today, and a CSV file with the columns of the table progress.

    ``today`` replaces the scenario's own; the rows of the file are added after those of its table. Where
    neither gives a today, it is the day after the last row of the file.
    """

    today: date | None = None
    progress: Path | None = None

    def set_today(self, draft: Draft) -> None:
        """Write today into a draft."""
        if self.today is not None:
            for row in draft.tables["nursery"]:
                _set_today(row, self.today)

    def add_progress(self, draft: Draft) -> list[Fault]:
        """Add the file's rows to a draft; return the faults of the file, its heading and its cells."""
        if self.progress is None:
            return []
        table, source, before = BY_NAME["progress"], TableSource(), len(draft.tables["progress"])
        read_table_file(table, self.progress, source)
        draft.unsure.update(source.unread)
        faults = list(source.faults) + (read_table(table, source, draft) if source.grids else [])
        draft.remarks += [replace(remark, table=self.progress.name) for remark in source.told()]
        rows = draft.tables[table.name][before:]
        for row in rows:
            row.file = self.progress.name
        days = [row["day"] for row in rows if "day" in row.values]
        for nursery in draft.rows("nursery", "today") if days else ():
            if nursery["today"] is None:
                _set_today(nursery, max(days) + timedelta(days=1))
        return [replace(fault, table=self.progress.name) for fault in faults]


def _set_today(nursery: DraftRow, today: date) -> None:
    nursery.values["today"], nursery.shown["today"] = today, text_of(today)


NO_OVERRIDES = Overrides()


def read_scenario(path: Path, overrides: Overrides = NO_OVERRIDES) -> Scenario:
    """Read a scenario from a workbook or a folder of files with a table each, and apply the ``overrides``.

    Raises ``BadInput`` as ``read_with_remarks`` does.
    """
    return read_with_remarks(path, overrides)[0]


def read_with_remarks(path: Path, overrides: Overrides = NO_OVERRIDES) -> tuple[Scenario, list[Remark]]:
    """The scenario as ``read_scenario`` returns it, and remarks on how its files were read.

    They name hidden parts, what was passed over, and what is written otherwise than the program writes it.

    Raises ``BadInput`` with every fault: of files, of cells, of names that no table has, of rows that
    contradict each other.
    """
    source = _open(Path(path))
    faults = list(source.faults)
    draft = Draft()
    draft.unsure.update(source.unread)
    if source.grids or source.unread:
        for table in TABLES:
            faults += read_table(table, source, draft)
        overrides.set_today(draft)
        faults += overrides.add_progress(draft)
        faults += check(draft)
    elif not faults:
        remedy = "name its sheets, or the files of a folder, nursery, orders and so on"
        faults.append(file_fault(str(path), "holds no table", remedy))
    if faults:
        raise BadInput(in_order(faults))
    return build(draft), source.told() + draft.remarks


def read_orders(source: TableSource, scenario: Scenario) -> tuple[Order, ...]:
    """Read new orders from the grid ``orders`` and check them against a scenario.

    They must not be in its order book, and must be due today or later. One without a price is asked for on
    its day alone, since a late plant gives up a share of the price. Raises ``BadInput`` with every fault.
    """
    draft = draft_of(scenario)
    booked = {order.order for order in scenario.orders}
    # What the scenario says of its own orders and customers is checked already.
    for table in ("orders", "progress", "inquiries", "apart"):
        draft.tables[table] = []
    draft.unsure.update(source.unread)
    faults = list(source.faults)
    if not source.unread:
        faults += read_table(BY_NAME["orders"], source, draft)
    faults += [
        row.fault("order", "is in the order book already", "give it another name")
        for row in draft.rows("orders", "order")
        if row["order"] in booked
    ]
    for row in draft.rows("orders", "price", "late_days_most"):
        if row["price"] is None and row["late_days_most"] is None:
            row.values["late_days_most"] = 0
    today = scenario.nursery.today
    faults += [
        row.fault("due_day", f"is before today ({today})", f"write a day from {today} on")
        for row in draft.rows("orders", "due_day")
        if today is not None and scenario.nursery.first_day <= row["due_day"] < today
    ]
    faults += check(draft)
    if faults:
        raise BadInput(in_order(faults))
    return tuple(Order(**row.values) for row in draft.tables["orders"])


def _open(path: Path) -> TableSource:
    try:
        exists, is_folder = path.exists(), path.is_dir()
    except (OSError, ValueError) as error:
        wrong = f"cannot be looked up: {error}"
        return TableSource(faults=[file_fault(str(path), wrong, "name a file or folder")])
    if not exists:
        wrong = "is a symbolic link to nothing" if path.is_symlink() else "does not exist"
        remedy = f"name a workbook ({', '.join(WORKBOOKS)}) or a folder of CSV files"
        return TableSource(faults=[file_fault(str(path), wrong, remedy)])
    return read_folder(path) if is_folder else read_workbook(path)


def in_order(faults: Iterable[Fault], tables: Sequence[Table] = TABLES) -> list[Fault]:
    """The faults sorted: those of files first, then by table, row and column."""

    order = {table.name: number for number, table in enumerate(tables)}
    columns = {(table.name, name): number for table in tables for number, name in enumerate(table.by_name)}

    def place(fault: Fault) -> tuple[int, int, int]:
        if fault.table not in order:
            return -1, fault.row or 0, 0
        return order[fault.table], fault.row or 0, columns.get((fault.table, fault.column), -1)

    return sorted(faults, key=place)


def read_table(table: Table, source: TableSource, draft: Draft) -> list[Fault]:
    """Read a table's rows into the draft; return the faults of its heading and cells."""
    grid = source.grids.get(table.name)
    if grid is None:
        if table.required and table.name not in source.unread:
            draft.unsure.add(table.name)
            return [table_fault(table.name, "is missing", "add this table")]
        return []
    if not grid.rows or grid.rows[0][0] != grid.heading or all(map(is_blank, grid.rows[0][1])):
        draft.unsure.add(table.name)
        names = ", ".join(column.heading for column in table.columns)
        remedy = f"write the columns into row {grid.heading}: {names}"
        return [table_fault(table.name, "has no heading", remedy, grid.heading)]
    heading = read_heading(table, grid, source)
    draft.unsure.update((table.name, name) for name in heading.unsure)
    body = [(number, cells) for number, cells in grid.rows[1:] if not all(map(is_blank, cells))]
    notation = notation_of(grid, heading.columns, body)
    for how, columns_told in notation.how.items():
        source.tell(how, table.name, columns_told)
    plain = [
        (number, [notation.cells.get((number, n), cell) for n, cell in enumerate(cells)])
        for number, cells in body
    ]
    rows, own = without_own_rows(grid, heading.columns, plain, source)
    faults = heading.faults + notation.faults + own
    if own:
        draft.unsure.add(table.name)
    shown = dict(body)
    if table.required and not rows and not own and not _faulted_rows(source, table):
        draft.unsure.add(table.name)
        faults.append(table_fault(table.name, "has no rows", "write at least one row", grid.heading + 1))
    for number, cells in rows:
        row = DraftRow(table.name, number)
        row.shown = _texts(table, heading.columns, shown[number])
        faults += _read_row(table, grid, heading.columns, cells, row, draft)
    return faults


def _faulted_rows(source: TableSource, table: Table) -> bool:
    """Whether rows of the table were left out because of faults."""
    return any(fault.table == table.name and fault.row is not None for fault in source.faults)


def _texts(table: Table, columns: Sequence[Column | None], cells: Sequence[Raw]) -> dict[str, str]:
    """The text of every cell of a row, as it stands in the file."""
    raw = {column.name: cell for column, cell in zip(columns, cells, strict=False) if column}
    return {column.name: shown_value(raw.get(column.name)) for column in table.columns}


def _read_row(
    table: Table,
    grid: Grid,
    columns: Sequence[Column | None],
    cells: Sequence[Raw],
    row: DraftRow,
    draft: Draft,
) -> list[Fault]:
    """Convert a row's cells into the draft; return the faults of cells that cannot be converted."""
    faults = []
    raw_by_name = {column.name: raw for column, raw in zip(columns, cells, strict=False) if column}
    for column in table.columns:
        missing = column.name not in raw_by_name
        if missing and (column.required or (table.name, column.name) in draft.unsure):
            continue
        raw = raw_by_name.get(column.name)
        try:
            row.values[column.name] = convert(table.name, column, raw, grid.typed)
        except CellFault as fault:
            draft.spoil(row, column.name)
            if raw is not FAULTED:
                faults.append(row.fault(column.name, fault.wrong, fault.remedy))
    draft.tables[table.name].append(row)
    return faults


def build(draft: Draft) -> Scenario:
    """The scenario of a draft without faults."""
    tables: dict[str, Any] = {
        table.name: tuple(table.record(**row.values) for row in draft.tables[table.name]) for table in TABLES
    }
    tables["nursery"] = tables["nursery"][0]
    return Scenario(**tables)
