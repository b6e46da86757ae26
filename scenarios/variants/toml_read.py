"""Reads a variant's file: TOML into entries that name a table, rows and new cells, with all faults at once.

Entries are checked here against the schema of the tables. Whether their rows exist depends on the parent, and
is checked in ``scenarios.variants.variants``.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from model.scenario.tables import BY_NAME, Column, Table, Type
from scenarios.cells.draft import text_of
from scenarios.cells.faults import VARYING, Fault, meant, nearest, ranges, shown
from scenarios.cells.parse import LARGEST, CellFault, convert, is_blank, plain, wanted

DEEPEST = 20
"""Parts of a key, and levels of nested tables, at most: a variant needs three."""

LARGEST_FILE = 1_000_000
"""Bytes of a variant's file, at most; a file that sets a margin for 3,000 orders takes a third of this."""

ALL_ROWS = "*"
HOWS = ("value", "times", "plus")
KEYS: dict[str, tuple[str, ...]] = {
    "change": ("table", "row", "column", *HOWS),
    "add": ("table", "values"),
    "remove": ("table", "row"),
}
NAME, PARENT = Column("name", Type.TEXT, ""), Column("parent", Type.TEXT, "")
NOTE = Column("note", Type.TEXT, "", required=False)
TOP = (NAME.name, PARENT.name, NOTE.name, *KEYS)
TEXTS = {Type.TEXT, Type.REFERENCE, Type.REFERENCES, Type.CHOICE, Type.CHOICES}
NUMBERS = {Type.WHOLE, Type.NUMBER, Type.SHARE}
AT_LINE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")

Place = tuple[str | int, ...]
"""A place in a TOML document: keys, and numbers of entries in arrays of tables."""


@dataclass(frozen=True, slots=True)
class VariantFault(Fault):
    """A fault of a variant, placed by ``file``, line and the row's key instead of the row's number."""

    file: str = ""
    line: int | None = None
    key: str = ""

    def __str__(self) -> str:
        line = "" if self.line is None else f"line {self.line}"
        key = f"row '{shown(self.key)}'" if self.key else ""
        return self.told([shown(self.file), line, shown(self.table), key, shown(self.column)])

    @property
    def number(self) -> int | None:
        """The line, by which faults of one kind are listed."""
        return self.line

    @property
    def kind(self) -> tuple[str, ...]:
        """The parts that faults of one kind share; such faults are reported together."""
        return self.file, self.table, self.column, VARYING.sub("", self.wrong)

    def places(self, numbers: Sequence[int]) -> list[str]:
        """The places of faults of this kind, in one list."""
        column = f"column {shown(self.column)}" if self.column else ""
        return [shown(self.file), ranges("line", numbers), shown(self.table), column]


@dataclass(slots=True)
class TomlEntry:
    """One change, addition or removal. ``cells``: new cells by column; ``how``: what a change does.

    ``row`` is the value in the file: a text, a table of key columns, all rows, or None where it is missing.
    ``faulty``: columns whose cells have faults; an entry that is not ``sound`` changes no cell. ``again``: an
    addition of a row that exists already.
    """

    kind: str
    place: Place
    table: Table
    row: Any = None
    how: str = "value"
    cells: dict[str, Any] = field(default_factory=dict)
    faulty: set[str] = field(default_factory=set)
    sound: bool = True
    again: bool = False


@dataclass(slots=True)
class Document:
    """A variant's file as read. ``unsure``: tables that faulty entries were meant to change."""

    path: Path
    name: str = ""
    note: str = ""
    parent: Path | None = None
    entries: list[TomlEntry] = field(default_factory=list)
    faults: list[VariantFault] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)
    lines: dict[Place, int] = field(default_factory=dict)

    def line(self, place: Place) -> int | None:
        """The line on which the place begins, or else the line of what contains it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place)

    def fault(
        self,
        place: Place,
        value: str,
        wrong: str,
        remedy: str,
        table: str = "",
        column: str = "",
        key: str = "",
    ) -> None:
        """Add a fault at a place; ``key``: of the row."""
        where = self.path.name, self.line(place), key
        self.faults.append(VariantFault(table, None, column, value, wrong, remedy, *where))


def read_document(path: Path) -> Document:
    """Read the variant's file as far as possible; the document lists its faults."""
    document = Document(path)
    text = _text(document)
    if text is None:
        return document
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        _syntax(document, text, str(error))
    except (RecursionError, ValueError):
        wrong = "has lists nested too deep, or a number that is too long"
        document.fault((), "", wrong, "write only the keys of a variant")
    else:
        if _deeper(data, DEEPEST):
            wrong = f"has a key of more than {DEEPEST} parts, or tables nested as deep"
            document.fault((), "", wrong, "write only the keys of a variant")
            return document
        document.lines = _lines(text)
        _Reading(document).read(data)
    return document


