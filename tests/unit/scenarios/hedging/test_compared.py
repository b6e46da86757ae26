"""The comparison of a hedged plan: means with their errors, the cells it changes, the study's words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from model.hedging.hedged_plan import hedged, without_margins
from model.scenario.batches import Mishap
from model.scenario.choices import MarginPolicy, SowingPolicy, Strikes
from model.solve import plan_of
from reports.book.parts import value_of
from scenarios.hedging.compared import changes_of, hedge_study, mean_of
from tests.specimens import SPECIMENS
from tests.strategies import with_nursery
from tests.unit.model.hedging.test_hedged_plan import thin_sowings


def test_the_error_of_a_mean_is_that_of_the_normal_distribution() -> None:
    """1 and 3: standard deviation √2, of the mean 1; 1.96 times that either way."""
    found = mean_of(np.array([1.0, 3.0]))
    assert found.mean == 2
    assert found.half == pytest.approx(1.959964, abs=1e-6)
    assert mean_of(np.array([5.0])).half == 0


def test_margins_left_out_are_told_as_changes() -> None:
    scenario = with_nursery(
        SPECIMENS["own margins"],
        margin_policy=MarginPolicy.LEVEL,
        sowing_policy=SowingPolicy.FIXED,
        sowing_margin=0.05,
    )
    changes = changes_of(scenario, without_margins(scenario))
    told = {(change.table, change.row, change.column): (change.before, change.after) for change in changes}
    name = scenario.nursery.name
    assert told == {
        ("nursery", name, "margin_policy"): (MarginPolicy.LEVEL, MarginPolicy.FIXED),
        ("nursery", name, "sowing_margin"): (0.05, 0.0),
        ("orders", "O-1", "graft_margin"): (0.3, None),
        ("seed_lots", "Red A", "sowing_margin"): (0.25, None),
    } | (
        {("nursery", name, "graft_margin"): (scenario.nursery.graft_margin, 0.0)}
        if scenario.nursery.graft_margin
        else {}
    )


def test_the_study_has_all_plans_in_the_same_seasons() -> None:
    scenario = SPECIMENS["buy-in"]
    methods = tuple(replace(row, take_correlation=0.03) for row in scenario.methods)
    priced = tuple(replace(order, price=9.0) for order in scenario.orders)
    risky = replace(
        scenario, orders=priced, methods=methods, mishaps=(Mishap("day", Strikes.GRAFT_DAY, 0.05, 0.8),)
    )
    found = hedged(risky, seasons=20, seed=3)
    study = hedge_study(risky, found, plan_of(found.solved), seasons=20, seed=3)
    assert [section.name for section in study.sections][:3] == ["Cost", "Graft days", "Orders"]
    cost = study.sections[0]
    at = {column.key: n for n, column in enumerate(cost.columns)}
    names, outside, low, high, inside = (
        [value_of(row[at[key]]) for row in cost.rows] for key in ("plan", "outside", "low", "high", "inside")
    )
    assert names[:2] == ["hedged", "least cost"]
    assert str(names[2]).startswith("plain margin of ")
    assert all(a < b < c for a, b, c in zip(low, outside, high, strict=True))
    assert inside == [pytest.approx(found.inside.mean()), None, None]
    figures = {figure.label: figure.value for figure in study.figures}
    saved = figures["Saved a season against least cost, with penalties (USD)"]
    assert saved == pytest.approx(outside[1] - outside[0])
    results = [value_of(row[at["result"]]) for row in cost.rows]
    assert [figure.value for figure in study.figures[:3]] == results
    assert f"a season leaves a result of {results[0]:,.2f} USD on average" in " ".join(study.answer)
    (first, *_) = [text for text in study.answer if "best on average" in text]
    assert "20 sampled seasons (seed 3)" in first
    assert not any("Rarer than" in text for text in study.answer)
    rarer = replace(risky, mishaps=(Mishap("day", Strikes.GRAFT_DAY, 0.04, 0.8),))
    told = hedge_study(rarer, found, plan_of(found.solved), seasons=20, seed=3).answer
    assert any(text.startswith("Rarer than 1 in 20: 'day' (1 in 25).") for text in told)


@pytest.mark.parametrize(
    ("policy", "said"),
    [
        (MarginPolicy.LEVEL, "counts on a grower who plans again after each count"),
        (MarginPolicy.PRICED, "keeps no level (margin_policy = level does)"),
    ],
)
def test_orders_below_their_level_are_told_with_what_to_do(policy: MarginPolicy, said: str) -> None:
    """Half of a graft day is lost one time in four, which no plan keeps a level of 95 % against."""
    scenario = with_nursery(SPECIMENS["on-tray"], margin_policy=policy, plant_cost=1.0)
    mishaps = (Mishap("day", Strikes.GRAFT_DAY, 0.25, 0.5),)
    scenario = replace(scenario, mishaps=mishaps)
    found = hedged(scenario, seasons=8, seed=1)
    made = plan_of(found.solved)
    study = hedge_study(scenario, found, made, seasons=8, seed=1)
    (told,) = [text for text in study.answer if text.startswith("Nobody plans again in these seasons: ")]
    assert said in told
    other = "counts on" if policy is MarginPolicy.PRICED else "keeps no level"
    assert other not in told
    assert made.facts.seasons == 8


def test_the_study_says_what_to_sow_again() -> None:
    """A rule's trays stand for each tenth that lacks; without rules there is no such sheet."""
    scenario = thin_sowings()
    found = hedged(scenario, seasons=20, seed=3)
    made = plan_of(found.solved)
    study = hedge_study(scenario, found, made, seasons=20, seed=3)
    (again,) = (section for section in study.sections if section.name == "Sown again")
    (row,) = again.rows
    at = {column.key: n for n, column in enumerate(again.columns)}
    (rule,) = found.rules
    assert value_of(row[at["trays"]]) == pytest.approx(rule.trays / 10)
    assert value_of(row[at["sow_day"]]) == date(2027, 3, 2)
    assert any("others can be sown again" in line for line in study.answer)
    without = hedge_study(scenario, replace(found, rules=()), made, seasons=20, seed=3)
    assert "Sown again" not in {section.name for section in without.sections}
