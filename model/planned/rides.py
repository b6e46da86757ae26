"""What rides with which run of a plan: its orders, with their plants and trays."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from typing import NamedTuple

from model.planned.lots import whole
from model.planned.plan_tables import Plan, rows_of
from model.scenario.entities import Scenario
from model.scenario.run_days import run_by_customer


class Ride(NamedTuple):
    """The plants of an order that leave with a run on a day, in whole trays."""

    run: str
    day: date
    order: str
    customer: str
    product: str
    plants: int
    trays: int


def rides_of(scenario: Scenario, plan: Plan) -> list[Ride]:
    """All rides, by run and day, then in the order of the scenario.

    Of an order that leaves in parts each part fills its trays. The program shares the trays of the whole
    order by plants instead.
    """
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    sizes = {product.product: cells[product.final_format] for product in scenario.products}
    orders, by_customer = {row.order: row for row in scenario.orders}, run_by_customer(scenario)
    plants: dict[tuple[str, date], float] = defaultdict(float)
    trays: dict[tuple[str, date], float] = defaultdict(float)
    columns = ("order", "product", "due_day", "days_late", "plants")
    for name, made, due, late, number in rows_of(plan.deliveries, *columns):
        at = name, due + timedelta(days=late)
        plants[at] += number
        trays[at] += number / sizes[made]
    place = {name: n for n, name in enumerate(orders)}
    rides = [
        Ride(
            by_customer[orders[name].customer].run,
            day,
            name,
            orders[name].customer,
            orders[name].product,
            whole(number),
            whole(trays[name, day]),
        )
        for (name, day), number in plants.items()
        if orders[name].customer in by_customer
    ]
    return sorted(rides, key=lambda ride: (ride.run, ride.day, place[ride.order]))
