"""How deep the tests search: modest by default, in full under the profile ``ci``.

The profile is the one that the environment variable HYPOTHESIS_PROFILE names, else ``ci`` where CI is set.

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

SHARES = {"ci": 1.0, "modest": 1 / 7}
"""Share of a full search that each profile makes."""
SHARE = SHARES[PROFILE]


def deep(full: int) -> int:
    """Number of examples, of books or of seasons: ``full`` under the profile ``ci``, else a share of it."""
    return ceil(full * SHARE)


def some(cases: Iterable[Any]) -> list[Any]:
    """All cases under the profile ``ci``, else every seventh: for slow cases that are much alike.

    For ``parametrize``: a case is a value, or a tuple with a value for each name.
    """
    if PROFILE != "ci":
        return list(cases)[:: round(1 / SHARE)]
    every = round(1 / SHARES["modest"])
    return [
        case
        if n % every == 0
        else pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=pytest.mark.deep)
        for n, case in enumerate(cases)
    ]
