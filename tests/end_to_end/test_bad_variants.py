"""Each smallest bad variant gives its one fault, with its file and line; many at once give all of theirs."""

from __future__ import annotations

from pathlib import Path

import pytest

from scenarios import read
from scenarios.cells.faults import BadInput, Fault, render_faults
from scenarios.variants.toml_read import LARGEST_FILE, VariantFault
from scenarios.variants.variants import read_variant
from tests.bad_input.small import grids, small, write_csvs
from tests.bad_input.variants import CASES, CREW_DAY, TAKE, Case, add, change

HEAD = 'name = "changed"\nparent = "base"\n'


def test_a_table_that_must_have_rows_keeps_one(tmp_path: Path) -> None:
    base(tmp_path)
    path = tmp_path / "changed.toml"
    path.write_text(HEAD + '[[remove]]\ntable = "orders"\nrow = "*"\n', encoding="utf-8")
    fault = file_fault(path)
    assert (fault.table, fault.wrong) == ("orders", "has no rows left")


def base(folder: Path) -> Path:
    """The small scenario as a folder named base."""
    return write_csvs(grids(small()), folder / "base")


def faults_of(path: Path) -> list[VariantFault]:
    with pytest.raises(BadInput) as caught:
        read_variant(path)
    assert all(isinstance(fault, VariantFault) for fault in caught.value.faults), caught.value
    return [fault for fault in caught.value.faults if isinstance(fault, VariantFault)]


def assert_is(fault: VariantFault, case: Case, shift: int = 0) -> None:
    assert (fault.table, fault.key, fault.column) == case.where
    assert fault.value == case.value
    assert fault.line == (case.line + shift if case.line else None)
    assert case.wrong in fault.wrong
    assert case.remedy in fault.remedy


ONLY_FIRST = {"all rows removed"}
"""Faults of several rows at once, of which the first is told in full."""


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_smallest_bad_variant(case: Case, tmp_path: Path) -> None:
    base(tmp_path)
    path = tmp_path / "changed.toml"
    path.write_text(HEAD + case.text, encoding="utf-8")
    faults = faults_of(path)
    if case.name not in ONLY_FIRST:
        assert len(faults) == 1, faults
    assert_is(faults[0], case)
    assert faults[0].file == "changed.toml"
    assert str(faults[0]).startswith("changed.toml, ")


TOGETHER = [
    "unknown key",
    "unknown table",
    "unknown row",
    "unknown column",
    "misspelt value",
    "no values",
    "negative",
    "text for a date",
    "times on text",
    "times on a blank cell",
    "list for a cell",
    "added row that is there",
    "rule between cells",
]


def test_many_faults_are_told_at_once_in_the_order_of_their_lines(tmp_path: Path) -> None:
    base(tmp_path)
    text, expected = HEAD, []
    for case in (case for case in CASES if case.name in TOGETHER):
        expected.append((case, text.count("\n") - HEAD.count("\n")))
        text += case.text + "\n"
    assert len(expected) == len(TOGETHER)
    path = tmp_path / "changed.toml"
    path.write_text(text, encoding="utf-8")
    faults = faults_of(path)
    assert [fault.line for fault in faults] == sorted(fault.line or 0 for fault in faults)
    assert len(faults) == len(expected), "\n".join(map(str, faults))
    for fault, (case, shift) in zip(
        faults, sorted(expected, key=lambda each: each[0].line + each[1]), strict=True
    ):
        assert_is(fault, case, shift)


def file_fault(path: Path) -> VariantFault:
    (fault,) = faults_of(path)
    return fault


@pytest.mark.parametrize(
    ("text", "line", "wrong"),
    [
        (HEAD + "[[change]\n", 3, "is not TOML"),
        (HEAD + '\nnote = "open\nrow = 3\n', 4, "is not TOML"),
        (HEAD + "note = '''\nopen", 4, "is not TOML"),
        (HEAD + 'name = "again"\n', 3, "is not TOML"),
        (HEAD + TAKE + "value = 0.8\n", 8, "is not TOML"),
        (HEAD + "note = 2027-02-30\n", 3, "is not TOML"),
        (HEAD + "note = " + "[" * 5000 + "]" * 5000, None, "nested too deep"),
        (HEAD + "note = " + "9" * 5000, None, "nested too deep"),
        (HEAD + "#" * LARGEST_FILE, None, "is larger than"),
    ],
)
def test_files_that_are_no_toml(text: str, line: int | None, wrong: str, tmp_path: Path) -> None:
    path = tmp_path / "changed.toml"
    path.write_text(text, encoding="utf-8")
    fault = file_fault(path)
    assert fault.line == line
    assert wrong in fault.wrong


def test_text_that_is_not_utf8_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "changed.toml"
    path.write_bytes(b'name = "a"\nparent = "base"\nnote = "\xe9"\n')
    fault = file_fault(path)
    assert (fault.line, fault.wrong) == (3, "is not UTF-8 text (byte 0xe9)")


