"""Within its range a price moves least cost in a straight line, as it does where the plan stays."""

from __future__ import annotations

from dataclasses import replace
from math import isnan
from typing import Any

import pytest
from hypothesis import given, settings

from model.network.charges import billed_price, charged
from model.questions.ranging import price_ranges
from model.scenario.choices import Decline
from model.scenario.entities import Order, Scenario
from model.solve import solve
from tests.depth import deep
from tests.specimens import SPECIMENS
from tests.strategies import small_scenarios, with_firm_margins

MOST = 20.0
"""Currency by which a price without an upper end is raised."""


def changed(scenario: Scenario, row: Any, step: float) -> Scenario:
    """The scenario with that price higher by the step, on all days where it changes by date."""

    def each(table: str, where: dict[str, Any], column: str) -> dict[str, Any]:
        def moved(record: Any) -> Any:
            if any(getattr(record, key) != value for key, value in where.items()):
                return record
            value = getattr(record, column)
            free = value is None or (table == "bays" and value == 0)  # a free bay is no decision
            return record if free else replace(record, **{column: value + step})

        return {table: tuple(moved(record) for record in getattr(scenario, table))}

    name = row.name
    if row.kind == "penalty":
        default = scenario.nursery.shortfall_penalty
        given = tuple(
            replace(o, shortfall_penalty=default if o.shortfall_penalty is None else o.shortfall_penalty)
            for o in scenario.orders
        )
        scenario = replace(scenario, orders=given)
    tables: dict[str, Any] = {
        "pay": lambda: (
            each("crews", {"crew": name}, "pay_per_hour") | each("crew_days", {"crew": name}, "pay_per_hour")
        ),
        "overtime pay": lambda: each("crews", {"crew": name}, "overtime_pay_per_hour"),
        "temporary pay": lambda: (
            each("crews", {"crew": name}, "temp_pay_per_hour")
            | each("crew_days", {"crew": name}, "temp_pay_per_hour")
        ),
        "temporary overtime pay": lambda: (
            each("crews", {"crew": name}, "temp_overtime_pay_per_hour")
            | each("crew_days", {"crew": name}, "temp_overtime_pay_per_hour")
        ),
        "pack": lambda: each("packs", {"item": name, "size": float(row.detail or 0)}, "price"),
        "slots": lambda: (
            each("zones", {"zone": name}, "cost_per_slot_day")
            | each("zone_days", {"zone": name}, "cost_per_slot_day")
        ),
        "bays": lambda: each("bays", {"zone": name}, "cost_per_bay_week"),
        "zones chosen": lambda: each(*_further_zone(scenario, name), "cost_per_tray"),
        "run": lambda: each("runs", {"run": name}, "fixed_cost"),
        "buy-in": lambda: each("buy_in_offers", {"offer": name}, "price"),
        "penalty": lambda: each("orders", {"order": name}, "shortfall_penalty"),
        "order price": lambda: each("orders", {"order": name}, "price"),
        "salvage": lambda: each("products", {"product": name}, "salvage_price"),
    }
    return replace(scenario, **tables[row.kind]())


def _further_zone(scenario: Scenario, name: str) -> tuple[str, dict[str, Any]]:
    """Table and key of the row of a further zone that the prices name so."""
    found: list[tuple[str, dict[str, Any]]] = [
        ("stage_zones", {"method": r.method, "stage": r.stage, "zone": r.zone})
        for r in scenario.stage_zones
        if name == f"{r.method}, {r.stage} in {r.zone}"
    ]
    found += [
        ("germination_zones", {"lot": r.lot, "zone": r.zone})
        for r in scenario.germination_zones
        if name == f"{r.lot}, germination in {r.zone}"
    ]
    (key,) = found
    return key


def agreed(scenario: Scenario, order: Order) -> Order:
    """The order with the list's price of a plant billed as its own."""
    return replace(order, price=billed_price(charged(scenario, order)))


def check(scenario: Scenario) -> None:
    """At nine tenths of the way to each end least cost has moved by the price's effect.

    The offset holds payroll that no plan can change; a step adds to it too.
    """
    scenario = replace(scenario, orders=tuple(agreed(scenario, order) for order in scenario.orders))
    solved = solve(scenario, whole=False)
    base = solved.continuous.objective
    for row in price_ranges(solved).itertuples(index=False):
        assert 0 <= row.low <= row.value + 1e-9
        assert isnan(row.high) or row.high >= row.value - 1e-9
        high = row.value + MOST if isnan(row.high) else row.high
        for end in (row.low, high):
            step = 0.9 * (end - row.value)
            moved = solve(changed(scenario, row, step), whole=False)
            expected = base + step * row.effect + moved.compiled.offset - solved.compiled.offset
            assert moved.continuous.objective == pytest.approx(expected, rel=1e-6, abs=1e-5), row


@pytest.mark.parametrize("name", SPECIMENS)
def test_specimens(name: str) -> None:
    check(SPECIMENS[name])


@pytest.mark.parametrize("how", [Decline.PART, Decline.WHOLE])
def test_declined_orders(how: Decline) -> None:
    base = SPECIMENS["tight chamber"]
    orders = tuple(replace(order, price=1.9, decline=how) for order in base.orders)
    scenario = replace(base, orders=orders)
    assert "order price" in set(price_ranges(solve(scenario, whole=False))["kind"])
    check(scenario)


@given(small_scenarios())
@settings(max_examples=deep(30))
def test_random(scenario: Scenario) -> None:
    """Priced margins move with a price, which a range takes to stay as they are."""
    check(with_firm_margins(scenario))
