"""Each smallest bad input gives its one fault; many at once give all of theirs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from itertools import product
from pathlib import Path

import pytest

from scenarios.cells.faults import BadInput, Fault, render_faults
from scenarios.commands.command_line import main
from scenarios.files.read_scenario import read_scenario
from tests.bad_input import progress
from tests.bad_input.apart import APART
from tests.bad_input.bays import BAYS
from tests.bad_input.cases import CELLS, ROWS, TABLES_AND_COLUMNS, TYPED
from tests.bad_input.changes import Case
from tests.bad_input.inquiries import INQUIRIES
from tests.bad_input.margins import MARGINS
from tests.bad_input.on_hand import ON_HAND
from tests.bad_input.pace import PACE
from tests.bad_input.people import PEOPLE
from tests.bad_input.practice import PRACTICE
from tests.bad_input.progress import PROGRESS
from tests.bad_input.returns import RETURNS
from tests.bad_input.runs import RUNS
from tests.bad_input.small import grids, small, write_csvs, write_xlsx
from tests.bad_input.ways import WAYS
from tests.bad_input.zones import ZONES


def faults_of(path: Path) -> list[Fault]:
    with pytest.raises(BadInput) as caught:
        read_scenario(path)
    return caught.value.faults


def assert_is(fault: Fault, case: Case) -> None:
    place = fault.table, fault.row, fault.column, fault.value
    assert place == (case.table, case.row, case.column, case.value)
    assert case.wrong in fault.wrong
    assert case.remedy in fault.remedy


@pytest.mark.parametrize(
    "case",
    TABLES_AND_COLUMNS
    + CELLS
    + ROWS
    + MARGINS
    + PEOPLE
    + ON_HAND
    + ZONES
    + RUNS
    + BAYS
    + PRACTICE
    + PACE
    + RETURNS
    + APART
    + PROGRESS
    + WAYS
    + INQUIRIES,
    ids=lambda case: case.name,
)
def test_smallest_bad_folder(case: Case, tmp_path: Path) -> None:
    tables = small()
    case.change(tables)
    faults = faults_of(write_csvs(grids(tables), tmp_path / "scenario"))
    assert len(faults) == 1, faults
    assert_is(faults[0], case)


@pytest.mark.parametrize("case", TABLES_AND_COLUMNS + ROWS + TYPED, ids=lambda case: case.name)
def test_smallest_bad_workbook(case: Case, tmp_path: Path) -> None:
    tables = small()
    case.change(tables)
    faults = faults_of(write_xlsx(grids(tables), tmp_path / "scenario.xlsx"))
    assert len(faults) == 1, faults
    assert_is(faults[0], case)


def test_at_least_sixty_kinds() -> None:
    """Kinds that differ in what they say, not only in where; files that are no scenario come on top."""
    assert (
        len(
            {
                case.name
                for case in TABLES_AND_COLUMNS
                + CELLS
                + ROWS
                + MARGINS
                + PEOPLE
                + ON_HAND
                + ZONES
                + BAYS
                + PRACTICE
                + PACE
                + RETURNS
                + RUNS
                + APART
                + PROGRESS
                + WAYS
                + INQUIRIES
                + TYPED
            }
        )
        > 100
    )


TOGETHER = [
    "misspelt reference",
    "text for number",
    "percent as 85",
    "date impossible",
    "wrong choice",
    "item twice",
    "currency in small letters",
    "duplicate day",
    "due too soon",
    "due before ready",
    "empty zone",
    "25 hours",
    "offer of least over most",
    "no tolerance",
    "root-cut without rootstock formats",
    "ages outside the window",
    "gap in steps",
    "zone not for holding",
]
"""Cases that touch different cells."""


@pytest.mark.parametrize("write", [write_csvs, write_xlsx])
def test_many_faults_are_told_at_once(write: Callable[..., Path], tmp_path: Path) -> None:
    cases = [case for case in TABLES_AND_COLUMNS + CELLS + ROWS + MARGINS if case.name in TOGETHER]
    assert len(cases) == len(TOGETHER)
    tables = small()
    cases = [replace(case, row=6) if case.name == "due too soon" else case for case in cases]
    tables["orders"].append(tables["orders"][0] | {"order": "O-5", "due_day": date(2027, 2, 27)})
    if write is write_xlsx:
        cases = [case for case in cases if case.name not in ("text for number", "date impossible")]
    for case in cases:
        if case.row != 6:
            case.change(tables)
    faults = faults_of(write(grids(tables), tmp_path / "scenario.xlsx"))
    for case in cases:
        found = [
            f
            for f in faults
            if (f.table, f.row, f.column, f.value) == (case.table, case.row, case.column, case.value)
        ]
        assert found, case.name
        assert_is(found[0], case)
    assert len(faults) == len(cases), faults


def test_faults_come_in_the_order_of_the_tables(tmp_path: Path) -> None:
    tables = small()
    tables["crews"][0]["heads"] = -1
    tables["orders"][1]["quantity"] = tables["orders"][0]["due_day"] = tables["orders"][0]["quantity"] = "x"
    tables["nursery"][0]["currency"] = "?"
    faults = faults_of(write_csvs(grids(tables), tmp_path / "scenario"))
    assert [(fault.table, fault.row, fault.column) for fault in faults] == [
        ("nursery", 2, "currency"),
        ("orders", 2, "quantity"),
        ("orders", 2, "due_day"),
        ("orders", 3, "quantity"),
        ("crews", 2, "heads"),
    ]


SECOND_HAND = {
    "product with a bad method": ("products", 2, "method", "tomato splce"),
    "product with a bad name": ("products", 2, "product", "Red on Stout\x07"),
    "method with a bad kind": ("methods", 2, "kind", "grafted"),
    "lot of a bad variety": ("seed_lots", 2, "variety", "Red\x07"),
    "zone with a bad use": ("zones", 2, "use", "warm"),
    "crew with bad skills": ("crews", 2, "skills", "grafting;grafting"),
    "bad first day": ("nursery", 2, "first_day", "soon"),
    "bad working weekdays": ("nursery", 2, "working_weekdays", "Mon;Thurs"),
    "bad window": ("methods", 2, "scion_age_max", "old"),
    "stage with a bad step": ("stages", 3, "step", "two"),
    "stage of no method": ("stages", 3, "method", "tomato"),
    "ages with a bad match": ("age_effects", 2, "match", "most"),
    "bad day off": ("days_off", 2, "day", "Good Friday"),
    "offer with a bad day": ("buy_in_offers", 2, "delivery_weekdays", "Thursday"),
    "lot with bad germination days": ("seed_lots", 2, "germination_days", "a few"),
}


@pytest.mark.parametrize("name", SECOND_HAND)
def test_a_faulty_cell_has_no_second_hand_faults(name: str, tmp_path: Path) -> None:
    table, row, column, value = SECOND_HAND[name]
    tables = small()
    tables[table][row - 2][column] = value
    faults = faults_of(write_csvs(grids(tables), tmp_path / "scenario"))
    assert [(fault.table, fault.row, fault.column) for fault in faults] == [(table, row, column)], faults


RUBBISH = ["\x07", "=1/0", "9" * 400, "-" * 9, ";;;", "\u202e", "nan", "x" * 5000]


ZERO = [(table, "0") for table in small() if table != "customers"]
"""A customer may be named 0, and pay at once without a deposit."""


@pytest.mark.parametrize(("table", "rubbish"), [*product(small(), RUBBISH), *ZERO])
def test_rubbish_in_every_cell_is_told_and_does_not_crash(table: str, rubbish: str, tmp_path: Path) -> None:
    tables = small()
    tables[table] = [dict.fromkeys(row, rubbish) for row in tables[table]]
    found = faults_of(write_csvs(grids(tables), tmp_path / "scenario"))
    assert all(fault.wrong and fault.remedy for fault in found)
    assert all(line.isprintable() for line in render_faults(found).split("\n"))


def test_orders_that_an_offer_can_deliver_are_no_fault(tmp_path: Path) -> None:
    """Due before anything can be ready, but a neighbour can deliver in time."""
    tables = small()
    tables["orders"][0]["due_day"] = date(2027, 3, 12)
    assert len(faults_of(write_csvs(grids(tables), tmp_path / "late"))) == 1
    tables["buy_in_offers"][0]["lead_days"] = 7
    assert read_scenario(write_csvs(grids(tables), tmp_path / "early")).orders[0].due_day == date(2027, 3, 12)


def test_a_horizon_too_short_for_anything(tmp_path: Path) -> None:
    tables = small()
    tables["nursery"][0]["last_day"] = date(2027, 3, 26)
    tables.pop("inquiries")
    tables["orders"] = [row | {"due_day": date(2027, 3, 26)} for row in tables["orders"]]
    faults = faults_of(write_csvs(grids(tables), tmp_path / "scenario"))
    assert [(fault.row, fault.column) for fault in faults] == [(row, "due_day") for row in (2, 3, 4, 5)]
    assert all("horizon longer than 26 days" in fault.remedy for fault in faults)


def test_an_order_beyond_all_slots_and_hours_is_no_fault(tmp_path: Path) -> None:
    tables = small()
    tables["orders"][0]["quantity"] = 1_000_000
    assert read_scenario(write_csvs(grids(tables), tmp_path / "scenario")).orders[0].quantity == 1_000_000


def test_reading_writes_nothing(tmp_path: Path) -> None:
    tables = small()
    tables["nursery"][0]["name"] = "../../escaped"
    tables["orders"][0]["quantity"] = "?"
    folder = write_csvs(grids(tables), tmp_path / "scenario")
    before = sorted(tmp_path.rglob("*"))
    faults_of(folder)
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("command", ["check", "convert", "plan -o"])
def test_commands_end_with_2_and_write_nothing(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tables = small()
    tables["orders"][0]["quantity"] = "480,5"
    tables["crews"][0]["heads"] = -1
    folder = write_csvs(grids(tables), tmp_path / "scenario")
    before = sorted(tmp_path.rglob("*"))
    verb, *option = command.split()
    target = [] if verb == "check" else [*option, str(tmp_path / "out")]
    assert main([verb, str(folder), *target]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines()[-3:] == [
        "orders, row 2, quantity: '480,5' is not a whole number; "
        "write a whole number from 1 to 10,000,000, such as 480",
        "crews, row 2, heads: '-1' is negative; write a number from 0 to 1,000,000",
        "2 faults; the scenario was not used",
    ]
    assert sorted(tmp_path.rglob("*")) == before


def test_an_order_that_the_list_prices_may_be_declined(tmp_path: Path) -> None:
    tables = small()
    tables["orders"][0]["decline"] = "whole"
    (fault,) = faults_of(write_csvs(grids(tables), tmp_path / "above"))
    assert (fault.table, fault.column) == ("orders", "decline")
    tables["list_prices"][0]["from_quantity"] = 480
    assert read_scenario(write_csvs(grids(tables), tmp_path / "listed")).orders[0].price is None


def test_extra_plants_of_an_order_may_be_bought_in_too(tmp_path: Path) -> None:
    """480 plants and 1 % of them: 485, of which the customer's share decides where the order tells none."""
    tables = progress.told()
    tables["customers"][0] = {"customer": tables["orders"][0]["customer"], "extra_share": 0.01}
    (row,) = [row for row in tables["progress"] if row["what"] == "bought in"]
    row["number"] = 485
    assert read_scenario(write_csvs(grids(tables), tmp_path / "all")).orders[0].quantity == 480
    row["number"] = 486
    (fault,) = faults_of(write_csvs(grids(tables), tmp_path / "above"))
    assert "more than the 485 of order 'O-1'" in fault.wrong
