"""Inputs broken by a grammar: each is refused in plain words, nothing is accepted, changed or written.

A sound input of a drawn kind (folder, workbook, variant, progress, counts, orders, last plan, arguments) is
written, and one thing in it is broken in a way that nobody can mean.
"""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.plan_tables import PLAN_TABLES, Plan
from model.scenario.schema import Column, Type
from model.scenario.tables import BY_NAME, TABLES
from model.solve import plan
from reports.plan.csv_tables import write_plan_tables
from scenarios.commands.command_line import BAD_INPUT, main
from scenarios.counts.log import COUNTS
from scenarios.files.read_plan import NEEDED
from scenarios.files.write_scenario import write_folder, write_workbook
from tests.depth import deep
from tests.strategies import base_scenario

Draw = st.DrawFn
Rows = list[list[str]]

WORDS = st.sampled_from(
    ["mauve", "Ωmega", "=1+1", "'; drop", "a" * 180, "ﬁne", "<b>", "% s", "{0}", "\U0001f331"]
)
NO_NUMBERS = [
    "1,5,2",
    "1.5,2",
    "1,2345",
    "--3",
    "1e999",
    "nan",
    "-inf",
    "1_000",
    "0x10",
    "１２",
    "1 0",
    "twelve",
    "1/2",
    "300 %",
    "%",
    "2e",
    ".",
]
NO_DAYS = [
    "2027-02-30",
    "31/04/2027",
    "32.03.2027",
    "03/2027",
    "1/2/027",
    "2027-13-1",
    "31/03/2027 10:00",
    "tomorrow",
    "46100",
    "2027-01-20T10:00",
    "2027-01-20T00:00:00+02:00",
    "2027-01-20Z",
    "0001-01-01",
    "9999-12-31",
    "2027-W03-1",
]


@dataclass(frozen=True, slots=True)
class Broken:
    """What is run, below a folder of inputs; ``PLACE`` stands for that folder."""

    arguments: list[str]
    told: str = ""
    """What the message names."""


PLACE = "<place>"


@cache
def planned() -> Plan:
    return plan(base_scenario())


def no_value(column: Column) -> st.SearchStrategy[str]:
    """A text that no cell of the column can hold."""
    bad: list[st.SearchStrategy[str]] = []
    if column.type in (Type.NUMBER, Type.SHARE, Type.WHOLE):
        bad += [st.sampled_from(NO_NUMBERS), st.just("1e13"), WORDS]
        if column.low is not None:
            bad.append(st.sampled_from(["-1", "-0.5", "-1e9"]))
        if column.type is Type.WHOLE:
            bad.append(st.sampled_from(["1.5", "0.999", "1e-3"]))
    elif column.type is Type.DATE:
        bad += [st.sampled_from(NO_DAYS), WORDS]
    elif column.type in (Type.YES_NO, Type.CHOICE, Type.CHOICES):
        bad += [WORDS, st.just("2"), st.just("maybe;perhaps")]
    elif column.type in (Type.REFERENCE, Type.REFERENCES):
        bad += [WORDS, st.just("no such name\u200b")]
    else:
        bad += [st.sampled_from(["a\x07b", "two\nlines", "x" * 3000, "\x1b[31m"])]
    if column.required:
        bad.append(st.sampled_from(["", "  "]))
    return st.one_of(bad)


def rows_of(file: Path) -> Rows:
    with file.open(encoding="utf-8", newline="") as text:
        return list(csv.reader(text))


def write(file: Path, rows: Rows) -> None:
    with file.open("w", encoding="utf-8", newline="") as text:
        csv.writer(text).writerows(rows)


@st.composite
def a_cell(draw: Draw, file: Path, columns: dict[str, Column]) -> str:
    """Break a cell of a CSV file; the name of its column."""
    rows = rows_of(file)
    row = draw(st.integers(1, len(rows) - 1))
    breakable = [n for n, heading in enumerate(rows[0]) if columns[heading.split(" [")[0]].name != "note"]
    at = draw(st.sampled_from(breakable))
    column = columns[rows[0][at].split(" [")[0]]
    rows[row][at] = draw(no_value(column))
    write(file, rows)
    return column.name


