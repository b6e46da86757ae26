"""The table progress on its way in: what may be told, from which file, and what of it is remarkable."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from scipy.stats import betabinom, binom

from model.planned.plan_tables import Plan
from model.proof.audit import audit
from model.questions.trials import Trials
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.season.as_planned import as_planned
from model.solve import plan, solve
from scenarios.cells.draft import draft_of
from scenarios.cells.faults import BadInput
from scenarios.files.read_scenario import Overrides, read_scenario
from scenarios.files.write_scenario import write_folder, write_workbook
from scenarios.rules.all_rules import check
from scenarios.rules.past.progress_rows import FREE, PROGRESS, WANTS
from scenarios.rules.remarks import in_words, remarks
from scenarios.variants.variants import read_case
from tests.bad_input.progress import GRAFTED, MOVED, RED_72, STANDING, TODAY, record, told
from tests.bad_input.small import Cells, Tables, grids, small, write_csvs
from tests.places import DEMO
from tests.specimens import SPECIMENS

BY_THE_DAY = {Happened.CALLED, Happened.OVERTIME}
"""Kinds of which a crew has no rows whose temporary hands are hired by the week, without overtime."""


def read(tables: Tables, place: Path, beside: Overrides | None = None) -> Scenario:
    folder = write_csvs(grids(tables), place / "scenario")
    return read_scenario(folder) if beside is None else read_scenario(folder, beside)


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Scenario:
    return read(told(), tmp_path_factory.mktemp("told"))


def faults(scenario: Scenario) -> list[str]:
    return [str(fault) for fault in check(draft_of(scenario))]


def test_the_record_tells_of_every_kind_and_can_be_planned_from(scenario: Scenario) -> None:
    assert {row.what for row in scenario.progress} == set(Happened) - BY_THE_DAY
    assert [check.detail for check in audit(scenario, plan(scenario)) if not check.passed] == []


def test_the_record_survives_a_folder_and_a_workbook(scenario: Scenario, tmp_path: Path) -> None:
    write_folder(scenario, tmp_path / "folder")
    write_workbook(scenario, tmp_path / "book.xlsx")
    assert read_scenario(tmp_path / "folder") == read_scenario(tmp_path / "book.xlsx") == scenario


def test_every_column_is_some_kind_of_rows() -> None:
    named = {name for wants in WANTS.values() for name in (*wants.must, *wants.may)}
    assert named | set(FREE) == set(PROGRESS.by_name)
    assert set(WANTS) == set(Happened)


# what may be


def one_more(**cells: Any) -> Callable[[Tables], Any]:
    return lambda tables: tables["progress"].append(cells)


def like(row: int, **cells: Any) -> Callable[[Tables], Any]:
    return lambda tables: tables["progress"].append(record()[row - 2] | cells)


ALLOWED: dict[str, Callable[[Tables], Any]] = {
    "all joins that there are seedlings for": lambda t: t["progress"][GRAFTED - 2].update(number=530),
    "a wave told in two rows": like(RED_72, note="the second bench"),
    "graft day outside the window": lambda t: t["methods"][3].update(scion_age_min=24),
    "a day off": like(STANDING, day=date(2027, 4, 11)),
    "zones without trays": like(STANDING, zone="House", number=0),
    "nothing that was ready": one_more(
        day=date(2027, 4, 16),
        what="finished",
        number=0,
        product="Red on Stout",
        graft_day=date(2027, 4, 6),
    ),
    "packs still to come": like(3, day=date(2027, 4, 16), arrival_day=date(2027, 6, 30)),
    "24 hours": one_more(day=date(2027, 4, 14), what="worked", number=96, crew="Grafters"),
    "today without progress": lambda t: t.pop("progress"),
    "the first day as today": lambda t: (
        t.pop("progress"),
        t["nursery"][0].update(today=date(2027, 3, 1)),
    ),
    "the last day as today": lambda t: t["nursery"][0].update(today=date(2027, 5, 30)),
}


@pytest.mark.parametrize("name", ALLOWED)
def test_what_may_be_told(name: str, tmp_path: Path) -> None:
    tables = told()
    ALLOWED[name](tables)
    assert len(read(tables, tmp_path).progress) == len(tables.get("progress", []))


@cache
def planned(name: str) -> tuple[Scenario, Plan]:
    made = read_scenario(DEMO) if name == "demo" else SPECIMENS[name]
    return made, plan(made)


@pytest.mark.parametrize("days", [5, 12, 33, 80])
@pytest.mark.parametrize("name", [*SPECIMENS, "demo"])
def test_what_a_plan_foresees_may_be_told(name: str, days: int) -> None:
    made, before = planned(name)
    today = min(made.nursery.first_day + timedelta(days=days), made.nursery.last_day)
    told = as_planned(before, today, since=made.nursery.first_day)
    later = replace(made, nursery=replace(made.nursery, today=today), progress=told)
    assert set(faults(later)) == set(faults(made))


# faults


def test_faults_of_several_rows_are_told_at_once(tmp_path: Path) -> None:
    tables = told()
    rows = tables["progress"]
    rows[0]["zone"] = "Bench"
    rows[MOVED - 2]["number"] = 206
    rows[GRAFTED - 2]["rootstock_sow_day"] = date(2027, 3, 18)
    rows[9]["number"] = 191
    rows.append({"day": TODAY, "what": "worked", "number": 8, "crew": "Grafters"})
    with pytest.raises(BadInput) as caught:
        read(tables, tmp_path)
    assert [(fault.row, fault.column) for fault in caught.value.faults] == [
        (2, "zone"),
        (MOVED, "number"),
        (GRAFTED, "rootstock_sow_day"),
        (11, "number"),
        (16, "day"),
    ]


@pytest.mark.parametrize("row", range(len(record())))
def test_a_fault_of_a_cell_is_told_there_and_nowhere_else(row: int, tmp_path: Path) -> None:
    """Whatever a cell holds that is none of its column's, no row is blamed for what it says."""
    for name in record()[row]:
        if name != "note":
            tables = told()
            tables["progress"][row][name] = "\x07"
            with pytest.raises(BadInput) as caught:
                read(tables, tmp_path)
            places = [(fault.table, fault.row, fault.column) for fault in caught.value.faults]
            assert places == [("progress", row + 2, name)], caught.value


