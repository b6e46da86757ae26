"""Orders that a customer asks for: of a file, or one described in words."""

from __future__ import annotations

from collections.abc import Mapping

from model.scenario.entities import Order, Scenario
from scenarios.cells.grid import Grid, TableSource
from scenarios.cells.typed import plain_day, plain_number
from scenarios.files.read_scenario import read_orders


def asked_order(scenario: Scenario, told: Mapping[str, str]) -> Order:
    """The order whose cells are told by column, under a name that no booked order has.

    Day and numbers may be written as the scenario's locale writes them.

    Raises ``BadInput`` with every fault.
    """
    plain = {"due_day": plain_day, "quantity": plain_number, "price": plain_number}
    read = {name: plain[name](text) if name in plain else text for name, text in told.items()}
    given = {"order": _free_name(scenario), **read}
    source = TableSource()
    source.grids["orders"] = Grid("orders", [(1, list(given)), (2, list(given.values()))], typed=False)
    (order,) = read_orders(source, scenario)
    return order


def _free_name(scenario: Scenario) -> str:
    booked = {order.order for order in scenario.orders}
    return next(name for n in range(len(booked) + 1) if (name := f"candidate {n + 1}") not in booked)
