"""Settings for all tests: the same random scenarios in every run of the continuous integration."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "local", deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("ci", parent=settings.get_profile("local"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "local")
