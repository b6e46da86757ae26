"""A scenario by the name that a user gives: a file, a folder, or the demo that comes with the package."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from model.scenario.entities import Scenario
from scenarios.files.read_scenario import Overrides
from scenarios.variants.variants import read_case

PACKAGE = Path(__file__).resolve().parents[1]


def read(scenario: str | Path, *, today: date | None = None, progress: str | Path | None = None) -> Scenario:
    """Read a scenario: a workbook, a folder of CSV files, a variant (.toml), or the demo by its name.

    ``today``, the first day that can still be planned, replaces the scenario's own. ``progress`` is a file
    with the columns of the table progress; its rows are added after the scenario's. Raises ``BadInput``
    with every fault, each with its place and its remedy.
    """
    file = None if progress is None else path_of(progress)
    return read_case(path_of(scenario), Overrides(today, file)).scenario


def path_of(name: str | Path) -> Path:
    """The file or folder of that name; where there is none, the one that comes with the package."""
    path = Path(name)
    if not path.exists() and not path.is_absolute() and ".." not in path.parts:
        shipped = PACKAGE / path
        if (shipped / "nursery.csv").is_file() or (shipped.suffix in (".csv", ".toml") and shipped.is_file()):
            return shipped
    return path
