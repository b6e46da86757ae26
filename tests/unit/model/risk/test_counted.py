"""Seasons of a plan from today on: what is counted is the same in all of them, the rest varies."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from scipy import stats

from model.planned.plan_tables import Plan
from model.rehearsal.rehearsed import Rehearsal
from model.risk.batches import Seasons
from model.risk.simulation import Lived, live, simulate, wilson_interval
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.scenario.records.trade import BuyInOffer
from model.season.as_planned import as_planned
from model.solve import plan, plan_of, solve
from tests.scenario_parts import WEEK
from tests.strategies import base_scenario, with_nursery, with_rows

SEASONS = 3000
TAKE, FINISH = 0.8, 0.9
CELLS = {tray.format: tray.cells for tray in base_scenario().tray_formats}
Counts = dict[Happened, float | None]


def uncertain() -> Scenario:
    """One order of 100 plants; lots, sowings, graft days and single plants vary."""
    changed = with_rows(
        base_scenario(),
        "methods",
        lambda row: replace(row, take=TAKE, match=0.9, finish_survival=FINISH, take_correlation=0.01),
    )
    return with_nursery(
        with_rows(changed, "seed_lots", lambda row: replace(row, germination=0.8)), graft_margin=0.05
    )


def days_of(made: Plan) -> dict[str, date]:
    """The days before which each thing happened, in the plan of one graft day."""
    graft = made.flows["graft_day"].max()
    return {
        "sown": graft,
        "joined": graft + timedelta(1),
        "ready": made.flows["ready_day"].max() + timedelta(1),
    }


def told(made: Plan, today: date, change: Callable[[Progress], Progress]) -> Scenario:
    """The scenario on a day, all done as planned, with counts changed."""
    rows = tuple(change(row) for row in as_planned(made, today))
    return with_nursery(replace(uncertain(), progress=rows), today=today)


def counting(counts: Counts) -> Callable[[Progress], Progress]:
    """All rows of a kind are counted as a share of their cells or joins; None is not counted."""

    def change(row: Progress) -> Progress:
        if row.what not in counts:
            return row
        share = counts[row.what]
        number = row.number * (CELLS[row.format] if row.what is Happened.SOWN else 1)
        return replace(row, counted=None if share is None else round(share * number))

    return change


def seasons_of(of: Scenario) -> tuple[Plan, Lived]:
    made = plan(of)
    return made, live(Seasons(SEASONS, 1), of, made)


BEFORE = plan(uncertain())
SOWN = BEFORE.flows["graft_day"].max()
JOINED, READY = SOWN + timedelta(1), BEFORE.flows["ready_day"].max() + timedelta(1)
"""Days before which all was sown, joined and ready."""


def test_a_counted_wave_has_its_seedlings_in_every_season() -> None:
    of = told(BEFORE, SOWN, counting({Happened.SOWN: 0.9}))
    counted = {
        (row.lot, row.format, row.day): row.counted for row in of.progress if row.what is Happened.SOWN
    }
    made, lived = seasons_of(of)
    assert counted
    for wave, *label in made.waves[["wave", "lot", "format", "sow_day"]].itertuples(index=False):
        if tuple(label) in counted:
            assert set(lived.seedlings[wave]) == {counted[tuple(label)]}


def test_a_wave_that_is_not_counted_varies_but_recorded_joins_were_made() -> None:
    of = told(BEFORE, JOINED, counting({Happened.SOWN: None, Happened.GRAFTED: None}))
    _, lived = seasons_of(of)
    (recorded,) = {row.number for row in of.progress if row.what is Happened.GRAFTED}
    assert all(len(set(seedlings)) > 5 for seedlings in lived.seedlings.values())
    (joins,) = lived.joins
    assert set(joins.joins) == {round(recorded)}
    assert len(set(joins.healed)) > 5
    assert joins.healed.mean() == pytest.approx(TAKE * recorded, rel=0.01)


def test_counted_joins_vary_by_finishing_alone() -> None:
    of = told(BEFORE, JOINED, counting({Happened.GRAFTED: 0.8}))
    (healed,) = {row.counted for row in of.progress if row.what is Happened.GRAFTED}
    assert healed is not None
    _, lived = seasons_of(of)
    assert set(lived.healed[0]) == {healed}
    filled = int((lived.finished[0] >= 100).sum())
    exact = float(stats.binom.sf(99, healed, FINISH))
    assert 0.05 < exact < 0.999
    low, high = wilson_interval(filled, SEASONS, 0.999)
    assert low <= exact <= high


def test_plants_counted_ready_do_not_vary() -> None:
    of = told(BEFORE, READY, lambda row: row)
    ready = Progress(READY - timedelta(1), Happened.FINISHED, 97.0)
    flow = BEFORE.flows.iloc[0]
    ready = replace(ready, product=flow["product"], graft_day=flow["graft_day"])
    rows = (*(row for row in of.progress if row.what is not Happened.DELIVERED), ready)
    _, lived = seasons_of(replace(of, progress=rows))
    assert set(lived.finished[0]) == {97.0}


@pytest.mark.parametrize("offers", [0, 1])
def test_an_order_packed_before_today_keeps_what_it_was_given(offers: int) -> None:
    """93 of 100 plants were delivered: 7 are short in every season, whatever is left and could be bought."""
    due = uncertain().orders[0].due_day
    of = told(
        BEFORE,
        due + timedelta(1),
        lambda row: replace(row, number=93.0) if row.what is Happened.DELIVERED else row,
    )
    offer = BuyInOffer("spare", "Red on Stout", 1.0, 0, WEEK, None, None, 0, None)
    of = replace(of, buy_in_offers=(offer,) * offers)
    risk = simulate(of, plan(of), seasons=200, seed=1)
    assert {round(short, 6) for short in risk.short[0]} == {7.0}
    assert set(risk.totals["bought"]) == {0.0}


def test_a_rehearsal_acts_on_no_count_before_today(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was counted before today is in the plan already; only finishing is still to be counted."""
    of = told(BEFORE, JOINED, counting({Happened.SOWN: 0.9, Happened.GRAFTED: 0.75}))
    solved = solve(of)
    made = plan_of(solved)
    rehearsal = Rehearsal(solved.program, solved.compiled, solved.solution.columns, made, Seasons(40, 1))
    days, fill = [], rehearsal.filling.fill

    def filled(day: int, *rest: Any) -> Any:
        days.append(day)
        return fill(day, *rest)

    monkeypatch.setattr(rehearsal.filling, "fill", filled)
    found = rehearsal.seasons(range(40))
    assert days
    assert min(days) > solved.program.network.past.today
    np.testing.assert_array_equal(found.short, simulate(of, made, seasons=40, seed=1).short)


def test_a_rehearsal_acts_today_on_what_is_counted_today() -> None:
    """A wave sown before today and not counted comes up thin in some seasons: that shows today at first."""
    of = told(BEFORE, SOWN, counting({Happened.SOWN: None}))
    solved = solve(of)
    made = plan_of(solved)
    rehearsal = Rehearsal(solved.program, solved.compiled, solved.solution.columns, made, Seasons(60, 1))
    today = solved.program.network.past.today
    living, jobs = rehearsal.living, rehearsal.jobs
    gaps = [list(rehearsal._gaps(jobs, living.season(n, jobs))) for n in range(60)]
    assert min(day for found in gaps for day in found) == today
