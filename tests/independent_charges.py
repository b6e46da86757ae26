"""What orders are charged and how many plants go out for them, stated a second time, plainly."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from model.scenario.choices import PriceOf
from model.scenario.entities import Order, Scenario, TrayFormat


def as_sent(scenario: Scenario) -> Scenario:
    """The scenario with all plants of each order, extra ones too, at what is charged for each of them."""
    orders = []
    for order in scenario.orders:
        sent = order.quantity + extra(scenario, order) + blank_cells(scenario, order)
        money = charge(scenario, order)
        orders.append(replace(order, quantity=sent, price=None if money is None else money / sent))
    return replace(scenario, orders=tuple(orders))


def extra(scenario: Scenario, order: Order) -> int:
    """The fewest whole plants that are the share of the order or more: counted up from none."""
    if order.held:
        return 0
    share, plants = Decimal(str(settled(scenario, order, "extra_share", order.extra_share))), 0
    while plants < share * order.quantity:
        plants += 1
    return plants


def blank_cells(scenario: Scenario, order: Order) -> int:
    """Cells of the last tray to fill, where the order leaves in whole trays: counted up from none."""
    if order.held or not settled(scenario, order, "whole_trays_to_customer", order.whole_trays_to_customer):
        return 0
    plants, blank = order.quantity + extra(scenario, order), 0
    while (plants + blank) % tray_of(scenario, order).cells:
        blank += 1
    return blank


def cells_of_full(scenario: Scenario) -> dict[str, int]:
    """Cells of a tray of each order that leaves in whole trays."""
    return {
        order.order: tray_of(scenario, order).cells
        for order in scenario.orders
        if not order.held
        and settled(scenario, order, "whole_trays_to_customer", order.whole_trays_to_customer)
    }


def tray_of(scenario: Scenario, order: Order) -> TrayFormat:
    """The tray format in which the product of an order is sold."""
    (final,) = [p.final_format for p in scenario.products if p.product == order.product]
    (tray,) = [t for t in scenario.tray_formats if t.format == final]
    return tray


def charge(scenario: Scenario, order: Order) -> float | None:
    """Money for the whole order: its agreed price a plant, or the list's, tray by tray."""
    in_trays = settled(scenario, order, "whole_trays_to_customer", order.whole_trays_to_customer)
    order = replace(order, quantity=order.quantity + blank_cells(scenario, order))
    if order.price is not None:
        return order.price * order.quantity
    if order.held:
        return None
    rows = [row for row in scenario.list_prices if row.product == order.product]
    rows = [row for row in rows if row.from_quantity <= order.quantity]
    dated = [row for row in rows if row.from_day is not None and row.from_day <= order.due_day]
    if dated:
        newest = max(row.from_day for row in dated if row.from_day is not None)
        rows = [row for row in dated if row.from_day == newest]
    else:
        rows = [row for row in rows if row.from_day is None]
    if not rows:
        return None
    row = sorted(rows, key=lambda row: row.from_quantity)[-1]
    tray = tray_of(scenario, order)
    a_tray = row.price if row.per is PriceOf.TRAY else row.price * (tray.billed or tray.cells)
    if early(scenario, order):
        a_tray -= a_tray * settled(scenario, order, "early_discount")
    money, left = 0.0, order.quantity
    while left >= tray.cells:
        money, left = money + a_tray, left - tray.cells
    if left:
        money += a_tray * left / tray.cells + (0.0 if in_trays else scenario.nursery.part_tray_charge)
    return scenario.nursery.least_charge if money < scenario.nursery.least_charge else money


def early(scenario: Scenario, order: Order) -> bool:
    """Whether the order was placed so many days before its due day, or more."""
    days = timedelta(days=settled(scenario, order, "early_days"))
    return order.ordered_day is not None and order.ordered_day + days <= order.due_day


def settled(scenario: Scenario, order: Order, column: str, own: float | None = None) -> float:
    """The order's own cell, or else its customer's, or else the nursery's."""
    cells = [own, *(getattr(row, column) for row in scenario.customers if row.customer == order.customer)]
    cells.append(getattr(scenario.nursery, column))
    return next(cell for cell in cells if cell is not None)
