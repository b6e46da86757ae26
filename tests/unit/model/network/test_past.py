"""The past of a plan: fixed as it was told, used as it was counted."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from itertools import product

import pytest

from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.program.build import build
from model.proof.audit import audit
from model.questions.near_best import Quantity, near_best
from model.questions.traced_costs import traced_costs
from model.scenario.choices import Happened
from model.scenario.entities import DayOff, Scenario
from model.scenario.records.past import Progress
from model.season.as_planned import as_planned
from model.shortage.relief import Granted, least_relief
from model.solve import plan, solve
from model.solver.compiled import SolveError
from scenarios.files.read_scenario import read_scenario
from tests.depth import some
from tests.mutations import first
from tests.places import DEMO
from tests.scenario_parts import day
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery

FIVE_DAYS = tuple(
    map(date.fromisoformat, ("2027-01-25", "2027-02-15", "2027-03-08", "2027-04-05", "2027-05-10"))
)


@cache
def planned(name: str, whole: bool = False) -> tuple[Scenario, Plan]:
    scenario = SPECIMENS[name]
    return scenario, plan(scenario, whole=whole)


@cache
def demo() -> tuple[Scenario, Plan]:
    scenario = read_scenario(DEMO)
    return scenario, plan(scenario, whole=False)


def from_day(scenario: Scenario, today: date, told: tuple[Progress, ...]) -> Scenario:
    """The scenario on a day, with what was told of the days before."""
    return with_nursery(replace(scenario, progress=told), today=today)


def faults(scenario: Scenario, made: Plan) -> list[str]:
    return [f"{check.name}: {check.detail}" for check in audit(scenario, made) if not check.passed]


@pytest.mark.parametrize("name, days", some(product(SPECIMENS, [1, 4, 8, 12])))
def test_without_surprises_the_cost_is_unchanged(name: str, days: int) -> None:
    """Where a delivery, a wave or a change-over costs as a whole, whole plans are compared: no part has been.

    Limits of skills hold from today on: where the plan met one, hours of the past may be dealt out for less.
    """
    whole = name in ("buy-in", "wave cost") or SPECIMENS[name].nursery.change_over_seconds > 0
    scenario, before = planned(name, whole)
    today = scenario.nursery.first_day + timedelta(days=days)
    later = from_day(scenario, today, as_planned(before, today, since=scenario.nursery.first_day))
    after = plan(later, whole=whole)
    if name == "piece rates":
        assert after.cost <= before.cost + 0.005
    else:
        assert after.cost == pytest.approx(before.cost, abs=0.005)
    assert faults(later, after) == []


@pytest.mark.parametrize("today", FIVE_DAYS, ids=str)
def test_without_surprises_the_demo_costs_the_same_on_any_day(today: date) -> None:
    scenario, before = demo()
    later = from_day(scenario, today, as_planned(before, today))
    after = plan(later, whole=False)
    assert after.cost == pytest.approx(before.cost, abs=0.005)
    assert faults(later, after) == []


def told_of(what: Happened, scenario: Scenario, before: Plan, today: date) -> list[Progress]:
    return [row for row in as_planned(before, today) if row.what is what]


def sown_and_grafted() -> tuple[Scenario, Plan, date, tuple[Progress, ...]]:
    """100 plants of 100 joins (take .8, margin 0): the day after the graft day, and what was told."""
    scenario = base_scenario()
    before = plan(scenario, whole=False)
    today = before.flows["graft_day"].max() + timedelta(days=1)
    return scenario, before, today, as_planned(before, today)


def test_past_decisions_are_fixed_and_later_ones_free() -> None:
    scenario, _, today, told = sown_and_grafted()
    program = build(expand(from_day(scenario, today, told)))
    lower, upper = program.bounds("sown")
    for w, wave in enumerate(program.network.waves):
        gone = wave.sow < program.network.past.today
        assert (upper[w] == lower[w]) == gone
    assert sum(lower) == pytest.approx(sum(row.number for row in told if row.what is Happened.SOWN))


def test_healed_plants_count_as_counted() -> None:
    scenario, before, today, told = sown_and_grafted()
    few = tuple(
        replace(row, counted=row.number * 0.5) if row.what is Happened.GRAFTED else row for row in told
    )
    after = plan(from_day(scenario, today, few), whole=False)
    joins = sum(row.number for row in told if row.what is Happened.GRAFTED)
    assert after.flows["healed"].sum() == pytest.approx(joins * 0.5)
    assert after.short == pytest.approx(100 - joins * 0.5 * scenario.methods[0].finish_survival)
    assert faults(from_day(scenario, today, few), after) == []
    assert after.cost > before.cost


def test_counted_seedlings_stand_for_expected_ones() -> None:
    scenario = base_scenario()
    before = plan(scenario, whole=False)
    today = before.flows["graft_day"].min()
    told = tuple(
        replace(row, counted=row.number * 7) if row.what is Happened.SOWN else row
        for row in as_planned(before, today)
    )
    later = from_day(scenario, today, told)
    after = plan(later, whole=False)
    assert set(after.waves.loc[after.waves["sow_day"] < today, "usable_per_tray"]) == {7.0}
    assert faults(later, after) == []


def test_ready_plants_counted_need_no_margin() -> None:
    scenario = with_nursery(base_scenario(), graft_margin=0.2)
    before = plan(scenario, whole=False)
    (ready,) = set(before.flows["ready_day"])
    (graft,) = set(before.flows["graft_day"])
    today = ready + timedelta(days=1)
    product = scenario.products[0].product
    counted = Progress(ready, Happened.FINISHED, 100.0, product=product, graft_day=graft)
    later = from_day(scenario, today, (*as_planned(before, today), counted))
    after = plan(later, whole=False)
    assert after.short == 0
    assert after.deliveries["margin_plants"].sum() == 0
    assert faults(later, after) == []
    uncounted = from_day(scenario, today, as_planned(before, today))
    assert plan(uncounted, whole=False).deliveries["margin_plants"].sum() == pytest.approx(20)


def test_better_than_expected_is_believed() -> None:
    """More joins than the seedlings expected could give: more came up, or more matched."""
    scenario, _, today, told = sown_and_grafted()
    more = tuple(
        replace(row, number=row.number * 1.08) if row.what is Happened.GRAFTED else row for row in told
    )
    later = from_day(scenario, today, more)
    after = plan(later, whole=False)
    joins = sum(row.number for row in more if row.what is Happened.GRAFTED)
    assert after.joins["joins"].sum() == pytest.approx(joins)
    assert faults(later, after) == []


def test_hours_told_are_paid_as_told() -> None:
    scenario, before = planned("labour") if "labour" in SPECIMENS else planned("committed")
    worked = before.crew_days[before.crew_days["regular"] > 0]
    crew, on = worked.iloc[0][["crew", "day"]]
    today = on + timedelta(days=1)
    told = (*as_planned(before, today), Progress(on, Happened.WORKED, 30.0, crew=crew))
    later = from_day(scenario, today, told)
    after = plan(later, whole=False)
    row = after.crew_days[(after.crew_days["crew"] == crew) & (after.crew_days["day"] == on)].iloc[0]
    assert row["regular"] + row["overtime"] == pytest.approx(30.0)
    assert faults(later, after) == []


def test_a_wave_that_no_join_can_use_is_still_paid_for() -> None:
    scenario = base_scenario()
    before = plan(scenario, whole=False)
    lot, tray = scenario.seed_lots[0].lot, scenario.tray_formats[0].format
    today = day(2)
    lost = Progress(day(0), Happened.SOWN, 3.0, lot=lot, format=tray)
    twice = [row for row in as_planned(before, today) if (row.lot, row.day) != (lot, day(0))]
    later = from_day(scenario, today, (*twice, lost))
    after = plan(later, whole=False)
    assert after.waves["trays"].sum() >= 3.0
    assert after.cost > before.cost
    assert faults(later, after) == []


@pytest.mark.parametrize(
    "change",
    [
        first("waves", lambda r: {"trays": r["trays"] + 1}),
        first("joins", lambda r: {"joins": r["joins"] + 1}),
        first("waves", lambda r: {"sow_day": r["sow_day"] + timedelta(days=1)}),
    ],
)
def test_the_audit_refuses_another_past(change: object) -> None:
    scenario, _, today, told = sown_and_grafted()
    later = from_day(scenario, today, told)
    broken = change(plan(later, whole=False))  # type: ignore[operator]
    assert "the past is kept" in {check.name for check in audit(later, broken) if not check.passed}


def test_what_cannot_have_been_has_no_plan() -> None:
    """Joins of a wave that was never sown: the tables' rules refuse them before; here the program does."""
    scenario, _, today, told = sown_and_grafted()
    grafted = tuple(row for row in told if row.what is Happened.GRAFTED)
    with pytest.raises((SolveError, KeyError, ZeroDivisionError)):
        plan(from_day(scenario, today, grafted), whole=False)


