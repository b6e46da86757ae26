"""K2 Pigskin: costs that change by date, and slots in holding.

Source: Winston, Albright, Practical Management Science, example 3.3. Demand of six months 10,000 15,000
30,000 35,000 25,000 10,000 footballs; 5,000 on hand; at most 30,000 a month at 12.50 12.55 12.70 12.80 12.85
12.95; storage for 10,000; holding 5 % of the month's unit cost for what is on hand at its end. Least cost
1,535,562.50.

Mapping: a month is a day and a football an own-root plant, sown and ready on its due day. Sowing a tray of
one cell takes an hour; 30,000 hands give an hour a day, whose pay changes by ``crew_days``. The holding
zone has 10,000 slots, whose cost changes by ``zone_days``. The 5,000 on hand are taken off the first order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from model.scenario.choices import Happened, ZoneUse
from model.scenario.entities import Scenario, ZoneDay
from model.scenario.records.people import CrewDay
from model.season.as_planned import as_planned
from tests.known_answers.build import (
    HOUR_A_TRAY,
    crew,
    day,
    order,
    own_root,
    own_root_method,
    planned,
    pool,
    prices,
    sown,
)

COST = 1_535_562.50
DEMAND = (10_000, 15_000, 30_000, 35_000, 25_000, 10_000)
OPENING = 5_000
UNIT_COST = (12.50, 12.55, 12.70, 12.80, 12.85, 12.95)
MADE = (5_000, 20_000, 30_000, 30_000, 25_000, 10_000)
DUALS = (12.50, 12.55, 13.1775, 13.8125, 12.85, 12.95)


def pigskin(
    demand: Sequence[int], opening: int, unit_cost: Sequence[float], storage: int = 10_000
) -> Scenario:
    wanted = list(demand)
    wanted[0] -= opening
    return own_root(
        len(demand),
        [order(f"month {t + 1}", quantity, t) for t, quantity in enumerate(wanted) if quantity],
        methods=(own_root_method(holding_limit_days=len(demand)),),
        zones=(pool("bench", ZoneUse.BENCH), pool("hold", ZoneUse.HOLDING, slots=storage)),
        crews=(crew(heads=30_000, hours_per_head_day=1),),
        labour_standards=(HOUR_A_TRAY,),
        crew_days=tuple(CrewDay("hands", day(t), pay_per_hour=cost) for t, cost in enumerate(unit_cost)),
        zone_days=tuple(
            ZoneDay("hold", day(t), cost_per_slot_day=cost * 5 / 100) for t, cost in enumerate(unit_cost)
        ),
    )


@pytest.mark.parametrize("whole", [False, True])
def test_least_cost_and_what_is_made(tmp_path: Path, whole: bool) -> None:
    result = planned(pigskin(DEMAND, OPENING, UNIT_COST), tmp_path, whole=whole)
    assert result.cost == pytest.approx(COST, abs=0.005)
    assert sown(result, 6) == pytest.approx(MADE)


@pytest.mark.parametrize("whole", [False, True])
def test_cost_of_one_more_football(tmp_path: Path, whole: bool) -> None:
    """Month 4 is full, so its next one is made in month 2 and held twice: 12.55 + .6275 + .635."""
    result = planned(pigskin(DEMAND, OPENING, UNIT_COST), tmp_path, whole=whole)
    assert prices(result, "order")["value"].tolist() == pytest.approx(DUALS)


@pytest.mark.parametrize("month", range(6))
def test_one_football_more_or_less_confirms_its_cost(tmp_path: Path, month: int) -> None:
    for change in (1, -1):
        demand = [q + change * (t == month) for t, q in enumerate(DEMAND)]
        result = planned(pigskin(demand, OPENING, UNIT_COST), tmp_path)
        assert result.cost == pytest.approx(COST + change * DUALS[month], abs=0.005)


def test_storage_below_what_is_held_has_a_price(tmp_path: Path) -> None:
    """4,000 slots leave 1,000 of month 4 short at 10,000 each.

    Of the 5,000 held over months 2 and 3, one less costs the penalty and saves making and holding it:
    13.8125. A slot more in month 3 lets one of month 4's be held then, but month 3 makes 30,000 for its own
    30,000, so what is held in month 3 was held in month 2 too: both limits bind, and two slots, one in
    each month, are worth 10,000 - 13.8125 together.
    """
    result = planned(pigskin(DEMAND, OPENING, UNIT_COST, storage=4_000), tmp_path)
    short = 1_000 * (10_000 - 13.8125)
    assert result.short == pytest.approx(1_000)
    assert result.cost == pytest.approx(COST + short)
    found = prices(result, "slots")
    assert set(found["day"]) <= {day(1), day(2)}
    assert found["value"].sum() == pytest.approx(-(10_000 - 13.8125))


def test_planned_anew_each_month_from_what_is_on_hand_the_cost_is_the_same(tmp_path: Path) -> None:
    """What is made and held is counted here, month by month; each plan gives its first month only."""
    spent, on_hand, made = 0.0, OPENING, []
    for month in range(6):
        scenario = pigskin(DEMAND[month:], on_hand, UNIT_COST[month:])
        made.append(round(sown(planned(scenario, tmp_path), 1)[0]))
        on_hand += made[-1] - DEMAND[month]
        spent += UNIT_COST[month] * (made[-1] + on_hand * 5 / 100)
    assert made == list(MADE)
    assert spent == pytest.approx(COST, abs=0.005)


def test_trays_of_many_cells_scale_the_plants_and_keep_the_cost(tmp_path: Path) -> None:
    scenario = pigskin(DEMAND, OPENING, UNIT_COST)
    (single,) = scenario.tray_formats
    orders = tuple(replace(o, quantity=o.quantity * 50) for o in scenario.orders)
    scenario = replace(scenario, orders=orders, tray_formats=(replace(single, cells=50),))
    assert planned(scenario, tmp_path).cost == pytest.approx(COST, abs=0.005)


def test_planned_again_each_month_with_the_past_told_the_season_costs_the_same(tmp_path: Path) -> None:
    """What was made and delivered stands in progress; each plan holds it and the months to come."""
    scenario = pigskin(DEMAND, OPENING, UNIT_COST)
    made = planned(scenario, tmp_path)
    for month in range(1, 6):
        told = as_planned(made, day(month))
        later = replace(scenario, nursery=replace(scenario.nursery, today=day(month)), progress=told)
        made = planned(later, tmp_path)
        assert made.cost == pytest.approx(COST, abs=0.005)
        assert sown(made, 6) == pytest.approx(MADE)


def test_more_made_than_planned_is_used_first(tmp_path: Path) -> None:
    """6,000 made in month 1 instead of 5,000: the 1,000 over are held, and month 2 makes as many fewer.

    Each costs 12.50 and .625 held, where month 2 would have made it at 12.55: .075 more, 75 in all.
    """
    scenario = pigskin(DEMAND, OPENING, UNIT_COST)
    told = [
        replace(row, number=6_000.0) if row.what in (Happened.SOWN, Happened.GRAFTED) else row
        for row in as_planned(planned(scenario, tmp_path), day(1))
    ]
    later = replace(scenario, nursery=replace(scenario.nursery, today=day(1)), progress=tuple(told))
    made = planned(later, tmp_path)
    assert made.cost == pytest.approx(COST + 1_000 * (12.50 + 0.625 - 12.55), abs=0.005)
    assert sown(made, 6) == pytest.approx((6_000, 19_000, *MADE[2:]))
