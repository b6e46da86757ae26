"""What is said of rehearsed seasons."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pandas as pd
import pytest

from model.rehearsal.rehearsed import DONE, Rehearsed
from model.risk.simulation import Risk
from scenarios.rehearsing.rehearsed_seasons import told


@pytest.mark.parametrize(
    ("costs", "said"),
    [
        ([90.0], "costs 75.00 EUR more (costs 40.00 EUR more with penalties for plants short) a season."),
        (
            [20.0, 40.0],
            "costs 15.00 EUR more (saves 20.00 EUR with penalties for plants short) a season; standard error "
            "10.00 EUR, penalties counted.",
        ),
    ],
)
def test_what_planning_again_loses_is_said_as_cost_and_one_season_tells_no_error(
    costs: list[float], said: str
) -> None:
    """The same seasons cost 50, of it penalties of 35, where nothing is planned again; no penalties here."""
    seasons = len(costs)
    done = pd.DataFrame(np.zeros((seasons, len(DONE))), columns=list(DONE))
    totals = pd.DataFrame({"cost": costs, "penalties": 0.0})
    found = Rehearsed(np.zeros((1, seasons)), np.zeros((1, seasons)), done, totals, 0)
    plain = SimpleNamespace(totals=pd.DataFrame({"cost": [50.0] * 3, "penalties": 35.0, "short": 0.0}))
    words = told(found, cast(Risk, plain), "EUR")
    assert f"Planning again {said}" in words
    assert ("short on average (standard error 0), against" in words) == (seasons > 1)