def _deeper(value: Any, most: int) -> bool:
    """Whether tables and lists are nested more than ``most`` levels deep."""
    level = [value]
    for _ in range(most):
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
    return bool(level)


def _text(document: Document) -> str | None:
    """The file's text; None, and a fault, where it cannot be read."""
    path = document.path
    try:
        if not path.is_file():
            wrong = "is a folder" if path.is_dir() else "does not exist"
            document.fault((), str(path), wrong, "name a variant's file (.toml)")
            return None
        if path.stat().st_size > LARGEST_FILE:
            document.fault((), "", f"is larger than {LARGEST_FILE:,} bytes", "keep only what changes")
            return None
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        document.fault((), str(path), f"cannot be read: {error}", "name a file that you may read")
        return None
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        document.lines[()] = data[: error.start].count(b"\n") + 1
        document.fault((), "", f"is not UTF-8 text (byte {data[error.start]:#04x})", "save it as UTF-8")
        return None


def _syntax(document: Document, text: str, message: str) -> None:
    found = AT_LINE.search(message)
    last = len(text.rstrip("\n").split("\n"))
    if found:
        document.lines[()] = int(found[1]) if found[1] else last
    wrong = f"is not TOML: {AT_LINE.sub('', message)}"
    remedy = "write key = value, texts in double quotes, [[change]], [[add]] or [[remove]] before each entry"
    document.fault((), "", wrong, remedy)


def _statements(text: str) -> Iterator[tuple[int, str, dict[str, Any]]]:
    """The statements of a valid TOML text: first line, text, and parsed value of each.

    A statement ends with the first line up to which it can be parsed on its own: a text or list that
    continues on the next line cannot be parsed before its end.
    """
    lines = text.split("\n")
    start = 0
    for end in range(1, len(lines) + 1):
        statement = "\n".join(lines[start:end])
        try:
            parsed = tomllib.loads(statement)
        except tomllib.TOMLDecodeError:
            continue
        yield start + 1, statement, parsed
        start = end


def _lines(text: str) -> dict[Place, int]:
    """The line on which each key and entry of a valid TOML text begins."""
    found: dict[Place, int] = {}
    counts: dict[Place, int] = {}

    def note(place: Place, value: Any, line: int) -> None:
        found.setdefault(place, line)
        inner: list[tuple[str | int, Any]] = []
        if isinstance(value, dict):
            inner = list(value.items())
        elif isinstance(value, list):
            inner = list(enumerate(value))
        for key, part in inner:
            note((*place, key), part, line)

    here: Place = ()
    for line, statement, parsed in _statements(text):
        if not statement.lstrip().startswith("["):
            for key, value in parsed.items():
                note((*here, key), value, line)
            continue
        here, node = (), parsed
        while node:
            ((key, inner),) = node.items()
            here = (*here, key)
            if isinstance(inner, list):
                counts[here] = counts.get(here, 0) + 1
            if here in counts:
                here = (*here, counts[here] - 1)
            node = inner[0] if isinstance(inner, list) else inner
        found.setdefault(here, line)
    return found


