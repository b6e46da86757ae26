"""One season lived with jobs that may change: what comes up, is joined, heals and is finished.

A batch whose size is the plan's fares as it does without re-planning (``model.risk.simulation.live``): same
seed, same luck. A batch of another size, or a new one, has the luck of its lot, sowing or graft day in that
season, and random numbers of its own for its single seeds and plants.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.random import Generator
from numpy.typing import NDArray

from model.network.types import Network
from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.rates.yields import usable_share
from model.risk.batches import Floats, Seasons
from model.risk.counted import WHOLE, Label
from model.risk.mishaps import Losses
from model.risk.simulation import JoinsMade, Lived, live, matched, whole_parts
from model.scenario.choices import Part

TINY = 1e-6
"""Trays, joins and plants below this are none."""


@dataclass(frozen=True, slots=True)
class Jobs:
    """Trays sown, joins, plants delivered and bought, by their indices in the network.

    ``held``: deliveries taken, spare plants bought, hands, units, waves opened and packs, by variable.
    """

    sown: Floats
    joins: Floats
    delivered: Floats
    bought: Floats
    held: dict[str, Floats]


@dataclass(frozen=True, slots=True)
class Season:
    """What a season made of its jobs: seedlings by wave, joins made and seedlings brought by join.

    ``healed`` and ``finished``: plants by flow; ``counted``: those healed that no mishap has taken by then.
    All are indexed as in the network.
    """

    seedlings: Floats
    made: Floats
    brought: Floats
    counted: Floats
    finished: Floats


class Living:
    """Seasons drawn for a network and its plan, in which jobs may change."""

    def __init__(self, network: Network, plan: Plan, drawn: Seasons) -> None:
        self.network, self.plan, self.drawn = network, plan, drawn
        self.base: Lived = live(drawn, network.scenario, plan)
        at = network.calendar.date
        self.flows: list[FlowKey] = [
            (f.product.product, at(f.graft), f.route.in_zones) for f in network.flows
        ]
        methods = [f.method.method for f in network.flows]
        named = [(*key, method) for key, method in zip(self.flows, methods, strict=True)]
        everywhere = pd.DataFrame(named, columns=[*FLOW, "method"], dtype=object)
        self.losses = Losses(drawn, network.scenario, replace(plan, flows=everywhere))
        self.waves: list[Label] = [(w.lot.lot, w.tray.format, at(w.sow)) for w in network.waves]
        self._arrays: dict[Hashable, Floats | None] = {}
        self._again: dict[Hashable, tuple[float, ...]] = {}
        self._season = -1

    @cached_property
    def _flow_of(self) -> NDArray[np.intp]:
        """Flow of each join."""
        return np.array([join.flow for join in self.network.joins], dtype=np.intp)

    @cached_property
    def healed_on(self) -> list[int]:
        """Day on which the take of each flow is counted: the end of healing, or the ready day without it."""
        return [
            max((stay.end for stay in flow.stays if stay.part is Part.HEALING), default=flow.ready)
            for flow in self.network.flows
        ]

    @cached_property
    def _planned_waves(self) -> dict[Label, tuple[str, int]]:
        cells = {tray.format: tray.cells for tray in self.network.scenario.tray_formats}
        rows = rows_of(self.plan.waves, "wave", "lot", "format", "sow_day", "trays")
        return {
            (lot, tray, day): (name, whole_parts([trays * cells[tray]])[0])
            for name, lot, tray, day, trays in rows
        }

    @cached_property
    def _planned_joins(self) -> dict[Hashable, JoinsMade]:
        names = {name: label for label, (name, _) in self._planned_waves.items()}
        return {(made.row.flow, *(names[w] for w in made.row.waves)): made for made in self.base.joins}

    @cached_property
    def _planned_flows(self) -> dict[FlowKey, int]:
        return {flow_key(cells): f for f, cells in enumerate(rows_of(self.plan.flows, *FLOW))}

    @cached_property
    def _flow_joins(self) -> list[list[int]]:
        return [sorted(joins) for joins in self.network.flow_joins]

    @cached_property
    def _by_day(self) -> list[tuple[int, list[int]]]:
        """Flows by graft day, those of a day by product."""
        days: dict[int, list[int]] = defaultdict(list)
        for f, flow in enumerate(self.network.flows):
            days[flow.graft].append(f)
        return [
            (day, sorted(days[day], key=lambda f: (self.flows[f][0], self.flows[f][2] or "")))
            for day in sorted(days)
        ]

    def _own(self, n: int, *batch: Hashable) -> Generator:
        return self.drawn.random("made again", n, *batch)

    def _once(self, size: tuple[Hashable, ...], draw: Callable[[], tuple[float, ...]]) -> tuple[float, ...]:
        """What is drawn for a batch of a size; in one season it is drawn once, whatever else changes."""
        if size not in self._again:
            self._again[size] = draw()
        return self._again[size]

    def _kept(self, name: Hashable, n: int) -> float:
        """A drawn share of season ``n``, 1 where there is none; ``name``: what it is of."""
        array = self._arrays[name]
        return 1.0 if array is None else float(np.clip(array[n], 0, 1))

    def _seedlings(self, n: int, w: int, trays: float) -> float:
        wave, label = self.network.waves[w], self.waves[w]
        (cells,) = whole_parts([trays * wave.tray.cells])
        planned = self._planned_waves.get(label)
        if planned is not None and planned[1] == cells:
            return float(self.base.seedlings[planned[0]][n])
        name = "stand", label[0], label[2]
        if name not in self._arrays:
            rate = self.drawn.germination(wave.lot, label[2])
            self._arrays[name] = usable_share(rate, wave.lot.seeds_per_cell, wave.lot.grade_out)
            self._arrays["sowing", *name] = self.losses.of_sowing(label[0], label[2])
        share = self._kept(name, n) * self._kept(("sowing", *name), n)

        def up() -> tuple[float]:
            return (float(self._own(n, "seedlings", *label).binomial(cells, share)),)

        return self._once(("seedlings", w, cells), up)[0]

    def season(self, n: int, jobs: Jobs) -> Season:
        """Season ``n`` with these jobs."""
        if n != self._season:
            self._again, self._season = {}, n
        network = self.network
        there = np.zeros(len(network.waves))
        for w in np.flatnonzero(jobs.sown > TINY).tolist():
            there[w] = self._seedlings(n, w, float(jobs.sown[w]))
        seedlings = there.copy()
        made, brought = np.zeros((2, len(network.joins)))
        healed, counted, finished = np.zeros((3, len(network.flows)))
        used = np.zeros(len(network.flows), dtype=bool)
        used[self._flow_of[jobs.joins > TINY]] = True
        for _, flows in self._by_day:
            rows = [row for f in flows if used[f] for row in self._wanted(f, jobs)]
            planned: dict[int, float] = defaultdict(float)
            for j, wanted in rows:
                for w in network.joins[j].waves:
                    planned[w] += wanted / network.joins[j].match
            share = {w: there[w] / planned[w] for w in planned}
            for j, wanted in rows:
                join = network.joins[j]
                least = min(share[w] for w in join.waves)
                allotted = int(np.floor(wanted / join.match * least + WHOLE))
                made[j], brought[j], whole = self._joined(n, j, wanted, allotted)
                healed[join.flow] += whole
                for w in join.waves:
                    there[w] = max(there[w] - brought[j], 0.0)
        for f in np.flatnonzero(healed).tolist():
            finished[f] = self._finished(n, f, int(healed[f]))
            counted[f] = healed[f] * self._left(n, f)
        return Season(seedlings, made, brought, counted, finished)

    def _left(self, n: int, f: int) -> float:
        """Share of the healed plants of a flow that mishaps until then have left, in season ``n``."""
        flow, name = self.flows[f], ("healed", self.flows[f])
        if name not in self._arrays:
            method = self.network.flows[f].method.method
            self._arrays[name] = self.losses.of_flow(flow, method, until_healed=True)
        return self._kept(name, n)

    def _wanted(self, f: int, jobs: Jobs) -> Iterator[tuple[int, int]]:
        joins = [j for j in self._flow_joins[f] if jobs.joins[j] > TINY]
        for j, wanted in zip(joins, whole_parts([float(jobs.joins[j]) for j in joins]), strict=True):
            if wanted:
                yield j, wanted

    def _joined(self, n: int, j: int, wanted: int, allotted: int) -> tuple[float, float, float]:
        """Joins made, seedlings brought of each wave, and joins healed."""
        join = self.network.joins[j]
        flow, method = self.flows[join.flow], self.network.flows[join.flow].method
        name = (flow, *(self.waves[w] for w in join.waves))
        before = self._planned_joins.get(name)
        if before is not None and before.row.wanted == wanted and before.allotted[n] == allotted:
            return float(before.joins[n]), float(before.brought[n]), float(before.healed[n])
        batch = "take", method.method, flow[1], join.take
        if batch not in self._arrays:
            self._arrays[batch] = self.drawn.take(method, flow[1], join.take)

        def again() -> tuple[float, float, float]:
            rng = self._own(n, "joins", *flow, *name[1:])
            joins, brought = matched(rng, wanted, join.match, np.array([allotted]))
            return float(joins[0]), float(brought[0]), float(rng.binomial(joins[0], self._kept(batch, n)))

        made, brought, healed = self._once(("joins", j, wanted, allotted), again)
        return made, brought, healed

    def _finished(self, n: int, f: int, healed: int) -> float:
        flow = self.flows[f]
        planned = self._planned_flows.get(flow)
        if planned is not None and self.base.healed[planned, n] == healed:
            return float(self.base.finished[planned, n])
        method = self.network.flows[f].method
        if ("flow", flow) not in self._arrays:
            self._arrays["flow", flow] = self.losses.of_flow(flow, method.method)
        share = method.finish_survival * self._kept(("flow", flow), n)

        def kept() -> tuple[float]:
            return (float(self._own(n, "finish", *flow).binomial(healed, share)),)

        return self._once(("finish", f, healed), kept)[0]