def test_hours_told_on_a_day_without_planned_work_are_paid() -> None:
    scenario, before = planned("committed")
    crew = scenario.crews[1].crew
    idle = scenario.nursery.first_day
    today = idle + timedelta(days=3)
    told = (*as_planned(before, today), Progress(idle, Happened.WORKED, 5.0, crew=crew))
    later = from_day(scenario, today, told)
    after = plan(later, whole=False)
    row = after.crew_days[(after.crew_days["crew"] == crew) & (after.crew_days["day"] == idle)].iloc[0]
    assert row["regular"] + row["overtime"] == pytest.approx(5.0)
    assert faults(later, after) == []
    solved = solve(later, whole=False)
    assert traced_costs(solved)["amount"].sum() == pytest.approx(after.cost, abs=0.005)


def test_grafting_on_a_day_off_opens_units_all_the_same() -> None:
    scenario = SPECIMENS["units"]
    before = plan(scenario, whole=False)
    graft = before.flows["graft_day"].max()
    closed = replace(scenario, days_off=(*scenario.days_off, DayOff(graft)))
    today = graft + timedelta(days=1)
    later = from_day(closed, today, as_planned(before, today))
    after = plan(later, whole=False)
    assert graft in set(after.flows["graft_day"])
    assert faults(later, after) == []


