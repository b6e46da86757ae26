"""A plan beside its scenario: the rows of the scenario by name, and what stands behind the plan's plants."""

from __future__ import annotations

from collections import defaultdict

from model.planned.lots import Lots
from model.planned.plan_tables import Tables
from model.scenario.calendar import Calendar
from model.scenario.entities import Scenario, Stage


class PlanReading:
    """Tables of a plan, its lots, and lots, products, methods, cells and stages of its scenario."""

    def __init__(self, scenario: Scenario, tables: Tables) -> None:
        self.scenario, self.tables, self.lots = scenario, tables, Lots(tables)
        self.calendar = Calendar(scenario.nursery, scenario.days_off)
        self.seed_lots = {lot.lot: lot for lot in scenario.seed_lots}
        self.products = {product.product: product for product in scenario.products}
        self.methods = {method.method: method for method in scenario.methods}
        self.cells = {tray.format: tray.cells for tray in scenario.tray_formats}
        self.stages: dict[str, list[Stage]] = defaultdict(list)
        for stage in sorted(scenario.stages, key=lambda stage: stage.step):
            self.stages[stage.method].append(stage)
