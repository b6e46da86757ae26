"""A scenario with a locale: what people read follows it in every verb, and what programs read never does."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from model.scenario.entities import Scenario
from scenarios.commands.command_line import BAD_INPUT, DONE, SHORT, main
from scenarios.commands.study_verbs import STUDIES
from scenarios.files.write_scenario import write_folder
from tests.end_to_end.test_cli_studies import COUNTS, EXTRA, VARIANT, small
from tests.scenario_parts import order
from tests.workbooks import formula_cells, recalculated

ISO = re.compile(r"\b\d{4}-\d\d-\d\d\b")
POINT = re.compile(r"(?<![\w.,])\d+\.\d{1,2}(?![\w.])|(?<![\w.,])\d{1,3}(,\d{3})+(\.|,\d{3})")
"""A number with a decimal point, or with commas between thousands. A version has two points."""

KEPT = re.compile(r"\d{4}-\d\d-\d\d( week,)? [\w -]+|(published for|graft labour alone|Q = U A) [^|]*")
"""Names of sheets begin with an ISO day, so that they sort; sources are quoted as they are published."""


def german(**changes: object) -> Scenario:
    """The scenario of every study, and an order too large for the nursery, as written in Germany."""
    made = small()
    large = order("O-3", made.orders[0].product, 1_250, 20, price=1.5)
    nursery = replace(made.nursery, locale="de-DE", currency="EUR", shortfall_penalty=1234.5)
    zones = tuple(replace(zone, slots=12.5) for zone in made.zones)
    return replace(made, nursery=replace(nursery, **changes), orders=(*made.orders, large), zones=zones)


def run(verb: str, folder: Path, scenario: Scenario) -> Path:
    """The output of a verb."""
    folder.mkdir()
    write_folder(scenario, folder / "small")
    (folder / "dear.toml").write_text(VARIANT, encoding="utf-8")
    (folder / "counts.csv").write_text(COUNTS, encoding="utf-8")
    extra = [str(folder / x) if x.endswith((".toml", ".csv")) else x for x in EXTRA.get(verb, [])]
    assert main([verb, str(folder / "small"), *extra, "-o", str(folder / "out")]) in (DONE, SHORT)
    return folder / "out"


def text_of(page: str) -> str:
    """What a person reads of a page: words between tags, and the words of marks."""
    bare = re.sub(r"<(style|script)>.*?</\1>", "", page, flags=re.DOTALL)
    marks = re.findall(r'aria-label="([^"]*)"', bare)
    return html.unescape(" | ".join([re.sub(r"<[^>]*>", "|", bare), *marks]))


def foreign(text: str) -> list[str]:
    """Days and numbers that nobody in Germany writes so."""
    return [found[0] for pattern in (ISO, POINT) for found in pattern.finditer(KEPT.sub("", text))]


@pytest.mark.parametrize("verb", ["plan", "work", *STUDIES])
def test_every_verb_tells_as_the_locale_writes(
    verb: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = run(verb, tmp_path / "german", german())
    told = capsys.readouterr().out.partition("Written:")[0]
    assert foreign(told) == []
    for page in out.glob("*.html"):
        assert foreign(text_of(page.read_text(encoding="utf-8"))) == []
    for path in out.glob("*.xlsx"):
        for sheet in openpyxl.load_workbook(path):
            for cell in (cell for row in sheet.iter_rows() for cell in row):
                if isinstance(cell.value, datetime):
                    assert cell.number_format == "dd.mm.yyyy"
                elif isinstance(cell.value, str) and cell.data_type == "s":
                    assert foreign(cell.value) == [], (path.name, sheet.title, cell.coordinate)


def test_files_for_programs_are_the_same_to_the_byte(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    compared = 0
    for verb in ("plan", "work", "rates", "hold", "heat"):
        with_it, without = (
            run(verb, tmp_path / f"{verb}1", german()),
            run(verb, tmp_path / f"{verb}2", german(locale=None)),
        )
        for path in sorted(without.rglob("*")):
            if path.suffix in (".csv", ".ics", ".toml"):
                assert (with_it / path.relative_to(without)).read_bytes() == path.read_bytes()
                compared += 1
    assert compared > 10


def test_a_workbook_holds_the_same_values_and_formulas_that_hold(tmp_path: Path) -> None:
    """Numbers and days are the same; formulas, calculated again, give what stands in their cells."""
    with_it = run("plan", tmp_path / "a", german()) / "plan.xlsx"
    without = run("plan", tmp_path / "b", german(locale=None)) / "plan.xlsx"
    one, other = values(with_it), values(without)
    assert [value for value, _ in one] == [value for value, _ in other]
    assert {"dd.mm.yyyy", '#,##0.00"\u00a0€"', '0.0"\u00a0"%'} <= {form for _, form in one}
    value = recalculated(with_it)
    for (sheet, cell), cached in formula_cells(with_it).items():
        if isinstance(cached, int | float):
            assert value(sheet, cell) == pytest.approx(cached), (sheet, cell)


def values(path: Path) -> list[tuple[object, str]]:
    """Numbers and days in the cells of a workbook, those of formulas too, with their formats."""
    return [
        (cell.value, cell.number_format)
        for sheet in openpyxl.load_workbook(path, data_only=True)
        if sheet.title not in ("Assumptions", "Checks")  # the locale is an input, and a run has its seconds
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, int | float | datetime)
    ]


def test_a_day_on_the_command_line_may_be_the_locales(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_folder(german(), tmp_path / "de")
    write_folder(german(locale="en-US"), tmp_path / "us")
    write_folder(german(locale=None), tmp_path / "plain")
    for folder, day, told in (("de", "05.03.2027", "05.03.2027"), ("us", "3/5/2027", "3/5/2027")):
        assert main(["work", str(tmp_path / folder), "--from", day, "-o", str(tmp_path / f"o {folder}")]) in (
            DONE,
            SHORT,
        )
        assert f"7 days from {told}" in capsys.readouterr().out
    assert (
        main(["work", str(tmp_path / "plain"), "--from", "05.03.2027", "-o", str(tmp_path / "o")])
        == BAD_INPUT
    )
    assert "is not a date such as 2027-04-20" in capsys.readouterr().err


def test_a_quote_is_asked_for_as_the_locale_writes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_folder(replace(german(), orders=german().orders[:1]), tmp_path / "de")
    asked = ["--product", "Red on Stout", "--quantity", "30", "--due", "17.03.2027", "--price", "2,00 €"]
    assert main(["quote", str(tmp_path / "de"), *asked, "-o", str(tmp_path / "out")]) == DONE
    assert "17.03.2027" in capsys.readouterr().out


def test_workers_write_as_the_command_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_folder(german(), tmp_path / "de")
    told = []
    for workers in ("1", "2"):
        out = str(tmp_path / workers)
        assert main(["limits", str(tmp_path / "de"), "--workers", workers, "-o", out]) == DONE
        told.append(capsys.readouterr().out.partition("Written:")[0])
    assert told[0] == told[1]
    assert "1.250" in told[0] or "short by" in told[0]
