"""The checks of what is kept apart: groups in zones and at the table day by day, orders of one lot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise

from model.proof.checks.growing_checks import BatchKey, batch_of
from model.proof.plan_rows import Row
from model.proof.problems import ABSOLUTE, Problem, differs, wrong
from model.proof.replay import Replay, flow_of
from model.proof.world import ONE_DAY, days_from
from model.scenario.choices import GroupBy, MethodKind, Shared

Days = dict[tuple[str | None, date], bool]
"""Places and days on which a group is there, and whether a decision from today on has brought it there."""


def groups_are_apart(r: Replay) -> Iterator[Problem]:
    """No two groups kept apart meet, nor come before the place is cleaned; the table of them is right.

    What met before today is past. A plan in parts may let parts of them meet.
    """
    told: dict[tuple[str | None, str, str, str], dict[date, date]] = defaultdict(dict)
    for row in r.rows["kept_apart"]:
        told[row["zone"], row["what"], row["by"], row["group"]][row["from_day"]] = row["to_day"]
    due: dict[tuple[str | None, str, str, str], dict[date, date]] = defaultdict(dict)
    for rule in r.world.scenario.apart:
        groups = (rule.by, rule.group), (rule.other_by, rule.other)
        one, other = (_days_of(r, by, name) for by, name in groups)
        places: list[str | None] = [None] if rule.share is Shared.GRAFT_DAY else []
        if rule.share is Shared.ZONE:
            places = [name for name in r.world.zones if rule.zone in (None, name)]
        for place in places:
            runs: list[tuple[date, date, int]] = []
            for n, (days, (by, name)) in enumerate(zip((one, other), groups, strict=True)):
                for start, end in _runs(sorted(day for zone, day in days if zone == place)):
                    runs.append((start, end, n))
                    due[place, "plants", by.value, name][start] = end
            for (_, out, first), (comes, _, second) in pairwise(sorted(runs)):
                clean_by = min(out + rule.cleaning_days * ONE_DAY, comes)
                if first != second and clean_by > out:
                    by, name = groups[first]
                    clean = due[place, "cleaning", by.value, name]
                    clean[out] = max(clean.get(out, out), clean_by)
            for (zone, day), new in one.items():
                for n in range(-rule.cleaning_days, rule.cleaning_days + 1):
                    meets = other.get((zone, day + n * ONE_DAY))
                    if zone == place and meets is not None and r.plan.facts.whole:
                        where = zone or "the grafting table"
                        yield from wrong(
                            f"{rule.group} in {where} on {day}, {rule.other} on {day + timedelta(n)}",
                            not (new or meets),
                        )
    for key in {*told, *due}:
        place = f"table kept_apart, {key[1]} of {key[3]} in {key[0] or 'the grafting table'}"
        yield from wrong(f"{place}: days are not those of the replay", told[key] == due[key])


def _runs(days: list[date]) -> Iterator[tuple[date, date]]:
    """First day and day after the last of each run of days."""
    while days:
        n = next((n for n in range(1, len(days)) if days[n] - days[n - 1] > ONE_DAY), len(days))
        yield days[0], days[n - 1] + ONE_DAY
        days = days[n:]


def _days_of(r: Replay, by: GroupBy, name: str) -> Days:
    """Where a group is on which days."""
    found: Days = {}
    today = r.world.record.today

    def there(zone: str | None, start: date, end: date, new: bool) -> None:
        for day in days_from(max(start, r.world.first), end):
            found[zone, day] = found.get((zone, day), False) or new

    for wave in r.waves.values():
        if _lot_is_in(r, by, name, wave["lot"]):
            for zone, trays, out, _ in r.germinating(wave):
                if trays > ABSOLUTE:
                    there(zone, wave["sow_day"], out, wave["sow_day"] >= today)
    for row in r.rows["bench_trays"]:
        wave = r.waves[row["wave"]]
        if _lot_is_in(r, by, name, wave["lot"]) and row["trays"] > ABSOLUTE:
            bench = r.world.lots[wave["lot"]].bench_zone
            there(bench, row["from_day"], row["to_day"], wave["sow_day"] >= today)
    for flow in r.rows["flows"]:
        graft = flow["graft_day"]
        if not _flow_is_in(r, by, name, flow):
            continue
        if r.world.methods[flow["method"]].kind is not MethodKind.OWN_ROOT:
            there(None, graft, graft + ONE_DAY, graft >= today)
        for zone, _, start, end in r.world.way(flow["method"], graft, flow["in_zones"])[0]:
            there(zone, start, end, graft >= today)
    for row in r.rows["deliveries"]:
        zone = r.world.rooms.held(r.world.products[row["product"]].method, row["in_zones"])[0]
        if _held_in(r, by, name, row):
            leaves = row["due_day"] + row["days_late"] * ONE_DAY
            there(zone, row["ready_day"], leaves, _comes_from_today(r, by, row, zone))
    return found


def _comes_from_today(r: Replay, by: GroupBy, row: Row, zone: str) -> bool:
    """Whether plants come to stand in the zone of holding from today on; a customer's, until packed."""
    today, record = r.world.record.today, r.world.record
    if row["source"] == "buy-in":
        lead = r.world.offers[row["offer"]].lead_days * ONE_DAY
        return row["ready_day"] - lead >= today and not record.comes(row["offer"], row["ready_day"])
    if by is GroupBy.CUSTOMER:
        return bool(row["pack_day"] >= today)
    stays = r.world.way(r.world.products[row["product"]].method, row["graft_day"], row["in_zones"])[0]
    return (stays[-1][2] if stays and stays[-1][0] == zone else row["ready_day"]) >= today


