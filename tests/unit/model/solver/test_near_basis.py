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
from model.solver.near_basis import Near, start_near, unmoved
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
        found = run(optimum)
        start_near(highs, program, compiled, Near(other, arrays, found, found, found.bound))
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


def test_what_has_not_moved_keeps_the_number_of_the_near_plan() -> None:
    before, after = solve(book_of(*BOOK[1:])), solve(book_of(*BOOK), whole=False)
    near = Near(before.program, before.compiled, before.continuous, before.solution, before.bound)
    columns, values = unmoved(after.program, after.compiled, after.continuous, near, ("sown",))
    labels = after.program.labels["sown"]
    assert 0 < len(columns) < len(labels)
    for column, value in zip(columns.tolist(), values.tolist(), strict=True):
        label = labels[after.compiled.position["sown"].tolist().index(column)]
        there = before.compiled.position["sown"][before.program.labels["sown"].index(label)]
        was = before.continuous.columns[there]
        assert after.continuous.columns[column] == pytest.approx(was, abs=1e-5)
        assert value == round(before.solution.columns[there])


def test_in_a_book_too_large_to_be_searched_the_dive_starts_from_the_near_plan(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in ("SEARCHED", "SMALL_BOOK"):
        monkeypatch.setattr(f"model.solver.whole.{name}", 0)
    before = solve(book_of(*BOOK[1:]))
    found, alone = solve(book_of(*BOOK), near=before), solve(book_of(*BOOK))
    gap = before.solution.objective - before.bound
    assert found.bound == pytest.approx(alone.bound)
    assert found.solution.objective <= max(alone.solution.objective, found.bound + 1.1 * gap) + 0.01


def test_a_plan_made_near_another_is_as_good() -> None:
    before = solve(book_of(*BOOK[1:]))
    found, alone = solve(book_of(*BOOK), near=before), solve(book_of(*BOOK))
    assert found.continuous.objective == pytest.approx(alone.continuous.objective)
    assert found.solution.objective == pytest.approx(alone.solution.objective)
