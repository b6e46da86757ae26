"""The stated defaults of the start: how each crop is grafted, how long work takes, each with its source."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

from model.scenario.choices import MethodKind, Task

FOLDER = Path(__file__).parent
DEFAULT = "default"
"""Begins the note of every row that the start has filled in."""


@dataclass(frozen=True, slots=True)
class Grafted:
    """How a crop is grafted. Ages and days in days, ``match``, ``take`` and ``finish_survival`` as shares."""

    crop: str
    rootstock_crop: str
    method: str
    kind: MethodKind
    scion_age_min: int
    scion_age_max: int
    rootstock_age_min: int
    rootstock_age_max: int
    match: float
    take: float
    finish_survival: float
    dark_days: int
    ramp_days: int
    finish_days: int
    holding_limit_days: int
    germination_days: int
    graft_seconds: float
    clip: bool
    at_bench: str
    source: str


@dataclass(frozen=True, slots=True)
class OwnRoot:
    """How a crop is raised on its own roots: ages at which it leaves the bench, and days of finishing."""

    crop: str
    age_min: int
    age_max: int
    finish_days: int
    source: str


@dataclass(frozen=True, slots=True)
class TaskTime:
    """Seconds of a task at the standard pace."""

    task: Task
    skill: str
    seconds: float
    source: str


Record = TypeVar("Record")


def _read(name: str, record: type[Record]) -> list[Record]:
    kinds = get_type_hints(record)
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return [
            record(**{key: _value(kinds[key], text) for key, text in row.items()})
            for row in csv.DictReader(file)
        ]


def _value(kind: Any, text: str) -> Any:
    return text == "yes" if kind is bool else kind(text)


@cache
def grafted() -> dict[str, Grafted]:
    """How each crop is grafted, by crop."""
    return {row.crop: row for row in _read("crops.csv", Grafted)}


@cache
def own_root() -> dict[str, OwnRoot]:
    """How each crop is raised on its own roots, by crop."""
    return {row.crop: row for row in _read("own_root.csv", OwnRoot)}


@cache
def task_times() -> tuple[TaskTime, ...]:
    """Seconds of the tasks that all methods share."""
    return tuple(_read("tasks.csv", TaskTime))


GERMINATION = 0.9, "from memory: lots of hybrid seed usually test 0.85 to 0.95; write the tests of your lots"
GRADE_OUT = 0.05, "common practice, no source"
SQUASH_DAYS = 6
"""Days to emergence of squash at 25 °C; those of the crops stand in crops.csv."""

EMERGENCE = "days to emergence at 25 °C (Harrington, Minges 1954, as printed in Knott's Handbook)"
SEED_LEAD = 21, "common practice, no source"
SUPPLY_LEAD = 14, "common practice, no source"
SLOT = "a slot is the place of one nominal 1020 flat (0.151 m²; common practice)"
SLOT_COSTS = {"germination": 0.06, "bench": 0.03, "healing": 0.1, "finishing": 0.03, "holding": 0.03}
SLOT_COST = (
    "0.026 a tray and day for light alone (Fisher et al. 2019, read in part); else common practice, no source"
)
CLIP, TRAY, MEDIA = 0.04, 1.5, 0.065
SUPPLY_PRICE = "from memory: clips 0.02 to 0.06, flats 1 to 2, media 0.05 to 0.08 a litre, in US dollars"
LITRES = 3.5, "common practice, no source"
