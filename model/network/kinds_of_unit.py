"""Kinds of units: where groups may not share one, each unit is for plants without certain groups."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from functools import cached_property

from model.network.groups import Group, both, flows_of
from model.network.types import Network
from model.scenario.choices import Shared

Kind = tuple[Group, ...]
"""Groups whose plants may not be in a unit of this kind, in order."""

Pair = tuple[Group, Group]


class KindsOfUnit:
    """Kinds of units of the zones of a network, by what could be loaded together."""

    def __init__(self, network: Network) -> None:
        self.network = network

    @cached_property
    def rules(self) -> list[tuple[str | None, Pair]]:
        """Zone, None for all, and groups of each rule about units."""
        rules = self.network.scenario.apart
        return [(rule.zone, both(rule)) for rule in rules if rule.share is Shared.UNIT]

    @cached_property
    def holders(self) -> dict[Group, set[int]]:
        """Flows that may hold plants of each group of the rules."""
        return {group: flows_of(self.network, group) for _, pair in self.rules for group in pair}

    def _past(self, f: int) -> bool:
        return self.network.flows[f].graft < self.network.past.today

    def kinds(self, zone: str, flows: Collection[int]) -> list[Kind]:
        """Kinds of units of a zone that these flows could be loaded into; one for all where none need part.

        A kind leaves out one group of each pair, and no more groups than that takes. The last is for plants
        grafted before today, which stay together as they are, and for such as belong to no group.
        """
        pairs = {
            pair
            for of, pair in self.rules
            if of in (None, zone) and all(not self.holders[group].isdisjoint(flows) for group in pair)
        }
        if not pairs:
            return [()]
        found = covers(pairs)
        groups = tuple(sorted({group for pair in pairs for group in pair}))
        if any(self._past(f) for group in groups for f in self.holders[group] & set(flows)):
            found.append(groups)
        return list(dict.fromkeys(found))

    def open_to(self, f: int, kinds: list[Kind]) -> Iterable[int]:
        """Positions of the kinds of unit that a flow may be loaded into, as far as is known beforehand.

        One from before today may be in units that leave out none of its groups, and always in the last kind.
        """
        last = len(kinds) - 1
        if last == 0 or not self._past(f):
            return range(last + 1)
        without = [k for k in range(last) if not any(f in self.holders[group] for group in kinds[k])]
        return [*without, last]


def covers(pairs: Iterable[Pair]) -> list[Kind]:
    """All sets of groups with one of each pair at least, none of which is part of another, in order."""
    found: set[frozenset[Group]] = {frozenset()}
    for pair in pairs:
        found = {each if each & set(pair) else each | {group} for each in found for group in pair}
    least = [each for each in found if not any(other < each for other in found)]
    return sorted(tuple(sorted(each)) for each in least)
