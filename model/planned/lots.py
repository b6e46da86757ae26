"""The origin and destination of a plan's plants: waves, pairs of waves joined, orders served.

A wave is named by its lot, format and sowing day, which stay the same when the plan is made again. Its
number in the plan's tables changes as soon as an earlier wave is added or removed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from math import ceil, floor
from typing import NamedTuple

from model.planned.plan_tables import TINY, Tables, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key


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


class Lots:
    """The plan's waves, with the pairs of waves joined and the orders served by each flow."""

    def __init__(self, tables: Tables) -> None:
        columns = ("lot", "variety", "format", "sow_day", "bench_day", "trays", "seeds", "usable_per_tray")
        self.waves = {name: SownWave(*row) for name, *row in rows_of(tables["waves"], "wave", *columns)}
        self.pairs: dict[FlowKey, list[Pair]] = defaultdict(list)
        self.grafts: dict[SownWave, list[FlowKey]] = defaultdict(list)
        names = (*FLOW, "rootstock_wave", "scion_wave", "joins", "take", "seedlings")
        rows = rows_of(tables["joins"], *names)
        more = _spare_shares(tables)
        for *named, rootstock, scion, joins, take, seedlings in rows:
            flow = flow_key(named)
            root = None if rootstock is None else self.waves[rootstock]
            sides = [scion] if rootstock is None else [rootstock, scion]
            brought = tuple(seedlings * (1 + more.get((flow, wave), 0.0)) for wave in sides)
            pair = Pair(root, self.waves[scion], joins, take, brought)
            self.pairs[flow].append(pair)
            for wave in pair.waves:
                self._grafted(wave, flow)
        for *named, name in rows_of(tables["spare_seedlings"], *FLOW, "wave"):
            self._grafted(self.waves[name], flow_key(named))
        self.orders: dict[FlowKey, list[str]] = defaultdict(list)
        for order, *named in rows_of(tables["deliveries"], "order", *FLOW):
            if named[1] is not None:
                self.orders[flow_key(named)].append(order)

    def _grafted(self, wave: SownWave, flow: FlowKey) -> None:
        if flow not in self.grafts[wave]:
            self.grafts[wave].append(flow)

    def named(self, flow: FlowKey) -> str:
        """Names of the waves of a flow, each once, in the order of sowing."""
        waves = {wave for pair in self.pairs[flow] for wave in pair.waves}
        return ", ".join(wave.named for wave in sorted(waves, key=lambda wave: (wave.sown, wave)))


def _spare_shares(tables: Tables) -> dict[tuple[FlowKey, str], float]:
    """Spare seedlings over those drawn, by flow and wave; only of waves that are drawn on."""
    drawn: dict[tuple[FlowKey, str], float] = defaultdict(float)
    names = (*FLOW, "rootstock_wave", "scion_wave", "seedlings")
    for *named, rootstock, scion, seedlings in rows_of(tables["joins"], *names):
        for wave in filter(None, (rootstock, scion)):
            drawn[flow_key(named), wave] += seedlings
    shares: dict[tuple[FlowKey, str], float] = defaultdict(float)
    for *named, wave, seedlings in rows_of(tables["spare_seedlings"], *FLOW, "wave", "seedlings"):
        at = flow_key(named), wave
        if drawn[at] > 0:
            shares[at] += seedlings / drawn[at]
    return shares


def whole(amount: float) -> int:
    """The amount rounded up to a whole number."""
    return ceil(amount - TINY)


def in_whole_plants(amounts: Sequence[float], most: int) -> list[int]:
    """Whole numbers next to the amounts; their sum is that of the amounts rounded up, at most ``most``.

    By the method of largest remainders: amounts are rounded down, and the rest goes to those cut most.
    """
    counts = [floor(amount + TINY) for amount in amounts]
    left = min(whole(sum(amounts)), most) - sum(counts)
    for n in sorted(range(len(amounts)), key=lambda n: counts[n] - amounts[n])[:left]:
        counts[n] += 1
    return counts
