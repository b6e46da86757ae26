"""A plan that leaves an order short is tried with it filled, or no plan that fills it is cheaper."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import pytest

from model.phases import silent
from model.scenario.entities import Scenario
from model.solve import Solved, solve
from model.solver import filling
from model.solver.compiled import Compiled, Effort, Solution, SolveError, run, solver, with_fixed
from model.solver.filling import Filling, Plans, fill
from model.solver.rounded_rows import RoundedRows
from model.solver.strong import Strong
from model.solver.whole import dived
from tests.copies import copies
from tests.scenario_parts import order
from tests.strategies import base_scenario, with_nursery

ORDERS = (order("O-1", "Red on Stout", 100, 16), order("O-2", "Red on Stout", 40, 17))
"""Both are filled by the continuous program and by the best plan."""

LUMPY = with_nursery(base_scenario(orders=ORDERS[:1]), shortfall_penalty=8.0)
"""100 plants need 10 trays of scions and 19 of rootstocks. 99 take one fewer of each, for 12.50 less."""


def filled(solved: Solved, plan: Any, bound: float, most: int = 10) -> tuple[Any, dict[str, Filling]]:
    """What trying to fill the orders that this plan leaves short comes to."""
    program, compiled = solved.program, solved.compiled
    strong = Strong(compiled, solved.continuous)
    strong.add(RoundedRows(program, compiled))
    plans = Plans(compiled, solved.continuous, plan, bound)
    return fill(program, strong, plans, partial(dived, program), most, Effort(compiled), silent)


def left_short(solved: Solved, short: tuple[float, ...]) -> Any:
    """A plan of the scenario that leaves so many plants short at least, by order."""
    lower = solved.compiled.lower.copy()
    lower[solved.compiled.columns(("short",))] = short
    held = replace(solved.compiled, lower=lower)
    return dived(solved.program, held, run(solver(held)))


@pytest.mark.parametrize("short", [(30.0, 0.0), (0.0, 20.0), (30.0, 20.0)])
def test_orders_left_short_needlessly_are_filled(short: tuple[float, ...]) -> None:
    solved = solve(base_scenario(orders=ORDERS))
    worse = left_short(solved, short)
    found, fillings = filled(solved, worse, solved.continuous.objective)
    assert found.columns[solved.compiled.columns(("short",))] == pytest.approx([0, 0])
    assert found.objective == pytest.approx(solved.solution.objective)
    assert found.objective < worse.objective - 50 * sum(short) + 200
    assert fillings == {}


def least_filled(scenario: Scenario) -> float:
    """The least cost of any whole plan that fills the first order."""
    return solve(with_nursery(scenario, shortfall_penalty=1e5)).solution.objective


def test_orders_that_cost_less_short_stay_so() -> None:
    solved = solve(LUMPY)
    columns = solved.compiled.columns(("short",))
    assert solved.continuous.columns[columns] == pytest.approx([0])
    assert solved.solution.columns[columns] == pytest.approx([1])
    found, fillings = filled(solved, solved.solution, solved.continuous.objective)
    assert found is solved.solution
    least = least_filled(LUMPY)
    assert least == pytest.approx(found.objective + 4.5)
    assert fillings["O-1"].proved(found.objective)
    assert fillings["O-1"].least <= least + 1e-6
    assert fillings["O-1"].found == pytest.approx(least)


def test_a_proof_says_no_more_than_the_least_cost_of_a_plan_that_fills_the_order(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By parts of a larger book: the bound is that of the plan and what the order's part costs more."""
    of = copies(LUMPY, 3)
    solved, cost = solve(of), 3 * solve(LUMPY).solution.objective
    monkeypatch.setattr(filling, "SMALL_BOOK", len(solved.program.network.waves) // 3)
    assert solved.solution.objective == pytest.approx(cost)
    found, fillings = filled(solved, solved.solution, cost - 3.0, most=3)
    assert found.objective == pytest.approx(cost)
    for filling_ in fillings.values():
        assert filling_.proved(cost)
        assert filling_.least <= cost + 4.5 + 1e-6
        assert filling_.found == pytest.approx(cost + 4.5)
    assert len(fillings) == 3
    assert not any(f.proved(cost) for f in filled(solved, solved.solution, cost - 5.0, most=3)[1].values())


def test_all_orders_are_tried_where_they_are_more_than_the_tries() -> None:
    """Five orders short and three tries: all at once, then two groups."""
    solved = solve(copies(LUMPY, 5))
    _, fillings = filled(solved, solved.solution, solved.continuous.objective, most=3)
    assert len(fillings) == 5
    assert all(np.isfinite(f.found) for f in fillings.values())


def test_the_bound_of_plans_that_fill_an_order_holds_for_each_of_them() -> None:
    solved = solve(LUMPY)
    columns = solved.compiled.columns(("short",))
    forced = with_fixed(solved.compiled, columns, np.zeros(1))
    _, fillings = filled(solved, solved.solution, 0.0)
    assert run(solver(forced)).objective <= fillings["O-1"].least + 1e-6


@pytest.mark.parametrize("fails, dives", [(False, 1), (True, 2)])
def test_an_order_in_no_small_part_is_filled_alone_where_no_plan_that_fills_it_is_known(
    fails: bool, dives: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All orders short are filled at once first; where that fails, the order is once more alone."""
    solved = solve(LUMPY)
    monkeypatch.setattr(filling, "SMALL_BOOK", 0)
    strong, made = Strong(solved.compiled, solved.continuous), 0

    def make(compiled: Compiled, near: Solution, dearest: float) -> Solution:
        nonlocal made
        made += 1
        if fails and made == 1:
            raise SolveError("Infeasible")
        return dived(solved.program, compiled, near, dearest)

    plans = Plans(solved.compiled, solved.continuous, solved.solution, 0.0)
    _, fillings = fill(solved.program, strong, plans, make, 3, Effort(solved.compiled), silent)
    assert made == dives
    assert fillings["O-1"].found == pytest.approx(least_filled(LUMPY))
