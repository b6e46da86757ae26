"""The parts of a network: waves, joins, flows, deliveries, buy-ins, terms of orders.

Days are day numbers of ``model.scenario.calendar.Calendar``; positions in lists are called indices.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import ceil
from typing import NamedTuple

from model.network.charges import leaves_in_whole_trays
from model.network.past import FlowKey, Past
from model.network.rooms import Route
from model.scenario.calendar import Calendar
from model.scenario.choices import MethodKind, Part
from model.scenario.entities import Order, Product, Scenario, SeedLot, TrayFormat
from model.scenario.records.methods import Method
from model.scenario.records.trade import BuyInOffer, Run


class Stay(NamedTuple):
    """A run of days in one zone, from ``start`` up to, but not including, ``end``."""

    zone: str
    part: Part
    start: int
    end: int


class Wave(NamedTuple):
    """Trays of one lot sown in one format on one day; its days may lie before the first."""

    lot: SeedLot
    tray: TrayFormat
    sow: int
    bench: int
    usable: float
    on_hand: bool = False
    """Whether its trays were sown before the first day, and stood there on it."""

    @property
    def seeds(self) -> int:
        """Seeds that sowing a tray takes; 0 for trays on hand."""
        return 0 if self.on_hand else self.tray.cells * self.lot.seeds_per_cell


class Join(NamedTuple):
    """Possible joins of one flow from one pair of waves; ``rootstock`` is None for own-root."""

    flow: int
    rootstock: int | None
    scion: int
    match: float
    take: float

    @property
    def waves(self) -> tuple[int, ...]:
        """Indices of the waves drawn on."""
        return (self.scion,) if self.rootstock is None else (self.rootstock, self.scion)


class Spare(NamedTuple):
    """Seedlings of a wave that a flow may keep as sowing margin, as its rootstocks or as its scions."""

    flow: int
    wave: int
    rootstock: bool

    @property
    def side(self) -> str:
        """What they are to the flow, in a word."""
        return "rootstock" if self.rootstock else "scion"


class Reserve(NamedTuple):
    """Spare seedlings that a flow must keep on one side: its spares are at least

    Σ joins · least / match + Σ delivered · (margin − least) · (1 + graft margin) / best
    − Σ certain joins · (most − least) / match
    """

    flow: int
    rootstock: bool
    least: float
    """Least sowing margin of the orders that the flow may serve, a share of the seedlings drawn."""
    most: float
    """The largest of these margins."""
    best: float
    """Plants that a seedling of the flow becomes where it matches and takes best."""
    spares: tuple[int, ...]
    joins: tuple[int, ...]
    """Joins from waves whose seedlings are expected."""
    certain: tuple[int, ...]
    """Joins from waves without a margin of the orders: counted ones, and those of lots with one margin."""
    margins: dict[int, float]
    """Sowing margin of the order of each delivery."""


class Flow(NamedTuple):
    """All joins of one product on one graft day that take one route, and the stays that follow.

    ``method``: the product's method, with the take of the route.
    """

    product: Product
    sold_as: Product
    """The product that orders name: this one, or the one that it is another way to make."""
    method: Method
    tray: TrayFormat
    graft: int
    stays: tuple[Stay, ...]
    ready: int
    survival: float
    """Share of healed plants that can be sold: the method's, or the counted share."""
    route: Route

    @property
    def key(self) -> FlowKey:
        """What names the flow."""
        return FlowKey(self.product.product, self.graft, self.route.in_zones)

    @property
    def grafted(self) -> bool:
        """Whether the product is grafted, not own-root."""
        return self.method.kind is not MethodKind.OWN_ROOT


class Delivery(NamedTuple):
    """A flow that may serve an order, with the graft margin still needed, as a share of the plants."""

    flow: int
    order: int
    margin: float


class BuyIn(NamedTuple):
    """An offer that may serve an order by a delivery on ``day``."""

    offer: int
    day: int
    order: int


