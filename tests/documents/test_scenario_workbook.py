"""The scenario workbook in LibreOffice: filled in, saved there, read again; printed."""

from pathlib import Path

import pytest

from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_blank, write_workbook
from scenarios.variants.by_name import path_of
from tests.documents.office import convert, pages

DEMO = path_of("hollow_ash")


@pytest.mark.parametrize("blank", [True, False])
def test_saved_by_libreoffice_it_is_the_same_scenario(blank: bool, tmp_path: Path) -> None:
    demo = read_scenario(DEMO)
    workbook = tmp_path / "mine.xlsx"
    if blank:
        write_blank(workbook, examples=demo)
    else:
        write_workbook(demo, workbook)
    assert read_scenario(convert(workbook, "xlsx", tmp_path)) == demo


def test_a_blank_workbook_prints_every_table(tmp_path: Path) -> None:
    workbook = tmp_path / "mine.xlsx"
    write_blank(workbook, examples=read_scenario(DEMO))
    printed = pages(convert(workbook, "pdf", tmp_path))
    text = "\n".join(printed)
    for words in ("orders", "seed_lots", "labour_standards", "Hollow Ash"):
        assert words in text
    for fault in ("###", "#REF!", "#NAME?", "Err:"):
        assert fault not in text
    assert all(page.strip() for page in printed)
