"""Zones to germinate in, worked by hand, and through a season told as planned."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from model.planned.jobs import jobs_of
from model.planned.last_days import last_days_of
from model.planned.plan_tables import rows_of
from model.proof.audit import audit
from model.questions.traced_costs import traced_parts
from model.rehearsal.rehearsed import Rehearsal
from model.risk.batches import Seasons
from model.scenario.choices import GroupBy, Happened, MethodKind, Shared, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.kept_apart import Apart
from model.scenario.records.rooms import GerminationZone
from model.season.as_planned import as_planned
from model.season.cures import cures
from model.season.differences import differences
from model.season.last_plan import decisions
from model.season.replanning import replan
from model.solve import plan, plan_of, solve
from reports.book.writing import shown_day
from reports.plan.germination_words import germinates_in
from reports.work.tray_tags import tags
from tests.independent import least_cost
from tests.scenario_parts import method, pool
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery
from tests.workbooks import planned, write_report

SEEDS = 100 / (0.8 * 0.95) / 0.9 / 0.81 * 0.75
"""Seed of 100 plants, in trays and seeds in parts: tests/properties/test_same_optimum.py."""

SCIONS = 100 / (0.8 * 0.95) / 0.9 / 16.2
"""Trays of scions: 146.2 seedlings of 16.2 a tray."""

ROOM = SEEDS + (SCIONS + 2 * SCIONS) * 1.0
"""Cost where all trays, those of scions and twice as many of rootstocks, are in the room: 2 days at .5."""


def two_places(**further: float | int | None) -> Scenario:
    """100 plants of one graft day; the room costs .5 a slot and day, the cabinet .2 for 5 slots."""
    one_age = {"scion_age_max": 3, "rootstock_age_max": 4, "holding_limit_days": 0}
    base = base_scenario(methods=(method("splice", MethodKind.ON_TRAY, **one_age),))
    room, cabinet = ZoneUse.GERMINATION, pool("Cabinet", ZoneUse.GERMINATION, 5.0, 0.2)
    return replace(
        base,
        zones=(pool("Warm room", room, 1000.0, 0.5), cabinet, *base.zones[1:]),
        germination_zones=(GerminationZone("Red A", "Cabinet", **further),),  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("further", "cost"),
    [
        # 5 trays cost .2 for 2 days instead of .5
        ({}, ROOM - 5 * 1.0 + 5 * 0.4),
        # a tray costs .5 more there, then .7 more: no longer worth it
        ({"cost_per_tray": 0.5}, ROOM - 5 * 1.0 + 5 * 0.9),
        ({"cost_per_tray": 0.7}, ROOM),
        # a day is enough there, or a day more, on which the bench, which costs nothing, would have done
        ({"days": 1}, ROOM - 5 * 1.0 + 5 * 0.2),
        ({"days": 3}, ROOM - 5 * 1.0 + 5 * 0.6),
        # after 4 days seedlings would come to the bench too late for their graft day, at 3 days
        ({"days": 4}, ROOM),
    ],
)
def test_trays_germinate_where_they_cost_least(further: dict[str, float], cost: float) -> None:
    of = two_places(**further)
    made = plan(of, whole=False)
    assert made.facts.objective == pytest.approx(cost)
    assert least_cost(of, whole=False) == pytest.approx(cost)


def test_a_zone_that_no_tray_goes_to_costs_nothing_and_the_plan_is_written(tmp_path: Path) -> None:
    """A tenth of the room's cost: all trays stand in the cabinet, and what the room costs cancels."""
    of = two_places()
    zones = (replace(of.zones[0], cost_per_slot_day=0.7), pool("Cabinet", ZoneUse.GERMINATION, 1000.0, 0.07))
    elsewhere = tuple(GerminationZone(lot, "Cabinet") for lot in ("Red A", "Stout A"))
    of = replace(of, zones=(*zones, *of.zones[2:]), germination_zones=elsewhere)
    made, traced = planned(of)
    paid = made.costs[made.costs["line"] == "slots"]
    assert "Warm room" not in set(paid["detail"])
    assert "Cabinet" in set(paid["detail"])
    assert all(check.passed for check in audit(of, made))
    write_report(tmp_path / "plan.xlsx", of, made, traced=traced)


