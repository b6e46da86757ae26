"""Nothing is sown, joined or bought that nobody uses, even where it is free; no told cost changes by that."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.proof.audit import audit
from model.scenario.entities import Scenario
from model.scenario.records.trade import Pack
from model.solve import plan_of, solve
from tests.depth import deep
from tests.scenario_parts import order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_rows


def check(scenario: Scenario, whole: bool) -> None:
    """The plan passes the audit, and costs what the solver says."""
    solved = solve(scenario, whole=whole)
    made = plan_of(solved)
    assert [check for check in audit(scenario, made) if not check.passed] == []
    assert made.cost == pytest.approx(solved.solution.objective, rel=1e-6, abs=1e-4)


def free(scenario: Scenario) -> Scenario:
    """Seed, supplies and room cost nothing."""
    scenario = with_rows(scenario, "packs", lambda row: replace(row, price=0.0))
    return with_rows(scenario, "zones", lambda row: replace(row, cost_per_slot_day=0.0))


@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize("name", SPECIMENS)
def test_specimens_whose_seed_and_room_are_free(name: str, whole: bool) -> None:
    check(free(SPECIMENS[name]), whole)


@settings(max_examples=deep(60))
@given(small_scenarios(), st.booleans(), st.booleans())
def test_any_plan(scenario: Scenario, gratis: bool, whole: bool) -> None:
    check(free(scenario) if gratis else scenario, whole)


def test_what_is_free_is_sown_for_the_order_alone() -> None:
    """100 plants need 146.2 seedlings of 16.2 and 8.1 a tray: 10 trays and 19, so 200 and 190 seeds."""
    packs = (Pack("Red A", 50.0, 0.0), Pack("Red A", 120.0, 0.0), Pack("Stout A", 1.0, 0.0))
    made = plan_of(solve(base_scenario(packs=packs)))
    seeds = made.waves.groupby("lot")["seeds"].sum()
    assert seeds.to_dict() == {"Red A": 200, "Stout A": 190}
    assert made.flows["surplus"].sum() == pytest.approx(0)
    left = made.items.set_index("item")["left"]
    smallest = made.purchases.groupby("item")["size"].min()
    assert (left[smallest.index] < smallest).all()


def test_surplus_sold_is_for_somebody() -> None:
    """Up to 40 plants more than the order of 10 are sold, and no more are grown."""
    scenario = base_scenario(orders=(order("O-1", "Red on Stout", 10, 16),))
    scenario = with_rows(scenario, "products", lambda row: replace(row, salvage_price=40.0, salvage_most=40))
    made = plan_of(solve(free(scenario)))
    assert made.flows["surplus"].sum() == pytest.approx(40)