def link(file: Path) -> None:
    file.rename(file.with_suffix(".txt"))
    file.symlink_to(file.with_suffix(".txt"))


def folder(file: Path) -> None:
    file.unlink()
    file.mkdir()


def written(change: Callable[[Rows], Rows]) -> Callable[[Path], object]:
    """Write the file's rows as ``change`` makes them."""
    return lambda file: write(file, change(rows_of(file)))


def filled(change: Callable[[bytes], bytes]) -> Callable[[Path], object]:
    """Write the file's bytes as ``change`` makes them."""
    return lambda file: file.write_bytes(change(file.read_bytes()))


FILE_WAYS: dict[str, Callable[[Path], object]] = {
    "heading misspelt": written(lambda rows: [["q" + rows[0][0], *rows[0][1:]], *rows[1:]]),
    "column twice": written(lambda rows: [[*row, row[0]] for row in rows]),
    "no heading": written(lambda rows: rows[1:]),
    "cells under no heading": written(lambda rows: [[*rows[0], ""], *([*row, "x"] for row in rows[1:])]),
    "cell too few": written(lambda rows: [*rows, rows[-1][:-1]]),
    "cell too many": written(lambda rows: [*rows, [*rows[-1], "x"]]),
    "row of noise": written(lambda rows: [*rows, ["?"] * len(rows[0])]),
    "NUL": filled(lambda data: data + b"\0"),
    "half of UTF-16": filled(lambda data: data.decode().encode("utf-16")[:-1]),
    "UTF-16 without its mark": filled(lambda data: data.decode().encode("utf-16-le")),
    "not UTF-8": filled(lambda data: data + b"\xff\xfe\xfd"),
    "quote left open": filled(lambda data: data + b'"'),
    "semicolons in the heading alone": filled(
        lambda data: b"\n".join([data.split(b"\n")[0].replace(b",", b";"), *data.split(b"\n")[1:]])
    ),
    "an encoding that is none": filled(lambda data: b"encoding=mauve\n" + data),
    "another separator than it names": filled(lambda data: b"sep=;\n" + data),
    "dates either way": filled(lambda data: b"dates=either\n" + data),
    "empty": filled(lambda data: b""),
    "blank": filled(lambda data: b"\n\n \n"),
    "huge cell": filled(lambda data: data + b'"' + b"x" * 200_000 + b'"'),
    "a folder": folder,
    "a link": link,
}
"""Ways to break a CSV file as a whole."""

NEED_ROWS = ("cell too few", "no heading", "semicolons in the heading alone")
"""Ways that break nothing in a table without rows."""


@st.composite
def a_file(draw: Draw, file: Path) -> str:
    """Break a CSV file as a whole; the table's name."""
    FILE_WAYS[draw(st.sampled_from(sorted(FILE_WAYS)))](file)
    return file.stem


@st.composite
def a_folder(draw: Draw, place: Path) -> Broken:
    write_folder(base_scenario(), place / "book")
    filled = [t for t in TABLES if (place / "book" / f"{t.name}.csv").is_file()]
    table = draw(st.sampled_from(filled))
    file = place / "book" / f"{table.name}.csv"
    way = draw(st.sampled_from(["cell", "cell", "cell", "file", "missing", "unknown", "key"]))
    told = table.name
    if way == "cell":
        told = draw(a_cell(file, table.by_name))
    elif way == "file":
        draw(a_file(file))
    elif way == "missing":
        told = draw(st.sampled_from([t.name for t in filled if t.required]))
        (place / "book" / f"{told}.csv").unlink()
    elif way == "unknown":
        told = draw(st.sampled_from(["order", "ordres", "orders (1)"]))
        write(place / "book" / f"{told}.csv", [["a"], ["b"]])
    else:
        write(file, [*rows_of(file), rows_of(file)[-1]])
    verb = draw(st.sampled_from([["check"], ["plan", "-o", f"{PLACE}/out"], ["convert"]]))
    tail = [f"{PLACE}/new.xlsx"] if verb == ["convert"] else []
    return Broken([verb[0], f"{PLACE}/book", *verb[1:], *tail], told)