def test_work_lists_say_where_the_trays_go() -> None:
    of = two_places(days=3)
    made = plan(of)
    jobs = [job for job in jobs_of(made).values() if job.name == "Red A" and job.trays]
    sown = {job.to_zone: job.trays for job in jobs if job.step == "sow"}
    assert sown == {"Warm room": 5.0, "Cabinet": 5.0}
    assert {job.seeds for job in jobs if job.step == "sow"} == {100.0}
    (words,) = [words for wave, words in germinates_in(of, made).items() if wave[0] == "Red A"]
    assert words == f"Warm room: 5; Cabinet: 5, to bench {shown_day(date(2027, 3, 12))}"
    labels = [tag for tag in tags(of, made, first=date(2027, 3, 1), days=30) if tag.heading == "Red A"]
    for place, bench in (("Warm room", date(2027, 3, 11)), ("Cabinet", date(2027, 3, 12))):
        (tag,) = [tag for tag in labels if tag.lines[-1] == f"Germinates in {place}"]
        assert tag.lines[1].endswith(f"to bench {shown_day(bench)}")
        assert tag.trays == 5
    moved = {job.from_zone: job.day for job in jobs if job.step == "move to bench"}
    assert moved["Cabinet"] - moved["Warm room"] == timedelta(days=1)


def test_a_season_told_as_planned_stays_where_it_was_put() -> None:
    """Progress names the zones, the plan from then on keeps them, and lists of changes tell them."""
    of = SPECIMENS["places to germinate"]
    made = plan(of)
    assert set(made.germination["zone"]) == {"Bench", "Cabinet"}
    today = max(made.waves["sow_day"]) + timedelta(days=1)
    told = replace(with_nursery(of, today=today), progress=as_planned(made, today))
    put = sum(row.number for row in told.progress if row.what is Happened.SOWN and row.in_zones)
    assert put == made.germination["trays"].sum()
    again = solve(told)
    new = plan_of(again)
    assert all(check.passed for check in audit(told, new))
    assert new.germination.equals(made.germination)
    assert new.facts.objective == pytest.approx(made.facts.objective)
    values, known = decisions(again.program, made.tables)
    assert known
    kept = sum(value for (name, _), value in values.items() if name == "sown_into")
    assert kept == made.germination["trays"].sum()
    elsewhere = replace(made, germination=made.germination.iloc[1:])
    changed = differences(elsewhere.tables, made.tables, date.min)
    assert set(changed["what"]) == {"sow"}
    assert any("to germinate in" in detail for detail in changed["detail"])


def test_trays_are_not_sent_elsewhere_for_less_than_a_change_must_save() -> None:
    """5 trays in the cabinet cost 5 a slot there for 2 days, .5 in the room: moving them saves 45."""
    last = plan(two_places())
    dearer = two_places()
    zones = tuple(replace(z, cost_per_slot_day=5.0) if z.zone == "Cabinet" else z for z in dearer.zones)
    dearer = replace(dearer, zones=zones)
    kept = replan(dearer, last.tables, upset=60.0)
    assert kept.kept
    assert sum(plan_of(kept.solved).germination["trays"]) == 5.0
    moved = replan(dearer, last.tables, upset=30.0)
    assert (moved.kept, moved.found.jobs) == (False, 1)
    assert plan_of(moved.solved).germination.empty


def test_ways_to_go_on_that_sow_as_planned_send_no_more_trays_elsewhere() -> None:
    """50 plants more are asked for, and the cabinet is now worth its cost: only what ships changes."""
    last = plan(two_places(cost_per_tray=0.7))
    now = two_places()
    order = replace(now.orders[0], quantity=150)
    hit, found = cures(replace(now, orders=(order,)), last.tables)
    assert (hit, found[0].name) == ([order.order], "ship part")
    assert found[0].paid == pytest.approx(last.cost)


