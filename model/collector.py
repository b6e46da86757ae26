"""The garbage collector, paused while millions of small objects are made."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

YOUNG = 50_000
"""Objects made, beyond those gone, before the collector looks through the young ones."""

_before: list[tuple[int, int, int]] = []
"""How often the collector looked before it was told to look seldom."""


def collect_seldom() -> None:
    """Let the garbage collector look seldom while a command imports and reads.

    In Python 3.11 it looks after each 700 objects, which takes a seventh of all importing and a third of
    reading. After the first pause it looks as often as before: from then on programs come and go, and what
    is left of them would fill the memory of a process that lives long.
    """
    if not _before:
        _before.append(gc.get_threshold())
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
        if _before:
            gc.set_threshold(*_before.pop())
