"""What progress records and what was on hand, by the decisions that they settle. Days are day numbers."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from math import ceil
from typing import NamedTuple, TypeVar

from model.network.rooms import routes_of
from model.scenario.calendar import Calendar
from model.scenario.choices import Happened, MethodKind
from model.scenario.entities import Product, Scenario
from model.scenario.records.past import PlantsOnHand, Progress

Value = TypeVar("Value")


def given(value: Value | None) -> Value:
    """The value of a cell that must not be blank. Raises ValueError if it is."""
    if value is None:
        raise ValueError("a row of progress has a blank cell that its kind may not leave blank")
    return value


class SownKey(NamedTuple):
    """A wave: lot, tray format, sowing day."""

    lot: str
    format: str
    sow: int


class FlowKey(NamedTuple):
    """A flow: product, graft day and the zones chosen, None where its method has no choice."""

    product: str
    graft: int
    in_zones: str | None


class GraftedKey(NamedTuple):
    """Joins of a flow from two waves; ``rootstock`` is None for own-root."""

    flow: FlowKey
    rootstock: SownKey | None
    scion: SownKey


@dataclass
class Amount:
    """A number, and how many were counted; ``counted`` is None while any part is not counted."""

    number: float = 0.0
    counted: float | None = 0.0

    def add(self, row: Progress) -> None:
        """Add a row of the progress table."""
        self.count(row.number, row.counted)

    def count(self, number: float, counted: float | None) -> None:
        """Add a number, and how many of it were counted."""
        self.number += number
        known = self.counted is not None and counted is not None
        self.counted = (self.counted or 0.0) + (counted or 0.0) if known else None


@dataclass(frozen=True)
class Past:
    """The past of a scenario; everything before day number ``today`` is settled."""

    today: int
    sown: dict[SownKey, Amount] = field(default_factory=lambda: defaultdict(Amount))
    grafted: dict[GraftedKey, Amount] = field(default_factory=lambda: defaultdict(Amount))
    finished: dict[FlowKey, float] = field(default_factory=lambda: defaultdict(float))
    """Plants counted ready."""
    delivered: dict[tuple[str, FlowKey], float] = field(default_factory=lambda: defaultdict(float))
    """Plants delivered, by order and flow."""
    bought: dict[tuple[str, int, str], float] = field(default_factory=lambda: defaultdict(float))
    """Plants bought in, by offer, day of arrival and order."""
    on_hand: frozenset[SownKey] = frozenset()
    """Waves sown before the first day, of which trays or plants stand there; they are in ``sown`` too."""
    plants: dict[FlowKey, float] = field(default_factory=lambda: defaultdict(float))
    """Healed or finished plants that stood there on the first day; their joins are in ``grafted`` too."""
    sown_into: dict[tuple[SownKey, str], float] = field(default_factory=lambda: defaultdict(float))
    """Trays that were put into a zone to germinate of which progress names the zone, by wave and zone."""
    packs: dict[tuple[str, float], list[tuple[int, float]]] = field(default_factory=lambda: defaultdict(list))
    """Pairs of day of arrival and number of packs, by item and size."""
    hired: dict[tuple[str, int], float] = field(default_factory=lambda: defaultdict(float))
    """Temporary hands, by crew and number of the week."""
    called: dict[tuple[str, int], float] = field(default_factory=lambda: defaultdict(float))
    """Temporary hands called, those in training left out, by crew and day."""
    overtime: dict[tuple[str, int], float] = field(default_factory=lambda: defaultdict(float))
    """Hours of temporary hands beyond their shifts, by crew and day."""
    worked: dict[tuple[str, int], float] = field(default_factory=lambda: defaultdict(float))
    """Hours worked, by crew and day."""

    @property
    def told(self) -> bool:
        """Whether anything happened, or could have, before what can still be planned."""
        return self.today > 0 or bool(self.plants)

    @property
    def worked_days(self) -> set[int]:
        """Days with recorded hours; a crew without a row on such a day did not work."""
        return {day for _, day in self.worked}


def past_of(scenario: Scenario, calendar: Calendar) -> Past:
    """The past of a valid scenario: what progress records, and what was on hand on the first day."""
    today = scenario.nursery.today
    stood = {
        SownKey(row.lot, row.format, calendar.day(row.sow_day)): Amount(row.trays, row.seedlings)
        for row in scenario.trays_on_hand
    }
    flow = _Flows(scenario, calendar)
    planted = [_stood(row, flow, scenario, calendar) for row in scenario.plants_on_hand]
    drawn = {key for joined, _ in planted for key in (joined.rootstock, joined.scion) if key is not None}
    past = Past(0 if today is None else calendar.day(today), on_hand=frozenset({*stood, *drawn}))
    past.sown.update(stood)
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    for joined, plants in planted:
        past.plants[joined.flow] += plants
        past.grafted[joined].count(plants, plants)
        for key in (joined.rootstock, joined.scion):
            if key is not None:
                past.sown[key].count(ceil(plants / cells[key.format]), plants)
    weeks = {t: q for q, week in enumerate(calendar.weeks) for t in week.days}
    for row in scenario.progress:
        day = calendar.day(row.day)
        match row.what:
            case Happened.SOWN:
                wave = SownKey(given(row.lot), given(row.format), day)
                past.sown[wave].add(row)
                if row.in_zones is not None:
                    past.sown_into[wave, row.in_zones] += row.number
            case Happened.GRAFTED:
                past.grafted[_joined(row, flow, calendar)].add(row)
            case Happened.FINISHED:
                past.finished[flow.key(row, given(row.product), given(row.graft_day))] += row.number
            case Happened.DELIVERED:
                order = given(row.order)
                made = flow.ordered[order] if row.product is None else row.product
                past.delivered[order, flow.key(row, made, given(row.graft_day))] += row.number
            case Happened.BOUGHT_IN:
                arrival = calendar.day(given(row.arrival_day))
                past.bought[given(row.offer), arrival, given(row.order)] += row.number
            case Happened.PACKS:
                arrival = calendar.day(given(row.arrival_day))
                past.packs[given(row.item), given(row.size)].append((arrival, row.number))
            case Happened.HIRED:
                past.hired[given(row.crew), weeks[day]] += row.number
            case Happened.CALLED:
                past.called[given(row.crew), day] += row.number
            case Happened.OVERTIME:
                past.overtime[given(row.crew), day] += row.number
            case Happened.WORKED:
                past.worked[given(row.crew), day] += row.number
    return past


class _Flows:
    """The flows that rows of progress name."""

    def __init__(self, scenario: Scenario, calendar: Calendar) -> None:
        self.calendar = calendar
        self.methods = {product.product: product.method for product in scenario.products}
        self.ordered = {order.order: order.product for order in scenario.orders}
        self.own = {method: next(iter(routes)) for method, routes in routes_of(scenario).items()}

    def key(self, row: Progress | PlantsOnHand, product: str, graft: date) -> FlowKey:
        """The flow of a row; without zones, each stage was passed in its own."""
        return FlowKey(product, self.calendar.day(graft), row.in_zones or self.own[self.methods[product]])


def raised_in(product: Product, kind: MethodKind) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Formats in which the product's rootstocks and scions may be raised."""
    final = (product.final_format,)
    if kind is MethodKind.OWN_ROOT:
        return (), product.scion_formats or final
    return (final if kind is MethodKind.ON_TRAY else product.rootstock_formats), product.scion_formats


def _stood(row: PlantsOnHand, flow: _Flows, scenario: Scenario, calendar: Calendar) -> tuple[GraftedKey, int]:
    """The joins whose plants stand there: made from as many seedlings, in the first format they may have."""
    product = next(product for product in scenario.products if product.product == row.product)
    method = next(method for method in scenario.methods if method.method == product.method)
    roots, scions = raised_in(product, method.kind)
    below = None
    if row.rootstock_lot is not None:
        below = SownKey(row.rootstock_lot, roots[0], calendar.day(given(row.rootstock_sow_day)))
    top = SownKey(row.lot, scions[0], calendar.day(row.sow_day))
    return GraftedKey(flow.key(row, row.product, row.graft_day), below, top), row.plants


def _joined(row: Progress, flow: _Flows, calendar: Calendar) -> GraftedKey:
    scion = SownKey(given(row.lot), given(row.format), calendar.day(given(row.sow_day)))
    rootstock = None
    if row.rootstock_lot is not None:
        sown = calendar.day(given(row.rootstock_sow_day))
        rootstock = SownKey(row.rootstock_lot, given(row.rootstock_format), sown)
    return GraftedKey(flow.key(row, given(row.product), row.day), rootstock, scion)
