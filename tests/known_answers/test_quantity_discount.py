"""K7 Quantity discounts: packs follow the all-units rule, and any price a size may be put into packs.

Source: Nahmias, Production and Operations Analysis, 4.7: 600 units a year, 8 an order, 20 % holding a year;
a unit costs .30 below 500, .29 from 500, .28 from 1,000. Best order under the all-units rule 500 at 198.10
a year; under the incremental rule 400 at 204.00.

Mapping: a pack is an order of its size; its price is what it costs in all: the order, its units, and
holding half of it for as long as it lasts. The year's 600 units are seeds of one wave, and parts of packs
are orders a year. The program chooses the size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from model.scenario.entities import Scenario
from model.scenario.records.trade import Pack
from tests.known_answers.build import lot, order, own_root, planned

YEAR, ORDER, HOLDING = 600, 8.0, 0.20
BREAKS = ((0, 0.30), (500, 0.29), (1000, 0.28))
SIZES = range(50, 1501, 50)


def all_units(size: int) -> float:
    """Price of all units of an order: the last break it reaches."""
    return size * next(price for start, price in reversed(BREAKS) if size >= start)


def incremental(size: int) -> float:
    """Price of an order whose units cost what their own break says."""
    ends = [start for start, _ in BREAKS[1:]] + [10**9]
    steps = zip(BREAKS, ends, strict=True)
    return sum(max(0, min(size, end) - start) * price for (start, price), end in steps)


def year(price: Callable[[int], float]) -> Scenario:
    """The year's need, and an order of each size as a pack."""

    def pack(size: int) -> Pack:
        paid = price(size)
        holding = HOLDING * paid / size * size / 2 * size / YEAR
        return Pack("variety lot", float(size), ORDER + paid + holding)

    return replace(
        own_root(1, [order("year", YEAR, 0)], seed_lots=(lot(stock=0),)),
        packs=tuple(pack(size) for size in SIZES),
    )


@pytest.mark.parametrize(("rule", "size", "cost"), [(all_units, 500, 198.10), (incremental, 400, 204.00)])
def test_best_size_and_its_cost(tmp_path: Path, rule: Callable[[int], float], size: int, cost: float) -> None:
    made = planned(year(rule), tmp_path)
    assert made.cost == pytest.approx(cost, abs=0.005)
    (bought,) = made.purchases.itertuples()
    assert bought.size == size
    assert bought.packs == pytest.approx(YEAR / size)


def test_a_pack_costs_its_price_whatever_is_used_of_it(tmp_path: Path) -> None:
    """All-units: 600 units in packs of 500 at .29 and of 100 at .30 cost 175, no unit more, none less."""
    scenario = replace(
        year(all_units), packs=(Pack("variety lot", 500, 145.0), Pack("variety lot", 100, 30.0))
    )
    made = planned(scenario, tmp_path, whole=True)
    assert made.cost == pytest.approx(175.0)
