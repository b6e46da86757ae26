"""The part of the second statement about room: slots of pools, bays, and units run all-in all-out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import chain, combinations, product
from typing import Any

from model.scenario.choices import GroupBy, Shared, ZoneMode
from model.scenario.entities import Zone
from tests.independent_labour import Labour
from tests.independent_parts import Coefs, Flow, Stay, Wave

Group = tuple[GroupBy, str]
"""What makes plants a group that is kept apart, and its name."""


class Rooms(Labour):
    """Rooms of one scenario; ``slots``: what stands in pools by zone and day, ``loads``: what units take.

    ``into``: for each load of a zone the units opened that may take it, and the slots of it that they take.
    """

    zones: dict[str, Zone]
    slots: dict[tuple[str, int], Coefs]
    loads: dict[str, list[tuple[Stay, Coefs, Flow]]]
    into: dict[tuple[str, int], dict[int, int]]
    state_barred: Callable[[int, str, Group, Coefs], None]
    """Plants of a group are not in units that leave it out; given their slots of the load of a number."""

    def germinating(
        self, wave: Wave, sown: int, drawn: int
    ) -> Iterator[tuple[int, str, int, Callable[[int], float]]]:
        """Trays of a wave by the zones in which they may germinate: variable, zone, day out, care of a day.

        The zones together have the trays sown; a zone only takes part if its trays come out by ``drawn``.
        """
        lot = wave.lot
        ways = [(lot.germination_zone, wave.bench, 1.0, 0.0)]
        for row in self.scenario.germination_zones:
            out = self.days.next(wave.sow + (lot.germination_days if row.days is None else row.days))
            if row.lot == lot.lot and wave.trays is None and out is not None and out <= drawn:
                ways.append((row.zone, out, row.care, row.cost_per_tray))
        found = [sown]
        if len(ways) > 1:
            name = f"{self.builder.names[sown]} in "
            found = [self.builder.add_var(name + zone, cost, lumpy=True) for zone, *_, cost in ways]
            self.builder.equal(dict.fromkeys(found, 1.0), {sown: 1.0})
        for n, (zone, out, care, _) in zip(found, ways, strict=True):
            yield n, zone, out, lambda t, care=care: care

    def state_zones(self) -> None:
        """Slots of pools, units of the others, and what their use costs."""
        for zone in self.zones.values():
            rows = [row for row in self.scenario.zone_days if row.zone == zone.zone]
            costs = [(row.from_day, row.cost_per_slot_day) for row in rows]
            cost = [self.changed(zone.cost_per_slot_day, costs, t) for t in range(self.days.count)]
            added = [row for row in self.scenario.modules if row.zone == zone.zone]
            if zone.mode is ZoneMode.UNITS:
                assert zone.units is not None
                units = [(row.from_day, row.units) for row in rows]
                more = sum(row.added for row in added)
                there = [self.changed(zone.units, units, t) + more for t in range(self.days.count)]
                self.state_units(zone, cost, there)
                continue
            assert zone.slots is not None
            slots = [(row.from_day, row.slots) for row in rows]
            more = sum(row.added * row.slots for row in added)
            for t in range(self.days.count):
                standing = self.slots[zone.zone, t]
                self.charge(standing, cost[t])
                self.builder.at_most(standing, {}, self.changed(zone.slots, slots, t) + more)
            self.state_bays(zone.zone)

    def state_bays(self, zone: str) -> None:
        """Bays open in a week, which hold all that stands there on each of its days."""
        rows = [row for row in self.scenario.bays if row.zone == zone]
        sizes = [(row.from_day, row.slots_per_bay) for row in rows]
        prices = [(row.from_day, row.cost_per_bay_week) for row in rows]
        for week in self.days.weeks() if rows else ():
            cost = sum(self.changed(0.0, prices, t) / 7 for t in week)
            bays = self.builder.add_var(f"G {zone} {week[0]}", cost, lumpy=True)
            for t in week:
                self.builder.at_most(self.slots[zone, t], {bays: self.changed(0.0, sizes, t)})

    def left_out(self, zone: str) -> list[tuple[Group, ...]]:
        """All ways to leave groups out of a unit of the zone so that those left may share it."""
        pairs = [
            ((row.by, row.group), (row.other_by, row.other))
            for row in self.scenario.apart
            if row.share is Shared.UNIT and row.zone in (None, zone)
        ]
        groups = sorted({group for pair in pairs for group in pair})
        sets = chain.from_iterable(combinations(groups, n) for n in range(len(groups) + 1))
        return [found for found in sets if all(set(pair) & set(found) for pair in pairs)]

    def charge(self, amount: Coefs, price: float) -> None:
        """Add the cost of an amount to its variables."""
        for variable, coef in amount.items():
            self.builder.costs[variable] += price * coef

    def state_units(self, zone: Any, cost: list[float], there: list[float]) -> None:
        """Batches of units opened together, loaded for some days, then shut until all is out."""
        parts: dict[int, Coefs] = defaultdict(dict)
        busy: dict[int, Coefs] = defaultdict(dict)
        barred: dict[tuple[int, Group], Coefs] = defaultdict(dict)
        for e in range(self.days.count):
            if not self.days.working[e]:
                continue
            fits = [
                n
                for n, (stay, _, _) in enumerate(self.loads[zone.zone])
                if e <= stay.start < e + zone.load_days
            ]
            if not fits:
                continue
            ends = sorted({self.loads[zone.zone][n][0].end for n in fits})
            for shut, without in product(ends, self.left_out(zone.zone)):
                opened = self.builder.add_var(
                    f"N {zone.zone} {e} {shut}", zone.unit_slots * sum(cost[e:shut]), lumpy=True
                )
                inside: Coefs = {}
                for n in fits:
                    if self.loads[zone.zone][n][0].end > shut:
                        continue
                    part = self.builder.add_var(f"L {zone.zone} {e} {shut} {n}")
                    parts[n][part] = inside[part] = 1.0
                    self.into[zone.zone, n][opened] = part
                    for group in without:
                        barred[n, group][part] = 1.0
                self.builder.at_most(inside, {opened: zone.unit_slots})
                for t in range(e, shut):
                    busy[t][opened] = 1.0
        for n, (_, standing, _) in enumerate(self.loads[zone.zone]):
            self.builder.equal(parts[n], standing)
        for (n, group), inside in barred.items():
            self.state_barred(n, zone.zone, group, inside)
        for t, batches in busy.items():
            self.builder.at_most(batches, {}, there[t])
