"""What another plant costs more when it is made in another way: products with several ways to make them.

The price is that of the continuous program, from its reduced costs. One more plant of a flow takes joins,
trays, seedlings and room in fixed proportions. The rows between these stay balanced, so their prices cancel.
The least cost is convex, so many plants made so cost at least as much each.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import pandas as pd

from model.network.rooms import routes_of
from model.network.types import Reserve
from model.planned.plan_tables import rows_of
from model.planned.tables.declared import FLOW, flow_key
from model.program.growing import spare_trays
from model.program.program import Program
from model.solver.compiled import Compiled, Floats

Row = dict[str, Any]

Way = tuple[str, str | None]
"""Product as which the plants are made, and the zones chosen."""


def way_rows(
    program: Program, tables: Mapping[str, pd.DataFrame], compiled: Compiled, column_dual: Floats
) -> list[Row]:
    """Rows of the plan table ``ways``: every way on each graft day of its product.

    A way that is never used has the day on which it is least dear instead. ``column_dual``: reduced costs of
    the continuous optimum.
    """
    network = program.network
    sold: dict[str, list[Way]] = defaultdict(list)
    routes = routes_of(network.scenario)
    for product in network.scenario.products:
        sold[product.ordered_as] += [(product.product, name) for name in routes[product.method]]
    several = {name for name, ways in sold.items() if len(ways) > 1}
    flows = [f for f, flow in enumerate(network.flows) if flow.sold_as.product in several]
    if not flows:
        return []
    made = {
        flow_key(named): (joins, finished)
        for *named, joins, finished in rows_of(tables["flows"], *FLOW, "joins", "finished")
    }
    day = {f: network.calendar.date(network.flows[f].graft) for f in flows}
    key = {f: (network.flows[f].product.product, day[f], network.flows[f].key.in_zones) for f in flows}
    way_of = {f: (key[f][0], key[f][2]) for f in flows}
    used = {(network.flows[f].sold_as.product, day[f]) for f in flows if key[f] in made}
    dearer = _Dearer(program, compiled.values(column_dual))
    prices = {f: dearer.price(f) for f in flows}
    shown = {f for f in flows if (network.flows[f].sold_as.product, day[f]) in used}
    for way in {way_of[f] for f in flows} - {way_of[f] for f in shown}:
        priced = [(price, f) for f in flows if way_of[f] == way and (price := prices[f]) is not None]
        shown |= {f for _, f in sorted(priced)[:1]}
    rows = []
    for f in sorted(shown, key=lambda f: (network.flows[f].sold_as.product, day[f], f)):
        joins, finished = made.get(key[f], (0.0, 0.0))
        rows.append(
            {
                "product": network.flows[f].sold_as.product,
                "way": key[f][0],
                "method": network.flows[f].method.method,
                "graft_day": day[f],
                "in_zones": key[f][2],
                "joins": joins,
                "finished": finished,
                "dearer": prices[f],
            }
        )
    return rows


class _Dearer:
    """Reduced costs put together to that of a plant of a flow."""

    def __init__(self, program: Program, reduced: dict[str, Floats]) -> None:
        self.program, self.network = program, program.network
        self.reduced = reduced
        self.deliveries: dict[int, list[int]] = defaultdict(list)
        for i, delivery in enumerate(self.network.deliveries):
            self.deliveries[delivery.flow].append(i)
        self.reserves: dict[int, list[Reserve]] = defaultdict(list)
        for reserve in self.network.reserves:
            self.reserves[reserve.flow].append(reserve)
        self.left: dict[int, list[int]] = defaultdict(list)
        for k, left in enumerate(program.amounts.left):
            self.left[left.wave].append(k)
        self.loads: dict[tuple[str, int], float] = defaultdict(float)
        into: dict[int, list[float]] = defaultdict(list)
        for n, load in enumerate(program.amounts.loads):
            into[load.stay].append(float(reduced["in_unit"][n]))
        for stay, prices in into.items():
            load_stay = program.amounts.load_stays[stay]
            self.loads[load_stay.key] += load_stay.trays * min(prices)
        self.kept = spare_trays(program)

    def price(self, f: int) -> float | None:
        """What another plant of the flow costs more; None where no order can have it.

        dearer[p,g] = least Σ reduced cost · amount a plant, over the joins and the orders of flow (p,g)
        """
        if self.network.flows[f].graft < self.network.past.today:
            return None
        prices = [
            self._plant(f, j, i) for j in self.network.flow_joins[f] for i in self.deliveries.get(f, ())
        ]
        return max(0.0, min(prices)) if prices else None

    def _each(self, variable: str, f: int) -> float:
        """Reduced cost of a unit of a decision of a flow, with the room in units that it takes."""
        return float(self.reduced[variable][f]) + self.loads[variable, f]

    def _seedling(self, w: int, graft: int) -> float:
        """Reduced cost of the trays of a seedling, sown and left on the bench up to a graft day."""
        wave, amounts = self.network.waves[w], self.program.amounts
        sown = 0.0 if w in self.program.settled.get("sown", {}) else float(self.reduced["sown"][w])
        stood = sum(float(self.reduced["left"][k]) for k in self.left[w] if amounts.left[k].end <= graft)
        return (sown + stood) / wave.usable

    def _plant(self, f: int, j: int, i: int) -> float:
        flow, join = self.network.flows[f], self.network.joins[j]
        held = 1 + self.network.deliveries[i].margin
        joins = held / (join.take * flow.survival)
        trays = joins / self.network.joins_a_tray(j)
        drawn = sum(self._seedling(w, flow.graft) for w in join.waves) / join.match
        cost = float(self.reduced["joins"][j]) + self._each("grafted", f) + drawn
        cost += join.take * self._each("healed", f)
        if f in self.network.in_whole_trays:
            cost += join.take * self._each("finishing", f) / self.network.flows[f].tray.cells
        spare = sum(self._spare(reserve, j, i, joins) for reserve in self.reserves.get(f, ()))
        return joins * cost + trays * self._each("loaded", f) + float(self.reduced["delivered"][i]) + spare

    def _spare(self, reserve: Reserve, j: int, i: int, joins: float) -> float:
        """Reduced cost of the spare seedlings that a plant's joins and its order need on one side."""
        share = reserve.least if j in reserve.joins else reserve.least - reserve.most
        held = (1 + self.network.deliveries[i].margin) / reserve.best
        needed = share * joins / self.network.joins[j].match + (reserve.margins[i] - reserve.least) * held
        return max(0.0, needed) * min(self._kept(reserve.flow, n) for n in reserve.spares)

    def _kept(self, f: int, n: int) -> float:
        """Reduced cost of a spare seedling, with its trays."""
        trays = self.kept.get(f, {}).get(("spare", n), 0.0) * self._each("loaded", f)
        seedling = self._seedling(self.network.spares[n].wave, self.network.flows[f].graft)
        return float(self.reduced["spare"][n]) + seedling + trays
