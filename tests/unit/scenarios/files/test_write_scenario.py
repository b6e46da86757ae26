"""Writing loses nothing, runs nothing, and leaves nothing half done."""

from __future__ import annotations

import csv
import string
from dataclasses import replace
from datetime import date, timedelta
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from model.csv_text import cover, uncover
from model.scenario.entities import Scenario
from model.scenario.tables import BY_NAME, TABLES, Column, Type
from scenarios.cells.faults import Refused
from scenarios.files.dress import GUIDE
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_blank, write_folder, write_workbook
from tests.bad_input.on_hand import PLANTS
from tests.bad_input.small import grids, small, write_csvs
from tests.depth import deep


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Scenario:
    """The small nursery, with plants on hand, which it has not."""
    tables = small() | {"plants_on_hand": [PLANTS]}
    return read_scenario(write_csvs(grids(tables), tmp_path_factory.mktemp("small") / "s"))


def both_ways(scenario: Scenario, place: Path) -> tuple[Scenario, Scenario]:
    """The scenario after a way through a folder, and through a workbook."""
    number = len(list(place.iterdir()))
    write_folder(scenario, place / f"folder {number}")
    write_workbook(scenario, place / f"book {number}.xlsx")
    return read_scenario(place / f"folder {number}"), read_scenario(place / f"book {number}.xlsx")


def test_every_table_survives(scenario: Scenario, tmp_path: Path) -> None:
    assert both_ways(scenario, tmp_path) == (scenario, scenario)


def test_tables_without_rows_survive(scenario: Scenario, tmp_path: Path) -> None:
    bare = replace(
        scenario,
        **{table.name: () for table in TABLES if not table.required and table.name not in ("age_effects",)},
    )
    bare = replace(bare, methods=tuple(replace(m, consolidate=False) for m in bare.methods))
    bare = replace(bare, nursery=replace(bare.nursery, change_over_seconds=0.0, change_over_skill=None))
    assert both_ways(bare, tmp_path) == (bare, bare)


def test_workbook_to_folder_and_back(scenario: Scenario, tmp_path: Path) -> None:
    write_workbook(scenario, tmp_path / "a.xlsx")
    write_folder(read_scenario(tmp_path / "a.xlsx"), tmp_path / "b")
    write_workbook(read_scenario(tmp_path / "b"), tmp_path / "c.xlsx")
    assert read_scenario(tmp_path / "c.xlsx") == scenario


HARD_TEXTS = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "=cmd|' /C calc'!A0",
    "'quoted",
    "'=quoted",
    "''=twice",
    "'",
    "''",
    'say "no"',
    "a,b;c",
    "NA",
    "null",
    "#REF!",
    "TRUE",
    "1e5",
    "2027-04-30",
    "_x0041_",
    "_x0041_x0042_",
    "_x005F_x0041_",
    "ÄÖ 日本 😀 ﬁ",
    "e\u0301",
    "<b>&amp;</b>",
    "../../x",
    "%s {0} \\n",
]


@pytest.mark.parametrize("text", HARD_TEXTS)
def test_hard_texts_survive(text: str, scenario: Scenario, tmp_path: Path) -> None:
    order = replace(scenario.orders[0], order=text, customer=text, note=f"{text}\nsecond line\ttab")
    hard = replace(scenario, orders=(order, *scenario.orders[1:]))
    assert both_ways(hard, tmp_path) == (hard, hard)


def test_hard_names_survive_as_references(scenario: Scenario, tmp_path: Path) -> None:
    name = "=Red, 'on' \"Stout\""
    hard = replace(
        scenario,
        nursery=replace(scenario.nursery, change_over_skill="-grafting"),
        plants_on_hand=(replace(scenario.plants_on_hand[0], product=name),),
        products=(replace(scenario.products[0], product=name), *scenario.products[1:]),
        orders=(replace(scenario.orders[0], product=name), *scenario.orders[1:]),
        buy_in_offers=(replace(scenario.buy_in_offers[0], product=name),),
        list_prices=(replace(scenario.list_prices[0], product=name),),
        inquiries=(replace(scenario.inquiries[0], product=name),),
        crews=(replace(scenario.crews[0], skills=("-grafting", "general")),),
        labour_standards=(replace(scenario.labour_standards[1], skill="-grafting"),),
        piece_rates=scenario.piece_rates[:1],
        skill_limits=(replace(scenario.skill_limits[0], skill="-grafting"),),
    )
    assert both_ways(hard, tmp_path) == (hard, hard)


