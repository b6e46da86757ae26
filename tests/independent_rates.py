"""Shares, margins and yearly costs of the second statement, from the scenario alone."""

from __future__ import annotations

from math import ceil
from typing import Any

from model.scenario.choices import Decline, MarginPolicy, MatchFrom, SowingPolicy
from model.scenario.entities import Order, Product, Scenario, SeedLot, TrayFormat
from model.scenario.records.methods import Method
from tests.independent_parts import Flow, cheapest_joins, fewest_cells, fewest_joins, paired_share


class Rates:
    """What a scenario says of its plants' ways as shares, and of its money."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.methods = {row.method: row for row in scenario.methods}
        self.products = {row.product: row for row in scenario.products}

    def usable(self, lot: SeedLot, tray: TrayFormat) -> float:
        """Usable seedlings counted on per tray."""
        whole = tray.cells * self.stand(lot)
        if lot.sowing_margin is not None:
            return whole / (1 + lot.sowing_margin)
        nursery = self.scenario.nursery
        return whole / (1 + nursery.sowing_margin) if nursery.sowing_policy is SowingPolicy.FIXED else whole

    def stand(self, lot: SeedLot) -> float:
        """Usable seedlings per cell."""
        return (1 - (1 - lot.germination) ** lot.seeds_per_cell) * (1 - lot.grade_out)

    def by_order(self, lot: SeedLot) -> bool:
        """Whether each order has a sowing margin of its own for seedlings of the lot."""
        return lot.sowing_margin is None and self.scenario.nursery.sowing_policy is SowingPolicy.LEVEL

    def sold_as(self, product: Product) -> Product:
        """The product that orders name."""
        return product if product.sold_as is None else self.products[product.sold_as]

    def sowing_margin(self, order: Order, lot: SeedLot, method: Method) -> float:
        """Sowing margin of an order's own seedlings from a lot, grafted by a method."""
        share = (1.0 if method.take is None else method.take) * method.finish_survival
        wanted = ceil(round(order.quantity * (1 + self.margin(order, method)) / share, 6))
        alike = 1 - (1 - lot.between_lots) * (1 - lot.between_sowings)
        rates = lot.germination, alike, lot.seeds_per_cell, 1 - lot.grade_out
        cells = fewest_cells(wanted, *rates, self.level(order))
        return max(0.0, cells * self.stand(lot) / wanted - 1)

    def match_and_take(self, method: Method, root: SeedLot, top: SeedLot, ages: tuple[int, int]) -> Any:
        """Stem match (None where they can't be joined) and take at these ages."""
        effect = next(
            (
                row
                for row in self.scenario.age_effects
                if (row.method, row.rootstock_age, row.scion_age) == (method.method, *ages)
            ),
            None,
        )
        take = effect.take if effect and effect.take is not None else method.take
        if method.match_from is MatchFrom.NUMBER:
            return method.match, take
        if method.match_from is MatchFrom.AGES:
            return (effect.match if effect else None), take
        stems = []
        for lot, age in zip((root, top), ages, strict=True):
            assert lot.diameter_start_mm is not None
            assert lot.diameter_growth_mm_per_day is not None
            assert lot.diameter_spread_mm is not None
            stems.append(lot.diameter_start_mm + lot.diameter_growth_mm_per_day * age)
            stems.append(lot.diameter_spread_mm + lot.diameter_spread_growth_mm_per_day * age)
        assert method.stem_tolerance_mm is not None
        return paired_share(stems[0], stems[1], stems[2], stems[3], method.stem_tolerance_mm) or None, take

    def margin(self, order: Order, method: Method) -> float:
        """Graft margin of an order on plants made by a method."""
        nursery = self.scenario.nursery
        if order.graft_margin is not None:
            return order.graft_margin
        if nursery.margin_policy is MarginPolicy.FIXED:
            return nursery.graft_margin
        take, kept = method.take if method.take is not None else 1.0, method.finish_survival
        if nursery.margin_policy is MarginPolicy.PRICED:
            short, over = self.loss(order)
            joins = cheapest_joins(order.quantity, take, kept, method.between_days, short, over)
        else:
            joins = fewest_joins(order.quantity, take, kept, method.between_days, self.level(order))
        return max(0.0, joins * take * kept / order.quantity - 1)

    def margin_of(self, order: Order, flow: Flow) -> float:
        """Graft margin of an order on a flow: of healed plants for finishing alone, of ready ones none."""
        margin = self.margin(order, flow.method)
        if flow.plants is None:
            return margin
        if flow.ready <= 0:
            return 0.0
        kept = flow.method.finish_survival
        wanted = fewest_joins(order.quantity, 1.0, kept, 0.0, self.level(order))
        return min(margin, max(0.0, wanted * kept / order.quantity - 1))

    def loss(self, order: Order) -> tuple[float, float]:
        """Loss by a plant short, and by a plant over."""
        nursery, product = self.scenario.nursery, self.products[order.product]
        assert nursery.plant_cost is not None
        own = order.shortfall_penalty
        penalty = nursery.shortfall_penalty if own is None else own
        if order.decline is not Decline.NO:
            assert order.price is not None
            penalty += order.price
        salvage = product.salvage_price if product.salvage_most else 0.0
        return penalty - nursery.plant_cost, nursery.plant_cost - salvage

    def level(self, order: Order) -> float:
        """Chance with which the order is to be filled."""
        nursery = self.scenario.nursery
        if nursery.margin_policy is MarginPolicy.PRICED:
            short, over = self.loss(order)
            return short / (short + over)
        return order.service_level if order.service_level is not None else nursery.service_level

    def yearly_cost(self, module: Any) -> float:
        """Yearly cost of one module."""
        i, n, loss = (
            self.scenario.nursery.interest_rate,
            module.life_years,
            module.first_cost - module.salvage_value,
        )
        recovery = 1 / n if i == 0 else i * (1 + i) ** n / ((1 + i) ** n - 1)
        return float(loss * recovery + module.salvage_value * i)
