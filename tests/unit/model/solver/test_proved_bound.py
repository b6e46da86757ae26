"""A plan cheaper than its proved bound is an error, and never a gap of 0."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.proof.audit import audit
from model.solve import Solved, plan_of, solve
from model.solver.compiled import BelowBound, SolveError, proved_bound
from tests.specimens import SPECIMENS

AMOUNTS = st.floats(-1e9, 1e9)


@cache
def solved(whole: bool) -> Solved:
    return solve(SPECIMENS["tight chamber"], whole=whole)


@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize("above", [0.01, 1.0, 1e6])
def test_a_bound_above_the_cost_is_an_error(above: float, whole: bool) -> None:
    found = solved(whole)
    wrong = replace(found, bound=plan_of(found).cost + above)
    with pytest.raises(BelowBound, match="a fault of the program"):
        plan_of(wrong)
    assert issubclass(BelowBound, SolveError)


@pytest.mark.parametrize("whole", [False, True])
def test_a_bound_above_the_cost_by_rounding_is_the_cost(whole: bool) -> None:
    found = solved(whole)
    cost = plan_of(found).cost
    made = plan_of(replace(found, bound=cost + 5e-5))
    assert made.facts.bound == cost
    assert made.facts.gap == 0
    assert [check.name for check in audit(SPECIMENS["tight chamber"], made) if not check.passed] == []


@pytest.mark.parametrize("less", [0.0, 1.0, 7.5])
def test_a_gap_is_what_lies_between_the_cost_and_the_bound(less: float) -> None:
    found = solved(True)
    cost = plan_of(found).cost
    facts = plan_of(replace(found, bound=cost - less)).facts
    assert facts.bound == pytest.approx(cost - less)
    assert facts.gap == pytest.approx(less / (cost - less))


@given(AMOUNTS, AMOUNTS)
def test_a_proved_bound_is_never_above_the_cost(bound: float, cost: float) -> None:
    """It is the bound itself below the cost; a millionth above it, it is an error."""
    if bound <= cost:
        assert proved_bound(bound, cost) == bound
    elif bound - cost > max(1.0001e-4, 1.0001e-6 * max(abs(bound), abs(cost))):
        with pytest.raises(BelowBound):
            proved_bound(bound, cost)
    elif bound - cost < max(0.9999e-4, 0.9999e-6 * max(abs(bound), abs(cost))):
        assert proved_bound(bound, cost) == cost
