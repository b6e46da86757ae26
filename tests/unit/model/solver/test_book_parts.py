"""Parts of a book: of programs of a few columns written by hand, and of generated books."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.sparse import csc_array

from model.network.expansion import expand
from model.program.build import build
from model.program.variables import WHOLE
from model.solver.book_parts import BookPart, Promised, book_parts, small_parts
from model.solver.compiled import Compiled, Solution, compile_program, run, solver, with_fixed
from model.solver.dive import Dive
from tests.benchmarks.books import book

A, B, SHORT_A, SHORT_B, HOURS = range(5)
"""Trays of two waves, plants short of an order of each, and hours."""

COST = (1.0, 2.0, 5.0, 5.0, 1.0)


def program(slots: float, hours_of: tuple[int, ...] = (A, B)) -> Compiled:
    """3 of A and 2 of B are ordered, and share ``slots`` slots; a tray of ``hours_of`` takes an hour."""
    rows = {A: 1.0, SHORT_A: 1.0}, {B: 1.0, SHORT_B: 1.0}, {A: 1.0, B: 1.0}, {HOURS: -1.0}
    rows[3].update(dict.fromkeys(hours_of, 1.0))
    matrix = np.zeros((len(rows), len(COST)))
    for n, row in enumerate(rows):
        matrix[n, list(row)] = list(row.values())
    inf = np.inf
    return Compiled(
        csc_array(matrix),
        np.array([3.0, 2.0, -inf, -inf]),
        np.array([inf, inf, slots, 0.0]),
        np.zeros(len(COST)),
        np.full(len(COST), inf),
        np.array(COST),
        7.0,
        {"sown": np.array([A, B]), "short": np.array([SHORT_A, SHORT_B])},
        {"order": {("a",): 0, ("b",): 1}, "slots": {("room",): 2}, "skill_hours": {("crew",): 3}},
    )


def parts(compiled: Compiled, most: int) -> list[BookPart]:
    return book_parts(compiled, run(solver(compiled)), most)


def columns(found: list[BookPart]) -> list[list[int]]:
    return [part.columns.tolist() for part in found]


def test_orders_that_share_rows_stay_together_where_they_are_few() -> None:
    """The part is the whole program, all rows in it, without the constant."""
    of = program(10.0)
    (part,) = parts(of, 2)
    assert part.columns.tolist() == [A, B, SHORT_A, SHORT_B, HOURS]
    assert part.compiled.cost.tolist() == list(COST)
    assert (part.compiled.matrix != of.matrix).nnz == 0
    assert part.compiled.row_lower.tolist() == of.row_lower.tolist()
    assert part.compiled.row_upper.tolist() == of.row_upper.tolist()
    assert part.compiled.offset == 0


def test_parts_pay_the_price_of_what_they_share() -> None:
    """An hour costs 1, a slot nothing: a tray of A costs 1 + 1, of B 2 + 1; the hours are in no part."""
    found = parts(program(10.0), 1)
    assert columns(found) == [[A, SHORT_A], [B, SHORT_B]]
    assert [part.compiled.cost.tolist() for part in found] == [[2.0, 5.0], [3.0, 5.0]]
    assert [part.compiled.row_lower.tolist() for part in found] == [[3.0], [2.0]]
    assert [run(solver(part.compiled)).objective for part in found] == [6.0, 6.0]


def test_a_scarce_slot_costs_what_one_more_would_save() -> None:
    """With 4 slots for 5 trays one of B, with its hour, is short: 5 less 3, so that a slot is worth 2."""
    found = parts(program(4.0), 1)
    assert [part.compiled.cost.tolist() for part in found] == [[4.0, 5.0], [5.0, 5.0]]
    bound = sum(run(solver(part.compiled)).objective for part in found) - 4 * 2
    assert bound == pytest.approx(run(solver(program(4.0))).objective - 7)


def test_hours_of_one_part_alone_stay_in_it() -> None:
    """Only A takes hours: they are its own, and cost no price."""
    found = parts(program(10.0, (A,)), 1)
    assert columns(found) == [[A, SHORT_A, HOURS], [B, SHORT_B]]
    assert [part.compiled.cost.tolist() for part in found] == [[1.0, 5.0, 1.0], [2.0, 5.0]]
    assert found[0].compiled.row_upper.tolist() == [np.inf, 0.0]


def test_what_a_scarce_slot_joins_comes_first() -> None:
    """B shares a loose room with C and a scarce one with A: with two waves a part, it stays with A."""
    a, b, c = range(3)
    rows = np.eye(3, 6) + np.eye(3, 6, 3)
    room = np.zeros((2, 6))
    room[0, [b, c]] = room[1, [a, b]] = 1.0
    inf = np.inf
    compiled = Compiled(
        csc_array(np.vstack([rows, room])),
        np.array([3.0, 2.0, 2.0, -inf, -inf]),
        np.array([inf, inf, inf, 10.0, 4.0]),
        np.zeros(6),
        np.full(6, inf),
        np.array([1.0, 1.0, 1.0, 5.0, 5.0, 5.0]),
        0.0,
        {"sown": np.array([a, b, c]), "short": np.array([3, 4, 5])},
        {"order": {(n,): n for n in range(3)}, "slots": {("loose",): 3, ("scarce",): 4}},
    )
    assert columns(parts(compiled, 2)) == [[a, b, 3, 4], [c, 5]]


@cache
def solved(seed: int) -> tuple[Compiled, Solution]:
    """A generated book's program and its optimum."""
    compiled = compile_program(build(expand(book(12, 6, 100, seed))))
    return compiled, run(solver(compiled))