@st.composite
def a_workbook(draw: Draw, place: Path) -> Broken:
    file = place / "book.xlsx"
    write_workbook(base_scenario(), file)
    way = draw(st.sampled_from(["cell", "cell", "cut", "noise", "sheet", "formula", "merged", "no part"]))
    told = "book.xlsx"
    if way in ("cut", "noise", "no part"):
        data = file.read_bytes()
        cut = len(data) * draw(st.integers(0, 99)) // 100
        start = b"PK\x03\x04" if way == "no part" else b""
        noise = draw(st.binary(min_size=30, max_size=60))
        file.write_bytes(data[:cut] if way == "cut" else start + noise)
    else:
        book = openpyxl.load_workbook(file)
        filled = [t for t in TABLES if t.name in book.sheetnames and book[t.name].max_row > 1]
        sheet = book[draw(st.sampled_from([t.name for t in filled if t.required]))]
        told = sheet.title
        if way == "sheet":
            sheet.title = "q" + sheet.title[:20]
        elif way == "merged":
            sheet.merge_cells("A2:B2")
        elif way == "formula":
            sheet["A2"] = "=1+1"
        else:
            columns = BY_NAME[sheet.title].by_name
            at = draw(st.sampled_from([n for n, c in enumerate(columns.values(), 1) if c.required]))
            sheet.cell(2, at).value = draw(st.sampled_from([None, "\t", "#N/A", True, -1e300, "x" * 3000]))
            if sheet.cell(2, at).value == "#N/A":
                sheet.cell(2, at).data_type = "e"
        book.save(file)
    return Broken(["check", f"{PLACE}/book.xlsx"], told)


@st.composite
def a_variant(draw: Draw, place: Path) -> Broken:
    write_folder(base_scenario(), place / "book")
    top = ['name = "v"', 'parent = "book"']
    change = {"table": '"orders"', "row": '"O-1"', "column": '"quantity"', "value": "120"}
    way = draw(st.sampled_from(["top", "top", "entry", "entry", "entry", "entry", "noise"]))
    if way == "top":
        no_parents = ["", "nowhere", "v.toml", "\\u0000", "../../../../..", "book/orders.csv", "x" * 5000]
        top = draw(
            st.sampled_from(
                [
                    [],
                    top[:1],
                    top[1:],
                    [*top, "colour = 1"],
                    [*top, "change = 3"],
                    [*top, ".".join(["a"] * draw(st.integers(2, 5000))) + " = 1"],
                    [*top, "[" + ".".join(["b"] * draw(st.integers(2, 2000))) + "]"],
                    [*top, "x = " + "[" * 2000 + "]" * 2000],
                    [*top, "x = " + "9" * 5000],
                    *([top[0], f'parent = "{parent}"'] for parent in no_parents),
                ]
            )
        )
    elif way == "entry":
        key = draw(st.sampled_from(sorted(change)))
        no_entry = ['"mauve"', "[1]", "{a = 1}", "true", "-7", "1e400", '""', "2027-01-01", "nan"]
        change[key] = draw(st.sampled_from(no_entry))
        if draw(st.booleans()) and key != "value":
            del change[key]
    text = "\n".join(
        [*top, *(["[[change]]"] + [f"{k} = {v}" for k, v in change.items()] if way == "entry" else [])]
    )
    data = text.encode()
    if way == "noise":
        data = draw(st.sampled_from([b"\xff", b"a = ", b"[[change]]\nx", b"= 1", b'"""', b"\0", b"<xml/>"]))
    (place / "v.toml").write_bytes(data)
    return Broken(["check", f"{PLACE}/v.toml"], "")


HAPPENED = [
    ["day", "what", "number", "lot", "format"],
    ["2027-01-05", "sown", "5", "Red A", "twenty"],
]


def sound_progress(place: Path) -> tuple[Path, list[str]]:
    """A file of progress without a fault beside the folder ``book``, and the command that reads it."""
    first = base_scenario().nursery.first_day
    write(place / "told.csv", [HAPPENED[0], [first.isoformat(), *HAPPENED[1][1:]]])
    today = base_scenario().nursery.last_day.isoformat()
    return place / "told.csv", [
        "check",
        f"{PLACE}/book",
        "--progress",
        f"{PLACE}/told.csv",
        "--today",
        today,
    ]


