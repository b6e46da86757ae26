"""Groups of plants that are kept apart: which lots, joins and orders belong to a group."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from model.network.types import Join, Network
from model.scenario.choices import GroupBy
from model.scenario.entities import Scenario
from model.scenario.records.kept_apart import Apart


class Group(NamedTuple):
    """A group of plants: what makes it one, and its name."""

    by: GroupBy
    name: str


def named(groups: Iterable[Group]) -> str | None:
    """Groups in words, in their order; None for none."""
    return "; ".join(f"{group.by.value} {group.name}" for group in groups) or None


def both(rule: Apart) -> tuple[Group, Group]:
    """The two groups that a rule keeps apart."""
    return Group(rule.by, rule.group), Group(rule.other_by, rule.other)


def lots_of(scenario: Scenario, group: Group) -> frozenset[str]:
    """Seed lots of a group; none for a customer.

    A lot without a crop of its own belongs to the crops of the products that its variety is part of.
    """
    if group.by is GroupBy.LOT:
        return frozenset({group.name})
    if group.by is GroupBy.HEALTH:
        return frozenset(row.lot for row in scenario.seed_lots if row.health == group.name)
    if group.by is GroupBy.CUSTOMER:
        return frozenset()
    part = {
        variety
        for product in scenario.products
        if product.crop == group.name
        for variety in (product.scion, product.rootstock)
    }
    return frozenset(
        row.lot
        for row in scenario.seed_lots
        if row.crop == group.name or (row.crop is None and row.variety in part)
    )


def joins_of(network: Network, group: Group, flow: int) -> list[tuple[int, Join]]:
    """Possible joins of a flow that make plants of a group, with their indices; none for a customer."""
    joins = [(j, network.joins[j]) for j in network.flow_joins[flow]]
    if group.by is GroupBy.CROP:
        return joins if network.flows[flow].product.crop == group.name else []
    lots = lots_of(network.scenario, group)
    return [(j, join) for j, join in joins if any(network.waves[w].lot.lot in lots for w in join.waves)]


def flows_of(network: Network, group: Group) -> set[int]:
    """Flows that may hold plants of a group; what was grafted before today is no customer's yet."""
    if group.by is not GroupBy.CUSTOMER:
        return {f for f in range(len(network.flows)) if joins_of(network, group, f)}
    today = network.past.today
    flows = (d.flow for d in network.deliveries if ordered_by(network, group, d.order))
    return {f for f in flows if network.flows[f].graft >= today}


def ordered_by(network: Network, group: Group, order: int) -> bool:
    """Whether an order is that of a customer that is the group."""
    return group.by is GroupBy.CUSTOMER and network.orders[order].order.customer == group.name
