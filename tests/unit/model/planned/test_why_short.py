"""The plan says why an order is short."""

from dataclasses import replace
from typing import Any

import pytest

from model.planned.why_short import SHOWN
from model.scenario.entities import MethodKind, Order, Scenario
from model.solve import plan
from tests.strategies import WEEK, WORK, base_scenario, crew, day, method, with_nursery, with_rows


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


def grafted_by(held: int = 3, **changes: Any) -> str | None:
    """Why the base order is short, with one grafter who works from Monday to Friday."""
    standards = tuple(row for row in WORK if row.skill == "grafting")
    hands = crew("Grafters", "grafting", heads=1.0, pay_per_hour=0.1, **changes)
    return reasons(
        with_nursery(
            base_scenario(
                labour_standards=standards,
                crews=(hands,),
                methods=(method("splice", MethodKind.ON_TRAY, holding_limit_days=held),),
            ),
            working_weekdays=WEEK[:5],
        )
    )["O-1"]


def test_hours_of_a_week_are_named_by_its_first_day() -> None:
    """Not held, plants are grafted on day 11, a Friday, in 3 hours of the week of day 7."""
    assert grafted_by(held=0, week_hours_per_head=3.0) == f"full: week hours of Grafters on {day(7)}"


def test_hours_of_days_are_named_up_to_four_and_the_rest_counted() -> None:
    """Joins can be made on three working days; regular hours and overtime of each are full."""
    told = grafted_by(hours_per_head_day=0.5, overtime_hours_per_head_day=0.25, overtime_pay_per_hour=0.2)
    assert told is not None
    assert told.startswith("full: ")
    named, rest = told.removeprefix("full: ").split("; ")[:-1], told.split("; ")[-1]
    limits = {f"{kind} hours of Grafters on {day(t)}" for kind in ("regular", "overtime") for t in (7, 8, 11)}
    assert len(named) == len(set(named)) == SHOWN
    assert set(named) < limits
    assert rest == "and 2 more"
    assert grafted_by(hours_per_head_day=8.0) is None