def _lot_is_in(r: Replay, by: GroupBy, name: str, lot_name: str) -> bool:
    lot = r.world.lots[lot_name]
    if by is GroupBy.CROP:
        crops = {lot.crop}
        if lot.crop is None:
            of = [p for p in r.world.products.values() if lot.variety in (p.scion, p.rootstock)]
            crops = {product.crop for product in of}
        return name in crops
    return name == (lot.lot if by is GroupBy.LOT else lot.health if by is GroupBy.HEALTH else None)


def _flow_is_in(r: Replay, by: GroupBy, name: str, flow: Row) -> bool:
    """Whether plants of a flow belong to a group, by its crop, the lots joined, or the orders served."""
    at = flow_of(flow)
    if by is GroupBy.CROP:
        return bool(r.world.products[flow["product"]].crop == name)
    if by is GroupBy.CUSTOMER:
        served = {r.world.orders[row["order"]].customer for row in r.served[at]}
        return flow["graft_day"] >= r.world.record.today and name in served
    waves = {row[side] for row in r.joins_of[at] for side in ("rootstock_wave", "scion_wave")}
    waves |= {row["wave"] for row in r.rows["spare_seedlings"] if flow_of(row) == at}
    return any(_lot_is_in(r, by, name, r.waves[wave]["lot"]) for wave in waves - {None})


def _held_in(r: Replay, by: GroupBy, name: str, row: Row) -> bool:
    """Whether plants held for an order belong to a group; bought ones only to a crop or a customer."""
    if by is GroupBy.CUSTOMER:
        return r.world.orders[row["order"]].customer == name
    if by is GroupBy.CROP:
        return r.world.products[row["product"]].crop == name
    return row["source"] == "own" and _flow_is_in(r, by, name, row)


def units_are_shared_by_no_two(r: Replay) -> Iterator[Problem]:
    """Groups that may not share a unit are loaded into different ones, none into units that are not for it.

    What was grafted before today may stand together. A plan in parts may let parts of groups meet.
    """
    if not r.plan.facts.whole:
        return
    flows = {flow_of(row): row for row in r.rows["flows"]}
    today = r.world.record.today
    for rule in r.world.scenario.apart:
        if rule.share is not Shared.UNIT:
            continue
        inside: dict[BatchKey, list[set[date]]] = defaultdict(lambda: [set(), set()])
        for row in r.rows["unit_loads"]:
            if rule.zone in (None, row["zone"]) and row["trays"] > ABSOLUTE:
                groups = (rule.by, rule.group), (rule.other_by, rule.other)
                for n, (by, name) in enumerate(groups):
                    if _flow_is_in(r, by, name, flows[flow_of(row)]):
                        inside[batch_of(row)][n].add(row["graft_day"])
                        place = f"{row['zone']} opened {row['open_day']}, not for {row['not_for']}"
                        out = f"; {by.value} {name}; " in f"; {row['not_for']}; "
                        yield from wrong(f"{place}: {name} in it", not out or row["graft_day"] < today)
        for (zone, opened, *_), (one, other) in inside.items():
            met = bool(one and other) and max(one | other) >= today
            yield from wrong(f"{rule.group} and {rule.other} in one unit of {zone} opened {opened}", not met)


def orders_are_of_one_lot(r: Replay) -> Iterator[Problem]:
    """An order of one lot has one lot of the scion and one of the rootstock, by its trace."""
    lots: dict[tuple[str, str], set[str]] = defaultdict(set)
    for row in r.rows["trace"]:
        one = r.world.orders[row["order"]].of_one_lot(r.world.scenario.nursery)
        if one and row["pack_day"] >= r.world.record.today:
            for side in ("rootstock_wave", "scion_wave"):
                if row[side] is not None:
                    lots[row["order"], side].add(r.waves[row[side]]["lot"])
    for (order, side), found in lots.items():
        names = ", ".join(sorted(found))
        if not r.plan.facts.whole:
            continue
        yield from wrong(f"order {order} of one lot, {side}: it has {names}", len(found) == 1)


def lots_are_changed_over(r: Replay) -> Iterator[Problem]:
    """Blades and table are changed over for each lot at the table on each day, and for no other.

    Once in a plan of whole trays; a plan in parts may have parts of a change-over.
    """
    there: set[tuple[date, str]] = set()
    if r.world.scenario.nursery.change_over_seconds > 0:
        for row in r.rows["joins"]:
            if row["rootstock_wave"] is not None and row["joins"] > ABSOLUTE:
                for wave in (row["rootstock_wave"], row["scion_wave"]):
                    there.add((row["graft_day"], r.waves[wave]["lot"]))
        grafted = {flow_of(row) for row in r.rows["joins"] if row["rootstock_wave"] is not None}
        for row in r.rows["spare_seedlings"]:
            if flow_of(row) in grafted and row["seedlings"] > ABSOLUTE:
                there.add((row["graft_day"], r.waves[row["wave"]]["lot"]))
        there = {at for at in there if at[0] >= r.world.first}
    told = {(row["day"], row["lot"]): row["number"] for row in r.rows["change_overs"]}
    for day, lot in sorted({*told, *there}):
        place, number = f"change-overs for {lot} on {day}", told.get((day, lot), 0.0)
        if r.plan.facts.whole:
            yield from differs(place, number, float((day, lot) in there))
        else:
            yield from wrong(f"{place}: it is not at the table", (day, lot) in there)
            yield from wrong(f"{place}: more than one", number <= 1 + ABSOLUTE)
