"""The zones that plants may pass after graft day, as the audit reads them: by the plan's names."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from model.scenario.entities import Scenario
from model.scenario.records.methods import Stage
from model.scenario.records.rooms import StageZone

Passed = list[tuple[Stage, StageZone | None]]
"""Stages in order, each with the row of its zone if that is not its own."""

Way = tuple[Passed, StageZone | None]
"""Stages passed, and the row of the zone in which the plants wait if that is not the method's own."""


class Rooms:
    """The ways of each method through its zones, by the zones chosen."""

    def __init__(self, scenario: Scenario) -> None:
        self.methods = {method.method: method for method in scenario.methods}
        self.rows = scenario.stage_zones
        self.ways = {
            method: dict(self._ways(method, sorted(stages, key=lambda stage: stage.step)))
            for method in {*self.methods, *(stage.method for stage in scenario.stages)}
            for stages in [[stage for stage in scenario.stages if stage.method == method]]
        }

    def _ways(self, method: str, stages: list[Stage]) -> Iterator[tuple[str | None, Way]]:
        """Every way with its name: one stage after another, the first of those that stay together chooses."""
        ways: list[tuple[list[str], Passed]] = [([], [])]
        for n, stage in enumerate(stages):
            rows = [row for row in self.rows if (row.method, row.stage) == (stage.method, stage.stage)]
            follows = n > 0 and self._together(stages[n - 1], stage)
            longer = []
            for named, passed in ways:
                for row in (None, *rows):
                    zone = stage.zone if row is None else row.zone
                    before = None if not passed else passed[-1][1]
                    if not follows:
                        longer.append(([*named, zone] if rows else named, [*passed, (stage, row)]))
                    elif zone == (stages[n - 1].zone if before is None else before.zone):
                        longer.append((named, [*passed, (stage, row)]))
            ways = longer
        waits = [row for row in self.rows if (row.method, row.stage) == (method, "holding")]
        own = [self.methods[method].holding_zone] if waits else []
        for named, passed in ways:
            yield "; ".join([*named, *own]) or None, (passed, None)
            for row in waits:
                yield "; ".join([*named, row.zone]), (passed, row)

    def _together(self, before: Stage, stage: Stage) -> bool:
        """Whether two stages in a row stand together wherever they stand."""
        zones = [
            {row.zone for row in self.rows if (row.method, row.stage) == (each.method, each.stage)}
            for each in (before, stage)
        ]
        return (before.zone, before.part) == (stage.zone, stage.part) and zones[0] == zones[1]

    def own(self, method: str) -> str | None:
        """Name of the way through each stage's own zone."""
        return next(iter(self._of(method)))

    def _of(self, method: str) -> dict[str | None, Way]:
        return self.ways.get(method, {None: ([], None)})

    def _way(self, method: str, in_zones: str | None) -> Way:
        """A way; that through the own zones where no way has the name."""
        ways = self._of(method)
        return ways.get(in_zones, ways[self.own(method)])

    def passed(self, method: str, in_zones: str | None) -> Passed:
        """Stages of a way; those of the own zones where no way has the name."""
        return self._way(method, in_zones)[0]

    def held(self, method: str, in_zones: str | None) -> tuple[str, float, float]:
        """Zone in which plants wait, the multiple of tending there, and the cost of a tray, in currency."""
        row = self._way(method, in_zones)[1]
        return (
            (self.methods[method].holding_zone, 1.0, 0.0)
            if row is None
            else (row.zone, row.care, row.cost_per_tray)
        )

    def stages(self, method: str, in_zones: str | None) -> list[Stage]:
        """Stages with the zones and days that they have there."""
        return [
            stage
            if row is None
            else replace(stage, zone=row.zone, days=stage.days if row.days is None else row.days)
            for stage, row in self.passed(method, in_zones)
        ]

    def take(self, method: str, in_zones: str | None) -> float:
        """Factor of the take there."""
        factor, usual = 1.0, self.methods[method].take
        for _, row in self.passed(method, in_zones):
            if row is not None and row.take is not None and usual is not None:
                factor = factor * row.take / usual
        return factor

    def care(self, method: str, in_zones: str | None) -> list[float]:
        """Multiple of care or tending in each stage."""
        return [1.0 if row is None else row.care for _, row in self.passed(method, in_zones)]

    def costs(self, method: str, in_zones: str | None) -> list[float]:
        """Cost of a tray in each stage, in currency."""
        return [0.0 if row is None else row.cost_per_tray for _, row in self.passed(method, in_zones)]
