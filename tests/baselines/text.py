"""The rows of a constraint group as text, and where its baseline stands."""

from __future__ import annotations

from pathlib import Path

from model.network.expansion import expand
from model.program.build import build, rows
from model.program.program import Program
from tests.baselines.scenarios import SCENARIOS

FOLDER = Path(__file__).parent


def baseline(group: str) -> Path:
    """File of the group's baseline."""
    return FOLDER / f"{group}.txt"


def program(group: str) -> Program:
    """The program of the group's scenario."""
    return build(expand(SCENARIOS[group]()))


def stated(group: str) -> str:
    """The rows that the program states for the group, one a line."""
    return "".join(f"{row}\n" for row in rows(program(group), group))
