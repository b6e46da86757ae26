"""Plants held in the book: what other answers say of them, and what they are never counted as."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from math import isnan

import pytest

from model.inquiries.demand import demands
from model.inquiries.expected import expected_of
from model.inquiries.held_plants import booked, held_orders, with_steps
from model.network.charges import with_charges
from model.network.expansion import expand
from model.planned.cash import receipts
from model.planned.results import result_of
from model.risk.simulation import promised_levels
from model.scenario.choices import MarginPolicy
from model.scenario.entities import Scenario
from model.scenario.records.trade import Customer, Inquiry, ListPrice, Run
from model.scenario.run_days import with_runs
from model.solve import plan
from reports.plan.terminal import summary
from scenarios.cells.draft import draft_of
from scenarios.cells.faults import Refused
from scenarios.holding.hold import hold_study
from scenarios.rules.all_rules import check
from scenarios.studies.quote import quote_study
from tests.scenario_parts import order
from tests.strategies import base_scenario, with_nursery

DUE = base_scenario().orders[0].due_day
PRODUCT = base_scenario().orders[0].product


def asked(*, held: bool) -> Scenario:
    """100 plants booked at 3, and an inquiry for 30 with the chance 0.9, held or not."""
    plain = base_scenario(orders=(order("O-1", PRODUCT, 100, 16, price=3.0),))
    scenario = replace(plain, inquiries=(Inquiry("I-1", "Corner shop", PRODUCT, 30, DUE, 4.0, 0.9),))
    if not held:
        return scenario
    (demand,) = demands(scenario)
    return replace(scenario, orders=(*scenario.orders, *held_orders(scenario, {demand: 30})))


def test_a_quote_says_whether_plants_held_are_used() -> None:
    candidate = order("new", PRODUCT, 20, 16)

    def said(scenario: Scenario) -> str:
        return " ".join(quote_study(scenario, [candidate], profit_margin=0.25, workers=1).answer)

    assert f"no plants are held for inquiries of {PRODUCT}" in said(asked(held=False))
    assert f"the 30 plants held for inquiries of {PRODUCT}" in said(asked(held=True))
    assert "are not used" in said(asked(held=True))
    assert "inquiries" not in said(replace(asked(held=False), inquiries=()))


def test_nothing_expected_is_in_the_result_as_booked() -> None:
    scenario = asked(held=True)
    made = plan(scenario)
    found = expected_of(scenario, made)
    assert found.booked == result_of(made)
    assert found.booked.sales == pytest.approx(300.0)
    assert found.sales == pytest.approx(0.9 * 4 * 30)
    assert found.result == pytest.approx(found.booked.result + found.sales)
    assert {receipt.order for receipt in receipts(scenario, made)} == {"O-1"}
    (line,) = (line for line in summary(scenario, made, ()) if line.label.strip() == "expected")
    assert "108.00 USD for 30 plants held" in line.words


def test_a_plan_without_inquiries_says_nothing_of_them() -> None:
    plain = replace(asked(held=False), inquiries=())
    assert not [line for line in summary(plain, plan(plain), ()) if "expected" in line.label]


def test_plants_held_are_not_charged_by_the_list() -> None:
    listed = replace(asked(held=True), list_prices=(ListPrice(PRODUCT, 1, None, 2.0),))
    assert [order.price for order in with_charges(listed).orders] == [3.0, None]


def test_plants_held_are_taken_out_and_found_again() -> None:
    assert booked(asked(held=True)).orders == asked(held=False).orders
    again = held_orders(asked(held=True), {demands(asked(held=True))[0]: 5})
    assert [order.order for order in again] == ["held 2"]


def test_plants_held_make_a_valid_book_where_margins_are_priced() -> None:
    """No penalty may lie below the cost of a plant then, however little a plant held earns."""
    priced = with_nursery(asked(held=False), margin_policy=MarginPolicy.PRICED, plant_cost=3.9)
    (demand,) = demands(priced)
    held = held_orders(priced, {demand: 30})
    assert demand.sales(30) / 30 < 3.9
    assert check(draft_of(replace(priced, orders=(*priced.orders, *held)))) == []


def test_no_level_is_promised_for_plants_held() -> None:
    scenario = with_nursery(asked(held=True), margin_policy=MarginPolicy.LEVEL, service_level=0.9)
    booked_level, held_level = promised_levels(scenario)
    assert booked_level == 0.9
    assert isnan(held_level)


def test_days_past_are_not_held_for() -> None:
    scenario = asked(held=False)
    gone = with_nursery(scenario, today=DUE.replace(day=DUE.day + 1))
    assert with_steps(scenario, demands(scenario))[1]
    assert not with_steps(gone, demands(gone))[1]


def test_inquiries_are_for_the_day_on_which_the_run_leaves() -> None:
    """An order that leaves two days before its due day still grows, and serves inquiries of that day."""
    plain = asked(held=False)
    left = DUE - timedelta(days=2)
    rides = replace(
        plain,
        orders=(replace(plain.orders[0], cancel_chance=0.2),),
        customers=tuple(Customer(name, run="coast") for name in ("Corner shop", plain.orders[0].customer)),
        runs=(Run("coast", (f"{left:%a}",), 14.0, 0.25, 20),),
        inquiries=(
            *plain.inquiries,
            Inquiry("I-2", plain.orders[0].customer, PRODUCT, 10, DUE, 3.0, 0.5, "O-1"),
        ),
    )
    for scenario in (rides, with_runs(rides)):
        (demand,) = demands(scenario)
        assert demand.due_day == left
        assert demand.asked.mean() == pytest.approx(0.8 * (0.9 * 30 + 0.5 * 10))
    made = plan(rides)
    book = expand(rides).scenario
    assert expected_of(rides, made).result == pytest.approx(expected_of(book, made).result)
    (held,) = held_orders(rides, {demand: 10})
    candidate = order("new", PRODUCT, 20, 16)
    with_held = replace(rides, orders=(*rides.orders, held))
    said = quote_study(with_held, [candidate], profit_margin=0.25, workers=1).answer
    assert "the 10 plants held" in " ".join(said)


def test_nothing_asked_is_refused() -> None:
    with pytest.raises(Refused, match="table inquiries"):
        hold_study(base_scenario(), parent=None, workers=1)


def test_steps_of_what_may_be_sold_fill_no_last_tray() -> None:
    """33 plants asked for are no 40 of four trays, though orders leave in whole ones."""
    plain = replace(asked(held=False), orders=())
    full = with_nursery(plain, whole_trays_to_customer=True)
    full = replace(full, inquiries=(replace(full.inquiries[0], quantity=33),))
    steps, _ = with_steps(full, demands(full))
    assert [row.quantity for row in with_charges(steps).orders] == [33]
