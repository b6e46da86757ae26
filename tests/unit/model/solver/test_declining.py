"""Orders to take or to decline, from any plan to start with."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np
import pytest

from model.phases import silent
from model.scenario.choices import Decline
from model.scenario.entities import Scenario
from model.solve import Solved, plan, solve
from model.solver.compiled import Compiled, Solution, run, solver, with_fixed
from model.solver.declining import better_declined
from model.solver.whole import dived
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

PRICES = (1.0, 3.0, 1.6, 2.5)
"""Prices of four orders of 100 plants; the seed of one alone costs 147.50, of all of them 1.35 a plant."""


def book(decline: Decline, slots: float = 1000.0) -> Scenario:
    base = with_nursery(base_scenario(), wave_cost=30.0)
    orders = [
        replace(base.orders[0], order=f"O-{n}", price=price, decline=decline)
        for n, price in enumerate(PRICES)
    ]
    roomy = with_rows(base, "zones", lambda zone: replace(zone, slots=slots))
    return replace(roomy, orders=tuple(orders))


def columns(solved: Solved) -> tuple[np.ndarray, float]:
    """Columns of what may be declined of each order, and their value where it is declined altogether."""
    part = solved.compiled.columns(("declined",))
    return (part, 100.0) if len(part) else (solved.compiled.columns(("declined_whole",)), 1.0)


def with_declined(solved: Solved, declined: tuple[int, ...]) -> Solution:
    """The whole plan that takes and declines orders so."""
    which, most = columns(solved)
    fixed = with_fixed(solved.compiled, which, most * np.array(declined, dtype=float))
    return dived(solved.program, fixed, run(solver(fixed)))


@pytest.mark.parametrize("decline", [Decline.WHOLE, Decline.PART])
@pytest.mark.parametrize("slots", [1000.0, 40.0])
@pytest.mark.parametrize("start", [(0, 0, 0, 0), (1, 1, 1, 1), (0, 1, 0, 1)])
def test_the_search_finds_the_best_of_all_choices(
    decline: Decline, slots: float, start: tuple[int, ...]
) -> None:
    """All 16 ways to take and decline four orders, against the search from a given one.

    The order at 1.00 pays less than its seed; with few slots there is room for some only.
    """
    solved = solve(book(decline, slots), whole=False)
    best = min(with_declined(solved, declined).objective for declined in product((0, 1), repeat=4))
    make = partial(dived, solved.program)
    found = better_declined(solved.program, solved.compiled, with_declined(solved, start), make, silent)
    which, _ = columns(solved)
    assert found.objective == pytest.approx(best)
    assert found.columns[which[0]] > 0.5
    assert found.columns[which[1]] < 0.5


def test_a_plan_that_cannot_be_bettered_is_left_as_it_is() -> None:
    solved = solve(book(Decline.WHOLE))
    make = partial(dived, solved.program)
    same = better_declined(solved.program, solved.compiled, solved.solution, make, silent)
    assert same is solved.solution


def test_the_search_ends_after_so_many_plans(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("model.solver.declining.MOST_DIVES", 1)
    solved = solve(book(Decline.WHOLE), whole=False)
    tried: list[Compiled] = []

    def make(compiled: Compiled, near: Solution, dearest: float) -> Solution:
        tried.append(compiled)
        return with_declined(solved, (1, 1, 1, 1))

    start = with_declined(solved, (1, 1, 1, 1))
    assert better_declined(solved.program, solved.compiled, start, make, silent) is start
    assert len(tried) == 1


@pytest.mark.parametrize("price", [9.0, 40.0])
def test_an_order_in_whole_trays_is_declined_by_the_tray(price: float) -> None:
    """The chamber holds a part of 60 and 90 plants, in trays of ten; a plan in parts declines parts."""
    scenario = with_rows(
        SPECIMENS["whole trays"], "orders", lambda row: replace(row, decline=Decline.PART, price=price)
    )
    declined = plan(scenario).orders["declined"]
    assert declined.sum() > 0
    assert not (declined % 10).any()
    assert (plan(scenario, whole=False).orders["declined"] % 10).any()
