"""Routes: the zones that plants of a method may pass after graft day, where stages have several."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby, product
from typing import NamedTuple

from model.scenario.entities import Scenario
from model.scenario.records.methods import Method, Stage
from model.scenario.records.rooms import StageZone

BETWEEN = "; "
"""Stands between the zones of a route's name."""


class Route(NamedTuple):
    """A way through the zones, one of those that a method allows.

    ``in_zones``: its name, the zones chosen in the order of the stages; None where no stage has a choice.
    ``method``: the method with the take that it has there. ``stages``: the stages with their zones and days
    there. ``take``: factor on takes by age. ``rows``: for each stage the row of its zone, None for its own.
    """

    in_zones: str | None
    method: Method
    stages: tuple[Stage, ...]
    take: float
    rows: tuple[StageZone | None, ...]

    @property
    def care(self) -> list[float]:
        """For each stage the multiple of the labour standard of care or tending."""
        return [1.0 if row is None else row.care for row in self.rows]


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
            name: _route(method, name, passed)
            for name, passed in ways_through(stages[method.method], further[method.method])
        }
        for method in scenario.methods
    }


Passed = list[tuple[Stage, StageZone | None]]
"""Stages of a way with their zones and days there, each with the row of its zone if that is not its own."""


Ways = Iterator[tuple[str | None, Passed]]
"""Ways with their names."""


def ways_through(stages: Sequence[Stage], further: Sequence[StageZone]) -> Ways:
    """Ways through the stages, each with its name; the first passes each stage in its own zone.

    Stages that follow one another in one stay, and may stand in the same further zones, stay together.
    """
    rows = {(row.stage, row.zone): row for row in further}
    open_to = {stage.stage: [row.zone for row in further if row.stage == stage.stage] for stage in stages}
    together = [
        list(run) for _, run in groupby(stages, key=lambda s: (s.zone, s.part, frozenset(open_to[s.stage])))
    ]
    choices = [(run[0].zone, *open_to[run[0].stage]) for run in together]
    for zones in product(*choices):
        passed: Passed = []
        for run, zone in zip(together, zones, strict=True):
            for stage in run:
                row = rows.get((stage.stage, zone))
                days = stage.days if row is None or row.days is None else row.days
                passed.append((stage if row is None else replace(stage, zone=zone, days=days), row))
        named = [zone for zone, choice in zip(zones, choices, strict=True) if len(choice) > 1]
        yield BETWEEN.join(named) or None, passed


def _route(method: Method, name: str | None, passed: Passed) -> Route:
    """The route of a method along a way."""
    factor = 1.0
    for _, row in passed:
        if row is not None and row.take is not None and method.take is not None:
            factor *= row.take / method.take
    there = method
    if factor != 1 and method.take is not None:
        there = replace(method, take=min(1.0, method.take * factor))
    return Route(name, there, tuple(stage for stage, _ in passed), factor, tuple(row for _, row in passed))
