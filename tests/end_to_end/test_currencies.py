"""Money has the decimals of its currency, from the scenario to the terminal and the workbook."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from model.currencies import CODES, decimals, least_sum
from model.scenario.entities import Scenario
from scenarios.commands.command_line import DONE, SHORT, main
from scenarios.commands.study_verbs import STUDIES
from scenarios.files.write_scenario import write_folder
from tests.end_to_end.test_cli_studies import COUNTS, EXTRA, VARIANT, small

FORMATS = {
    "JPY": {"#,##0", "#,##0.00"},
    "KWD": {"#,##0.000", "#,##0.000##", "#,##0.00000"},
}
"""Number formats of sums, and of the price and cost of one plant: yen have no decimals, dinars three."""

PLACES = {"JPY": {0, 2}, "KWD": {3, 5}}


def test_minor_units_are_those_of_iso_4217() -> None:
    none, three = "JPY KRW VND CLP ISK UGX XOF PYG", "KWD BHD JOD OMR TND IQD LYD"
    assert {decimals(code) for code in none.split()} == {0}
    assert {decimals(code) for code in three.split()} == {3}
    assert {decimals(code) for code in ("EUR", "USD", "GBP", "MGA", "MRU", "HUF")} == {2}
    assert sum(decimals(code) == 0 for code in CODES) == 16
    assert [least_sum(code) for code in ("JPY", "EUR", "KWD")] == pytest.approx([0.5, 0.005, 0.0005])


def in_currency(currency: str) -> Scenario:
    """The scenario of every study, in a currency."""
    scenario = small()
    return replace(scenario, nursery=replace(scenario.nursery, currency=currency))


@pytest.mark.parametrize("currency", FORMATS)
@pytest.mark.parametrize("verb", ["plan", *STUDIES])
def test_sums_have_the_decimals_of_their_currency(
    verb: str, currency: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_folder(in_currency(currency), tmp_path / "small")
    (tmp_path / "dear.toml").write_text(VARIANT, encoding="utf-8")
    (tmp_path / "counts.csv").write_text(COUNTS, encoding="utf-8")
    extra = [str(tmp_path / x) if x.endswith((".toml", ".csv")) else x for x in EXTRA.get(verb, [])]
    assert main([verb, str(tmp_path / "small"), *extra, "-o", str(tmp_path / "out")]) in (DONE, SHORT)
    told = re.findall(rf"([\d,]+(?:\.\d+)?) {currency}\b", capsys.readouterr().out)
    assert {len(sum_.partition(".")[2]) for sum_ in told} <= PLACES[currency], told
    found = money_formats(tmp_path / "out" / f"{verb}.xlsx", currency)
    assert found <= FORMATS[currency]
    assert found or verb in ("rates",)


def money_formats(workbook: Path, currency: str) -> set[str]:
    """Number formats of all numbers below a heading, or beside a label, that names the currency."""
    found = set()
    for sheet in openpyxl.load_workbook(workbook, data_only=True):
        of_column: dict[int, bool] = {}
        for row in sheet.iter_rows():
            beside = False
            for cell in row:
                if isinstance(cell.value, str):
                    if cell.font.bold:
                        of_column[cell.column] = named(cell.value, currency)
                    beside = named(cell.value, currency)
                elif isinstance(cell.value, int | float) and (of_column.get(cell.column) or beside):
                    found.add(cell.number_format)
                    beside = False
    return found


def named(heading: str, currency: str) -> bool:
    """Whether a heading or label says that its numbers are in the currency."""
    return re.search(rf"\({currency}\b|\b{currency}( a [a-z]+|/[a-z-]+)?\)", heading) is not None
