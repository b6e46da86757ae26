"""K9 overbooking: the exact binomial, where the normal approximation is one off.

Source: Triola, Elementary Statistics, section 6-6, no. 22. 213 places, each booking is kept with .9005: the
most bookings for which all that come find a place with a chance of at least .95 are 229. The normal
approximation says 228.

Mapping: all find a place where at least bookings − 213 stay away. A booking that stays away is a join that
takes, so this is the chance of enough.
"""

from __future__ import annotations

import pytest
from scipy.stats import norm

from model.rates.overseeding import chance_of_enough, joins_needed

PLACES, KEPT, LEVEL = 213, 0.9005, 0.95
MOST = 229


def chance_all_fit(bookings: int) -> float:
    return chance_of_enough(bookings, bookings - PLACES, 1 - KEPT)


def test_most_bookings_by_the_exact_binomial() -> None:
    fitting = [n for n in range(PLACES, 2 * PLACES) if chance_all_fit(n) >= LEVEL]
    assert max(fitting) == MOST


def test_normal_approximation_is_one_off() -> None:
    def approximate(n: int) -> float:
        """With continuity correction."""
        return float(norm.cdf((PLACES + 0.5 - n * KEPT) / (n * KEPT * (1 - KEPT)) ** 0.5))

    assert max(n for n in range(PLACES, 2 * PLACES) if approximate(n) >= LEVEL) == MOST - 1


@pytest.mark.parametrize("bookings, enough", [(MOST, True), (MOST + 1, False)])
def test_the_same_read_as_joins(bookings: int, enough: bool) -> None:
    """Joins needed for bookings − 213 that stay away are no more than the bookings, up to 229."""
    assert (joins_needed(bookings - PLACES, 1 - KEPT, LEVEL) <= bookings) == enough
