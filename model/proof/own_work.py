"""The nursery's own tasks as the audit reads them: each standing tray is followed day by day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, NamedTuple

from model.proof.world import ONE_DAY, World, days_from
from model.scenario.choices import MethodKind, Part, TaskPer
from model.scenario.records.people import OwnTask

Row = dict[str, Any]


class OwnWork(NamedTuple):
    """A task on a day, on trays of a lot, product or order; ``number``: trays, joins or plants."""

    day: date
    task: OwnTask
    name: str
    zone: str
    format: str
    trays: float
    number: float


class _There(NamedTuple):
    """What stands in a stage on one of its days, the first is 1; ``left``: the day on which it leaves."""

    day: date
    stage: str
    nth: int
    zone: str
    name: str
    kind: dict[str, str | None]
    numbers: dict[TaskPer, float]
    left: date


def own_work(world: World, rows: Mapping[str, list[Row]]) -> Iterator[OwnWork]:
    """All own tasks that a plan's rows call for."""
    tasks = world.scenario.own_tasks
    for there in _standing(world, rows) if tasks else ():
        if there.day < world.first:
            continue
        for task in tasks:
            asked = {name: getattr(task, name) for name in there.kind}
            wanted = all(name is None or name == there.kind[column] for column, name in asked.items())
            if task.stage != there.stage or not wanted or task.per not in there.numbers:
                continue
            if task.day in (None, there.nth):
                day = there.day if task.day is None else _worked(world, there.day, there.left)
                trays, number = there.numbers[TaskPer.TRAY], there.numbers[task.per]
                format_ = there.kind["format"] or ""
                yield OwnWork(day, task, there.name, there.zone, format_, trays, number)


def _worked(world: World, day: date, left: date) -> date:
    """The next working day, or, where the plants have left by then, the one before."""
    after = world.next_working(day)
    return after if after is not None and after <= left else world.previous_working(day) or day


def _standing(world: World, rows: Mapping[str, list[Row]]) -> Iterator[_There]:
    waves = {row["wave"]: row for row in rows["waves"]}
    further: dict[str, list[Row]] = defaultdict(list)
    for row in rows["germination"]:
        further[row["wave"]].append(row)
    spans: list[tuple[Row, str, date, date, float]] = []
    for wave in waves.values():
        lot, first = world.lots[wave["lot"]], max(wave["sow_day"], world.first)
        own = wave["trays"] - sum(row["trays"] for row in further[wave["wave"]])
        spans.append((wave, lot.germination_zone, first, wave["bench_day"], own))
        spans += [(wave, row["zone"], first, row["bench_day"], row["trays"]) for row in further[wave["wave"]]]
    spans += [
        (wave, world.lots[wave["lot"]].bench_zone, row["from_day"], row["to_day"], row["trays"])
        for row in rows["bench_trays"]
        for wave in (waves[row["wave"]],)
    ]
    for wave, zone, start, end, trays in spans:
        kind = {"lot": wave["lot"], "format": wave["format"], "method": None, "product": None}
        for day in days_from(start, end):
            # The stages are those of the lot's own zone, wherever the trays stand.
            numbers, stage, begins = {TaskPer.TRAY: trays}, "germination", wave["sow_day"]
            if day >= wave["bench_day"]:
                numbers[TaskPer.PLANT] = trays * wave["usable_per_tray"]
                stage, begins = "bench", wave["bench_day"]
            left = min(end, wave["bench_day"]) if stage == "germination" else end
            yield _There(day, stage, (day - begins).days + 1, zone, wave["lot"], kind, numbers, left)
    for row in rows["flows"]:
        yield from _growing(world, row)
    for row in rows["deliveries"]:
        product = world.products[row["product"]]
        held = row["plants"] + row["margin_plants"]
        trays = held / world.formats[product.final_format].cells
        numbers = {TaskPer.TRAY: trays, TaskPer.PLANT: held}
        zone = world.rooms.held(product.method, row["in_zones"])[0]
        leaves = row["due_day"] + row["days_late"] * ONE_DAY
        for n, day in enumerate(days_from(row["ready_day"], leaves)):
            kind = _kind(world, row["product"])
            yield _There(day, "holding", n + 1, zone, row["order"], kind, numbers, leaves)


def _kind(world: World, product: str) -> dict[str, str | None]:
    row = world.products[product]
    return {"lot": None, "format": row.final_format, "method": row.method, "product": product}


def _growing(world: World, row: Row) -> Iterator[_There]:
    """A flow day by day: each stay is used up by its stages in turn, and the last of them waits."""
    rule = world.methods[world.products[row["product"]].method]
    left = world.rooms.stages(rule.method, row["in_zones"])
    stays, _ = world.way(rule.method, row["graft_day"], row["in_zones"])
    for zone, part, start, out in stays:
        run = []
        while left and (left[0].zone, left[0].part) == (zone, part):
            run.append(left.pop(0))
        healing = part is Part.HEALING
        numbers = {
            TaskPer.TRAY: row["trays_loaded"] if healing else row["trays_finishing"],
            TaskPer.PLANT: row["joins"] if healing else row["healed"],
        }
        if rule.kind is not MethodKind.OWN_ROOT:
            numbers[TaskPer.JOIN] = row["joins"]
        nth = 0
        for day in days_from(start, out):
            while len(run) > 1 and nth >= run[0].days:
                run.pop(0)
                nth = 0
            nth += 1
            kind = _kind(world, row["product"])
            yield _There(day, run[0].stage, nth, zone, row["product"], kind, numbers, out)
