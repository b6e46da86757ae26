"""The check of orders spread by rule over seed lots and units; that over graft days is with deliveries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from model.planned.tables.declared import FlowKey
from model.proof.checks.growing_checks import BatchKey, batch_of
from model.proof.plan_rows import Row
from model.proof.problems import Problem, exceeds
from model.proof.replay import Replay, flow_of


def orders_are_spread(r: Replay) -> Iterator[Problem]:
    """No order has more than its share from one seed lot, or in one unit; of flows grafted from today on."""
    yield from _over_lots(r)
    yield from _over_units(r)


def _open(r: Replay, row: Row) -> bool:
    return bool(min(row["graft_day"], row["pack_day"]) >= r.world.record.today)


def _over_lots(r: Replay) -> Iterator[Problem]:
    of: dict[tuple[str, str], float] = defaultdict(float)
    for row in r.rows["trace"]:
        if _open(r, row):
            waves = (row["rootstock_wave"], row["scion_wave"])
            for lot in {r.waves[wave]["lot"] for wave in waves if wave is not None}:
                of[row["order"], lot] += row["plants"]
    for (name, lot), plants in of.items():
        most = r.world.most_of_one("lot", r.world.orders[name])
        yield from exceeds(f"order {name}, plants of lot {lot}", plants, most)


def _over_units(r: Replay) -> Iterator[Problem]:
    """An order's plants are spread evenly over the units of a batch.

    Where a flow is in several batches, those count that the trays in the others could not hold.
    """
    loaded: dict[FlowKey, dict[tuple[str, date], dict[BatchKey, float]]] = defaultdict(
        lambda: defaultdict(dict)
    )
    for row in r.rows["unit_loads"]:
        loaded[flow_of(row)][row["zone"], row["load_day"]][batch_of(row)] = row["trays"]
    held: dict[tuple[str, BatchKey], float] = defaultdict(float)
    for row in r.rows["deliveries"]:
        if row["source"] != "own" or not _open(r, row):
            continue
        cells = r.world.formats[r.world.products[row["product"]].final_format].cells
        for batches in loaded[flow_of(row)].values():
            for batch in batches:
                elsewhere = cells * sum(trays for other, trays in batches.items() if other != batch)
                held[row["order"], batch] += max(0.0, row["plants"] - elsewhere)
    units = {batch_of(row): row["units"] for row in r.rows["unit_batches"]}
    for (name, batch), plants in held.items():
        most = r.world.most_of_one("unit", r.world.orders[name])
        if most < r.world.orders[name].quantity:
            place = f"order {name}, plants in {batch[0]} opened {batch[1]}"
            yield from exceeds(place, plants, most * units.get(batch, 0.0))