@pytest.mark.parametrize("text", [text for text in HARD_TEXTS if text[0] in "=+-@"])
def test_no_text_is_a_formula(text: str, scenario: Scenario, tmp_path: Path) -> None:
    hard = replace(
        scenario, orders=(replace(scenario.orders[0], customer=text, note=text), *scenario.orders[1:])
    )
    write_workbook(hard, tmp_path / "s.xlsx")
    sheet = load_workbook(tmp_path / "s.xlsx")["orders"]
    names = [column.name for column in BY_NAME["orders"].columns]
    places = [names.index(name) for name in ("customer", "note")]
    for place in places:
        cell = sheet.cell(2, place + 1)
        assert (cell.value, cell.data_type, cell.quotePrefix) == (text, "s", True)
    write_folder(hard, tmp_path / "s")
    with (tmp_path / "s" / "orders.csv").open(encoding="utf-8", newline="") as file:
        row = list(csv.reader(file))[1]
    assert [row[place] for place in places] == [f"'{text}"] * 2


@given(st.text(alphabet="'=+-@ab", max_size=6))
def test_cover_is_undone(text: str) -> None:
    assert uncover(cover(text)) == text
    assert cover(text)[:1] not in ("=", "+", "-", "@")


NAME_LETTERS = string.ascii_letters + string.digits + " '\"=+-@,.:/\\|#&<>()[]{}!?%*_~^$éß日😀"


def names(unlike: str = "") -> st.SearchStrategy[str]:
    """Names as the reader gives them: no spaces at the ends."""
    texts = st.text(alphabet=NAME_LETTERS, min_size=1, max_size=20).map(lambda text: text.strip())
    return texts.filter(lambda text: bool(text) and text.casefold() != unlike.casefold())


def values(column: Column, first: date, last: date) -> st.SearchStrategy[Any]:
    """Values that a column may hold by itself."""
    if column.type is Type.DATE:
        return st.dates(first, last)
    if column.type is Type.TEXT:
        notes = st.text(alphabet=NAME_LETTERS + "\n\t;", max_size=40).map(lambda text: text.strip() or None)
        return notes if column.name == "note" else names()
    low = 0.0 if column.low is None else column.low
    high = 1e6 if column.high is None else column.high
    if column.type is Type.WHOLE:
        return st.integers(int(low), int(high))
    return st.floats(low, high, exclude_min=column.above_low)


FREE = [
    ("nursery", column)
    for column in (
        "name",
        "service_level",
        "graft_margin",
        "sowing_margin",
        "shortfall_penalty",
        "wave_cost",
        "note",
    )
] + [
    ("orders", "customer"),
    ("orders", "price"),
    ("orders", "quantity"),
    ("orders", "note"),
    ("seed_lots", "germination"),
    ("seed_lots", "grade_out"),
    ("seed_lots", "stock"),
    ("seed_lots", "crop"),
    ("methods", "finish_survival"),
    ("methods", "holding_limit_days"),
    ("own_tasks", "note"),
    ("labour_standards", "seconds"),
    ("supplies", "unit"),
    ("supply_uses", "quantity"),
    ("packs", "price"),
    ("zones", "cost_per_slot_day"),
    ("zone_days", "from_day"),
    ("crews", "pay_per_hour"),
    ("crews", "pace"),
    ("crews", "temp_training_cost"),
    ("crew_days", "heads"),
    ("days_off", "reason"),
    ("buy_in_offers", "price"),
    ("modules", "first_cost"),
]
"""Columns whose values go with any others; each is varied in all rows of its table."""


