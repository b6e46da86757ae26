"""K13 margin against spread, and K8 a tray of pots read as a margin.

K13 (computed for this project, by counting terms): 100 good at a level of 95 % with a mean of .9 take 117
joins where .9 is certain, 118 for Beta(900, 100), 121 for Beta(90, 10), 141 for Beta(9, 1).

K8: Cambridge Pre-U 9794/3, June 2015, question 5: three seeds a pot, germination .7; a pot has a seedling
with .973, all six with .8485.
"""

from __future__ import annotations

import pytest
from scipy.stats import betabinom

from model.rates.overseeding import Beta, cells_needed, chance_of_enough, joins_needed


@pytest.mark.parametrize("size, joins", [(None, 117), (1000, 118), (100, 121), (10, 141)])
def test_joins_for_a_hundred(size: int | None, joins: int) -> None:
    """``size`` is α + β: the correlation is 1/(α + β + 1)."""
    correlation = 0.0 if size is None else 1 / (size + 1)
    assert joins_needed(100, 0.9, 0.95, correlation) == joins


@pytest.mark.parametrize("alpha, beta, joins", [(900, 100, 118), (90, 10, 121), (9, 1, 141)])
def test_the_same_counted_from_one_upwards(alpha: int, beta: int, joins: int) -> None:
    assert next(n for n in range(1, 1000) if betabinom.sf(99, n, alpha, beta) >= 0.95) == joins


def test_correlation_gives_back_the_parameters() -> None:
    rate = Beta(0.9, 1 / 101)
    assert (rate.alpha, rate.beta) == pytest.approx((90, 10))


def test_tray_of_pots() -> None:
    assert chance_of_enough(6, 6, 0.973) == pytest.approx(0.8485, abs=5e-5)
    assert cells_needed(6, 0.7, 0.0, 3, 0.8484) == 6
    assert cells_needed(6, 0.7, 0.0, 3, 0.8486) == 7
