"""Mishaps of simulated seasons: which batches they strike, and what is left of each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np

from model.network.expansion import stays_after
from model.network.rooms import routes_of
from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import BATCH, FLOW, FlowKey, flow_key
from model.risk.batches import Counts, Floats, Seasons
from model.risk.counted import WHOLE
from model.scenario.batches import Mishap
from model.scenario.calendar import Calendar
from model.scenario.choices import Strikes, ZoneMode, ZoneUse
from model.scenario.entities import Scenario, Zone

Batch = tuple[date, int] | tuple[date, date, int] | tuple[date, date, int, str]
"""A pool's day with number 0; a unit's day of opening, day free again, number, and whom it is not for."""


class Losses:
    """What mishaps leave of seedlings and flows, as shares by season; 1 where none strikes.

    A mishap strikes each of its batches by itself. Batches before today are not struck: what happened to them
    is counted. Of a zone run in units a batch is one load of a unit; of a pool it is a day.
    """

    def __init__(self, drawn: Seasons, scenario: Scenario, plan: Plan) -> None:
        self.drawn, self.scenario = drawn, scenario
        self.today = scenario.nursery.today or scenario.nursery.first_day
        self.zones = {zone.zone: zone for zone in scenario.zones}
        self.in_zones = _in_zones(scenario, plan) if self._of(Strikes.ZONE) else {}

    def _of(self, strikes: Strikes) -> list[Mishap]:
        return [mishap for mishap in self.scenario.mishaps if mishap.strikes is strikes]

    def _hit(self, mishap: Mishap, *batch: Hashable) -> Floats:
        """1 in the seasons in which the mishap strikes the batch, else 0."""
        struck: Floats = (self.drawn.luck("mishap", mishap.mishap, *batch) < mishap.chance).astype(float)
        return struck

    def of_sowing(self, lot: str, sown: date) -> Floats | None:
        """Share of the lot's seedlings that come up as they would; None where no mishap may strike them."""
        found = [m for m in self._of(Strikes.GERMINATION) if m.lot in (None, lot)]
        if not found or sown < self.today:
            return None
        return _left(1 - mishap.share_lost * self._hit(mishap, lot) for mishap in found)

    def of_flow(self, flow: FlowKey, method: str, *, until_healed: bool = False) -> Floats | None:
        """Share of the flow's plants that no mishap takes; None where none may strike them.

        ``until_healed``: leave out zones that are not for healing, whose losses show later.
        """
        day = flow[1]
        parts = [
            1 - mishap.share_lost * self._hit(mishap, method, day)
            for mishap in self._of(Strikes.GRAFT_DAY)
            if mishap.method in (None, method) and self._grafted(method) and day >= self.today
        ]
        for mishap in self._of(Strikes.ZONE):
            if until_healed and self.zones[str(mishap.zone)].use is not ZoneUse.HEALING:
                continue
            batches = self.in_zones.get((flow, str(mishap.zone)), {})
            if self.zones[str(mishap.zone)].mode is ZoneMode.UNITS:
                lost = [part * self._hit(mishap, *batch) for batch, part in batches.items()]
                parts += [1 - mishap.share_lost * np.sum(lost, axis=0)] if lost else []
            else:
                parts += [
                    1 - mishap.share_lost * self._hit(mishap, *batch)
                    for batch in batches
                    if batch[0] >= self.today
                ]
        return _left(parts) if parts else None

    def _grafted(self, method: str) -> bool:
        return any(row.method == method and row.take is not None for row in self.scenario.methods)


def thinned(drawn: Seasons, plants: Counts, left: Floats | None, *batch: Hashable) -> Counts:
    """The plants, of which each stays with the chance ``left``; ``batch`` names the random numbers."""
    if left is None:
        return plants
    kept: Counts = drawn.random("left", *batch).binomial(plants, np.clip(left, 0, 1))
    return kept


