"""Whole plans keep relations that need no optimum: copies of a nursery, more of anything, deliveries."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.plan_tables import Plan
from model.proof.audit import audit
from model.scenario.choices import PayBasis, ZoneMode, ZoneUse
from model.scenario.entities import Scenario, Zone
from model.scenario.records.people import Crew
from model.scenario.records.trade import BuyInOffer, Pack
from model.solve import plan, plan_of, solve
from tests.copies import copies
from tests.depth import PROFILE, deep
from tests.least import least
from tests.scenario_parts import WORK, day, order, pool, units
from tests.specimens import HANDS, SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_nursery, with_rows

NEAR, LUMPY = 0.0025, 0.01
"""Shares by which a plan may be dearer than another tells it could be; ``LUMPY``: copies with fixed costs."""


def sound(scenario: Scenario) -> Plan:
    """The plan, which stands the audit."""
    made = plan_of(solve(scenario))
    assert [check for check in audit(scenario, made) if not check.passed] == []
    return made


def book(
    wave_cost: float = 0.0,
    *,
    packs: bool = False,
    work: bool = False,
    in_units: bool = False,
    bought: bool = False,
) -> Scenario:
    """Three orders of one grafted product, due three days apart, with windows two days wide.

    ``bought``: a small chamber, and an offer of at least 45 plants, which each order may exceed.
    """
    base = base_scenario()
    scenario = replace(
        with_nursery(base, last_day=day(21), wave_cost=wave_cost),
        orders=tuple(order(f"O-{n}", "Red on Stout", 40 + 30 * n, 14 + 3 * n) for n in range(3)),
    )
    if packs:
        sizes = (Pack("Red A", 100.0, 30.0), Pack("Red A", 500.0, 110.0), Pack("Stout A", 50.0, 14.0))
        scenario = replace(scenario, packs=sizes)
    if work:
        scenario = replace(scenario, labour_standards=WORK, crews=HANDS)
    if in_units:
        zones = (*base.zones[:2], units("Chamber", 3, 8.0, 2, 0.3), base.zones[3])
        scenario = replace(scenario, zones=zones)
    if bought:
        small = pool("Chamber", ZoneUse.HEALING, 9.0, 0.1)
        zones = tuple(
            small if zone.use is ZoneUse.HEALING and not in_units else zone for zone in scenario.zones
        )
        offer = BuyInOffer("Neighbour", "Red on Stout", 3.0, 5, ("Tue", "Thu"), None, None, 45, 90)
        scenario = replace(scenario, zones=zones, buy_in_offers=(offer,))
    return scenario


def check_copies(scenario: Scenario, count: int) -> None:
    """So many copies cost so many times one."""
    # The nursery has one row for all copies, and so one skill for changing over.
    scenario = with_nursery(scenario, overhead=0.0, change_over_seconds=0.0, change_over_skill=None)
    one, many = least(scenario, whole=True), sound(copies(scenario, count)).facts.objective
    near = LUMPY if scenario.nursery.wave_cost else NEAR
    assert many == pytest.approx(count * one, rel=near, abs=1e-6)


@pytest.mark.parametrize("name", SPECIMENS)
def test_copies_of_specimens(name: str) -> None:
    check_copies(SPECIMENS[name], 3)


@given(
    st.integers(2, 5),
    st.sampled_from([0.0, 12.0, 60.0, 300.0]),
    st.sets(st.sampled_from(["packs", "work", "in_units", "bought"])),
)
@settings(max_examples=deep(6))
def test_copies_of_a_book(count: int, wave_cost: float, features: set[str]) -> None:
    check_copies(book(wave_cost, **dict.fromkeys(sorted(features), True)), count)


def test_copies_of_lot_sizes_cost_the_same_to_the_cent() -> None:
    """Three copies of a book with a fixed cost of a wave cost three times one, to the cent."""
    one = SPECIMENS["wave cost"]
    cost = least(one, whole=True)
    assert least(copies(one, 3), whole=True) == pytest.approx(3 * cost, abs=0.01)


def bought_in(of_least: int, quantity: int, price: float = 3.0) -> Scenario:
    """An order that can only be bought in, from an offer of at least so many plants."""
    base = base_scenario(orders=(order("O-1", "Red on Stout", quantity, 16),), seed_lots=())
    offer = BuyInOffer("Neighbour", "Red on Stout", price, 2, ("Tue",), None, None, of_least, None)
    return replace(base, packs=(), buy_in_offers=(offer,))


def test_a_delivery_may_exceed_what_is_needed() -> None:
    made = sound(bought_in(400, 399))
    assert made.short == 0
    assert made.buy_in[["plants", "spare", "amount"]].to_numpy().tolist() == [[399.0, 1.0, 1200.0]]


def test_nothing_is_bought_where_the_least_costs_more_than_the_penalty() -> None:
    made = sound(bought_in(400, 10))
    assert made.short == 10
    assert made.buy_in.empty


@pytest.mark.parametrize("of_least", [0, 1, 40])
def test_one_more_plant_bought_in_without_a_cap_costs_what_the_offer_asks(of_least: int) -> None:
    """And not the penalty, though no more is bought than the order needs."""
    prices = plan_of(solve(bought_in(of_least, 100, 0.92))).shadow_prices
    assert prices[prices["limit"] == "order"]["value"].tolist() == pytest.approx([0.92])


STEPS, HALF_HOURS = (range(14), range(27)) if PROFILE == "ci" else (range(0, 14, 4), range(0, 27, 6))
"""Steps of one slot, of 20 seeds in stock or of 3 plants offered; and of half an hour."""


def check_steps(scenarios: list[Scenario]) -> None:
    """No scenario costs more than one that has less of something."""
    cheapest = float("inf")
    for scenario in scenarios:
        made = sound(scenario)
        assert made.facts.objective <= cheapest * (1 + NEAR) + 1e-6
        cheapest = min(cheapest, made.facts.objective)


@pytest.mark.deep
@pytest.mark.parametrize("wave_cost", [0.0, 60.0])
def test_more_hours_a_week_never_cost_more(wave_cost: float) -> None:
    hours = [replace(HANDS[1], week_hours_per_head=8.0 + step / 2) for step in HALF_HOURS]
    of = book(wave_cost, work=True)
    check_steps([replace(of, crews=(HANDS[0], crew)) for crew in hours])


@pytest.mark.deep
@pytest.mark.parametrize("use", [ZoneUse.HEALING, ZoneUse.BENCH])
def test_more_slots_never_cost_more(use: ZoneUse) -> None:
    of, first = book(30.0, packs=True), 8.0 if use is ZoneUse.HEALING else 14.0
    check_steps(
        [
            with_rows(
                of, "zones", lambda row, n=step: replace(row, slots=first + n) if row.use is use else row
            )
            for step in STEPS
        ]
    )


@pytest.mark.deep
def test_more_stock_never_costs_more() -> None:
    of = book(30.0, packs=True)
    check_steps(
        [with_rows(of, "seed_lots", lambda row, n=step: replace(row, stock=20 * n)) for step in STEPS]
    )


@pytest.mark.deep
def test_a_larger_offer_never_costs_more() -> None:
    chamber = pool("Chamber", ZoneUse.HEALING, 8.0)
    of = with_rows(book(30.0), "zones", lambda row: chamber if row.use is ZoneUse.HEALING else row)
    offer = BuyInOffer("Neighbour", "Red on Stout", 4.0, 5, ("Tue", "Thu"), None, None, 30, 30)
    check_steps(
        [replace(of, buy_in_offers=(replace(offer, most_per_delivery=30 + 3 * step),)) for step in STEPS]
    )


def roomier(use: ZoneUse) -> Callable[[Scenario, int], Scenario]:
    """So many slots more, or units, in the zones of a use."""

    def more(row: Zone, step: int) -> Zone:
        if row.use is not use:
            return row
        if row.mode is ZoneMode.UNITS:
            return replace(row, units=(row.units or 0) + step)
        return replace(row, slots=(row.slots or 0.0) + step)

    return lambda scenario, step: with_rows(scenario, "zones", lambda row: more(row, step))


def more_stock(scenario: Scenario, step: int) -> Scenario:
    """15 seeds more of each lot on hand for each step."""
    return with_rows(scenario, "seed_lots", lambda row: replace(row, stock=row.stock + 15 * step))


def larger_offers(scenario: Scenario, step: int) -> Scenario:
    """7 plants more in a delivery for each step."""
    limited = [row.offer for row in scenario.buy_in_offers if row.most_per_delivery is not None]
    return with_rows(
        scenario,
        "buy_in_offers",
        lambda row: (
            replace(row, most_per_delivery=row.most_per_delivery + 7 * step) if row.offer in limited else row
        ),
    )


def longer_days(scenario: Scenario, step: int) -> Scenario:
    """Half an hour more a day, and a week, for each step, for crews paid as used without hands to hire.

    Hands hired for longer days cost more, and so do hours that are paid without work.
    """

    def longer(row: Crew) -> Crew:
        firm = row.pay_basis is not PayBasis.USED or row.guaranteed_hours_per_head_week is not None
        if firm or row.temp_heads_most:
            return row
        week = row.week_hours_per_head
        return replace(
            row,
            hours_per_head_day=row.hours_per_head_day + step / 2,
            week_hours_per_head=None if week is None else week + step / 2,
        )

    return with_rows(scenario, "crews", longer)


def more_bays(scenario: Scenario, step: int) -> Scenario:
    """So many bays more in each zone that is divided into bays."""
    size = {bays.zone: bays.slots_per_bay for bays in scenario.bays if bays.slots_per_bay}

    def more(row: Zone) -> Zone:
        return replace(row, slots=(row.slots or 0.0) + step * size.get(row.zone, 0.0))

    return with_rows(scenario, "zones", lambda row: more(row) if row.zone in size else row)


def more_vehicles(scenario: Scenario, step: int) -> Scenario:
    """So many vehicles more on each day of the runs that have few."""
    limited = [run.run for run in scenario.runs if run.vehicles_most]
    return with_rows(
        scenario,
        "runs",
        lambda row: (
            replace(row, vehicles_most=(row.vehicles_most or 0) + step) if row.run in limited else row
        ),
    )


MORE = {
    "chamber": roomier(ZoneUse.HEALING),
    "bench": roomier(ZoneUse.BENCH),
    "stock": more_stock,
    "offers": larger_offers,
    "hours": longer_days,
    "bays": more_bays,
    "vehicles": more_vehicles,
}


@settings(max_examples=deep(12))
@given(small_scenarios(orders_most=8, window=2), st.data())
def test_a_step_more_of_anything_never_costs_more_in_random_books(
    scenario: Scenario, drawn: st.DataObject
) -> None:
    """Of that which the book has: a step that changes nothing is not tried."""
    of = [which for which, more in sorted(MORE.items()) if more(scenario, 1) != scenario]
    # What few books have is tried where it is.
    rare = [which for which in of if which in ("bays", "vehicles")]
    more = MORE[drawn.draw(st.sampled_from(rare or of))]
    check_steps([more(scenario, step) for step in range(3)])


@pytest.mark.parametrize("name, copied, which", [("bays", 8, "bays"), ("runs", 4, "vehicles")])
def test_one_bay_or_vehicle_more_never_costs_more(name: str, copied: int, which: str) -> None:
    """Beginning with one of each, in a book too large for a single search to prove."""

    def one(row: Zone) -> Zone:
        return replace(row, slots=size[row.zone]) if row.zone in size else row

    scenario = with_rows(SPECIMENS[name], "runs", lambda row: replace(row, vehicles_most=1))
    size = {bays.zone: bays.slots_per_bay for bays in scenario.bays if bays.slots_per_bay}
    few = copies(with_rows(scenario, "zones", one), copied)
    check_steps([MORE[which](few, step) for step in range(2)])


def test_the_same_scenario_gives_the_same_plan() -> None:
    of = copies(book(60.0, packs=True), 3)
    first, second = plan(of), plan(of)
    for table in ("waves", "joins", "deliveries", "purchases"):
        assert getattr(first, table).equals(getattr(second, table))
