"""How the audit reports a problem: where it is, and how large."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

RELATIVE, ABSOLUTE = 1e-6, 1e-4
"""Amounts may differ by this share or by this amount, whichever is larger: sums of the solver's tolerance."""

CENT = 0.005
MATCH = 2e-3
"""Stem match may differ by this much: the program pairs 2,000 quantiles, while the audit integrates."""

Problem = tuple[str, float]
"""A text that says what is wrong and where, and the size of the difference."""


def more(a: float, b: float, allowed: float = ABSOLUTE) -> bool:
    """Whether a exceeds b by more than the tolerance. NaN always does."""
    return _exceeds_tolerance(a - b, a, b, allowed)


def off(a: float, b: float, allowed: float = ABSOLUTE) -> bool:
    """Whether a and b differ by more than the tolerance."""
    return _exceeds_tolerance(abs(a - b), a, b, allowed)


def _exceeds_tolerance(difference: float, a: float, b: float, allowed: float) -> bool:
    return not (difference <= allowed or difference <= RELATIVE * max(abs(a), abs(b)))


def differs(place: str, planned: float, right: float, allowed: float = ABSOLUTE) -> Iterator[Problem]:
    """A problem if the amount in the plan differs from that of the replay."""
    if off(planned, right, allowed):
        yield f"{place}: the plan says {planned:,.4f}, the replay {right:,.4f}", abs(planned - right)


def exceeds(place: str, used: float, limit: float) -> Iterator[Problem]:
    """A problem if ``used`` is more than ``limit``."""
    if more(used, limit):
        yield f"{place}: {used:,.4f} is more than {limit:,.4f}", used - limit


def wrong(place: str, right: bool) -> Iterator[Problem]:
    """A problem described by ``place``, unless ``right``."""
    if not right:
        yield place, 1.0


def unless(place: str, rights: Mapping[str, bool]) -> Iterator[Problem]:
    """A problem of the place for each text whose condition does not hold."""
    for what, right in rights.items():
        yield from wrong(f"{place}: {what}", right)


def must_be(place: str, what: str, told: object, right: object) -> Iterator[Problem]:
    """A problem if the plan tells something else than what is right."""
    return wrong(f"{place}: {what} must be {right}, not {told}", told == right)
