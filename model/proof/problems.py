"""How the audit says that something is wrong: where, and by how much."""

from __future__ import annotations

from collections.abc import Iterator

RELATIVE, ABSOLUTE = 1e-6, 1e-4
"""Amounts may differ by this share or, if more, by this much: the solver's own tolerance, added up."""

CENT = 0.005
MATCH = 2e-3
"""Stem match may differ by this: the program pairs 2,000 quantiles, the audit integrates."""

Problem = tuple[str, float]
"""Where and what is wrong, and by how much."""


def more(a: float, b: float, allowed: float = ABSOLUTE) -> bool:
    """Whether a exceeds b by more than the tolerance. What is no number always does."""
    return not a - b <= max(allowed, RELATIVE * max(abs(a), abs(b)))


def off(a: float, b: float, allowed: float = ABSOLUTE) -> bool:
    """Whether a and b differ by more than the tolerance."""
    return more(a, b, allowed) or more(b, a, allowed)


def differs(place: str, planned: float, right: float, allowed: float = ABSOLUTE) -> Iterator[Problem]:
    """A problem where the plan says another amount than the replay."""
    if off(planned, right, allowed):
        yield f"{place}: {planned:,.4f} in the plan, {right:,.4f} by the replay", abs(planned - right)


def exceeds(place: str, used: float, limit: float) -> Iterator[Problem]:
    """A problem where more is used than there is."""
    if more(used, limit):
        yield f"{place}: {used:,.4f} where {limit:,.4f} is the limit", used - limit


def wrong(place: str, right: bool) -> Iterator[Problem]:
    """A problem where something is not right."""
    if not right:
        yield place, 1.0
