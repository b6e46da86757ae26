"""Stand, stem match, take: shares on the plants' way."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from model.rates.yields import (
    Pairing,
    match_share,
    stand,
    stem_diameter,
    stem_match,
    take_at,
    usable_per_tray,
)
from model.scenario.choices import MatchFrom
from model.scenario.entities import SeedLot, TrayFormat
from model.scenario.records.methods import AgeEffect
from tests.independent_parts import matched_pairs
from tests.known_answers.build import grafted_method, lot, own_root_method


def measured(start: float, growth: float = 0.1, spread: float = 0.2, more: float = 0.0) -> SeedLot:
    return lot(
        diameter_start_mm=start,
        diameter_growth_mm_per_day=growth,
        diameter_spread_mm=spread,
        diameter_spread_growth_mm_per_day=more,
    )


@pytest.mark.parametrize(
    "germination, seeds, grade_out, share",
    [(0.9, 1, 0.0, 0.9), (0.9, 1, 0.1, 0.81), (0.5, 2, 0.0, 0.75), (0.5, 3, 0.2, 0.7), (1.0, 1, 0.0, 1.0)],
)
def test_stand(germination: float, seeds: int, grade_out: float, share: float) -> None:
    found = stand(lot(germination=germination, seeds_per_cell=seeds, grade_out=grade_out))
    assert found == pytest.approx(share)


def test_usable_seedlings_per_tray() -> None:
    """72 cells at .9 are 64.8; with a fifth more sown than drawn, 54 are counted on."""
    tray = TrayFormat("seventy-two", 72, 1.0)
    assert usable_per_tray(lot(germination=0.9), tray, 0.0) == pytest.approx(64.8)
    assert usable_per_tray(lot(germination=0.9), tray, 0.2) == pytest.approx(54.0)


def test_stem_diameter_grows_with_age() -> None:
    assert stem_diameter(measured(1.0, 0.1, 0.2, 0.01), 12) == pytest.approx((2.2, 0.32))


@pytest.mark.parametrize("blank", ["diameter_start_mm", "diameter_growth_mm_per_day", "diameter_spread_mm"])
def test_a_lot_without_diameters_has_no_stem_diameter(blank: str) -> None:
    given: dict[str, Any] = {
        "diameter_start_mm": 1.0,
        "diameter_growth_mm_per_day": 0.1,
        "diameter_spread_mm": 0.2,
    }
    with pytest.raises(ValueError, match="has no stem diameters"):
        stem_diameter(lot(**given | {blank: None}), 10)


def test_pairs_by_hand() -> None:
    """1.0 with 1.2 and 1.9 with 2.0; 3.0 finds none."""
    assert matched_pairs([1.0, 1.9, 3.0], [1.2, 2.0, 4.0], 0.25) == 2
    assert matched_pairs([1.0, 1.9, 3.0], [1.2, 2.0, 4.0], 0.15) == 1
    assert matched_pairs([1.0, 1.9, 3.0], [1.2, 2.0, 4.0], 1.0) == 3
    assert matched_pairs([], [1.0], 1.0) == 0


def test_a_difference_of_the_tolerance_fits() -> None:
    assert matched_pairs([1.0], [1.5], 0.5) == 1


def test_no_pairing_has_more_pairs() -> None:
    """Against all ways to pair 5 and 5 stems, on 40 draws."""
    rng = np.random.default_rng(4)
    for _ in range(40):
        a, b = np.sort(rng.normal(2.0, 0.3, 5)), np.sort(rng.normal(2.2, 0.4, 5))
        best = max(sum(abs(x - y) <= 0.2 for x, y in zip(a, other, strict=True)) for other in permutations(b))
        assert matched_pairs(a.tolist(), b.tolist(), 0.2) == best


def test_equal_populations_match_wholly_and_distant_ones_not_at_all() -> None:
    assert match_share(2.0, 0.3, 2.0, 0.3, 0.01) == pytest.approx(1.0)
    assert match_share(2.0, 0.1, 5.0, 0.1, 0.1) == pytest.approx(0.0)


@pytest.mark.parametrize("shift, tolerance", [(0.5, 0.2), (0.3, 0.1), (1.0, 0.25)])
def test_share_of_two_populations_of_one_spread(shift: float, tolerance: float) -> None:
    """Strassen: with means apart by more than the tolerance, 1 - sup(F(x) - G(x + tolerance)).

    For Normal(0, s) and Normal(shift, s) the sup is at the middle: 2 Phi((shift - tolerance) / 2s) - 1.
    """
    spread = 0.4
    wanted = 2 * norm.sf((shift - tolerance) / (2 * spread))
    assert match_share(2.0, spread, 2.0 + shift, spread, tolerance) == pytest.approx(wanted, abs=1e-3)
    assert match_share(2.0 + shift, spread, 2.0, spread, tolerance) == pytest.approx(wanted, abs=1e-3)


def test_shares_of_many_populations_are_those_of_each() -> None:
    means, tolerances = np.array([2.0, 2.2, 2.6]), np.array([0.1, 0.2])
    table = match_share(2.0, 0.3, means[:, None], 0.25, tolerances[None, :])
    assert table.shape == (3, 2)
    for i, mean in enumerate(means):
        for j, tolerance in enumerate(tolerances):
            assert table[i, j] == match_share(2.0, 0.3, mean, 0.25, tolerance)


def test_share_is_that_of_pairing_sorted_quantiles() -> None:
    quantiles = norm.ppf((np.arange(2000) + 0.5) / 2000)
    a, b = 2.0 + 0.3 * quantiles, 2.3 + 0.45 * quantiles
    pairs = matched_pairs(a.tolist(), b.tolist(), 0.15)
    assert float(match_share(2.0, 0.3, 2.3, 0.45, 0.15)) == pytest.approx(pairs / 2000, abs=1e-12)


def test_match_as_one_number() -> None:
    method = grafted_method(match=0.9)
    assert stem_match([Pairing(method, lot(), lot(), 10, 12)], {}) == [0.9]


def test_match_by_ages_exists_only_where_given() -> None:
    method = grafted_method(match_from=MatchFrom.AGES, match=None)
    effects = {
        ("splice", 10, 12): AgeEffect("splice", 10, 12, match=0.8),
        ("splice", 10, 13): AgeEffect("splice", 10, 13, take=0.7),
        ("other", 10, 14): AgeEffect("other", 10, 14, match=0.6),
    }
    pairings = [Pairing(method, lot(), lot(), 10, age) for age in (12, 13, 14)]
    assert stem_match(pairings, effects) == [0.8, None, None]


def test_match_from_diameters_is_best_at_ages_of_equal_stems() -> None:
    """Rootstock grows .1 mm a day from 1.0, scion .2 from 0.5: 2.0 and 1.9 at 10 and 7 days."""
    method = grafted_method(match_from=MatchFrom.DIAMETERS, match=None, stem_tolerance_mm=0.2)
    root, top = measured(1.0, 0.1), measured(0.5, 0.2)
    shares = stem_match([Pairing(method, root, top, 10, age) for age in (7, 8, 10, 12)], {})
    assert shares[0] == pytest.approx(1.0)
    assert shares[1] == pytest.approx(1.0)
    assert shares[2] == pytest.approx(2 * norm.sf(0.3 / 0.4), abs=1e-3)
    assert shares[3] == pytest.approx(2 * norm.sf(0.7 / 0.4), abs=1e-3)


def test_stems_that_never_match_are_not_joined() -> None:
    method = grafted_method(match_from=MatchFrom.DIAMETERS, match=None, stem_tolerance_mm=0.1)
    assert stem_match([Pairing(method, measured(1.0), measured(9.0), 10, 10)], {}) == [None]


def test_take_at_the_ages() -> None:
    method = grafted_method(take=0.9)
    effects = {
        ("splice", 10, 12): AgeEffect("splice", 10, 12, take=0.8),
        ("splice", 10, 13): AgeEffect("splice", 10, 13, match=0.7),
    }
    assert take_at(method, effects, 10, 12) == 0.8
    assert take_at(method, effects, 10, 13) == 0.9
    assert take_at(method, effects, 12, 10) == 0.9


def test_own_root_plants_all_take() -> None:
    assert take_at(own_root_method(), {}, 10, 12) == 1.0
