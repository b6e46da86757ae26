"""After tuning, the orders of the demo and of ten generated books reach their levels in other seasons."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from model.risk.simulation import simulate
from model.risk.tuning import Margins, Round, Tuned, tune, with_margins
from model.scenario.entities import Scenario
from model.solve import plan
from model.solver import whole
from tests.benchmarks.books import book
from tests.demo import demo
from tests.depth import deep, some
from tests.strategies import with_nursery

SEASONS = 2000
OTHER_SEED = 77


def varying(scenario: Scenario, correlation: float) -> Scenario:
    """The scenario with lots and graft days that vary."""
    return replace(
        scenario,
        methods=tuple(replace(m, take_correlation=correlation if m.take else 0.0) for m in scenario.methods),
        seed_lots=tuple(
            replace(lot, germination_correlation=correlation, sowing_correlation=correlation / 2)
            for lot in scenario.seed_lots
        ),
    )


def missed_anew(tuned: Tuned, seasons: int) -> list[str]:
    """Orders whose level lies above the whole interval of their chance in fresh seasons."""
    made = tuned.chosen
    fresh = simulate(made.scenario, made.plan, seasons=seasons, seed=OTHER_SEED).orders
    return [
        order
        for order, high, level in zip(fresh["order"], fresh["high"], tuned.levels, strict=True)
        if high < level
    ]


@pytest.mark.parametrize("number", some(range(10)))
def test_every_order_of_a_generated_book_reaches_its_level_anew(
    monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """Every second book has lots and graft days that vary.

    No cheaper plan is searched for in any round: how near a plan is to its bound is no matter here.
    """
    monkeypatch.setattr(whole, "SEARCHED", 0)
    scenario = book(20, 8, 110, number)
    scenario = varying(scenario, 0.002 if number % 2 else 0.0)
    tuned = tune(scenario, seasons=SEASONS, seed=1)
    assert tuned.chosen.plan.short == pytest.approx(0, abs=1e-6)
    assert missed_anew(tuned, SEASONS) == []
    assert tuned.chosen.below <= 1
    assert tuned.before.below > tuned.chosen.below
    # Above its level only by what sampling, whole trays and other orders' plants make of it.
    assert sum(bool(remark) for remark in tuned.remarks()) < len(scenario.orders)


@pytest.mark.deep
def test_every_order_of_the_demo_reaches_its_level_anew_and_no_plain_margin_does_for_less() -> None:
    """A plain margin of 3 % costs less, one of 5 % more; both leave orders below their levels."""
    seasons = deep(10_000)
    tuned = tune(demo(), seasons=seasons, seed=1)
    assert tuned.chosen.below <= 1
    assert missed_anew(tuned, seasons) == []
    assert missed_anew(replace(tuned, chosen=tuned.before), seasons) != []
    costs = [season_costs(tuned.chosen, seasons)]
    for share in (0.03, 0.05):
        margins = Margins(np.full(len(demo().orders), share), np.full(len(demo().seed_lots), share))
        plain = with_margins(demo(), margins)
        made = replace(tuned.chosen, margins=margins, scenario=plain, plan=plan(plain))
        assert len(missed_anew(replace(tuned, chosen=made), seasons)) > 1
        costs.append(season_costs(made, seasons))
    more = costs[2] - costs[0]
    assert more.mean() > 2 * more.std() / seasons**0.5
    assert costs[1].mean() < costs[0].mean()


def season_costs(made: Round, seasons: int) -> pd.Series[float]:
    """Cost of each of so many fresh seasons, in currency."""
    return simulate(made.scenario, made.plan, seasons=seasons, seed=OTHER_SEED).totals["cost"]


def test_where_room_or_hands_bind_the_order_short_in_the_plan_is_named() -> None:
    """Without temporary hands and late deliveries, margins for graft days that vary leave one order short."""
    crews = tuple(replace(crew, temp_heads_most=0) for crew in demo().crews)
    tight = with_nursery(replace(demo(), crews=crews, mishaps=()), late_days_most=0)
    tuned = tune(tight, seasons=2000, seed=1)
    assert tuned.before.plan.short > tuned.chosen.plan.short > 0
    assert tuned.before.below > tuned.chosen.below
    short = tuned.chosen.plan.orders.set_index("order")["short"]
    assert all(short[order] > 0 for order in missed_anew(tuned, 2000))
    said = dict(zip(short.index, tuned.remarks(), strict=True))
    assert all(
        said[order] == "short in the plan, which no margin can change" for order in short[short > 0.5].index
    )
