"""Trials: what a change of a limit or an order does to least cost, against programs stated anew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.questions.trials import MOVED, Trials
from model.scenario.choices import Decline
from model.scenario.entities import Order, Scenario
from model.solve import solve
from model.solver.compiled import Solution
from tests.depth import deep
from tests.least import least
from tests.scenario_parts import order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_firm_margins, with_nursery, with_rows


def plain(scenario: Scenario) -> Scenario:
    """Without what moves with the book: margins by quantity, extra plants, trays of runs, changing over."""
    scenario = with_nursery(with_firm_margins(scenario), wave_cost=0.0, extra_share=0.0)
    scenario = with_nursery(scenario, change_over_seconds=0.0, change_over_skill=None)
    scenario = with_rows(scenario, "orders", lambda row: replace(row, extra_share=None))
    scenario = with_rows(scenario, "customers", lambda row: replace(row, extra_share=None, run=None))
    scenario = with_rows(scenario, "buy_in_offers", lambda row: replace(row, most_per_delivery=60))
    return with_rows(
        scenario, "orders", lambda r: r if r.decline is Decline.NO else replace(r, decline=Decline.PART)
    )


def near(cost: float) -> float:
    """Room for rounding in the solver."""
    return 1e-6 * max(1.0, abs(cost))


@settings(max_examples=deep(60))
@given(small_scenarios(), st.integers(0, 3))
def test_without_an_order_costs_what_the_book_without_it_costs(scenario: Scenario, which: int) -> None:
    scenario = plain(scenario)
    gone = scenario.orders[which % len(scenario.orders)]
    trials = Trials(solve(scenario, whole=False))
    if len(scenario.orders) == 1:
        scenario = replace(scenario, orders=(replace(gone, order="other", quantity=1), gone))
        trials = Trials(solve(scenario, whole=False))
    others = replace(scenario, orders=tuple(o for o in scenario.orders if o is not gone))
    right = least(others)
    assert trials.without(gone.order) == pytest.approx(right, abs=near(right))


@settings(max_examples=deep(60))
@given(small_scenarios(), st.integers(0, 3))
def test_one_more_costs_what_an_order_larger_by_one_costs(scenario: Scenario, which: int) -> None:
    scenario = plain(scenario)
    asked = scenario.orders[which % len(scenario.orders)]
    grown = replace(asked, quantity=asked.quantity + 1)
    larger = replace(scenario, orders=tuple(grown if o is asked else o for o in scenario.orders))
    right = least(larger)
    assert Trials(solve(scenario, whole=False)).one_more(asked.order) == pytest.approx(right, abs=near(right))


@settings(max_examples=deep(40))
@given(small_scenarios(), st.integers(1, 120))
def test_a_closed_order_costs_nothing_and_opened_what_it_costs_booked(
    scenario: Scenario, quantity: int
) -> None:
    scenario = plain(scenario)
    asked = replace(scenario.orders[0], order="asked", quantity=quantity)
    book = replace(scenario, orders=(*scenario.orders, asked))
    trials = Trials(solve(book, whole=False), closed=("asked",))
    assert trials.base == pytest.approx(least(scenario), abs=near(trials.base))
    assert trials.with_order("asked") == pytest.approx(least(book), abs=near(trials.base))


@settings(max_examples=deep(30))
@given(small_scenarios())
def test_trials_do_not_depend_on_those_before(scenario: Scenario) -> None:
    names = [o.order for o in scenario.orders]
    solved = solve(scenario, whole=False)
    forwards, backwards = Trials(solved), Trials(solved)
    there = [forwards.without(name) for name in names]
    back = [backwards.without(name) for name in reversed(names)]
    assert there == back[::-1]


def _moved(base: Solution, other: Solution, columns: np.ndarray) -> float:
    return float(np.maximum(base.columns[columns] - other.columns[columns], 0.0).sum())


@settings(max_examples=deep(40))
@given(small_scenarios(), st.integers(1, 120))
def test_fewest_moves_are_no_more_than_of_any_optimum_and_cost_no_more(
    scenario: Scenario, quantity: int
) -> None:
    asked = replace(scenario.orders[0], order="asked", quantity=quantity)
    book = replace(scenario, orders=(*scenario.orders, asked))
    solved = solve(book, whole=False)
    trials, opened = Trials(solved, closed=("asked",)), {("order", ("asked",)): float(quantity)}
    some, nearest = trials.solve(opened), trials.fewest_moves(opened)
    columns = solved.compiled.columns(MOVED)
    assert _moved(trials.solution, nearest, columns) <= _moved(trials.solution, some, columns) + 1e-4
    cost = float(solved.compiled.cost @ nearest.columns) + solved.compiled.offset
    assert cost <= some.objective + 2e-6 * max(1.0, abs(some.objective)) + 1e-6


def test_one_more_slot_never_costs_more_and_follows_its_price() -> None:
    solved = solve(SPECIMENS["tight chamber"], whole=False)
    trials = Trials(solved)
    rows = [("slots", label) for label in solved.compiled.rows["slots"] if label[0] == "Chamber"]
    savings = []
    for row in rows:
        dual = float(trials.solution.row_dual[solved.compiled.rows["slots"][row[1]]])
        saving = trials.base - trials.cost({row: trials.limit(row) + 1})
        assert -near(trials.base) <= saving <= -dual + near(trials.base)
        savings.append(saving)
    assert max(savings) > 0.01


def test_more_hours_of_a_crew_are_a_limit_too() -> None:
    solved = solve(SPECIMENS["temporary hands"], whole=False)
    trials, date = Trials(solved), solved.program.network.calendar.date
    saved = [
        trials.base - trials.cost({limit: trials.limit(limit) + 8})
        for index in solved.program.crew_days
        if (limit := ("regular", (index.crew, date(index.day).isoformat()))) and trials.limit(limit) > 0
    ]
    assert min(saved) >= -near(trials.base)
    assert max(saved) > 1


def test_kept_filled_a_new_order_gives_way_to_the_book() -> None:
    """A tray of room: the booked order keeps it, however dear the new one's penalty."""
    base = base_scenario()
    tight = with_rows(base, "zones", lambda zone: replace(zone, slots=8.0))
    new: Order = order("new", tight.orders[0].product, 100, 20, shortfall_penalty=5000.0)
    new = replace(new, due_day=tight.orders[0].due_day)
    solved = solve(replace(tight, orders=(*tight.orders, new)), whole=False)
    shorts = solved.compiled.position["short"]
    opened = {("order", ("new",)): 100.0}
    trials = Trials(solved, closed=("new",))
    before = float(trials.solution.columns[shorts[0]])
    pushed = float(trials.solve(opened).columns[shorts[0]])
    trials.keep_filled()
    kept = trials.solve(opened)
    assert pushed > before + 1
    assert float(kept.columns[shorts[0]]) == pytest.approx(before, abs=1e-6)
    assert float(kept.columns[shorts[1]]) > 1
