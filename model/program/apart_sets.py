"""Index sets of groups kept apart: which plants could meet where, and which orders have one lot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from itertools import product
from typing import NamedTuple

from model.network.as_counted import bought_before
from model.network.groups import Group, both, flows_of, lots_of, ordered_by
from model.network.types import Network
from model.program.amounts import Amounts, Key
from model.scenario.choices import GroupBy, Shared

GRAFTING_TABLE = "grafting table"
"""Stands for the grafting table where a zone stands otherwise."""

DECIDED = ("admitted", "carried", "lot_chosen")
"""Variables E, F and Z: what is where is a yes or no, whatever else may be in parts."""


SOME = 1e-6
"""Fewer trays or plants than this are none."""


class GroupInFlow(NamedTuple):
    """Index of F: a group, and a flow that may hold plants of it."""

    group: Group
    flow: int


class GroupOnDay(NamedTuple):
    """Index of E: a group in a zone, None for the grafting table, on a day.

    ``before``: what of it was there before today; else what comes from today on.
    """

    group: Group
    zone: str | None
    day: int
    before: bool


class LotOfOrder(NamedTuple):
    """Index of Z: an order of one lot, and a lot of its scions or its rootstocks."""

    order: int
    rootstock: bool
    lot: str


class Presence(NamedTuple):
    """Plants of a group in a zone or at the table, from ``start`` up to, but not including, ``end``.

    ``flow``: flow whose F says so, with ``key`` the plants held of it, None for all of it. Without a flow the
    decision ``key`` says so. ``before``: they were sown, grafted, ordered or ready before today.
    """

    group: Group
    zone: str | None
    start: int
    end: int
    flow: int | None
    key: Key | None
    before: bool

    def on(self, day: int) -> GroupOnDay:
        """The index of E on a day."""
        return GroupOnDay(self.group, self.zone, day, self.before)


Clash = tuple[GroupOnDay, GroupOnDay]
"""Two groups on two days of one place, of which only one may be there."""


class ApartSets:
    """What the rules of table ``apart`` and orders of one lot are about."""

    def __init__(self, network: Network, amounts: Amounts) -> None:
        self.network, self.amounts = network, amounts

    @cached_property
    def groups(self) -> list[Group]:
        """The groups that rules name."""
        return sorted({group for rule in self.network.scenario.apart for group in both(rule)})

    @cached_property
    def present(self) -> list[Presence]:
        """Where plants of each group could be; of lots that are only changed over for, at the table alone."""
        found = [found for group in self.groups for found in self._present(group)]
        return found + [found for group in self._lots for found in self._at_table(group)]

    @cached_property
    def _lots(self) -> list[Group]:
        """Lots that no rule names, if changing over takes time."""
        if self.network.scenario.nursery.change_over_seconds == 0:
            return []
        lots = {Group(GroupBy.LOT, wave.lot.lot) for wave in self.network.waves}
        return sorted(lots.difference(self.groups))

    def _at_table(self, group: Group) -> Iterator[Presence]:
        for f in sorted(flows_of(self.network, group)):
            flow = self.network.flows[f]
            if flow.grafted and flow.graft >= 0:
                yield Presence(group, None, flow.graft, flow.graft + 1, f, None, self._is_old(f))

    def _present(self, group: Group) -> Iterator[Presence]:
        network, today = self.network, self.network.past.today
        lots = lots_of(network.scenario, group)
        in_flow, ordered = flows_of(network, group), bought_before(network)
        yield from self._at_table(group)
        for f in sorted(in_flow):
            for stay in network.flows[f].stays:
                start = max(stay.start, 0)
                if stay.end > start:
                    yield Presence(group, stay.zone, start, stay.end, f, None, self._is_old(f))
        for s in self.amounts.standing:
            variable, n = s.key
            span = s.zone, s.start, s.end
            if s.trays > 0 and variable in ("sown", "left", "sown_into"):
                w = self.wave_of(s.key)
                if network.waves[w].lot.lot in lots:
                    yield Presence(group, *span, None, s.key, network.waves[w].sow < today)
            elif variable == "delivered":
                delivery = network.deliveries[n]
                if group.by is GroupBy.CUSTOMER:
                    if ordered_by(network, group, delivery.order):
                        ready = network.flows[delivery.flow].ready
                        packed = network.orders[delivery.order].packed(ready)
                        gone = packed is not None and packed < today
                        yield Presence(group, *span, None, s.key, gone)
                elif delivery.flow in in_flow:
                    old = self._stands_since(delivery.flow, s.zone) < today
                    yield Presence(group, *span, delivery.flow, s.key, old)
            elif variable == "bought" and self._bought(group, n):
                yield Presence(group, *span, None, s.key, n in ordered)

    def _is_old(self, f: int) -> bool:
        """Whether a flow was grafted before today."""
        return self.network.flows[f].graft < self.network.past.today

    def _stands_since(self, f: int, zone: str) -> int:
        """Day since which plants held in a zone stand there: since their last stay, if that is there too."""
        flow = self.network.flows[f]
        return flow.stays[-1].start if flow.stays and flow.stays[-1].zone == zone else flow.ready

    def wave_of(self, key: Key) -> int:
        """Index of the wave of trays sown, left on the bench, or germinating in a further zone."""
        variable, n = key
        if variable == "sown_into":
            return self.amounts.sown_into[n].wave
        return n if variable == "sown" else self.amounts.left[n].wave

    @cached_property
    def elsewhere(self) -> dict[tuple[int, str], list[tuple[int, range]]]:
        """Trays of a wave that are not in a zone where it stands: indices of X and days, by wave and zone."""
        found: dict[tuple[int, str], list[tuple[int, range]]] = defaultdict(list)
        for s in self.amounts.standing:
            if s.key[0] == "sown_into" and s.trays < 0:
                found[self.wave_of(s.key), s.zone].append((s.key[1], range(s.start, s.end)))
        return found

    def days_there(self, present: Presence, value: Callable[[Key], float]) -> Sequence[int]:
        """Days of a presence on which some of its trays or plants are there; none decides it: all days.

        ``value``: of decisions. Of trays sown those are there that do not germinate elsewhere on the day.
        """
        days, key = range(present.start, present.end), present.key
        if key is None:
            return days
        there = value(key)
        away = self.elsewhere.get((key[1], present.zone or ""), []) if key[0] == "sown" else []
        if not away or there <= SOME:
            return days if there > SOME else range(0)
        gone = [(value(("sown_into", m)), span) for m, span in away]
        return [t for t in days if there - sum(trays for trays, span in gone if t in span) > SOME]

    def _bought(self, group: Group, i: int) -> bool:
        """Whether plants bought in belong to the group: to a crop or to a customer."""
        order = self.network.buy_ins[i].order
        if group.by is GroupBy.CROP:
            return self.network.orders[order].product.crop == group.name
        return ordered_by(self.network, group, order)

    @cached_property
    def _days(self) -> dict[Group, dict[str | None, dict[int, set[GroupOnDay]]]]:
        """Where plants of each group could be: indices of E by place and day."""
        days: dict[Group, dict[str | None, dict[int, set[GroupOnDay]]]]
        days = defaultdict(lambda: defaultdict(lambda: defaultdict(set)))
        for p in self.present:
            for t in range(p.start, p.end):
                days[p.group][p.zone][t].add(p.on(t))
        return days

    @cached_property
    def clashes(self) -> list[Clash]:
        """All pairs of days on which two groups could meet, or come too soon one after the other.

        What was there before today may stay with what was there too.
        """
        found: set[Clash] = set()
        for rule in self.network.scenario.apart:
            if rule.share is Shared.UNIT:
                continue
            one, other = both(rule)
            at_table = rule.share is Shared.GRAFT_DAY
            zones = [zone.zone for zone in self.network.scenario.zones if rule.zone in (None, zone.zone)]
            for zone in [None] if at_table else zones:
                for t, there in self._days[one][zone].items():
                    near = range(t - rule.cleaning_days, t + rule.cleaning_days + 1)
                    for s in self._days[other][zone].keys() & set(near):
                        for pair in product(there, self._days[other][zone][s]):
                            if not (pair[0].before and pair[1].before):
                                found.add((min(pair, key=_order), max(pair, key=_order)))
        return sorted(found, key=lambda pair: (_order(pair[0]), _order(pair[1])))

    @cached_property
    def admitted(self) -> list[GroupOnDay]:
        """Index list of E: groups where they could meet another, lots where they are changed over for."""
        return sorted(self.clashing | self.changed_over, key=_order)

    @property
    def kept(self) -> bool:
        """Whether anything is kept apart: by a rule, or as an order of one lot."""
        return bool(self.clashes or self.barred or self.lots_of_orders)

    @cached_property
    def clashing(self) -> set[GroupOnDay]:
        """Where and when a group could meet one that it is kept apart from."""
        return {each for pair in self.clashes for each in pair}

    @cached_property
    def changed_over(self) -> set[GroupOnDay]:
        """Seed lots on days on which they could be at the grafting table, if changing over takes time."""
        if self.network.scenario.nursery.change_over_seconds == 0:
            return set()
        there = (p for p in self.present if p.zone is None and p.group.by is GroupBy.LOT)
        return {p.on(p.start) for p in there}

    @cached_property
    def carried(self) -> list[GroupInFlow]:
        """Index list of F: groups of E, those that units are not for, and the lots of orders of one lot."""
        there = set(self.admitted)
        found = {
            GroupInFlow(p.group, p.flow)
            for p in self.present
            if p.flow is not None and any(p.on(t) in there for t in range(p.start, p.end))
        }
        found |= {
            GroupInFlow(Group(GroupBy.LOT, index.lot), f)
            for index in self.lots_of_orders
            for f in self._sources[index]
        }
        return sorted(found | {index for index, _ in self.barred})

    @cached_property
    def spares(self) -> dict[int, list[int]]:
        """Indices of K by flow."""
        found: dict[int, list[int]] = defaultdict(list)
        for i, spare in enumerate(self.network.spares):
            found[spare.flow].append(i)
        return found

    @cached_property
    def barred(self) -> dict[tuple[GroupInFlow, int], list[int]]:
        """Indices of L by a group that the units are not for, its flow from today on, and the stay."""
        network, amounts = self.network, self.amounts
        holders: dict[Group, set[int]] = {}
        found: dict[tuple[GroupInFlow, int], list[int]] = defaultdict(list)
        for n, load in enumerate(amounts.loads):
            f = amounts.load_stays[load.stay].flow
            for group in amounts.batches[load.batch].not_for:
                if group not in holders:
                    holders[group] = flows_of(network, group)
                if f in holders[group] and network.flows[f].graft >= network.past.today:
                    found[GroupInFlow(group, f), load.stay].append(n)
        return found

    @cached_property
    def _sources(self) -> dict[LotOfOrder, set[int]]:
        """For each lot that an order of one lot may come from the flows that may bring it."""
        network = self.network
        found: dict[LotOfOrder, set[int]] = defaultdict(set)
        for delivery in network.deliveries:
            if not network.orders[delivery.order].order.of_one_lot(network.scenario.nursery):
                continue
            for j in network.flow_joins[delivery.flow]:
                join = network.joins[j]
                for rootstock, w in ((True, join.rootstock), (False, join.scion)):
                    if w is not None:
                        lot = network.waves[w].lot.lot
                        found[LotOfOrder(delivery.order, rootstock, lot)].add(delivery.flow)
        return found

    @cached_property
    def lots_of_orders(self) -> list[LotOfOrder]:
        """Index list of Z: orders of one lot, with each of several lots that they may come from."""
        lots: dict[tuple[int, bool], set[str]] = defaultdict(set)
        for order, rootstock, lot in self._sources:
            lots[order, rootstock].add(lot)
        return sorted(index for index in self._sources if len(lots[index.order, index.rootstock]) > 1)


def _order(index: GroupOnDay) -> tuple[Group, str, int, bool]:
    return index.group, index.zone or "", index.day, index.before
