"""Whole packs: worked by hand, and against HiGHS."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from model.scenario.records.trade import Pack
from model.solve import solve
from model.solver.compiled import SolveError
from model.solver.dive import held_whole
from model.solver.packs import Size, cheapest_packs
from model.solver.tidied import repacked
from tests.depth import deep
from tests.strategies import base_scenario


@pytest.mark.parametrize(
    ("units", "sizes", "packs"),
    [
        (0.0, [Size(100, 5.0)], [0]),
        (201.0, [Size(100, 5.0)], [3]),
        # 1,300 units: a pack of 1,000 and three of 100 cost 70; two of 1,000 cost 80.
        (1300.0, [Size(100, 10.0), Size(1000, 40.0)], [3, 1]),
        (1401.0, [Size(100, 10.0), Size(1000, 40.0)], [0, 2]),
        # The dearest a unit is the cheapest pack that holds what is needed.
        (1.3, [Size(18, 8.11), Size(8, 4.0), Size(11, 4.29)], [0, 1, 0]),
        # Two of 7 hold 14 for 14; one of 10 and one of 7 would cost 16.
        (13.0, [Size(10, 9.0), Size(7, 7.0)], [0, 2]),
        # One pack of 10 is ordered already, and no more than two of 20 can be had.
        (75.0, [Size(10, 6.0, 1, inf), Size(20, 10.0, 0, 2)], [4, 2]),
        # A free size is as good as any.
        (95.0, [Size(50, 0.0), Size(100, 3.0)], [2, 0]),
    ],
)
def test_packs_worked_by_hand(units: float, sizes: list[Size], packs: list[int]) -> None:
    assert cheapest_packs(units, sizes) == packs


def test_too_few_packs() -> None:
    with pytest.raises(SolveError):
        cheapest_packs(41.0, [Size(20, 10.0, 0, 2)])


def test_millions_of_units_in_packs_of_one_price_a_unit() -> None:
    """20,000 packs of 500 and one of 50 hold 10,000,013.5 units; no whole packs cost less."""
    sizes = [Size(100, 2.0), Size(50, 1.0), Size(500, 10.0)]
    assert cheapest_packs(10_000_013.5, sizes) == [0, 1, 20_000]


SIZES = st.builds(
    Size,
    st.integers(1, 400).map(lambda n: n / 4),
    st.integers(0, 4000).map(lambda n: n / 100),
    st.integers(0, 2),
    st.sampled_from([inf, 3.0, 8.0]),
)


@settings(max_examples=deep(300))
@given(st.integers(-40, 4000).map(lambda n: n / 8), st.lists(SIZES, min_size=1, max_size=4))
def test_no_packs_are_cheaper(units: float, sizes: list[Size]) -> None:
    holds, price = np.array([size.units for size in sizes]), np.array([size.price for size in sizes])
    found = milp(
        price,
        integrality=np.ones(len(sizes)),
        bounds=Bounds([size.least for size in sizes], [size.most for size in sizes]),
        constraints=LinearConstraint(holds[None, :], units, np.inf),
    )
    if found.x is None:
        with pytest.raises(SolveError):
            cheapest_packs(units, sizes)
        return
    packs = np.array(cheapest_packs(units, sizes))
    assert holds @ packs >= units - 1e-5
    assert all(size.least <= n <= size.most for size, n in zip(sizes, packs.tolist(), strict=True))
    assert price @ packs == pytest.approx(found.fun, abs=1e-6)


def test_packs_larger_than_needed_are_bought_smaller() -> None:
    """200 scion seeds or fewer: two packs of 100 cost 60, one of 500 costs 110."""
    sizes = (Pack("Red A", 100.0, 30.0), Pack("Red A", 500.0, 110.0), Pack("Stout A", 50.0, 14.0))
    solved = solve(base_scenario(packs=sizes))
    compiled, best = solved.compiled, solved.solution
    small, large = compiled.position["packs_bought"][:2].tolist()
    columns = best.columns.copy()
    assert columns[[small, large]].tolist() == [2.0, 0.0]
    columns[[small, large]] = 0.0, 1.0
    dearer = held_whole(compiled, replace(best, columns=columns))
    assert dearer.objective == pytest.approx(best.objective + 50)
    assert repacked(compiled, dearer).objective == pytest.approx(best.objective)
    assert repacked(compiled, best) is best
