"""The tables of the last plan turned back into the decisions of a program: sowing, grafting, buying."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from math import ceil
from typing import Any

from model.network.riding import trays_on
from model.planned.plan_tables import Tables, rows_of
from model.planned.tables.declared import BATCH, FLOW
from model.program.amounts import Key
from model.program.index_sets import Label
from model.program.program import Program
from model.scenario.choices import Decline

IN_A_TABLE = (
    "sown",
    "sown_into",
    "joins",
    "delivered",
    "bought",
    "temporary_hands",
    "called_hands",
    "units_opened",
    "packs_bought",
)
"""Decisions that have a column in a plan's tables."""

TOLD = (
    *IN_A_TABLE,
    "declined",
    "declined_whole",
    "wave_opened",
    "batch_set_up",
    "offer_taken",
    "vehicles",
)
"""Decisions that a plan's tables determine; all others follow from them."""

TINY = 1e-6
"""Numbers of the tables below this count as 0."""


def decisions(p: Program, last: Tables) -> tuple[dict[Key, float], bool]:
    """The last plan's values of the variables ``TOLD``, and whether the program has a variable for each.

    A decision is left out if the program has no variable for it, since its lot, day or order is gone. Where
    groups may not share a unit, units opened before today are left out too: which groups they leave out
    follows from the joins recorded and from what is still to come.
    """
    told = _told(p, last)
    values: dict[Key, float] = {}
    for variable in IN_A_TABLE:
        for n, label in enumerate(p.labels[variable]):
            values[variable, n] = told[variable].pop(label, 0.0)
    if p.parted_units:
        today = max(p.network.past.today, 0)
        for n, batch in enumerate(p.amounts.batches):
            if batch.open < today:
                del values["units_opened", n]
        for label in [label for label in told["units_opened"] if str(label[1]) < p.iso(today)]:
            del told["units_opened"][label]
    declined = told["declined"]
    for variable, how in (("declined", Decline.PART), ("declined_whole", Decline.WHOLE)):
        for n, o in enumerate(p.declinable(how)):
            term = p.network.orders[o]
            plants = declined.pop((term.order.order,), 0.0)
            part, whole = plants / term.declined_at_once, plants / term.order.quantity
            values[variable, n] = part if how is Decline.PART else whole
    values |= {("wave_opened", w): float(values["sown", w] > TINY) for w in p.opened_waves}
    for n, on in enumerate(p.batch_days):
        made = sum(values["joins", j] for f in on.flows for j in p.network.flow_joins[f])
        values["batch_set_up", n] = float(made > TINY)
    for n, index in enumerate(p.offer_days):
        values["offer_taken", n] = float(sum(values["bought", i] for i in index.buy_ins) > TINY)
    for n, run in enumerate(p.run_days):
        rides = {key: p.settled.get(key[0], {}).get(key[1], values[key]) for key in run.trays}
        trays = trays_on(n, run, p.riding, rides)
        values["vehicles", n] = float(ceil(trays / run.run.trays - TINY))
    unknown = [value for rest in told.values() for value in rest.values() if value > TINY]
    return values, not unknown


def shortfalls(last: Tables) -> dict[str, float]:
    """Plants short of each order in the last plan; orders declined in part or whole are left out."""
    columns = ["order", "short", "declined"]
    rows = last["orders"][columns].itertuples(index=False)
    return {order: float(short) for order, short, declined in rows if declined <= TINY}


def _told(p: Program, last: Tables) -> dict[str, dict[Label, float]]:
    """Values in the tables by variable and label."""
    told: dict[str, dict[Label, float]] = {variable: defaultdict(float) for variable in TOLD}
    waves: dict[str | None, Label] = {None: (None, None, None)}
    for name, *wave, trays in _rows(last, "waves", "wave", "lot", "format", "sow_day", "trays"):
        waves[name] = tuple(wave)
        told["sown"][tuple(wave)] += trays
    for name, zone, trays in _rows(last, "germination", "wave", "zone", "trays"):
        told["sown_into"][*waves[name], zone] += trays
    for *flow, root, scion, joins in _rows(last, "joins", *FLOW, "rootstock_wave", "scion_wave", "joins"):
        told["joins"][*p.flow_label(*flow), *waves[root], *waves[scion]] += joins
    for source, *flow, order, plants in _rows(last, "deliveries", "source", *FLOW, "order", "plants"):
        if source == "own":
            told["delivered"][*p.flow_label(*flow), order] += plants
    for table, variable, *columns_ in (
        ("buy_in", "bought", "offer", "arrival_day", "order", "plants"),
        ("temporary", "temporary_hands", "crew", "week_day", "heads"),
        ("crew_days", "called_hands", "crew", "day", "called"),
        ("purchases", "packs_bought", "item", "size", "packs"),
        ("orders", "declined", "order", "declined"),
    ):
        for *name, value in _rows(last, table, *columns_):
            told[variable][tuple(name)] += value
    for *batch, units in _rows(last, "unit_batches", *BATCH, "units"):
        told["units_opened"][p.batch_label(*batch)] += units
    return told


def _rows(last: Tables, table: str, *columns: str) -> list[tuple[Any, ...]]:
    """Rows of some columns of a table, with days written as in labels."""
    rows = rows_of(last[table], *columns)
    return [tuple(f"{v:%Y-%m-%d}" if isinstance(v, date) else v for v in row) for row in rows]
