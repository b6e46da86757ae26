"""Settings for all tests, and the demo's plan, which many of them look at.

Hypothesis draws the same examples in every run, so that a test fails for a change and not by chance.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

from tests.depth import PROFILE, SHARES, deep
from tests.places import ROOT

PROPERTIES = ROOT / "tests" / "properties"

for name in SHARES:
    settings.register_profile(
        name,
        max_examples=deep(100),
        deadline=None,
        derandomize=True,
        print_blob=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
settings.load_profile(PROFILE)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A full search and the properties are not traced for coverage, which nearly doubles a test's time.

    They go over the lines of the unit tests again.
    """
    if PROFILE == "ci":
        for item in items:
            searched = item.get_closest_marker("hypothesis") or item.get_closest_marker("deep")
            if searched or item.path.is_relative_to(PROPERTIES):
                item.add_marker(pytest.mark.no_cover)