def test_what_the_zones_cost_is_traced_to_orders() -> None:
    of = SPECIMENS["places to germinate"]
    solved = solve(of)
    made, parts = plan_of(solved), traced_parts(solved)
    cabinet = made.germination.loc[made.germination["zone"] == "Cabinet", "trays"].sum()
    borne = parts.loc[parts["cost_line"] == "zones chosen"]
    assert borne["amount"].sum() == pytest.approx(0.2 * cabinet)
    assert parts["amount"].sum() == pytest.approx(made.facts.objective)


def test_the_least_relief_counts_on_the_further_zone() -> None:
    """Room for 10 trays, and for 5 of scions in the cabinet: 100 plants take 27.1, so 12.1 lack room."""
    of = two_places()
    zones = tuple(replace(zone, slots=10.0) if zone.zone == "Warm room" else zone for zone in of.zones)
    made = plan(replace(of, zones=zones))
    (why,) = [words for words in made.orders["short_because"] if words]
    assert "13 more slots in Warm room" in why
    short = float(made.orders["short"].sum())
    alone = plan(replace(of, zones=zones, germination_zones=()))
    assert 0 < short < float(alone.orders["short"].sum())


def test_a_lot_is_kept_apart_where_its_trays_are() -> None:
    """All trays of Red A are in the cabinet for 3 days, not in the room, then on the bench for a day.

    Stout A is sown a day later. Where it may not share the bench either, it is too late for the order.
    """
    of = two_places(days=3)
    ages = {"scion_age_min": 4, "scion_age_max": 4, "rootstock_age_min": 3, "rootstock_age_max": 3}
    lots = replace(
        of,
        zones=tuple(replace(zone, slots=1000.0) for zone in of.zones),
        methods=(method("splice", MethodKind.ON_TRAY, holding_limit_days=0, **ages),),
        apart=(Apart(GroupBy.LOT, "Red A", GroupBy.LOT, "Stout A", Shared.ZONE, "Warm room"),),
    )
    made = plan(lots)
    assert [*rows_of(made.kept_apart, "zone", "group")] == [("Warm room", "Stout A")]
    assert all(check.passed for check in audit(lots, made))
    today = min(made.waves["sow_day"]) + timedelta(days=1)
    rule = replace(lots.apart[0], zone="Bench")
    told = replace(with_nursery(lots, today=today), progress=as_planned(made, today), apart=(rule,))
    late = plan(told)
    assert sum(late.orders["short"]) == 100
    assert all(check.passed for check in audit(told, late))


def sown_early(days: int) -> Scenario:
    """Red A was sown 5 days before its graft day and is fit for it from 3 days on, 2 days after that sowing.

    5 of its trays are in the cabinet, for so many days.
    """
    of = two_places(days=days)
    old = {"scion_age_min": 5, "scion_age_max": 5, "holding_limit_days": 0}
    made = plan(replace(of, methods=(method("splice", MethodKind.ON_TRAY, **old),)))
    today = max(made.waves["sow_day"]) + timedelta(days=1)
    young = method("splice", MethodKind.ON_TRAY, **(old | {"scion_age_min": 3}))
    return replace(with_nursery(of, today=today), methods=(young,), progress=as_planned(made, today))


@pytest.mark.parametrize(("days", "in_time"), [(1, True), (2, True), (3, False)])
def test_a_wave_is_counted_when_the_last_of_its_trays_come_to_the_bench(days: int, in_time: bool) -> None:
    """It can be sown again for 2 days; rehearsed seasons do so where it is counted by then."""
    told = sown_early(days)
    made = plan(told)
    (wave,) = [wave for wave, lot in rows_of(made.waves, "wave", "lot") if lot == "Red A"]
    assert list(made.germination["wave"]) == [wave]
    assert last_days_of(told, made).waves[wave].in_time == in_time
    lots = tuple(replace(lot, sowing_correlation=0.2) for lot in told.seed_lots if lot.lot == "Red A")
    lots += tuple(replace(lot, germination=1.0) for lot in told.seed_lots if lot.lot != "Red A")
    solved = solve(replace(told, seed_lots=lots))
    drawn = Seasons(20, 1)
    seasons = Rehearsal(solved.program, solved.compiled, solved.solution.columns, plan_of(solved), drawn)
    assert (seasons.seasons(range(20)).done["sown_again"].sum() > 1) == in_time
