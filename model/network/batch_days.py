"""Graft days of methods with a least batch: on each of them the method joins nothing, or at least so many."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from model.network.types import Network


class BatchDay(NamedTuple):
    """A graft day of a method with a least batch, in joins, and all flows grafted by it on that day."""

    method: str
    graft: int
    least: int
    flows: tuple[int, ...]


def batch_days(network: Network) -> list[BatchDay]:
    """All such days from today on, by method and day: what happened before stands, however few it were."""
    flows: dict[tuple[str, int], list[int]] = defaultdict(list)
    for f, flow in enumerate(network.flows):
        if flow.method.least_batch is not None and flow.graft >= max(network.past.today, 0):
            flows[flow.method.method, flow.graft].append(f)
    return [
        BatchDay(method, graft, network.flows[own[0]].method.least_batch or 1, tuple(own))
        for (method, graft), own in sorted(flows.items())
    ]
