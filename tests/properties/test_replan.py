"""Any season may go otherwise than planned: there is a plan from any day, and the audit passes it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.season.as_planned import as_planned
from model.season.differences import differences
from model.season.replanning import replan
from model.solve import plan, plan_of, solve
from scenarios.cells.draft import draft_of
from scenarios.rules.all_rules import check
from tests.benchmarks.books import book
from tests.depth import deep, some
from tests.least import least
from tests.strategies import small_scenarios, with_nursery

SHARES = st.one_of(st.none(), st.floats(0.4, 1.0))


@given(small_scenarios(), st.integers(1, 20), st.data())
@settings(max_examples=deep(20))
def test_any_season_has_a_plan_from_any_day(scenario: Scenario, days: int, data: st.DataObject) -> None:
    before = plan_of(solve(scenario))
    nursery = scenario.nursery
    today = min(nursery.first_day + timedelta(days=days), nursery.last_day)
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}

    def came(row: Progress) -> Progress:
        """The row in whole numbers, and counted where a share is drawn."""
        row = replace(row, number=float(round(row.number)))
        most = {Happened.SOWN: cells.get(row.format or "", 0) * row.number, Happened.GRAFTED: row.number}
        share = data.draw(SHARES) if row.what in most else None
        return row if share is None else replace(row, counted=float(round(most[row.what] * share)))

    foreseen = as_planned(before, today, since=nursery.first_day)
    told = tuple(row for row in map(came, foreseen) if row.number > 0)
    later = with_nursery(replace(scenario, progress=told), today=today)
    assume(not check(draft_of(later)))
    upset = data.draw(st.sampled_from([0.0, 3.0]))
    after = plan_of(replan(later, before.tables, upset=upset).solved)
    assert [c.detail for c in audit(later, after) if not c.passed] == []
    assert least(later) <= after.cost + 0.005


@pytest.mark.parametrize("seed, share", some(zip(range(10), 4 * (0.2, 0.5, 0.8), strict=False)))
def test_what_went_to_plan_changes_nothing(seed: int, share: float) -> None:
    """A book of 20 orders, told as planned up to a day of its season.

    Counted as expected, but in whole plants, the last plan is kept too; some numbers follow the counts.
    """
    scenario = book(20, 5, 90, seed)
    before, nursery = plan(scenario), scenario.nursery
    today = nursery.first_day + (nursery.last_day - nursery.first_day) * share
    told = as_planned(before, today)
    gap = before.facts.objective - before.facts.bound
    later = with_nursery(replace(scenario, progress=told), today=today)
    again = replan(later, before.tables, left_open=gap)
    assert again.kept
    assert differences(before.tables, plan_of(again.solved).tables, today).empty
    counted = replace(later, progress=_counted(scenario, before, told))
    assert replan(counted, before.tables, left_open=gap).kept


def _counted(scenario: Scenario, before: Plan, told: tuple[Progress, ...]) -> tuple[Progress, ...]:
    """The rows in whole numbers, with seedlings and healed joins counted as expected."""
    methods = {method.method: method.take or 1.0 for method in scenario.methods}
    take = {product.product: methods[product.method] for product in scenario.products}
    columns = ("lot", "format", "sow_day", "usable_per_tray")
    usable = {tuple(wave): each for *wave, each in rows_of(before.waves, *columns)}

    def counted(row: Progress) -> Progress:
        row = replace(row, number=float(round(row.number)))
        share = {
            Happened.SOWN: usable.get((row.lot, row.format, row.day)),
            Happened.GRAFTED: take.get(row.product or ""),
        }.get(row.what)
        return row if share is None else replace(row, counted=float(round(row.number * share)))

    return tuple(row for row in map(counted, told) if row.number > 0)
