"""The progress that a plan foresees up to a day: the rows to record if everything went as planned."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from typing import Protocol

import pandas as pd

from model.planned.plan_tables import TINY
from model.scenario.choices import Happened
from model.scenario.records.past import Progress


class Decisions(Protocol):
    """The tables of a plan from which its rows of progress come."""

    @property
    def waves(self) -> pd.DataFrame: ...
    @property
    def germination(self) -> pd.DataFrame: ...
    @property
    def joins(self) -> pd.DataFrame: ...
    @property
    def deliveries(self) -> pd.DataFrame: ...
    @property
    def buy_in(self) -> pd.DataFrame: ...
    @property
    def purchases(self) -> pd.DataFrame: ...
    @property
    def temporary(self) -> pd.DataFrame: ...
    @property
    def crew_days(self) -> pd.DataFrame: ...


def as_planned(plan: Decisions, until: date, *, since: date = date.min) -> tuple[Progress, ...]:
    """Rows of progress for the plan's jobs from ``since`` on and before ``until``, by day.

    With plants on hand, ``since`` must be the first day or later: they were grafted before it.
    """
    rows = [*_growing(plan), *_trade(plan), *_hands(plan)]
    return tuple(sorted((row for row in rows if since <= row.day < until), key=lambda row: row.day))


def _growing(plan: Decisions) -> Iterator[Progress]:
    columns = ["wave", "lot", "format", "sow_day", "trays", "seeds"]
    waves = {wave: rest for wave, *rest in plan.waves[columns].itertuples(index=False)}
    elsewhere: dict[str, list[tuple[str | None, float]]] = defaultdict(list)
    for wave, place, number in plan.germination[["wave", "zone", "trays"]].itertuples(index=False):
        elsewhere[wave].append((place, float(number)))
    for wave, (lot, tray, sown, trays, seeds) in waves.items():
        left = float(trays) - sum(number for _, number in elsewhere[wave])
        for zone, number in ((None, left), *elsewhere[wave]) if seeds > 0 else ():
            if number > TINY:
                yield Progress(sown, Happened.SOWN, number, lot=lot, format=tray, in_zones=zone)
    columns = ["product", "graft_day", "in_zones", "rootstock_wave", "scion_wave", "joins"]
    for product, day, in_zones, root, scion, joins in plan.joins[columns].itertuples(index=False):
        lot, tray, sown = waves[scion][:3]
        below = (None, None, None) if root is None else waves[root][:3]
        yield Progress(
            day,
            Happened.GRAFTED,
            float(joins),
            lot=lot,
            format=tray,
            sow_day=sown,
            rootstock_lot=below[0],
            rootstock_format=below[1],
            rootstock_sow_day=below[2],
            product=product,
            in_zones=in_zones,
        )
    own = plan.deliveries[plan.deliveries["source"] == "own"]
    columns = ["order", "product", "graft_day", "in_zones", "pack_day", "plants"]
    for order, product, graft, in_zones, packed, plants in own[columns].itertuples(index=False):
        flow = {"product": product, "graft_day": graft, "in_zones": in_zones}
        yield Progress(packed, Happened.DELIVERED, float(plants), **flow, order=order)


def _trade(plan: Decisions) -> Iterator[Progress]:
    columns = ["offer", "order", "order_by", "arrival_day", "plants"]
    for offer, order, day, arrival, plants in plan.buy_in[columns].itertuples(index=False):
        yield Progress(day, Happened.BOUGHT_IN, float(plants), order=order, offer=offer, arrival_day=arrival)
    columns = ["item", "size", "packs", "ordered", "needed_day", "order_by"]
    for item, size, packs, ordered, needed, day in plan.purchases[columns].itertuples(index=False):
        if day is not None and packs > ordered:
            more = float(packs - ordered)
            yield Progress(day, Happened.PACKS, more, item=item, size=size, arrival_day=needed)


def _hands(plan: Decisions) -> Iterator[Progress]:
    for crew, day, heads in plan.temporary[["crew", "week_day", "heads"]].itertuples(index=False):
        yield Progress(day, Happened.HIRED, float(heads), crew=crew)
    columns = ["crew", "day", "called", "temporary_overtime"]
    for crew, day, called, overtime in plan.crew_days[columns].itertuples(index=False):
        for what, number in ((Happened.CALLED, called), (Happened.OVERTIME, overtime)):
            if number > 0:
                yield Progress(day, what, float(number), crew=crew)
