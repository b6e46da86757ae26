"""The plan says why an order is short."""

from dataclasses import replace

import pytest

from model.scenario.entities import Order, Scenario
from model.solve import plan
from tests.strategies import base_scenario, day, with_rows


def reasons(scenario: Scenario) -> dict[str, str | None]:
    """Why each order is short."""
    orders = plan(scenario).orders
    return dict(zip(orders["order"], orders["short_because"], strict=True))


def with_second_order(due: int) -> Scenario:
    """The base scenario with a second order, due on that day."""
    base = base_scenario()
    return replace(base, orders=(*base.orders, replace(base.orders[0], order="second", due_day=day(due))))


def test_nothing_is_said_of_filled_orders() -> None:
    assert reasons(base_scenario()) == {"O-1": None}


def test_no_route_names_the_earliest_ready_day() -> None:
    told = reasons(with_second_order(due=2))
    assert told["O-1"] is None
    earliest = plan(base_scenario()).flows["ready_day"].min()
    assert told["second"] is not None
    assert "no route" in told["second"]
    assert "the earliest ready day is" in told["second"]
    assert earliest > day(2)


@pytest.mark.parametrize("zone", ["Chamber", "Bench"])
def test_a_full_zone_is_named_with_its_day(zone: str) -> None:
    full = with_rows(
        base_scenario(), "zones", lambda row: replace(row, slots=1.0) if row.zone == zone else row
    )
    told = reasons(full)["O-1"]
    assert told is not None
    assert told.startswith(f"full: slots of {zone} on 20")


def test_a_penalty_below_the_cost_is_named() -> None:
    cheap = base_scenario()
    order: Order = replace(cheap.orders[0], shortfall_penalty=0.01)
    assert reasons(replace(cheap, orders=(order,))) == {
        "O-1": "cheaper left short: its penalty of 0.01 a plant is below what a plant costs"
    }