class OrderTerms(NamedTuple):
    """An order with its days as day numbers, its graft margin and its penalty.

    If an order may be declined, its penalty includes its price, because the aim is then contribution.
    """

    order: Order
    product: Product
    method: Method
    tray: TrayFormat
    due: int
    pack: int | None
    margin: float
    penalty: float
    of_one_day: float | None = None
    """Most plants that may come from one graft day; None for no limit."""
    of_one_lot: float | None = None
    """Most plants that may come from one seed lot, of either side; None for no limit."""
    of_one_unit: float | None = None
    """Most plants that may be in one load of one unit; None for no limit."""
    late_most: int = 0
    """Most days that plants may come late."""
    late_cost: float = 0.0
    """What a plant costs for each week begun that it comes late, in currency."""
    run: Run | None = None
    """The run by which its plants leave; None where the customer fetches them."""
    run_days: tuple[int, ...] = ()
    """Days on which the run leaves, in order."""

    @property
    def declined_at_once(self) -> int:
        """Plants by which it may be declined in part: a tray of them where it leaves in whole trays."""
        return self.tray.cells if leaves_in_whole_trays(self.order) else 1

    @property
    def price(self) -> float:
        """Price of a plant; 0 if the order has none."""
        return self.order.price or 0.0

    def days_late(self, ready: int) -> int:
        """Days after the due day on which plants ready on that day leave; 0 if they are in time or too late.

        Plants that miss the packing day leave on the day on which they are ready, or with the next run.
        """
        if ready <= self.due:
            return 0
        leaves = ready if self.run is None else next((day for day in self.run_days if day >= ready), None)
        return 0 if leaves is None or leaves > self.due + self.late_most else leaves - self.due

    def leaves(self, ready: int) -> int:
        """Day on which plants ready on that day leave."""
        return self.due + self.days_late(ready)

    def packed(self, ready: int) -> int | None:
        """Day on which plants ready on that day are packed for the order; None where it has no such day."""
        return ready if self.days_late(ready) else self.pack

    def served_by(self, ready: int, method: Method) -> bool:
        """Whether plants ready on that day can be delivered: in time within the method's limit, or late."""
        if self.run is not None and self.due not in self.run_days:
            return False
        if not ready - self.late_most <= self.due <= ready + method.holding_limit_days:
            return False  # what follows says so too, but is asked for many days
        in_time = self.pack is not None and ready <= self.pack
        late = self.days_late(ready) > 0
        return (in_time or late) and self.leaves(ready) - ready <= method.holding_limit_days


@dataclass(frozen=True)
class Network:
    """The scenario's feasible combinations, ready for the program."""

    scenario: Scenario
    calendar: Calendar
    waves: list[Wave]
    flows: list[Flow]
    joins: list[Join]
    orders: list[OrderTerms]
    deliveries: list[Delivery]
    offers: list[BuyInOffer]
    buy_ins: list[BuyIn]
    draws: list[list[int]]
    """For each wave, the indices of the joins that draw on it, in the order of graft days."""
    flow_joins: list[list[int]]
    """For each flow the indices of its joins."""
    past: Past
    """What has happened before today."""
    spares: list[Spare] = field(default_factory=list)
    reserves: list[Reserve] = field(default_factory=list)

    @cached_property
    def wave_spares(self) -> list[list[int]]:
        """For each wave the indices of its spares."""
        found: list[list[int]] = [[] for _ in self.waves]
        for i, spare in enumerate(self.spares):
            found[spare.wave].append(i)
        return found

    @cached_property
    def in_whole_trays(self) -> frozenset[int]:
        """Flows from today whose trays are whole ones in a plan of whole trays.

        Some order of their product leaves in whole trays.
        """
        full = {term.product.product for term in self.orders if leaves_in_whole_trays(term.order)}
        return frozenset(
            f
            for f, flow in enumerate(self.flows)
            if flow.sold_as.product in full and flow.graft >= self.past.today
        )

    def joins_a_tray(self, j: int) -> float:
        """Joins of a tray that is loaded: a fresh one, or that in which seedlings or plants stand."""
        join = self.joins[j]
        flow = self.flows[join.flow]
        if flow.method.kind is MethodKind.ROOT_CUT:
            return flow.tray.cells
        if flow.graft < 0:
            plants = self.past.plants[flow.key]
            return plants / ceil(plants / flow.tray.cells)
        return join.match * self.waves[join.waves[0]].usable

    def draw_days(self, wave: int) -> list[int]:
        """Days on which some join may draw on the wave, in order."""
        return sorted({self.flows[self.joins[j].flow].graft for j in self.draws[wave]})
