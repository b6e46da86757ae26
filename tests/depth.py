"""How deep the tests search: modest by default, in full under the profile ``ci``.

The profile is ``ci`` where the environment variable HYPOTHESIS_PROFILE says so, or CI is set.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from math import ceil
from typing import TypeVar

T = TypeVar("T")

PROFILE = os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "modest")

MODEST = 0.2
"""Share of a full search that the profile ``modest`` makes."""


def deep(full: int) -> int:
    """Number of examples, of books or of seasons: ``full`` under the profile ``ci``, else a fifth of it."""
    return full if PROFILE == "ci" else ceil(full * MODEST)


def some(cases: Iterable[T]) -> list[T]:
    """All cases under the profile ``ci``, else every fifth: for slow cases that are much alike."""
    found = list(cases)
    return found if PROFILE == "ci" else found[:: round(1 / MODEST)]
