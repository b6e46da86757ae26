"""The garbage collector, paused while millions of small objects are made."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


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
