"""How deep the tests search: modest by default, in full under the profile ``ci``.

The profile is ``ci`` where the environment variable HYPOTHESIS_PROFILE says so, or CI is set.
"""

from __future__ import annotations

import os
from math import ceil

PROFILE = os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "modest")

MODEST = 0.2
"""Share of a full search that the profile ``modest`` makes."""


def deep(full: int) -> int:
    """Number of examples, of books or of seasons: ``full`` under the profile ``ci``, else a fifth of it."""
    return full if PROFILE == "ci" else ceil(full * MODEST)
