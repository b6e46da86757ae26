"""Least batches in whole plans: what nobody needs, days before today, rehearsed seasons and hedges."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from model.hedging.hedged_plan import hedged
from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.program.build import build
from model.program.buying import most_joins
from model.program.needless import leave_out_plants
from model.proof.audit import audit
from model.rehearsal.rehearsed import Rehearsal
from model.risk.batches import Seasons
from model.scenario.entities import Scenario
from model.season.as_planned import as_planned
from model.season.replanning import replan
from model.solve import plan, plan_of, solve
from tests.known_answers.build import order
from tests.known_answers.test_least_batch import two_ways
from tests.specimens import SPECIMENS
from tests.strategies import with_nursery, with_rows

BATCH = SPECIMENS["least batch"]
"""Orders of 60 and 90 plants, due five days apart: 78.9 and 118.4 joins; a day is set up for 100."""


def with_least(least: int | None, scenario: Scenario = BATCH) -> Scenario:
    """The scenario with another least batch."""
    return with_rows(scenario, "methods", lambda row: replace(row, least_batch=least))


def joins(made: Plan) -> list[float]:
    """Joins by graft day."""
    by_day = made.flows.groupby("graft_day")["joins"].sum()
    return sorted(float(number) for number in by_day if number > 0)


def sound(scenario: Scenario, made: Plan) -> Plan:
    """The plan, which stands the audit."""
    assert [check for check in audit(scenario, made) if not check.passed] == []
    return made


@pytest.mark.parametrize(
    ("least", "expected"),
    [(None, [78.947, 118.421]), (79, [79.0, 118.421]), (100, [100.0, 118.421]), (119, [119.0, 119.0])],
)
def test_each_day_has_a_batch_and_no_more_than_it_needs(least: int | None, expected: list[float]) -> None:
    scenario = with_least(least)
    assert joins(sound(scenario, plan(scenario))) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(("least", "most"), [(100, {4 * 79, 4 * 119}), (2000, {2000})])
def test_a_day_holds_four_times_what_its_orders_ask_or_its_least(least: int, most: set[int]) -> None:
    """Each day serves one of the orders, of 78.9 and 118.4 joins: a hedge grows plants to spare."""
    program = build(expand(with_least(least)))
    assert {most_joins(program, on) for on in program.batch_days} == most


def test_the_continuous_plan_joins_parts_of_batches() -> None:
    made = sound(BATCH, plan(BATCH, whole=False))
    assert joins(made) == pytest.approx([78.947, 118.421], abs=1e-3)


def test_a_batch_that_serves_nobody_is_not_set_up_for() -> None:
    """All orders are short, and 100 joins for nobody are in the values: no day is left with any."""
    solved = solve(BATCH)
    program = solved.program
    values = {name: part.tolist() for name, part in solved.compiled.values(solved.solution.columns).items()}
    for f, flow in enumerate(program.network.flows):
        values["surplus"][f] = values["healed"][f] * flow.survival
    values["delivered"] = [0.0] * len(values["delivered"])
    leave_out_plants(program, values, all_jobs=True, whole=True)
    assert sum(values["batch_set_up"]) == 0
    assert sum(values["grafted"]) == pytest.approx(0, abs=1e-6)
    assert sum(values["sown"]) == 0


def test_a_batch_keeps_its_least_where_more_than_that_is_for_nobody() -> None:
    """A day that serves 60 plants and has 130 joins keeps 100 of them; the other day's are all needed."""
    solved = solve(BATCH)
    program = solved.program
    values = {name: part.tolist() for name, part in solved.compiled.values(solved.solution.columns).items()}
    (f,) = (f for f, made in enumerate(values["grafted"]) if made == pytest.approx(100))
    for j in program.network.flow_joins[f]:
        values["joins"][j] *= 1.3
    for name in ("grafted", "healed"):
        values[name][f] *= 1.3
    values["surplus"][f] = values["healed"][f] * program.network.flows[f].survival - 60
    leave_out_plants(program, values, all_jobs=True, whole=True)
    assert values["grafted"][f] == pytest.approx(100)
    assert values["surplus"][f] == pytest.approx(16)
    assert sum(values["batch_set_up"]) == 2


