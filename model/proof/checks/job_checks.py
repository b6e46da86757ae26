"""Checks of the jobs that crews act on: each one is due, and none is missing.

The jobs that are due are computed here independently, from the replayed rows and the scenario alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

from model.proof.plan_rows import Row
from model.proof.problems import ABSOLUTE, Problem, differs, off, wrong
from model.proof.replay import Replay, flow_of
from model.proof.world import ONE_DAY, days_from
from model.scenario.choices import MethodKind, Part, TaskPer
from model.scenario.records.people import OwnTask

Place = tuple[date, str, str, str | None, str | None, str | None, str | None]
"""Day, step, name, from zone, to zone, tray format and skill."""

AMOUNTS = ("trays", "count", "seeds", "hours")


@dataclass(slots=True)
class Due:
    """A job that is due. ``task`` is that of its labour standard, ``work`` the multiple of its seconds."""

    day: date
    step: str
    name: str
    task: str | None = None
    method: str | None = None
    format: str | None = None
    work: float = 0.0
    start: str | None = None
    to: str | None = None
    trays: float | None = None
    count: float | None = None
    seeds: float | None = None
    own: OwnTask | None = None
    """One of the nursery's own tasks, in place of ``task``."""
    timed: tuple[str | None, float] | None = None
    """Skill and hours of washing, changing over or attending a machine, in place of ``task``."""


def jobs_are_due(r: Replay) -> Iterator[Problem]:
    """Every job is due on its day with its amounts, hours and zones, and every due job is in the plan."""
    right: dict[Place, dict[str, float]] = defaultdict(lambda: dict.fromkeys(AMOUNTS, 0.0))
    for due in _all_due(r):
        shown = None if due.step in ("care", "tend") else due.format
        for n, (step, skill, hours) in enumerate(_in_roles(r, due)):
            entry = right[due.day, step, due.name, due.start, due.to, shown, skill]
            entry["trays"] += due.trays or 0.0
            entry["count"] += due.count or 0.0
            entry["seeds"] += (due.seeds or 0.0) if n == 0 else 0.0
            entry["hours"] += hours
    told: dict[Place, dict[str, float]] = defaultdict(lambda: dict.fromkeys(AMOUNTS, 0.0))
    for row in r.rows["jobs"]:
        step, ways = _step(row), (row["from_zone"], row["to_zone"])
        entry = told[row["day"], step, row["name"], *ways, row["format"], row["skill"]]
        for column in AMOUNTS:
            entry[column] += row[column] or 0.0
    odd = [at for at in {*right, *told} if not _alike(right.get(at), told.get(at))]
    for at in sorted(odd, key=str):
        what = f"job {at[1]} {at[2]} on {at[0]}"
        if at not in told:
            if any(amount > ABSOLUTE for amount in right[at].values()):
                yield f"{what}: missing", max(right[at].values())
            continue
        yield from wrong(f"{what}: no such job is due", at in right)
        for column in AMOUNTS:
            yield from differs(f"{what}, {column}", told[at][column], right[at][column])


def _in_roles(r: Replay, due: Due) -> list[tuple[str, str | None, float]]:
    """Step, skill and hours of a job that is due, for each role of its task."""
    roles = () if due.task is None else r.world.roles(due.task, due.method, due.format or "")
    if roles:
        return [(_in_role(due.step, of.role), of.skill, due.work * of.seconds / 3600) for of in roles]
    if due.own is not None:
        timed = (due.own.skill, due.work * due.own.seconds / 3600) if due.own.seconds > 0 else (None, 0.0)
        return [(f"{due.step} {due.own.task}", *timed)]
    return [(due.step, *(due.timed or (None, 0.0)))]


def _in_role(step: str, role: str | None) -> str:
    return step if role is None else f"{step}: {role}"


def _alike(right: dict[str, float] | None, told: dict[str, float] | None) -> bool:
    """Whether a job is due and told, with the same amounts."""
    if right is None or told is None:
        return False
    return right == told or not any(off(told[c], right[c]) for c in AMOUNTS)


