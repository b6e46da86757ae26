"""A dive is given up where it costs as much as a known plan."""

from __future__ import annotations

import pytest

from model.solver import dive
from model.solver.compiled import Solution, SolveError
from model.solver.whole import dived
from tests.demo import demo_solved


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
    needed = len(runs)
    assert dived(program, compiled, near, whole.objective + 1).objective == whole.objective
    runs.clear()
    halfway = (near.objective + whole.objective) / 2
    with pytest.raises(SolveError):
        dived(program, compiled, near, halfway)
    assert runs[-1].objective >= halfway > runs[-2].objective
    assert len(runs) < needed
