"""What a re-plan changes in the days at hand, by hand, and when the last plan is carried on."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from model.planned.plan_tables import Plan
from model.scenario.choices import MethodKind
from model.scenario.entities import Scenario
from model.season.as_planned import as_planned
from model.season.replanning import Replanned, replan
from model.solve import plan, plan_of
from tests.strategies import base_scenario, day, method, order, with_nursery, with_rows


def scenario(*more: Any, **changes: Any) -> Scenario:
    """Every seed a plant, one age for grafting, no holding: an order fixes its days. 100 are due on day 30.

    For an order of 40 due on day d: 4 trays of rootstock sown on d - 9, 2 of scions on d - 8, 4 trays
    grafted on d - 5.
    """
    firm = method(
        "splice",
        MethodKind.ON_TRAY,
        holding_limit_days=0,
        rootstock_age_max=4,
        scion_age_max=3,
        match=1.0,
        take=1.0,
        finish_survival=1.0,
    )
    orders = (order("O-1", "Red on Stout", 100, 30), *more)
    made = with_nursery(base_scenario(orders=orders, methods=(firm,), **changes), last_day=day(40))
    return with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))


@cache
def before() -> Plan:
    return plan(scenario())


def new(due: int, **changes: Any) -> Any:
    return order("new", "Red on Stout", 40, due, **changes)


def again(today: int, *orders: Any, upset: float = 0.0) -> Replanned:
    """The plan again from a day, with orders that came since."""
    told = as_planned(before(), day(today))
    later = with_nursery(replace(scenario(*orders), progress=told), today=day(today))
    return replan(later, before().tables, upset=upset)


@pytest.mark.parametrize("upset", [0.0, 1.0])
@pytest.mark.parametrize("today", [0, 3])
@pytest.mark.parametrize(
    "due, trays", [(9, 10), (10, 10), (11, 10), (12, 6), (13, 6), (14, 6), (15, 4), (16, 0), (17, 0)]
)
def test_trays_changed_in_the_seven_days_at_hand(due: int, trays: float, today: int, upset: float) -> None:
    """``due`` from today: sown today counts, grafted on the sixth day from today too, on the seventh not."""
    found = again(today, new(today + due), upset=upset)
    assert found.unsettled == pytest.approx(trays)
    assert not found.kept
    assert found.carried_on == pytest.approx(75.0 + 40 * 50.0)
    assert plan_of(found.solved).cost == pytest.approx(75.0 + 40 * 0.75)


@pytest.mark.parametrize("upset, kept", [(0.0, False), (196.9, False), (197.1, True), (1000.0, True)])
def test_a_change_must_save_what_it_upsets(upset: float, kept: bool) -> None:
    """40 plants more save 40 · (50 - 0.75) = 1,970 and change 10 trays at hand: 197 a tray."""
    found = again(0, new(9), upset=upset)
    assert found.kept == kept
    assert found.unsettled == pytest.approx(0 if kept else 10)
    assert plan_of(found.solved).short == (40 if kept else 0)
    assert plan_of(found.solved).cost == pytest.approx(2075.0 if kept else 105.0)


def test_nothing_new_changes_nothing() -> None:
    found = again(3)
    assert found.kept
    assert found.unsettled == 0
    assert found.carried_on == pytest.approx(75.0)
    assert found.solved.bound <= found.solved.solution.objective


def test_an_order_that_shrank_costs_less_and_is_planned_anew() -> None:
    """50 plants: 5 trays of ten rootstocks at .25 and 3 of twenty scions at .50."""
    smaller = with_rows(scenario(), "orders", lambda row: replace(row, quantity=50))
    found = replan(smaller, before().tables)
    assert not found.kept
    assert found.unsettled == 0
    assert plan_of(found.solved).cost == pytest.approx(42.5)


def test_a_last_plan_that_is_unknown_cannot_be_carried_on() -> None:
    other = with_rows(scenario(), "orders", lambda row: replace(row, due_day=day(31)))
    found = replan(other, before().tables)
    assert found.carried_on is None
    assert not found.kept
    assert plan_of(found.solved).cost == pytest.approx(75.0)


@pytest.mark.parametrize("penalty, short", [(0.08, 0.0), (0.069, 0.0), (0.068, 40.0), (0.01, 40.0)])
def test_a_promise_counts_ten_times_the_penalty_beside_the_penalty_itself(
    penalty: float, short: float
) -> None:
    """A plant costs .25 + .50 to grow, 11 times .069 is more and 11 times .068 is less."""
    firm = with_rows(scenario(), "orders", lambda row: replace(row, quantity=40))
    made = plan(firm)
    assert made.short == 0
    cheap = with_rows(firm, "orders", lambda row: replace(row, shortfall_penalty=penalty))
    assert plan(cheap).short == 40
    assert plan_of(replan(cheap, made.tables).solved).short == pytest.approx(short)
