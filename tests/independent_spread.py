"""The part of the second statement about orders spread by rule (days, lots, units), and least batches."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from model.scenario.choices import MethodKind, ZoneMode
from model.scenario.entities import Order, Scenario
from tests.independent_apart import Keeping
from tests.independent_parts import Coefs, Flow


class Spread(Keeping):
    """Orders spread by rule in one scenario.

    ``of_join``: plants that spread orders take of each join, ``finishes``: plants that come of it.
    ``in_load`` and ``fullest``: the same of each load of a unit.
    """

    def __init__(self, scenario: Scenario) -> None:
        super().__init__(scenario)
        self.of_join: dict[int, Coefs] = defaultdict(dict)
        self.in_load: dict[int, Coefs] = defaultdict(dict)
        self.finishes: dict[int, float] = {}
        self.fullest: dict[int, float] = {}

    def state_spread(self) -> None:
        """Each rule of each order; no join or load gives more than it has."""
        for order in self.scenario.orders:
            self.over_days(order)
            self.over_lots(order)
            self.over_units(order)
        for sent, most in ((self.of_join, self.finishes), (self.in_load, self.fullest)):
            for source, plants in sent.items():
                self.builder.at_most(plants, {source: most[source]})

    def state_batches(self) -> None:
        """On each day a method joins nothing or its least batch; a thousand times all orders is no limit."""
        days: dict[tuple[str, int, int], Coefs] = defaultdict(dict)
        for flow in self.flows:
            if flow.plants is None and flow.method.least_batch is not None:
                days[flow.method.method, flow.graft, flow.method.least_batch][flow.made] = 1.0
        plenty = 1000.0 * (1 + sum(order.quantity for order in self.scenario.orders))
        for (name, graft, least), made in days.items():
            set_up = self.builder.add_var(f"Y {name} {graft}", lumpy=True, upper=1.0)
            self.builder.at_most(made, {set_up: plenty + least})
            self.builder.at_most({set_up: float(least)}, made)

    def share(self, order: Order, what: str) -> float:
        """Largest share of an order of one day, lot or unit."""
        own, all_orders = (
            getattr(row, f"most_share_of_one_{what}") for row in (order, self.scenario.nursery)
        )
        return float(own or all_orders or 1.0)

    def sources(self, order: Order) -> Iterator[tuple[Flow, int, float]]:
        """Flows that may serve an order, the plants that each sends, and what a plant stands for.

        Plants on hand were grafted before any rule.
        """
        for flow in self.flows:
            if flow.plants is None and order in self.reach[flow.number]:
                d = self.sent[flow.number][order.order]
                yield flow, d, 1 + self.margin(order, flow.method)

    def over_days(self, order: Order) -> None:
        """Plants of one graft day."""
        days: dict[int, Coefs] = defaultdict(dict)
        for flow, d, _ in self.sources(order):
            days[flow.graft][d] = 1 / order.quantity
        for shares in days.values():
            self.builder.at_most(shares, {}, self.share(order, "day"))

    def over_lots(self, order: Order) -> None:
        """Plants of one seed lot: every join sends some of its own plants."""
        most = self.share(order, "lot")
        if most >= 1:
            return
        of: dict[str, Coefs] = defaultdict(dict)
        for flow, d, held in self.sources(order):
            parts: Coefs = {}
            for join in flow.joins:
                q = self.builder.add_var(f"Q {order.order}")
                parts[q] = 1.0
                for name in {wave.lot.lot for wave in join.waves}:
                    of[name][q] = 1 / order.quantity
                self.of_join[join.variable][q] = held
                self.finishes[join.variable] = join.take * flow.method.finish_survival
            self.builder.equal(parts, {d: 1.0})
        for shares in of.values():
            self.builder.at_most(shares, {}, most)

    def over_units(self, order: Order) -> None:
        """Plants in one unit, spread evenly over those opened together."""
        most = self.share(order, "unit")
        if most >= 1:
            return
        inside: dict[int, Coefs] = defaultdict(dict)
        for flow, d, held in self.sources(order):
            for zone, loads in self.loads.items():
                for n, (stay, _, made) in enumerate(loads):
                    if made is not flow or self.zones[zone].mode is not ZoneMode.UNITS:
                        continue
                    parts: Coefs = {}
                    for opened, trays in self.into[zone, n].items():
                        u = self.builder.add_var(f"U {order.order}")
                        parts[u] = 1.0
                        inside[opened][u] = 1 / order.quantity
                        if len(self.into[zone, n]) > 1:
                            self.in_load[trays][u] = held
                            self.fullest[trays] = self.full_slot(flow, healing=stay.healing)
                    self.builder.equal(parts, {d: 1.0})
        for opened, shares in inside.items():
            self.builder.at_most(shares, {opened: most})

    def trays_closed_up(self, flow: Flow, *, lumpy: bool) -> Coefs:
        """Trays of a flow once failed joins are gone from them; the last one whole where ``lumpy``."""
        needed = {flow.healed: 1 / flow.tray.cells}
        if not lumpy:
            return needed
        trays = {self.builder.add_var(f"C {flow.number}", lumpy=True): 1.0}
        self.builder.at_most(needed, trays)
        return trays

    def full_slot(self, flow: Flow, *, healing: bool) -> float:
        """Most plants that come of a slot of trays of a flow."""
        cells, kept = flow.tray.cells, flow.method.finish_survival / flow.tray.slots
        if flow.method.consolidate and not healing:
            return cells * kept
        if flow.method.kind is MethodKind.ROOT_CUT:
            return cells * kept * max(join.take for join in flow.joins)
        return kept * max(join.take * join.match * join.waves[0].usable for join in flow.joins)
