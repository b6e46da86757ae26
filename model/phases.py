"""Report the phases of a long computation to whoever waits."""

from __future__ import annotations

from collections.abc import Callable

Say = Callable[[str], None]
"""A function that is called with the name of each phase as it starts."""


def silent(phase: str) -> None:
    """Report nothing."""


def part_of(phase: str, progress: Say) -> Say:
    """A function that reports the progress of ``phase`` as ``phase: progress``."""
    return lambda text: progress(f"{phase}: {text}")
