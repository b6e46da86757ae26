"""The least cost of a scenario, for tests that compare costs: without a plan's tables and reasons.

tests/properties/test_needless.py shows that a plan costs what the solver says.
"""

from __future__ import annotations

from functools import cache

from model.scenario.entities import Scenario
from model.solve import facts_of, solve


@cache
def least(scenario: Scenario, whole: bool = False) -> float:
    """Least cost of the scenario in its currency, in whole trays if ``whole``."""
    return facts_of(solve(scenario, whole=whole)).objective
