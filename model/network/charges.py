"""What an order without a price of its own is charged, by the nursery's list prices.

charge[o] = max(least charge, list price · plants billed + part tray charge · [part of a tray is left])
price[o] = charge[o] / quantity[o]

Plants billed are the quantity times ``billed`` of the tray over its cells. A list price a tray counts for the
trays that the quantity fills, parts as parts. Plants short are not charged: each delivered is, at price[o].
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from model.scenario.choices import PriceOf
from model.scenario.entities import Order, Scenario, TrayFormat
from model.scenario.records.trade import ListPrice


def with_charges(scenario: Scenario) -> Scenario:
    """The scenario with a price for each order that the list prices; other orders stay as they are."""
    if not scenario.list_prices:
        return scenario
    return replace(scenario, orders=tuple(charged(scenario, order) for order in scenario.orders))


def charged(scenario: Scenario, order: Order) -> Order:
    """The order with its price by the list, where it has none of its own and the list has one."""
    row = listed(scenario.list_prices, order.product, order.quantity, order.due_day)
    if order.price is not None or row is None:
        return order
    (final,) = (row.final_format for row in scenario.products if row.product == order.product)
    (tray,) = (tray for tray in scenario.tray_formats if tray.format == final)
    nursery = scenario.nursery
    part = nursery.part_tray_charge if order.quantity % tray.cells else 0.0
    charge = max(nursery.least_charge, row.price * _units(row, tray, order.quantity) + part)
    return replace(order, price=charge / order.quantity)


def listed(rows: Iterable[ListPrice], product: str, quantity: int, due: date) -> ListPrice | None:
    """The row of the list for an order: the latest day, and of that the largest step of quantity."""
    fitting = [
        row
        for row in rows
        if row.product == product
        and row.from_quantity <= quantity
        and (row.from_day is None or row.from_day <= due)
    ]
    return max(fitting, key=lambda row: (row.from_day or date.min, row.from_quantity), default=None)


def _units(row: ListPrice, tray: TrayFormat, quantity: int) -> float:
    """Trays, or plants billed, of a quantity."""
    if row.per is PriceOf.TRAY:
        return quantity / tray.cells
    return quantity * (tray.cells if tray.billed is None else tray.billed) / tray.cells
