"""Relations between the optima of a scenario and of the same scenario changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import product
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from model.scenario.choices import Decline, MarginPolicy, PayBasis, Source, TaskPer
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan
from tests.depth import deep, some
from tests.least import least
from tests.scenario_parts import WEEK, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_firm_margins, with_nursery, with_rows

SAME = 1e-6


def slack(cost: float) -> float:
    """What rounding in the solver may do to a cost."""
    return SAME * max(1.0, abs(cost))


def same(a: float, b: float) -> bool:
    """Equal but for rounding."""
    return abs(a - b) <= slack(max(abs(a), abs(b)))


def later(scenario: Scenario, days: int) -> Scenario:
    """The scenario with all its dates moved."""
    by = timedelta(days=days)

    def moved(row: Any) -> Any:
        dates = ("first_day", "last_day", "due_day", "day", "from_day", "to_day", "sow_day", "ordered_day")
        dates += ("graft_day", "rootstock_sow_day")
        held = {name: getattr(row, name, None) for name in dates}
        return replace(row, **{name: value + by for name, value in held.items() if value is not None})

    tables = {"nursery": moved(scenario.nursery)}
    for name in (
        "orders",
        "zone_days",
        "bays",
        "crew_days",
        "days_off",
        "buy_in_offers",
        "trays_on_hand",
        "plants_on_hand",
        "list_prices",
        "inquiries",
        "runs",
    ):
        tables[name] = tuple(moved(row) for row in getattr(scenario, name))
    return replace(scenario, **tables)


def idle_before(scenario: Scenario, days: int) -> Scenario:
    """The scenario with days before it on which nothing that was possible comes about sooner."""
    moved = later(scenario, days)
    return replace(
        with_nursery(moved, first_day=scenario.nursery.first_day),
        seed_lots=tuple(replace(row, lead_days=row.lead_days + days) for row in scenario.seed_lots),
    )


@settings(max_examples=deep(25))
@given(small_scenarios(), st.sampled_from([7, 14, 364]))
def test_other_dates_same_weekdays(scenario: Scenario, days: int) -> None:
    assert same(least(later(scenario, days)), least(scenario))


@pytest.mark.parametrize("days", [1, 3, 10])
def test_lead_time_with_due_days_moved(days: int) -> None:
    """Seed that comes L days later for orders due L days later costs the same."""
    tight = base_scenario(
        seed_lots=tuple(replace(row, stock=0, lead_days=3) for row in base_scenario().seed_lots),
        orders=(order("O-1", "Red on Stout", 100, 13), order("O-2", "Red on Stout", 30, 12)),
        zones=tuple(replace(zone, cost_per_slot_day=0.2) for zone in base_scenario().zones),
    )
    assert same(least(idle_before(tight, days)), least(tight))


@pytest.mark.parametrize("share", [0.5, 0.8])
@pytest.mark.parametrize("name", ["own-root", "on-tray", "root-cut", "salvage"])
def test_constant_survival_with_all_else_per_start_scaled(name: str, share: float) -> None:
    """Survival lower by a share, with costs and room per start scaled to it, changes nothing."""
    sure = with_rows(SPECIMENS[name], "methods", lambda row: replace(row, finish_survival=1.0))
    lossy = with_rows(SPECIMENS[name], "methods", lambda row: replace(row, finish_survival=share))
    lossy = with_rows(lossy, "packs", lambda row: replace(row, price=row.price * share))
    lossy = with_rows(lossy, "zones", _start_room(share))
    assert same(least(lossy), least(sure))


def _start_room(share: float) -> Any:
    def scaled(zone: Any) -> Any:
        return replace(zone, slots=zone.slots / share, cost_per_slot_day=zone.cost_per_slot_day * share)

    return scaled


@settings(max_examples=deep(25))
@given(small_scenarios(), st.sampled_from([2, 3, 5]))
def test_trays_of_more_cells_scale_all(scenario: Scenario, k: int) -> None:
    """Cells, orders and stocks times k, with what is per plant or seed a k-th, changes nothing."""
    scenario = with_firm_margins(scenario)
    assert same(least(_scaled(scenario, k)), least(scenario))


def _scaled(scenario: Scenario, k: int) -> Scenario:
    per_plant = {"graft", "stick", "grade", "pack"}
    scaled = with_rows(scenario, "tray_formats", lambda r: replace(r, cells=r.cells * k))
    scaled = with_nursery(scaled, shortfall_penalty=scaled.nursery.shortfall_penalty / k)
    scaled = with_rows(
        scaled,
        "orders",
        lambda r: replace(
            r,
            quantity=r.quantity * k,
            price=None if r.price is None else r.price / k,
            shortfall_penalty=None if r.shortfall_penalty is None else r.shortfall_penalty / k,
        ),
    )
    scaled = with_rows(
        scaled,
        "products",
        lambda r: replace(r, salvage_price=r.salvage_price / k, salvage_most=r.salvage_most * k),
    )
    scaled = with_rows(scaled, "seed_lots", lambda r: replace(r, stock=r.stock * k))
    lots = {row.lot for row in scaled.seed_lots}
    scaled = with_rows(scaled, "packs", lambda r: replace(r, size=r.size * k) if r.item in lots else r)
    scaled = with_rows(
        scaled,
        "labour_standards",
        lambda r: replace(r, seconds=r.seconds / k) if r.task.value in per_plant else r,
    )
    scaled = with_rows(
        scaled,
        "piece_rates",
        lambda r: replace(r, pay_per_piece=r.pay_per_piece / k) if r.task.value in per_plant else r,
    )
    scaled = with_rows(
        scaled,
        "supply_uses",
        lambda r: replace(r, quantity=r.quantity / k) if r.per.value in ("join", "plant delivered") else r,
    )
    scaled = with_rows(
        scaled,
        "own_tasks",
        lambda r: r if r.per is TaskPer.TRAY else replace(r, seconds=r.seconds / k, quantity=r.quantity / k),
    )
    scaled = with_rows(
        scaled,
        "trays_on_hand",
        lambda r: replace(r, seedlings=None if r.seedlings is None else r.seedlings * k),
    )
    scaled = with_rows(
        scaled,
        "methods",
        lambda r: replace(r, least_batch=None if r.least_batch is None else r.least_batch * k),
    )
    scaled = with_rows(scaled, "plants_on_hand", lambda r: replace(r, plants=r.plants * k))
    return with_rows(
        scaled,
        "buy_in_offers",
        lambda r: replace(
            r,
            price=r.price / k,
            least_quantity=r.least_quantity * k,
            most_per_delivery=None if r.most_per_delivery is None else r.most_per_delivery * k,
        ),
    )


@settings(max_examples=deep(25))
@given(small_scenarios(), st.integers(0, 3), st.floats(0.05, 0.95))
def test_an_order_in_two_parts(scenario: Scenario, which: int, share: float) -> None:
    scenario = replace(with_firm_margins(scenario), customers=())  # parts would ride in more whole trays
    whole = scenario.orders[which % len(scenario.orders)]
    first = round(whole.quantity * share)
    assume(0 < first < whole.quantity)
    parts = (
        replace(whole, order="part 1", quantity=first),
        replace(whole, order="part 2", quantity=whole.quantity - first),
    )
    others = tuple(row for row in scenario.orders if row is not whole)
    assert same(least(replace(scenario, orders=(*others, *parts))), least(scenario))


def more_slots(scenario: Scenario) -> Scenario:
    """A little more room everywhere."""

    def roomier(row: Any) -> Any:
        amounts = {name: getattr(row, name) for name in ("slots", "units")}
        return replace(row, **{name: value + 1 for name, value in amounts.items() if value is not None})

    wider = with_rows(scenario, "runs", lambda row: replace(row, trays=row.trays + 1))
    return with_rows(with_rows(wider, "zones", roomier), "zone_days", roomier)


def more_hours(scenario: Scenario) -> Scenario:
    """More hands of crews paid as used, without guaranteed hours, and more overtime of all."""

    def stronger(row: Any) -> Any:
        used = row.pay_basis is PayBasis.USED and row.guaranteed_hours_per_head_week is None
        return replace(
            row,
            heads=row.heads + (0.5 if used else 0.0),
            overtime_hours_per_head_day=row.overtime_hours_per_head_day + 1.0,
            temp_heads_most=row.temp_heads_most + 1,
        )

    return with_rows(scenario, "crews", stronger)


def more_offers(scenario: Scenario) -> Scenario:
    """One more offer."""
    offer = BuyInOffer("more", scenario.orders[0].product, 2.0, 0, WEEK, None, None, 0, None)
    return replace(scenario, buy_in_offers=(*scenario.buy_in_offers, offer))


def more_seed(scenario: Scenario) -> Scenario:
    """More seed on hand."""
    return with_rows(scenario, "seed_lots", lambda row: replace(row, stock=row.stock + 40))


@pytest.mark.parametrize("more", [more_slots, more_hours, more_offers, more_seed])
@settings(max_examples=deep(15))
@given(scenario=small_scenarios())
def test_more_of_anything_never_costs_more(more: Any, scenario: Scenario) -> None:
    before = least(scenario)
    assert least(more(scenario)) <= before + slack(before)


@pytest.mark.parametrize(
    "more, name", some(product([more_slots, more_hours, more_offers, more_seed], SPECIMENS))
)
def test_more_of_anything_never_costs_more_whole(more: Any, name: str) -> None:
    before = least(SPECIMENS[name], whole=True)
    assert least(more(SPECIMENS[name]), whole=True) <= before + slack(before)


def test_more_room_pays_where_the_chamber_is_tight() -> None:
    assert least(more_slots(SPECIMENS["tight chamber"])) < least(SPECIMENS["tight chamber"]) - 1
    assert least(more_offers(SPECIMENS["tight chamber"])) < least(SPECIMENS["tight chamber"]) - 1
    assert least(more_hours(SPECIMENS["temporary hands"])) < least(SPECIMENS["temporary hands"]) - 1


@settings(max_examples=deep(15))
@given(small_scenarios(), st.floats(0.2, 0.95), st.floats(0.2, 0.99))
def test_surer_service_never_costs_less(scenario: Scenario, one: float, other: float) -> None:
    scenario = with_nursery(scenario, margin_policy=MarginPolicy.LEVEL, wave_cost=0.0)
    scenario = with_rows(scenario, "orders", lambda row: replace(row, service_level=None))
    low, high = (with_nursery(scenario, service_level=level) for level in sorted((one, other)))
    assert least(low) <= least(high) + slack(least(high))


@settings(max_examples=deep(25))
@given(small_scenarios(), st.integers(0, 3))
def test_one_more_plant_costs_its_dual(scenario: Scenario, which: int) -> None:
    """Where the range of the dual allows; margins and bounds that move with the order put aside."""
    scenario = with_nursery(replace(with_firm_margins(scenario), customers=()), wave_cost=0.0)
    scenario = with_nursery(scenario, change_over_seconds=0.0, change_over_skill=None)
    scenario = with_rows(scenario, "buy_in_offers", lambda row: replace(row, most_per_delivery=60))
    scenario = with_rows(scenario, "orders", lambda row: replace(row, decline=Decline.PART))
    asked = scenario.orders[which % len(scenario.orders)]
    prices = plan(scenario, whole=False).shadow_prices
    row = prices[(prices["limit"] == "order") & (prices["name"] == asked.order)].iloc[0]
    grown = replace(asked, quantity=asked.quantity + 1)
    others = tuple(grown if row is asked else row for row in scenario.orders)
    extra = least(replace(scenario, orders=others)) - least(scenario)
    room = slack(least(scenario))
    if row["high"] is None or row["high"] >= row["at"] + 1:
        assert abs(extra - row["value"]) <= room
    assert extra >= row["value"] - room


@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize("of_least", [0, 60])
def test_one_more_plant_of_an_order_bought_in_without_a_cap_costs_the_offer(
    whole: bool, of_least: int
) -> None:
    """Not its penalty: as many may be bought as are ordered, however many that is."""
    offer = BuyInOffer("Neighbour", "Red on Stout", 0.92, 5, WEEK, None, None, of_least, None)
    bought = with_rows(base_scenario(), "products", lambda row: replace(row, source=Source.BUY))
    scenario = with_nursery(replace(bought, buy_in_offers=(offer,)), shortfall_penalty=3.5)
    found = plan(scenario, whole=whole)
    prices = found.shadow_prices
    assert prices["value"][prices["limit"] == "order"].tolist() == pytest.approx([0.92])
    more = with_rows(scenario, "orders", lambda row: replace(row, quantity=row.quantity + 1))
    assert plan(more, whole=whole).cost - found.cost == pytest.approx(0.92)


def test_dual_of_the_plain_scenario() -> None:
    """With room for all, one more plant costs its seed: 1.35369 worked by hand."""
    prices = plan(base_scenario(), whole=False).shadow_prices
    order_price = prices[prices["limit"] == "order"].iloc[0]
    assert order_price["value"] == pytest.approx(0.75 / (0.8 * 0.95 * 0.9 * 0.81))
    assert order_price["high"] is None or order_price["high"] >= 101
