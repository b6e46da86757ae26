"""Routes: the zones that plants of a method may pass after graft day, and wait in, where it names several."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby, product
from typing import NamedTuple

from model.scenario.entities import Scenario
from model.scenario.own_tasks import HOLDING
from model.scenario.records.methods import Method, Stage
from model.scenario.records.rooms import StageZone

BETWEEN = "; "
"""Stands between the zones of a route's name."""


class Route(NamedTuple):
    """A way through the zones, one of those that a method allows.

    ``in_zones``: its name, the zones chosen in the order of the stages, holding last; None where there is no
    choice. ``method``: the method with the take and the holding zone that it has there. ``stages``: the
    stages with their zones and days there. ``take``: factor on takes by age. ``rows``: for each stage the row
    of its zone, None for its own. ``held``: the row of the holding zone, None for the method's own.
    """

    in_zones: str | None
    method: Method
    stages: tuple[Stage, ...]
    take: float
    rows: tuple[StageZone | None, ...]
    held: StageZone | None

    @property
    def care(self) -> list[float]:
        """For each stage the multiple of the labour standard of care or tending."""
        return [1.0 if row is None else row.care for row in self.rows]

    @property
    def held_care(self) -> float:
        """Multiple of the labour standard of tending while plants wait for their due day."""
        return 1.0 if self.held is None else self.held.care


Routes = dict[str, dict[str | None, Route]]
"""Routes by method and name; the first of each method passes each stage in its own zone."""


def routes_of(scenario: Scenario) -> Routes:
    """All routes of a scenario's methods."""
    stages: dict[str, list[Stage]] = defaultdict(list)
    for stage in sorted(scenario.stages, key=lambda stage: stage.step):
        stages[stage.method].append(stage)
    further: dict[str, list[StageZone]] = defaultdict(list)
    for row in scenario.stage_zones:
        further[row.method].append(row)
    return {
        method.method: {
            way.in_zones: _route(method, way)
            for way in ways_through(stages[method.method], further[method.method], method.holding_zone)
        }
        for method in scenario.methods
    }


Passed = list[tuple[Stage, StageZone | None]]
"""Stages of a way with their zones and days there, each with the row of its zone if that is not its own."""


class Way(NamedTuple):
    """A way through the zones: its name, stages passed, the row of the holding zone if not the own one."""

    in_zones: str | None
    passed: Passed
    held: StageZone | None


def ways_through(stages: Sequence[Stage], further: Sequence[StageZone], holds: str) -> Iterator[Way]:
    """Ways through the stages to holding; the first passes each in its own zone, and waits in ``holds``.

    Stages that follow one another in one stay, and may stand in the same further zones, stay together.
    """
    rows = {(row.stage, row.zone): row for row in further}
    open_to = {stage.stage: [row.zone for row in further if row.stage == stage.stage] for stage in stages}
    together = [
        list(run) for _, run in groupby(stages, key=lambda s: (s.zone, s.part, frozenset(open_to[s.stage])))
    ]
    held = {row.zone: row for row in further if row.stage == HOLDING}
    choices = [*((run[0].zone, *open_to[run[0].stage]) for run in together), (holds, *held)]
    for zones in product(*choices):
        passed: Passed = []
        for run, zone in zip(together, zones[:-1], strict=True):
            for stage in run:
                row = rows.get((stage.stage, zone))
                days = stage.days if row is None or row.days is None else row.days
                passed.append((stage if row is None else replace(stage, zone=zone, days=days), row))
        named = [zone for zone, choice in zip(zones, choices, strict=True) if len(choice) > 1]
        yield Way(BETWEEN.join(named) or None, passed, held.get(zones[-1]))


def _route(method: Method, way: Way) -> Route:
    """The route of a method along a way."""
    factor = 1.0
    for _, row in way.passed:
        if row is not None and row.take is not None and method.take is not None:
            factor *= row.take / method.take
    there = method if way.held is None else replace(method, holding_zone=way.held.zone)
    if factor != 1 and method.take is not None:
        there = replace(there, take=min(1.0, method.take * factor))
    stages, rows = tuple(stage for stage, _ in way.passed), tuple(row for _, row in way.passed)
    return Route(way.in_zones, there, stages, factor, rows, way.held)
