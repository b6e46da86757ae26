"""Bays of a zone that are opened whole: their rows, and what an open bay costs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from model.program.index_sets import Coefs, Row, Rows
from model.program.program import Program


def bay_room(p: Program) -> Rows:
    """Trays standing in a zone with bays fit into the bays that are open in the week.

    Σ_{trays standing in zone z on day t} trays · slots ≤ bay slots[z,t] · G[z,q]
    for each zone z with bays, day t of week q in which a bay costs something
    """
    at = {index: n for n, index in enumerate(p.bay_weeks)}
    rows: Rows = {}
    for (index, t), standing in p.in_bays.items():
        slots = p.amounts.bays[index.zone].slots[t]
        rows[index.zone, p.iso(t)] = Row({**standing, ("bays_open", at[index]): -slots}, None, 0.0)
    return rows


def bay_costs(p: Program) -> Iterator[tuple[str, Coefs]]:
    """Cost of the bays open in each zone that has bays."""
    coefs: dict[str, Coefs] = defaultdict(dict)
    for n, index in enumerate(p.bay_weeks):
        coefs[index.zone]["bays_open", n] = p.amounts.bays[index.zone].week_cost(p.weeks[index.week])
    yield from coefs.items()


GROUPS = (bay_room,)
