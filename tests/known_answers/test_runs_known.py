"""When vehicles leave, against lot sizing: what waits for a later run at a weekly cost, read backwards.

A lot made in a period serves this period and later ones, at a holding cost a period. A run serves its own
week and earlier ones, whose plants come late at a discount a week. So lots for demands in reverse order are
the runs.

The problem and both answers: University of Southampton, EdShare document 4121
(edshare.soton.ac.uk/id/document/4121), by the algorithm of Wagner and Whitin: set-up 100, holding 2 a unit
and period, demand 40, 20, 10, 30, 20.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.planned.plan_tables import Plan
from model.scenario.entities import Scenario
from model.scenario.records.trade import Customer, Run
from tests.known_answers.build import day, order, own_root, planned

SET_UP, HOLDING, DEMAND = 100.0, 2.0, (40, 20, 10, 30, 20)
PRICE = 20.0


def book(demand: tuple[int, ...], trays: int = 1000, **run: object) -> Scenario:
    """A run each Monday; an order due on each of them, the last demand first, which may wait till the end."""
    weeks = len(demand)
    orders = [
        order(
            f"week {n}",
            quantity,
            7 * n,
            price=PRICE,
            late_days_most=7 * (weeks - 1),
            late_discount=HOLDING / PRICE,
        )
        for n, quantity in enumerate(reversed(demand))
    ]
    return own_root(
        7 * weeks,
        orders,
        customers=(Customer("customer", run="coast"),),
        runs=(Run("coast", ("Mon",), SET_UP, 0.0, trays, **run),),  # type: ignore[arg-type]
    )


def loads(result: Plan) -> dict[object, float]:
    """Trays that leave by day."""
    return dict(zip(result.runs["day"], result.runs["trays"], strict=True))


@pytest.mark.parametrize(
    ("demand", "cost", "lots"),
    [
        # lots of 70 in the first period and 50 in the fourth
        (DEMAND, 320.0, {28: 70.0, 7: 50.0}),
        # 40 more in stock at the end: 70, 30 and 60
        ((*DEMAND[:4], 60), 380.0, {28: 70.0, 7: 30.0, 0: 60.0}),
    ],
)
def test_runs_are_lots_read_backwards(
    tmp_path: Path, demand: tuple[int, ...], cost: float, lots: dict[int, float]
) -> None:
    result = planned(book(demand), tmp_path, whole=True)
    assert result.cost == pytest.approx(cost)
    assert result.facts.bound == pytest.approx(cost)
    assert loads(result) == pytest.approx({day(t): trays for t, trays in lots.items()})


def test_vehicles_are_whole(tmp_path: Path) -> None:
    """Weeks 0 to 4 have 20, 30, 10, 20 and 40 plants, a vehicle carries 20: 120 plants need six.

    Six do, if 10 of the 30 wait a week for the 10, at 2 each.
    """
    result = planned(book(DEMAND, trays=20), tmp_path, whole=True)
    assert result.cost == pytest.approx(6 * SET_UP + 10 * HOLDING)
    assert result.runs["vehicles"].tolist() == [1, 1, 1, 1, 2]
    assert result.runs["trays"].tolist() == [20, 20, 20, 20, 40]


def test_no_more_vehicles_than_there_are(tmp_path: Path) -> None:
    """One vehicle a week carries 100 of the 120: 20 of the last 40 are short, 10 of the 30 wait as above."""
    of = book(DEMAND, trays=20, vehicles_most=1)
    of = replace(of, nursery=replace(of.nursery, shortfall_penalty=30.0))
    result = planned(of, tmp_path, whole=True)
    assert result.orders["short"].sum() == pytest.approx(20)
    assert result.cost == pytest.approx(5 * SET_UP + 10 * HOLDING + 20 * 30.0)
