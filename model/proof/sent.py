"""The orders as the audit reads them: how many plants go out, how many of them unbilled, at what price each.

Where an order leaves in whole trays, plants that fill the last one are billed as if they had been ordered.

It shares nothing with the program: charges are summed over trays here, days are compared as dates.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from model.scenario.entities import Order, Scenario, TrayFormat


def as_sent(scenario: Scenario) -> tuple[Scenario, dict[str, int]]:
    """The scenario with orders of all plants that go out, each at one price; the extra plants by order."""
    customers = {row.customer: row for row in scenario.customers}
    full = ordered_full(scenario)
    orders, extra = [], {}
    for order in scenario.orders:
        own = customers.get(order.customer)
        settled = scenario.nursery if own is None else own
        told = [order.extra_share, settled.extra_share, scenario.nursery.extra_share]
        share = 0.0 if order.held else next(value for value in told if value is not None)
        # A share is written in decimals: 0.07 of 100 plants are 7, not a hair more.
        over = -int(-Fraction(repr(share)) * order.quantity // 1)
        filled = order.order in full
        blank = -(order.quantity + over) % _tray(scenario, order).cells if filled else 0
        billed = order.quantity + blank
        price = order.price
        if price is None:
            charge = _listed(scenario, replace(order, quantity=billed), full=filled)
            price = None if charge is None else charge / billed
        if price is not None:
            price *= billed / (billed + over)
        orders.append(replace(order, quantity=billed + over, price=price))
        extra[order.order] = over
    return replace(scenario, orders=tuple(orders)), extra


def ordered_full(scenario: Scenario) -> dict[str, str]:
    """The orders that leave in whole trays, each with its product."""
    theirs = {row.customer: row.whole_trays_to_customer for row in scenario.customers}
    found = {}
    for order in scenario.orders:
        asked = order.whole_trays_to_customer, theirs.get(order.customer)
        told = next((value for value in asked if value is not None), scenario.nursery.whole_trays_to_customer)
        if told and not order.held:
            found[order.order] = order.product
    return found


def _tray(scenario: Scenario, order: Order) -> TrayFormat:
    final = next(row.final_format for row in scenario.products if row.product == order.product)
    return next(row for row in scenario.tray_formats if row.format == final)


def _listed(scenario: Scenario, order: Order, *, full: bool) -> float | None:
    """What the list charges for the order; None if it has no price, or the plants are held for nobody.

    ``full``: its last tray is full, with extra plants if not with those billed.
    """
    nursery, best = scenario.nursery, None
    for row in () if order.held else scenario.list_prices:
        if row.product == order.product and row.from_quantity <= order.quantity:
            since = row.from_day or date.min
            if since <= order.due_day and (best is None or best[:2] < (since, row.from_quantity)):
                best = since, row.from_quantity, row
    if best is None:
        return None
    tray = _tray(scenario, order)
    whole, rest = divmod(order.quantity, tray.cells)
    trays = whole + rest / tray.cells
    billed = trays if best[2].per == "tray" else trays * (tray.billed or tray.cells)
    charge = best[2].price * billed * (1 - _spared(scenario, order))
    return max(charge + (nursery.part_tray_charge if rest and not full else 0.0), nursery.least_charge)


def _spared(scenario: Scenario, order: Order) -> float:
    """Share of the list price that the order is spared, if it was placed on the last day for it or before."""
    share, days = scenario.nursery.early_discount, scenario.nursery.early_days
    for row in scenario.customers:
        if row.customer == order.customer:
            share = share if row.early_discount is None else row.early_discount
            days = days if row.early_days is None else row.early_days
    placed = order.ordered_day
    return share if placed is not None and placed <= order.due_day - timedelta(days=days) else 0.0