def test_plants_ordered_earlier_than_need_be_come_as_ordered() -> None:
    scenario, before = planned("buy-in", whole=True)
    (offer,) = scenario.buy_in_offers
    row = before.buy_in.iloc[0]
    today = row["order_by"] - timedelta(days=1)
    early = Progress(
        today - timedelta(days=1),
        Happened.BOUGHT_IN,
        float(row["plants"]),
        order=row["order"],
        offer=offer.offer,
        arrival_day=row["arrival_day"],
    )
    later = from_day(scenario, today, (*as_planned(before, today), early))
    after = plan(later)
    bought = after.buy_in[(after.buy_in["arrival_day"] == row["arrival_day"])]
    assert bought["plants"].sum() == pytest.approx(row["plants"])
    assert faults(later, after) == []


def test_limits_and_freedom_from_today() -> None:
    scenario, before = demo()
    today = date(2027, 3, 18)

    def came(row: Progress) -> Progress:
        return replace(row, counted=row.number * 0.6) if row.what is Happened.GRAFTED else row

    later = from_day(scenario, today, tuple(came(row) for row in as_planned(before, today)))
    relief = least_relief(later)
    assert set(relief.beyond) <= set(relief.short)
    assert not set(Granted(later).short(relief.items)) - set(relief.beyond)
    solved = solve(later, whole=False)
    for quantity in (Quantity.OVERTIME, Quantity.BOUGHT, Quantity.PEAK_SLOTS):
        found = near_best(solved, quantity, 0.01)
        assert found.least <= found.at_best + 1e-6