@pytest.mark.parametrize("most", [0, 20, 60, 10_000])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_optimum_is_least_in_each_part_at_its_prices(seed: int, most: int) -> None:
    """So the parts' least costs add up to a bound. Each wave is in one part; larger parts are fewer."""
    compiled, optimum = solved(seed)
    found = book_parts(compiled, optimum, most)
    of = np.concatenate([part.columns for part in found])
    assert len(of) == len(np.unique(of))
    assert set(compiled.columns(("sown",)).tolist()) <= set(of.tolist())
    for part in found:
        least = run(solver(part.compiled)).objective
        assert part.compiled.cost @ optimum.columns[part.columns] == pytest.approx(least, abs=1e-5)
    assert len(found) >= len(book_parts(compiled, optimum, 2 * most + 1))


def test_parts_hold_no_more_waves_than_allowed() -> None:
    """But those that one row of growing or ordering holds together."""
    compiled, _ = solved(1)
    sown = set(compiled.columns(("sown",)).tolist())
    waves = [[len(sown & set(part.columns.tolist())) for part in parts(compiled, most)] for most in (0, 40)]
    whole = max(waves[0])
    assert max(waves[1]) <= max(40, whole)
    assert len(waves[0]) > len(waves[1]) > 1


def test_a_part_promises_what_a_known_plan_costs_more_than_its_least() -> None:
    """4 slots, and 2 trays of B, so that one of A is short. A: 2 * 4 + 5 less 3 * 4; B: 2 * 5 less 2 * 5."""
    of = program(4.0)
    known = run(solver(with_fixed(of, np.array([B]), np.array([2.0]))))
    found = small_parts(parts(of, 1), of, known, 1)
    assert [(small.waves, small.least, small.promise) for small in found] == [(1, 12.0, 1.0), (1, 10.0, 0.0)]
    assert small_parts(parts(of, 1), of, known, 0) == []


def test_parts_are_held_only_where_they_cost_no_more_than_they_promised() -> None:
    """With 2 trays of B one of A is short: 5 + 2 * 3 in place of 2 + 3 + 5, which is 1 more."""
    of = program(4.0)
    none = dict.fromkeys(WHOLE, np.empty(0, dtype=np.intp))
    of = replace(of, position=none | of.position)
    dive = Dive(of, run(solver(of)), np.empty(0, dtype=np.intp))
    before, two = dive.found.columns.tolist(), np.array([2.0])
    assert dive.hold_within(np.array([B]), two, 0.5) == 0
    assert dive.hold_within(np.array([B]), np.array([5.0]), 100.0) == 0
    assert dive.found.columns.tolist() == before
    assert dive.bound(np.array([A]), np.array([3.0]), np.array([3.0]))
    assert dive.hold_within(np.array([B]), two, 100.0) == 0
    dive = Dive(of, run(solver(of)), np.empty(0, dtype=np.intp))
    assert dive.hold_within(np.array([B]), two, 1.5) == pytest.approx(0.5)
    assert dive.found.columns[[A, B, SHORT_A, SHORT_B]] == pytest.approx([2, 2, 1, 0])


@pytest.mark.parametrize(
    "kept, broken",
    [
        ([], False),
        ([(9.0, 0.0)], False),
        ([(10.0, 1.49)], True),
        ([(10.0, 1.51)], False),
        ([(1.0, 500.0), (10.0, 0.0)], True),
        ([(10.0, 0.0), (10.0, 10.0)], False),
    ],
)
def test_searches_end_once_little_of_a_tenth_of_what_was_promised_is_kept(
    kept: list[tuple[float, float]], broken: bool
) -> None:
    """Of 100 in all: once 10 have been tried, less than 0.15 of them; no part keeps more than it promised."""
    promised = Promised(100.0)
    for promise, of_it in kept:
        promised.count(promise, of_it)
    assert promised.broken() is broken
