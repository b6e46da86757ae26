"""The progress that a plan foresees, row by row, from day to day, and nothing twice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import pytest

from model.planned.plan_tables import Plan
from model.scenario.choices import Happened
from model.scenario.records.past import Progress
from model.season.as_planned import as_planned
from model.solve import plan
from tests.by_hand import BY_HAND, by_place
from tests.scenario_parts import day
from tests.specimens import SPECIMENS
from tests.strategies import with_nursery

LATE = date(2028, 1, 1)


@cache
def solved(name: str) -> Plan:
    return plan(SPECIMENS[name])


def test_a_plan_by_hand_foresees_its_sowing_grafting_and_delivery() -> None:
    """36 plants of 40 joins of 5 trays of rootstock and 3 of scions, as worked in tests/by_hand.py."""
    _, made = BY_HAND["on-tray in units"]
    stout = {"lot": "Stout A", "format": "ten"}
    red = {"lot": "Red A", "format": "twenty"}
    assert as_planned(made, LATE) == (
        Progress(day(4), Happened.SOWN, 5.0, **stout),
        Progress(day(5), Happened.SOWN, 3.0, **red),
        Progress(
            day(8),
            Happened.GRAFTED,
            40.0,
            sow_day=day(5),
            rootstock_lot="Stout A",
            rootstock_format="ten",
            rootstock_sow_day=day(4),
            product="Pair",
            **red,
        ),
        Progress(day(13), Happened.DELIVERED, 36.0, product="Pair", graft_day=day(8), order="O-1"),
    )


def test_own_root_plants_have_no_rootstock_and_their_packs_are_ordered() -> None:
    _, made = BY_HAND["own-root"]
    packs, sown, moved, packed = as_planned(made, LATE)
    assert packs == Progress(day(1), Happened.PACKS, 2.0, item="Red A", size=10.0, arrival_day=day(2))
    assert (sown.day, sown.number) == (day(2), 3.0)
    assert moved == Progress(
        day(6), Happened.GRAFTED, 25.0, lot="Red A", format="ten", sow_day=day(2), product="Red plain"
    )
    assert (packed.day, packed.number) == (day(12), 20.0)


@pytest.mark.parametrize("until", range(1, 15))
def test_rows_lie_before_the_day_and_from_the_first_on(until: int) -> None:
    _, made = BY_HAND["on-tray in units"]
    every = as_planned(made, LATE)
    assert as_planned(made, day(until)) == tuple(row for row in every if row.day < day(until))
    assert as_planned(made, LATE, since=day(until)) == tuple(row for row in every if row.day >= day(until))
    assert as_planned(made, day(until)) + as_planned(made, LATE, since=day(until)) == every


@pytest.mark.parametrize("name", SPECIMENS)
def test_every_number_of_the_plan_is_foreseen_once(name: str) -> None:
    """Trays on hand are no progress: they stood there before the first day."""
    made = solved(name)
    sums: Counter[Happened] = Counter()
    for row in as_planned(made, LATE):
        sums[row.what] += row.number  # type: ignore[assignment]
    own = made.deliveries[made.deliveries["source"] == "own"]
    sown = made.waves[made.waves["seeds"] > 0]
    assert sums[Happened.SOWN] == pytest.approx(sown["trays"].sum())
    assert sums[Happened.GRAFTED] == pytest.approx(made.joins["joins"].sum())
    assert sums[Happened.DELIVERED] == pytest.approx(own["plants"].sum())
    assert sums[Happened.BOUGHT_IN] == pytest.approx(made.buy_in["plants"].sum())
    assert sums[Happened.PACKS] == pytest.approx(made.purchases["packs"].sum())
    assert sums[Happened.HIRED] == pytest.approx(made.temporary["heads"].sum())


def test_packs_and_plants_are_ordered_on_the_day_by_which_they_must() -> None:
    made = solved("buy-in")
    bought = [row for row in as_planned(made, LATE) if row.what is Happened.BOUGHT_IN]
    assert {(row.day, row.arrival_day, row.offer) for row in bought} == {(day(10), day(15), "Neighbour")}
    assert {(row.order, row.number) for row in bought} == {("O-1", 23.0), ("O-2", 57.0)}
    packs = [row for row in as_planned(solved("packs"), LATE) if row.what is Happened.PACKS]
    assert [(row.day, row.item, row.size, row.number, row.arrival_day) for row in packs] == [
        (day(0), "Stout A", 50.0, 2.0, day(6)),
        (day(6), "Red A", 500.0, 1.0, day(6)),
        (day(6), "Clips", 80.0, 3.0, day(9)),
    ]


def test_packs_ordered_before_are_not_ordered_again() -> None:
    """Of the plan from day 1 on, 2 packs of rootstock are ordered already: only what is more is foreseen."""
    scenario, before = SPECIMENS["packs"], solved("packs")
    told = as_planned(before, day(1))
    assert [(row.what, row.item, row.number) for row in told] == [(Happened.PACKS, "Stout A", 2.0)]
    later = plan(with_nursery(replace(scenario, progress=told), today=day(1)))
    assert dict(zip(later.purchases["item"], later.purchases["ordered"], strict=True))["Stout A"] == 2
    again = [row for row in as_planned(later, LATE) if row.what is Happened.PACKS]
    assert {row.item for row in again} == {"Red A", "Clips"}


@pytest.mark.parametrize("ordered, more", [(0.0, [3.0]), (1.0, [2.0]), (2.0, [1.0]), (3.0, []), (4.0, [])])
def test_only_packs_still_to_be_ordered_are_foreseen(ordered: float, more: list[float]) -> None:
    row = ("Red A", "seed", 100.0, 3.0, 5.0, 15.0, day(6), day(2), ordered)
    made = replace(BY_HAND["on-tray in units"][1], purchases=by_place("purchases", [row]))
    packs = [row for row in as_planned(made, LATE) if row.what is Happened.PACKS]
    assert [row.number for row in packs] == more


def test_packs_without_a_day_to_order_are_left_out() -> None:
    row = ("Red A", "seed", 100.0, 3.0, 5.0, 15.0, None, None, 0.0)
    made = replace(BY_HAND["on-tray in units"][1], purchases=by_place("purchases", [row]))
    assert Happened.PACKS not in {row.what for row in as_planned(made, LATE)}


def test_hands_are_hired_on_the_first_day_of_their_week() -> None:
    made = solved("temporary hands")
    hired = [row for row in as_planned(made, LATE) if row.what is Happened.HIRED]
    assert hired
    assert all(row.crew == "Grafters" for row in hired)
    weeks = made.temporary["week_day"].tolist()
    assert [row.day for row in hired] == weeks
    assert all((week - day(0)) % timedelta(days=7) == timedelta(0) for week in weeks)
