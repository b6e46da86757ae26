"""Recourse at its edges: the holding limit of plants bought, whole deliveries, and what is over of them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.plan_tables import Plan
from model.risk.recourse import Recourse, recourse
from model.risk.simulation import simulate
from model.scenario.choices import Source
from model.scenario.entities import DayOff, Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan
from tests.by_hand import by_place
from tests.depth import deep
from tests.scenario_parts import WEEK, day, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

DUE = {"O-1": 15, "O-2": 17}
READY = {"early": 12, "late": 14}
"""Two flows of one product, grafted on days 7 and 9; the early one for O-1, the late one for O-2."""


def scenario(*offers: BuyInOffer, **changes: Any) -> Scenario:
    """Two orders of 60 at a penalty of 50, plants held at most 3 days."""
    orders = tuple(order(name, "Red on Stout", 60, due) for name, due in DUE.items())
    return replace(base_scenario(orders=orders, buy_in_offers=offers), **changes)


def offer(name: str = "neighbour", **changes: Any) -> BuyInOffer:
    """An offer of plants at 3.00, delivered on any day."""
    return replace(BuyInOffer(name, "Red on Stout", 3.0, 0, WEEK, None, None, 0, None), **changes)


@cache
def base_plan() -> Plan:
    return plan(base_scenario())


def planned(own: tuple[float, float] = (60.0, 60.0), **tables: list[tuple[Any, ...]]) -> Plan:
    """A plan that serves each order from a flow of its own; rows of other tables."""
    names = zip(DUE, READY.values(), own, strict=True)
    product, rows = "Red on Stout", [(name, day(at - 5), day(at), plants) for name, at, plants in names]
    flows = [
        (product, graft, "splice", 80.0, 8.0, 64.0, 8.0, 60.8, ready, n, 0, 0) for _, graft, ready, n in rows
    ]
    deliveries = [
        (name, product, "own", graft, None, ready, day(DUE[name]), day(DUE[name]), 0, plants, 0.0)
        for name, graft, ready, plants in rows
    ]
    orders = [
        (
            name,
            "Market farm",
            product,
            day(due),
            60,
            plants,
            0.0,
            60 - plants,
            0.0,
            0.0,
            0.0,
            None,
            0.0,
            50.0,
            None,
        )
        for (name, due), plants in zip(DUE.items(), own, strict=True)
    ]
    made = {"flows": flows, "deliveries": deliveries, "orders": orders, "buy_in": []} | tables
    return replace(base_plan(), **{name: by_place(name, made[name]) for name in made})


def after(of: Scenario, *finished: float, made: Plan | None = None) -> Recourse:
    """What is done with the plants finished of each flow in one season."""
    return recourse(of, made or planned(), np.array(finished, dtype=float)[:, None])


def short(found: Recourse) -> list[float]:
    return found.short[:, 0].tolist()


@pytest.mark.parametrize("limit, missing", [(4, 10.0), (5, 0.0), (6, 0.0)])
def test_plants_over_are_held_for_the_limit_and_not_a_day_longer(limit: int, missing: float) -> None:
    """10 over of day 12 for O-2, due on day 17: held 5 days."""
    held = with_rows(scenario(), "methods", lambda row: replace(row, holding_limit_days=limit))
    assert short(after(held, 70.0, 50.0)) == [0, missing]


@pytest.mark.parametrize("due, missing", [(13, 10.0), (14, 0.0), (15, 0.0)])
def test_plants_over_are_ready_by_the_packing_day(due: int, missing: float) -> None:
    """10 over of day 14 for O-1, which is packed on the day on which it is due."""
    late = with_rows(scenario(), "orders", lambda o: replace(o, due_day=day(due)) if o.order == "O-1" else o)
    assert short(after(late, 50.0, 70.0)) == [missing, 0]


def test_plants_over_are_ready_by_the_last_working_day_before_the_due_day() -> None:
    """With Mondays and Tuesdays off O-1 is packed on day 13, a Sunday: plants of day 14 come too late."""
    off = with_nursery(scenario(), working_weekdays=WEEK[2:])
    assert short(after(off, 50.0, 70.0)) == [10, 0]


def test_days_off_by_date_count_too() -> None:
    """With days 14 and 15 off O-1 is packed on day 13."""
    off = replace(scenario(), days_off=(DayOff(day(14)), DayOff(day(15))))
    assert short(after(off, 50.0, 70.0)) == [10, 0]


@pytest.mark.parametrize(
    "declined, bought, missing", [(0, 0, 10), (4, 0, 6), (0, 3, 7), (4, 3, 3), (10, 5, 0)]
)
def test_plants_declined_or_bought_as_planned_are_not_missing(
    declined: int, bought: int, missing: int
) -> None:
    made = planned()
    orders = made.orders.assign(declined=[declined, 0], bought=[float(bought), 0.0])
    assert short(after(scenario(), 50.0, 60.0, made=replace(made, orders=orders))) == [missing, 0]


@pytest.mark.parametrize("limit, days", [(0, 1), (1, 2), (3, 4), (5, 4)])
def test_plants_bought_are_held_for_the_limit_and_not_a_day_longer(limit: int, days: int) -> None:
    """O-1 fails on day 12 and is due on day 15: of a plant a delivery come as many as days are allowed."""
    held = with_rows(
        scenario(offer(most_per_delivery=1)), "methods", lambda m: replace(m, holding_limit_days=limit)
    )
    found = after(held, 50.0, 60.0)
    assert short(found) == [10 - days, 0]
    assert found.bought.tolist() == [days]
    assert found.buy_in_cost.tolist() == [3.0 * days]


@pytest.mark.parametrize(
    "changes, days",
    [
        ({}, 4),
        ({"lead_days": 1}, 3),
        ({"lead_days": 3}, 1),
        ({"lead_days": 4}, 0),
        ({"from_day": day(14)}, 2),
        ({"from_day": day(15)}, 1),
        ({"from_day": day(16)}, 0),
        ({"from_day": day(1)}, 4),
        ({"to_day": day(13)}, 2),
        ({"to_day": day(12)}, 1),
        ({"to_day": day(11)}, 0),
        ({"to_day": day(19)}, 4),
        ({"delivery_weekdays": ("Sun",)}, 1),
        ({"delivery_weekdays": ("Tue", "Wed")}, 1),
        ({"delivery_weekdays": ("Wed", "Thu")}, 0),
        ({"product": "another"}, 0),
    ],
)
def test_days_on_which_plants_bought_may_come(changes: dict[str, Any], days: int) -> None:
    """Days 12 (a Saturday) to 15 where nothing is said; a plant a delivery."""
    found = after(scenario(offer(most_per_delivery=1, **changes)), 50.0, 60.0)
    assert found.bought.tolist() == [days]
    assert short(found) == [10 - days, 0]


def test_nothing_is_bought_on_days_off() -> None:
    """Of days 12 to 15 the Sunday is off."""
    off = with_nursery(scenario(offer(most_per_delivery=1)), working_weekdays=WEEK[:6])
    assert after(off, 50.0, 60.0).bought.tolist() == [3]


def test_products_that_are_only_grown_are_not_bought() -> None:
    grown = with_rows(scenario(offer()), "products", lambda row: replace(row, source=Source.GROW))
    assert after(grown, 50.0, 60.0).bought.tolist() == [0]


def test_an_order_without_a_working_day_to_pack_gets_nothing_over_and_nothing_bought() -> None:
    """O-1 is due on day 0, which is a day off: what is over of either flow is never for it."""
    off = replace(
        with_rows(
            scenario(offer()), "orders", lambda o: replace(o, due_day=day(0)) if o.order == "O-1" else o
        ),
        days_off=(DayOff(day(0)),),
    )
    found = after(off, 50.0, 90.0)
    assert short(found) == [10, 0]
    assert found.bought.tolist() == [0]


def test_an_order_that_no_flow_serves_learns_of_no_loss() -> None:
    made = planned(own=(0.0, 60.0))
    made = replace(made, deliveries=made.deliveries[made.deliveries["order"] == "O-2"])
    found = after(scenario(offer()), 0.0, 60.0, made=made)
    assert short(found) == [60, 0]
    assert found.bought.tolist() == [0]
    # The order after it still does.
    other = after(scenario(offer()), 0.0, 50.0, made=made)
    assert short(other) == [60, 0]
    assert other.bought.tolist() == [10]


def test_offers_of_other_products_stand_in_no_order() -> None:
    other = offer("other", product="another", price=0.1)
    for offers in ((other, offer()), (offer(), other)):
        found = after(scenario(*offers), 50.0, 60.0)
        assert (short(found), found.bought.tolist(), found.buy_in_cost.tolist()) == ([0, 0], [10], [30])


def test_where_nothing_is_offered_nothing_is_bought_in_any_season() -> None:
    found = recourse(scenario(), planned(), np.array([[50.0, 60.0], [60.0, 60.0]]))
    assert found.bought.tolist() == found.buy_in_cost.tolist() == found.salvage.tolist() == [0, 0]
    assert found.short.tolist() == [[10, 0], [0, 0]]


@pytest.mark.parametrize(
    "price, least, bought",
    [(3.0, 0, 10.0), (3.0, 30, 30.0), (49.9, 0, 10.0), (50.0, 0, 0.0), (17.0, 30, 0.0)],
)
def test_a_delivery_is_bought_where_it_costs_less_than_the_penalty(
    price: float, least: int, bought: float
) -> None:
    """10 plants short cost 500: less than 30 at 17.00 or 10 at 50.00, more than the others."""
    found = after(scenario(offer(price=price, least_quantity=least)), 50.0, 60.0)
    assert found.bought.tolist() == [bought]
    assert found.buy_in_cost.tolist() == pytest.approx([bought * price])
    assert short(found) == [0.0 if bought else 10.0, 0.0]
    assert found.missing[:, 0].tolist() == [10, 0]
    assert found.delivered.tolist() == [120.0 if bought else 110.0]


def test_what_the_plan_has_in_a_delivery_counts_for_its_least_and_most() -> None:
    """The plan has 25 plants of day 15: of at least 30 only 5 more are forced, of at most 32 7 are left."""
    row = ("neighbour", "Red on Stout", "O-2", day(15), day(15), 25.0, 0.0, 3.0, 75.0)
    made = planned(buy_in=[row])
    only = offer(least_quantity=30, most_per_delivery=32, from_day=day(15), to_day=day(15))
    assert after(scenario(only), 58.0, 60.0, made=made).bought.tolist() == [5]
    full = after(scenario(only), 50.0, 60.0, made=made)
    assert full.bought.tolist() == [7]
    assert short(full) == [3, 0]
    # So many of two orders together are in the delivery as well.
    parts = [
        ("neighbour", "Red on Stout", name, day(15), day(15), n, 0.0, 3.0, 3 * n)
        for name, n in (("O-1", 5.0), ("O-2", 20.0))
    ]
    assert after(scenario(only), 50.0, 60.0, made=planned(buy_in=parts)).bought.tolist() == [7]


def test_a_least_quantity_is_paid_once_for_all_orders_of_a_delivery() -> None:
    """Both orders miss 10 and take them from the day-15 delivery: 30 are paid, once."""
    both = scenario(offer(least_quantity=30, from_day=day(15), to_day=day(15)))
    found = after(both, 50.0, 50.0)
    assert short(found) == [0, 0]
    assert found.bought.tolist() == [30]
    assert found.buy_in_cost.tolist() == [90]


def test_a_delivery_has_room_for_so_many_of_all_orders_together() -> None:
    """Each order misses 10, and the day-15 delivery takes 12: 2 are left for O-2."""
    both = scenario(offer(most_per_delivery=12, from_day=day(15), to_day=day(15)))
    found = after(both, 50.0, 50.0)
    assert short(found) == [0, 8]
    assert found.bought.tolist() == [12]


def test_a_delivery_counts_what_every_order_before_has_taken() -> None:
    """Three orders miss 5 each, and the day-15 delivery takes 12; the third is due on day 18."""
    made = planned()
    rows = {
        "flows": ("graft_day", day(10)),
        "deliveries": ("graft_day", day(10)),
        "orders": ("due_day", day(18)),
    }
    more = {
        name: pd.concat(
            [
                made.table(name),
                made.table(name)
                .iloc[1:]
                .assign(**{column: on}, **({} if name == "flows" else {"order": "O-3"})),
            ],
            ignore_index=True,
        )
        for name, (column, on) in rows.items()
    }
    orders = (*scenario().orders, order("O-3", "Red on Stout", 60, 18))
    only = offer(most_per_delivery=12, from_day=day(15), to_day=day(15))
    found = after(scenario(only, orders=orders), 55.0, 55.0, 55.0, made=replace(made, **more))
    assert short(found) == [0, 0, 3]


def test_every_offer_of_the_product_counts() -> None:
    few = offer("few", price=2.0, most_per_delivery=1, from_day=day(15), to_day=day(15))
    found = after(scenario(few, offer()), 50.0, 60.0)
    assert (short(found), found.buy_in_cost.tolist()) == ([0, 0], [2.0 + 9 * 3.0])


@pytest.mark.parametrize("most, left", [(10, 10), (11, 9), (20, 0)])
def test_a_full_delivery_has_room_for_none(most: int, left: int) -> None:
    both = scenario(offer(most_per_delivery=most, from_day=day(15), to_day=day(15)))
    assert short(after(both, 50.0, 50.0)) == [0, left]


def test_the_order_due_first_is_filled_first_wherever_it_stands_in_the_book() -> None:
    """One flow for both, 70 of 120 finished; the order due on day 15 stands second in the book."""
    late, early = "O-1", "O-2"
    due = {late: 17, early: 15}
    rows = [("Red on Stout", day(9), "splice", 160.0, 16.0, 128.0, 16.0, 121.6, day(14), 120.0, 0.0, 0.0)]
    deliveries = [
        (name, "Red on Stout", "own", day(9), None, day(14), day(due[name]), day(due[name]), 0, 60.0, 0.0)
        for name in (late, early)
    ]
    made = replace(planned(), flows=by_place("flows", rows), deliveries=by_place("deliveries", deliveries))
    book = with_rows(scenario(), "orders", lambda row: replace(row, due_day=day(due[row.order])))
    assert short(after(book, 70.0, made=made)) == [50, 0]


def test_surplus_is_what_is_finished_or_bought_for_no_order() -> None:
    """Seasons of one plan: what is finished and bought is delivered or over, plant by plant."""
    of = with_nursery(scenario(offer(least_quantity=200, price=2.0)), graft_margin=0.0)
    totals = simulate(of, plan(of, whole=False), seasons=200, seed=5).totals
    bought = totals["bought"] > 0
    assert bought.any()
    assert not bought.all()
    over = totals["finished"] + totals["bought"] - totals["delivered"]
    assert totals["surplus"].tolist() == pytest.approx(over.tolist())
    # Where 200 are bought for want of a few, nearly all of them are over.
    assert totals.loc[bought, "surplus"].min() > 80


@given(
    st.tuples(st.floats(0, 150), st.floats(0, 150)),
    st.integers(0, 6),
    st.integers(0, 4),
    st.sampled_from([0, 15, 40]),
    st.sampled_from([None, 5, 40]),
)
@settings(max_examples=deep(60))
def test_every_plant_is_somewhere(
    finished: tuple[float, float], limit: int, lead: int, least: int, most: int | None
) -> None:
    """Short never exceeds missing, bought covers their difference, and delivered is what orders got."""
    of = scenario(offer(lead_days=lead, least_quantity=min(least, most or least), most_per_delivery=most))
    of = with_rows(of, "methods", lambda row: replace(row, holding_limit_days=limit))
    found = after(of, *finished)
    used = (found.missing - found.short)[:, 0]
    assert (used >= 0).all()
    assert found.bought[0] >= used.sum() - 1e-9
    assert found.delivered[0] == pytest.approx(120 - found.short.sum())
    assert 120 - found.missing.sum() <= sum(finished) + 1e-9
    assert found.buy_in_cost[0] == pytest.approx(3.0 * found.bought[0])


def test_salvage_is_each_products_own() -> None:
    two = SPECIMENS["wave cost"].products[0]
    other = replace(two, product="other", salvage_price=9.0, salvage_most=500)
    of = scenario(products=(replace(two, salvage_price=4.0, salvage_most=15), other))
    assert after(of, 70.0, 70.0).salvage.tolist() == [60.0]
    assert after(of, 66.0, 60.0).salvage.tolist() == [24.0]
    seasons = recourse(of, planned(), np.array([[70.0, 66.0, 60.0], [70.0, 60.0, 60.0]]))
    assert seasons.salvage.tolist() == [60.0, 24.0, 0.0]