def _left(parts: Iterator[Floats] | list[Floats]) -> Floats:
    """Product of the shares."""
    left: Floats = np.prod(list(parts), axis=0)
    return left


def _in_zones(scenario: Scenario, plan: Plan) -> dict[tuple[FlowKey, str], dict[Batch, float]]:
    """Batches that each flow has in each zone, with the share of the flow in each."""
    zones = {zone.zone: zone for zone in scenario.zones}
    found: dict[tuple[FlowKey, str], dict[Batch, float]] = defaultdict(dict)
    for flow, zone, start, end in _stays(scenario, plan):
        if zones[zone].mode is ZoneMode.POOL:
            days = (start + timedelta(n) for n in range((end - start).days))
            found[flow, zone].update({(day, 0): 1.0 for day in days})
    spread = any(most is not None and most < 1 for most in _most_of_units(scenario))
    units = {tuple(named): number for *named, number in rows_of(plan.unit_batches, *BATCH, "units")}
    for flow, load, first, last in _loads(scenario, plan):
        zone, opened, shut, not_for = load
        parts = _evenly(units[load]) if spread else _units(zones[zone], first, last)
        for unit, part in parts:
            batch = (opened, shut, unit) if not_for is None else (opened, shut, unit, not_for)
            of_flow = found[flow, zone]
            of_flow[batch] = of_flow.get(batch, 0.0) + part
    for (_, zone), batches in found.items():
        if zones[zone].mode is ZoneMode.UNITS:
            total = sum(batches.values())
            batches.update({batch: part / total for batch, part in batches.items()})
    return found


def _stays(scenario: Scenario, plan: Plan) -> Iterator[tuple[FlowKey, str, date, date]]:
    """Each flow's stays: zone, first day, and the day on which it leaves."""
    calendar, routes = Calendar(scenario.nursery, scenario.days_off), routes_of(scenario)
    for *named, method in rows_of(plan.flows, *FLOW, "method"):
        flow = flow_key(named)
        way = stays_after(routes[method][flow[2]].stages, calendar.day(flow[1]), calendar)
        for stay in way[0] if way is not None else ():
            yield flow, stay.zone, calendar.date(stay.start), calendar.date(stay.end)


def _loads(
    scenario: Scenario, plan: Plan
) -> Iterator[tuple[FlowKey, tuple[str, date, date, str | None], float, float]]:
    """Loads of flows into units opened together, and the slots between which each stands, filled in order."""
    formats = {tray.format: tray.slots for tray in scenario.tray_formats}
    slots = {product.product: formats[product.final_format] for product in scenario.products}
    filled: dict[tuple[str, date, date, str | None], float] = defaultdict(float)
    rows = rows_of(plan.unit_loads, "load_day", *FLOW, *BATCH, "trays")
    for _, *named, zone, opened, shut, not_for, trays in sorted(rows, key=_place):
        flow, load = flow_key(named), (zone, opened, shut, not_for)
        first = filled[load]
        filled[load] = first + trays * slots[flow[0]]
        yield flow, load, first, filled[load]


def _place(row: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple("" if cell is None else cell for cell in row)


def _most_of_units(scenario: Scenario) -> list[float | None]:
    """Most shares of one unit that the scenario writes."""
    nursery, orders = scenario.nursery, scenario.orders
    return [nursery.most_share_of_one_unit, *(order.most_share_of_one_unit for order in orders)]


def _evenly(units: float) -> Iterator[tuple[int, float]]:
    """Units of a batch with as much of every flow in each, as plans with a most share of one unit have it."""
    for unit in range(max(1, int(np.ceil(units - WHOLE)))):
        yield unit, 1.0


def _units(zone: Zone, first: float, last: float) -> Iterator[tuple[int, float]]:
    """Units between these slots, and the slots in each."""
    room = zone.unit_slots or 1.0
    for unit in range(int(first / room), int(np.ceil(last / room))):
        yield unit, min(last, (unit + 1) * room) - max(first, unit * room)
