"""The check of the trace: which lots the plants of each order come from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from model.planned.tables.declared import FlowKey
from model.proof.problems import Problem, differs, exceeds, must_be, wrong
from model.proof.replay import Replay, flow_of

Pair = tuple[FlowKey, str | None, str]
"""Flow, wave of the rootstock and of the scion."""


def lots_are_traced(r: Replay) -> Iterator[Problem]:
    """All own plants of an order are traced to pairs of waves, and no pair gives more than it finishes.

    An order takes its margin from the same pairs.
    """
    traced: dict[tuple[str, FlowKey], float] = defaultdict(float)
    given: dict[Pair, float] = defaultdict(float)
    held: dict[tuple[str, FlowKey], float] = {}
    packed: dict[tuple[str, FlowKey], date] = {}
    for row in r.rows["deliveries"]:
        if row["source"] == "own":
            traced[row["order"], flow_of(row)] -= row["plants"]
            packed[row["order"], flow_of(row)] = row["pack_day"]
            held[row["order"], flow_of(row)] = row["margin_plants"] / row["plants"] if row["plants"] else 0.0
    healed: dict[Pair, float] = defaultdict(float)
    all_healed: dict[FlowKey, float] = defaultdict(float)
    for row in r.rows["joins"]:
        flow = flow_of(row)
        healed[flow, row["rootstock_wave"], row["scion_wave"]] += row["joins"] * row["take"]
        all_healed[flow] += row["joins"] * row["take"]
    for row in r.rows["trace"]:
        order, flow = r.world.orders[row["order"]], flow_of(row)
        place = f"trace of order {row['order']}, grafted on {row['graft_day']}"
        pair = (flow, row["rootstock_wave"], row["scion_wave"])
        yield from must_be(place, "product", r.world.products[row["product"]].ordered_as, order.product)
        yield from must_be(place, "pack day", row["pack_day"], packed.get((row["order"], flow)))
        yield from wrong(f"{place}: these waves are not joined", pair in healed)
        traced[row["order"], flow] += row["plants"]
        given[pair] += row["plants"] * (1 + held.get((row["order"], flow), 0.0))
    for (name, flow), rest in traced.items():
        yield from differs(
            f"trace of order {name}, grafted on {flow[1]}, plants beyond those delivered", rest, 0.0
        )
    finished = {flow_of(row): row["finished"] for row in r.rows["flows"]}
    for pair, plants in given.items():
        flow, rootstock, scion = pair
        share = healed[pair] / all_healed[flow] if all_healed[flow] else 0.0
        of = " on ".join(wave for wave in (scion, rootstock) if wave)
        place = f"{flow[0]} grafted on {flow[1]} of {of}, plants traced against those finished"
        yield from exceeds(place, plants, finished.get(flow, 0.0) * share)
