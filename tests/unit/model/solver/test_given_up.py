"""A dive is given up where it costs as much as a known plan."""

from __future__ import annotations

import numpy as np
import pytest

from model.solve import solve
from model.solver import dive
from model.solver.compiled import Solution, SolveError
from model.solver.whole import dived
from tests.demo import demo_solved
from tests.specimens import SPECIMENS


def test_a_dive_is_given_up_at_a_known_cost(monkeypatch: pytest.MonkeyPatch) -> None:
    runs: list[Solution] = []

    def counted(highs: object) -> Solution:
        runs.append(run(highs))
        return runs[-1]

    run = dive.run
    monkeypatch.setattr("model.solver.dive.run", counted)
    solved = demo_solved()
    program, compiled, near = solved.program, solved.compiled, solved.continuous
    whole = dived(program, compiled, near)
    costs = [each.objective for each in runs]
    assert dived(program, compiled, near, whole.objective + 1).objective == whole.objective
    runs.clear()
    halfway = (near.objective + whole.objective) / 2
    with pytest.raises(SolveError):
        dived(program, compiled, near, halfway)
    below = [each.objective for each in runs if each.objective < halfway]
    assert below == costs[: len(below)]
    assert costs[len(below)] >= halfway
    assert len(runs) <= len(below) + 1 < len(costs)


def test_a_choice_is_given_up_only_where_both_ways_are_too_dear() -> None:
    """One bay fewer costs 815 more, one more costs 1.24."""
    solved = solve(SPECIMENS["bays"])
    compiled, near = solved.compiled, solved.continuous
    bays, none = compiled.columns(("bays_open",)), np.empty(0, dtype=np.intp)

    def chosen(dearest: float) -> float:
        tried = dive.Dive(compiled, near, none, dearest)
        tried.choose(bays)
        return tried.found.objective

    cost = chosen(np.inf)
    assert near.objective + 1.24 <= cost < near.objective + 100
    assert chosen(near.objective + 100) == pytest.approx(cost)
    with pytest.raises(SolveError):
        chosen(near.objective + 1)
