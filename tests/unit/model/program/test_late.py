"""Plants that come late: which days they may come, what they cost, and when they do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.network.expansion import expand
from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan
from tests.scenario_parts import day
from tests.specimens import OWN_ROOT
from tests.strategies import base_scenario, with_nursery, with_rows

WEEKLY, PRICE = 0.14, 5.0
"""Discount a week and price: a plant that comes late costs 0.14 · 5 = 0.7 for each week begun."""


def nursery(due: int = 6, late: int = 7, **changes: object) -> Scenario:
    """100 own-root plants; seedlings are moved on from day 3 at the earliest, and ready four days later."""
    base = base_scenario(**OWN_ROOT)
    terms = {"price": PRICE, "late_days_most": late, "late_discount": WEEKLY} | changes
    return with_rows(base, "orders", lambda row: replace(row, due_day=day(due), **terms))


def lateness(made: Plan) -> dict[int, float]:
    """Plants by days late."""
    found: dict[int, float] = {}
    for days, plants in rows_of(made.deliveries, "days_late", "plants"):
        found[days] = found.get(days, 0.0) + plants
    return found


def first_ready(of: Scenario) -> int:
    return min(flow.ready for flow in expand(of).flows)


@pytest.mark.parametrize(("days", "weeks"), [(1, 1), (7, 1), (8, 2)])
def test_a_late_plant_costs_the_discount_for_each_week_begun(days: int, weeks: int) -> None:
    """Plants ready on the last day they may come, and the same order due then: only the discount differs."""
    last = with_nursery(nursery(due=16), first_day=day(8))
    ready = first_ready(with_rows(last, "orders", lambda row: replace(row, late_days_most=0)))
    of = with_rows(
        last, "orders", lambda row: replace(row, due_day=day(8 + ready - days), late_days_most=days)
    )
    late, in_time = plan(of), plan(with_rows(of, "orders", lambda row: replace(row, due_day=day(8 + ready))))
    assert lateness(late) == {days: pytest.approx(100)}
    assert late.cost - in_time.cost == pytest.approx(100 * PRICE * WEEKLY * weeks)
    assert late.orders["late_discount"].tolist() == [pytest.approx(late.cost - in_time.cost)]
    assert all(check.passed for check in audit(of, late))


@pytest.mark.parametrize(
    "changes",
    [{"late": 0}, {"late_days_most": None}, {"late": 1, "due": 4}, {"shortfall_penalty": 0.65}],
    ids=["not at all", "nursery says nothing", "too few days", "short is cheaper"],
)
def test_an_order_is_short_where_it_may_not_or_need_not_be_late(changes: dict[str, object]) -> None:
    made = plan(nursery(**changes))  # type: ignore[arg-type]
    assert (made.short, lateness(made)) == (100, {})


def test_the_nursery_speaks_for_orders_that_say_nothing() -> None:
    of = nursery(late_days_most=None, late_discount=None)
    of = with_nursery(of, late_days_most=7, late_discount=WEEKLY)
    assert plan(of).cost == pytest.approx(plan(nursery()).cost)


def test_nobody_is_late_who_can_be_in_time() -> None:
    assert set(lateness(plan(nursery(due=16)))) == {0}


def test_plants_bought_in_may_be_late_too() -> None:
    """An offer that delivers 9 days after the first, 3 days late or so, at 0.7 beside its price."""
    offer = BuyInOffer("far", "Red plain", 0.2, 9, ("Wed",), None, None, 0, None)
    of = replace(nursery(late=4), buy_in_offers=(offer,))
    made = plan(of)
    arrival = expand(of).buy_ins[0].day
    assert lateness(made) == {arrival - 6: pytest.approx(100)}
    assert made.cost == pytest.approx(100 * (0.2 + 0.7))
    assert all(check.passed for check in audit(of, made))


def test_late_plants_are_packed_and_delivered_on_the_day_on_which_they_are_ready() -> None:
    made = plan(nursery())
    ready = made.flows["ready_day"].iloc[0]
    assert made.deliveries["pack_day"].tolist() == [ready]
    jobs = {step: on for step, on in rows_of(made.jobs, "step", "day") if step in ("pack", "deliver")}
    assert jobs == {"pack": ready, "deliver": ready}