def test_missing_files(tmp_path: Path) -> None:
    path = tmp_path / "changed.toml"
    assert file_fault(path).wrong == "does not exist"
    assert file_fault(tmp_path).wrong == "is a folder"
    path.write_text('name = "a"\nparent = "nowhere.toml"\n', encoding="utf-8")
    fault = file_fault(path)
    assert (fault.line, fault.value, fault.wrong) == (2, "nowhere.toml", "does not exist")
    path.write_text('name = "a"\nparent = "no\\u0000where"\n', encoding="utf-8")
    assert file_fault(path).line == 2
    path.write_text(f'name = "a"\nparent = "{"é" * 200}"\n', encoding="utf-8")
    assert file_fault(path).wrong.startswith("cannot be looked up")
    assert file_fault(tmp_path / ("x" * 300)).wrong.startswith("cannot be read")
    path.write_text("", encoding="utf-8")
    assert [fault.wrong for fault in faults_of(path)] == ["has no name", "has no parent"]


def test_a_circle_of_parents_is_told(tmp_path: Path) -> None:
    for name, parent in (("a", "b"), ("b", "c"), ("c", "b")):
        (tmp_path / f"{name}.toml").write_text(
            f'name = "{name}"\nparent = "{parent}.toml"\n', encoding="utf-8"
        )
    fault = file_fault(tmp_path / "a.toml")
    assert (fault.file, fault.line, fault.column) == ("c.toml", 2, "parent")
    assert fault.wrong == "leads back to itself (b.toml -> c.toml -> b.toml)"
    (tmp_path / "own.toml").write_text('name = "own"\nparent = "own.toml"\n', encoding="utf-8")
    assert file_fault(tmp_path / "own.toml").wrong == "leads back to itself (own.toml -> own.toml)"


def test_faults_of_parents_and_of_the_scenario_are_told_with_those_of_the_variant(tmp_path: Path) -> None:
    tables = small()
    tables["orders"][0]["quantity"] = -5
    write_csvs(grids(tables), tmp_path / "base")
    (tmp_path / "first.toml").write_text(HEAD + "zzzz = 1\n", encoding="utf-8")
    second = 'name = "second"\nparent = "first.toml"\n' + change("crews", '"Grafters"', "heads", "value = -1")
    (tmp_path / "second.toml").write_text(second, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read(tmp_path / "second.toml")
    assert render_faults(caught.value.faults).splitlines() == [
        "orders, row 2, quantity: '-5' is negative; write a whole number from 1 to 10,000,000",
        "first.toml, line 3: 'zzzz' is not a key of a variant; the keys are name, parent, note, change, add, "
        "remove",
        "second.toml, line 7, crews, row 'Grafters', heads: '-1' is negative; write a number from 0 to "
        "1,000,000",
        "3 faults; the scenario was not used",
    ]


def test_a_parents_bad_change_is_told_at_the_parents_line(tmp_path: Path) -> None:
    base(tmp_path)
    bad = change("orders", '"O-1"', "product", 'value = "Red on Stuot"')
    (tmp_path / "first.toml").write_text(HEAD + bad, encoding="utf-8")
    (tmp_path / "second.toml").write_text('name = "s"\nparent = "first.toml"\n' + TAKE, encoding="utf-8")
    fault = file_fault(tmp_path / "second.toml")
    assert (fault.file, fault.line) == ("first.toml", 3)


RUBBISH = [
    '"\\u0007"',
    '"=1/0"',
    "nan",
    "-inf",
    '";;;"',
    "[]",
    "{}",
    "[{}]",
    "true",
    "00:00:00",
    '"*"',
    "0x" + "f" * 9000,
]


HARMLESS = {("name", '"=1/0"'), ("name", '"*"'), ("name", '";;;"'), ("row", '"*"')}
"""Names may be any text, and all rows may be changed."""


def faults_or_none(path: Path) -> list[Fault]:
    try:
        read_variant(path)
    except BadInput as bad:
        return bad.faults
    return []


@pytest.mark.parametrize("rubbish", RUBBISH, ids=range(len(RUBBISH)))
def test_rubbish_in_every_place_is_told_and_does_not_crash(rubbish: str, tmp_path: Path) -> None:
    base(tmp_path)
    whole = (
        HEAD
        + TAKE
        + add("crew_days", f"{CREW_DAY}, heads = 2")
        + '[[remove]]\ntable = "orders"\nrow = "O-1"\n'
    )
    lines = whole.split("\n")
    path = tmp_path / "changed.toml"
    for number, line in enumerate(lines):
        if "=" in line:
            key = line.split(" = ")[0]
            text = "\n".join([*lines[:number], f"{key} = {rubbish}", *lines[number + 1 :]])
            path.write_text(text, encoding="utf-8")
            faults = faults_or_none(path)
            assert all(fault.wrong and fault.remedy for fault in faults)
            assert all(told.isprintable() for told in render_faults(faults).split("\n"))
            if not faults:
                assert (key, rubbish) in HARMLESS
