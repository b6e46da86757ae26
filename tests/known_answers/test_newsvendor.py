"""K10 newsvendor: a quantity chosen by what a plant short and a plant over cost.

Source: Nahmias, Production and Operations Analysis, Mac's newsstand. Weekly demand is normal with mean
11.73 and standard deviation 4.74; one short costs 50, one over 15 (cents): ratio .77, order 15.
"""

from __future__ import annotations

import pytest
from scipy.stats import norm

from model.rates.overseeding import critical_level, newsvendor

SHORT, OVER = 50, 15


def test_critical_ratio() -> None:
    assert critical_level(SHORT, OVER) == pytest.approx(0.77, abs=0.005)


def test_quantity_of_least_expected_cost() -> None:
    demand = norm(11.73, 4.74)
    assert round(newsvendor(lambda share: float(demand.ppf(share)), SHORT, OVER)) == 15
