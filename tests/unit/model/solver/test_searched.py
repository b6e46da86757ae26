"""A search stops after some effort; one whose bound a known plan refutes is made again without presolve."""

from __future__ import annotations

from typing import Any

import pytest

from model.program.variables import WHOLE
from model.solve import solve
from model.solver import whole
from model.solver.compiled import EXACT, Effort, solver
from tests.specimens import SPECIMENS


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
        stopped.append(effort.search(solver(compiled, whole_numbers, **EXACT), 0.1))
        assert 0.1 * before < before - effort.left < 0.2 * before
    first, second = stopped
    assert first.bound < best - 1 < best <= first.objective + 1e-6
    assert (first.bound, first.objective) == (second.bound, second.objective)
    assert first.columns == pytest.approx(second.columns)
    proved = Effort(compiled).search(solver(compiled, whole_numbers, **EXACT), 1.0)
    assert proved.bound == pytest.approx(best)
