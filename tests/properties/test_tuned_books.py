"""After tuning, the orders of the demo and of ten generated books reach their levels in other seasons."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.risk.simulation import simulate
from model.risk.tuning import Margins, Tuned, tune, with_margins
from model.scenario.entities import Scenario
from model.solve import plan
from model.solver import whole
from tests.benchmarks.books import book
from tests.demo import demo
from tests.depth import deep, some

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
def test_every_order_of_the_demo_reaches_its_level_anew_and_costs_less_than_a_plain_margin() -> None:
    seasons = deep(10_000)
    tuned = tune(demo(), seasons=seasons, seed=1)
    assert tuned.chosen.below <= 1
    assert missed_anew(tuned, seasons) == []
    assert missed_anew(replace(tuned, chosen=tuned.before), seasons) != []
    graft, sowing = np.full(len(demo().orders), 0.03), np.full(len(demo().seed_lots), 0.03)
    plain = with_margins(demo(), Margins(graft, sowing))
    costs = [
        simulate(of, made, seasons=seasons, seed=OTHER_SEED).totals["cost"]
        for of, made in ((tuned.chosen.scenario, tuned.chosen.plan), (plain, plan(plain)))
    ]
    more = costs[1] - costs[0]
    assert more.mean() > 2 * more.std() / seasons**0.5


def test_where_room_or_hands_bind_the_order_short_in_the_plan_is_named() -> None:
    """With a temporary hand fewer, margins for graft days that vary leave one order of the demo short."""
    crews = tuple(replace(crew, temp_heads_most=min(crew.temp_heads_most, 4)) for crew in demo().crews)
    tuned = tune(replace(demo(), crews=crews, mishaps=()), seasons=2000, seed=1)
    assert tuned.before.plan.short > tuned.chosen.plan.short > 0
    assert tuned.before.below > tuned.chosen.below
    short = tuned.chosen.plan.orders.set_index("order")["short"]
    assert all(short[order] > 0 for order in missed_anew(tuned, 2000))
    said = dict(zip(short.index, tuned.remarks(), strict=True))
    assert all(
        said[order] == "short in the plan, which no margin can change" for order in short[short > 0.5].index
    )
