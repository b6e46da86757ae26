"""The arrays of a stated program, and HiGHS started from the basis of a solution close by."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from pyomo.repn.plugins.standard_form import LinearStandardFormCompiler
from scipy.sparse import csc_array

from model.network.expansion import expand
from model.program.build import build, state
from model.scenario.entities import Scenario
from model.solver.compiled import LIMIT, arrays, compile_program, run, solver, with_rows
from tests.baselines.scenarios import SCENARIOS
from tests.demo import demo
from tests.depth import deep
from tests.strategies import base_scenario, books_on_hand, small_scenarios


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


def test_arrays_are_those_of_pyomos_compiler() -> None:
    """Its standard form is another way from the stated program to arrays; its columns may stand otherwise."""
    for scenario in (base_scenario(), demo()):
        program = build(expand(scenario))
        stated = state(program)
        form = LinearStandardFormCompiler().write(stated.model, mixed_form=True, set_sense=None)
        column = {id(variable): n for n, variable in enumerate(form.columns)}
        position = {
            name: np.array([column.get(id(variable), -1) for variable in variables], dtype=np.intp)
            for name, variables in stated.variables.items()
        }
        compiled = compile_program(program)
        theirs = np.full(len(compiled.cost), -1)
        for name, at in compiled.position.items():
            assert np.array_equal(at < 0, position[name] < 0)
            theirs[at[at >= 0]] = position[name][at >= 0]
        assert sorted(theirs.tolist()) == list(range(len(form.columns)))
        for ours, other in ((compiled.matrix, form.A), (csc_array(compiled.cost[None]), form.c)):
            assert (ours != csc_array(other)[:, theirs]).nnz == 0
        bounds = zip(compiled.row_lower.tolist(), compiled.row_upper.tolist(), strict=True)
        for (lower, upper), (_, sense), rhs in zip(bounds, form.rows, form.rhs, strict=True):
            assert (lower, upper) == (rhs if sense <= 0 else -np.inf, rhs if sense >= 0 else np.inf)
        limits = [(form.columns[n].lb, form.columns[n].ub) for n in theirs.tolist()]
        assert compiled.lower.tolist() == [lower for lower, _ in limits]
        assert compiled.upper.tolist() == [np.inf if upper is None else upper for _, upper in limits]
        assert compiled.offset == form.c_offset[0]


def check_stated_alike(scenario: Scenario) -> None:
    """The arrays of the Pyomo model and those made without it are the same, to the order and the last bit."""
    program = build(expand(scenario))
    stated, straight = arrays(state(program)), compile_program(program)
    for name in ("indptr", "indices", "data"):
        ours, other = getattr(straight.matrix, name), getattr(stated.matrix, name)
        assert ours.dtype == other.dtype
        assert ours.tolist() == other.tolist()
    for name in ("row_lower", "row_upper", "lower", "upper", "cost"):
        assert getattr(straight, name).tolist() == getattr(stated, name).tolist()
    assert straight.offset == stated.offset
    for name, at in stated.position.items():
        assert straight.position[name].tolist() == at.tolist()
    ordered, other_rows = (
        {group: list(of.items()) for group, of in c.rows.items()} for c in (straight, stated)
    )
    assert list(ordered.items()) == list(other_rows.items())


@pytest.mark.parametrize("group", SCENARIOS)
def test_each_group_compiles_as_it_is_stated(group: str) -> None:
    check_stated_alike(SCENARIOS[group]())


@settings(max_examples=deep(100))
@given(small_scenarios() | books_on_hand())
def test_a_program_compiles_as_it_is_stated(scenario: Scenario) -> None:
    check_stated_alike(scenario)
