"""The plan says why an order is short."""

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from model.network.expansion import expand
from model.planned.why_short import SHOWN, route_keys, say_why_short
from model.program.build import build
from model.scenario.choices import MethodKind, Task
from model.scenario.entities import DayOff, Order, Scenario
from model.solve import plan
from tests.strategies import (
    SPECIMENS,
    WEEK,
    WORK,
    base_scenario,
    crew,
    day,
    method,
    order,
    with_nursery,
    with_rows,
)


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


def test_full_units_are_named_with_the_day_on_which_they_would_be_busy() -> None:
    """Of 8 slots in one unit, with no module: more than 8 trays are wanted."""
    full = with_rows(SPECIMENS["units"], "orders", lambda row: replace(row, quantity=200))
    told = reasons(replace(full, modules=()))["O-1"]
    assert told is not None
    assert told.startswith("full: units of Chamber on 20")


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


def first_text(scenario: Scenario) -> str:
    """Why the first order is short."""
    told = reasons(scenario)[scenario.orders[0].order]
    assert told is not None
    return told


def test_limits_are_named_dearest_first() -> None:
    """Two days of the chamber and the delivery, as their shadow prices are."""
    made = plan(SPECIMENS["buy-in"])
    prices = made.shadow_prices.set_index(["limit", "day"])["value"]
    told = made.orders["short_because"].iloc[0]
    slots = [(f"slots of Chamber on {day(t)}", float(prices["slots", day(t)])) for t in (9, 12)]
    bought = (f"buy-in of Neighbour on {day(15)}", float(prices["buy-in", day(15)]))
    assert told == "full: " + "; ".join(
        text for text, _ in sorted([*slots, bought], key=lambda limit: limit[1])
    )
    assert bought[1] > slots[0][1]


@pytest.mark.parametrize("count, rest", [(1, ""), (4, ""), (5, "; and 1 more"), (6, "; and 2 more")])
def test_the_four_dearest_of_given_prices_are_named_and_the_rest_counted(count: int, rest: str) -> None:
    """A slot of the chamber is dearer from day to day; orders and prices elsewhere do not count."""
    days = range(8, 8 + count)
    rows = [("slots", "Chamber", day(t), -float(t)) for t in days]
    rows += [
        ("order", "O-1", None, -99.0),
        ("slots", "Chamber", day(7), -99.0),
        ("slots", "Store", day(8), -99.0),
    ]
    prices = pd.DataFrame(rows, columns=["limit", "name", "day", "value"]).astype({"day": object})
    short = plan(base_scenario()).orders.assign(short=0.5)
    told = say_why_short(build(expand(base_scenario())), short, prices)["short_because"].tolist()
    dearest = sorted(days, reverse=True)[:SHOWN]
    assert told == ["full: " + "; ".join(f"slots of Chamber on {day(t)}" for t in dearest) + rest]


def test_stock_that_runs_out_is_named_without_a_day() -> None:
    late = with_rows(
        base_scenario(),
        "seed_lots",
        lambda row: replace(row, stock=40, lead_days=19) if row.lot == "Red A" else row,
    )
    assert first_text(late) == "full: stock of Red A"


def test_work_on_plants_healed_and_delivered_is_on_the_route() -> None:
    """Nothing but packing, or grading, wants hands, and there are next to none."""
    for task in (Task.PACK, Task.GRADE, Task.CONSOLIDATE):
        standards = tuple(row for row in WORK if row.task is task)
        few = crew("Growers", "general", heads=0.001, pay_per_hour=0.1)
        splice = method("splice", MethodKind.ON_TRAY, consolidate=True)
        scenario = base_scenario(labour_standards=standards, crews=(few,), methods=(splice,))
        assert "hours of Growers on" in first_text(scenario), task


def test_an_order_that_nothing_can_be_held_for_is_told_so() -> None:
    """Day 11 is the only graft day of plants ready on day 16, and a day off; others may be ready before."""
    splice = method("splice", MethodKind.ON_TRAY, holding_limit_days=0)
    shut = base_scenario(methods=(splice,), days_off=(DayOff(day(11)),))
    text = (
        f"no route: nothing of Red on Stout can be ready by {day(16)} "
        f"and held no more than 0 days to {day(16)}"
    )
    assert first_text(shut) == text
    both = replace(shut, orders=(*shut.orders, order("early", "Red on Stout", 10, 15)))
    assert reasons(both) == {"O-1": text, "early": None}


def test_an_order_packed_before_days_off_is_not_told_of_a_ready_day_that_it_has() -> None:
    """Due on Friday, packed on Wednesday, day 16, the only ready day; held 1 day, and 2 are wanted."""
    splice = method("splice", MethodKind.ON_TRAY, holding_limit_days=1)
    scenario = base_scenario(
        orders=(order("friday", "Red on Stout", 10, 18), order("wednesday", "Red on Stout", 10, 16)),
        methods=(splice,),
        days_off=(DayOff(day(10)), DayOff(day(17)), DayOff(day(18)), DayOff(day(13)), DayOff(day(12))),
    )
    assert reasons(scenario)["wednesday"] is None
    told = first_text(scenario)
    assert told.endswith(f"by {day(16)} and held no more than 1 days to {day(18)}")


def test_an_order_without_a_working_day_to_pack_is_told_so() -> None:
    early = base_scenario(
        orders=(order("O-1", "Red on Stout", 10, 1),), days_off=(DayOff(day(0)), DayOff(day(1)))
    )
    assert first_text(early) == (
        f"no route: nothing of Red on Stout can be ready and packed on a working day by {day(1)}"
    )


@pytest.mark.parametrize("name", ["tight chamber", "buy-in", "root-cut", "packs"])
def test_routes_are_the_decisions_that_lead_to_the_order(name: str) -> None:
    """By definition, order for order: its deliveries, their flows, the joins of these, the waves of those."""
    program = build(expand(SPECIMENS[name]))
    network = program.network
    for o in range(len(network.orders)):
        served = {i for i, delivery in enumerate(network.deliveries) if delivery.order == o}
        flows = {network.deliveries[i].flow for i in served}
        waves = {w for join in network.joins if join.flow in flows for w in join.waves}
        left = {k for k, kept in enumerate(program.amounts.left) if kept.wave in waves}
        right = {("bought", i) for i, buy_in in enumerate(network.buy_ins) if buy_in.order == o}
        right |= (
            {("delivered", i) for i in served} | {("sown", w) for w in waves} | {("left", k) for k in left}
        )
        right |= {(name, f) for name in ("grafted", "loaded", "healed") for f in flows}
        assert route_keys(program, o) == right
