"""The origin and destination of a plan's plants: waves, pairs of waves joined, orders served.

A wave is named by its lot, format and sowing day, which stay the same when the plan is made again. Its
number in the plan's tables changes as soon as an earlier wave is added or removed.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from math import ceil
from typing import NamedTuple

from model.planned.plan_tables import TINY, Tables, rows_of


class SownWave(NamedTuple):
    """A wave: lot, format, sowing day, bench day, trays, seeds and usable seedlings per tray."""

    lot: str
    variety: str
    format: str
    sown: date
    bench: date
    trays: float
    seeds: float
    usable: float

    @property
    def named(self) -> str:
        """The wave in words that stay the same when the plan is made again."""
        return f"{self.lot} sown {self.sown}"


class Pair(NamedTuple):
    """Joins of one product on one day from two waves, with their take; own-root: seedlings of one wave.

    ``brought``: seedlings brought from each of its waves, with their part of the spare ones.
    """

    rootstock: SownWave | None
    scion: SownWave
    joins: float
    take: float
    brought: tuple[float, ...]

    @property
    def waves(self) -> tuple[SownWave, ...]:
        """The waves drawn on."""
        return (self.scion,) if self.rootstock is None else (self.rootstock, self.scion)

    @property
    def trays(self) -> tuple[float, ...]:
        """Trays of each wave that hold the seedlings brought."""
        return tuple(
            seedlings / wave.usable for seedlings, wave in zip(self.brought, self.waves, strict=True)
        )


FlowKey = tuple[str, date]
"""Product and graft day."""


class Lots:
    """The plan's waves, with the pairs of waves joined and the orders served by each flow."""

    def __init__(self, tables: Tables) -> None:
        columns = ("lot", "variety", "format", "sow_day", "bench_day", "trays", "seeds", "usable_per_tray")
        self.waves = {name: SownWave(*row) for name, *row in rows_of(tables["waves"], "wave", *columns)}
        self.pairs: dict[FlowKey, list[Pair]] = defaultdict(list)
        self.grafts: dict[SownWave, list[FlowKey]] = defaultdict(list)
        names = ("product", "graft_day", "rootstock_wave", "scion_wave", "joins", "take", "seedlings")
        rows = rows_of(tables["joins"], *names)
        more = _spare_shares(tables)
        for product, day, rootstock, scion, joins, take, seedlings in rows:
            root = None if rootstock is None else self.waves[rootstock]
            sides = [scion] if rootstock is None else [rootstock, scion]
            brought = tuple(seedlings * (1 + more.get((product, day, wave), 0.0)) for wave in sides)
            pair = Pair(root, self.waves[scion], joins, take, brought)
            self.pairs[product, day].append(pair)
            for wave in pair.waves:
                self._grafted(wave, (product, day))
        for product, day, name in rows_of(tables["spare_seedlings"], "product", "graft_day", "wave"):
            self._grafted(self.waves[name], (product, day))
        self.orders: dict[FlowKey, list[str]] = defaultdict(list)
        for order, product, day in rows_of(tables["deliveries"], "order", "product", "graft_day"):
            if day is not None:
                self.orders[product, day].append(order)

    def _grafted(self, wave: SownWave, flow: FlowKey) -> None:
        if flow not in self.grafts[wave]:
            self.grafts[wave].append(flow)

    def named(self, flow: FlowKey) -> str:
        """Names of the waves of a flow, each once, in the order of sowing."""
        waves = {wave for pair in self.pairs[flow] for wave in pair.waves}
        return ", ".join(wave.named for wave in sorted(waves, key=lambda wave: (wave.sown, wave)))


def _spare_shares(tables: Tables) -> dict[tuple[str, date, str], float]:
    """Spare seedlings over those drawn, by product, graft day and wave; only of waves that are drawn on."""
    drawn: dict[tuple[str, date, str], float] = defaultdict(float)
    names = ("product", "graft_day", "rootstock_wave", "scion_wave", "seedlings")
    for product, day, rootstock, scion, seedlings in rows_of(tables["joins"], *names):
        for wave in filter(None, (rootstock, scion)):
            drawn[product, day, wave] += seedlings
    shares: dict[tuple[str, date, str], float] = defaultdict(float)
    for *key, seedlings in rows_of(tables["spare_seedlings"], "product", "graft_day", "wave", "seedlings"):
        at = tuple(key)
        if drawn[at] > 0:
            shares[at] += seedlings / drawn[at]
    return shares


def whole(amount: float) -> int:
    """The amount rounded up to a whole number."""
    return ceil(amount - TINY)