def jobs_name_their_lots(r: Replay) -> Iterator[Problem]:
    """Grafting jobs name the waves from which they take seedlings."""
    named: dict[tuple[date, str], list[str]] = defaultdict(list)
    for row in r.rows["jobs"]:
        if row["step"] == "graft":
            named[row["day"], row["name"]].append(row["detail"] or "")
    for row in (row for row in r.rows["joins"] if row["graft_day"] >= r.world.first):
        details = named.get((row["graft_day"], row["product"]), [])
        chosen = row["in_zones"]
        waves = [r.waves[w] for w in (row["rootstock_wave"], row["scion_wave"]) if w in r.waves]
        words = [f"{wave['lot']} sown {wave['sow_day']}" for wave in waves]
        words += [] if chosen is None else [f"in zones: {chosen}"]
        found = any(all(word in detail for word in words) for detail in details)
        place = f"grafting {row['product']} on {row['graft_day']}: no job names {' and '.join(words)}"
        yield from wrong(place, found or row["rootstock_wave"] is None)


def crews_do_the_jobs(r: Replay) -> Iterator[Problem]:
    """Crews' parts add up to each job, and their hours at each task equal those of the table ``hours``."""
    jobs = {row["job"]: row for row in r.rows["jobs"]}
    parts: dict[str, list[Row]] = defaultdict(list)
    worked: dict[tuple[Any, ...], float] = defaultdict(float)
    for row in r.rows["job_crews"]:
        parts[row["job"]].append(row)
        job = jobs.get(row["job"])
        if job is not None and row["crew"] is not None:
            for hands, column in (("own", "own"), ("temporary", "temporary")):
                worked[row["crew"], hands, job["day"], job["skill"], _task(job)] += row[column]
        idle = row["own"] + row["temporary"] <= ABSOLUTE
        yield from wrong(f"job {row['job']}: has hours but no crew", idle or row["crew"] is not None)
    for name in jobs:
        ends = sorted((row["starts"], row["ends"]) for row in parts[name])
        whole = bool(ends) and ends[0][0] == 0 and abs(ends[-1][1] - 1) <= ABSOLUTE
        joined = all(abs(before[1] - after[0]) <= ABSOLUTE for before, after in pairwise(ends))
        yield from wrong(f"job {name}: the crews' parts do not add up to the whole job", whole and joined)
    planned = {
        (row["crew"], row["hands"], row["day"], row["skill"], row["task"]): row["hours"]
        for row in r.rows["hours"]
    }
    for at in sorted({*planned, *worked}, key=str):
        place = f"hours of {at[0]} at {at[4]} on {at[2]}, by table job_crews against table hours"
        yield from differs(place, worked.get(at, 0.0), planned.get(at, 0.0))


def _step(job: Row) -> str:
    """The step of a job, with the name of an own task or the role."""
    step, own = job["step"], job["own_task"]
    return _in_role(step, job["role"]) if own is None else f"{step} {own}"


def _task(job: Row) -> str:
    if job["own_task"] is not None:
        return str(job["own_task"])
    return _in_role("move" if job["step"].startswith("move ") else job["step"], job["role"])


def _all_due(r: Replay) -> Iterator[Due]:
    """All jobs; what was done to plants on hand before the first day is nobody's."""
    yield from (due for due in _of_all(r) if due.day >= r.world.first)


def _of_all(r: Replay) -> Iterator[Due]:
    yield from _sown(r)
    for row in r.rows["flows"]:
        yield from _grown(r, row)
    yield from _delivered(r)
    yield from _stood(r)
    yield from _own(r)
    yield from _practised(r)
    yield from _washed(r)
    yield from _changed_over(r)
    yield from _attended(r)
    yield from _bought(r)


def _sown(r: Replay) -> Iterator[Due]:
    for row in r.rows["waves"]:
        lot, bench = r.world.lots[row["lot"]], r.world.lots[row["lot"]].bench_zone
        germinates = row["bench_day"] > row["sow_day"]
        for zone, trays, out, _ in r.germinating(row):
            work: dict[str, Any] = {"format": row["format"], "work": trays, "trays": trays}
            seeds = row["seeds"] * (trays / row["trays"] if row["trays"] else 1.0)
            if row["sow_day"] >= r.world.first:
                to = zone if germinates else bench
                yield Due(row["sow_day"], "sow", lot.lot, "sow", to=to, seeds=seeds, **work)
            if germinates and out >= r.world.first and zone != bench:
                work |= {"start": zone, "to": bench}
                yield Due(out, "move to bench", lot.lot, "move", **work)


