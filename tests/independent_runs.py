"""Runs of vehicles, stated a second time: on which day an order leaves, what rides, what it costs."""

from __future__ import annotations

from collections import defaultdict
from math import inf

from model.scenario.entities import Order, Scenario
from model.scenario.records.trade import Run
from tests.independent_charges import cells_of_full
from tests.independent_parts import Builder, Coefs, Days


class Freight:
    """The runs of a scenario, and the trays that ride on each of their days."""

    def __init__(self, scenario: Scenario, days: Days) -> None:
        self.scenario, self.days = scenario, days
        self.loads: dict[tuple[str, int], Coefs] = defaultdict(dict)
        self.full: dict[tuple[str, int, str], Coefs] = defaultdict(dict)

    def run_of(self, order: Order) -> Run | None:
        """The run of an order's customer."""
        for row in self.scenario.customers:
            if row.customer == order.customer and row.run is not None:
                return next(run for run in self.scenario.runs if run.run == row.run)
        return None

    def may_leave(self, order: Order, t: int) -> bool:
        """Whether an order's plants may leave on a day."""
        run, day = self.run_of(order), self.days.at(t)
        if run is None:
            return True
        outside = (run.to_day and day > run.to_day) or (run.from_day and day < run.from_day)
        return self.days.weekday(t) in run.weekdays and not outside

    def due(self, order: Order) -> int:
        """Day on which an order leaves in time."""
        due = self.days.number(order.due_day)
        return max((t for t in range(max(due - 6, 0), due + 1) if self.may_leave(order, t)), default=due)

    def leaves(self, order: Order, ready: int) -> int:
        """First day from the one in time on which plants ready on a day may leave."""
        t = due = self.due(order)
        run = self.run_of(order)
        if run is None:
            return max(due, ready)
        while t < ready or not self.may_leave(order, t):
            t += 1
            if t >= self.days.count:
                return ready + self.days.count  # no run goes any more
        return t

    def load(self, order: Order, plants: int, cells: int, ready: int) -> None:
        """Plants, a variable, of an order ride: whole trays in proportion to the order."""
        run = self.run_of(order)
        if run is not None and order.order in cells_of_full(self.scenario):
            self.full[run.run, self.leaves(order, ready), order.order][plants] = 1 / cells
        elif run is not None:
            whole = (order.quantity + cells - 1) // cells
            self.loads[run.run, self.leaves(order, ready)][plants] = whole / order.quantity

    def state(self, builder: Builder) -> None:
        """Vehicles for the trays of each run and day."""
        for (name, t, order), plants in self.full.items():
            ride = builder.add_var(f"R {name} {t} {order}", lumpy=True)
            builder.at_most(plants, {ride: 1.0})
            self.loads[name, t][ride] = 1.0
        for run in self.scenario.runs:
            for (name, t), trays in self.loads.items():
                if name == run.run:
                    most = inf if run.vehicles_most is None else run.vehicles_most
                    cars = builder.add_var(f"V {name} {t}", run.fixed_cost, lumpy=True, upper=most)
                    builder.at_most(trays, {cars: run.trays})
                    for plants, each in trays.items():
                        builder.costs[plants] += run.cost_per_tray * each
