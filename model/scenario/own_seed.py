"""Seed that customers send for their own orders."""

from __future__ import annotations

from model.scenario.entities import Order, Scenario, SeedLot


def own_lots(scenario: Scenario, order: Order) -> tuple[SeedLot, ...]:
    """Lots that the customer of an order sends, of the varieties of its product in any way of making it."""
    ways = [product for product in scenario.products if product.ordered_as == order.product]
    varieties = {variety for way in ways for variety in (way.scion, way.rootstock)}
    return tuple(
        lot
        for lot in scenario.seed_lots
        if lot.customer is not None and lot.customer == order.customer and lot.variety in varieties
    )


def sender_of(scenario: Scenario, product: str) -> str | None:
    """The customer who sends seed of a product, and for whom alone it is raised; None if nobody does."""
    ways = [row for row in scenario.products if row.ordered_as == product]
    varieties = {variety for way in ways for variety in (way.scion, way.rootstock)}
    senders = (lot.customer for lot in scenario.seed_lots if lot.variety in varieties)
    return next((customer for customer in senders if customer is not None), None)
