"""How much seed the customer of an order must send, and by what day."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import NamedTuple

from model.planned.plan_tables import TINY, rows_of
from model.questions.whole_differences import WholeDifference
from model.scenario.entities import Order
from model.scenario.own_seed import own_lots
from model.solve import Solved, plan_of


class SeedToSend(NamedTuple):
    """Seeds of a lot that a customer sends, and the day by which they are in the nursery, if any is left."""

    lot: str
    variety: str
    seeds: float
    by: date | None


def seed_to_send(order: Order, found: WholeDifference) -> tuple[SeedToSend, ...]:
    """What the plan with the order takes of its customer's lots beyond the plan without it and the stock."""
    lots = own_lots(found.larger.program.network.scenario, order)
    if not lots:
        return ()
    with_it, without = _sent(found.larger), _sent(found.smaller)
    sent = []
    for lot in lots:
        (seeds, by), (already, _) = with_it[lot.lot], without[lot.lot]
        if seeds > already + TINY:
            sent.append(SeedToSend(lot.lot, lot.variety, seeds - already, by))
    return tuple(sent)


def _sent(solved: Solved) -> dict[str, tuple[float, date | None]]:
    """Seeds bought or sent of each lot, and the first day by which they must be there."""
    found: dict[str, tuple[float, date | None]] = defaultdict(lambda: (0.0, None))
    for lot, size, packs, by in rows_of(plan_of(solved).purchases, "item", "size", "packs", "order_by"):
        seeds, first = found[lot]
        days = [day for day in (first, by) if day is not None]
        found[lot] = seeds + size * packs, min(days, default=None)
    return found
