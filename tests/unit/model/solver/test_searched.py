"""A search whose bound a known plan refutes is made again without presolve."""

from __future__ import annotations

from typing import Any

import pytest

from model.solve import solve
from model.solver import whole
from model.solver.compiled import solver
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
    found = whole.searched(solved.compiled, solved.solution.objective - less)
    assert tried == searches
    assert found.objective == pytest.approx(solved.solution.objective)
