"""The last plan, read back into the decisions of a program: what was to be sown, grafted and bought."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from typing import Any

import pandas as pd

from model.planned.plan_tables import PLAN_TABLES, Plan
from model.program.amounts import Key
from model.program.program import Program
from model.scenario.entities import Decline

Tables = Mapping[str, pd.DataFrame]
"""Tables of a plan by their names in ``PLAN_TABLES``."""

LETTERS = (
    "sown",
    "joins",
    "delivered",
    "bought",
    "temporary_hands",
    "units_opened",
    "packs_bought",
    "declined",
    "declined_whole",
    "wave_opened",
    "offer_taken",
)
"""Decisions that a plan's tables tell; all else follows from them."""

TINY = 1e-6
"""A number of the tables that is nothing."""


def tables_of(plan: Plan) -> Tables:
    """All tables of a plan."""
    return {name: plan.table(name) for name in PLAN_TABLES}


def decisions(p: Program, last: Tables) -> tuple[dict[Key, float], bool]:
    """Values of ``LETTERS`` as the last plan has them, and whether the program has room for all of them.

    A decision that the program does not know, since a lot, day or order is gone, is left out.
    """
    told = _told(last)
    values: dict[Key, float] = {}
    for letter, names in _names(p).items():
        for n, name in enumerate(names):
            values[letter, n] = told[letter].pop(name, 0.0)
    declined = told["declined"]
    for letter, how in (("declined", Decline.PART), ("declined_whole", Decline.WHOLE)):
        for n, o in enumerate(p.declinable(how)):
            order = p.network.orders[o].order
            plants = declined.pop((order.order,), 0.0)
            values[letter, n] = plants if how is Decline.PART else plants / order.quantity
    if p.counts["wave_opened"]:
        values |= {("wave_opened", w): float(values["sown", w] > TINY) for w in range(len(p.network.waves))}
    for n, index in enumerate(p.offer_days):
        values["offer_taken", n] = float(sum(values["bought", i] for i in index.buy_ins) > TINY)
    unknown = [value for rest in told.values() for value in rest.values() if value > TINY]
    return values, not unknown


def shortfalls(last: Tables) -> dict[str, float]:
    """Plants short of each order in the last plan; orders declined in part or whole are left out."""
    columns = ["order", "short", "declined"]
    rows = last["orders"][columns].itertuples(index=False)
    return {order: float(short) for order, short, declined in rows if declined <= TINY}


def _names(p: Program) -> dict[str, list[tuple[Any, ...]]]:
    """What each decision is called in the tables."""
    network, at = p.network, p.network.calendar.date
    waves = [(w.lot.lot, w.tray.format, at(w.sow)) for w in network.waves]
    orders = [term.order.order for term in network.orders]
    offers = [offer.offer for offer in network.offers]
    flows = [(flow.product.product, at(flow.graft)) for flow in network.flows]
    nobody = (None, None, None)
    return {
        "sown": list(waves),
        "joins": [
            (*flows[j.flow], *(nobody if j.rootstock is None else waves[j.rootstock]), *waves[j.scion])
            for j in network.joins
        ],
        "delivered": [(orders[d.order], flows[d.flow][1]) for d in network.deliveries],
        "bought": [(offers[b.offer], at(b.day), orders[b.order]) for b in network.buy_ins],
        "temporary_hands": [(index.crew, at(p.weeks[index.week].days[0])) for index in p.crew_weeks],
        "units_opened": [(batch.zone, at(batch.open)) for batch in p.amounts.batches],
        "packs_bought": [(pack.item, pack.size) for pack in p.packs],
    }


def _told(last: Tables) -> dict[str, dict[tuple[Any, ...], float]]:
    """Values of the tables by letter and name."""
    told: dict[str, dict[tuple[Any, ...], float]] = {letter: defaultdict(float) for letter in LETTERS}
    waves: dict[str | None, tuple[str | None, str | None, date | None]] = {None: (None, None, None)}
    for name, *wave, trays in _rows(last, "waves", "wave", "lot", "format", "sow_day", "trays"):
        waves[name] = tuple(wave)
        told["sown"][tuple(wave)] += trays
    columns = ("product", "graft_day", "rootstock_wave", "scion_wave", "joins")
    for product, graft, root, scion, joins in _rows(last, "joins", *columns):
        told["joins"][product, graft, *waves[root], *waves[scion]] += joins
    for order, source, graft, plants in _rows(last, "deliveries", "order", "source", "graft_day", "plants"):
        if source == "own":
            told["delivered"][order, graft] += plants
    for table, letter, *columns_ in (
        ("buy_in", "bought", "offer", "arrival_day", "order", "plants"),
        ("temporary", "temporary_hands", "crew", "week_day", "heads"),
        ("unit_batches", "units_opened", "zone", "open_day", "units"),
        ("purchases", "packs_bought", "item", "size", "packs"),
        ("orders", "declined", "order", "declined"),
    ):
        for *name, value in _rows(last, table, *columns_):
            told[letter][tuple(name)] += value
    return told


def _rows(last: Tables, table: str, *columns: str) -> list[tuple[Any, ...]]:
    return list(zip(*(last[table][column].tolist() for column in columns), strict=True))
