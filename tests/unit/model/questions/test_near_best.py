"""Least and most of each quantity near the least cost, as worked by hand, and in any small scenario."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.questions.near_best import PEAKS, NearBest, Quantity, near_best
from model.scenario.choices import MethodKind
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import solve
from model.solver.compiled import SolveError
from tests.depth import deep
from tests.scenario_parts import WEEK, WORK, crew, method, order, units
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios

JOINS = 100 / (0.8 * 0.95)
"""Joins of the base order: take .8, survival .95."""

TRAYS = JOINS / 0.9 / 8.1
"""Its rootstock trays: match .9, 8.1 seedlings a tray; three days in the chamber."""

COST = JOINS / 0.9 / 0.81 * 0.75
"""Its cost: seeds of .50 and .25, stand .81."""


def found(scenario: Scenario, quantity: Quantity, within: float) -> NearBest:
    return near_best(solve(scenario, whole=False), quantity, within)


def grafting(**changes: object) -> Scenario:
    """The base scenario with grafting the only work, by one crew."""
    hands = replace(crew("Grafters", "grafting"), **changes)  # type: ignore[arg-type]
    standards = tuple(row for row in WORK if row.skill == "grafting")
    return base_scenario(labour_standards=standards, crews=(hands,))


HOURS = JOINS * 200 / 3600
"""Hours of grafting of the base order, 200 seconds a join."""


def test_buy_in_as_much_as_the_money_allows() -> None:
    offer = BuyInOffer("Neighbour", "Red on Stout", 2.0, 0, WEEK, None, None, 0, None)
    result = found(base_scenario(buy_in_offers=(offer,)), Quantity.BOUGHT, 0.1)
    assert result.at_best == pytest.approx(0, abs=1e-6)
    assert result.least == pytest.approx(0, abs=1e-6)
    assert result.most == pytest.approx(0.1 * COST / (2.0 - COST / 100))


def test_overtime_as_much_as_the_money_allows() -> None:
    scenario = grafting(overtime_hours_per_head_day=2.0, overtime_pay_per_hour=30.0)
    result = found(scenario, Quantity.OVERTIME, 0.02)
    assert result.at_best == pytest.approx(0, abs=1e-6)
    assert result.most == pytest.approx(0.02 * (COST + 20 * HOURS) / (30 - 20))


def test_hours_that_nobody_works_are_not_counted() -> None:
    """Pay of nothing an hour would allow any overtime, but there is work for so many hours only."""
    scenario = grafting(pay_per_hour=0.0, overtime_hours_per_head_day=8.0, overtime_pay_per_hour=0.0)
    result = found(scenario, Quantity.OVERTIME, 0.5)
    assert result.least == pytest.approx(0, abs=1e-6)
    # four graft days of the order, none of more than 16 hours
    assert HOURS < 4 * 16
    assert result.most == pytest.approx(HOURS)


def test_slot_days_that_no_plan_can_change() -> None:
    result = found(base_scenario(), Quantity.SLOT_DAYS, 0.0)
    assert (result.least, result.at_best, result.most) == pytest.approx((3 * TRAYS,) * 3, rel=1e-6)


def test_the_fullest_day_is_halved_by_grafting_three_days_apart() -> None:
    """Graft days 8 to 11 for delivery on day 16 with three days of holding: 8 and 11 share no chamber day."""
    result = found(base_scenario(), Quantity.PEAK_SLOTS, 0.0)
    assert result.least == pytest.approx(TRAYS / 2, rel=1e-6)
    assert result.most is None


def test_the_busiest_week_is_halved_where_graft_days_lie_in_two() -> None:
    """Due on day 20, a Sunday: graft days 12 and 13 in one week, 14 and 15 in the next."""
    scenario = replace(grafting(), orders=(order("O-1", "Red on Stout", 100, 20),))
    result = found(scenario, Quantity.PEAK_WEEK, 0.0)
    assert result.least == pytest.approx(HOURS / 2, rel=1e-6)
    one_week = found(grafting(), Quantity.PEAK_WEEK, 0.0)
    assert one_week.least == pytest.approx(HOURS, rel=1e-6)


def test_graft_days_from_one_to_all_that_serve() -> None:
    result = found(base_scenario(), Quantity.GRAFT_DAYS, 0.0)
    assert (result.least, result.most) == (1, 4)
    assert (result.proved_least, result.proved_most) == (1, 4)


def test_no_more_graft_days_than_trays() -> None:
    """Two trays of ten cells are grafted; a third day would have less than a tray."""
    joins = 2.5 * 10
    few = replace(base_scenario(), orders=(order("O-1", "Red on Stout", int(joins * 0.8 * 0.95), 16),))
    assert found(few, Quantity.GRAFT_DAYS, 0.0).most == 2


def test_own_root_plants_have_no_graft_days() -> None:
    result = found(SPECIMENS["own-root"], Quantity.GRAFT_DAYS, 0.1)
    assert (result.at_best, result.least, result.most) == (0, 0, 0)


def test_no_graft_days_are_none_and_not_less_than_none() -> None:
    """All is bought in; a most of minus nothing would be shown as -0."""
    offer = BuyInOffer("Neighbour", "Red on Stout", 0.1, 5, WEEK, None, None, 0, None)
    near = near_best(solve(base_scenario(buy_in_offers=(offer,))), Quantity.GRAFT_DAYS, 0.0)
    assert [str(value) for value in (near.at_best, near.least, near.most)] == ["0.0"] * 3


def test_temporary_hands_only_where_there_are_any() -> None:
    with_hands = found(SPECIMENS["temporary hands"], Quantity.TEMPORARY, 0.5)
    assert with_hands.most is not None
    assert with_hands.most > with_hands.least
    without = found(SPECIMENS["work"], Quantity.TEMPORARY, 0.5)
    assert (without.at_best, without.least, without.most) == (0, 0, 0)


def test_busy_units_take_all_their_slots() -> None:
    result = found(SPECIMENS["units"], Quantity.PEAK_SLOTS, 0.0)
    slots = solve(SPECIMENS["units"], whole=False).program.amounts.zones["Chamber"].slots_each
    assert result.least <= result.at_best + 1e-6
    assert result.at_best <= 2 * slots + 1e-6


def test_less_than_the_least_cost_cannot_be_had() -> None:
    with pytest.raises(SolveError):
        found(base_scenario(), Quantity.BOUGHT, -0.01)


def check(scenario: Scenario, within: float) -> None:
    """The best plan lies between least and most, and more money leaves no less room."""
    solved = solve(scenario, whole=False)
    in_units = bool(solved.program.amounts.batches)
    for quantity in Quantity:
        near = near_best(solved, quantity, within)
        far = near_best(solved, quantity, within + 0.1)
        scale = 1e-4 * max(1.0, near.at_best)
        assert near.proved_least <= near.least <= near.at_best + scale
        if quantity is not Quantity.GRAFT_DAYS:
            assert far.least <= near.least + scale
        if quantity in PEAKS or (quantity is Quantity.SLOT_DAYS and in_units):
            assert near.most is near.proved_most is None
        else:
            assert near.most is not None
            assert near.proved_most is not None
            assert near.at_best <= near.most + scale
            assert near.most <= near.proved_most
            if quantity is not Quantity.GRAFT_DAYS:
                assert far.most is not None
                assert near.most <= far.most + scale


@pytest.mark.parametrize("name", SPECIMENS)
def test_specimens(name: str) -> None:
    check(SPECIMENS[name], 0.0)


@given(small_scenarios(), st.sampled_from([0.0, 0.01, 0.2]))
@settings(max_examples=deep(20))
def test_random(scenario: Scenario, within: float) -> None:
    check(scenario, within)


def test_units_that_a_plan_opens_are_counted_whole() -> None:
    """Two orders due two days apart, not held, stay three days each in units of 8 slots at 30 a slot-day.

    One unit holds both and is busy for five days: 40 slot-days. Two units would take 48, for 240 more than
    1,200, beyond the 10 % that the plan may cost more. Continuous, a part of a unit would do.
    """
    chamber = units("Chamber", 2, 8.0, 3, 30.0)
    base = base_scenario(methods=(method("splice", MethodKind.ON_TRAY, holding_limit_days=0),))
    two = replace(
        base,
        zones=tuple(chamber if zone.zone == "Chamber" else zone for zone in base.zones),
        orders=(order("O-1", "Red on Stout", 22, 15), order("O-2", "Red on Stout", 22, 17)),
    )
    slots = near_best(solve(two), Quantity.SLOT_DAYS, 0.1)
    assert [slots.proved_least, slots.least] == pytest.approx([40] * 2)
    assert slots.most is slots.proved_most is None
    assert near_best(solve(two, whole=False), Quantity.SLOT_DAYS, 0.1).least < 40
