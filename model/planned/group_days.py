"""Where groups kept apart are on which days, when places between them are cleaned, what is washed apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from itertools import pairwise
from typing import NamedTuple

from model.network.groups import Group, both, joins_of, lots_of, ordered_by
from model.planned.lots import whole
from model.planned.values import Values
from model.program.amounts import Key
from model.program.needless import TINY
from model.program.program import Program
from model.scenario.choices import GroupBy, Shared
from model.scenario.records.kept_apart import Apart


class GroupRun(NamedTuple):
    """A group in a zone, None for the grafting table, from a day up to another; or cleaning after it."""

    zone: str | None
    group: Group
    start: int
    end: int
    cleaning: bool


Place = tuple[Group, str | None]


def group_runs(program: Program, values: Values) -> list[GroupRun]:
    """All runs of groups in the places that they may not share, and of days of cleaning, by place and day."""
    rules, days = program.network.scenario.apart, _days(program, values)
    found: set[GroupRun] = set()
    for rule in rules:
        for place in _places(program, rule):
            runs = [GroupRun(place, g, *run, False) for g in both(rule) for run in _runs(days[g, place])]
            runs.sort(key=lambda run: (run.start, run.end))
            found.update(runs, _cleaned(runs, rule.cleaning_days))
    longest = {run[:3] + run[4:]: run for run in sorted(found, key=lambda run: run.end)}
    return sorted(longest.values(), key=lambda run: (run.zone or "", run.start, run.cleaning, run.group))


def washed_apart(program: Program, values: Values) -> dict[tuple[str, date], str]:
    """On which groups kept apart the units were that come back, in words, by item and day of use.

    With the units of each, which are washed apart; only where some were on a group that a rule names.
    """
    network, amounts = program.network, program.amounts
    groups, held = program.apart.groups, dict[tuple[Group, int], bool]()
    coming = {row.supply: row.return_share for row in network.scenario.supplies if row.return_share > 0}
    units: dict[tuple[str, int], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for use in amounts.uses if groups else ():
        number = use.units * values[use.key] * coming.get(use.item, 0.0)
        if number > TINY:
            on = [group for group in groups if _is_of(program, values, held, group, use.key)]
            units[use.item, use.day][" and ".join(f"{g.by.value} {g.name}" for g in on)] += number
    told = {}
    for (item, day), by in units.items():
        ordered = sorted(by, key=lambda groups: (not groups, groups))
        parts = [f"{groups or 'others'} ({whole(by[groups]):,})" for groups in ordered]
        if len(parts) > 1:
            told[item, network.calendar.date(day)] = f"wash apart what was on {', '.join(parts)}"
        elif any(by):
            told[item, network.calendar.date(day)] = f"all were on {next(iter(by))}"
    return told


def _is_of(
    program: Program, values: Values, held: dict[tuple[Group, int], bool], group: Group, key: Key
) -> bool:
    """Whether the plants of a decision belong to a group; ``held``: what is known of groups in flows."""
    variable, n = key
    network = program.network
    if variable in ("sown", "left", "sown_into"):
        return network.waves[program.apart.wave_of(key)].lot.lot in lots_of(network.scenario, group)
    if variable in ("delivered", "bought"):
        order = (network.deliveries if variable == "delivered" else network.buy_ins)[n].order
        if group.by is GroupBy.CUSTOMER:
            return ordered_by(network, group, order)
        if variable == "bought":
            return group == Group(GroupBy.CROP, network.orders[order].product.crop)
        n = network.deliveries[n].flow
    elif variable not in ("grafted", "loaded", "healed", "finishing"):
        return False
    if (group, n) not in held:
        held[group, n] = _holds(program, values, group, n)
    return held[group, n]


def _places(program: Program, rule: Apart) -> list[str | None]:
    """Zones that the groups of a rule may not share, or the grafting table; none for units."""
    if rule.share is not Shared.ZONE:
        return [None] if rule.share is Shared.GRAFT_DAY else []
    return [zone.zone for zone in program.network.scenario.zones if rule.zone in (None, zone.zone)]


def _cleaned(runs: list[GroupRun], length: int) -> Iterator[GroupRun]:
    """Days of cleaning between runs of two groups in one place; in a plan in parts runs may overlap."""
    for run, after in pairwise(runs):
        end = min(run.end + length, after.start)
        if end > run.end and after.group != run.group:
            yield GroupRun(run.zone, run.group, run.end, end, True)


def _days(program: Program, values: Values) -> dict[Place, set[int]]:
    """Days on which plants of each group are in each place."""
    days: dict[Place, set[int]] = defaultdict(set)
    held: dict[tuple[Group, int], bool] = {}
    for present in program.apart.present:
        if present.flow is not None:
            at = present.group, present.flow
            if at not in held:
                held[at] = _holds(program, values, *at)
        if present.flow is None or held[present.group, present.flow]:
            there = program.apart.days_there(present, values.__getitem__)
            days[present.group, present.zone].update(there)
    return days


def _holds(program: Program, values: Values, group: Group, f: int) -> bool:
    """Whether a flow holds plants of a group."""
    network = program.network
    if group.by is GroupBy.CUSTOMER:
        return any(
            values["delivered", i] > TINY and ordered_by(network, group, network.deliveries[i].order)
            for i in program.serves[f]
        )
    if any(values["joins", j] > TINY for j, _ in joins_of(network, group, f)):
        return True
    lots = lots_of(network.scenario, group)
    return any(
        spare.flow == f and network.waves[spare.wave].lot.lot in lots and values["spare", i] > TINY
        for i, spare in enumerate(network.spares)
    )


def _runs(days: Iterable[int]) -> Iterator[tuple[int, int]]:
    """First day and day after the last of each run of days without a gap."""
    ordered = sorted(days)
    for n, day in enumerate(ordered):
        if n == 0 or ordered[n - 1] < day - 1:
            start = day
        if n + 1 == len(ordered) or ordered[n + 1] > day + 1:
            yield start, day + 1
