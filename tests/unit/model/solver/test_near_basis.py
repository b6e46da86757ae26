"""A basis carried over from a program of almost the same orders."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.network.expansion import expand
from model.program.build import build
from model.program.program import Program
from model.scenario.entities import Order, Scenario
from model.solve import solve
from model.solver.compiled import Compiled, compile_program, run, solver
from model.solver.near_basis import start_near
from tests.scenario_parts import order
from tests.strategies import base_scenario

BOOK = tuple(order(f"O-{n}", "Red on Stout", 100 + 10 * n, 16) for n in range(4))


def book_of(*orders: Order) -> Scenario:
    return replace(base_scenario(), orders=orders)


def stated(scenario: Scenario) -> tuple[Program, Compiled, Any]:
    """A program, and HiGHS that holds it."""
    program = build(expand(scenario))
    compiled = compile_program(program)
    return program, compiled, solver(compiled)


def steps(scenario: Scenario, near: Scenario | None) -> tuple[float, int]:
    """Least cost, and iterations from the optimum of the program ``near``; without it from the start."""
    program, compiled, highs = stated(scenario)
    if near is not None:
        other, arrays, optimum = stated(near)
        start_near(highs, program, compiled, (other, arrays, run(optimum)))
    return run(highs).objective, highs.getInfo().simplex_iteration_count


def test_from_its_own_optimum_no_step_is_left() -> None:
    cost, taken = steps(book_of(*BOOK), book_of(*BOOK))
    assert (cost, taken) == (pytest.approx(steps(book_of(*BOOK), None)[0]), 0)


@pytest.mark.parametrize("before", [BOOK[1:], BOOK[:2], (*BOOK, order("O-9", "Red on Stout", 50, 16))])
def test_another_book_is_as_cheap_from_there(before: tuple[Order, ...]) -> None:
    cost, _ = steps(book_of(*BOOK), None)
    assert steps(book_of(*BOOK), book_of(*before))[0] == pytest.approx(cost)


def test_one_order_more_takes_fewer_steps_from_there() -> None:
    _, whole_way = steps(book_of(*BOOK), None)
    assert steps(book_of(*BOOK), book_of(*BOOK[1:]))[1] < whole_way


def test_a_plan_made_near_another_is_as_good() -> None:
    before = solve(book_of(*BOOK[1:]))
    found, alone = solve(book_of(*BOOK), near=before), solve(book_of(*BOOK))
    assert found.continuous.objective == pytest.approx(alone.continuous.objective)
    assert found.solution.objective == pytest.approx(alone.solution.objective)
