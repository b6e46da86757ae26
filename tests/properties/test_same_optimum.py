"""The plan's least cost is that of a second, independent statement of the same program."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given, settings

from model.planned.plan_tables import Plan
from model.proof.audit import audit
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from model.solver import compiled, whole
from tests.depth import deep
from tests.independent import least_cost
from tests.least import least
from tests.specimens import SPECIMENS
from tests.strategies import books_on_hand, small_scenarios

TOLERANCE = 1e-6
WORKED: dict[str, float] = {
    # 100 / (take .8 · survival .95) joins, / match .9 seedlings, / stand .81 seeds, of each .50 + .25
    "on-tray": 100 / (0.8 * 0.95) / 0.9 / 0.81 * 0.75,
    # the same seed: sticking changes the trays, not the seedlings
    "root-cut": 100 / (0.8 * 0.95) / 0.9 / 0.81 * 0.75,
    # own-root: no join, no match, no take
    "own-root": 100 / 0.95 / 0.81 * 0.50,
    # match · take .8 · .9, .9 · .82 or .95 · .7 by ages: the second gives most plants a seedling
    "ages": 100 / (0.82 * 0.95) / 0.9 / 0.81 * 0.75,
}
"""Least costs of specimens with room for all, worked by hand, trays and seeds in parts."""
WHOLE: dict[str, float] = {
    # 146.2 seedlings of 16.2 a tray of twenty: 10 trays, 200 seeds at .50; of 8.1 a tray of ten: 19
    # trays, 190 seeds at .25
    "on-tray": 200 * 0.50 + 190 * 0.25,
    # rootstocks in trays of twenty too: 10 trays
    "root-cut": 200 * 0.50 + 200 * 0.25,
    # 105.3 seedlings of 8.1 a tray: 13 trays, 130 seeds
    "own-root": 130 * 0.50,
}
"""The same with whole trays and packs."""


@pytest.fixture(autouse=True)
def searched_to_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole plans are searched until proved, however long; a user's plan stops after some effort."""
    monkeypatch.setattr(whole, "SMALL_BOOK", 1_000_000)
    monkeypatch.setattr(whole, "EXACT", whole.EXACT | {"mip_max_nodes": 1_000_000})
    monkeypatch.setattr(compiled, "LEAST_EFFORT", inf)


def close(a: float, b: float) -> bool:
    """Equal but for rounding in the solver."""
    return abs(a - b) <= TOLERANCE * max(1.0, abs(a), abs(b))


def check_continuous(scenario: Scenario) -> None:
    """The continuous optimum is the independent one, and its dual agrees."""
    facts = plan_of(solve(scenario, whole=False)).facts
    assert close(facts.objective, least_cost(scenario, whole=False))
    assert close(facts.objective, facts.dual_objective)


def check_whole(scenario: Scenario) -> None:
    """The whole optimum is the independent one, and the plan stands the audit."""
    made = plan_of(solve(scenario))
    assert close(made.facts.objective, least_cost(scenario, whole=True))
    assert close(made.facts.continuous_objective, least_cost(scenario, whole=False))
    check_audit(scenario, made)


def check_audit(scenario: Scenario, made: Plan) -> None:
    """Every check of the audit passes."""
    failed = [check for check in audit(scenario, made) if not check.passed]
    assert not failed


@pytest.mark.parametrize("name", SPECIMENS)
def test_specimen_continuous(name: str) -> None:
    check_continuous(SPECIMENS[name])


@pytest.mark.parametrize("name", SPECIMENS)
def test_specimen_whole(name: str) -> None:
    check_whole(SPECIMENS[name])


@pytest.mark.parametrize("name", WORKED)
def test_worked_by_hand(name: str) -> None:
    assert close(least_cost(SPECIMENS[name], whole=False), WORKED[name])
    assert close(least(SPECIMENS[name]), WORKED[name])


@pytest.mark.parametrize("name", WHOLE)
def test_whole_worked_by_hand(name: str) -> None:
    assert close(least_cost(SPECIMENS[name], whole=True), WHOLE[name])
    assert close(least(SPECIMENS[name], whole=True), WHOLE[name])


@given(small_scenarios())
@settings(max_examples=deep(200))
def test_random_continuous(scenario: Scenario) -> None:
    check_continuous(scenario)


@given(books_on_hand())
@settings(max_examples=deep(40))
def test_random_groups_on_hand(scenario: Scenario) -> None:
    """Groups kept apart of which seedlings and plants stand together on the first day."""
    check_whole(scenario)


@given(small_scenarios(products_most=2, orders_most=2, window=0))
@settings(max_examples=deep(100))
def test_random_whole(scenario: Scenario) -> None:
    check_whole(scenario)
