"""Interest in the program: a choice of two offers by hand; on random books the interest is that of Cash."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.cash import cash_of
from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.questions.cash_in_program import Ordered, least_with_interest, payments_of, priced
from model.scenario.choices import Source
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer, Customer
from model.solve import plan_of, solve
from scenarios.studies.overdraft import Paid, overdraft_study, with_interest
from tests.depth import deep
from tests.scenario_parts import WEEK, day
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_nursery

RATE = 0.52
EACH = RATE * 7 / 365


def two_offers(dearer: float) -> Scenario:
    """100 plants on 3 March, bought at 1.00 paid at once or a little dearer paid two weeks later."""
    base = base_scenario()
    of = base.orders[0].product
    return with_nursery(
        replace(
            base,
            orders=(replace(base.orders[0], due_day=day(2)),),
            products=(replace(base.products[0], source=Source.BUY),),
            buy_in_offers=(
                BuyInOffer("at once", of, 1.0, 0, WEEK, day(2), None, 0, None),
                BuyInOffer("later", of, dearer, 0, WEEK, day(2), None, 0, None, terms_days=14),
            ),
        ),
        opening_balance=-100.0,
        overdraft_rate=RATE,
    )


def test_plants_paid_later_are_worth_a_dearer_price_up_to_the_interest() -> None:
    """Three weeks from 1 March, 1 % each: two weeks on 100 are 2.03, besides what the third one adds."""
    scenario = two_offers(1.005)
    solved = solve(scenario)
    now = Paid(plan_of(solved), cash_of(scenario, plan_of(solved)))
    assert set(now.plan.buy_in["offer"]) == {"at once"}
    growth = 1 + EACH
    assert now.together == pytest.approx(100 + 200 * (growth**3 - 1))
    found = with_interest(solved, now)
    assert set(found.other.plan.buy_in["offer"]) == {"later"}
    owed = (100 * growth**2 + 100.5) * growth
    assert found.other.cash.overdraft == pytest.approx(owed - 200.5)
    assert found.other.together == pytest.approx(100.5 + owed - 200.5)
    assert found.saves == pytest.approx(now.together - found.other.together)
    assert found.bound == pytest.approx(found.other.together)
    assert found.worth == pytest.approx([growth**3 - 1, growth**2 - 1, growth - 1])
    answer = " ".join(overdraft_study(scenario).answer)
    assert "the plan would change" in answer


def test_a_price_above_the_interest_leaves_the_plan_as_it_is() -> None:
    study = overdraft_study(two_offers(1.03))
    assert any("the plan would not change" in sentence for sentence in study.answer)
    assert [section.name for section in study.sections] == ["Plans", "Weeks"]


def test_without_an_overdraft_nothing_is_solved_again() -> None:
    for scenario, told in (
        (with_nursery(two_offers(1.005), opening_balance=500.0), "no week of the plan ends below 0"),
        (with_nursery(two_offers(1.005), overdraft_rate=0.0), "overdraft_rate of the table nursery is 0"),
    ):
        study = overdraft_study(scenario)
        assert told in study.answer[0]
        assert "the plan would not change" in study.answer[-1].replace("So the", "the")


ACCOUNTS = st.fixed_dictionaries(
    {
        "terms_days": st.sampled_from([0, 7, 30]),
        "deposit_share": st.sampled_from([0.0, 0.25, 1.0]),
        "deposit_days": st.sampled_from([0, 10]),
        "opening_balance": st.sampled_from([0.0, -500.0]),
        "overdraft_rate": st.sampled_from([0.09, 2.0]),
    }
)


def ordered_in(scenario: Scenario, made: Plan) -> Ordered:
    """Days on which a plan orders packs."""
    columns = "item", "size", "order_by"
    days = rows_of(made.purchases, *columns)
    return {(item, size): when or scenario.nursery.first_day for item, size, when in days}


@pytest.mark.parametrize("name", ["bays", "runs", "piece rates", "temporary hands", "units"])
def test_the_interest_of_every_kind_of_cost_is_that_of_cash(name: str) -> None:
    scenario = with_nursery(SPECIMENS[name], overdraft_rate=1.0, opening_balance=-200.0)
    solved = solve(scenario)
    made = plan_of(solved)
    payments = payments_of(solved.program, solved.compiled, ordered_in(scenario, made))
    weeks = [week.overdraft for week in cash_of(scenario, made).weeks]
    assert payments.overdrafts(solved.solution.columns) == pytest.approx(np.array(weeks), abs=1e-6)


@settings(max_examples=deep(20))
@given(small_scenarios(), ACCOUNTS, st.integers(0, 20), st.booleans())
def test_the_interest_is_that_of_cash_and_no_plan_passes_the_bound(
    scenario: Scenario, account: dict[str, float], later: int, priced_orders: bool
) -> None:
    """By week; but what Cash dates by the plan: deposits of late orders, zones chosen."""
    deposits = later > 10 or account["deposit_share"] > 0
    scenario = replace(
        with_nursery(scenario, **account),
        packs=tuple(replace(pack, terms_days=later) for pack in scenario.packs),
        customers=(Customer("Market farm", later, 0.5),) if later > 10 else (),
        buy_in_offers=tuple(replace(offer, terms_days=later) for offer in scenario.buy_in_offers),
        orders=tuple(
            replace(
                order,
                late_days_most=0 if deposits else order.late_days_most,
                price=2.0 if priced_orders else order.price,
            )
            for order in scenario.orders
        ),
        stage_zones=tuple(replace(row, cost_per_tray=0.0) for row in scenario.stage_zones),
        germination_zones=tuple(replace(row, cost_per_tray=0.0) for row in scenario.germination_zones),
    )
    solved = solve(scenario)
    made = plan_of(solved)
    now = Paid(made, cash_of(scenario, made))
    payments = payments_of(solved.program, solved.compiled, ordered_in(scenario, made))
    weeks = [week.overdraft for week in now.cash.weeks]
    assert payments.overdrafts(solved.solution.columns) == pytest.approx(np.array(weeks), abs=1e-6)

    best = priced(solved.compiled, solved.continuous, payments)
    slack = 1e-6 * max(1.0, abs(best.objective))
    assert best.continuous.objective == pytest.approx(best.objective, abs=slack)
    for columns in (solved.continuous.columns, solved.solution.columns):
        cost = float(solved.compiled.cost @ columns) + solved.compiled.offset
        assert best.objective <= cost + payments.overdrafts(columns).sum() + slack
    found = with_interest(solved, now)
    assert least_with_interest(solved.program, solved.compiled) <= now.together + slack
    assert found.bound <= found.other.together + slack
    assert all(check.passed for check in audit(scenario, found.other.plan))
