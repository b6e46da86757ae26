"""What a quote says that an order adds is what the whole plan does with it, on random books."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace
from datetime import timedelta
from typing import Any
from unittest.mock import patch

from hypothesis import given, settings
from hypothesis import strategies as st

from model.questions.whole_differences import SHORTER
from model.scenario.choices import MarginPolicy, SowingPolicy
from model.scenario.entities import Order, Scenario
from model.solve import plan_of, solve
from scenarios.solves.asking import as_candidate, whole_added
from tests.depth import deep
from tests.strategies import small_scenarios, with_nursery

ROUNDING = 0.01


@st.composite
def asked(draw: Any) -> tuple[Scenario, Order]:
    """A small book with a fixed cost of each wave, often with level margins, and an order asked for."""
    level = {"sowing_policy": SowingPolicy.LEVEL, "margin_policy": MarginPolicy.LEVEL}
    margins = level if draw(st.booleans()) else {}
    wave_cost = draw(st.sampled_from([0.0, 20.0, 100.0]))
    scenario = with_nursery(draw(small_scenarios()), wave_cost=wave_cost, **margins)
    like = draw(st.sampled_from(scenario.orders))
    days = draw(st.integers(-3, 3))
    due = min(max(like.due_day + timedelta(days=days), scenario.nursery.first_day), scenario.nursery.last_day)
    quantity = draw(st.integers(1, 200))
    return scenario, as_candidate(scenario, replace(like, order="asked", quantity=quantity, due_day=due))


@given(asked(), st.booleans())
@settings(max_examples=deep(60))
def test_a_quote_is_what_the_whole_plan_does(case: tuple[Scenario, Order], near: bool) -> None:
    """``near``: the plan with the order is made from the book's, as in books too large to be searched."""
    scenario, order = case
    solved = solve(scenario)
    with ExitStack() as large:
        for module in ("questions.whole_differences", "solver.whole") if near else ():
            large.enter_context(patch(f"model.{module}.SEARCHED", 0))
        added = whole_added(solved, order)
    book = plan_of(solved)
    with_it = plan_of(solve(replace(scenario, orders=(*scenario.orders, order))))
    short = dict(zip(with_it.orders["order"], with_it.orders["short"], strict=True))
    before = dict(zip(book.orders["order"], book.orders["short"], strict=True))
    shorter = [name for name, plants in before.items() if short[name] > plants + SHORTER]
    if added.verdict == "yes":
        gaps = book.cost - book.facts.bound + with_it.cost - with_it.facts.bound
        # A plan of all orders may give a booked order's plants to the one asked for; a quote may not.
        if shorter:
            assert not added.shorter
            assert added.cost >= with_it.facts.bound - book.cost - ROUNDING
        else:
            assert short["asked"] <= SHORTER
            assert abs(added.cost - (with_it.cost - book.cost)) <= gaps + ROUNDING
        assert added.least - ROUNDING <= added.cost <= added.most + ROUNDING
        assert added.least - ROUNDING <= with_it.cost - book.facts.bound
        assert added.most + ROUNDING >= with_it.facts.bound - book.cost
    if added.verdict == "no":
        assert shorter or short["asked"] >= order.quantity - SHORTER
