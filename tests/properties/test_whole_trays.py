"""The dive that makes larger books whole, tried on small ones whose optimum is known."""

import pytest
from hypothesis import given, settings

from model.proof.audit import audit
from model.scenario.entities import Scenario
from model.solve import facts_of, plan_of, solve
from model.solver import whole
from tests.benchmarks.books import book
from tests.depth import deep
from tests.specimens import SPECIMENS
from tests.strategies import small_scenarios

BEST = 0.005
"""Whole trays lie within half a per cent of the bound on books of a usual size."""


def check_dive(scenario: Scenario) -> None:
    """The dive's plan stands the audit, is whole, and costs no less than what the search proves."""
    with pytest.MonkeyPatch.context() as patch:
        best = facts_of(solve(scenario))
        patch.setattr(whole, "SMALL_BOOK", -1)
        made = plan_of(solve(scenario))
    assert [check for check in audit(scenario, made) if not check.passed] == []
    slack = 1e-6 * max(1.0, abs(best.objective))
    assert made.facts.objective >= best.bound - slack
    assert made.facts.bound <= best.objective + slack


@pytest.mark.parametrize("name", SPECIMENS)
def test_dive_on_specimens(name: str) -> None:
    check_dive(SPECIMENS[name])


@given(small_scenarios())
@settings(max_examples=deep(60))
def test_dive_on_random_scenarios(scenario: Scenario) -> None:
    check_dive(scenario)


@pytest.mark.parametrize("orders, products, days", [(100, 20, 200), (400, 60, 365)])
def test_whole_trays_of_usual_books_lie_near_the_bound(orders: int, products: int, days: int) -> None:
    scenario = book(orders, products, days, seed=1)
    made = plan_of(solve(scenario))
    assert made.facts.gap <= BEST
    assert made.short == 0
    assert [check for check in audit(scenario, made) if not check.passed] == []
