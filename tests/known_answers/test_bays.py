"""Bays opened whole: what plants cost in a house that is heated whether full or not.

Sources. Fukushima sericulture station 1997, plugs of mulberry, read in the result section: May to October,
192 hours of work at 1,000 yen and 210,000 yen of materials and power for 11,089 plants, 36 yen a plant;
from November to April 122 hours and 290,000 yen for 6,571 plants, 63 yen. Fisher, Five keys to accurate
greenhouse production costing: a bench of 40,000 square feet, 75 % full over 52 weeks, and 1,000,000 make
0.64 a square-foot-week; a pot of 0.5 square feet for 8 weeks carries 2.56.

Mapping: a bay holds all plants of a season and costs a 26th of materials and power a week; a slot is a square
foot. The first day stands for 1 May, or for the first day of the 52 weeks.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.questions.traced_costs import traced_costs
from model.scenario.choices import Task
from model.scenario.entities import Product, Scenario, TrayFormat
from model.scenario.records.people import LabourStandard
from model.scenario.records.rooms import Bays
from model.solve import solve
from tests.known_answers.build import (
    crew,
    day,
    order,
    own_root,
    own_root_method,
    planned,
    sown,
    through_tables,
)

WEEKS = 26
SUMMER, WINTER = (11_089, 192, 210_000.0), (6_571, 122, 290_000.0)
"""Plants, hours, and yen of materials and power."""


def mulberry() -> Scenario:
    """Plants of two seasons of 26 weeks each, sown on the first day of their season."""
    half = WEEKS * 7
    plug = own_root_method(method="plug", scion_age_min=half, scion_age_max=half, holding_limit_days=0)
    products, formats, standards = [], [], []
    for name, (plants, hours, _) in (("summer", SUMMER), ("winter", WINTER)):
        products.append(Product(name, "mulberry", "variety", None, "plug", name))
        formats.append(TrayFormat(name, 1, 1.0))
        standards.append(LabourStandard(Task.SOW, "sowing", None, name, hours * 3600 / plants))
    return own_root(
        2 * half + 1,
        [order("summer", SUMMER[0], half, "summer"), order("winter", WINTER[0], 2 * half, "winter")],
        products=tuple(products),
        tray_formats=tuple(formats),
        methods=(plug,),
        crews=(crew(heads=50.0, pay_per_hour=1000.0),),
        labour_standards=tuple(standards),
        bays=(
            Bays("bench", day(0), 12_000.0, SUMMER[2] / WEEKS),
            Bays("bench", day(half), None, WINTER[2] / WEEKS),
        ),
    )


def test_the_same_plant_is_dearer_in_winter(tmp_path: Path) -> None:
    solved = solve(through_tables(mulberry(), tmp_path))
    cost = traced_costs(solved).groupby("order")["amount"].sum()
    assert cost["summer"] / SUMMER[0] == pytest.approx(36, abs=0.5)
    assert cost["winter"] / WINTER[0] == pytest.approx(63, abs=0.5)
    assert cost.sum() == pytest.approx(192_000 + 210_000 + 122_000 + 290_000)


def full_to_three_quarters() -> Scenario:
    """1,000 pots of half a square foot for 8 weeks; others of 4 weeks, so that 30,000 are always in use."""
    others = [order(f"others {n}", 29_500 if n < 2 else 30_000, 28 * (n + 1), "other") for n in range(13)]
    return own_root(
        13 * 28 + 1,
        [order("pots", 1_000, 56, "pot"), *others],
        products=(
            Product("pot", "crop", "variety", None, "slow", "half"),
            Product("other", "crop", "variety", None, "fast", "one"),
        ),
        tray_formats=(TrayFormat("half", 1, 0.5), TrayFormat("one", 1, 1.0)),
        methods=(
            own_root_method(method="slow", scion_age_min=56, scion_age_max=56, holding_limit_days=0),
            own_root_method(method="fast", scion_age_min=28, scion_age_max=28, holding_limit_days=0),
        ),
        bays=(Bays("bench", day(0), 40_000.0, 1_000_000 / 52),),
    )


def test_a_pot_carries_its_share_of_a_house_not_full(tmp_path: Path) -> None:
    traced = traced_costs(solve(through_tables(full_to_three_quarters(), tmp_path)))
    carried = traced.groupby("order")["amount"].sum()
    assert carried["pots"] / 1_000 == pytest.approx(2.56, abs=0.005)
    assert carried["pots"] / (1_000 * 0.5 * 8) == pytest.approx(0.64, abs=0.005)
    assert carried.sum() == pytest.approx(1_000_000)


# When to open


def a_week_on_the_bench(*bays: Bays, orders: tuple[int, ...] = (10,), hold: int = 14) -> Scenario:
    """Plants that stand a week on the bench and may be held; orders of so many due on Friday 26 March."""
    return own_root(
        28,
        [order(f"order {n}", plants, 25) for n, plants in enumerate(orders)],
        methods=(own_root_method(scion_age_min=7, scion_age_max=7, holding_limit_days=hold),),
        bays=bays,
    )


def test_the_house_is_opened_when_a_week_is_cheap(tmp_path: Path) -> None:
    """A week on the bench lies in one week only from Monday on: sown on 15 March, held four days."""
    dear_later = (Bays("bench", day(0), 10.0, 100.0), Bays("bench", day(14), None, 40.0))
    result = planned(a_week_on_the_bench(*dear_later), tmp_path, whole=True)
    assert result.cost == pytest.approx(40.0)
    assert [n for n, trays in enumerate(sown(result, 28)) if trays] == [14]
    (row,) = result.bays.to_dict("records")
    assert (row["week_day"], row["bays"], row["used"], row["room"]) == (day(14), 1.0, 10.0, 10.0)


def test_without_time_to_hold_two_weeks_are_paid(tmp_path: Path) -> None:
    flat = (Bays("bench", day(0), 10.0, 40.0),)
    assert planned(a_week_on_the_bench(*flat, hold=0), tmp_path, whole=True).cost == pytest.approx(80.0)


@pytest.mark.parametrize(("orders", "bays"), [((10,), 1), ((6, 4), 1), ((6, 5), 2), ((1,), 1), ((21,), 3)])
def test_bays_are_whole(tmp_path: Path, orders: tuple[int, ...], bays: int) -> None:
    scenario = a_week_on_the_bench(Bays("bench", day(0), 10.0, 40.0), orders=orders)
    assert planned(scenario, tmp_path, whole=True).cost == pytest.approx(40.0 * bays)
    plants = sum(orders)
    assert planned(scenario, tmp_path).cost == pytest.approx(4.0 * plants)


def test_a_bay_that_costs_more_than_its_plants_stays_shut(tmp_path: Path) -> None:
    """Eleven plants at a penalty of 5: the second bay, at 40, would be for one of them."""
    scenario = a_week_on_the_bench(Bays("bench", day(0), 10.0, 40.0), orders=(11,))
    cheap = replace(scenario, nursery=replace(scenario.nursery, shortfall_penalty=5.0))
    result = planned(cheap, tmp_path, whole=True)
    assert result.short == 1
    assert result.cost == pytest.approx(45.0)
