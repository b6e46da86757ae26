"""K3 Custom molder: which of three products to make with too few hours and too little space.

Source: Bradley, Hax, Magnanti, Applied Mathematical Programming, ch. 1 and 3. Hundreds of cases of three
glasses a week: at most 5 a + 4.5 b + 6 c with 6 a + 5 b + 8 c hours of at most 60, 10 a + 20 b + 10 c space
of at most 150, and a at most 8. Best 51 3/7 at 6 3/7, 4 2/7, 0; an hour is worth 11/14, space 1/35. They
hold for 37.5 to 65.5 hours and 128 to 240 of space.

Mapping: what is made is what is not short, so the gain is the penalty for all that is ordered less the
least cost. Each product is an own-root plant in a format of its own, a cell a tray, that takes those hours
to sow and those slots for its one day on the bench. Of a 8 are ordered, of b and c more than can be made.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.scenario.choices import Decline, Task, ZoneUse
from model.scenario.entities import Product, Scenario, TrayFormat
from model.scenario.records.people import LabourStandard
from tests.known_answers.build import (
    crew,
    lot,
    only_price,
    order,
    own_root,
    own_root_method,
    planned,
    pool,
    seed_price,
)

GLASSES = {"a": (8, 5.0, 6, 10), "b": (100, 4.5, 5, 20), "c": (100, 6.0, 8, 10)}
"""Ordered, gain, hours and space of each."""

ALL = sum(ordered * gain for ordered, gain, _, _ in GLASSES.values())


def molder(hours: float = 60, space: float = 150) -> Scenario:
    return own_root(
        2,
        [order(name, n, 1, name, shortfall_penalty=gain) for name, (n, gain, _, _) in GLASSES.items()],
        products=tuple(Product(name, "tomato", "variety", None, "own-root", name) for name in GLASSES),
        tray_formats=tuple(TrayFormat(name, 1, slots) for name, (_, _, _, slots) in GLASSES.items()),
        methods=(own_root_method(scion_age_min=1, scion_age_max=1),),
        zones=(pool("bench", ZoneUse.BENCH, space), pool("hold", ZoneUse.HOLDING)),
        crews=(crew(heads=hours, hours_per_head_day=1),),
        labour_standards=tuple(
            LabourStandard(Task.SOW, "sowing", None, name, 3600.0 * work)
            for name, (_, _, work, _) in GLASSES.items()
        ),
    )


def test_declined_for_their_price_the_gain_is_the_same(tmp_path: Path) -> None:
    """The products as orders with prices that may be declined in part: what is made is what is accepted."""
    orders = tuple(
        order(name, n, 1, name, price=gain, decline=Decline.PART) for name, (n, gain, _, _) in GLASSES.items()
    )
    result = planned(replace(molder(), orders=orders), tmp_path)
    assert ALL - result.cost == pytest.approx(51 + 3 / 7)
    assert result.orders["own"].tolist() == pytest.approx([6 + 3 / 7, 4 + 2 / 7, 0], abs=1e-7)
    assert result.orders["declined"].tolist() == pytest.approx([8 - 6 - 3 / 7, 100 - 4 - 2 / 7, 100])
    hour, space = only_price(result, "regular hours"), only_price(result, "slots")
    assert (hour.value, hour.low, hour.high) == pytest.approx((-11 / 14, 37.5, 65.5))
    assert (space.value, space.low, space.high) == pytest.approx((-1 / 35, 128, 240))


def test_gain_and_what_is_made(tmp_path: Path) -> None:
    result = planned(molder(), tmp_path)
    assert ALL - result.cost == pytest.approx(51 + 3 / 7)
    assert result.orders["own"].tolist() == pytest.approx([6 + 3 / 7, 4 + 2 / 7, 0], abs=1e-7)


def test_worth_of_an_hour_and_of_space_and_how_far_it_holds(tmp_path: Path) -> None:
    result = planned(molder(), tmp_path)
    hour, space = only_price(result, "regular hours"), only_price(result, "slots")
    assert (hour.value, hour.low, hour.high) == pytest.approx((-11 / 14, 37.5, 65.5))
    assert (space.value, space.low, space.high) == pytest.approx((-1 / 35, 128, 240))


@pytest.mark.parametrize("hours, space", [(37.5, 150), (65.5, 150), (60, 128), (60, 240)])
def test_to_the_ends_of_the_range_the_gain_follows_the_prices(
    tmp_path: Path, hours: float, space: float
) -> None:
    gain = 51 + 3 / 7 + (hours - 60) * 11 / 14 + (space - 150) / 35
    assert ALL - planned(molder(hours, space), tmp_path).cost == pytest.approx(gain)


@pytest.mark.parametrize("hours, space", [(36.5, 150), (66.5, 150), (60, 120), (60, 250)])
def test_past_the_ends_it_gains_less(tmp_path: Path, hours: float, space: float) -> None:
    gain = 51 + 3 / 7 + (hours - 60) * 11 / 14 + (space - 150) / 35
    assert ALL - planned(molder(hours, space), tmp_path).cost < gain - 1e-3


def test_a_price_of_nothing_is_a_price(tmp_path: Path) -> None:
    """An order that may be declined at a price of 0 reads so, and is declined: what it takes costs money."""
    orders = [
        order("paid", 3, 1, "paid", price=100.0, decline=Decline.PART),
        order("free", 5, 1, "free", price=0.0, decline=Decline.PART),
    ]
    scenario = own_root(
        2,
        orders,
        products=tuple(
            Product(name, "crop", "variety", None, "own-root", "one") for name in ("paid", "free")
        ),
        tray_formats=(TrayFormat("one", 1, 1.0),),
        seed_lots=(lot(stock=0),),
        packs=(seed_price(2),),
    )
    result = planned(scenario, tmp_path)
    assert result.orders["declined"].tolist() == pytest.approx([0, 5])
    assert result.cost == pytest.approx(3 * 2)