def _bench_zones(r: Replay, row: Row) -> list[str]:
    """Bench zones of the waves of these joins, the rootstock's first."""
    waves = [r.waves[w] for w in (row["rootstock_wave"], row["scion_wave"]) if w in r.waves]
    return list(dict.fromkeys(r.world.lots[wave["lot"]].bench_zone for wave in waves))


def _grown(r: Replay, row: Row) -> Iterator[Due]:
    """The jobs of a flow, from its graft day to its ready day."""
    name, graft = row["product"], row["graft_day"]
    product = r.world.products[name]
    rule, cells = r.world.methods[product.method], r.world.formats[product.final_format].cells
    kind: dict[str, Any] = {"method": rule.method, "format": product.final_format}
    stays, ready = r.world.way(rule.method, graft, row["in_zones"])
    grafted = rule.kind is not MethodKind.OWN_ROOT
    joined = r.joins_of[flow_of(row)]
    for join in joined if grafted else ():
        root = r.waves.get(join["rootstock_wave"])
        on_tray = rule.kind is MethodKind.ON_TRAY and root is not None
        yield Due(
            graft,
            "graft",
            name,
            "graft",
            work=join["joins"],
            start=", ".join(_bench_zones(r, join)),
            trays=_brought(r, join) / root["usable_per_tray"] if on_tray and root is not None else None,
            count=join["joins"],
            **kind,
        )
    if rule.kind is MethodKind.ROOT_CUT:
        loaded = row["trays_loaded"]
        yield Due(graft, "stick", name, "stick", work=row["joins"], trays=loaded, count=row["joins"], **kind)
    bench = _bench_zones(r, joined[0])[-1] if joined else ""
    first = stays[0][0] if stays else r.world.rooms.held(rule.method, row["in_zones"])[0]
    ways: list[tuple[date, str, str | None, str, float]] = []
    if grafted:
        ways = [(graft, "move to healing", None, first, row["trays_loaded"])]
    elif stays and first != bench:
        ways = [(graft, "move on", bench, first, row["trays_loaded"])]
    for (before, *_), (after, part, moved, _) in pairwise(stays):
        if before != after:
            healing = part is Part.HEALING
            trays = row["trays_loaded"] if healing else row["trays_finishing"]
            ways.append((moved, "move on", before, after, trays))
    for day, step, start, to, trays in ways:
        yield Due(day, step, name, "move", work=trays, start=start, to=to, trays=trays, **kind)
    healed = [(zone, out) for zone, part, _, out in stays if part is Part.HEALING]
    if rule.consolidate and healed:
        zone, day = healed[-1]
        amounts = {"trays": row["trays_finishing"], "count": row["healed"]}
        work = row["healed"] / cells
        yield Due(day, "consolidate", name, "consolidate", work=work, start=zone, **amounts, **kind)
    if ready is not None:
        last, work = (stays[-1][0] if stays else None), row["finished"]
        yield Due(ready, "grade", name, "grade", work=work, start=last, count=work, **kind)


def _brought(r: Replay, join: Row) -> float:
    """Rootstocks brought for joins, with their part of the spare ones of their wave."""
    flow = flow_of(join)
    alike = [row for row in r.joins_of[flow] if row["rootstock_wave"] == join["rootstock_wave"]]
    spare = sum(
        row["seedlings"]
        for row in r.rows["spare_seedlings"]
        if (*flow_of(row), row["wave"]) == (*flow, join["rootstock_wave"])
    )
    drawn = sum(row["seedlings"] for row in alike)
    return float(join["seedlings"] * (1.0 + spare / drawn)) if drawn > 0 else 0.0


