"""The trace: which lots the plants of each order come from.

The joins of one product on one day may come from several pairs of waves, and may serve several orders. The
plan gives its finished plants out pair by pair, in the order of packing: an order takes what is left of one
pair before it takes of the next. So an order has as few lots as that order of packing allows. Orders spread
over lots come first: each takes of its lots what the plan gives it of them. The plants held as an order's
margin go with it; surplus plants are left over at the end.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, NamedTuple

from model.planned.plan_tables import TINY, Tables, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.planned.values import Floats
from model.program.program import Program


class _Run(NamedTuple):
    """Finished plants one after another: of a pair of waves, or for an order with its margin."""

    name: Any
    plants: float


Lots = tuple[str | None, str]
"""Lots of the rootstock and of the scion."""

Told = Mapping[tuple[str, FlowKey], Mapping[Lots, float]]
"""Plants of each order of a flow by the lots they are of, for orders spread over lots."""


def told_lots(program: Program, values: Mapping[str, Floats]) -> Told:
    """What the values of a program say of orders spread over lots."""
    network, found = program.network, defaultdict[tuple[str, FlowKey], dict[Lots, float]](dict)
    for n, part in enumerate(program.lot_parts):
        plants = float(values["from_lots"][n])
        if plants > TINY:
            delivery = network.deliveries[part.delivery]
            flow = network.flows[delivery.flow]
            key = flow.product.product, network.calendar.date(flow.graft), flow.key.in_zones
            found[network.orders[delivery.order].order.order, key][part.rootstock, part.scion] = plants
    return found


def trace_rows(tables: Tables, told: Told | None = None) -> Iterator[dict[str, Any]]:
    """Rows of the table ``trace``, from the tables ``waves``, ``joins``, ``flows`` and ``deliveries``.

    ``told``: see ``told_lots``; None where no order is spread over lots.
    """
    pairs, served = _pairs(tables), _served(tables)
    lots = dict(rows_of(tables["waves"], "wave", "lot"))
    rows = rows_of(tables["deliveries"], "order", *FLOW, "pack_day")
    packed = {(order, flow_key(named)): pack for order, *named, pack in rows}
    for flow, orders in served.items():
        asked = sum(run.plants for run in orders)
        spread = {name: told[name, flow] for (name, _), _ in orders if told and (name, flow) in told}
        for order, pair, taken in _by_lots(orders, _scaled(pairs[flow], asked), spread, lots):
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


def _by_lots(
    orders: list[_Run],
    pairs: list[_Run],
    spread: Mapping[str, Mapping[Lots, float]],
    lots: Mapping[str | None, str],
) -> Iterator[tuple[Any, Any, float]]:
    """Plants that each order takes of each pair of waves; orders of ``spread`` take first, lots by lots."""
    left: dict[Any, float] = dict(pairs)
    named: dict[Lots, list[Any]] = defaultdict(list)
    for (rootstock, scion), _ in pairs if spread else ():
        named[lots.get(rootstock), lots[scion]].append((rootstock, scion))
    for of_lots, waves in named.items():
        asked = [
            _Run(name, plants * spread[name[0]][of_lots] / sum(spread[name[0]].values()))
            for name, plants in orders
            if of_lots in spread.get(name[0], {})
        ]
        for order, pair, taken in _given_out(asked, [_Run(pair, left[pair]) for pair in waves]):
            left[pair] -= taken
            yield order, pair, taken
    rest = [run for run in orders if run.name[0] not in spread]
    yield from _given_out(rest, [_Run(pair, plants) for pair, plants in left.items()])


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
