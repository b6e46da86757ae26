"""The second statement's reading of the zones that stages and holding may choose from."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import prod
from typing import NamedTuple

from model.scenario.entities import Scenario
from model.scenario.records.methods import Method, Stage


class ZonesChosen(NamedTuple):
    """One choice of zones: the method with its take and holding zone, stages, care and cost of a tray.

    ``held_care``, ``held_cost``: those of a tray that waits for its due day.
    """

    method: Method
    stages: list[Stage]
    take: float
    care: list[float]
    costs: list[float]
    held_care: float
    held_cost: float


def zones_chosen(scenario: Scenario, name: str) -> list[ZonesChosen]:
    """Every choice of zones of a method: any zone for any stage, but stages that stand together stay so."""
    method = next(row for row in scenario.methods if row.method == name)
    own = sorted((row for row in scenario.stages if row.method == name), key=lambda row: row.step)
    open_to = [
        [None, *(row for row in scenario.stage_zones if (row.method, row.stage) == (name, stage.stage))]
        for stage in own
    ]
    found = []
    for chosen in product(*open_to):
        zones = [stage.zone if row is None else row.zone for stage, row in zip(own, chosen, strict=True)]
        torn = any(
            (own[n].zone, own[n].part) == (own[n - 1].zone, own[n - 1].part)
            and {row.zone for row in open_to[n] if row} == {row.zone for row in open_to[n - 1] if row}
            and zones[n] != zones[n - 1]
            for n in range(1, len(own))
        )
        if torn:
            continue
        stages, takes = [], []
        for stage, row in zip(own, chosen, strict=True):
            if row is not None:
                days = stage.days if row.days is None else row.days
                stage = replace(stage, zone=row.zone, days=days)
                if row.take is not None and method.take is not None:
                    takes.append(row.take / method.take)
            stages.append(stage)
        take = prod(takes)
        there = method if method.take is None else replace(method, take=min(1.0, method.take * take))
        care = [1.0 if row is None else row.care for row in chosen]
        costs = [0.0 if row is None else row.cost_per_tray for row in chosen]
        found.append(ZonesChosen(there, stages, take, care, costs, 1.0, 0.0))
        for row in scenario.stage_zones:
            if (row.method, row.stage) == (name, "holding"):
                waits = replace(there, holding_zone=row.zone)
                found.append(ZonesChosen(waits, stages, take, care, costs, row.care, row.cost_per_tray))
    return found
