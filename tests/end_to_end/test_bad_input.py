"""Each smallest bad input gives its one fault; many at once give all of theirs."""

from __future__ import annotations

from pathlib import Path

import pytest

from scenarios.faults import BadInput, Fault
from scenarios.read import read_scenario
from tests.bad_input.cases import CELLS, ROWS, TABLES_AND_COLUMNS, TYPED, Case
from tests.bad_input.small import grids, small, write_csvs, write_xlsx


def faults_of(path: Path) -> list[Fault]:
    with pytest.raises(BadInput) as caught:
        read_scenario(path)
    return caught.value.faults


def assert_is(fault: Fault, case: Case) -> None:
    place = fault.table, fault.row, fault.column, fault.value
    assert place == (case.table, case.row, case.column, case.value)
    assert case.wrong in fault.wrong
    assert case.remedy in fault.remedy


@pytest.mark.parametrize("case", TABLES_AND_COLUMNS + CELLS + ROWS, ids=lambda case: case.name)
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
