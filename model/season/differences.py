"""The jobs in which one plan differs from another."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date

import pandas as pd

from model.planned.plan_tables import Tables, rows_of

COLUMNS = ("day", "what", "name", "detail", "unit", "before", "after")

JOBS = ("order packs", "order plants", "hire", "call", "sow", "graft", "deliver", "short")
"""Jobs that may change, in the order in which they are listed on a day."""

LEAST, NEARLY = 0.5, 0.02
"""Smallest changes shown. Changes of less than half a tray, join, plant, pack or hand are left out. So are
changes of joins or plants up to a fiftieth and two more: no crew works by them."""

Job = tuple[date, str, str, str, str]
"""Day, what, name, detail and unit."""


def differences(last: Tables, new: Tables, since: date) -> pd.DataFrame:
    """Jobs from ``since`` on in which the two plans differ, columns ``COLUMNS``, by day.

    ``day`` is the day of the job (for purchases, the last day to order); ``detail`` names its lots, its order
    or its source. ``before`` or ``after`` is 0 where that plan does not have the job.
    """
    before, after = _jobs(last), _jobs(new)
    rows = [
        (*job, before.get(job, 0.0), after.get(job, 0.0))
        for job in {**before, **after}
        if job[0] >= since and _differ(job, before.get(job, 0.0), after.get(job, 0.0))
    ]
    rows.sort(key=lambda row: (row[0], JOBS.index(row[1]), row[2], row[3]))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _differ(job: Job, before: float, after: float) -> bool:
    counted = job[1] in ("graft", "deliver")
    return abs(after - before) >= max(LEAST, NEARLY * before + 2 if counted and before > 0 < after else 0.0)


def _jobs(plan: Tables) -> dict[Job, float]:
    sums: dict[Job, float] = defaultdict(float)
    for make in MAKERS:
        for job, number in make(plan):
            sums[job] += number
    return sums


Made = Iterator[tuple[Job, float]]


def _sown(plan: Tables) -> Made:
    elsewhere: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for wave, zone, trays in rows_of(plan["germination"], "wave", "zone", "trays"):
        elsewhere[wave].append((f", to germinate in {zone}", trays))
    columns = ("wave", "sow_day", "lot", "format", "trays")
    for wave, day, lot, tray, trays in rows_of(plan["waves"], *columns):
        own = trays - sum(there for _, there in elsewhere[wave])
        for where, there in (("", own), *elsewhere[wave]):
            yield (day, "sow", lot, f"in {tray}{where}", "trays"), there


def _grafted(plan: Tables) -> Made:
    waves: dict[str | None, str] = {None: ""}
    for name, lot, day in rows_of(plan["waves"], "wave", "lot", "sow_day"):
        waves[name] = f"{lot} of {day}"
    columns = ("graft_day", "product", "in_zones", "rootstock_wave", "scion_wave", "joins")
    for day, product, in_zones, root, scion, joins in rows_of(plan["joins"], *columns):
        detail = waves[scion] if root is None else f"{waves[scion]} on {waves[root]}"
        detail += f", in {in_zones}" if in_zones else ""
        yield (day, "graft", product, detail, "joins"), joins


def _bought(plan: Tables) -> Made:
    columns = ("order_by", "offer", "order", "arrival_day", "plants")
    for day, offer, order, arrival, plants in rows_of(plan["buy_in"], *columns):
        yield (day, "order plants", offer, f"for {order}, to come {arrival}", "plants"), plants
    columns = ("order_by", "item", "size", "packs", "ordered")
    for day, item, size, packs, ordered in rows_of(plan["purchases"], *columns):
        if day is not None:
            yield (day, "order packs", item, f"of {size:g}", "packs"), packs - ordered


def _hired(plan: Tables) -> Made:
    for day, crew, heads in rows_of(plan["temporary"], "week_day", "crew", "heads"):
        yield (day, "hire", crew, "for the week", "hands"), heads
    for day, crew, called in rows_of(plan["crew_days"], "day", "crew", "called"):
        yield (day, "call", crew, "for the day", "hands"), called


def _delivered(plan: Tables) -> Made:
    columns = ("pack_day", "order", "product", "graft_day", "in_zones", "offer", "plants")
    for day, order, product, graft, in_zones, offer, plants in rows_of(plan["deliveries"], *columns):
        grown = f"grafted {graft}" + (f" in {in_zones}" if in_zones else "")
        source = grown if offer is None else f"from {offer}"
        yield (day, "deliver", order, f"{product}, {source}", "plants"), plants
    for day, order, product, short in rows_of(plan["orders"], "due_day", "order", "product", "short"):
        yield (day, "short", order, product, "plants"), short


MAKERS: tuple[Callable[[Tables], Made], ...] = (_bought, _hired, _sown, _grafted, _delivered)
