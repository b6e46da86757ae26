"""The gap told of a small nursery, in which packs and waves are large beside the orders."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from model.scenario.entities import Product, Scenario
from model.scenario.records.trade import Pack
from model.solve import solve
from tests.scenario_parts import day, lot, order
from tests.strategies import base_scenario, with_nursery

MOST = 0.02
"""The largest gap told of such a nursery."""


def small_nursery(seed: int, wave_cost: float) -> Scenario:
    """24 orders of 80 to 600 plants of four products over seven weeks: 150 to 170 waves, all with packs."""
    rng = random.Random(seed)
    names = [f"P{n}" for n in range(4)]
    products = tuple(
        Product(name, "tomato", f"S{n}", f"R{n % 2}", "splice", "ten", ("twenty",))
        for n, name in enumerate(names)
    )
    varieties = sorted({p.scion for p in products} | {p.rootstock for p in products if p.rootstock})
    book = replace(
        base_scenario(),
        products=products,
        orders=tuple(
            order(f"O{n}", rng.choice(names), 20 * rng.randint(4, 30), rng.randint(16, 66)) for n in range(24)
        ),
        seed_lots=tuple(lot(variety, variety, stock=0) for variety in varieties),
        packs=tuple(
            Pack(variety, units, price)
            for variety in varieties
            for units, price in ((500, 60.0), (2000, 200.0))
        ),
    )
    return with_nursery(book, last_day=day(68), wave_cost=wave_cost)


@pytest.mark.parametrize(("seed", "wave_cost"), [(1, 30.0), (4, 100.0)])
def test_the_gap_told_of_a_small_nursery_is_near_the_true_one(seed: int, wave_cost: float) -> None:
    """By the bound of the continuous program alone the gap would be more than four times as large."""
    solved = solve(small_nursery(seed, wave_cost))
    cost = solved.solution.objective
    assert 150 <= len(solved.program.network.waves) <= 170
    assert cost > (1 + 4 * MOST) * solved.continuous.objective
    assert solved.bound <= cost <= (1 + MOST) * solved.bound
