"""Trays on hand on the first day: seedlings without a past, kept where somebody needs them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import pytest

from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.proof.audit import audit
from model.risk.batches import Seasons
from model.risk.simulation import live
from model.scenario.calendar import Calendar
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress, TraysOnHand
from model.season.as_planned import as_planned
from model.shortage.relief import least_relief
from model.shortage.why_short import TOO_FEW
from model.solve import plan
from scenarios.cells.draft import draft_of
from scenarios.rules.all_rules import check
from tests.independent import least_cost
from tests.mutations import rows_of, with_table
from tests.scenario_parts import WEEK, WORK, day, order
from tests.specimens import HANDS
from tests.strategies import base_scenario, with_nursery

STOOD = (
    TraysOnHand("Red A", "twenty", day(-2), 2, 36),
    TraysOnHand("Stout A", "ten", day(-3), 7),
)
"""Scions counted, 18 a tray; rootstocks not counted, 10 · .9 · .9 = 8.1 a tray."""


def stood(*rows: TraysOnHand, **changes: Any) -> Scenario:
    """Thirty plants due on day 8, which only seedlings on hand can reach: grafted by day 3, aged 3 and 4."""
    return base_scenario(
        orders=(order("O-1", "Red on Stout", 30, 8),), trays_on_hand=rows or STOOD, **changes
    )


@cache
def made() -> Plan:
    """The plan in whole trays."""
    return plan(stood())


def failing(scenario: Scenario, planned: Plan) -> dict[str, str]:
    """Checks that fail, with what they say."""
    return {check.name: check.detail for check in audit(scenario, planned) if not check.passed}


def test_the_order_gets_what_the_seedlings_on_hand_become() -> None:
    """36 scions · match .9 · take .8 · survival .95 = 24.624 plants; 5.376 are short at 50."""
    scenario = stood()
    cost = (30 - 36 * 0.9 * 0.8 * 0.95) * 50
    assert plan(scenario, whole=False).facts.objective == pytest.approx(cost)
    assert least_cost(scenario, whole=False) == pytest.approx(cost)
    assert plan(replace(scenario, trays_on_hand=())).facts.objective == pytest.approx(30 * 50)


def test_trays_that_nobody_needs_are_not_kept() -> None:
    """36 seedlings of each: two trays of scions at 18, five of the seven of rootstocks at 8.1."""
    assert dict(zip(made().waves["lot"], made().waves["trays"], strict=True)) == {"Red A": 2, "Stout A": 5}
    assert failing(stood(), made()) == {}


def test_they_were_sown_before_the_first_day_with_seed_that_is_gone() -> None:
    assert made().waves["sow_day"].tolist() == [day(-3), day(-2)]
    assert made().waves["seeds"].tolist() == [0, 0]
    assert made().purchases.empty
    assert made().items["used"].tolist() == [0, 0]
    assert set(made().joins["rootstock_age"]) | set(made().joins["scion_age"]) <= {3, 4, 5}


def test_the_trace_names_their_lots() -> None:
    waves = dict(zip(made().waves["wave"], made().waves["lot"], strict=True))
    traced = [
        (waves[root], waves[top]) for root, top in made().trace[["rootstock_wave", "scion_wave"]].values
    ]
    assert traced
    assert set(traced) == {("Stout A", "Red A")}


def test_work_on_them_begins_with_the_first_day() -> None:
    """Sown on day -1, two days in germination: moved on day 1. Those sown earlier are on the bench."""
    rows = STOOD[0], replace(STOOD[1], sow_day=day(-2)), replace(STOOD[1], sow_day=day(-1), trays=3)
    later = order("O-1", "Red on Stout", 30, 9)
    scenario = replace(stood(*rows, labour_standards=WORK, crews=HANDS), orders=(later,))
    planned = plan(scenario)
    jobs = planned.jobs[planned.jobs["name"].isin(["Red A", "Stout A"])]
    steps = set(zip(jobs["step"], jobs["name"], jobs["day"], strict=True))
    assert failing(scenario, planned) == {}
    assert min(planned.jobs["day"]) >= day(0)
    assert {step for step in steps if step[2] < day(1) and step[0] == "sow"} <= {
        ("sow", lot, day(0)) for lot in ("Red A", "Stout A")
    }
    sown = set(planned.waves["sow_day"])
    moved = {(name, when) for step, name, when in steps if step == "move to bench"}
    benched = set(zip(planned.waves["lot"], planned.waves["bench_day"], strict=True))
    assert moved == {(name, when) for name, when in benched if when >= day(0)}
    assert min(sown) < day(0)


@pytest.mark.parametrize("more", [1, 3])
def test_the_audit_knows_how_many_there_were(more: int) -> None:
    rows = rows_of(made(), "waves")
    rows[0]["trays"] = 7 + more
    told = failing(stood(), with_table(made(), "waves", rows))
    assert f"{7 + more}.0000 is more than 7.0000" in told["the past is kept"]


def test_the_audit_knows_when_they_were_sown() -> None:
    rows = rows_of(made(), "waves")
    rows[0]["sow_day"] = day(-4)
    assert "days lie in the plan" in failing(stood(), with_table(made(), "waves", rows))
    rows[0]["sow_day"] = day(-2)
    assert "the past is kept" in failing(stood(), with_table(made(), "waves", rows))


def test_the_audit_wants_no_seed_for_them() -> None:
    rows = rows_of(made(), "waves")
    rows[0]["seeds"] = 50.0
    assert "waves are sown right" in failing(stood(), with_table(made(), "waves", rows))


def test_a_wave_on_hand_has_no_fixed_cost() -> None:
    """Sowing the two waves of the later order costs 12 each; those on hand cost nothing."""
    scenario = with_nursery(
        replace(stood(), orders=(*stood().orders, order("O-2", "Red on Stout", 9, 17))), wave_cost=12.0
    )
    planned = plan(scenario)
    costs = dict(zip(planned.costs["line"], planned.costs["amount"], strict=True))
    assert costs["waves"] == 24.0
    assert failing(scenario, planned) == {}


def test_counted_seedlings_do_not_vary() -> None:
    """The wave of rootstocks, not counted, is drawn."""
    lived = live(Seasons(40, 7), stood(), made())
    names = dict(zip(made().waves["lot"], made().waves["wave"], strict=True))
    assert set(lived.seedlings[names["Red A"]].tolist()) == {36}
    assert len(set(lived.seedlings[names["Stout A"]].tolist())) > 1


def test_a_day_before_the_first_stands_for_itself() -> None:
    """Nobody says which days were worked then: no tray waits for one."""
    calendar = Calendar(with_nursery(stood(), working_weekdays=WEEK[:5]).nursery)
    assert [calendar.next_working(t) for t in (-2, -1, 0, 5)] == [-2, -1, 0, 7]


def test_joins_recorded_of_them_are_kept() -> None:
    """Planned on day 0, grafted on day 1, planned again on day 2."""
    scenario = stood()
    told = as_planned(made(), day(3))
    assert [row.what for row in told] == [Happened.GRAFTED] * len(told) != []
    later = replace(with_nursery(scenario, today=day(3)), progress=told)
    assert check(draft_of(later)) == []
    planned = plan(later)
    assert failing(later, planned) == {}
    assert planned.facts.objective == pytest.approx(made().facts.objective)


@pytest.mark.parametrize(
    ("sown", "joins", "wrong"),
    [(day(-5), 20.0, "is no day on which lot 'Stout A' was sown"), (day(-3), 40.0, "more than the 36")],
)
def test_joins_need_seedlings_that_stood_there(sown: date, joins: float, wrong: str) -> None:
    row = Progress(day(1), Happened.GRAFTED, joins, None, "Red A", "twenty", day(-2), "Stout A", "ten", sown)
    later = replace(with_nursery(stood(), today=day(3)), progress=(replace(row, product="Red on Stout"),))
    assert [wrong in fault.wrong for fault in check(draft_of(later))] == [True]


def test_an_order_that_only_they_can_reach_is_no_fault() -> None:
    assert check(draft_of(stood())) == []
    (fault,) = check(draft_of(replace(stood(), trays_on_hand=())))
    assert "comes before any" in fault.wrong


def test_waves_that_no_join_can_use_are_left_out() -> None:
    old = TraysOnHand("Red A", "twenty", day(-30), 9)
    assert all(wave.sow >= -3 for wave in expand(stood(*STOOD, old)).waves)


def test_an_order_that_only_too_few_seedlings_on_hand_can_reach_is_beyond_relief() -> None:
    relief = least_relief(stood())
    assert (relief.items, relief.beyond) == ((), ("O-1",))
    ((why,),) = rows(made(), "short_because")
    assert why == f"no relief can fill it: {TOO_FEW}"


def rows(planned: Plan, *columns: str) -> list[tuple[Any, ...]]:
    """Cells of the orders' rows."""
    return [tuple(row[name] for name in columns) for row in rows_of(planned, "orders")]
