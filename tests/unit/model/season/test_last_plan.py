"""The last plan's tables read back as the decisions of a program, to the letter."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from functools import cache

import pytest

from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.program.build import build
from model.scenario.choices import Decline
from model.scenario.entities import Scenario
from model.season.last_plan import TOLD, decisions, shortfalls
from model.solve import Solved, plan_of, solve
from tests.scenario_parts import day, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows


@cache
def solved(name: str) -> Solved:
    return solve(SPECIMENS[name])


def read_back(found: Solved) -> tuple[dict[str, list[float]], bool]:
    """Decisions by variable, from the tables of the plan of a solved scenario, and whether all have room."""
    values, known = decisions(found.program, plan_of(found).tables)
    by_letter: dict[str, list[float]] = defaultdict(list)
    for (variable, _), value in sorted(values.items()):
        by_letter[variable].append(value)
    return by_letter, known


@pytest.mark.parametrize("name", SPECIMENS)
def test_the_tables_give_back_every_decision_of_the_solution(name: str) -> None:
    found = solved(name)
    values, known = read_back(found)
    assert known
    right = found.compiled.values(found.solution.columns)
    for variable in TOLD:
        if variable in right and variable in values:
            assert values[variable] == pytest.approx(right[variable].tolist(), abs=1e-5), variable
    assert set(values) >= {variable for variable in TOLD if variable in right and len(right[variable])}


def declined(decline: Decline) -> Solved:
    """200 plants ordered at a price of 0.10 each, below what seed for a plant costs: declined."""
    cheap = order("O-1", "Red on Stout", 200, 16, price=0.1, decline=decline)
    kept = order("O-2", "Red on Stout", 50, 16)
    return solve(base_scenario(orders=(cheap, kept)))


def test_an_order_declined_whole_reads_back_as_one_decision() -> None:
    values, known = read_back(declined(Decline.WHOLE))
    assert known
    assert values["declined_whole"] == [1.0]
    assert values["declined"] == []


def test_an_order_declined_in_part_reads_back_as_plants() -> None:
    """Whole trays for O-2 leave 5 plants over, which O-1 takes: 195 are declined."""
    values, known = read_back(declined(Decline.PART))
    assert known
    assert values["declined"] == [195.0]
    assert values["declined_whole"] == []


def test_a_part_of_an_order_that_may_only_be_declined_whole_reads_back_as_its_share() -> None:
    """50 of 200 plants declined in the tables: a quarter of the decision."""
    found = declined(Decline.WHOLE)
    made = plan_of(found)
    fewer = made.orders.assign(declined=[50.0, 0.0])
    values, known = decisions(found.program, replace(made, orders=fewer).tables)
    assert known
    assert values["declined_whole", 0] == 0.25


@pytest.mark.parametrize("how, variable", [(Decline.PART, "declined"), (Decline.WHOLE, "declined_whole")])
def test_an_order_that_came_since_was_not_declined(how: Decline, variable: str) -> None:
    new = order("new", "Red on Stout", 40, 16, price=3.0, decline=how)
    later = base_scenario(orders=(*base_scenario().orders, new))
    values, known = decisions(build(expand(later)), plan_of(solved("on-tray")).tables)
    assert known
    assert values[variable, 0] == 0.0


def test_an_order_that_may_no_longer_be_declined_has_no_room() -> None:
    made = plan_of(declined(Decline.PART))
    firm = base_scenario(orders=(order("O-1", "Red on Stout", 200, 16),))
    _, known = decisions(build(expand(firm)), made.tables)
    assert not known


def test_shortfalls_leave_out_what_is_declined() -> None:
    made = plan_of(declined(Decline.WHOLE))
    assert shortfalls(made.tables) == {"O-2": 0.0}
    told = made.orders.assign(short=[3.0, 4.0], declined=[0.0, 0.0])
    assert shortfalls(replace(made, orders=told).tables) == {"O-1": 3.0, "O-2": 4.0}


def known_in(scenario: Scenario, made: Plan) -> bool:
    return decisions(build(expand(scenario)), made.tables)[1]


def test_what_the_program_does_not_know_has_no_room() -> None:
    """A lot renamed, an order gone, a day off on the graft day: the last plan cannot be carried on."""
    scenario, made = base_scenario(), plan_of(solved("on-tray"))
    assert known_in(scenario, made)
    assert not known_in(with_nursery(scenario, working_weekdays=("Mon", "Tue")), made)
    other = with_rows(scenario, "orders", lambda row: replace(row, order="another"))
    assert not known_in(other, made)
    renamed = with_rows(
        scenario, "seed_lots", lambda row: replace(row, lot="Red B") if row.lot == "Red A" else row
    )
    assert not known_in(replace(renamed, packs=()), made)


def test_waves_opened_and_offers_taken_follow_from_trays_and_plants() -> None:
    values, _ = read_back(solved("wave cost"))
    assert values["wave_opened"] == [float(trays > 0) for trays in values["sown"]]
    assert sum(values["wave_opened"]) == 2
    found = solved("buy-in")
    values, _ = read_back(found)
    days = found.program.offer_days
    taken = dict(zip([index.day for index in days], values["offer_taken"], strict=True))
    assert {t for t, on in taken.items() if on} == {15}
    assert day(15) in set(plan_of(found).buy_in["arrival_day"])
