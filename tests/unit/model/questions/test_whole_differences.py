"""What orders add to whole plans, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.questions.whole_differences import (
    declined_plants,
    in_full,
    order_declined,
    with_orders,
    with_quantity,
    without_order,
)
from model.scenario.choices import Decline, MethodKind, ZoneMode, ZoneUse
from model.scenario.entities import Order, Scenario
from model.scenario.records.trade import BuyInOffer, Pack
from model.solve import solve
from tests.scenario_parts import WORK, crew, day, method, order, pool
from tests.strategies import base_scenario, with_nursery, with_rows

DUE = 16
"""Due day of the base order."""

APART, TOGETHER = 87.5, 75.0
"""Seed of 60 more plants, in waves of their own and in those of the base order of 100.

A plant takes 1 / (.8 · .95 · .9) = 1.462 seedlings of each variety. A rootstock tray of 10 seeds at .25 gives
8.1, a scion tray of 20 seeds at .50 gives 16.2. So 60 plants take 11 and 6 trays, 27.50 + 60; 100 take 19 and
10, 147.50; 160 take 29 and 15, 222.50.
"""


def fixed_days(**changes: Any) -> Scenario:
    """The base with one graft day and one sowing day of each variety for each due day."""
    ages = {"rootstock_age_max": 4, "scion_age_max": 3}
    only = method("splice", MethodKind.ON_TRAY, holding_limit_days=0, **ages)
    return with_nursery(base_scenario(methods=(only,)), **changes)


def asked(scenario: Scenario, **changes: Any) -> Order:
    return replace(scenario.orders[0], **{"order": "asked", "quantity": 60, **changes})


def test_an_order_pays_for_the_waves_it_opens_and_not_for_those_open_already() -> None:
    """Two waves at 100 each stand for the base order. One due the next day needs two of its own."""
    scenario = fixed_days(wave_cost=100.0)
    book = solve(scenario)
    assert with_orders(book, [asked(scenario)]).adds == pytest.approx(TOGETHER)
    next_day = asked(scenario, due_day=day(DUE + 1))
    assert with_orders(book, [next_day]).adds == pytest.approx(200 + APART)


def in_units(zone: Any) -> Any:
    """The chamber in units of 1,000 slots at 0.10 a slot-day; other zones as they are."""
    if zone.zone != "Chamber":
        return zone
    units = {"mode": ZoneMode.UNITS, "units": 2, "unit_slots": 1000.0, "slots": None}
    return replace(zone, **units, cost_per_slot_day=0.1)


def test_a_unit_is_paid_whole_by_the_order_that_opens_it() -> None:
    """Three days of a unit cost 300. An order that rides in an open one pays nothing for it."""
    scenario = with_rows(fixed_days(), "zones", in_units)
    book = solve(scenario)
    assert with_orders(book, [asked(scenario)]).adds == pytest.approx(TOGETHER)
    assert with_orders(book, [asked(scenario, due_day=day(DUE + 1))]).adds == pytest.approx(300 + APART)


def test_a_unit_is_not_shut_for_an_order_that_is_declined() -> None:
    """Loaded on two days, a unit of the base order alone is still free after three, for 300.

    With an order due the next day it is shut for a fourth day, for 100. That order is worth taking from what
    a quote of it adds.
    """
    scenario = with_rows(
        with_rows(fixed_days(), "zones", in_units), "zones", lambda zone: replace(zone, load_days=2)
    )
    next_day = asked(scenario, due_day=day(DUE + 1), price=1.0)
    declined = replace(next_day, decline=Decline.WHOLE)
    alone, book = solve(scenario), solve(replace(scenario, orders=(*scenario.orders, declined)))
    assert declined_plants(book)["asked"] == 60
    assert book.solution.objective == pytest.approx(alone.solution.objective + 60 * 1.0)
    assert with_orders(alone, [next_day]).adds == pytest.approx(100 + APART)
    assert order_declined(book, "asked").adds == pytest.approx(100 + APART)


def test_what_was_added_is_what_is_saved() -> None:
    scenario = fixed_days(wave_cost=100.0)
    order = asked(scenario, due_day=day(DUE + 1))
    added = with_orders(solve(scenario), [order])
    saved = without_order(solve(replace(scenario, orders=(*scenario.orders, order))), "asked")
    assert saved.adds == pytest.approx(added.adds)
    assert (saved.delivered, saved.bought) == ({"asked": 60.0}, {"asked": 0.0})
    assert added.least <= added.adds <= added.most


def test_an_order_adds_the_same_whether_booked_or_asked_where_another_is_short_with_it() -> None:
    """Two orders of 50, of which the second is cheaper short by one, at 8.

    The hundredth plant takes a tray more of each variety, 2.50 + 10.

    50 plants take 10 and 5 trays, 25 + 50. All of both take 19 and 10, 47.50 + 100. So each adds 72.50 where
    neither is short, and the second 12.50 less where it is.
    """
    scenario = fixed_days()
    first = replace(scenario.orders[0], order="first", quantity=50)
    second = replace(first, order="second", shortfall_penalty=8.0)
    book = solve(replace(scenario, orders=(first, second)))
    assert book.solution.objective == pytest.approx(147.5 - 12.5 + 8)
    added = without_order(book, "first")
    assert (added.shorter, added.delivered["first"]) == ((), 50)
    assert added.adds == pytest.approx(72.5)
    assert with_orders(solve(replace(scenario, orders=(second,))), [first]).adds == pytest.approx(72.5)
    found = with_orders(solve(replace(scenario, orders=(first,))), [second])
    assert (found.delivered["second"], found.adds) == (49, pytest.approx(60.0))
    full = in_full(found, second)
    assert full is not None
    assert (full.delivered["second"], full.adds) == (50, pytest.approx(72.5))
    choice = replace(second, decline=Decline.WHOLE, price=1.0)
    assert order_declined(solve(replace(scenario, orders=(first, choice))), "second").adds == pytest.approx(
        72.5
    )


def test_an_order_that_cannot_be_delivered_in_full_is_not() -> None:
    """Half of its seed is there, and none can be bought."""
    scenario = fixed_days()
    scenario = replace(
        scenario,
        packs=(),
        seed_lots=tuple(replace(row, stock=110) for row in scenario.seed_lots),
        orders=(replace(scenario.orders[0], quantity=20),),
    )
    more = asked(scenario)
    found = with_orders(solve(scenario), [more])
    assert 0 < found.delivered["asked"] < 60
    assert in_full(found, more) is None


def test_penalties_of_the_orders_asked_for_are_not_what_they_add() -> None:
    """Without slots nothing is grafted: an order adds nothing, and nothing of it is delivered."""
    scenario = with_rows(fixed_days(), "zones", lambda zone: replace(zone, slots=0.0))
    found = with_orders(solve(scenario), [asked(scenario)])
    assert (found.adds, found.delivered) == (pytest.approx(0.0), {"asked": pytest.approx(0.0)})


def test_a_book_that_must_give_way_is_told() -> None:
    """Room for one order only. The dearer penalty of the one asked for takes the room of the booked one."""
    scenario = fixed_days()
    tight = with_rows(scenario, "zones", lambda zone: replace(zone, slots=11.0))
    book = solve(tight)
    dear = with_orders(book, [asked(tight, quantity=100, shortfall_penalty=1000.0)])
    assert not dear.shorter
    assert dear.delivered["asked"] < 100


def test_a_quantity_of_nothing_takes_the_order_out() -> None:
    scenario = fixed_days()
    two = replace(scenario, orders=(*scenario.orders, asked(scenario)))
    assert with_quantity(two, "asked", 0.0) == scenario
    assert with_quantity(two, "asked", 40.0).orders[1].quantity == 40


def lumpy_book() -> Scenario:
    """Packs, a fixed cost of waves, few hands, a small chamber, and deliveries of 60 plants or more.

    Its best plan buys all plants and declines the order C.
    """
    base = with_nursery(base_scenario(), wave_cost=40.0, last_day=day(24))
    red = base.products[0].product
    grafters = crew("Grafters", "grafting", hours_per_head_day=1.0, pay_per_hour=25.0)
    return replace(
        base,
        orders=(
            order("A", red, 90, 16, price=3.5),
            order("B", red, 40, 18, price=6.0),
            order("C", red, 25, 21, price=1.0, decline=Decline.WHOLE),
            order("D", red, 150, 20, price=4.0),
        ),
        crews=(crew("Growers", "general", heads=2.0), grafters),
        labour_standards=WORK,
        packs=(Pack("Red A", 100.0, 30.0), Pack("Red A", 500.0, 110.0), Pack("Stout A", 50.0, 14.0)),
        zones=(*base.zones[:2], pool("Chamber", ZoneUse.HEALING, 14.0, 0.1), base.zones[3]),
        buy_in_offers=(BuyInOffer("Neighbour", red, 5.0, 5, ("Tue", "Thu"), None, None, 60, None),),
    )


def test_taking_a_declined_order_adds_what_a_quote_of_it_adds() -> None:
    """By one dive alone it would add two fifths more."""
    book = lumpy_book()
    solved = solve(book)
    assert declined_plants(solved)["C"] == 25
    asked = replace(book.orders[2], decline=Decline.NO)
    quoted = with_orders(solve(replace(book, orders=(*book.orders[:2], book.orders[3]))), [asked])
    taken = order_declined(solved, "C")
    assert (taken.short, taken.shorter) == (0, ())
    assert quoted.adds == pytest.approx(taken.adds)
    assert quoted.least == pytest.approx(quoted.most)
