"""Writes the baselines anew: python -m tests.baselines. Read the difference before committing it.

The coefficients worked by hand in tests/unit/model/program/test_baselines.py do not change with it.
"""

from tests.baselines.scenarios import SCENARIOS
from tests.baselines.text import baseline, stated

for group in SCENARIOS:
    baseline(group).write_text(stated(group), encoding="utf-8")
