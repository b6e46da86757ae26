"""Relief cures every shortfall, and none of it can be left out or made smaller."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from model.scenario.choices import MarginPolicy, ZoneMode
from model.scenario.entities import Scenario
from model.scenario.records.trade import Pack
from model.shortage.relief import STEPS, Granted, Item, least_relief
from tests.depth import deep
from tests.strategies import small_scenarios, with_nursery, with_rows

Draw = Callable[[st.SearchStrategy[Any]], Any]


def fewer_slots(scenario: Scenario, draw: Draw) -> Scenario:
    zone = draw(st.sampled_from([zone.zone for zone in scenario.zones]))
    share = draw(st.sampled_from([0.0, 0.1, 0.3]))

    def less(row: Any) -> Any:
        if row.zone != zone:
            return row
        if row.mode is ZoneMode.POOL:
            return replace(row, slots=row.slots * share)
        return replace(row, units=int(row.units * share))

    kept = tuple(change for change in scenario.zone_days if change.zone != zone)
    return with_rows(replace(scenario, zone_days=kept, modules=()), "zones", less)


def fewer_hands(scenario: Scenario, draw: Draw) -> Scenario:
    assume(scenario.crews)
    heads = draw(st.sampled_from([0.0, 0.01, 0.05]))
    none_more = replace(scenario, crew_days=())
    return with_rows(none_more, "crews", lambda row: replace(row, heads=heads, temp_heads_most=0))


def due_earlier(scenario: Scenario, draw: Draw) -> Scenario:
    days = draw(st.integers(1, 12))
    first = scenario.nursery.first_day

    def earlier(row: Any) -> Any:
        return replace(row, due_day=max(first, row.due_day - timedelta(days=days)))

    return with_rows(scenario, "orders", earlier)


def starts_later(scenario: Scenario, draw: Draw) -> Scenario:
    latest = min(order.due_day for order in scenario.orders)
    span = (latest - scenario.nursery.first_day).days
    days = draw(st.integers(1, max(span, 1)))
    return with_nursery(scenario, first_day=scenario.nursery.first_day + timedelta(days=min(days, span)))


def low_penalty(scenario: Scenario, draw: Draw) -> Scenario:
    penalty = draw(st.sampled_from([0.0, 0.05, 0.5]))
    return with_rows(scenario, "orders", lambda row: replace(row, shortfall_penalty=penalty))


def little_seed(scenario: Scenario, draw: Draw) -> Scenario:
    stock, lead = draw(st.sampled_from([0, 20])), draw(st.sampled_from([3, 25]))
    few = with_rows(scenario, "seed_lots", lambda row: replace(row, stock=stock, lead_days=lead))
    return replace(few, packs=(*few.packs, Pack(few.seed_lots[0].lot, 500.0, 60.0)))


TIGHTER = (fewer_slots, fewer_hands, due_earlier, starts_later, low_penalty, little_seed)


@st.composite
def short_scenarios(draw: Draw) -> Scenario:
    """Small scenarios made short on purpose."""
    scenario = draw(small_scenarios())
    if scenario.nursery.margin_policy is MarginPolicy.PRICED:  # wants penalties above the cost of a plant
        scenario = with_nursery(scenario, margin_policy=MarginPolicy.LEVEL)
    for tighter in draw(st.lists(st.sampled_from(TIGHTER), min_size=1, max_size=3, unique=True)):
        scenario = tighter(scenario, draw)
    return scenario


def a_little_less(item: Item) -> Item:
    """The item smaller by one slot, unit, tenth of an hour, seed, plant, day or hundredth."""
    if item.kind in ("due day", "first day"):
        assert item.day is not None
        back = timedelta(days=1 if item.kind == "first day" else -1)
        return replace(item, day=item.day + back, amount=item.amount - 1)
    return replace(item, amount=item.amount - STEPS[item.kind])


@given(short_scenarios())
@settings(max_examples=deep(60))
def test_relief_cures_and_is_least(scenario: Scenario) -> None:
    relief = least_relief(scenario)
    assume(relief.short)
    beyond = set(relief.beyond)
    assert relief.short == Granted(scenario).short(())
    assert not set(Granted(scenario).short(relief.items)) - beyond
    for item, proof in zip(relief.items, relief.proof, strict=True):
        others = [other for other in relief.items if other is not item]
        short = Granted(scenario).short(others)
        assert set(short) - beyond
        assert proof == pytest.approx(sum(short[name] for name in set(short) - beyond))
        assert item.orders
        assert set(item.orders) <= set(relief.short)
        assert item.amount > 0
        smaller = a_little_less(item)
        assert set(Granted(scenario).short([*others, smaller])) - beyond
    assert set(relief.short) - beyond <= {order for item in relief.items for order in item.orders}
