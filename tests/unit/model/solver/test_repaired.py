"""A plan that leaves an order short is tried with the order filled."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.phases import silent
from model.scenario.entities import Scenario
from model.solve import solve
from model.solver.compiled import run, solver
from model.solver.whole import _repaired, dived
from tests.strategies import base_scenario, order, with_nursery

ORDERS = (order("O-1", "Red on Stout", 100, 16), order("O-2", "Red on Stout", 40, 17))
"""Both are filled by the continuous program and by the best plan."""


def repaired(scenario: Scenario, short: tuple[float, ...]) -> tuple[list[float], float, float]:
    """Plants short and the cost after a repair of a plan that leaves so many short, and its cost before."""
    solved = solve(scenario)
    compiled = solved.compiled
    columns, lower = compiled.columns(("short",)), compiled.lower.copy()
    lower[columns] = short
    held = replace(compiled, lower=lower)
    worse = dived(solved.program, held, run(solver(held)))
    found = _repaired(solved.program, compiled, solved.continuous, worse, silent)
    return found.columns[columns].tolist(), found.objective, worse.objective


@pytest.mark.parametrize("short", [(30.0, 0.0), (0.0, 20.0), (30.0, 20.0)])
def test_orders_left_short_needlessly_are_filled(short: tuple[float, ...]) -> None:
    scenario = base_scenario(orders=ORDERS)
    left, cost, before = repaired(scenario, short)
    assert left == pytest.approx([0, 0])
    assert cost == pytest.approx(solve(scenario).solution.objective)
    assert cost < before - 50 * sum(short) + 200


def test_orders_that_cost_less_short_stay_so() -> None:
    """100 plants need 10 trays of scions and 19 of rootstocks. 99 take one fewer of each, for 12.50 less."""
    scenario = with_nursery(base_scenario(orders=ORDERS[:1]), shortfall_penalty=8.0)
    solved = solve(scenario)
    columns = solved.compiled.columns(("short",))
    assert solved.continuous.columns[columns] == pytest.approx([0])
    assert solved.solution.columns[columns] == pytest.approx([1])
    found = _repaired(solved.program, solved.compiled, solved.continuous, solved.solution, silent)
    assert found is solved.solution
