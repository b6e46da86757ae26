"""Machines that stick cuttings (Univ. Florida, Scientia Horticulturae 2018/19, read in the abstract).

By hand 29.3 million cuttings a year cost 408,377 $ at 12.49 $ an hour. One machine does 7.186 million of
them for 6,250 $ of its own and 64,020 $ of operators, and saves 29,891 $. That it does 2,000 an hour is of
the same group (Acta Horticulturae, abstract). Here a thousandth of the year is one day, and to sow a tray is
to stick a cutting.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.scenario.choices import Task
from model.scenario.entities import Scenario
from model.scenario.records.people import Crew, LabourStandard
from tests.known_answers.build import crew, order, own_root, planned

WAGE, CUTTINGS, BY_MACHINE, RATE = 12.49, 29_300, 7_186, 2_000.0
BY_HAND, OWNERSHIP, OPERATORS = 408.377, 6.25, 64.02
SECONDS = BY_HAND / CUTTINGS / WAGE * 3600
RUNS = BY_MACHINE / RATE
SAVED = 29.891


def machine(**changes: object) -> Crew:
    """The machine for the hours that it runs."""
    made = crew(
        crew="machine",
        hours_per_head_day=RUNS,
        pay_per_hour=OWNERSHIP / RUNS,
        pace=SECONDS / (3600 / RATE),
        attendants=OPERATORS / RUNS / WAGE,
        attendant_skill="attending",
    )
    return replace(made, **changes)


def sticking(*machines: Crew, quantity: int = CUTTINGS, **changes: object) -> Scenario:
    """Hands for all cuttings of the day, and perhaps machines."""
    hands = crew(skills=("sowing", "attending"), heads=6.0, pay_per_hour=WAGE)
    standard = LabourStandard(Task.SOW, "sowing", None, None, SECONDS)
    plain = own_root(1, [order("one", quantity, 0)], crews=(hands, *machines), labour_standards=(standard,))
    return replace(plain, **changes)


def test_one_machine_saves_what_was_published(tmp_path: Path) -> None:
    assert planned(sticking(), tmp_path).cost == pytest.approx(BY_HAND)
    made = planned(sticking(machine()), tmp_path)
    assert BY_HAND - made.cost == pytest.approx(SAVED, abs=0.1)
    hours = made.hours.set_index(["crew", "task"])["hours"]
    assert hours["machine", "sow"] == pytest.approx(RUNS)
    assert hours["hands", "attend"] * WAGE == pytest.approx(OPERATORS)
    (job,) = made.jobs[made.jobs["step"] == "attend"].to_dict("records")
    assert (job["name"], job["hours"]) == ("machine", pytest.approx(OPERATORS / WAGE))


@pytest.mark.parametrize(("pay", "used"), [(4.0, True), (10.0, True), (10.1, False)])
def test_hands_or_machine_whichever_costs_less(tmp_path: Path, pay: float, used: bool) -> None:
    """2,000 cuttings cost 27.88 by hand, operators 17.82 an hour: the machine pays up to 10.06 an hour."""
    made = planned(sticking(machine(pay_per_hour=pay)), tmp_path)
    assert ("machine" in set(made.hours["crew"])) is used


def test_a_rate_and_a_skill_of_its_own(tmp_path: Path) -> None:
    """Only the machine has the skill: what it cannot do in its hours is short."""
    made = planned(
        sticking(
            machine(skills=("machine",), pace=1.0),
            quantity=BY_MACHINE + 100,
            labour_standards=(LabourStandard(Task.SOW, "machine", None, None, 3600 / RATE),),
        ),
        tmp_path,
    )
    assert made.orders["short"].sum() == pytest.approx(100)
