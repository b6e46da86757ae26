"""Telling what is being done, for whoever waits."""

from __future__ import annotations

from collections.abc import Callable

Say = Callable[[str], None]
"""Is told the name of each phase as it starts."""


def silent(phase: str) -> None:
    """Tells nobody."""


def part_of(phase: str, progress: Say) -> Say:
    """Tells phases as how far ``phase`` is: ``phase: how far``."""
    return lambda text: progress(f"{phase}: {text}")
