"""The garbage collector, paused while millions of small objects are made."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

YOUNG = 50_000
"""Objects made, beyond those gone, before the collector looks through the young ones."""


def collect_seldom() -> None:
    """Let the garbage collector look seldom, for the rest of the process.

    In Python 3.11 it looks after each 700 objects, which takes a seventh of all importing and a third of
    reading.
    """
    gc.set_threshold(YOUNG)


@contextmanager
def collector_paused() -> Iterator[None]:
    """Pause the garbage collector, which would otherwise walk all small objects again and again.

    Those made meanwhile count as old afterwards, so that they are not walked at once when it goes on.
    """
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.freeze()
            gc.unfreeze()
            gc.enable()
