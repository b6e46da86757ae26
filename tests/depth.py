"""How deep the tests search: modest by default, in full under the profile ``ci``.

The profile is ``ci`` where the environment variable HYPOTHESIS_PROFILE says so, or CI is set.

``pytest -m "hypothesis or deep"`` runs the tests whose depth differs: Hypothesis marks its own, ``some``
marks the cases that a modest search leaves out, and others that ask for depth are marked ``deep`` by hand.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from math import ceil
from typing import Any

import pytest

PROFILE = os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "modest")

MODEST = 1 / 7
"""Share of a full search that the profile ``modest`` makes."""


def deep(full: int) -> int:
    """Number of examples, of books or of seasons: ``full`` under the profile ``ci``, else a seventh of it."""
    return full if PROFILE == "ci" else ceil(full * MODEST)


def some(cases: Iterable[Any]) -> list[Any]:
    """All cases under the profile ``ci``, else every seventh: for slow cases that are much alike.

    For ``parametrize``: a case is a value, or a tuple with a value for each name.
    """
    every = round(1 / MODEST)
    if PROFILE != "ci":
        return list(cases)[::every]
    return [
        case
        if n % every == 0
        else pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=pytest.mark.deep)
        for n, case in enumerate(cases)
    ]
