"""A plan beside its scenario: the rows of the scenario by name, and what stands behind the plan's plants."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from model.network.expansion import stage_spans, stays_after
from model.network.rooms import Route, routes_of
from model.network.types import Stay
from model.planned.lots import Lots, SownWave
from model.planned.plan_tables import TINY, Tables, rows_of
from model.planned.tables.declared import FlowKey
from model.scenario.calendar import Calendar, week_of
from model.scenario.capacity import CrewLimits
from model.scenario.entities import Scenario
from model.scenario.records.methods import Stage
from model.scenario.records.people import Practice


class Practised(NamedTuple):
    """What new hands practise on: ``amount`` trays of a lot, or units of a supply.

    ``day``: of sowing or use. ``bench``: first day on the bench. ``out``: day after the last of the training.
    """

    row: Practice
    amount: float
    hands: float
    training: date
    day: date
    bench: date
    out: date


class Germinates(NamedTuple):
    """Trays of a wave in a zone for germination, with the day to the bench, and the multiple of tending."""

    zone: str
    trays: float
    bench: date
    care: float
    own: bool
    """Whether it is the lot's own zone."""


class PlanReading:
    """Tables of a plan, its lots, and lots, products, methods, cells and routes of its scenario."""

    def __init__(self, scenario: Scenario, tables: Tables) -> None:
        self.scenario, self.tables, self.lots = scenario, tables, Lots(tables)
        self.calendar = Calendar(scenario.nursery, scenario.days_off)
        self.seed_lots = {lot.lot: lot for lot in scenario.seed_lots}
        self.products = {product.product: product for product in scenario.products}
        self.methods = {method.method: method for method in scenario.methods}
        self.cells = {tray.format: tray.cells for tray in scenario.tray_formats}
        self.routes = routes_of(scenario)
        self._stays: dict[FlowKey, tuple[Stay, ...]] = {}

    def route(self, flow: FlowKey) -> Route:
        """The route of a flow."""
        return self.routes[self.products[flow[0]].method][flow[2]]

    def holding(self, product: str, in_zones: str | None) -> tuple[str, float]:
        """Zone in which plants wait for their due day, and the multiple of tending there.

        Plants bought in have no zones chosen: they wait in the method's own.
        """
        routes = self.routes[self.products[product].method]
        route = routes.get(in_zones, next(iter(routes.values())))
        return route.method.holding_zone, route.held_care

    def spans(self, flow: FlowKey) -> list[tuple[Stage, date, date]]:
        """Each stage of a flow with its first day and its day out."""
        date_ = self.calendar.date
        spans = stage_spans(self.route(flow).stages, self.stays(flow))
        return [(stage, date_(start), date_(end)) for stage, start, end in spans]

    def stays(self, flow: FlowKey) -> tuple[Stay, ...]:
        """Stays of a flow. Raises ValueError if its plants are not ready within the season."""
        key = self.products[flow[0]].method, *flow[1:]
        if key not in self._stays:
            way = stays_after(self.route(flow).stages, self.calendar.day(flow[1]), self.calendar)
            if way is None:
                raise ValueError(f"{flow[0]} grafted on {flow[1]} is not ready within the season")
            self._stays[key] = way[0]
        return self._stays[key]

    def germinating(self) -> Iterator[tuple[SownWave, Germinates]]:
        """Where the trays of each wave germinate, its lot's own zone first."""
        care = {(row.lot, row.zone): row.care for row in self.scenario.germination_zones}
        elsewhere: dict[str, list[tuple[str, float, date]]] = defaultdict(list)
        for name, zone, trays, bench in rows_of(
            self.tables["germination"], "wave", "zone", "trays", "bench_day"
        ):
            elsewhere[name].append((zone, trays, bench))
        for name, wave in self.lots.waves.items():
            own = wave.trays - sum(trays for _, trays, _ in elsewhere[name])
            if own > TINY or not elsewhere[name]:
                zone = self.seed_lots[wave.lot].germination_zone
                yield wave, Germinates(zone, own, wave.bench, 1.0, own=True)
            for zone, trays, bench in elsewhere[name]:
                yield wave, Germinates(zone, trays, bench, care[wave.lot, zone], own=False)

    def practised(self) -> Iterator[Practised]:
        """What new hands practise on."""
        calendar = self.calendar
        crews = {crew.crew: CrewLimits(self.scenario, crew, calendar) for crew in self.scenario.crews}
        hired = rows_of(self.tables["temporary"], "crew", "week_day", "new")
        for name, first, new in hired if self.scenario.practice else ():
            (week,) = (w for w in calendar.weeks if week_of(calendar.date(w.days[0])) == week_of(first))
            training = crews[name].training_days(week)
            for row in self.scenario.practice if training and new > 0 else ():
                sown = calendar.previous_working(training[0] - row.days_before)
                if row.crew != name or sown is None:
                    continue
                out, bench = training[-1] + 1, sown
                if row.format is not None and (germinates := self.seed_lots[row.item].germination_days):
                    late = calendar.next_working(sown + germinates)
                    bench = out if late is None else min(late, out)
                days = training[0], sown, bench, out
                yield Practised(row, new * row.quantity, new, *map(calendar.date, days))