def test_products_of_a_batch_keep_its_least_together() -> None:
    """50 joins of each of two products serve 30 plants: of the 40 for nobody, 28 are beyond the least."""
    base = two_ways([30], {"splice": 72}, {"splice": 1.0})
    other = replace(base.products[0], product="other")
    more = order("other", 30, 0, product="other")
    solved = solve(replace(base, products=(*base.products, other), orders=(*base.orders, more)))
    program = solved.program
    values = {name: part.tolist() for name, part in solved.compiled.values(solved.solution.columns).items()}
    for f, own in enumerate(program.network.flow_joins):
        (j,) = own
        values["joins"][j] = values["grafted"][f] = values["healed"][f] = 50.0
        values["surplus"][f] = 20.0
    leave_out_plants(program, values, all_jobs=True, whole=True)
    assert sum(values["grafted"]) == pytest.approx(72)
    assert sum(values["surplus"]) == pytest.approx(12)


def test_a_day_set_up_for_in_part_is_set_up_for_less_with_fewer_joins() -> None:
    """102.6 joins and .9 of a batch of 100; the 78.9 that are needed are .789 of it."""
    solved = solve(BATCH, whole=False)
    program = solved.program
    values = {name: part.tolist() for name, part in solved.compiled.values(solved.solution.columns).items()}
    (f,) = (f for f, made in enumerate(values["grafted"]) if made == pytest.approx(60 / 0.76))
    (n,) = (n for n, on in enumerate(program.batch_days) if f in on.flows)
    for j in program.network.flow_joins[f]:
        values["joins"][j] *= 1.3
    for name in ("grafted", "healed"):
        values[name][f] *= 1.3
    values["surplus"][f] = values["healed"][f] * program.network.flows[f].survival - 60
    values["batch_set_up"][n] = 0.9
    leave_out_plants(program, values, all_jobs=True, whole=False)
    assert values["grafted"][f] == pytest.approx(60 / 0.76)
    assert values["batch_set_up"][n] == pytest.approx(0.6 / 0.76)


def test_what_was_joined_before_today_stands_however_few() -> None:
    """A least batch written after the first graft day holds for the days to come only."""
    before = plan(with_least(None))
    after, morning = with_least(125), min(before.flows["graft_day"]) + timedelta(days=1)
    past = as_planned(before, morning, since=after.nursery.first_day)
    today = with_nursery(replace(after, progress=past), today=morning)
    assert joins(sound(today, plan(today))) == pytest.approx([78.947, 125], abs=1e-3)


def thin(share: float) -> Scenario:
    """On the first graft day of the plan, so many of the seedlings have come up."""
    before = plan(BATCH)
    morning = min(before.flows["graft_day"])
    past = as_planned(before, morning, since=BATCH.nursery.first_day)
    fewer = with_rows(BATCH, "seed_lots", lambda row: replace(row, germination=row.germination * share))
    return with_nursery(replace(fewer, progress=past), today=morning)


def test_a_day_of_the_last_plan_is_set_up_for_already() -> None:
    """Seedlings for some 80 of its 100 joins serve the 60 plants that it was for: so few will do now."""
    made = sound(thin(0.8), plan_of(replan(thin(0.8), plan(BATCH).tables).solved))
    assert 78.9 < min(joins(made)) < 100
    assert made.short < 1


def test_without_a_last_plan_such_a_day_is_not_worth_it() -> None:
    """Too few seedlings for 100 joins: none are made, and the order is short."""
    made = sound(thin(0.8), plan(thin(0.8)))
    assert all(number >= 100 - 1e-6 for number in joins(made))
    assert made.short == 60


@pytest.mark.deep
def test_seasons_are_rehearsed_and_hedged_with_least_batches() -> None:
    """Rehearsed days may be smaller: a crew joins what has come up. A hedge's own plan keeps to the least."""
    varied = with_rows(BATCH, "methods", lambda row: replace(row, take_correlation=0.05))
    varied = with_rows(varied, "seed_lots", lambda row: replace(row, sowing_correlation=0.05))
    solved = solve(varied)
    lived = Rehearsal(
        solved.program, solved.compiled, solved.solution.columns, plan_of(solved), Seasons(20, 1)
    )
    assert (lived.seasons(range(20)).done["replans"] > 0).any()
    made = hedged(varied, seasons=12, seed=1)
    assert all(number >= 100 - 1e-6 for number in joins(sound(made.scenario, plan_of(made.solved))))
    assert np.isfinite(made.inside).all()
