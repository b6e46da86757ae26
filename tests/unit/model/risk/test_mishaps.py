"""Mishaps of seasons against chances worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from scipy import stats

from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import FLOW
from model.risk.batches import Seasons
from model.risk.mishaps import Losses
from model.risk.simulation import simulate, without_mishaps
from model.scenario.batches import Mishap
from model.scenario.choices import MethodKind, Strikes
from model.scenario.entities import Scenario
from model.solve import plan
from scenarios.studies.risk import risk_study
from tests.scenario_parts import day, method, order, units
from tests.strategies import base_scenario, with_rows

SEASONS = 20_000


def sure(*mishaps: Mishap, **tables: Any) -> Scenario:
    """One grafted order of 100; every seed and join gives a plant, unless a mishap strikes."""
    splice = method("splice", MethodKind.ON_TRAY, match=1.0, take=1.0, finish_survival=1.0)
    made = with_rows(
        base_scenario(methods=(splice,), **tables),
        "seed_lots",
        lambda row: replace(row, germination=1.0, grade_out=0.0),
    )
    return replace(made, mishaps=mishaps)


def struck(of: Scenario, made: Plan | None = None, seed: int = 1) -> float:
    """Share of the seasons in which the order is not filled."""
    risk = simulate(of, plan(of) if made is None else made, seasons=SEASONS, seed=seed)
    return 1 - float(risk.orders["chance"].iloc[0])


def agrees(found: float, exact: float) -> None:
    low, high = stats.binom.ppf([0.0005, 0.9995], SEASONS, exact)
    assert low <= round(found * SEASONS) <= high


def germination(**changes: Any) -> Mishap:
    return replace(Mishap("old seed", Strikes.GERMINATION, 0.1, 0.5), **changes)


def graft_day(**changes: Any) -> Mishap:
    return replace(Mishap("bad day", Strikes.GRAFT_DAY, 0.1, 0.5), **changes)


def zone(**changes: Any) -> Mishap:
    return replace(Mishap("dry air", Strikes.ZONE, 0.02, 0.5, zone="Chamber"), **changes)


def test_without_mishaps_every_order_is_filled() -> None:
    assert struck(sure()) == 0.0


def test_each_graft_day_is_struck_by_itself() -> None:
    of = sure(graft_day())
    days = plan(of).flows["graft_day"].nunique()
    agrees(struck(of), 1 - 0.9**days)
    agrees(struck(replace(of, mishaps=(graft_day(method="splice"),))), 1 - 0.9**days)


def test_a_graft_day_of_another_method_or_of_own_root_plants_is_not_struck() -> None:
    of = sure(graft_day(method="cleft"))
    drawn = Seasons(100, 1)
    assert Losses(drawn, of, plan(of)).of_flow(("Red on Stout", day(6), None), "splice") is None


def test_both_lots_are_struck_once_a_season() -> None:
    of = sure(germination())
    agrees(struck(of), 1 - 0.9**2)
    agrees(struck(replace(of, mishaps=(germination(lot="Red A"),))), 0.1)
    left = Losses(Seasons(500, 2), of, plan(of))
    first, later = left.of_sowing("Red A", day(0)), left.of_sowing("Red A", day(5))
    assert first is not None
    assert later is not None
    assert np.array_equal(first, later)
    assert set(first) == {0.5, 1.0}


def test_a_pool_is_struck_by_day() -> None:
    """Dark 2 and ramp 1: three days in the chamber after the one graft day."""
    of = sure(zone())
    made = plan(of)
    assert len(made.flows) == 1
    agrees(struck(of, made), 1 - 0.98**3)


def test_a_share_is_lost_plant_by_plant() -> None:
    of = sure(graft_day(chance=1.0, share_lost=0.3))
    risk = simulate(of, plan(of), seasons=SEASONS, seed=3)
    finished = risk.finished.sum(axis=0)
    joined = np.ceil(plan(of).flows["joins"].sum() - 1e-6)
    assert finished.mean() == pytest.approx(0.7 * joined, rel=0.005)
    assert finished.var() == pytest.approx(0.21 * joined, rel=0.05)


def test_each_load_of_a_unit_is_struck_and_takes_its_part() -> None:
    """Ten trays of ten in units of four: of three units each has its own luck, and holds 4, 4 and 2 trays."""
    base = sure(zone(chance=0.2, share_lost=1.0))
    of = with_rows(base, "zones", lambda row: units("Chamber", 3, 4.0, 1) if row.zone == "Chamber" else row)
    made = plan(of)
    assert made.unit_loads["trays"].tolist() == pytest.approx([10.0])
    (flow,) = rows_of(made.flows, *FLOW)
    left = Losses(Seasons(SEASONS, 5), of, made).of_flow(flow, "splice")
    assert left is not None
    chances = {
        round(sum(part for part, hit in zip((0.4, 0.4, 0.2), hits, strict=True) if not hit), 6)
        for hits in np.ndindex(2, 2, 2)
    }
    assert {round(share, 6) for share in left.tolist()} == chances
    agrees(float((left == 1).mean()), 0.8**3)
    agrees(float((left < 1e-9).mean()), 0.2**3)


def test_what_is_counted_already_is_not_struck() -> None:
    of = sure(germination(chance=1.0), graft_day(chance=1.0), zone(chance=1.0))
    made = plan(of)
    (flow,) = rows_of(made.flows, *FLOW)
    later = replace(of, nursery=replace(of.nursery, today=flow[1] + timedelta(days=9)))
    left = Losses(Seasons(10, 1), later, made)
    assert left.of_sowing("Red A", day(0)) is None
    assert left.of_flow(flow, "splice") is None
    assert (Losses(Seasons(10, 1), of, made).of_flow(flow, "splice") == 0.5**4).all()


def test_the_same_seasons_without_a_mishap_differ_by_that_mishap_alone() -> None:
    of = sure(graft_day(), zone(), orders=(order("O-1", "Red on Stout", 100, 16),))
    made = plan(of)
    risk = simulate(of, made, seasons=2000, seed=4)
    apart, none = without_mishaps(of, made, risk)
    assert (none.short == 0).all()
    day_only, zone_only = apart["dry air"].short[0], apart["bad day"].short[0]
    lucky = (day_only == 0) & (zone_only == 0)
    assert (risk.short[0][lucky] == 0).all()
    alone = zone_only == 0
    assert np.array_equal(risk.short[0][alone] > 0, day_only[alone] > 0)
    assert risk.totals["short"].mean() > max(day_only.mean(), zone_only.mean()) > 0


def test_the_answer_names_what_mishaps_take() -> None:
    study = risk_study(sure(graft_day(), zone()), seasons=500, seed=2)
    told = next(text for text in study.answer if text.startswith("In the worst 5"))
    assert "come from mishaps" in told
    assert "from 'bad day'" in told
    rows = next(part for part in study.sections if part.name == "Mishaps").rows
    assert [row[0] for row in rows] == ["bad day", "dry air", "all"]
    none = risk_study(sure(), seasons=50, seed=2)
    assert "No mishaps are drawn: the table mishaps is empty." in none.answer
    assert "Mishaps" not in [part.name for part in none.sections]