@st.composite
def progress(draw: Draw, place: Path) -> Broken:
    write_folder(base_scenario(), place / "book")
    file, asked = sound_progress(place)
    rows = rows_of(file)
    columns = {name: BY_NAME["progress"].by_name[name] for name in rows[0]}
    if draw(st.booleans()):
        rows[1][draw(st.integers(0, 1))] = ""
        write(place / "told.csv", rows)
    else:
        draw(a_cell(place / "told.csv", columns) if draw(st.booleans()) else a_file(place / "told.csv"))
    return Broken(asked, "told")


COUNTED = ["day", "counted", "lot", "tried", "succeeded"]


def sound_counts(place: Path) -> tuple[Path, list[str]]:
    """A file of counts without a fault beside the folder ``book``, and the command that reads it."""
    first = base_scenario().nursery.first_day.isoformat()
    write(place / "counts.csv", [COUNTED, [first, "germination", "Red A", "100", "90"]])
    return place / "counts.csv", ["rates", f"{PLACE}/book", f"{PLACE}/counts.csv", "-o", f"{PLACE}/out"]


@st.composite
def counts(draw: Draw, place: Path) -> Broken:
    write_folder(base_scenario(), place / "book")
    file, asked = sound_counts(place)
    if draw(st.booleans()):
        draw(a_cell(file, {name: COUNTS.by_name[name] for name in COUNTED}))
    else:
        draw(a_file(file))
    return Broken(asked, "counts")


def sound_orders(place: Path) -> tuple[Path, list[str]]:
    """A file of orders without a fault beside the folder ``book``, and the command that reads it."""
    rows = rows_of(place / "book" / "orders.csv")
    rows[1][0] = "new"
    write(place / "asked.csv", rows[:2])
    return place / "asked.csv", [
        "quote",
        f"{PLACE}/book",
        "--orders",
        f"{PLACE}/asked.csv",
        "-o",
        f"{PLACE}/out",
    ]


@st.composite
def orders(draw: Draw, place: Path) -> Broken:
    write_folder(base_scenario(), place / "book")
    file, asked = sound_orders(place)
    draw(a_cell(file, BY_NAME["orders"].by_name) if draw(st.booleans()) else a_file(file))
    return Broken(asked)


def sound_last_plan(place: Path, name: str) -> tuple[Path, list[str]]:
    """A plan without a fault beside the folder ``book``, a table of it, and the command that reads it."""
    write_plan_tables(planned(), place / "last" / "tables")
    today = base_scenario().nursery.first_day.isoformat()
    asked = ["replan", f"{PLACE}/book", "--today", today, "--last", f"{PLACE}/last", "-o", f"{PLACE}/out"]
    return place / "last" / "tables" / f"{name}.csv", asked


@st.composite
def last_plan(draw: Draw, place: Path) -> Broken:
    write_folder(base_scenario(), place / "book")
    name = draw(st.sampled_from([name for name in NEEDED if len(planned().table(name))]))
    file, asked = sound_last_plan(place, name)
    way = draw(st.sampled_from(["cell", "cell", "cell", "missing", "key", "file", "wave"]))
    rows = rows_of(file)
    if way == "missing":
        file.unlink()
    elif way == "key":
        write(file, [*rows, rows[-1]])
    elif way == "wave":
        file = place / "last" / "tables" / "waves.csv"
        write(file, rows_of(file)[:1])
    elif way == "file":
        if draw(a_file(file)) and all(column.type is Type.TEXT for column in PLAN_TABLES[name].columns):
            file.unlink()
    else:
        firm = [c for c in PLAN_TABLES[name].columns if c.type not in (Type.TEXT, Type.REFERENCE)]
        column = draw(st.sampled_from(firm))
        bad = draw(no_value(column))
        rows[draw(st.integers(1, len(rows) - 1))][rows[0].index(column.name)] = bad
        write(file, rows)
    return Broken(asked)


