"""Stem match: greedy pairing against general matching on samples, and Strassen's theorem on Normals."""

from __future__ import annotations

from itertools import chain, combinations
from math import ceil

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from model.rates.yields import QUANTILES, match_share
from tests.depth import deep
from tests.independent_parts import matched_pairs, paired_share

CELLS_A_TOLERANCE, CELLS_A_SPREAD = 40, 20
"""Least grid cells in a tolerance and in a spread; the bracket of the supremum is one cell's worth wide."""

stems = st.lists(st.integers(0, 60), min_size=0, max_size=25).map(sorted)
means = st.floats(1.0, 3.0)
spreads = st.floats(0.05, 0.5)
tolerances = st.floats(0.05, 0.6)


def general_matching(a: list[int], b: list[int], tolerance: int) -> int:
    """Most pairs by a matching that knows nothing of lines (Hopcroft, Karp)."""
    graph = nx.Graph()
    top = [("a", i) for i in range(len(a))]
    graph.add_nodes_from(top)
    graph.add_nodes_from(("b", j) for j in range(len(b)))
    graph.add_edges_from(
        (("a", i), ("b", j)) for i, x in enumerate(a) for j, y in enumerate(b) if abs(x - y) <= tolerance
    )
    return len(nx.bipartite.maximum_matching(graph, top_nodes=top)) // 2


def most_unmatched(p: NDArray[np.float64], q: NDArray[np.float64], reach: int) -> float:
    """Supremum over unions S of grid cells of p(S) - q(S and all cells within ``reach``).

    best[i] is the most with i the last cell of S: either S goes on from an earlier last cell whose
    surroundings touch those of i, or the surroundings of i are all new.
    """
    cells = len(p)
    below = np.concatenate((np.zeros(reach + 1), np.cumsum(q), np.full(reach, q.sum())))

    def upto(i: int) -> float:
        return float(below[i + reach + 1])

    best, apart, top = np.zeros(cells), 0.0, 0.0
    touching = np.zeros(cells)
    for i in range(cells):
        if i > 2 * reach:
            apart = max(apart, best[i - 2 * reach - 1])
        choices = apart - upto(i + reach) + upto(i - reach - 1)
        near = touching[max(0, i - 2 * reach) : i]
        if near.size:
            choices = max(choices, float(near.max()) - upto(i + reach))
        best[i] = p[i] + choices
        touching[i] = best[i] + upto(i + reach)
        top = max(top, best[i])
    return float(top)


def strassen(mean_a: float, sd_a: float, mean_b: float, sd_b: float, tolerance: float) -> tuple[float, float]:
    """Bounds of the share matched, 1 - sup over sets A of P(A) - Q(A widened by the tolerance).

    Unions of cells are some of the sets, so they give an upper bound of the share. Widening any set to
    whole cells loses at most one cell of reach, so one cell less gives a lower bound.
    """
    cells = max(CELLS_A_TOLERANCE, ceil(CELLS_A_SPREAD * tolerance / min(sd_a, sd_b)))
    step = tolerance / cells
    low = min(mean_a - 8 * sd_a, mean_b - 8 * sd_b)
    high = max(mean_a + 8 * sd_a, mean_b + 8 * sd_b)
    edges = np.arange(low, high + 2 * step, step)
    p, q = (np.diff(norm.cdf(edges, mean, sd)) for mean, sd in ((mean_a, sd_a), (mean_b, sd_b)))
    upper = 1 - most_unmatched(p, q, cells)
    lower = 1 - most_unmatched(p, q, cells - 1)
    return lower, upper


@given(stems, stems, st.integers(0, 8))
def test_greedy_pairs_as_many_as_general_matching(a: list[int], b: list[int], tolerance: int) -> None:
    assert matched_pairs(a, b, tolerance) == general_matching(a, b, tolerance)


@given(
    st.lists(st.integers(0, 9), min_size=9, max_size=9),
    st.lists(st.integers(0, 9), min_size=9, max_size=9),
    st.integers(0, 3),
)
def test_supremum_is_that_over_all_sets(p: list[int], q: list[int], reach: int) -> None:
    cells = range(len(p))
    sets = chain.from_iterable(combinations(cells, n) for n in range(len(p) + 1))
    all_sets = max(
        sum(p[i] for i in s) - sum(q[j] for j in cells if any(abs(i - j) <= reach for i in s)) for s in sets
    )
    assert most_unmatched(np.array(p, float), np.array(q, float), reach) == pytest.approx(all_sets)


@settings(max_examples=deep(40))
@given(means, spreads, means, spreads, tolerances)
def test_share_is_strassens(a: float, sd_a: float, b: float, sd_b: float, tolerance: float) -> None:
    lower, upper = strassen(a, sd_a, b, sd_b, tolerance)
    share = float(match_share(a, sd_a, b, sd_b, tolerance))
    assert upper - lower < 0.05
    assert lower - 2 / QUANTILES <= share <= upper + 2 / QUANTILES


@pytest.mark.parametrize("sd", [0.1, 0.3])
@pytest.mark.parametrize("apart", [0.0, 0.2, 0.5, 1.0])
@pytest.mark.parametrize("tolerance", [0.1, 0.2, 0.4])
def test_like_spreads_in_closed_form(sd: float, apart: float, tolerance: float) -> None:
    """Of like spread the worst set is a half-line: the share is 2 (1 - Phi((apart - tolerance) / 2 sd))."""
    share = float(match_share(2.0, sd, 2.0 + apart, sd, tolerance))
    closed = 2 * norm.sf(max(apart - tolerance, 0.0) / (2 * sd))
    assert share == pytest.approx(closed, abs=2 / QUANTILES)


@settings(max_examples=deep(30))
@given(means, spreads, means, spreads, tolerances)
def test_share_counted_from_either_side(
    a: float, sd_a: float, b: float, sd_b: float, tolerance: float
) -> None:
    share = float(match_share(a, sd_a, b, sd_b, tolerance))
    assert float(match_share(b, sd_b, a, sd_a, tolerance)) == pytest.approx(share, abs=1 / QUANTILES)
    assert paired_share(a, sd_a, b, sd_b, tolerance) == pytest.approx(share, abs=1 / QUANTILES)


@settings(max_examples=deep(20))
@given(means, spreads, means, spreads, tolerances, tolerances)
def test_wider_tolerance_matches_no_fewer(
    a: float, sd_a: float, b: float, sd_b: float, one: float, other: float
) -> None:
    narrow, wide = sorted((one, other))
    assert match_share(a, sd_a, b, sd_b, narrow) <= match_share(a, sd_a, b, sd_b, wide)


def test_shares_of_many_at_once_are_those_of_each() -> None:
    a, b = np.array([[1.0], [1.5]]), np.array([1.0, 1.2, 2.5])
    together = match_share(a, 0.2, b, 0.3, 0.15)
    assert together.shape == (2, 3)
    for i, row in enumerate(a[:, 0]):
        for j, column in enumerate(b):
            assert together[i, j] == match_share(row, 0.2, column, 0.3, 0.15)


def test_large_samples_come_near_the_share() -> None:
    rng = np.random.default_rng(20270301)
    a, b = np.sort(rng.normal(1.8, 0.2, 40_000)), np.sort(rng.normal(2.1, 0.3, 40_000))
    pairs = matched_pairs(a.tolist(), b.tolist(), 0.15)
    assert pairs / 40_000 == pytest.approx(float(match_share(1.8, 0.2, 2.1, 0.3, 0.15)), abs=0.01)
