"""Simulated and rehearsed chances of random nurseries against exact enumeration: do intervals hold."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from model.planned.plan_tables import Plan
from model.risk.batches import Seasons
from model.risk.simulation import simulate, wilson_interval
from model.scenario.batches import Mishap
from model.scenario.choices import MethodKind, Strikes
from model.scenario.entities import Scenario
from model.solve import plan, solve
from tests.depth import deep
from tests.scenario_parts import method, order
from tests.specimens import OWN_ROOT
from tests.strategies import base_scenario, with_nursery, with_rows
from tests.unit.model.rehearsal.test_rehearsed import once_more, rehearsal

SEASONS, REHEARSED = 2000, 100
POINTS = 200
"""Quantiles of a lot's rate over which an enumeration runs."""

Chances = NDArray[np.float64]


def own_root(pick: Random) -> Scenario:
    """One order of own-root plants from one wave: the lot, the sowing and a mishap decide, then survival."""
    lots = {
        "germination": pick.uniform(0.6, 0.9),
        "grade_out": 0.0,
        "germination_correlation": pick.choice([0.0, 0.005, 0.02]),
        "sowing_correlation": pick.choice([0.0, 0.01, 0.05]),
    }
    made = with_nursery(base_scenario(**OWN_ROOT), graft_margin=pick.uniform(0, 0.15), sowing_margin=0.1)
    made = with_rows(made, "seed_lots", lambda row: replace(row, **lots))
    made = with_rows(made, "methods", lambda row: replace(row, finish_survival=pick.choice([1.0, 0.95])))
    mishap = Mishap("old seed", Strikes.GERMINATION, pick.uniform(0.02, 0.3), pick.uniform(0.02, 0.3))
    return replace(made, mishaps=(mishap,), orders=(order("O-1", "Red plain", pick.randint(20, 90), 16),))


def grafted(pick: Random) -> Scenario:
    """One grafted order of sure seed: the graft day's take and a mishap decide, then survival."""
    splice = method(
        "splice",
        MethodKind.ON_TRAY,
        match=1.0,
        take=pick.uniform(0.7, 0.95),
        take_correlation=pick.choice([0.0, 0.01, 0.05]),
        finish_survival=pick.choice([1.0, 0.95]),
    )
    made = with_nursery(base_scenario(methods=(splice,)), graft_margin=pick.uniform(0, 0.15))
    made = with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))
    mishap = Mishap("bad day", Strikes.GRAFT_DAY, pick.uniform(0.02, 0.3), pick.uniform(0.02, 0.3))
    return replace(made, mishaps=(mishap,), orders=(order("O-1", "Red on Stout", pick.randint(20, 90), 16),))


def tried_again(pick: Random) -> Scenario:
    """One grafted order whose graft day fails altogether now and then, with time for one more try."""
    mishap = Mishap("bad day", Strikes.GRAFT_DAY, pick.uniform(0.2, 0.6), 1.0)
    made = replace(once_more(), mishaps=(mishap,))
    return with_rows(made, "orders", lambda row: replace(row, quantity=pick.randint(20, 90)))


def counts(n: int, mean: float, lots: float, batches: float) -> Chances:
    """Chance of each number of successes of n, whose rate varies between lots and between their batches."""
    rates = np.array([mean])
    if lots:
        quantiles = (np.arange(POINTS) + 0.5) / POINTS
        rates = stats.beta.ppf(quantiles, mean * (1 / lots - 1), (1 - mean) * (1 / lots - 1))
    k, at = np.arange(n + 1)[:, None], rates[None, :]
    if batches:
        size = 1 / batches - 1
        return np.asarray(stats.betabinom.pmf(k, n, at * size, (1 - at) * size).mean(axis=1))
    return np.asarray(stats.binom.pmf(k, n, at).mean(axis=1))


def exact(scenario: Scenario, made: Plan) -> float:
    """The chance that the one order is filled, by enumeration of all that may come up, heal and be lost."""
    (mishap,), (asked,) = scenario.mishaps, scenario.orders
    (rule,), need = scenario.methods, asked.quantity - round(made.orders["short"].iloc[0])
    assert len(made.flows) == 1
    joins = int(np.ceil(made.flows["joins"].iloc[0] - 1e-6))
    chance = 0.0
    for struck, weight in ((1 - mishap.share_lost, mishap.chance), (1.0, 1 - mishap.chance)):
        if rule.kind is MethodKind.OWN_ROOT:
            lot = next(row for row in scenario.seed_lots if row.variety == "Red")
            cells = {tray.format: tray.cells for tray in scenario.tray_formats}
            (sown,) = (
                round(n * cells[f]) for n, f in zip(made.waves["trays"], made.waves["format"], strict=True)
            )
            up = counts(sown, lot.germination, lot.between_lots, lot.between_sowings)
            left = np.array([stats.binom.pmf(np.arange(sown + 1), n, struck) for n in range(sown + 1)])
            moved = up @ left
            kept = stats.binom.sf(need - 1, np.minimum(np.arange(sown + 1), joins), rule.finish_survival)
            chance += weight * float(moved @ kept)
        else:
            healed = counts(joins, rule.take or 1.0, 0.0, rule.between_days)
            kept = stats.binom.sf(need - 1, np.arange(joins + 1), rule.finish_survival * struck)
            chance += weight * float(healed @ kept)
    return chance


def found_and_exact(number: int) -> tuple[float, float, float]:
    """Interval of the chance of a random nursery's order, and the exact chance; every third is rehearsed."""
    pick = Random(number)
    if number % 3 == 2:
        scenario = tried_again(pick)
        (mishap,), solved = scenario.mishaps, solve(scenario)
        short = rehearsal(solved, Seasons(REHEARSED, number)).seasons(range(REHEARSED)).short[0]
        return *wilson_interval(int((short == 0).sum()), REHEARSED), 1 - mishap.chance**2
    scenario = (own_root, grafted)[number % 3](pick)
    made = plan(scenario)
    risk = simulate(scenario, made, seasons=SEASONS, seed=number)
    return risk.orders["low"].iloc[0], risk.orders["high"].iloc[0], exact(scenario, made)


@pytest.mark.deep
def test_intervals_of_chances_hold_the_exact_one() -> None:
    """Of 200 nurseries 186 to 194; of fewer, no fewer than chance allows."""
    nurseries = deep(200)
    held = 0
    for number in range(nurseries):
        low, high, chance = found_and_exact(number)
        held += bool(low <= chance <= high)
    least, most = (
        (0.93, 0.97) if nurseries == 200 else (stats.binom.ppf(0.001, nurseries, 0.95) / nurseries, 1)
    )
    assert least <= held / nurseries <= most