def shown_toml(value: Any) -> str:
    """A TOML value as messages show it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | dict):
        return "[...]" if isinstance(value, list) else "{...}"
    if isinstance(value, int) and abs(value) > LARGEST:
        return hex(value)
    return text_of(value).strip()


def cell_value(table: str, column: Column, raw: Any) -> Any:
    """The value of a cell written in TOML; an empty text is a blank. Raises ``CellFault``."""
    if isinstance(raw, list | dict):
        several = column.type in (Type.CHOICES, Type.REFERENCES)
        remedy = "write the items in one text, separated by ';'" if several else wanted(column)
        raise CellFault("is a list or table where a single value belongs", remedy)
    if isinstance(raw, int) and abs(raw) > LARGEST:
        raise CellFault("is larger than any figure of a nursery", wanted(column))
    if is_blank(raw):
        return convert(table, column, raw, True)
    if column.type in TEXTS and not isinstance(raw, str):
        raise CellFault("is not a text", f'write it in double quotes: "{shown_toml(raw)}"')
    if column.type in NUMBERS and isinstance(raw, str):
        raise CellFault("is a text where a number belongs", f"{wanted(column)}, without quotes")
    if column.type is Type.DATE and isinstance(raw, str):
        raise CellFault("is a text where a date belongs", f"{wanted(column)}, without quotes")
    return convert(table, column, raw, True)


class _Reading:
    """Checks a parsed document against the keys and values that a variant may have."""

    def __init__(self, document: Document) -> None:
        self.document = document

    def read(self, data: dict[str, Any]) -> None:
        self._known((), data, TOP, "key of a variant")
        self.document.name = self._text(data, NAME)
        self.document.note = self._text(data, NOTE)
        parent = self._text(data, PARENT)
        if parent:
            self._parent(parent)
        for kind in KEYS:
            entries = data.get(kind, [])
            if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
                remedy = f"write [[{kind}]] above each entry"
                self.document.fault((kind,), "", f"'{kind}' is not a list of tables", remedy)
                continue
            for number, entry in enumerate(entries):
                self._entry(kind, (kind, number), entry)

    def _known(self, place: Place, data: dict[str, Any], known: Sequence[str], what: str) -> None:
        """Report unknown keys."""
        for key in data:
            if key not in known:
                remedy = meant(key, set(known).difference(data), f"the keys are {', '.join(known)}")
                self.document.fault((*place, key), key, f"is not a {what}", remedy)

    def _text(self, data: dict[str, Any], column: Column) -> str:
        """The text of a key of the document; blank where the key is missing or its value faulty."""
        key = column.name
        if key not in data:
            if column.required and nearest(key, set(data).difference(TOP)) is None:
                self.document.fault((), "", f"has no {key}", f'write {key} = "..." at the top of the file')
            return ""
        try:
            return cell_value("", column, data[key]) or ""
        except CellFault as fault:
            self.document.fault((key,), shown_toml(data[key]), fault.wrong, fault.remedy, column=key)
            return ""

    def _parent(self, text: str) -> None:
        parent = self.document.path.parent / text
        remedy = "name a variant (.toml), a workbook or a folder, relative to this file's folder"
        try:
            if parent.exists():
                self.document.parent = parent
                return
            wrong = "does not exist"
        except (OSError, ValueError) as error:
            wrong = f"cannot be looked up: {error}"
        self.document.fault(("parent",), text, wrong, remedy, column="parent")

    def _entry(self, kind: str, place: Place, data: dict[str, Any]) -> None:
        before = len(self.document.faults)
        self._known(place, data, KEYS[kind], f"key of [[{kind}]]")
        table = self._table(kind, place, data)
        if table is None:
            return
        entry = TomlEntry(kind, place, table)
        if kind != "add":
            self._row(entry, data)
        if kind == "change":
            self._change(entry, data)
        if kind == "add":
            self._values(entry, data)
        self.document.entries.append(entry)
        if len(self.document.faults) > before:
            self.document.unsure.add(table.name)
            entry.sound = False

    def _missing(self, kind: str, key: str, place: Place, data: dict[str, Any], remedy: str) -> bool:
        """Whether a key of an entry is missing; reports it, unless a misspelt key is reported already."""
        if key in data:
            return False
        if nearest(key, set(data).difference(KEYS[kind])) is None:
            self.document.fault(place, "", f"[[{kind}]] has no {key}", remedy)
        return True

    def _table(self, kind: str, place: Place, data: dict[str, Any]) -> Table | None:
        if self._missing(kind, "table", place, data, 'write table = "..."'):
            return None
        name = data["table"]
        table = BY_NAME.get(name) if isinstance(name, str) else None
        if table is None:
            text = shown_toml(name)
            near = nearest(text, BY_NAME)
            if near is not None:
                self.document.unsure.add(near)
            remedy = meant(text, BY_NAME, f"the tables are {', '.join(BY_NAME)}")
            self.document.fault((*place, "table"), text, "is not the name of a table", remedy)
        return table

    def _row(self, entry: TomlEntry, data: dict[str, Any]) -> None:
        if not entry.table.key and "row" not in data:
            entry.row = ALL_ROWS
            return
        remedy = f'write row = "...", the {" and ".join(entry.table.key)} of the row, or "*" for all rows'
        if not self._missing(entry.kind, "row", entry.place, data, remedy):
            entry.row = data["row"]

    def _change(self, entry: TomlEntry, data: dict[str, Any]) -> None:
        given = [how for how in HOWS if how in data]
        if len(given) != 1:
            wrong = f"has {' and '.join(given)}" if given else "has none of value, times, plus"
            if given or not any(nearest(how, set(data).difference(KEYS["change"])) for how in HOWS):
                self._fault(entry, given[-1:], "", f"[[change]] {wrong}", "write exactly one of the three")
        column = self._column(entry, data)
        for how in given:
            raw = data[how]
            if how != "value" and not _is_amount(raw):
                self._fault(entry, [how], shown_toml(raw), f"{how} is not a number", f"write {how} = 1.1")
            elif how != "value" and column is not None and column.type not in NUMBERS:
                wrong = f"is {how} on a {column.type.value}: column {column.name} holds no numbers"
                self._fault(entry, [how], shown_toml(raw), wrong, "write value = ...", column.name)
            entry.how = how
            if column is not None:
                entry.cells = {column.name: raw}
        if entry.how == "value":
            self._cells(entry, (entry.how,))

    def _column(self, entry: TomlEntry, data: dict[str, Any]) -> Column | None:
        remedy = f"write column = one of {', '.join(entry.table.by_name)}"
        if self._missing(entry.kind, "column", entry.place, data, remedy):
            return None
        name = data["column"]
        column = entry.table.by_name.get(name) if isinstance(name, str) else None
        if column is None:
            self._strange(entry, (*entry.place, "column"), shown_toml(name), entry.table.by_name)
        return column

    def _strange(
        self, entry: TomlEntry, place: Place, name: str, free: Sequence[str] | dict[str, Column]
    ) -> None:
        remedy = meant(name, free, f"the columns are {', '.join(entry.table.by_name)}")
        self.document.fault(place, name, "is not a column", remedy, table=entry.table.name)

    def _values(self, entry: TomlEntry, data: dict[str, Any]) -> None:
        """The cells of an added row."""
        table = entry.table
        if self._missing("add", "values", entry.place, data, "write values = {column = ..., ...}"):
            return
        values = data["values"]
        if not isinstance(values, dict):
            self._fault(entry, ["values"], shown_toml(values), "is not a table", "write {column = ..., ...}")
            return
        free = set(table.by_name).difference(values)
        told = set()
        for name in values:
            if name not in table.by_name:
                self._strange(entry, (*entry.place, "values", name), name, sorted(free))
                told.add(nearest(name, free))
        entry.faulty.update(name for name in told if name is not None)
        for column in table.columns:
            if column.required and column.name in free - told:
                self._fault(entry, ["values"], "", "is missing", wanted(column), column.name)
                entry.faulty.add(column.name)
        entry.cells = {name: raw for name, raw in values.items() if name in table.by_name}
        self._cells(entry, ("values",))

    def _cells(self, entry: TomlEntry, under: tuple[str, ...]) -> None:
        """Convert cells whose values do not depend on the parent."""
        for name, raw in list(entry.cells.items()):
            try:
                entry.cells[name] = cell_value(entry.table.name, entry.table.by_name[name], raw)
            except CellFault as fault:
                place = [*under, name] if entry.kind == "add" else [*under]
                self._fault(entry, place, shown_toml(raw), fault.wrong, fault.remedy, name)
                entry.faulty.add(name)
                del entry.cells[name]

    def _fault(
        self, entry: TomlEntry, under: Sequence[str], value: str, wrong: str, remedy: str, column: str = ""
    ) -> None:
        key = entry.row if isinstance(entry.row, str) and entry.kind == "change" else ""
        self.document.fault(
            (*entry.place, *under), value, wrong, remedy, table=entry.table.name, column=column, key=key
        )


def _is_amount(raw: Any) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool) and abs(raw) <= LARGEST


def changed_number(column: Column, how: str, amount: float, before: float) -> float:
    """The cell's number times or plus the amount, rounded to 12 digits to remove binary noise.

    Whole numbers are rounded to the nearest, halves up. Raises ``CellFault`` where the cell cannot hold the
    result.
    """
    made = float(f"{before * amount if how == 'times' else before + amount:.12g}")
    if column.type is Type.WHOLE and abs(made) < 1e15:
        made = float(int(made + 0.5 if made >= 0 else made - 0.5))
    try:
        number: float = convert("", column, made, True)
    except CellFault as fault:
        wrong = f"turns {plain(before)} into {plain(made)}, which {fault.wrong.split(';')[0]}"
        remedy = f"choose an amount that makes the cell {wanted(column).removeprefix('write ')}"
        raise CellFault(wrong, remedy) from None
    return number