def _delivered(r: Replay) -> Iterator[Due]:
    """Moves to holding, packing and delivering."""
    for row in r.rows["deliveries"]:
        product, order = r.world.products[row["product"]], row["order"]
        rule, plants = r.world.methods[product.method], row["plants"]
        kind: dict[str, Any] = {"method": rule.method, "format": product.final_format}
        leaves = row["due_day"] + row["days_late"] * ONE_DAY
        if row["source"] == "own" and leaves > row["ready_day"]:
            stays, _ = r.world.way(rule.method, row["graft_day"], row["in_zones"])
            last, zone = stays[-1][0] if stays else None, r.world.rooms.held(rule.method, row["in_zones"])[0]
            if last != zone:
                held = plants + row["margin_plants"]
                trays = held / r.world.formats[product.final_format].cells
                kind_held = kind | {"start": last, "to": zone, "trays": trays, "count": held}
                yield Due(row["ready_day"], "move to holding", order, "move", work=trays, **kind_held)
        yield Due(row["pack_day"], "pack", order, "pack", work=plants, count=plants, **kind)
        yield Due(leaves, "deliver", order, count=plants)


def _stood(r: Replay) -> Iterator[Due]:
    """Care and tending of standing trays, by zone and day."""
    for zone, (first, end), trays, method, format_, task, care in r.stands:
        for day in days_from(first, end):
            work = trays * care(day)
            yield Due(day, task, zone, task, method, format_, work=work, start=zone, trays=trays)


def _own(r: Replay) -> Iterator[Due]:
    """The nursery's own tasks."""
    for done in r.own_tasks:
        yield Due(
            done.day,
            "own task",
            done.name,
            own=done.task,
            format=done.format,
            work=done.number,
            start=done.zone,
            trays=done.trays,
            count=None if done.task.per is TaskPer.TRAY else done.number,
        )


def _practised(r: Replay) -> Iterator[Due]:
    """Sowing of the trays that new hands practise on, and moving them to the bench."""
    for hired, row, day, bench in r.practised:
        lot = r.world.lots.get(row.item)
        if lot is None or day is None or row.format is None:
            continue
        trays = hired["new"] * row.quantity
        seeds = trays * r.world.formats[row.format].cells * lot.seeds_per_cell
        work: dict[str, Any] = {"format": row.format, "work": trays, "trays": trays}
        zone = lot.germination_zone if lot.germination_days > 0 else lot.bench_zone
        yield Due(day, "sow", lot.lot, "sow", to=zone, seeds=seeds, **work)
        if bench is not None:
            work |= {"start": lot.germination_zone, "to": lot.bench_zone}
            yield Due(bench, "move to bench", lot.lot, "move", **work)


def _washed(r: Replay) -> Iterator[Due]:
    """Washing of supplies that come back."""
    for day, name, units in r.washed:
        supply = r.world.supplies[name]
        takes = supply.wash_seconds > 0
        timed = (supply.wash_skill, units * supply.wash_seconds / 3600) if takes else None
        yield Due(day, "wash", name, timed=timed, count=units)


def _changed_over(r: Replay) -> Iterator[Due]:
    """Changing over blades and table for each lot."""
    nursery = r.world.scenario.nursery
    for row in r.rows["change_overs"]:
        timed = nursery.change_over_skill, row["number"] * nursery.change_over_seconds / 3600
        yield Due(row["day"], "change over", row["lot"], timed=timed, count=row["number"])


def _attended(r: Replay) -> Iterator[Due]:
    """Attendants beside machines."""
    for row in r.rows["hours"]:
        crew = r.world.crews[row["crew"]]
        if crew.attendants > 0:
            timed = crew.attendant_skill, row["hours"] * crew.attendants
            yield Due(row["day"], "attend", crew.crew, timed=timed)


def _bought(r: Replay) -> Iterator[Due]:
    """Orders to place, and plants to receive."""
    for row in r.rows["purchases"]:
        if row["order_by"] is not None:
            new = row["packs"] - row["ordered"]
            yield Due(row["order_by"], "order", row["item"], count=new * row["size"])
    for row in r.rows["buy_in"]:
        rule = r.world.methods[r.world.products[row["product"]].method]
        plants = row["plants"] + row["spare"]
        yield Due(row["order_by"], "order", row["offer"], count=plants)
        yield Due(row["arrival_day"], "receive", row["offer"], to=rule.holding_zone, count=plants)
