"""Guaranteed hours, worked by hand: an hour of pay 10 sows a tray of one plant."""

from __future__ import annotations

from pathlib import Path

import pytest

from model.scenario.entities import DayOff, Scenario
from tests.known_answers.build import HOUR_A_TRAY, crew, day, order, own_root, planned


def week_of_work(trays: int, guaranteed: float | None, **more: object) -> Scenario:
    """Trays sown on the first two days of a week of seven working days, of eight hours each."""
    hands = crew(pay_per_hour=10, guaranteed_hours_per_head_week=guaranteed)
    return own_root(
        7,
        [order("one", trays, 1, shortfall_penalty=40)],
        crews=(hands,),
        labour_standards=(HOUR_A_TRAY,),
        **more,
    )


@pytest.mark.parametrize(
    ("trays", "guaranteed", "cost"),
    [
        (12, None, 120.0),
        (12, 10, 120.0),  # more work than is guaranteed
        (12, 20, 200.0),
        (1, 20, 200.0),
        (16, 16, 160.0),
    ],
)
def test_cost_of_a_week(tmp_path: Path, trays: int, guaranteed: float | None, cost: float) -> None:
    assert planned(week_of_work(trays, guaranteed), tmp_path).cost == pytest.approx(cost)


def test_a_day_off_counts_for_its_share(tmp_path: Path) -> None:
    """Six of seven working days: 18 of 21 hours, 12 of them worked."""
    result = planned(week_of_work(12, 21, days_off=(DayOff(day(5)),)), tmp_path)
    assert result.cost == pytest.approx(180.0)
    (row,) = result.guaranteed.to_dict("records")
    assert (row["guaranteed"], row["idle"], row["amount"]) == pytest.approx((18.0, 6.0, 60.0))


def test_work_within_the_guarantee_costs_nothing_more(tmp_path: Path) -> None:
    """A plant more is grown although its penalty is below an hour's pay: the hour is paid anyway."""
    paid = own_root(
        7,
        [order("one", 12, 1, shortfall_penalty=4)],
        crews=(crew(pay_per_hour=10, guaranteed_hours_per_head_week=7),),
        labour_standards=(HOUR_A_TRAY,),
    )
    result = planned(paid, tmp_path)
    assert result.orders["short"].tolist() == [5.0]
    assert result.cost == pytest.approx(7 * 10 + 5 * 4)
