"""Sampled seasons: one in each stratum, right on average, mishaps as often as they should be."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from model.hedging.sampled import SampledSeasons, StratifiedSeasons, sampled
from model.network.as_counted import joins_made
from model.network.expansion import expand
from model.scenario.batches import Mishap
from model.scenario.choices import Happened, Strikes
from model.scenario.entities import Scenario
from tests.by_hand_later import LATER
from tests.scenario_parts import lot
from tests.specimens import SPECIMENS

SEASONS = 200


def varying(**changes: float | None) -> Scenario:
    """A nursery whose batches vary."""
    base = SPECIMENS["on-tray"]
    lots = tuple(
        replace(row, germination=0.85, germination_correlation=0.01, sowing_correlation=0.02)
        for row in base.seed_lots
    )
    methods = tuple(replace(row, take_correlation=0.02) for row in base.methods)
    return replace(base, seed_lots=lots, methods=methods)


def test_each_batch_has_one_season_in_each_stratum() -> None:
    drawn = StratifiedSeasons(SEASONS, 3)
    one, other = drawn.luck("a"), drawn.luck("b")
    assert sorted((one * SEASONS).astype(int).tolist()) == list(range(SEASONS))
    assert abs(float(np.corrcoef(one, other)[0, 1])) < 0.2
    assert drawn.luck("a").tolist() == one.tolist()


def test_sowings_vary_about_their_lot_by_its_correlations() -> None:
    """Variance p · (1 − p) · (1 − (1 − .01) · (1 − .02)) about the germination."""
    row = lot("Red A", "Red", germination=0.85, germination_correlation=0.01, sowing_correlation=0.02)
    rates = StratifiedSeasons(20_000, 1).germination(row, date(2027, 3, 1))
    assert float(rates.mean()) == pytest.approx(0.85, abs=0.002)
    assert float(rates.var()) == pytest.approx(0.85 * 0.15 * (1 - 0.99 * 0.98), rel=0.05)


def test_seasons_are_as_expected_on_average() -> None:
    """Stand: matched seedlings, .9 of .85; take .8. Both with single seedlings and plants of 100 joins."""
    network = expand(varying())
    luck = sampled(network, [100.0] * len(network.joins), SEASONS, 1)
    assert luck.number == SEASONS
    assert luck.stand.mean(axis=1) == pytest.approx(np.ones(len(network.waves)), abs=0.01)
    assert luck.take.mean(axis=1) == pytest.approx(np.ones(len(network.joins)), abs=0.01)
    assert luck.take.std() > 0.05


def test_what_is_in_no_plan_is_not_drawn() -> None:
    network = expand(varying())
    luck = sampled(network, [0.0] * len(network.joins), 5, 1)
    assert (luck.stand == 1).all()
    assert (luck.take == 1).all()


@pytest.mark.parametrize(
    "mishap",
    [
        Mishap("day", Strikes.GRAFT_DAY, 0.02, 0.7),
        Mishap("room", Strikes.ZONE, 0.02, 0.7, zone="Chamber"),
    ],
)
def test_a_mishap_strikes_each_batch_in_its_share_of_the_seasons(mishap: Mishap) -> None:
    """Chance .02 of 200 seasons: each graft day in 4; in a pool each of a flow's days in 4."""
    base = SPECIMENS["on-tray"]
    methods = tuple(replace(row, take_correlation=0.0) for row in base.methods)
    network = expand(replace(base, methods=methods, mishaps=(mishap,)))
    luck = sampled(network, [10_000.0] * len(network.joins), SEASONS, 1)
    for f, joins in enumerate(network.flow_joins):
        days = 1
        if mishap.zone is not None:
            days = sum(s.end - s.start for s in network.flows[f].stays if s.zone == mishap.zone)
        struck = int((luck.take[joins[0]] < 0.5).sum())
        assert 4 * days - 2 <= struck <= 4 * days
        assert days > 1 or struck == 4


def test_a_lot_that_fails_thins_all_its_waves_at_once() -> None:
    base = SPECIMENS["on-tray"]
    rows = tuple(replace(row, germination_correlation=0.0, sowing_correlation=0.0) for row in base.seed_lots)
    failing = Mishap("lot", Strikes.GERMINATION, 0.1, 0.5, lot=rows[0].lot)
    network = expand(replace(base, seed_lots=rows, mishaps=(failing,)))
    luck = sampled(network, [10_000.0] * len(network.joins), 10, 1)
    of = [w for w, wave in enumerate(network.waves) if wave.lot.lot == rows[0].lot]
    thin = luck.stand < 0.75
    assert thin[of].sum(axis=1).tolist() == [1] * len(of)
    assert len({int(n) for n in thin[of].argmax(axis=1)}) == 1
    assert not np.delete(thin, of, axis=0).any()


def test_no_seasons_are_refused() -> None:
    network = expand(varying())
    with pytest.raises(ValueError, match="at least 1"):
        sampled(network, [1.0] * len(network.joins), 0, 1)


def under_way(*, counted: bool) -> SampledSeasons:
    """Two waves sown and joined a day ago: 33 and 50 seedlings used; counted, or not yet."""
    scenario, _ = LATER["healed"]
    progress = scenario.progress
    if not counted:
        progress = tuple(replace(row, counted=None) for row in progress)
    lots = tuple(replace(row, sowing_correlation=0.05) for row in scenario.seed_lots)
    methods = tuple(replace(row, take_correlation=0.05) for row in scenario.methods)
    network = expand(replace(scenario, progress=progress, seed_lots=lots, methods=methods))
    made = joins_made(network)
    return sampled(network, [made.get(j, 0.0) for j in range(len(network.joins))], SEASONS, 1)


def test_what_is_sown_and_joined_varies_until_it_is_counted() -> None:
    """No season has fewer seedlings than the joins made have used; what is counted is in all the same."""
    known, open_ = under_way(counted=True), under_way(counted=False)
    assert (known.stand == 1).all()
    assert known.take.std() < 0.2 * open_.take.std()
    varying = open_.stand[open_.stand.std(axis=1) > 0]
    assert len(varying) > 0
    assert (varying.min(axis=1) < 0.99).any() or (varying.max(axis=1) > 1.01).all()
    assert open_.take.min() < 0.8


@pytest.mark.parametrize("uncounted", [False, True])
def test_plants_that_were_delivered_were_there(uncounted: bool) -> None:
    """20 plants of 25 joins left: no season has fewer."""
    scenario, _ = LATER["delivered"]
    if uncounted:
        progress = tuple(row for row in scenario.progress if row.what is not Happened.FINISHED)
        scenario = replace(scenario, progress=progress)
    network = expand(scenario)
    made = joins_made(network)
    luck = sampled(network, [made.get(j, 0.0) for j in range(len(network.joins))], SEASONS, 1)
    (j,) = (j for j, joins in made.items() if joins > 0)
    finished = made[j] * network.joins[j].take * network.flows[network.joins[j].flow].survival * luck.take[j]
    assert (finished >= 20 - 1e-9).all()
    assert (finished > 20.5).any() == uncounted
