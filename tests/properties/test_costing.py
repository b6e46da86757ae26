"""Traced costs: whatever the scenario, they add up to the plan, and only what an order caused is its own."""

from __future__ import annotations

from dataclasses import fields, replace

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.plan_tables import Plan
from model.planned.results import Result, result_of, results_by_order, summed
from model.questions.cost_flows import WASTE
from model.questions.traced_costs import TRACED_LINES, overhead_shares, traced_costs, traced_parts
from model.scenario.choices import OverheadRule
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from tests.demo import demo_plan, demo_solved
from tests.depth import deep
from tests.report_scenario import report_scenario
from tests.specimens import SPECIMENS
from tests.strategies import small_scenarios, with_nursery


def check(scenario: Scenario, *, whole: bool) -> None:
    """All amounts make the plan's cost; an order without plants bears only what it lacks."""
    solved = solve(scenario, whole=whole)
    made, traced, parts = plan_of(solved), traced_costs(solved), traced_parts(solved)
    assert traced["amount"].sum() == pytest.approx(made.cost, rel=1e-7, abs=0.005)
    borne_of = parts.groupby(["cost_line", "detail"])["amount"].sum()
    for line, detail, amount in made.costs.itertuples(index=False):
        assert borne_of.get((line, detail), 0.0) == pytest.approx(amount, rel=1e-7, abs=1e-4), (line, detail)
    assert set(traced["line"]) <= set(TRACED_LINES)
    _results_add_up(made, parts)
    shares, rule = overhead_shares(solved), scenario.nursery.overhead_by
    lines = traced.dropna(subset="order").set_index(["order", "line"])["amount"]
    paid = parts[(parts["line"] == WASTE) & (parts["amount"] > 0)].groupby("order")["amount"].sum()
    for order, share in shares.items():  # with the overhead of waste and margin, and nothing else
        itself = lines.get((order, "overhead"), 0.0)
        assert itself - 1e-4 <= share <= itself + paid.get(order, 0.0) + 1e-4
    plants = made.orders["own"].sum() + made.orders["bought"].sum()
    alike = all(row.shared_by in (None, rule) for row in scenario.overheads)
    if rule is OverheadRule.PLANTS and plants > 0 and alike:
        for row in made.orders.to_dict("records"):
            part = (row["own"] + row["bought"]) / plants
            assert shares[row["order"]] == pytest.approx(part * sum(shares.values()), abs=1e-4)
    lines_of = traced.dropna(subset="order").groupby("order")["line"].agg(set)
    for row in made.orders.to_dict("records"):
        borne = lines_of.get(row["order"], set())
        if row["own"] + row["bought"] == 0:
            assert borne <= {"shortfall", "declined"}
        if row["own"] == 0:
            assert not borne & {"rootstock seed", "scion seed", "graft labour", "chamber", WASTE}
        assert ("buy-in" in borne) == (row["bought"] > 1e-6 and _priced(scenario))


def _results_add_up(made: Plan, parts: pd.DataFrame) -> None:
    """Orders, customers and products: every part of their results adds up to the plan's."""
    whole, by_order = result_of(made), results_by_order(made, parts)
    assert whole.cost + whole.apart == pytest.approx(made.cost, rel=1e-7, abs=0.005)
    by_customer = summed(by_order, dict(zip(made.orders["order"], made.orders["customer"], strict=True)))
    by_product = summed(by_order, dict(zip(made.orders["order"], made.orders["product"], strict=True)))
    for results in (by_order, by_customer, by_product):
        for name in (*(field.name for field in fields(Result)), "before", "result"):
            total = sum(getattr(result, name) for result in results.values())
            assert total == pytest.approx(getattr(whole, name), rel=1e-7, abs=0.005), name


def _priced(scenario: Scenario) -> bool:
    return all(offer.price > 0 for offer in scenario.buy_in_offers)


@settings(max_examples=deep(40))
@given(small_scenarios(), st.sampled_from(OverheadRule), st.booleans())
def test_traced_costs_add_up_to_the_plan(scenario: Scenario, rule: OverheadRule, whole: bool) -> None:
    check(with_nursery(scenario, overhead_by=rule), whole=whole)


@pytest.mark.parametrize("name", SPECIMENS)
def test_specimens_add_up_whole(name: str) -> None:
    check(SPECIMENS[name], whole=True)


def test_a_plan_with_every_cost_line_adds_up() -> None:
    check(report_scenario(), whole=True)


def test_the_demo_adds_up_to_the_cent() -> None:
    traced = traced_costs(demo_solved())
    assert abs(traced["amount"].sum() - demo_plan().cost) < 0.005


@settings(max_examples=deep(25))
@given(small_scenarios(), st.floats(1.5, 4.0))
def test_dearer_seed_is_borne_as_seed_or_waste(scenario: Scenario, times: float) -> None:
    """The same plan at dearer seed: only lines that hold seed grow, and by all of it."""
    lots = {lot.lot for lot in scenario.seed_lots}
    solved = solve(scenario, whole=False)
    costs = plan_of(solved).costs
    seed = float(costs.loc[costs["line"] == "seed", "amount"].sum())
    before = traced_costs(solved).groupby("line")["amount"].sum()
    dear = replace(
        scenario,
        packs=tuple(replace(p, price=p.price * times) if p.item in lots else p for p in scenario.packs),
    )
    network = replace(solved.program.network, scenario=dear)
    program = replace(solved.program, network=network)
    after = traced_costs(replace(solved, program=program)).groupby("line")["amount"].sum()
    grown = after.sub(before, fill_value=0.0)
    holds_seed = {"rootstock seed", "scion seed", WASTE}
    assert grown.sum() == pytest.approx(seed * (times - 1), rel=1e-6, abs=1e-4)
    assert grown[[line for line in grown.index if line not in holds_seed]].abs().sum() < 1e-4
