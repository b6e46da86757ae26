"""Batches of a season: what each shares, and that its numbers are its own."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy import stats

from model.risk.batches import Seasons
from model.risk.simulation import simulate
from model.scenario.batches import GRAFT_DAY, LOT, SOWING, together
from model.scenario.choices import MarginPolicy, MethodKind
from model.scenario.entities import SeedLot
from model.solve import plan
from tests.scenario_parts import day, lot, method
from tests.specimens import OWN_ROOT
from tests.strategies import base_scenario, with_nursery, with_rows

SEASONS = 40_000


def blank(name: str = "Red A") -> SeedLot:
    """A lot that says nothing of how it varies."""
    return replace(lot(name, "Red"), germination_correlation=None, sowing_correlation=None)


def test_a_blank_cell_means_the_default_and_0_means_none() -> None:
    assert (blank().between_lots, blank().between_sowings) == (LOT, SOWING)
    sure = replace(blank(), germination_correlation=0.0, sowing_correlation=0.0)
    assert (sure.between_lots, sure.between_sowings) == (0.0, 0.0)
    splice = method("splice", MethodKind.ON_TRAY)
    assert replace(splice, take_correlation=None).between_days == GRAFT_DAY
    assert replace(splice, take_correlation=0.0).between_days == 0.0
    assert replace(splice, kind=MethodKind.OWN_ROOT, take_correlation=None).between_days == 0.0


def test_defaults_raise_the_margin_of_a_level() -> None:
    sure = with_nursery(base_scenario(), margin_policy=MarginPolicy.LEVEL, service_level=0.95)
    usual = with_rows(sure, "methods", lambda row: replace(row, take_correlation=None))
    margins = [float(plan(of).orders["margin"].iloc[0]) for of in (sure, usual)]
    assert margins[0] + 0.005 < margins[1]


def test_sowings_vary_about_their_lot() -> None:
    """Var = g(1 − g)(1 − (1 − a)(1 − b)), and two sowings share the part of the lot: g(1 − g)a."""
    seasons = Seasons(SEASONS, 4)
    red = replace(blank(), germination_correlation=0.02, sowing_correlation=0.05)
    one, other = (seasons.germination(red, day(t)) for t in (0, 7))
    for rates in (one, other):
        assert rates.mean() == pytest.approx(0.9, abs=0.002)
        assert rates.var() == pytest.approx(0.09 * together(0.02, 0.05), rel=0.05)
    assert np.cov(one, other)[0, 1] == pytest.approx(0.09 * 0.02, rel=0.08)
    sure = replace(red, sowing_correlation=0.0)
    assert np.array_equal(seasons.germination(sure, day(0)), seasons.germination(sure, day(7)))


def test_a_lot_that_fails_or_comes_up_whole_has_no_luck_in_its_sowings() -> None:
    seasons = Seasons(50, 1)
    for rate in (1.0, 0.0):
        assert (seasons.germination(replace(blank(), germination=rate), day(0)) == rate).all()


def test_batches_have_numbers_of_their_own_that_no_other_batch_moves() -> None:
    seasons = Seasons(2000, 9)
    names = [("lot", "a"), ("lot", "b"), ("sowing", "a"), ("lot", "a", day(0)), ("lot", "a\nb")]
    drawn = [seasons.luck(*name) for name in names]
    for name, luck in zip(names, drawn, strict=True):
        assert np.array_equal(luck, Seasons(2000, 9).luck(*name))
        assert not np.array_equal(luck, Seasons(2000, 10).luck(*name))
    for one, other in combinations(drawn, 2):
        assert abs(np.corrcoef(one, other)[0, 1]) < 0.1


def test_an_order_of_one_sowing_has_the_exact_chance() -> None:
    """Own-root, one wave: a mixture of binomials over both Betas, by quadrature."""
    scenario = with_nursery(base_scenario(**OWN_ROOT), margin_policy=MarginPolicy.LEVEL, service_level=0.9)
    scenario = with_rows(
        scenario,
        "seed_lots",
        lambda row: replace(
            row, germination=0.8, grade_out=0.0, germination_correlation=0.01, sowing_correlation=0.03
        ),
    )
    scenario = with_rows(scenario, "methods", lambda row: replace(row, finish_survival=1.0))
    made = plan(scenario)
    (trays,), (format_,) = made.waves["trays"], made.waves["format"]
    cells = round(trays * {tray.format: tray.cells for tray in scenario.tray_formats}[format_])
    quantiles = (np.arange(400) + 0.5) / 400
    lots = stats.beta.ppf(quantiles, 0.8 * 99, 0.2 * 99)[:, None]
    sowings = 1 / 0.03 - 1
    exact = float(stats.betabinom.sf(99, cells, lots * sowings, (1 - lots) * sowings).mean())
    risk = simulate(scenario, made, seasons=20_000, seed=3)
    low, high = stats.binom.ppf([0.0005, 0.9995], 20_000, exact)
    assert 0.02 < exact < 0.98
    assert low <= round(risk.orders["chance"].iloc[0] * 20_000) <= high
