"""The log of counts as it is read: what it may hold, and every fault at once with its place and remedy."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from model.rates.estimates import Counted
from model.scenario.choices import Task
from model.scenario.entities import Product, Scenario
from scenarios.cells.faults import BadInput, Fault, nearest
from scenarios.counts.counted_rates import seconds_of
from scenarios.counts.log import COUNTS, Count, read_counts
from tests.scenario_parts import WORK, in_roles
from tests.specimens import HANDS, OWN_ROOT
from tests.strategies import base_scenario

HEADING = "day,counted,lot,method,crew,tried,succeeded,hours,note"
GOOD = (
    "2026-03-02,germination,Red A,,,200,180,,first tray",
    "2026-03-20,take,,splice,,500,450,,",
    "2026-03-20,pace,,splice,Grafters,500,,27.5,",
)


@pytest.fixture
def scenario() -> Scenario:
    base = base_scenario(labour_standards=WORK, crews=HANDS)
    plain = Product("Red plain", "tomato", "Red", None, "plain", "ten")
    return base_scenario(
        labour_standards=WORK,
        crews=HANDS,
        products=(*base.products, plain),
        methods=(*base.methods, *OWN_ROOT["methods"]),
        stages=(*base.stages, *OWN_ROOT["stages"]),
    )


def log(folder: Path, *rows: str, heading: str = HEADING) -> Path:
    path = folder / "log.csv"
    path.write_text("\n".join([heading, *rows, ""]), encoding="utf-8")
    return path


def faults_of(path: Path, scenario: Scenario) -> list[Fault]:
    with pytest.raises(BadInput) as caught:
        read_counts(path, scenario)
    return caught.value.faults


def test_each_kind_of_count(scenario: Scenario, tmp_path: Path) -> None:
    germination, take, pace = read_counts(log(tmp_path, *GOOD), scenario)
    assert germination == Count(
        date(2026, 3, 2), Counted.GERMINATION, "Red A", None, None, 200, 180, None, note="first tray"
    )
    assert take == Count(date(2026, 3, 20), Counted.TAKE, None, "splice", None, 500, 450, None)
    assert pace == Count(date(2026, 3, 20), Counted.PACE, None, "splice", "Grafters", 500, None, 27.5)
    assert (germination.record.name, take.record.name, pace.record.crew) == ("Red A", "splice", "Grafters")


def test_columns_that_no_row_needs_may_be_missing(scenario: Scenario, tmp_path: Path) -> None:
    path = log(tmp_path, "2026-03-02,germination,Red A,200,180", heading="day,counted,lot,tried,succeeded")
    assert read_counts(path, scenario)[0].tried == 200


def test_trays_counted_alike_are_told_apart_by_notes(scenario: Scenario, tmp_path: Path) -> None:
    rows = [f"2026-03-02,germination,Red A,,,128,115,,tray {n}" for n in (1, 2)]
    assert len(read_counts(log(tmp_path, *rows), scenario)) == 2


CASES: dict[str, tuple[str, str, str, str, str]] = {
    "no day": (",take,,splice,,5,4,,", "day", "", "is blank", "2026-03-31"),
    "no date": ("soon,take,,splice,,5,4,,", "day", "soon", "is not a date", "year, month, day"),
    "after the plan": ("2027-04-02,take,,splice,,5,4,,", "day", "2027-04-02", "after the plan's last", "day"),
    "long ago": ("2016-04-02,take,,splice,,5,4,,", "day", "2016-04-02", "10 years before", "leave out"),
    "no kind": ("2026-03-02,takes,,splice,,5,4,,", "counted", "takes", "choices", "did you mean 'take'"),
    "strange lot": (
        "2026-03-02,germination,Red B,,,5,4,,",
        *("lot", "Red B", "is not in table seed_lots", "did you mean 'Red A'"),
    ),
    "strange method": (
        "2026-03-02,take,,tongue,,5,4,,",
        *("method", "tongue", "is not in table methods", "write a name from methods"),
    ),
    "strange crew": (
        "2026-03-02,pace,,splice,Grafter,5,,1,",
        *("crew", "Grafter", "is not in table crews", "did you mean 'Grafters'"),
    ),
    "no lot": ("2026-03-02,germination,,,,5,4,,", "lot", "", "is blank", "needs lot and succeeded"),
    "no method": ("2026-03-02,take,,,,5,4,,", "method", "", "is blank", "needs method and succeeded"),
    "no crew": ("2026-03-02,pace,,splice,,5,,1,", "crew", "", "is blank", "needs method and crew and hours"),
    "no hours": ("2026-03-02,pace,,splice,Grafters,5,,,", "hours", "", "is blank", "needs method"),
    "hours of a take": (
        "2026-03-02,take,,splice,,5,4,2,",
        *("hours", "2", "does not belong to a count of take", "clear it"),
    ),
    "method of a seed": (
        "2026-03-02,germination,Red A,splice,,5,4,,",
        *("method", "splice", "does not belong to a count of germination", "clear it"),
    ),
    "healed in a pace": (
        "2026-03-02,pace,,splice,Grafters,5,4,1,",
        *("succeeded", "4", "does not belong to a count of pace", "clear it"),
    ),
    "none tried": ("2026-03-02,take,,splice,,0,0,,", "tried", "0", "is below 1", "whole number from 1"),
    "part of a seed": (
        "2026-03-02,take,,splice,,5.5,4,,",
        "tried",
        "5.5",
        "is not a whole number",
        "such as",
    ),
    "no count": ("2026-03-02,take,,splice,,5,,,", "succeeded", "", "is blank", "needs method and succeeded"),
    "negative": ("2026-03-02,take,,splice,,5,-1,,", "succeeded", "-1", "is negative", "from 0"),
    "a share": ("2026-03-02,take,,splice,,5,80%,,", "succeeded", "80%", "is a percentage", "0.8"),
    "more than tried": (
        "2026-03-02,take,,splice,,5,6,,",
        *("succeeded", "6", "is more than the 5 tried", "how many of those"),
    ),
    "no time": ("2026-03-02,pace,,splice,Grafters,5,,0,", "hours", "0", "is not above 0", "above 0"),
    "own-root": ("2026-03-02,take,,plain,,5,4,,", "method", "plain", "is own-root", "method that grafts"),
    "no skill": (
        "2026-03-02,pace,,splice,Growers,5,,1,",
        *("crew", "Growers", "lacks the skill 'grafting'", "crew that made the joins"),
    ),
    "twice": (GOOD[1], "day", "2026-03-20", "is the same count as row 3", "notes"),
}


@pytest.mark.parametrize("case", CASES)
def test_a_bad_row_has_its_one_fault(case: str, scenario: Scenario, tmp_path: Path) -> None:
    row, column, value, wrong, remedy = CASES[case]
    (fault,) = faults_of(log(tmp_path, *GOOD, row), scenario)
    assert (fault.table, fault.row, fault.column, fault.value) == ("counts", 5, column, value)
    assert wrong in fault.wrong
    assert remedy in fault.remedy


def test_all_bad_rows_are_told_at_once_in_their_order(scenario: Scenario, tmp_path: Path) -> None:
    rows = [row for name, (row, *_) in CASES.items() if name != "twice"]
    told = [(fault.row, fault.column) for fault in faults_of(log(tmp_path, *rows), scenario)]
    assert told == [(n, column) for n, (_, column, *_) in enumerate(list(CASES.values())[:-1], 2)]


def test_pace_wants_one_standard(scenario: Scenario, tmp_path: Path) -> None:
    second = Product("Red on Stout, 20", "tomato", "Red", "Stout", "splice", "twenty", ("twenty",))
    several = base_scenario(labour_standards=WORK, crews=HANDS, products=(*base_scenario().products, second))
    (fault,) = faults_of(log(tmp_path, *GOOD), several)
    assert (fault.row, fault.column) == (4, "method")
    assert "180 and 200 s, by tray format" in fault.wrong
    (fault,) = faults_of(log(tmp_path, *GOOD), base_scenario(crews=HANDS))
    assert "has no standard time" in fault.wrong


def test_pace_is_of_all_roles(tmp_path: Path) -> None:
    """Whoever cuts and joins has a pace at the table; whoever cuts alone has none to compare."""
    hands = (HANDS[0], replace(HANDS[1], skills=("grafting", "general")))
    standards = in_roles(WORK, Task.GRAFT)
    both = base_scenario(labour_standards=standards, crews=hands)
    assert len(read_counts(log(tmp_path, *GOOD), both)) == 3
    assert seconds_of(both) == {"splice": pytest.approx(200)}
    (fault,) = faults_of(log(tmp_path, *GOOD), replace(both, crews=HANDS))
    assert (fault.column, fault.wrong) == (
        "crew",
        "lacks the skill 'general', which joining by 'splice' needs",
    )


@pytest.mark.parametrize(
    "text, wrong",
    [
        ("", "is an empty file"),
        (HEADING + "\n", "has no rows"),
        ("day;counted;tried\n2026-03-02;take\n", "has 2 cells, the heading 3"),
        ("day,counted,tried\n2026-03-02,take\n", "has 2 cells, the heading 3"),
        (f"{HEADING.replace(',lot', ',lots')}\n{GOOD[1]}\n", "is not a column"),
        (HEADING.replace(",tried", "") + "\n2026-03-20,take,,splice,,450,,\n", "is missing"),
    ],
)
def test_a_bad_file_has_its_one_fault(text: str, wrong: str, scenario: Scenario, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    (fault,) = faults_of(path, scenario)
    assert wrong in fault.wrong
    assert fault.table == COUNTS.name


def test_a_misspelt_heading_is_not_told_row_by_row(scenario: Scenario, tmp_path: Path) -> None:
    (fault,) = faults_of(log(tmp_path, *GOOD, heading=HEADING.replace("succeeded", "succeded")), scenario)
    assert fault.remedy.startswith("did you mean 'succeeded'?")


def test_names_are_compared_up_to_a_bound(
    scenario: Scenario, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    compared: list[str] = []

    def compare(name: str, names: frozenset[str]) -> str | None:
        compared.append(name)
        return nearest(name, names)

    monkeypatch.setattr("scenarios.cells.faults.nearest", compare)
    monkeypatch.setattr("scenarios.cells.faults.MOST_COMPARED", 20)
    lots = [f"Red {n % 90}" for n in range(180)]
    faults = faults_of(log(tmp_path, *(f"2026-03-02,germination,{lot},,,9,8,," for lot in lots)), scenario)
    assert len([fault for fault in faults if fault.column == "lot"]) == 180
    assert faults[0].remedy == "did you mean 'Red A'?"
    assert 0 < len(compared) == len(set(compared)) < 20
