"""K1 Sailco: pre-building against overtime.

Source: Winston, Operations Research: Applications and Algorithms, 4th ed., section 3.10. Demand of four
quarters 40, 60, 75, 25 sailboats; 10 on hand; up to 40 a quarter at 400 by regular work, any number at 450
by overtime; holding 20 a boat on hand at the end of a quarter. Least cost 78,450.

Mapping: a quarter is a day and a boat an own-root plant, sown and ready on its due day. Sowing a tray of
one cell takes an hour; 40 hands give an hour a day at 400 and up to 23 hours overtime each at 450, more
than can be wanted. The holding zone costs 20 a slot-day. The 10 on hand are taken off the first order.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.scenario.choices import Part, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.methods import Stage
from model.scenario.records.people import CrewDay
from tests.known_answers.build import (
    HOUR_A_TRAY,
    crew,
    day,
    lot,
    nursery,
    order,
    own_root,
    own_root_method,
    planned,
    pool,
    prices,
    sown,
)

COST = 78_450.0
QUANTITIES = (40 - 10, 60, 75, 25)
SHIPYARD = crew(
    heads=40,
    hours_per_head_day=1,
    pay_per_hour=400,
    overtime_hours_per_head_day=23,
    overtime_pay_per_hour=450,
)


def sailco(quantities: tuple[int, ...] = QUANTITIES) -> Scenario:
    return own_root(
        4,
        [order(f"quarter {t + 1}", quantity, t) for t, quantity in enumerate(quantities)],
        zones=(pool("bench", ZoneUse.BENCH), pool("hold", ZoneUse.HOLDING, cost=20)),
        crews=(SHIPYARD,),
        labour_standards=(HOUR_A_TRAY,),
    )


def with_hand(quarter: int, more: int) -> Scenario:
    """Sailco with more or fewer regular boats in one quarter."""
    changes = [CrewDay("hands", day(quarter), heads=40 + more)]
    if quarter < 3:
        changes.append(CrewDay("hands", day(quarter + 1), heads=40))
    return replace(sailco(), crew_days=tuple(changes))


@pytest.mark.parametrize("whole", [False, True])
def test_least_cost_and_what_is_built(tmp_path: Path, whole: bool) -> None:
    result = planned(sailco(), tmp_path, whole=whole)
    assert result.cost == pytest.approx(COST)
    assert result.facts.bound == pytest.approx(COST)
    assert result.crew_days["regular"].tolist() == pytest.approx([40, 40, 40, 25])
    assert result.crew_days["overtime"].tolist() == pytest.approx([0, 10, 35, 0])
    assert sown(result, 4) == pytest.approx([40, 50, 75, 25])


@pytest.mark.parametrize("whole", [False, True])
def test_cost_of_one_more_boat(tmp_path: Path, whole: bool) -> None:
    found = prices(planned(sailco(), tmp_path, whole=whole), "order")
    assert found["value"].tolist() == pytest.approx([430, 450, 450, 400])


@pytest.mark.parametrize("whole", [False, True])
def test_worth_of_one_more_regular_boat(tmp_path: Path, whole: bool) -> None:
    """One more saves 30, 50, 50; in the last quarter regular work is left over, and has no price."""
    result = planned(sailco(), tmp_path, whole=whole)
    found = prices(result, "regular hours")
    assert dict(zip(found["day"], found["value"], strict=True)) == pytest.approx(
        {day(0): -30, day(1): -50, day(2): -50}
    )
    assert prices(result, "overtime hours").empty


@pytest.mark.parametrize("quarter, worth", list(enumerate([30, 50, 50, 0])))
def test_one_regular_boat_more_or_less_confirms_its_worth(tmp_path: Path, quarter: int, worth: float) -> None:
    assert planned(with_hand(quarter, 1), tmp_path).cost == pytest.approx(COST - worth)
    assert planned(with_hand(quarter, -1), tmp_path).cost == pytest.approx(COST + worth)


@pytest.mark.parametrize("quarter, cost", list(enumerate([430, 450, 450, 400])))
def test_one_boat_more_or_less_confirms_its_cost(tmp_path: Path, quarter: int, cost: float) -> None:
    for change in (1, -1):
        quantities = tuple(q + change * (t == quarter) for t, q in enumerate(QUANTITIES))
        assert planned(sailco(quantities), tmp_path).cost == pytest.approx(COST + change * cost)


def later(lead: int, growing: Scenario) -> Scenario:
    """All due days ``lead`` days later, and so the horizon."""
    orders = tuple(replace(o, due_day=day(t + lead)) for t, o in enumerate(growing.orders))
    return replace(growing, orders=orders, nursery=nursery(4 + lead))


@pytest.mark.parametrize("lead", [1, 5])
def test_days_on_the_bench_move_the_plan_and_keep_its_cost(tmp_path: Path, lead: int) -> None:
    """Seedlings leave the bench at an age of ``lead`` days; due days are as much later."""
    method = own_root_method(scion_age_min=lead, scion_age_max=lead)
    result = planned(later(lead, replace(sailco(), methods=(method,))), tmp_path)
    assert result.cost == pytest.approx(COST)
    assert sown(result, 4) == pytest.approx([40, 50, 75, 25])


def test_days_in_finishing_move_the_plan_and_keep_its_cost(tmp_path: Path) -> None:
    finishing = Stage("own-root", 1, "finish", Part.FINISHING, "bench", 3)
    result = planned(later(3, replace(sailco(), stages=(finishing,))), tmp_path)
    assert result.cost == pytest.approx(COST)
    assert sown(result, 4) == pytest.approx([40, 50, 75, 25])


@pytest.mark.parametrize("share", [0.5, 0.8])
def test_a_constant_yield_with_work_scaled_to_it_keeps_the_cost(tmp_path: Path, share: float) -> None:
    """Of all seeds a share grows: 1 / share times the trays, the hours for them, and pay that much lower."""
    hands = replace(SHIPYARD, heads=40 / share, pay_per_hour=400 * share, overtime_pay_per_hour=450 * share)
    result = planned(replace(sailco(), seed_lots=(lot(germination=share),), crews=(hands,)), tmp_path)
    assert result.cost == pytest.approx(COST)
    assert sown(result, 4) == pytest.approx([q / share for q in (40, 50, 75, 25)])


@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize("cells", [2, 72])
def test_trays_of_many_cells_scale_the_plants_and_keep_the_cost(
    tmp_path: Path, cells: int, whole: bool
) -> None:
    """Demand (and what is on hand) times the cells of a tray: as many trays; a plant costs 1 / cells."""
    scenario = sailco(tuple(q * cells for q in QUANTITIES))
    (single,) = scenario.tray_formats
    result = planned(replace(scenario, tray_formats=(replace(single, cells=cells),)), tmp_path, whole=whole)
    assert result.cost == pytest.approx(COST)
    assert sown(result, 4) == pytest.approx([40, 50, 75, 25])
    found = prices(result, "order")["value"]
    assert found.tolist() == pytest.approx([430 / cells, 450 / cells, 450 / cells, 400 / cells])


def test_an_order_split_in_two_of_one_due_day_keeps_the_cost(tmp_path: Path) -> None:
    scenario = sailco()
    split = (order("quarter 2, first", 23, 1), order("quarter 2, rest", 37, 1))
    result = planned(replace(scenario, orders=(scenario.orders[0], *split, *scenario.orders[2:])), tmp_path)
    assert result.cost == pytest.approx(COST)
    assert prices(result, "order")["value"].tolist() == pytest.approx([430, 450, 450, 450, 400])
