"""Scenarios with numbers at the edges of the tables' ranges have a plan, and it passes the audit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from model.proof.audit import audit
from model.scenario.entities import Scenario
from model.scenario.ranges import LEAST_SHARE, PLANTS, SLOTS
from model.scenario.schema import Column, Type
from model.scenario.tables import TABLES
from model.solve import plan
from scenarios.cells.draft import draft_of
from scenarios.rules.all_rules import check
from tests.depth import deep
from tests.strategies import base_scenario, small_scenarios, with_nursery, with_rows

Draw = Callable[[st.SearchStrategy[Any]], Any]

NUMBERS = (Type.NUMBER, Type.WHOLE, Type.SHARE)
EDGED = [
    (table.name, column)
    for table in TABLES
    for column in table.columns
    if column.type in NUMBERS and column.unit not in ("days", "", "years") and table.name != "progress"
]
"""Numbers that are no days: their table and column."""


def edges(column: Column) -> tuple[float, float]:
    """The least and the most of a column; a thousandth above what must be above it."""
    assert column.low is not None
    assert column.high is not None
    low = column.low + (0.001 if column.above_low else 0.0)
    return (int(low), int(column.high)) if column.type is Type.WHOLE else (low, float(column.high))


def at_edge(scenario: Scenario, table: str, column: str, value: float) -> Scenario:
    """The scenario with all cells of a column at a value; blanks stay blank."""

    def change(row: Any) -> Any:
        return row if getattr(row, column) is None else replace(row, **{column: value})

    if table == "nursery":
        return replace(scenario, nursery=change(scenario.nursery))
    return with_rows(scenario, table, change)


@st.composite
def edged(draw: Draw, most: int) -> Scenario:
    """Small scenarios with up to so many columns at their edges."""
    scenario = draw(small_scenarios(products_most=2, orders_most=2))
    for table, column in draw(st.lists(st.sampled_from(EDGED), min_size=1, max_size=most)):
        scenario = at_edge(scenario, table, column.name, draw(st.sampled_from(edges(column))))
    return scenario


def faults(scenario: Scenario, whole: bool) -> list[str]:
    made = plan(scenario, whole=whole)
    return [f"{check.name}: {check.detail}" for check in audit(scenario, made) if not check.passed]


def test_every_number_has_a_least_and_a_most() -> None:
    unbounded = [(table, c.name) for table, c in EDGED if c.low is None or c.high is None]
    assert unbounded == []


@given(edged(most=3), st.booleans())
@settings(max_examples=deep(40))
def test_numbers_at_their_edges_have_a_plan_that_passes_the_audit(scenario: Scenario, whole: bool) -> None:
    assume(not check(draft_of(scenario)))
    assert faults(scenario, whole) == []


@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize("quantity", [1, PLANTS])
@pytest.mark.parametrize("share", [LEAST_SHARE, 1.0])
def test_the_largest_and_the_smallest_order_pass(quantity: int, share: float, whole: bool) -> None:
    """With room of all there may be, and a penalty that fills what can be filled."""
    scenario = with_rows(base_scenario(), "orders", lambda row: replace(row, quantity=quantity))
    scenario = with_rows(scenario, "zones", lambda row: replace(row, slots=float(SLOTS)))
    scenario = with_rows(
        scenario, "methods", lambda row: replace(row, match=share, take=share, finish_survival=share)
    )
    scenario = with_rows(scenario, "seed_lots", lambda row: replace(row, germination=share))
    scenario = with_nursery(scenario, shortfall_penalty=1e7)
    assert check(draft_of(scenario)) == []
    assert faults(scenario, whole) == []
