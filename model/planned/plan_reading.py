"""A plan beside its scenario: the rows of the scenario by name, and what stands behind the plan's plants."""

from __future__ import annotations

from datetime import date

from model.network.expansion import stage_spans, stays_after
from model.network.rooms import Route, routes_of
from model.network.types import Stay
from model.planned.lots import Lots
from model.planned.plan_tables import Tables
from model.planned.tables.declared import FlowKey
from model.scenario.calendar import Calendar
from model.scenario.entities import Scenario
from model.scenario.records.methods import Stage


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
