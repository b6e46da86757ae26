"""What an order is charged by the list prices, the extra plants sent with it unbilled, and whole trays.

extra[o] = ⌈extra share · ordered[o]⌉
sent[o] = ordered[o] + extra[o], or in whole trays cells · ⌈(ordered[o] + extra[o]) / cells⌉
bought[o] = sent[o] − extra[o]
charge[o] = max(least charge, list price · billed · (1 − early discount) + part tray charge · [part tray])
price[o] = charge[o] / sent[o], or agreed price · bought[o] / sent[o]

Plants billed by the list are those bought times ``billed`` of the tray over its cells. A list price a tray
counts for the trays that they fill, parts as parts. In whole trays no part is left. The early discount is 0
for an order placed later than ``early_days`` before its due day. The program knows an order by the plants
sent, and by their price: a plant short is not charged, be it billed or extra.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from datetime import date
from math import ceil
from typing import Any, NamedTuple

from model.scenario.choices import PriceOf
from model.scenario.entities import Order, Scenario, TrayFormat
from model.scenario.records.trade import ListPrice

TINY = 1e-9
"""Part of a plant that rounding up passes over."""


@dataclass(frozen=True, slots=True)
class Sent(Order):
    """An order as it is sent: its quantity holds all plants sent, and its price is that of a plant sent."""

    unbilled: float = 0.0
    """Share of the plants sent that is not billed."""
    filling: int = 0
    """Plants billed that nobody ordered: they fill its last tray."""
    full_trays: bool = False
    """Whether it leaves in whole trays."""


class Charge(NamedTuple):
    """What the list charges for an order, in currency: the sum of three parts, or ``least`` if it is more."""

    goods: float
    """List price times what it counts."""
    spared: float
    """Early discount on that."""
    part_tray: float
    least: float

    @property
    def total(self) -> float:
        """What the order is charged."""
        return max(self.least, self.goods - self.spared + self.part_tray)

    @property
    def lowered(self) -> float:
        """What the early discount takes off: less than ``spared``, where the least is charged."""
        return max(self.least, self.goods + self.part_tray) - self.total


def with_charges(scenario: Scenario) -> Scenario:
    """The scenario with each order as it is sent, at the price that the list gives where it has none.

    Orders that have neither stay as they are, and so does a scenario that was changed so before.
    """
    nursery = scenario.nursery
    sends = nursery.extra_share or nursery.whole_trays_to_customer
    sends = sends or any(row.extra_share or row.whole_trays_to_customer for row in scenario.customers)
    sends = sends or any(row.extra_share or row.whole_trays_to_customer for row in scenario.orders)
    if not (scenario.list_prices or sends):
        return scenario
    orders = tuple(charged(scenario, order) for order in scenario.orders)
    same = all(new is old for new, old in zip(orders, scenario.orders, strict=True))
    return scenario if same else replace(scenario, orders=orders)


def charged(scenario: Scenario, order: Order) -> Order:
    """The order as it is sent; its price is that of the list, where it has none of its own."""
    charge, extra, bought = (
        charge_of(scenario, order),
        extra_asked(scenario, order),
        bought_of(scenario, order),
    )
    if charge is not None:
        order = replace(order, price=charge.total / bought)
    sent, filling, full = bought + extra, bought - order.quantity, in_whole_trays(scenario, order)
    if not extra and not full:
        return order
    price = None if order.price is None else order.price * bought / sent
    cells = {cell.name: getattr(order, cell.name) for cell in fields(Order)}
    settled = {"quantity": sent, "price": price, "extra_share": 0.0, "whole_trays_to_customer": False}
    return Sent(**cells | settled, unbilled=extra / sent, filling=filling, full_trays=full)


def charge_of(scenario: Scenario, order: Order) -> Charge | None:
    """What the list charges for an order; None if it has a price of its own, or the list has none.

    Plants held for inquiries are not charged: nobody has ordered them.
    """
    if order.held or order.price is not None or not scenario.list_prices:
        return None
    bought, tray = bought_of(scenario, order), tray_of(scenario, order)
    row = listed(scenario.list_prices, order.product, bought, order.due_day)
    if row is None:
        return None
    goods = row.price * _units(row, tray, bought)
    spared = goods * early_discount(scenario, order)
    parted = bought % tray.cells and not in_whole_trays(scenario, order)
    part = scenario.nursery.part_tray_charge if parted else 0.0
    return Charge(goods, spared, part, scenario.nursery.least_charge)


def tray_of(scenario: Scenario, order: Order) -> TrayFormat:
    """Tray format in which an order leaves."""
    (final,) = (row.final_format for row in scenario.products if row.product == order.product)
    (tray,) = (tray for tray in scenario.tray_formats if tray.format == final)
    return tray


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


def early_discount(scenario: Scenario, order: Order) -> float:
    """Share of the list price that the order is spared, since it was placed early."""
    if order.ordered_day is None:
        return 0.0
    share: float = of_customer(scenario, order.customer, "early_discount")
    days: int = of_customer(scenario, order.customer, "early_days")
    return share if (order.due_day - order.ordered_day).days >= days else 0.0


def placed_today(scenario: Scenario, order: Order) -> Order:
    """An order asked for, as placed today, where it tells no day and a discount hangs on one."""
    if order.ordered_day is not None or not of_customer(scenario, order.customer, "early_discount"):
        return order
    return replace(order, ordered_day=scenario.nursery.today or scenario.nursery.first_day)


def extra_asked(scenario: Scenario, order: Order) -> int:
    """Plants to send beyond the quantity of an order of the scenario, unbilled; none of plants held."""
    if order.held:
        return 0
    own = order.extra_share
    share = of_customer(scenario, order.customer, "extra_share") if own is None else own
    return extra_of(order.quantity, share)


def in_whole_trays(scenario: Scenario, order: Order) -> bool:
    """Whether the last tray of an order of the scenario is filled; that of plants held is not."""
    own = order.whole_trays_to_customer
    return not order.held and bool(
        of_customer(scenario, order.customer, "whole_trays_to_customer") if own is None else own
    )


def bought_of(scenario: Scenario, order: Order) -> int:
    """Plants that an order of the scenario is billed: those ordered, and those that fill its last tray."""
    if not in_whole_trays(scenario, order):
        return order.quantity
    extra = extra_asked(scenario, order)
    return filled(order.quantity + extra, tray_of(scenario, order).cells) - extra


def filled(plants: int, cells: int) -> int:
    """Plants in the whole trays of so many cells that hold so many plants."""
    return ceil(plants / cells) * cells


def extra_of(quantity: float, share: float) -> int:
    """Whole plants of a share of the quantity, rounded up."""
    return ceil(share * quantity - TINY)


def of_customer(scenario: Scenario, customer: str, name: str) -> Any:
    """What the table customers says of a customer in a column; what the nursery says, where it is blank."""
    own = next((getattr(row, name) for row in scenario.customers if row.customer == customer), None)
    return getattr(scenario.nursery, name) if own is None else own


def billed_share(order: Order) -> float:
    """Share of the plants of an order that is billed."""
    return 1.0 - order.unbilled if isinstance(order, Sent) else 1.0


def billed_price(order: Order) -> float | None:
    """Price of a plant billed, in currency; None where the order has none."""
    return None if order.price is None else order.price / billed_share(order)


def extra_plants(order: Order) -> int:
    """Plants of an order that are sent unbilled."""
    return order.quantity - round(order.quantity * billed_share(order))


def filling_plants(order: Order) -> int:
    """Plants of an order that nobody ordered, billed with the others: they fill its last tray."""
    return order.filling if isinstance(order, Sent) else 0


def leaves_in_whole_trays(order: Order) -> bool:
    """Whether an order as it is sent leaves in whole trays."""
    return isinstance(order, Sent) and order.full_trays


def _units(row: ListPrice, tray: TrayFormat, quantity: int) -> float:
    """Trays, or plants billed, of a quantity."""
    if row.per is PriceOf.TRAY:
        return quantity / tray.cells
    return quantity * (tray.cells if tray.billed is None else tray.billed) / tray.cells
