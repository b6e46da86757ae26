"""Orders spread over graft days by rule, worked by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.plan_tables import rows_of
from model.proof.audit import audit
from model.scenario.choices import ZoneUse
from model.scenario.entities import Scenario
from model.solve import plan
from tests.depth import deep
from tests.independent import least_cost
from tests.known_answers.build import day, nursery, only_price, order, own_root, planned, pool
from tests.strategies import small_scenarios, with_nursery


def held_at_a_price(share: float | None, of_all: float | None = None) -> Scenario:
    """10 plants due on day 2, raised in a day; each day that a plant is held costs 1."""
    return own_root(
        3,
        [order("one", 10, 2, most_share_of_one_day=share)],
        nursery=nursery(3, most_share_of_one_day=of_all),
        zones=(pool("bench", ZoneUse.BENCH), pool("hold", ZoneUse.HOLDING, cost=1.0)),
    )


@pytest.mark.parametrize(
    ("share", "of_all", "cost", "by_day"),
    [
        (None, None, 0, [0, 0, 10]),
        (0.7, None, 3, [0, 3, 7]),
        (0.4, None, 4 + 2 * 2, [2, 4, 4]),
        (None, 0.4, 4 + 2 * 2, [2, 4, 4]),
        (0.7, 0.4, 3, [0, 3, 7]),
        (1.0, 0.4, 0, [0, 0, 10]),
    ],
)
@pytest.mark.parametrize("whole", [True, False])
def test_plants_go_to_the_next_best_days(
    tmp_path: Path, share: float | None, of_all: float | None, cost: float, by_day: list[int], whole: bool
) -> None:
    result = planned(held_at_a_price(share, of_all), tmp_path, whole=whole)
    assert result.cost == pytest.approx(cost)
    made = dict(rows_of(result.deliveries, "graft_day", "plants"))
    assert [made.get(day(t), 0.0) for t in range(3)] == pytest.approx(by_day)


def test_the_price_of_the_rule_is_the_difference(tmp_path: Path) -> None:
    """One more plant of the last day saves a day of holding."""
    found = only_price(planned(held_at_a_price(0.7), tmp_path), "one graft day")
    assert (found.name, found.day, found.at) == ("one", day(2), 7)
    assert found.value == pytest.approx(-1)


def test_what_the_days_do_not_give_is_short(tmp_path: Path) -> None:
    """Three days of a fifth each: four of ten plants are short, and the reason says what would fill them."""
    result = planned(held_at_a_price(0.2), tmp_path, whole=True)
    ((short, why),) = rows_of(result.orders, "short", "short_because")
    assert short == 4
    assert "of order one from" in why


@settings(max_examples=deep(60), deadline=None)
@given(small_scenarios(), st.sampled_from([0.2, 0.5, 0.8]))
def test_least_cost_is_that_of_the_second_statement(drawn: Scenario, share: float) -> None:
    """No order draws more than its share from a graft day; the rule never makes a plan cheaper."""
    scenario = with_nursery(drawn, most_share_of_one_day=share)
    made = plan(scenario, whole=False)
    assert made.cost == pytest.approx(least_cost(scenario, whole=False), rel=1e-6, abs=1e-6)
    assert made.cost >= plan(drawn, whole=False).cost - 1e-6 * max(1.0, abs(made.cost))
    assert [check for check in audit(scenario, made) if not check.passed] == []
    quantity = dict(rows_of(made.orders, "order", "quantity"))
    for name, graft, plants in rows_of(made.deliveries, "order", "graft_day", "plants"):
        assert graft is None or plants <= share * quantity[name] + 1e-6
