"""Cash by week: a season worked by hand, and on random books all payments together are the result."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.cash import CUSTOMERS, DEPOSITS, KIND_OF, OUT, cash_of, payments, receipts, terms_given
from model.planned.plan_tables import Plan
from model.planned.results import PART_OF, is_cash, result_of
from model.scenario.choices import Decline, OverheadKind, Period
from model.scenario.entities import Scenario
from model.scenario.records.overheads import Overhead
from model.scenario.records.trade import Customer
from model.solve import plan
from tests.depth import deep
from tests.report_scenario import report_plan, report_scenario
from tests.scenario_parts import day
from tests.strategies import base_scenario, small_scenarios, with_nursery


def test_every_cost_line_that_is_paid_has_a_kind() -> None:
    assert set(KIND_OF) == {line for line in PART_OF if is_cash(line)}


def by_hand() -> Scenario:
    """Monday 1 March to 21 March: 100 plants at 2 due on the 17th, seed alone to pay, rent of 31 a month."""
    made = base_scenario(
        customers=(Customer("Market farm", terms_days=3, deposit_share=0.3),),
        overheads=(
            Overhead("rent", 31.0, Period.MONTH),
            Overhead("pay", 7.0, Period.WEEK),
            Overhead("insurance", 5.0, kind=OverheadKind.INTEREST, paid_day=day(30)),
        ),
    )
    made = replace(made, orders=tuple(replace(order, price=2.0) for order in made.orders))
    return with_nursery(made, deposit_days=14, opening_balance=-50.0, overdraft_rate=0.365)


def test_a_season_by_hand() -> None:
    """The deposit comes on 3 March, the balance on 20 March; all seed is paid in the week it is ordered."""
    scenario = by_hand()
    made = plan(scenario)
    found = cash_of(scenario, made)
    seed = made.purchases["amount"].sum()
    assert set(made.purchases["order_by"]) <= {day(n) for n in range(7)}
    rent, pay = 31 * 21 * 12 / 365, 21.0
    assert [week.week for week in found.weeks] == [day(0), day(7), day(14)]
    first = -50 + 60 - seed - 7
    costs = [0.365 * 7 / 365 * max(0.0, -first)]
    second = first - costs[0] - 7
    costs.append(0.365 * 7 / 365 * max(0.0, -second))
    third = second - costs[1] + 140 - 7 - rent
    costs.append(0.365 * 7 / 365 * max(0.0, -third))
    assert seed > 10
    assert [week.overdraft for week in found.weeks] == pytest.approx(costs)
    assert [week.balance for week in found.weeks] == pytest.approx(
        [first - costs[0], second - costs[1], third - costs[2]]
    )
    assert found.deepest is found.weeks[1]
    assert (found.before, found.after) == ({}, {"interest": pytest.approx(5.0)})
    assert found.open == pytest.approx(-5)
    assert result_of(made).result == pytest.approx(200 - seed - rent - pay - 5)


def test_a_deposit_before_the_season_and_a_late_payer_are_open_items() -> None:
    scenario = replace(by_hand(), customers=(Customer("Market farm", 30, 0.3, 20),))
    found = cash_of(scenario, plan(scenario))
    assert found.before == {DEPOSITS: pytest.approx(60)}
    assert found.after[CUSTOMERS] == pytest.approx(140)


def test_no_deposit_is_paid_before_the_order_is_placed() -> None:
    """Due on 17 March with 14 days: the 3rd; placed on the 11th: then."""
    for placed, paid in ((None, day(2)), (day(1), day(2)), (day(10), day(10))):
        scenario = by_hand()
        orders = tuple(replace(order, ordered_day=placed) for order in scenario.orders)
        (receipt,) = receipts(replace(scenario, orders=orders), plan(scenario))
        assert receipt.deposit_day == paid


def test_a_deposit_is_given_back_where_no_plant_comes() -> None:
    scenario = by_hand()
    short = replace(scenario, orders=tuple(replace(order, due_day=day(2)) for order in scenario.orders))
    (receipt,) = receipts(short, plan(short))
    assert (receipt.deposit, receipt.balance) == (pytest.approx(60), pytest.approx(-60))
    assert receipt.balance_day == day(5)


def test_a_declined_order_pays_no_deposit() -> None:
    scenario = by_hand()
    cheap = tuple(replace(order, price=0.01, decline=Decline.WHOLE) for order in scenario.orders)
    (receipt,) = receipts(replace(scenario, orders=cheap), plan(replace(scenario, orders=cheap)))
    assert (receipt.deposit, receipt.balance) == (pytest.approx(0), pytest.approx(0))


def test_who_sells_later_is_paid_later() -> None:
    """Packs by days from their order, plants bought in by days from their delivery."""
    scenario, made = report_scenario(), report_plan()
    late = replace(
        scenario,
        packs=tuple(replace(pack, terms_days=pack.terms_days + 9) for pack in scenario.packs),
        buy_in_offers=tuple(
            replace(offer, terms_days=offer.terms_days + 9) for offer in scenario.buy_in_offers
        ),
    )
    then, now = payments(late, made), payments(scenario, made)
    moved = [(kind, (a - b).days) for (a, kind, _), (b, _, _) in zip(then, now, strict=True)]
    assert {kind for kind, days in moved if days == 9} == {"seed", "supplies", "buy-in"}
    assert {days for kind, days in moved if kind in ("seed", "supplies", "buy-in")} == {9}


def test_a_scenario_without_terms_says_nothing_of_them() -> None:
    assert not terms_given(base_scenario())
    assert terms_given(replace(base_scenario(), customers=(Customer("Market farm"),)))
    assert terms_given(with_nursery(base_scenario(), opening_balance=-1.0))


TERMS = st.fixed_dictionaries(
    {
        "terms_days": st.sampled_from([0, 7, 30, 60]),
        "deposit_share": st.sampled_from([0.0, 0.25, 1.0]),
        "deposit_days": st.sampled_from([0, 10, 40]),
        "opening_balance": st.sampled_from([0.0, 500.0, -500.0]),
        "overdraft_rate": st.sampled_from([0.0, 0.09]),
    }
)


@settings(max_examples=deep(50))
@given(small_scenarios(), TERMS, st.integers(0, 40), st.booleans())
def test_cash_and_open_items_are_the_result(
    scenario: Scenario, terms: dict[str, float], later: int, whole: bool
) -> None:
    scenario = replace(
        with_nursery(scenario, **terms),
        packs=tuple(replace(pack, terms_days=later) for pack in scenario.packs),
        customers=(Customer("Market farm", later),) if whole else (),
    )
    check(scenario, plan(scenario, whole=whole))


def test_a_plan_with_every_cost_line_keeps_it() -> None:
    check(report_scenario(), report_plan())


def check(scenario: Scenario, made: Plan) -> None:
    """In, out and the balances, added up from the plan's tables of orders and costs alone."""
    found, nursery = cash_of(scenario, made), scenario.nursery
    spans = [found.before, *(week.paid for week in found.weeks), found.after]
    total = {kind: sum(of.get(kind, 0.0) for of in spans) for kind in {*KIND_OF.values(), DEPOSITS}}
    costs = made.costs.groupby("line")["amount"].sum()
    for kind in OUT:
        lines = [line for line, of in KIND_OF.items() if of == kind]
        assert total[kind] == pytest.approx(sum(costs.get(line, 0.0) for line in lines), abs=0.01), kind
    sales = ((made.orders["own"] + made.orders["bought"]) * made.orders["price"].astype(float)).sum()
    received = total[DEPOSITS] + total[CUSTOMERS]
    assert received == pytest.approx(sales - costs.get("late", 0.0), abs=0.01)
    result = result_of(made)
    flow = found.weeks[-1].balance - found.opening + found.overdraft
    opened = sum(
        (1 if kind not in OUT else -1) * amount
        for of in (found.before, found.after)
        for kind, amount in of.items()
    )
    assert flow + opened == pytest.approx(result.result + result.not_cash, abs=0.01)
    balance = found.opening
    for week in found.weeks:
        days = sum(nursery.first_day <= week.week + timedelta(days=n) <= nursery.last_day for n in range(7))
        balance += sum(-a if kind in OUT else a for kind, a in week.paid.items())
        cost = nursery.overdraft_rate * days / 365 * -min(balance, 0.0)
        balance -= cost
        assert (week.overdraft, week.balance) == (pytest.approx(cost), pytest.approx(balance))
