"""Searches of whole plans: how much effort they may take, and what is believed of them."""

from __future__ import annotations

from typing import Any

import pytest

from model.network.expansion import expand
from model.phases import silent
from model.program.build import build
from model.program.variables import WHOLE
from model.solve import solve
from model.solver import book_parts, whole
from model.solver.compiled import EXACT, Effort, Solution, compile_program, run, solver
from model.solver.rounded_rows import RoundedRows
from model.solver.strong import Strong
from tests.benchmarks.books import book
from tests.copies import copies
from tests.specimens import SPECIMENS
from tests.strategies import with_nursery


@pytest.mark.parametrize("less, searches", [(0.0, [None]), (1.0, [None, "off"])])
def test_a_bound_above_a_known_plan_is_not_believed(
    less: float, searches: list[str | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    solved = solve(SPECIMENS["tight chamber"])
    tried: list[str | None] = []

    def recorded(*args: Any, **options: Any) -> Any:
        tried.append(options.get("presolve"))
        return solver(*args, **options)

    monkeypatch.setattr(whole, "solver", recorded)
    found = whole.searched(solved.compiled, solved.solution.objective - less, Effort(solved.compiled))
    assert tried == searches
    assert found.objective == pytest.approx(solved.solution.objective)


def test_a_search_stops_after_some_effort_at_the_same_plan_each_time() -> None:
    """Stopped before the first branch it proves less than a search to the end, and nothing wrong."""
    solved = solve(SPECIMENS["skill limits"])
    compiled, best = solved.compiled, solved.solution.objective
    whole_numbers = compiled.columns(WHOLE)
    stopped = []
    for _ in range(2):
        effort = Effort(compiled)
        before = effort.left
        stopped.append(effort.search(solver(compiled, whole_numbers, **EXACT), 0.01))
        assert 0.01 * before < before - effort.left < 0.02 * before
    first, second = stopped
    assert first.bound < best - 1 < best <= first.objective + 1e-6
    assert (first.bound, first.objective) == (second.bound, second.objective)
    assert first.columns == pytest.approx(second.columns)
    proved = Effort(compiled).search(solver(compiled, whole_numbers, **EXACT), 1.0)
    assert proved.bound == pytest.approx(best)


def test_a_part_whose_search_finds_nothing_takes_nothing_from_the_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of two nurseries side by side, of 16 waves each, the second's search is stopped at once."""
    solved = solve(copies(with_nursery(SPECIMENS["runs"], wave_cost=20.0), 2))
    program, compiled, continuous = solved.program, solved.compiled, solved.continuous
    strong = Strong(compiled, continuous)
    strong.add(RoundedRows(program, compiled))
    known = whole.dived(program, compiled, continuous)
    monkeypatch.setattr(whole, "SMALL_BOOK", 16)

    search, searches = Effort.search, 0

    def stopped(effort: Effort, highs: Any, share: float) -> Solution:
        nonlocal searches
        searches += 1
        if searches == 4:
            effort.left = 0.0
        return search(effort, highs, share)

    monkeypatch.setattr(Effort, "search", stopped)
    gains = []
    for _ in range(2):
        found, gain = whole._better_from_parts(
            compiled, continuous, strong, known, whole._groups(program, compiled), Effort(compiled), silent
        )
        assert strong.optimum.objective + gain <= solved.solution.objective + 1e-6
        assert solved.solution.objective - 1e-6 <= found.objective <= known.objective
        gains.append(gain)
    assert searches == 4
    assert gains[1] == pytest.approx(gains[0] / 2)
    assert gains[1] > 1


def test_searches_of_parts_that_do_not_fit_together_end_early_at_the_same_plan(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of what the first part promises less than half is kept, as it wants the slots and hands of others."""
    scenario = with_nursery(book(20, 8, 120, 1), wave_cost=60.0)
    program = build(expand(scenario))
    compiled = compile_program(program)
    continuous = run(solver(compiled))
    search, searches = Effort.search, 0

    def counted(effort: Effort, highs: Any, share: float) -> Solution:
        nonlocal searches
        searches += 1
        return search(effort, highs, share)

    monkeypatch.setattr(Effort, "search", counted)
    made = []
    for kept in (0.5, 0.0):
        monkeypatch.setattr(book_parts, "KEPT", kept)
        searches = 0
        made.append((whole.make_whole(program, compiled, continuous), searches))
    (early, few), (late, many) = made
    assert few < many
    assert early.solution.objective == pytest.approx(late.solution.objective)
    assert early.bound <= late.bound <= early.solution.objective
