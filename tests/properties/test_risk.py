"""Simulated chances against exact ones, and what must hold in every season of any plan."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from model.planned.plan_tables import Plan
from model.risk.batches import varying_share
from model.risk.simulation import Risk, simulate, wilson_interval
from model.scenario.choices import MarginPolicy, MethodKind
from model.scenario.entities import Scenario
from model.solve import plan
from tests.depth import deep
from tests.scenario_parts import method
from tests.specimens import OWN_ROOT
from tests.strategies import base_scenario, small_scenarios, with_nursery, with_rows

SEASONS = 20_000


def own_root(**lots: Any) -> Scenario:
    """One own-root order of 100 at a level of 0.9."""
    made = with_nursery(base_scenario(**OWN_ROOT), margin_policy=MarginPolicy.LEVEL, service_level=0.9)
    return with_rows(made, "seed_lots", lambda row: replace(row, **lots))


def grafted(germination: float = 1.0, grade_out: float = 0.0, **methods: Any) -> Scenario:
    """One grafted order of 100 at a level of 0.9; seedlings come up for certain unless said."""
    made = base_scenario(
        methods=(method("splice", MethodKind.ON_TRAY, **{"match": 1.0, "finish_survival": 1.0} | methods),)
    )
    made = with_nursery(made, margin_policy=MarginPolicy.LEVEL, service_level=0.9)
    return with_rows(
        made, "seed_lots", lambda row: replace(row, germination=germination, grade_out=grade_out)
    )


def cells(scenario: Scenario, made: Plan) -> list[int]:
    """Cells sown of each wave."""
    by_format = {tray.format: tray.cells for tray in scenario.tray_formats}
    waves = zip(made.waves["trays"], made.waves["format"], strict=True)
    return [round(trays * by_format[name]) for trays, name in waves]


def joins(made: Plan) -> int:
    """Whole joins of a plan with one flow."""
    assert len(made.flows) == 1
    return int(np.ceil(made.flows["joins"].iloc[0] - 1e-6))


def agrees(risk: Risk, exact: float) -> None:
    """The simulated chance of the one order lies within a 99.9 % interval of the exact one."""
    assert 0.02 < exact < 0.995
    low, high = stats.binom.ppf([0.0005, 0.9995], risk.seasons, exact)
    assert low <= round(risk.orders["chance"].iloc[0] * risk.seasons) <= high


def mixed(weights: Any, made: Any, p: float, quantity: int) -> float:
    """P(Binomial(made, p) ≥ quantity), made with those weights."""
    return float(np.sum(weights * stats.binom.sf(quantity - 1, made, p)))


@pytest.mark.parametrize("seeds", [1, 2, 3])
def test_own_root_order(seeds: int) -> None:
    """Seedlings that come up, at most as many as the plan moves on, then survival."""
    scenario = own_root(seeds_per_cell=seeds, germination=0.6)
    made = plan(scenario)
    (sown,) = cells(scenario, made)
    up = np.arange(sown + 1)
    weights = stats.binom.pmf(up, sown, (1 - 0.4**seeds) * 0.9)
    exact = mixed(weights, np.minimum(up, joins(made)), 0.95, 100)
    agrees(simulate(scenario, made, seasons=SEASONS, seed=seeds), exact)


@pytest.mark.parametrize("correlation", [0.01, 0.1, 0.5])
def test_germination_that_varies_between_lots(correlation: float) -> None:
    scenario = own_root(germination=0.8, grade_out=0.0, germination_correlation=correlation)
    made = plan(scenario)
    (sown,) = cells(scenario, made)
    size, up = 1 / correlation - 1, np.arange(sown + 1)
    weights = stats.betabinom.pmf(up, sown, 0.8 * size, 0.2 * size)
    exact = mixed(weights, np.minimum(up, joins(made)), 0.95, 100)
    agrees(simulate(scenario, made, seasons=SEASONS, seed=7), exact)


@pytest.mark.parametrize("take", [0.5, 0.8, 0.95])
def test_take_alone_is_binomial(take: float) -> None:
    scenario = grafted(take=take)
    made = plan(scenario)
    exact = float(stats.binom.sf(99, joins(made), take))
    agrees(simulate(scenario, made, seasons=SEASONS, seed=11), exact)


@pytest.mark.parametrize("correlation", [0.01, 0.1, 0.5])
def test_take_that_varies_between_graft_days_is_beta_binomial(correlation: float) -> None:
    scenario = grafted(take=0.8, take_correlation=correlation)
    made = plan(scenario)
    size = 1 / correlation - 1
    exact = float(stats.betabinom.sf(99, joins(made), 0.8 * size, 0.2 * size))
    agrees(simulate(scenario, made, seasons=SEASONS, seed=13), exact)


def test_stem_match_makes_the_planned_joins_while_seedlings_last() -> None:
    """Joins are the matches among the seedlings there are, at most the plan's."""
    scenario = grafted(match=0.85, take=0.9)
    made = plan(scenario)
    there = min(cells(scenario, made))
    matches = np.arange(there + 1)
    weights = stats.binom.pmf(matches, there, 0.85)
    exact = mixed(weights, np.minimum(matches, joins(made)), 0.9, 100)
    agrees(simulate(scenario, made, seasons=SEASONS, seed=17), exact)


