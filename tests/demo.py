"""The demo and its plan, made once in each process that runs tests. No test changes them."""

from __future__ import annotations

from functools import cache

from model.planned.plan_tables import Plan
from model.scenario.entities import Scenario
from model.solve import Solved, plan_of, solve
from scenarios.variants.by_name import read


@cache
def demo() -> Scenario:
    """The demo as it is shipped."""
    return read("hollow_ash")


@cache
def demo_solved() -> Solved:
    """The demo in whole trays."""
    return solve(demo())


@cache
def demo_plan() -> Plan:
    """Its plan."""
    return plan_of(demo_solved())
