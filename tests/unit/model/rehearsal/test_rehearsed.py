"""Rehearsed seasons: equal to plain ones where nothing can be cured, and worked by hand where it can."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from model.network.expansion import expand
from model.rehearsal.rehearsed import Rehearsal, Rehearsed, together
from model.risk.batches import Seasons
from model.risk.simulation import Risk, simulate, wilson_interval
from model.scenario.batches import Mishap
from model.scenario.choices import Strikes
from model.scenario.entities import Scenario
from model.season.as_planned import as_planned
from model.solve import Solved, plan_of, solve
from tests.depth import deep
from tests.scenario_parts import day, one_day_splice
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

CHANCE, PLANTS, AGAIN, DISCOUNT = 0.3, 100, 75.0, 0.8
"""A graft day fails altogether with this chance. 100 plants take seed for 100 · (0.5 + 0.25) = 75 to make
again, and late each gives up 0.4 of its price of 2, for one week begun, or two."""


def firm(**changes: object) -> Scenario:
    """100 plants that can be grafted on one day alone: no holding, one age. No single plant is lost."""
    made = base_scenario(methods=(one_day_splice(),), **changes)
    sure = {"germination": 1.0, "grade_out": 0.0, "germination_correlation": 0.0, "sowing_correlation": 0.0}
    return with_rows(made, "seed_lots", lambda row: replace(row, **sure))


def failing(of: Scenario) -> Scenario:
    return replace(of, mishaps=(Mishap("bad day", Strikes.GRAFT_DAY, CHANCE, 1.0),))


def once_more() -> Scenario:
    """The same with time for one more try after the first is counted, whose plants come late."""
    of = firm()
    (day,) = {flow.graft for flow in expand(of).flows}
    flow = next(flow for flow in expand(of).flows)
    healed = flow.stays[0].end
    late = healed + 4 - day
    last = of.orders[0].due_day + timedelta(days=late)
    terms = {"price": 2.0, "late_days_most": late, "late_discount": DISCOUNT / 2}
    return failing(with_rows(with_nursery(of, last_day=last), "orders", lambda row: replace(row, **terms)))


def lived(of: Scenario, seasons: int, seed: int = 1) -> tuple[Rehearsed, Risk]:
    solved = solve(of)
    found = rehearsal(solved, Seasons(seasons, seed)).seasons(range(seasons))
    return found, simulate(of, plan_of(solved), seasons=seasons, seed=seed)


def rehearsal(solved: Solved, drawn: Seasons) -> Rehearsal:
    return Rehearsal(solved.program, solved.compiled, solved.solution.columns, plan_of(solved), drawn)


def varying(of: Scenario) -> Scenario:
    """Lots, sowings and graft days vary, and single plants die."""
    varied = with_rows(of, "seed_lots", lambda row: replace(row, germination=0.8, sowing_correlation=0.02))
    return with_rows(varied, "methods", lambda row: replace(row, take=0.85, match=0.9, take_correlation=0.02))


@pytest.mark.parametrize("seed", [1, 2])
def test_where_nothing_can_be_cured_every_season_is_the_plain_one(seed: int) -> None:
    of = with_nursery(varying(failing(firm())), graft_margin=0.05)
    found, plain = lived(of, 60, seed)
    np.testing.assert_array_equal(found.short, plain.short)
    np.testing.assert_allclose(found.totals["cost"], plain.totals["cost"])
    assert found.done[["sown_again", "grafted_again", "bought_in", "late"]].to_numpy().max() <= 1e-6
    assert (found.done["replans"] > 0).any()


def test_where_nothing_is_made_again_batches_keep_their_luck() -> None:
    """The solver's tolerance changes no batch: plants only change places, so no season is shorter for it."""
    of = with_nursery(varying(failing(SPECIMENS["shifts"])), graft_margin=0.05)
    told = as_planned(plan_of(solve(of)), day(9))
    found, plain = lived(with_nursery(replace(of, progress=told), today=day(9)), 12)
    made = found.done[["sown_again", "grafted_again", "bought_in", "late"]].to_numpy().max(axis=1)
    assert (found.done["replans"] > 0).any()
    assert (found.short.sum(axis=0) <= plain.short.sum(axis=0) + 1e-6)[made < 0.01].all()


def test_seasons_do_not_depend_on_those_rehearsed_before() -> None:
    of = varying(once_more())
    solved = solve(of)
    drawn = Seasons(12, 3)
    whole = rehearsal(solved, drawn).seasons(range(12))
    parts = [rehearsal(solved, drawn).seasons(range(n, n + 4)) for n in (0, 4, 8)]
    np.testing.assert_array_equal(whole.short, together(parts).short)
    np.testing.assert_array_equal(whole.totals, together(parts).totals)


@pytest.mark.deep
def test_making_again_after_a_count_by_hand() -> None:
    """Two tries, each lost with chance p: in full 1 − p², in time 1 − p, late and paid twice (1 − p) · p.

    A season costs the plan's, p times the seed again and, where it succeeds, the discount; p² the penalties.
    This is production in two stages with an inspection between; making again costs less than being short.
    """
    seasons = deep(1400)
    of = once_more()
    found, plain = lived(of, seasons)
    chances = found.chances(np.array([float(PLANTS)]))
    times = {name: round(float(chances[name].iloc[0]) * seasons) for name in ("full", "nearly", "in_time")}
    for name, exact in (("full", 1 - CHANCE**2), ("nearly", 1 - CHANCE**2), ("in_time", 1 - CHANCE)):
        low, high = wilson_interval(times[name], seasons, 0.999)
        assert low <= exact <= high, name
    first = plain.short[0] > 0
    second = found.short[0] > 0
    cured = first & ~second
    late = found.late[0]
    assert set(late[cured]) == {PLANTS}
    assert set(late[~cured]) == {0}
    planned = plan_of(solve(of)).cost
    weeks = -(-(of.nursery.last_day - of.orders[0].due_day).days // 7)
    by_hand = planned + AGAIN * first + PLANTS * (DISCOUNT * weeks * cured + 50.0 * second)
    np.testing.assert_allclose(found.totals["cost"], by_hand, rtol=1e-4)