# told beside the scenario


def file_of(rows: list[Cells], path: Path) -> Path:
    write_csvs({path.stem: grids({"progress": rows})["progress"]}, path.parent)
    return path


def test_a_file_tells_the_same_as_the_table(scenario: Scenario, tmp_path: Path) -> None:
    bare = told()
    bare.pop("progress")
    bare["nursery"][0]["today"] = None
    beside = Overrides(TODAY, file_of(record(), tmp_path / "week_15.csv"))
    assert read(bare, tmp_path, beside) == scenario


def test_a_file_adds_to_the_table(scenario: Scenario, tmp_path: Path) -> None:
    more = {"day": date(2027, 4, 14), "what": "worked", "number": 8, "crew": "Grafters"}
    found = read(told(), tmp_path, Overrides(progress=file_of([more], tmp_path / "week_15.csv")))
    row = Progress(date(2027, 4, 14), Happened.WORKED, 8.0, crew="Grafters")
    assert found.progress == (*scenario.progress, row)


def test_faults_name_the_file(tmp_path: Path) -> None:
    rows = [
        record()[STANDING - 2],
        {"day": TODAY, "what": "worked", "number": 8, "crew": "Grafters"},
        {"day": date(2027, 4, 14), "what": "worked", "number": -1, "crew": "Grafters"},
    ]
    with pytest.raises(BadInput) as caught:
        read(told(), tmp_path, Overrides(progress=file_of(rows, tmp_path / "week_15.csv")))
    assert [str(fault).split(";")[0] for fault in caught.value.faults] == [
        "week_15.csv, row 2, day: '2027-04-16' is the same record as row 15",
        "week_15.csv, row 3, day: '2027-04-17' is not before today (2027-04-17)",
        "week_15.csv, row 4, number: '-1' is negative",
    ]


@pytest.mark.parametrize(
    "text, wrong",
    [
        ("", "week_15.csv: is an empty file"),
        ("day,what,numbr\n", "week_15.csv, row 1, numbr: 'numbr' is not a column; did you mean 'number'?"),
        ("day,what,number\n2027-04-14,worked\n", "week_15.csv, row 2: has 2 cells, the heading 3"),
    ],
)
def test_a_file_that_is_no_table(text: str, wrong: str, tmp_path: Path) -> None:
    (tmp_path / "week_15.csv").write_text(text)
    with pytest.raises(BadInput) as caught:
        read(told(), tmp_path, Overrides(progress=tmp_path / "week_15.csv"))
    assert str(caught.value).startswith(wrong)


def test_today_beside_the_scenario_takes_the_place_of_its_own(scenario: Scenario, tmp_path: Path) -> None:
    later = TODAY + timedelta(days=9)
    assert read(told(), tmp_path, Overrides(later)).nursery == replace(scenario.nursery, today=later)
    with pytest.raises(BadInput, match=r"nursery, row 2, today: '2028-01-01' is after last_day"):
        read_scenario(tmp_path / "scenario", Overrides(date(2028, 1, 1)))
    with pytest.raises(BadInput, match=r"progress, row 15, day: .* is not before today \(2027-04-16\)"):
        read_scenario(tmp_path / "scenario", Overrides(date(2027, 4, 16)))


def test_what_is_told_beside_a_variant_counts_after_its_changes(tmp_path: Path) -> None:
    tables = small()
    tables.pop("progress")
    write_csvs(grids(tables), tmp_path / "base")
    (tmp_path / "v.toml").write_text(
        'name = "v"\nparent = "base"\n'
        '[[change]]\ntable = "crews"\nrow = "Grafters"\ncolumn = "temp_heads_most"\nvalue = 2\n'
    )
    beside = Overrides(TODAY, file_of(record(), tmp_path / "week_15.csv"))
    found = read_case(tmp_path / "v.toml", beside)
    assert (found.scenario.nursery.today, len(found.scenario.progress)) == (TODAY, len(record()))
    assert [change.column for change in found.changes] == ["temp_heads_most"]
    with pytest.raises(BadInput, match=r"week_15.csv, row 6, number: .* more than the 0"):
        read_case(tmp_path / "base", beside)
    with pytest.raises(BadInput, match=r"week_15.csv, row 15, day: .* not before today \(2027-04-16\)"):
        read_case(tmp_path / "v.toml", replace(beside, today=date(2027, 4, 16)))


