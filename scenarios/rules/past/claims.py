"""Rows of progress that use up a limited thing, and those that use more of it than there is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator
from math import inf
from typing import NamedTuple

from scenarios.cells.draft import Draft, DraftRow
from scenarios.cells.faults import Fault, shown
from scenarios.cells.parse import plain

SLACK = 1e-6
"""Share by which a sum of fractions may exceed its limit."""


class Claim(NamedTuple):
    """The amount of a limited thing that a row uses."""

    row: DraftRow
    of: Hashable
    amount: float


class Excess(NamedTuple):
    """A row that uses more of a thing than earlier rows have left of it."""

    row: DraftRow
    of: Hashable
    before: float
    most: float


def excesses(claims: Iterable[Claim], most: dict[Hashable, float]) -> Iterator[Excess]:
    """For each thing, the first row by day with which its use exceeds ``most``; a row is named once."""
    taken: dict[Hashable, float] = defaultdict(float)
    over: set[Hashable] = set()
    rows: set[int] = set()
    for row, of, amount in sorted(claims, key=lambda claim: claim.row["day"]):
        before = taken[of]
        taken[of] += amount
        limit = most.get(of, inf)
        if taken[of] > limit * (1 + SLACK) and of not in over:
            over.add(of)
            if id(row) not in rows:
                rows.add(id(row))
                yield Excess(row, of, before, limit)


def too_many(
    draft: Draft, claims: Iterable[Claim], most: dict[Hashable, float], things: str, than: str, remedy: str
) -> Iterator[Fault]:
    """Faults of rows that use more than there is; ``than``: what there is, with {} for the thing used."""
    for row, of, before, there in excesses(claims, most):
        name = shown(of) if isinstance(of, str) else of
        wrong = f"{with_before(before, things)} more than the {plain(there)} {than.format(name)}"
        at_most = f"write at most {plain(there - before)}, or {remedy}"
        yield draft.spoiled(row, "number", wrong, at_most)


def with_before(before: float, things: str) -> str:
    """How a message begins: the amount that earlier rows use of the same thing."""
    return f"plus {plain(before)} {things} of earlier rows is" if before else "is"
