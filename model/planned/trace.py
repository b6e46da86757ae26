"""The trace: which lots the plants of each order come from.

The joins of one product on one day may come from several pairs of waves, and may serve several orders. The
plan gives its finished plants out pair by pair, in the order of packing: an order takes what is left of one
pair before it takes of the next. So an order has as few lots as that order of packing allows. The plants held
as the order's margin go with it; surplus plants are left over at the end.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from typing import Any, NamedTuple

from model.planned.plan_tables import TINY, Tables, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key


class _Run(NamedTuple):
    """Finished plants one after another: of a pair of waves, or for an order with its margin."""

    name: Any
    plants: float


def trace_rows(tables: Tables) -> Iterator[dict[str, Any]]:
    """Rows of the table ``trace``, from the tables ``waves``, ``joins``, ``flows`` and ``deliveries``."""
    pairs, served = _pairs(tables), _served(tables)
    rows = rows_of(tables["deliveries"], "order", *FLOW, "pack_day")
    packed = {(order, flow_key(named)): pack for order, *named, pack in rows}
    for flow, orders in served.items():
        asked = sum(run.plants for run in orders)
        for order, pair, taken in _given_out(orders, _scaled(pairs[flow], asked)):
            (name, share), (rootstock, scion) = order, pair
            yield {
                "order": name,
                "product": flow[0],
                "graft_day": flow[1],
                "in_zones": flow[2],
                "rootstock_wave": rootstock,
                "scion_wave": scion,
                "pack_day": packed[name, flow],
                "plants": taken * share,
            }


def _pairs(tables: Tables) -> dict[FlowKey, list[_Run]]:
    """Finished plants of each flow by pair of waves, in the order of sowing."""
    sown = dict(rows_of(tables["waves"], "wave", "sow_day"))
    healed: dict[FlowKey, list[_Run]] = defaultdict(list)
    columns = (*FLOW, "rootstock_wave", "scion_wave", "joins", "take")
    for *named, rootstock, scion, joins, take in rows_of(tables["joins"], *columns):
        healed[flow_key(named)].append(_Run((rootstock, scion), joins * take))
    found: dict[FlowKey, list[_Run]] = {}
    for *named, plants in rows_of(tables["flows"], *FLOW, "finished"):
        flow = flow_key(named)
        runs = sorted(healed[flow], key=lambda run: _place(run.name, sown))
        total = sum(run.plants for run in runs)
        found[flow] = [_Run(run.name, plants * run.plants / total) for run in runs]
    return found


def _place(pair: tuple[str | None, str], sown: dict[str, date]) -> tuple[Any, ...]:
    rootstock, scion = pair
    return sown[scion], sown[rootstock or scion], scion, rootstock or ""


def _served(tables: Tables) -> dict[FlowKey, list[_Run]]:
    """Orders each flow serves, in the order of packing: name and share without margin, plants with it."""
    served: dict[FlowKey, list[tuple[date, _Run]]] = defaultdict(list)
    columns = ("order", *FLOW, "pack_day", "plants", "margin_plants")
    for order, *named, packed, plants, margin in rows_of(tables["deliveries"], *columns):
        flow = flow_key(named)
        if flow[1] is not None:
            run = _Run((order, plants / (plants + margin)), plants + margin)
            served[flow].append((packed, run))
    return {
        flow: [run for _, run in sorted(runs, key=lambda row: row[0])]
        for flow, runs in sorted(served.items(), key=lambda item: (*item[0][:2], item[0][2] or ""))
    }


def _scaled(pairs: list[_Run], asked: float) -> list[_Run]:
    """The pairs with at least the plants asked for: sums of the solver's tolerance may be missing."""
    finished = sum(run.plants for run in pairs)
    more = max(1.0, asked / finished)
    return [_Run(run.name, run.plants * more) for run in pairs]


def _given_out(orders: list[_Run], pairs: list[_Run]) -> Iterator[tuple[Any, Any, float]]:
    """Plants that each order takes of each pair: order, pair, number."""
    left = iter(pairs)
    pair, there = next(left)
    for order, needed in orders:
        while needed > TINY:
            if there <= TINY:
                pair, there = next(left, (pair, needed))
            taken = min(needed, there)
            yield order, pair, taken
            needed -= taken
            there -= taken