@settings(max_examples=deep(25), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_values_survive(data: st.DataObject, scenario: Scenario, tmp_path: Path) -> None:
    nursery = scenario.nursery
    changed = replace(scenario, piece_rates=())  # a piece takes more than 0 seconds
    for table, name in FREE:
        column = BY_NAME[table].by_name[name]
        strategy = values(column, nursery.first_day, nursery.last_day)
        rows = getattr(changed, table)
        if isinstance(rows, tuple):
            drawn = tuple(replace(row, **{name: data.draw(strategy)}) for row in rows)
            changed = replace(changed, **{table: drawn})
        else:
            changed = replace(changed, **{table: replace(rows, **{name: data.draw(strategy)})})
    assert both_ways(changed, tmp_path) == (changed, changed)


@pytest.mark.parametrize(
    "number", [0.1 + 0.2, 1 / 3, 1e-7, 5e-324, 123456.789012345, 2.0, 1e7, 0.30000000000000004]
)
def test_numbers_survive_to_the_last_digit(number: float, scenario: Scenario, tmp_path: Path) -> None:
    exact = replace(scenario, nursery=replace(scenario.nursery, shortfall_penalty=number))
    folder, book = both_ways(exact, tmp_path)
    assert folder.nursery.shortfall_penalty == book.nursery.shortfall_penalty == number


def test_blank_workbook_with_examples_is_that_scenario(scenario: Scenario, tmp_path: Path) -> None:
    write_blank(tmp_path / "blank.xlsx", examples=scenario)
    assert read_scenario(tmp_path / "blank.xlsx") == scenario


@pytest.fixture(scope="module")
def blank(tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("blank") / "blank.xlsx"
    write_blank(path)
    return load_workbook(path)


def test_blank_workbook_has_every_table_and_explains_itself(blank: Any) -> None:
    assert blank.sheetnames == [GUIDE, *BY_NAME]
    guide = "\n".join(str(cell.value) for row in blank[GUIDE].iter_rows() for cell in row if cell.value)
    assert "graftwright check" in guide
    for table in TABLES:
        assert table.name in guide
        assert table.help in guide


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_blank_sheet_is_ready_to_fill_in(table: Any, blank: Any) -> None:
    sheet = blank[table.name]
    assert [cell.value for cell in sheet[1]] == [column.heading for column in table.columns]
    assert sheet.max_row == 1
    assert sheet.freeze_panes == "A2"
    assert sheet.print_title_rows == "$1:$1"
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    for cell, column in zip(sheet[1], table.columns, strict=True):
        note = cell.comment.text
        assert column.help in note
        assert column.type.value in note
        assert ("Must be filled" in note) == column.required
        assert cell.font.b == column.required
        if isinstance(column.default, Enum):
            assert f"Blank means {column.default.value}." in note
        assert sheet.column_dimensions[cell.column_letter].width >= 10
    foot = sheet.oddFooter
    assert len(foot.left.text + foot.right.text) < 200, "Excel takes 255 characters, codes of fonts included"


def test_pick_lists(blank: Any) -> None:
    def listed(table: str, place: str) -> str:
        found = [v.formula1 for v in blank[table].data_validations.dataValidation if place in v.sqref]
        assert len(found) == 1
        return str(found[0])

    assert listed("zones", "C2") == '"pool,units"'
    assert listed("methods", "K2") == '"yes,no"'
    assert listed("orders", "C500") == "'products'!$A$2:$A$1001"
    assert listed("products", "C2") == "'seed_lots'!$B$2:$B$1001"


def test_number_formats(scenario: Scenario, tmp_path: Path) -> None:
    write_workbook(scenario, tmp_path / "s.xlsx")
    book = load_workbook(tmp_path / "s.xlsx")
    assert book["orders"]["E2"].number_format == "yyyy-mm-dd"
    assert book["seed_lots"]["D2"].number_format == "0.0 %"
    assert book["orders"].column_dimensions["B"].number_format == "@"


def test_nothing_of_a_users_folder_is_replaced(scenario: Scenario, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(Refused):
        write_folder(scenario, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_names_are_never_paths(scenario: Scenario, tmp_path: Path) -> None:
    """Names that look like paths change nothing about which files are written."""
    wild = replace(scenario, nursery=replace(scenario.nursery, name="../../x"))
    wild = replace(
        wild, orders=(replace(wild.orders[0], order="/etc/passwd", customer="C:\\x"), *wild.orders[1:])
    )
    inner = tmp_path / "a" / "b"
    write_folder(wild, inner / "s")
    write_workbook(wild, inner / "s.xlsx")
    assert {path.name for path in inner.iterdir()} == {"s", "s.xlsx"}
    assert {path.stem for path in (inner / "s").iterdir()} == set(BY_NAME)
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_days_far_apart_survive(scenario: Scenario, tmp_path: Path) -> None:
    off = tuple(
        replace(scenario.days_off[0], day=date(2000, 1, 1) + timedelta(days=n * 3001)) for n in range(12)
    )
    far = replace(scenario, days_off=off)
    assert both_ways(far, tmp_path) == (far, far)
