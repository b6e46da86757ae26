"""The past as the audit sees it: its own sums of the rows of progress."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from typing import Any

from model.proof.zones_chosen import Rooms
from model.scenario.choices import Happened, MethodKind
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress

Sums = dict[tuple[Any, ...], float]


class ProgressSums:
    """Sums of the numbers and of the counts in progress, by kind of row and by what the row names."""

    def __init__(self, scenario: Scenario) -> None:
        self.today = scenario.nursery.today or scenario.nursery.first_day
        self.sums: dict[Happened, Sums] = {what: defaultdict(float) for what in Happened}
        self.counted: dict[Happened, Sums] = {what: defaultdict(float) for what in Happened}
        self.open: set[tuple[Any, ...]] = set()
        """Keys with a row that is not counted yet."""
        self.on_hand: set[tuple[Any, ...]] = set()
        """Keys of what stood in trays on the first day, among those sown."""
        self.plants: Sums = defaultdict(float)
        """Plants on hand on the first day, by product, graft day and zones chosen."""
        for row in scenario.trays_on_hand:
            wave = row.lot, row.format, row.sow_day
            self.on_hand.add(wave)
            self.sums[Happened.SOWN][wave] += row.trays
            self.counted[Happened.SOWN][wave] += row.seedlings or 0
            if row.seedlings is None:
                self.open.add((Happened.SOWN, *wave))
        self.elsewhere: Sums = defaultdict(float)
        """Trays sown that germinate in another zone than their lot's own, by lot, format, day and zone."""
        own_zones = {lot.lot: lot.germination_zone for lot in scenario.seed_lots}
        for done in scenario.progress:
            if done.what is Happened.SOWN and done.in_zones not in (None, own_zones.get(done.lot or "")):
                self.elsewhere[done.lot, done.format, done.day, done.in_zones] += done.number
        rooms = Rooms(scenario)
        methods = {product.product: product.method for product in scenario.products}
        self._add_plants(scenario, rooms)
        products = {order.order: order.product for order in scenario.orders}
        for told in scenario.progress:
            key = _key(told, products)
            if told.what in THROUGH_ZONES:
                at = THROUGH_ZONES[told.what]
                own = rooms.own(methods.get(key[at - 2], ""))
                key = *key[:at], told.in_zones or own, *key[at:]
            self.sums[told.what][key] += told.number
            self.counted[told.what][key] += told.counted or 0.0
            if told.counted is None:
                self.open.add((told.what, *key))

    def _add_plants(self, scenario: Scenario, rooms: Rooms) -> None:
        """Plants on hand: joins that have all healed, from trays of as many seedlings."""
        cells = {tray.format: tray.cells for tray in scenario.tray_formats}
        products = {product.product: product for product in scenario.products}
        kinds = {method.method: method.kind for method in scenario.methods}
        for row in scenario.plants_on_hand:
            product = products[row.product]
            kind, final = kinds[product.method], product.final_format
            scion = row.lot, (*product.scion_formats, final)[0], row.sow_day
            below: tuple[Any, ...] = (None, None, None)
            if row.rootstock_lot is not None:
                format_ = final if kind is MethodKind.ON_TRAY else product.rootstock_formats[0]
                below = row.rootstock_lot, format_, row.rootstock_sow_day
            for wave in (scion, below):
                if wave[0] is not None:
                    self.on_hand.add(wave)
                    self.sums[Happened.SOWN][wave] += -(-row.plants // cells[wave[1]])
                    self.counted[Happened.SOWN][wave] += row.plants
            flow = row.product, row.graft_day, row.in_zones or rooms.own(product.method)
            self.plants[flow] += row.plants
            self.on_hand.add((*flow, *below, *scion))
            for sums in (self.sums, self.counted):
                sums[Happened.GRAFTED][*flow, *below, *scion] += row.plants

    def share(self, what: Happened, key: tuple[Any, ...]) -> float | None:
        """Counted share of the number recorded; None if a row is not counted, or there is none."""
        number = self.sums[what].get(key, 0.0)
        return None if number <= 0 or (what, *key) in self.open else float(self.counted[what][key] / number)

    def recorded(self, what: Happened, *key: Any) -> float:
        """The number recorded; 0 without a record."""
        return self.sums[what].get(key, 0.0)

    def arrived(self, item: str, until: date) -> float:
        """Units of an item in packs ordered before today that arrive by day ``until``."""
        packs = self.sums[Happened.PACKS]
        return sum(float(size * n) for (name, size, day), n in packs.items() if name == item and day <= until)

    def comes(self, offer: str, day: date) -> bool:
        """Whether a delivery of plants bought in on that day was ordered before today."""
        return any(key[:2] == (offer, day) for key in self.sums[Happened.BOUGHT_IN])

    def ordered(self, item: str) -> float:
        """Units of an item in packs ordered before today."""
        return self.arrived(item, date.max)

    @property
    def worked_days(self) -> set[date]:
        """Days with recorded hours."""
        return {day for _, day in self.sums[Happened.WORKED]}


ROOTSTOCK = ("rootstock_lot", "rootstock_format", "rootstock_sow_day")

KEYS = {
    Happened.SOWN: ("lot", "format", "day"),
    Happened.GRAFTED: ("product", "day", *ROOTSTOCK, "lot", "format", "sow_day"),
    Happened.FINISHED: ("product", "graft_day"),
    Happened.DELIVERED: ("order", "product", "graft_day"),
    Happened.BOUGHT_IN: ("offer", "arrival_day", "order"),
    Happened.PACKS: ("item", "size", "arrival_day"),
    Happened.HIRED: ("crew", "day"),
    Happened.CALLED: ("crew", "day"),
    Happened.OVERTIME: ("crew", "day"),
    Happened.WORKED: ("crew", "day"),
    Happened.STANDING: ("zone", "day"),
}
"""Columns by whose cells the rows of a kind are summed; hands are summed by week."""


THROUGH_ZONES = {Happened.GRAFTED: 2, Happened.FINISHED: 2, Happened.DELIVERED: 3}
"""Kinds whose plants may choose zones: the place of the zones in the key, after product and graft day."""


def _key(row: Progress, products: Mapping[str, str]) -> tuple[Any, ...]:
    if row.what is Happened.DELIVERED:
        return row.order, row.product or products[row.order or ""], row.graft_day
    key = tuple(getattr(row, name) for name in KEYS[row.what])
    return key if row.what is not Happened.HIRED else (row.crew, row.day.isocalendar()[:2])
