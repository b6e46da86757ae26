"""HiGHS started from the basis of a solution close by."""

from __future__ import annotations

import numpy as np
import pytest

from model.network.expansion import expand
from model.program.build import build
from model.solver.compiled import LIMIT, compile_program, run, solver, with_rows
from tests.demo import demo
from tests.strategies import base_scenario


def test_a_solver_starts_where_the_same_program_ended() -> None:
    compiled = compile_program(build(expand(demo())))
    optimum = run(solver(compiled))
    again = solver(compiled)
    assert run(again, start=optimum).objective == pytest.approx(optimum.objective)
    assert again.getInfo().simplex_iteration_count == 0


def test_a_solver_starts_where_a_program_with_more_rows_ended() -> None:
    """Ten waves need a tray more. Without these rows, the way on is a fifth of that from nothing or less."""
    compiled = compile_program(build(expand(demo())))
    optimum = run(solver(compiled))
    trays = compiled.columns(("sown",))[:10]
    more = np.zeros((len(trays), len(compiled.cost)))
    more[np.arange(len(trays)), trays] = 1.0
    least = np.ceil(optimum.columns[trays]) + 1
    wider = run(solver(with_rows(compiled, more, least, np.full(len(trays), np.inf))))
    assert wider.objective > optimum.objective + 1
    warm, cold = solver(compiled, presolve="off"), solver(compiled, presolve="off")
    assert run(warm, start=wider).objective == pytest.approx(optimum.objective)
    run(cold)
    assert warm.getInfo().simplex_iteration_count < cold.getInfo().simplex_iteration_count / 5


def test_a_solver_that_loses_its_way_starts_again() -> None:
    """With no pivots allowed it reaches nothing; from no basis and without the limit, the same optimum."""
    compiled = compile_program(build(expand(base_scenario())))
    highs = solver(compiled, **{"presolve": "off", LIMIT: 0})
    assert run(highs).objective == pytest.approx(run(solver(compiled)).objective)