def test_one_tray_of_three_seeds_a_pot() -> None:
    """Cambridge Pre-U 9794/3 June 2015 Q5: six pots of three seeds at 0.7 all have a seedling: 0.973^6."""
    scenario = own_root(germination=0.7, seeds_per_cell=3, grade_out=0.0)
    scenario = with_nursery(scenario, margin_policy=MarginPolicy.FIXED)
    scenario = with_rows(scenario, "tray_formats", lambda row: replace(row, cells=6))
    scenario = with_rows(scenario, "methods", lambda row: replace(row, finish_survival=1.0))
    scenario = with_rows(scenario, "orders", lambda row: replace(row, quantity=6))
    made = plan(scenario)
    assert len(made.waves) == 1
    one_tray = replace(made, waves=made.waves.assign(trays=1.0))
    agrees(simulate(scenario, one_tray, seasons=SEASONS, seed=19), 0.8485)


def test_more_margin_fills_more_often() -> None:
    chances = []
    for margin in (0.0, 0.03, 0.06, 0.1):
        scenario = with_nursery(base_scenario(), graft_margin=margin, sowing_margin=0.1)
        chances.append(simulate(scenario, plan(scenario), seasons=4000, seed=3).orders["chance"].iloc[0])
    assert chances[-1] > chances[0] + 0.2
    assert all(b >= a - 0.03 for a, b in pairwise(chances))


@settings(max_examples=deep(40))
@given(small_scenarios(), st.integers(0, 2**32), st.sampled_from([0.0, 0.05]))
def test_plants_and_money_add_up(scenario: Scenario, seed: int, correlation: float) -> None:
    """Of orders that may not come late: what lateness costs has known answers of its own."""
    scenario = with_rows(scenario, "methods", lambda row: replace(row, take_correlation=correlation))
    scenario = with_rows(scenario, "orders", lambda row: replace(row, late_days_most=0))
    made = plan(scenario, whole=False)
    risk = simulate(scenario, made, seasons=200, seed=seed)
    totals = risk.totals
    wanted = (made.orders["quantity"] - made.orders["bought"] - made.orders["declined"]).sum()
    assert np.allclose(totals["finished"] + totals["bought"], totals["delivered"] + totals["surplus"])
    assert np.allclose(totals["delivered"] + totals["short"], wanted, atol=1e-4)
    assert np.allclose(risk.short.sum(axis=0), totals["short"])
    assert np.allclose(risk.finished.sum(axis=0), totals["finished"])
    assert (totals[["finished", "bought", "delivered", "surplus", "short"]] >= -1e-6).all(axis=None)
    assert (
        (risk.orders["low"] <= risk.orders["chance"]) & (risk.orders["chance"] <= risk.orders["high"])
    ).all()
    assert (risk.orders["chance_grown"] <= risk.orders["chance"]).all()
    planned = made.costs["amount"][~made.costs["line"].isin(["shortfall", "salvage"])].sum()
    penalties = made.orders["penalty"].to_numpy(dtype=float) @ risk.short
    most = sum(row.salvage_price * row.salvage_most for row in scenario.products)
    income = planned + penalties + totals["buy_in_cost"] - totals["cost"]
    assert (income >= -1e-4).all()
    assert (income <= most + 1e-4).all()
    joined = made.flows["joins"].to_numpy(dtype=float)
    assert (risk.finished <= np.ceil(joined)[:, None] + 1e-6).all()