@st.composite
def arguments(draw: Draw, place: Path) -> Broken:
    write_folder(base_scenario(), place / "book")
    numbers = st.sampled_from(["0", "-1", "1e9", "1000000000", "9" * 5000, "nan", "x", "", "1.5", "٣x"])
    days = st.sampled_from(["0001-01-01", "9999-12-31", "2027-02-30", "soon", "", "-"])
    paths = st.sampled_from(["no/such", "a\0b", "x" * 300, "\udcff\udcfe", ""])
    book, out = [f"{PLACE}/book"], ["-o", f"{PLACE}/out"]
    text = draw(st.one_of(numbers, days))
    return Broken(
        draw(
            st.sampled_from(
                [
                    ["work", *book, *out, "--days", draw(numbers)],
                    ["work", *book, *out, "--from", draw(days)],
                    ["plan", *book, *out, "--today", draw(days)],
                    ["risk", *book, *out, "--seasons", draw(numbers)],
                    ["margins", *book, *out, "--seed", draw(numbers).replace("1000000000", "1000000001")],
                    ["chamber", *book, *out, "--most", draw(numbers)],
                    ["prices", *book, *out, "--quantity", draw(numbers)],
                    ["costs", *book, *out, "--workers", draw(numbers)],
                    ["freedom", *book, *out, "--within", draw(numbers).replace("0", "7")],
                    ["break-even", *book, *out, "--of", "take", "--low", draw(numbers)],
                    ["break-even", *book, *out, "--of", text],
                    [
                        "quote",
                        *book,
                        *out,
                        "--product",
                        "Red on Stout",
                        "--quantity",
                        draw(numbers),
                        "--due",
                        "soon",
                    ],
                    ["check", draw(paths)],
                    ["check", *book, "--progress", draw(paths)],
                    ["rates", *book, draw(paths), *out],
                    ["replan", *book, "--last", draw(paths), *out],
                    [draw(st.sampled_from(["", "plans", "--most", "\0"])), *book],
                ]
            )
        )
    )


KINDS = (a_folder, a_workbook, a_variant, progress, counts, orders, last_plan, arguments)


def contents(place: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted(place.rglob("*")) if p.is_file()}


def refused(place: Path, asked: list[str], names: str = "") -> None:
    """The command is refused in plain words that name ``names``, and nothing below ``place`` changes."""
    before = contents(place)
    out, err = io.StringIO(), io.StringIO()
    asked = [text.replace(PLACE, str(place)) for text in asked]
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code: object = main(asked)
        except SystemExit as end:  # the parser's own way to refuse arguments
            code = end.code
    told = err.getvalue()
    assert code == BAD_INPUT, (code, asked, out.getvalue()[-300:], told[-300:])
    assert "Traceback" not in told
    assert "error of its own" not in told
    assert names in told
    assert len(told.splitlines()) < 80
    assert contents(place) == before
    assert not (place / "out").exists()


@given(st.data())
@settings(max_examples=deep(500))
def test_a_broken_input_is_refused_in_plain_words(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        kind = data.draw(st.sampled_from(KINDS))
        broken = data.draw(kind(place))
        refused(place, broken.arguments, broken.told)


EMPTY = ("last germination", "last unit_batches", "last temporary", "last crew_days", "last buy_in")
"""Tables of the small scenario's plan without rows."""

BROKEN_FILES = [
    (kind, way)
    for kind in ("progress", "counts", "orders", *(f"last {name}" for name in NEEDED))
    for way in sorted(FILE_WAYS)
    if not (kind in EMPTY and way in NEED_ROWS)
    and (kind, way) != ("last costs", "row of noise")  # a line of costs may have any name
]


@pytest.mark.parametrize("kind, way", BROKEN_FILES)
def test_a_file_broken_as_a_whole_is_refused(kind: str, way: str, tmp_path: Path) -> None:
    write_folder(base_scenario(), tmp_path / "book")
    if kind.startswith("last"):
        file, asked = sound_last_plan(tmp_path, kind.removeprefix("last "))
    else:
        file, asked = {"progress": sound_progress, "counts": sound_counts, "orders": sound_orders}[kind](
            tmp_path
        )
    FILE_WAYS[way](file)
    refused(tmp_path, asked, "orders" if kind == "orders" else file.stem)


def test_only_these_tables_have_no_rows_to_break() -> None:
    assert tuple(f"last {name}" for name in NEEDED if planned().table(name).empty) == EMPTY
