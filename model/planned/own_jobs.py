"""The nursery's own tasks in a plan: what is done on which day, on how many trays, joins or plants."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from model.network.expansion import left_on
from model.planned.lots import whole
from model.planned.plan_reading import PlanReading
from model.planned.plan_tables import TINY, Tables, rows_of
from model.planned.tables.declared import FLOW, flow_key
from model.scenario.choices import MethodKind, Part, TaskPer
from model.scenario.entities import Scenario
from model.scenario.own_tasks import HOLDING, SEEDLINGS, days_done, fits
from model.scenario.records.methods import Method
from model.scenario.records.people import OwnTask


class TaskDone(NamedTuple):
    """An own task on a day, on the trays of a lot, product or order: its ``number`` is what it is for."""

    day: date
    task: OwnTask
    name: str
    detail: str
    zone: str
    format: str
    trays: float
    number: float


class _Spell(NamedTuple):
    """Plants of a plan that stand in a stage, from ``start`` up to, but not including, ``end``.

    ``left``: the day on which they leave its room.
    """

    stage: str
    begins: date
    start: date
    end: date
    left: date
    numbers: dict[TaskPer, float]
    zone: str
    format: str
    name: str
    origin: str
    method: str | None = None
    product: str | None = None
    lot: str | None = None


def own_tasks_done(scenario: Scenario, tables: Tables) -> Iterator[TaskDone]:
    """All own tasks of a plan; those of one task, day, thing and origin together."""
    by_stage: dict[str, list[OwnTask]] = defaultdict(list)
    for task in scenario.own_tasks:
        by_stage[task.stage].append(task)
    sums: dict[tuple[int, OwnTask, str, str, str, str], list[float]] = defaultdict(lambda: [0.0, 0.0])
    standing = _Standing(scenario, tables)
    calendar = standing.calendar
    for spell in standing.spells() if by_stage else ():
        for task in by_stage[spell.stage]:
            kind = {"method": spell.method, "product": spell.product, "lot": spell.lot}
            if task.per in spell.numbers and fits(task, spell.stage, spell.format, **kind):
                days = spell.begins, spell.start, spell.end, spell.left
                begins, start, end, left = map(calendar.day, days)
                for t in days_done(task, begins, max(start, 0), end, left, calendar):
                    at = t, task, spell.name, spell.origin, spell.zone, spell.format
                    sums[at][0] += spell.numbers[TaskPer.TRAY]
                    sums[at][1] += spell.numbers[task.per]
    for (t, task, name, origin, zone, format_), (trays, number) in sums.items():
        if trays > TINY:
            used = f"; {whole(number * task.quantity):,} {task.supply}" if task.quantity > 0 else ""
            detail = f"{task.stage}, {origin}{used}"
            yield TaskDone(calendar.date(t), task, name, detail, zone, format_, trays, number)


class _Standing(PlanReading):
    """What stands in each stage of a plan."""

    def spells(self) -> Iterator[_Spell]:
        """All spells."""
        yield from self._seedlings()
        yield from self._flows()
        yield from self._held()

    def _seedlings(self) -> Iterator[_Spell]:
        germination, bench = SEEDLINGS
        for wave, there in self.germinating():
            # The stages are those of the lot's own zone, wherever the trays stand.
            first, on_bench = max(wave.sown, self.calendar.first), self.seed_lots[wave.lot].bench_zone
            about = wave.format, wave.lot, f"sown {wave.sown}"
            trays = {TaskPer.TRAY: there.trays}
            still = trays | {TaskPer.PLANT: there.trays * wave.usable}
            for stage, zone, begins, start, end, left, numbers in (
                (germination, there.zone, wave.sown, first, min(there.bench, wave.bench), wave.bench, trays),
                (germination, on_bench, wave.sown, there.bench, wave.bench, wave.bench, trays),
                (bench, there.zone, wave.bench, wave.bench, there.bench, there.bench, still),
            ):
                if end > start:
                    yield _Spell(stage, begins, start, end, left, numbers, zone, *about, lot=wave.lot)
        columns = ("wave", "from_day", "to_day", "trays")
        for name, start, end, trays in rows_of(self.tables["bench_trays"], *columns):
            wave = self.lots.waves[name]
            numbers = {TaskPer.TRAY: trays, TaskPer.PLANT: trays * wave.usable}
            about = wave.format, wave.lot, f"sown {wave.sown}"
            zone = self.seed_lots[wave.lot].bench_zone
            start = max(start, wave.bench)
            if end > start:
                yield _Spell(bench, wave.bench, start, end, end, numbers, zone, *about, lot=wave.lot)

    def _flows(self) -> Iterator[_Spell]:
        columns = (*FLOW, "joins", "trays_loaded", "healed", "trays_finishing")
        for *named, joins, loaded, healed, finishing in rows_of(self.tables["flows"], *columns):
            flow = flow_key(named)
            name, graft, _ = flow
            product = self.products[name]
            method = self.methods[product.method]
            origin = f"{_made(method)} {graft}"
            for stage, start, end in self.spans(flow):
                left = self.calendar.date(left_on(self.stays(flow), *map(self.calendar.day, (start, end))))
                healing = stage.part is Part.HEALING
                numbers = {
                    TaskPer.TRAY: loaded if healing else finishing,
                    TaskPer.PLANT: joins if healing else healed,
                }
                if method.kind is not MethodKind.OWN_ROOT:
                    numbers[TaskPer.JOIN] = joins
                kind = product.final_format, name, origin, method.method, name
                yield _Spell(stage.stage, start, start, end, left, numbers, stage.zone, *kind)

    def _held(self) -> Iterator[_Spell]:
        columns = ("order", "product", "graft_day", "in_zones", "ready_day", "due_day", "days_late")
        rows = rows_of(self.tables["deliveries"], *columns, "plants", "margin_plants")
        for order, name, graft, in_zones, ready, due, late, plants, margin in rows:
            leaves = due + timedelta(days=late)
            product = self.products[name]
            method = self.methods[product.method]
            held = plants + margin
            numbers = {TaskPer.TRAY: held / self.cells[product.final_format], TaskPer.PLANT: held}
            origin = f"{name}, bought in" if graft is None else f"{name}, {_made(method)} {graft}"
            kind = product.final_format, order, origin, method.method, name
            zone = self.holding(name, in_zones)[0]
            yield _Spell(HOLDING, ready, ready, leaves, leaves, numbers, zone, *kind)


def _made(method: Method) -> str:
    return "moved on" if method.kind is MethodKind.OWN_ROOT else "grafted"
