"""A file that another program has open is told as such, whether it is read or written over."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

import pytest

from scenarios.cells.faults import BadInput
from scenarios.commands.endings import ending
from scenarios.commands.running import FAILED
from scenarios.files.read_scenario import read_scenario
from tests.bad_input.small import grids, small, write_csvs, write_xlsx

MARKS = ("~${}", ".~lock.{}#")
DENIED = PermissionError(13, "Permission denied")


def refuse(*_: object, **__: object) -> None:
    raise DENIED


@pytest.mark.parametrize("mark", MARKS)
def test_a_workbook_that_cannot_be_read_while_it_is_open(
    mark: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = write_xlsx(grids(small()), tmp_path / "s.xlsx")
    (tmp_path / mark.format("s.xlsx")).write_text("me")
    assert read_scenario(book).orders
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(BadInput) as caught:
        read_scenario(book)
    (fault,) = caught.value.faults
    assert fault.wrong == "is open in another program"
    assert fault.remedy.startswith("close it in the program that has it open")


def test_a_text_file_that_windows_shares_with_nobody(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write_csvs(grids(small()), tmp_path / "s")

    def shared(*_: object) -> bytes:
        error = PermissionError(13, "in use")
        error.winerror = 32  # type: ignore[attr-defined]
        raise error

    monkeypatch.setattr(Path, "read_bytes", shared)
    with pytest.raises(BadInput) as caught:
        read_scenario(folder)
    assert {fault.wrong for fault in caught.value.faults} == {"is open in another program"}


@pytest.mark.parametrize("mark", MARKS)
def test_a_workbook_that_cannot_be_replaced_while_it_is_open(mark: str, tmp_path: Path) -> None:
    plan = tmp_path / "plan.xlsx"
    error = PermissionError(13, "Permission denied", str(tmp_path / "new"), None, str(plan))
    assert ending(error, Namespace())[0].startswith("cannot read or write: ")
    (tmp_path / mark.format("plan.xlsx")).write_text("me")
    told, code = ending(error, Namespace())
    assert told.startswith(f"{plan} is open in another program; close it in the program")
    assert code == FAILED