# remarks


def with_row(scenario: Scenario, row: int, **cells: Any) -> Scenario:
    rows = list(scenario.progress)
    rows[row - 2] = replace(rows[row - 2], **cells)
    return replace(scenario, progress=tuple(rows))


def told_of(scenario: Scenario) -> list[tuple[int, str]]:
    return [(remark.row, remark.column) for remark in remarks(scenario) if remark.table == "progress"]


def test_what_goes_as_expected_is_not_remarked(scenario: Scenario) -> None:
    assert told_of(scenario) == []


def alike(scenario: Scenario) -> Scenario:
    """The scenario with lots, sowings and graft days that do not differ."""
    none = {"germination_correlation": 0.0, "sowing_correlation": 0.0}
    return replace(
        scenario,
        methods=tuple(replace(m, take_correlation=0.0) for m in scenario.methods),
        seed_lots=tuple(replace(lot, **none) for lot in scenario.seed_lots),
    )


def test_take_below_chance(scenario: Scenario) -> None:
    """500 joins at a take of .92: below the 99.9 % interval of the binomial is remarkable."""
    scenario = alike(scenario)
    low = int(binom.ppf(0.0005, 500, 0.92))
    assert told_of(with_row(scenario, GRAFTED, counted=float(low))) == []
    assert told_of(with_row(scenario, GRAFTED, counted=float(low - 1))) == [(GRAFTED, "counted")]


def test_take_of_graft_days_that_vary(scenario: Scenario) -> None:
    """With intra-lot correlation ρ the count is beta-binomial, α = p (1-ρ)/ρ, β = (1-p) (1-ρ)/ρ."""
    vary = replace(scenario, methods=tuple(replace(m, take_correlation=0.02) for m in scenario.methods))
    low = int(betabinom.ppf(0.0005, 500, 0.92 * 49, 0.08 * 49))
    assert told_of(with_row(vary, GRAFTED, counted=float(low))) == []
    assert told_of(with_row(vary, GRAFTED, counted=float(low - 1))) == [(GRAFTED, "counted")]


def test_stand_below_chance(scenario: Scenario) -> None:
    """216 cells, germination .9, 5 % graded out: .855 usable."""
    scenario = alike(scenario)
    low = int(binom.ppf(0.0005, 216, 0.855))
    moved = with_row(scenario, MOVED, number=150.0)
    assert told_of(with_row(moved, RED_72, counted=float(low))) == []
    assert told_of(with_row(moved, RED_72, counted=float(low - 1))) == [(RED_72, "counted")]
    text = in_words(remarks(with_row(moved, RED_72, counted=float(low - 1)))[0])
    assert text.startswith(f"progress, sown on 2027-03-08, counted {low - 1}: seedlings of lot 'Red 26A'")
    assert "about 185 were expected" in text


@pytest.mark.parametrize(
    "day, trays, likely", [(9, 3, True), (9, 2, False), (12, 0, True), (12, 3, True), (15, 1, False)]
)
def test_trays_in_the_germination_room(day: int, trays: int, likely: bool, scenario: Scenario) -> None:
    """3 trays are sown on 8 March and move on the 12th."""
    counted = with_row(scenario, STANDING, day=date(2027, 3, day), zone="Warm room", number=float(trays))
    assert faults(counted) == []
    assert told_of(counted) == ([] if likely else [(STANDING, "number")])


# the docs


def test_the_rows_shown_in_the_docs_may_be_told(tmp_path: Path) -> None:
    text = (DEMO.parents[1] / "docs" / "season.md").read_text(encoding="utf-8")
    (tmp_path / "progress.csv").write_text(text.split("```csv\n")[1].split("```")[0], encoding="utf-8")
    found = read_scenario(DEMO, Overrides(date(2027, 3, 31), tmp_path / "progress.csv"))
    assert {row.what for row in found.progress} == set(Happened) - BY_THE_DAY
    assert [remark for remark in remarks(found) if remark.table == "progress"] == []


def test_the_docs_say_what_each_kind_of_row_fills() -> None:
    text = (DEMO.parents[1] / "docs" / "season.md").read_text(encoding="utf-8")
    for what, wants in WANTS.items():
        row = next(line for line in text.splitlines() if line.startswith(f"| `{what.value}` |"))
        for name in (*wants.must, *wants.may):
            assert f"`{name}`" in row, name


# studies


def test_an_order_costs_what_is_not_settled_of_it(scenario: Scenario) -> None:
    """O-3 is delivered and short: without it nothing but its shortfall penalty, 60 plants at 5, is saved."""
    trials = Trials(solve(scenario, whole=False))
    assert trials.base - trials.without("O-3") == pytest.approx(60 * 5.0)
