"""Expand a scenario into all its feasible waves, joins, flows and deliveries.

Combinations that break a window, a working day or a due date are left out, which keeps the program
small. All lists are in a fixed order, so that one scenario always gives one program. Days
are day numbers of ``model.scenario.calendar.Calendar``; positions in lists are called indices.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import groupby
from itertools import product as product_of
from typing import NamedTuple

from model.network.as_counted import as_counted
from model.network.charges import with_charges
from model.network.past import Amount, Past, SownKey, given, past_of, raised_in
from model.network.reserves import keep_reserves
from model.network.rooms import routes_of
from model.network.types import BuyIn, Delivery, Flow, Join, Network, OrderTerms, Stay, Wave
from model.rates.overseeding import fixed_sowing_margin, graft_margin, penalty
from model.rates.yields import Pairing, stem_match, take_at, usable_per_tray
from model.scenario.calendar import Calendar
from model.scenario.choices import Source
from model.scenario.entities import Nursery, Order, Scenario, SeedLot
from model.scenario.lateness import days_late_most, discount_a_week
from model.scenario.records.methods import AgeEffect, Stage
from model.scenario.run_days import leaves_on, run_by_customer, with_runs


def stays_after(
    stages: Iterable[Stage], graft: int, calendar: Calendar
) -> tuple[tuple[Stay, ...], int] | None:
    """Stays that follow the graft day, and the ready day; None if they run past the horizon.

    Consecutive stages of one part in one zone form one stay. People must move the trays when a stay ends.
    So it ends on the first working day on or after its last.
    """
    stays, start = [], graft
    for (zone, part), run in groupby(stages, key=lambda stage: (stage.zone, stage.part)):
        length = sum(stage.days for stage in run)
        end = calendar.next_working(start + length) if length else start
        if end is None:
            return None
        stays.append(Stay(zone, part, start, end))
        start = end
    return tuple(stays), start


def left_on(stays: Iterable[Stay], start: int, end: int) -> int:
    """Day on which plants leave the room of a stage from ``start`` to ``end``: the end of its stay."""
    return min(stay.end for stay in stays if stay.start <= start and stay.end >= end)


def stage_spans(stages: Iterable[Stage], stays: Iterable[Stay]) -> Iterator[tuple[Stage, int, int]]:
    """Each stage with its first day and its day out; ``stays``: what ``stays_after`` makes of the stages.

    Days on which the trays wait for a working day belong to the last stage of a stay.
    """
    runs = groupby(stages, key=lambda stage: (stage.zone, stage.part))
    for (_, run), stay in zip(runs, stays, strict=True):
        *first, last = run
        start = stay.start
        for stage in first:
            yield stage, start, start + stage.days
            start += stage.days
        yield last, start, stay.end


def order_terms(scenario: Scenario, calendar: Calendar) -> list[OrderTerms]:
    """All orders with their product, method, days, margin, penalty and run."""
    products = {product.product: product for product in scenario.products}
    methods = {method.method: method for method in scenario.methods}
    trays = {tray.format: tray for tray in scenario.tray_formats}
    by_customer, terms = run_by_customer(scenario), []
    leaving = {
        run.run: tuple(t for t in range(calendar.days) if leaves_on(run, calendar.date(t)))
        for run in by_customer.values()
    }
    for order in scenario.orders:
        product = products[order.product]
        method = methods[product.method]
        due = calendar.day(order.due_day)
        margin = graft_margin(order, product, method, scenario.nursery)
        cells = order, product, method, trays[product.final_format], due, calendar.previous_working(due)
        day, lot, unit = (_most(order, scenario.nursery, column) for column in SPREAD_BY)
        late = days_late_most(order, scenario.nursery), discount_a_week(order, scenario.nursery)
        run = by_customer.get(order.customer)
        rides = run, () if run is None else leaving[run.run]
        spread = day, lot, unit
        terms.append(OrderTerms(*cells, margin, penalty(order, scenario.nursery), *spread, *late, *rides))
    return terms


SPREAD_BY = ("most_share_of_one_day", "most_share_of_one_lot", "most_share_of_one_unit")
"""Columns of orders and of the nursery that spread an order."""


def _most(order: Order, nursery: Nursery, column: str) -> float | None:
    """Plants of an order that may come from one graft day, lot or unit; None for no limit."""
    own: float | None = getattr(order, column)
    share = getattr(nursery, column) if own is None else own
    return None if share is None or share >= 1 else share * order.quantity


class _Waves:
    """Waves by lot, format and sowing day, each made at its first use."""

    def __init__(self, scenario: Scenario, calendar: Calendar, past: Past) -> None:
        self.calendar = calendar
        self.past = past
        self.margins = {lot.lot: fixed_sowing_margin(lot, scenario.nursery) for lot in scenario.seed_lots}
        self.by_lot = {lot.lot: lot for lot in scenario.seed_lots}
        self.trays = {tray.format: tray for tray in scenario.tray_formats}
        self.lots: dict[str, list[SeedLot]] = defaultdict(list)
        for lot in scenario.seed_lots:
            self.lots[lot.variety].append(lot)
        self.found: dict[tuple[str, str, int], Wave | None] = {}

    def get(self, lot: SeedLot, format_: str, sow: int) -> Wave | None:
        """The wave, or None if it cannot be sown on that day."""
        key = (lot.lot, format_, sow)
        if key not in self.found:
            self.found[key] = self._make(lot, format_, sow)
        return self.found[key]

    def _make(self, lot: SeedLot, format_: str, sow: int) -> Wave | None:
        key = SownKey(lot.lot, format_, sow)
        sown = self.past.sown.get(key)
        if sown is None and (sow < 0 or not self.calendar.is_working[sow]):
            return None
        days = lot.germination_days
        bench = self.calendar.next_working(sow + days) if days else sow
        if bench is None:
            return None
        tray = self.trays[format_]
        usable = usable_per_tray(lot, tray, self.margins[lot.lot] or 0.0)
        if sown is not None and sown.counted is not None and sown.number > 0:
            usable = sown.counted / sown.number
        return Wave(lot, tray, sow, bench, usable, key in self.past.on_hand)

    def sown(self, key: SownKey) -> Wave:
        """A wave that was sown. Raises ValueError if its seedlings reach no bench within the horizon."""
        return given(self.get(self.by_lot[key.lot], key.format, key.sow))

    def at_ages(
        self, variety: str, formats: tuple[str, ...], graft: int, youngest: int, oldest: int
    ) -> list[Wave]:
        """Waves of the variety in these formats whose age on the graft day lies in the window."""
        waves = []
        for lot in self.lots[variety]:
            for format_ in formats:
                for age in range(oldest, youngest - 1, -1):
                    wave = self.get(lot, format_, graft - age)
                    if wave is not None and wave.bench <= graft:
                        waves.append(wave)
        return waves


def _flows(
    scenario: Scenario, calendar: Calendar, terms: list[OrderTerms], past: Past
) -> tuple[list[Flow], list[Delivery]]:
    """Flows that can serve an order, be salvaged or are grafted already; the deliveries they allow."""
    routes = routes_of(scenario)
    products = {product.product: product for product in scenario.products}
    trays = {tray.format: tray for tray in scenario.tray_formats}
    orders: dict[str, list[int]] = defaultdict(list)
    for o, term in enumerate(terms):
        orders[term.product.product].append(o)
    grafted: dict[tuple[str, str | None], set[int]] = defaultdict(set)
    for key in past.grafted:
        grafted[key.flow.product, key.flow.in_zones].add(key.flow.graft)
    days = sorted({*calendar.working_days, *(day for days in grafted.values() for day in days)})
    ways = {
        (name, route.in_zones, graft): stays_after(route.stages, graft, calendar)
        for name, found in routes.items()
        for route in found.values()
        for graft in days
    }
    flows: list[Flow] = []
    deliveries: list[Delivery] = []
    for product in scenario.products:
        found, sold_as = routes[product.method], products[product.ordered_as]
        grown = [] if sold_as.source is Source.BUY else calendar.working_days
        salvaged = sold_as.salvage_price > 0 and sold_as.salvage_most > 0
        margins = {
            name: {
                o: graft_margin(terms[o].order, sold_as, route.method, scenario.nursery)
                for o in orders[sold_as.product]
            }
            for name, route in found.items()
        }
        made = {graft for name in found for graft in grafted[product.product, name]}
        for graft, (name, route) in product_of(sorted({*grown, *made}), found.items()):
            way, recorded = ways[product.method, name, graft], graft in grafted[product.product, name]
            settled = graft < past.today or sold_as.source is Source.BUY
            if way is None or (settled and name is not None and not recorded):
                continue
            stays, ready = way
            flow = Flow(
                product,
                sold_as,
                route.method,
                trays[product.final_format],
                graft,
                stays,
                ready,
                route.method.finish_survival,
                route,
            )
            flow_key = flow.key
            served = [
                o
                for o in margins[name]
                if terms[o].served_by(ready, route.method)
                or (past.delivered and (terms[o].order.order, flow_key) in past.delivered)
            ]
            if served or salvaged or recorded:
                deliveries += [Delivery(len(flows), o, margins[name][o]) for o in served]
                flows.append(flow)
    return flows, deliveries


class _Possible(NamedTuple):
    """A pair of waves whose ages lie in the windows of a flow."""

    flow: int
    rootstock: Wave | None
    scion: Wave


def _possible(flows: list[Flow], waves: _Waves) -> list[_Possible]:
    """All pairs of waves for all flows."""
    found = []
    for f, flow in enumerate(flows):
        product, method = flow.product, flow.method
        rootstock_formats, scion_formats = raised_in(product, method.kind)
        window = method.scion_age_min, method.scion_age_max
        scions = waves.at_ages(product.scion, scion_formats, flow.graft, *window)
        if product.rootstock is None or method.rootstock_age_min is None or method.rootstock_age_max is None:
            found += [_Possible(f, None, scion) for scion in scions]
            continue
        window = method.rootstock_age_min, method.rootstock_age_max
        rootstocks = waves.at_ages(product.rootstock, rootstock_formats, flow.graft, *window)
        found += [_Possible(f, rootstock, scion) for rootstock in rootstocks for scion in scions]
    return found


def _joined(flows: list[Flow], waves: _Waves, past: Past) -> dict[_Possible, Amount]:
    """Pairs of waves that progress records as joined, with the joins made and counted."""
    numbers = {flow.key: f for f, flow in enumerate(flows)}
    return {
        _Possible(
            numbers[key.flow],
            None if key.rootstock is None else waves.sown(key.rootstock),
            waves.sown(key.scion),
        ): amount
        for key, amount in past.grafted.items()
    }


def _matches(
    possible: list[_Possible], flows: list[Flow], effects: dict[tuple[str, int, int], AgeEffect]
) -> list[float | None]:
    """Stem match of each possible pair of waves; 1 for own-root."""
    pairings: dict[tuple[str, str, str, int, int], Pairing] = {}
    keys: list[tuple[str, str, str, int, int] | None] = []
    for p in possible:
        if p.rootstock is None:
            keys.append(None)
            continue
        flow = flows[p.flow]
        ages = flow.graft - p.rootstock.sow, flow.graft - p.scion.sow
        key = (flow.method.method, p.rootstock.lot.lot, p.scion.lot.lot, *ages)
        keys.append(key)
        if key not in pairings:
            pairings[key] = Pairing(flow.method, p.rootstock.lot, p.scion.lot, *ages)
    shares = dict(zip(pairings, stem_match(list(pairings.values()), effects), strict=True))
    return [1.0 if key is None else shares[key] for key in keys]


def _buy_ins(scenario: Scenario, calendar: Calendar, terms: list[OrderTerms], past: Past) -> list[BuyIn]:
    """All deliveries of offers that can serve an order or are already ordered."""
    orders: dict[str, list[int]] = defaultdict(list)
    for o, term in enumerate(terms):
        if term.product.source is not Source.GROW:
            orders[term.product.product].append(o)
    found = []
    for f, offer in enumerate(scenario.buy_in_offers):
        first = max(offer.lead_days, 0 if offer.from_day is None else calendar.day(offer.from_day))
        last = calendar.days - 1 if offer.to_day is None else calendar.day(offer.to_day)
        days = {
            t
            for t in calendar.working_days
            if first <= t <= last and calendar.weekday(t) in offer.delivery_weekdays
        }
        for o in orders[offer.product]:
            term = terms[o]
            earliest = term.due - term.method.holding_limit_days
            reach = range(max(earliest, 0), term.due + term.late_most + 1)
            found += [BuyIn(f, t, o) for t in reach if t in days and term.served_by(t, term.method)]
    offers = {offer.offer: f for f, offer in enumerate(scenario.buy_in_offers)}
    numbers = {term.order.order: o for o, term in enumerate(terms)}
    ordered = {BuyIn(offers[offer], day, numbers[order]) for offer, day, order in past.bought}
    return sorted({*found, *ordered})


def counted_past(scenario: Scenario, calendar: Calendar) -> Past:
    """The past of a valid scenario; plants on hand that are ready by the first day count as finished."""
    past, routes = past_of(scenario, calendar), routes_of(scenario)
    methods = {product.product: product.method for product in scenario.products}
    for key, plants in past.plants.items():
        way = stays_after(routes[methods[key.product]][key.in_zones].stages, key.graft, calendar)
        if way is not None and way[1] <= 0:
            past.finished[key] = plants
    return past


def expand(scenario: Scenario) -> Network:
    """Expand a valid scenario into its network of feasible waves, joins, flows and deliveries.

    Everything that progress records is in it too, feasible or not, with its counts. Orders without a price
    have that of the list, if it has one. Orders with a run are due on the day on which they leave with it.
    """
    scenario = with_runs(with_charges(scenario))
    calendar = Calendar(scenario.nursery, scenario.days_off)
    past = counted_past(scenario, calendar)
    terms = order_terms(scenario, calendar)
    all_flows, all_deliveries = _flows(scenario, calendar, terms, past)
    effects = {(e.method, e.rootstock_age, e.scion_age): e for e in scenario.age_effects}
    methods = {method.method: method for method in scenario.methods}
    makes = _Waves(scenario, calendar, past)
    joined = _joined(all_flows, makes, past)
    possible = _possible(all_flows, makes)
    possible += sorted(joined.keys() - possible, key=lambda p: (p.flow, str(p)))
    matched = [
        (p, 1.0 if match is None else match)
        for p, match in zip(possible, _matches(possible, all_flows, effects), strict=True)
        if match is not None or p in joined
    ]

    used_flows = {number: f for f, number in enumerate(sorted({p.flow for p, _ in matched}))}
    flows = [all_flows[number] for number in used_flows]
    wave_set = {wave for p, _ in matched for wave in (p.rootstock, p.scion) if wave is not None}
    wave_set |= {makes.sown(key) for key in past.sown if key not in past.on_hand}
    waves = sorted(wave_set, key=lambda wave: (wave.sow, wave.lot.lot, wave.tray.format))
    wave_index = {wave: w for w, wave in enumerate(waves)}

    joins = []
    for p, match in matched:
        flow = all_flows[p.flow]
        rootstock = None if p.rootstock is None else wave_index[p.rootstock]
        take = 1.0
        if p.rootstock is not None:
            ages = flow.graft - p.rootstock.sow, flow.graft - p.scion.sow
            take = take_at(methods[flow.method.method], effects, *ages)
            if flow.route.take != 1:
                take = min(1.0, take * flow.route.take)
        came = joined.get(p)
        if came is not None and came.counted is not None and came.number > 0:
            take = came.counted / came.number
        joins.append(Join(used_flows[p.flow], rootstock, wave_index[p.scion], match, take))

    draws: list[list[int]] = [[] for _ in waves]
    flow_joins: list[list[int]] = [[] for _ in flows]
    for j in sorted(range(len(joins)), key=lambda j: flows[joins[j].flow].graft):
        join = joins[j]
        flow_joins[join.flow].append(j)
        for w in join.waves:
            draws[w].append(j)

    network = Network(
        scenario,
        calendar,
        waves,
        flows,
        joins,
        terms,
        [d._replace(flow=used_flows[d.flow]) for d in all_deliveries if d.flow in used_flows],
        list(scenario.buy_in_offers),
        _buy_ins(scenario, calendar, terms, past),
        draws,
        flow_joins,
        past,
    )
    if past.told:
        as_counted(network)
    keep_reserves(network)
    return network
