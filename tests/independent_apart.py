"""The part of the second statement about plants kept apart: every pair that could meet, one by one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from math import ceil
from typing import NamedTuple

from model.scenario.choices import GroupBy, MethodKind, Shared
from model.scenario.entities import Order, Product, Scenario, SeedLot
from tests.independent_parts import Coefs, Flow, Wave
from tests.independent_slots import Group, Rooms


class Item(NamedTuple):
    """Plants in a zone, None for the table, from a day up to another; ``there``: 1 where there are some.

    ``before``: they stood there before the first day.
    """

    zone: str | None
    start: int
    end: int
    there: int
    before: bool


class Keeping(Rooms):
    """Plants kept apart in one scenario."""

    wave_places: list[tuple[Wave, int, str, int, int]]
    held_places: list[tuple[Flow | None, Order, int, str, int, int]]
    flow_spares: dict[int, list[tuple[Wave, int]]]
    most_spares: dict[int, float]
    most_spare: dict[Wave, float]
    flows: list[Flow]
    sent: dict[int, dict[str, int]]
    reach: dict[int, list[Order]]
    need: Callable[..., None]

    def __init__(self, scenario: Scenario) -> None:
        super().__init__(scenario)
        self.wave_places, self.held_places = [], []
        self.flow_spares, self.most_spares = defaultdict(list), defaultdict(float)
        self._held_in: dict[tuple[str, str, int], int] = {}

    def most_trays(self, wave: Wave) -> int:
        """Trays of a wave that no best plan exceeds."""
        orders: dict[str, float] = defaultdict(float)
        products: dict[str, Product] = {}
        worst = 0.0
        for flow in self.flows:
            for join in flow.joins:
                if wave in join.waves:
                    for order in self.reach[flow.number]:
                        plants = order.quantity * (1 + self.margin(order, flow.method))
                        orders[order.order] = max(orders[order.order], plants)
                    product = self.sold_as(flow.product)
                    products[product.product] = product
                    worst = max(
                        worst, 1 / (join.match * join.take * flow.method.finish_survival * wave.usable)
                    )
        plants = sum(orders.values()) + sum(product.salvage_most for product in products.values())
        return ceil(plants * (1 + self.most_spare[wave]) * worst)

    def state_apart(self) -> None:
        """Pairs of plants that may not meet, and orders of one lot."""
        for rule in self.scenario.apart:
            if rule.share is Shared.UNIT:
                continue
            one = self.items(rule.by, rule.group)
            for a in one:
                for b in self.items(rule.other_by, rule.other):
                    place = a.zone is None if rule.share is Shared.GRAFT_DAY else a.zone is not None
                    place = place and a.zone == b.zone and rule.zone in (None, a.zone)
                    place = place and not (a.before and b.before)
                    gap = max(b.start - a.end, a.start - b.end) + 1
                    if place and gap <= rule.cleaning_days:
                        self.builder.at_most({a.there: 1.0, b.there: 1.0}, {}, 1.0)
        self.state_change_overs()
        for order in self.scenario.orders:
            one = self.scenario.nursery.one_lot if order.one_lot is None else order.one_lot
            if one:
                self.state_one_lot(order)

    def state_change_overs(self) -> None:
        """Time for each lot of a scion or rootstock at the grafting table on a day."""
        nursery = self.scenario.nursery
        if nursery.change_over_skill is None or nursery.change_over_seconds == 0:
            return
        for lot in self.scenario.seed_lots:
            by_day: dict[int, list[int]] = defaultdict(list)
            for flow in self.flows:
                holds = self.holds(flow, GroupBy.LOT, lot.lot) if flow.grafted and flow.graft >= 0 else None
                if holds is not None:
                    by_day[flow.graft].append(holds)
            for t, flows in by_day.items():
                changed = self.yes_or_no()
                for holds in flows:
                    self.builder.at_most({holds: 1.0}, {changed: 1.0})
                hours = {changed: nursery.change_over_seconds / 3600}
                self.need(nursery.change_over_skill, t, ("change over", None, None, None), hours)

    def in_group(self, lot: SeedLot, by: GroupBy, name: str) -> bool:
        """Whether seedlings of a lot belong to a group."""
        if by is GroupBy.LOT:
            return lot.lot == name
        if by is GroupBy.HEALTH:
            return lot.health is not None and lot.health.value == name
        if by is GroupBy.CROP and lot.crop is None:
            products = [p for p in self.scenario.products if lot.variety in (p.scion, p.rootstock)]
            return name in {product.crop for product in products}
        return by is GroupBy.CROP and lot.crop == name

    def items(self, by: GroupBy, name: str) -> list[Item]:
        """All plants of a group, wherever they could be."""
        found = []
        for wave, trays, zone, start, end in self.wave_places:
            if end > start and self.in_group(wave.lot, by, name):
                there = self.yes_or_no()
                self.builder.at_most({trays: 1.0}, {there: float(self.most_trays(wave))})
                found.append(Item(zone, start, end, there, wave.trays is not None))
        for flow in self.flows:
            holds, stood = self.holds(flow, by, name), flow.plants is not None
            if holds is None:
                continue
            if flow.grafted and not stood:
                found.append(Item(None, flow.graft, flow.graft + 1, holds, False))
            found += [
                Item(stay.zone, stay.start, stay.end, holds, stood)
                for stay in flow.stays
                if stay.end > max(stay.start, 0)
            ]
        for made, order, plants, zone, start, end in self.held_places:
            if end <= start:
                continue
            size = float(order.quantity)
            if by is GroupBy.CUSTOMER or made is None:
                crop = self.crop_of(order) == name if by is GroupBy.CROP else False
                if crop or (by is GroupBy.CUSTOMER and order.customer == name):
                    there = self.yes_or_no()
                    self.builder.at_most({plants: 1.0}, {there: size})
                    found.append(Item(zone, start, end, there, False))
                continue
            holds = self.holds(made, by, name)
            if holds is not None:
                there = self.yes_or_no()
                self.builder.at_most({plants: 1.0, holds: size}, {there: size}, size)
                found.append(Item(zone, start, end, there, self.since(made, zone) < 0))
        return found

    def state_barred(self, n: int, zone: str, group: Group, inside: Coefs) -> None:
        """A flow that holds plants of the group has nothing in these units."""
        flow = self.loads[zone][n][2]
        holds = self.holds(flow, *group)
        if holds is not None:
            healing = self.loads[zone][n][0].healing
            if not healing and flow.method.consolidate:
                each = max(join.match * join.take for join in flow.joins) / flow.tray.cells
            elif flow.method.kind is MethodKind.ROOT_CUT:
                each = max(join.match for join in flow.joins) / flow.tray.cells
            else:
                each = max(1 / join.waves[0].usable for join in flow.joins)
            most = self.most_seedlings(flow) * each * flow.tray.slots
            self.builder.at_most({**inside, holds: most}, {}, most)

    def crop_of(self, order: Order) -> str:
        """Crop of the product of an order."""
        return next(row.crop for row in self.scenario.products if row.product == order.product)

    def yes_or_no(self) -> int:
        """A variable that is 0 or 1."""
        return self.builder.add_var("there", lumpy=True, upper=1.0)

    def holds(self, flow: Flow, by: GroupBy, name: str) -> int | None:
        """Whether a flow holds plants of a group; None where it never can."""
        at = by.value, name, flow.number
        amounts: Coefs
        if at in self._held_in:
            return self._held_in[at]
        if flow.plants is not None:
            if not self.stood_in(flow, by, name):
                return None
            amounts, most = {flow.made: 1.0}, self.most_seedlings(flow)
        elif by is GroupBy.CUSTOMER:
            orders = [order for order in self.reach[flow.number] if order.customer == name]
            amounts = {self.sent[flow.number][order.order]: 1.0 for order in orders}
            most = float(sum(order.quantity for order in orders))
        else:
            if by is GroupBy.CROP:
                joins = flow.joins if flow.product.crop == name else []
                spares = [e for _, e in self.flow_spares[flow.number]]
            else:
                joins = [j for j in flow.joins if any(self.in_group(w.lot, by, name) for w in j.waves)]
                spares = [e for w, e in self.flow_spares[flow.number] if self.in_group(w.lot, by, name)]
            if not joins:
                return None
            amounts = {join.variable: 1 / join.match for join in joins} | dict.fromkeys(spares, 1.0)
            most = self.most_seedlings(flow)
        if not amounts:
            return None
        self._held_in[at] = holds = self.yes_or_no()
        self.builder.at_most(amounts, {holds: most})
        return holds

    @staticmethod
    def since(flow: Flow, zone: str) -> int:
        """Day on which plants held in a zone came there."""
        return flow.stays[-1].start if flow.stays and flow.stays[-1].zone == zone else flow.ready

    def stood_in(self, flow: Flow, by: GroupBy, name: str) -> bool:
        """Whether plants on hand belong to a group, by their crop or their lots; no customer has them yet."""
        if by is GroupBy.CROP:
            return flow.product.crop == name
        at = flow.product.product, self.days.at(flow.graft)
        rows = [row for row in self.scenario.plants_on_hand if (row.product, row.graft_day) == at]
        lots = {lot for row in rows for lot in (row.lot, row.rootstock_lot)}
        return any(self.in_group(lot, by, name) for lot in self.scenario.seed_lots if lot.lot in lots)

    def most_seedlings(self, flow: Flow) -> float:
        """Seedlings of a flow that no best plan exceeds."""
        sold_as = self.sold_as(flow.product)
        plants = sold_as.salvage_most + sum(
            order.quantity * (1 + self.margin_of(order, flow)) for order in self.reach[flow.number]
        )
        worst = min((join.match * join.take for join in flow.joins), default=1.0) * flow.kept
        return plants * (1 + self.most_spares[flow.number]) / worst

    def state_one_lot(self, order: Order) -> None:
        """All plants of an order come from flows without another lot than the one chosen, on each side."""
        flows = [flow for flow in self.flows if order in self.reach[flow.number]]
        for side in (0, 1):
            lots: dict[str, list[Flow]] = defaultdict(list)
            for flow in flows:
                for name in {join.waves[side if flow.grafted else 0].lot.lot for join in flow.joins}:
                    if flow.grafted or side == 1:
                        lots[name].append(flow)
            if len(lots) < 2:
                continue
            chosen = {name: self.yes_or_no() for name in lots}
            self.builder.at_most(dict.fromkeys(chosen.values(), 1.0), {}, 1.0)
            size = float(order.quantity)
            for name in lots:
                for flow in flows:
                    holds = self.holds(flow, GroupBy.LOT, name)
                    if holds is not None:
                        d = self.sent[flow.number][order.order]
                        self.builder.at_most({d: 1.0, holds: size}, {chosen[name]: size}, size)