def certain(scenario: Scenario) -> Scenario:
    """The scenario with nothing left to chance, no margin and no salvage."""
    scenario = with_nursery(scenario, margin_policy=MarginPolicy.FIXED, graft_margin=0.0, sowing_margin=0.0)
    scenario = with_rows(
        scenario,
        "seed_lots",
        lambda row: replace(row, germination=1.0, grade_out=0.0, germination_correlation=0.1),
    )
    scenario = with_rows(scenario, "products", lambda row: replace(row, salvage_price=0.0, salvage_most=0))
    scenario = with_rows(
        scenario,
        "age_effects",
        lambda row: replace(row, match=row.match and 1.0, take=row.take and 1.0),
    )
    return with_rows(
        scenario,
        "methods",
        lambda row: replace(
            row,
            match=row.match and 1.0,
            take=row.take and 1.0,
            finish_survival=1.0,
            stem_tolerance_mm=row.stem_tolerance_mm and 50.0,
            take_correlation=0.1,
        ),
    )


@settings(max_examples=deep(40))
@given(small_scenarios())
def test_where_nothing_is_left_to_chance_the_plan_comes_true(scenario: Scenario) -> None:
    scenario = certain(scenario)
    made = plan(scenario)
    assume(made.short < 1e-6)
    risk = simulate(scenario, made, seasons=3, seed=0)
    assert (risk.orders["chance"] == 1.0).all()
    assert np.allclose(risk.totals["cost"], made.cost, rtol=1e-9, atol=1e-5)
    assert (risk.totals["bought"] == 0).all()


def test_same_seed_same_seasons() -> None:
    scenario = own_root()
    made = plan(scenario)
    one, two, other = (simulate(scenario, made, seasons=500, seed=seed) for seed in (5, 5, 6))
    assert one.totals.equals(two.totals)
    assert one.orders.equals(two.orders)
    assert not one.totals.equals(other.totals)


@settings(max_examples=deep(50))
@given(st.integers(1, 5000), st.data())
def test_interval_is_wilsons(trials: int, data: st.DataObject) -> None:
    successes = data.draw(st.integers(0, trials))
    known = stats.binomtest(successes, trials).proportion_ci(0.95, "wilson")
    assert wilson_interval(successes, trials) == pytest.approx((known.low, known.high), abs=1e-12)


@pytest.mark.parametrize("mean", [0.3, 0.9])
@pytest.mark.parametrize("correlation", [0.01, 0.2])
def test_shares_have_their_mean_and_correlation(mean: float, correlation: float) -> None:
    """Var = mean · (1 − mean) · ρ, by the midpoints of 100,000 equal parts of luck."""
    shares = varying_share(mean, correlation, (np.arange(100_000) + 0.5) / 100_000)
    assert shares.mean() == pytest.approx(mean, abs=1e-4)
    assert shares.var() == pytest.approx(mean * (1 - mean) * correlation, rel=1e-3)
    assert (np.diff(shares) >= 0).all()
