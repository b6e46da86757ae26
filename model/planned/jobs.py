"""The jobs of a plan: the work of each day, in the order in which it is done.

They form the plan table ``jobs``, which the audit replays. Work lists, the calendar feed and everything else
that crews act on come from it. Hours follow the labour standards, at the standard pace.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from operator import attrgetter
from typing import Any, NamedTuple

from model.planned.last_days import last_days
from model.planned.lots import SownWave, in_whole_plants, whole
from model.planned.own_jobs import own_tasks_done
from model.planned.plan_reading import PlanReading
from model.planned.plan_tables import TINY, Plan, Tables, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.planned.tables.job_tables import JOBS, TASKS, Step
from model.scenario.capacity import TimedRole, in_role, roles_of
from model.scenario.choices import MethodKind, Part, TaskPer
from model.scenario.entities import Scenario
from model.scenario.records.methods import Method
from model.scenario.run_days import run_by_customer


@dataclass(frozen=True, slots=True)
class Job:
    """One job of a day.

    ``series`` identifies the job whatever its day and amount: step, own task and stage if it is one, then lot
    and format, product, order, zone, item or machine, as in ``name``, then the role. ``detail``
    gives the lots, orders or packs behind it. A blank ``from_zone`` or ``to_zone`` is the work area.
    ``trays`` may be fractional; ``count`` (of ``unit``) is an expectation. ``hours`` of ``skill`` are at the
    standard pace; None if the job has no labour standard. Where a task is in roles, each has a job on the
    same trays and plants; only that of the first role by name has the seeds.
    """

    day: date
    step: Step
    series: tuple[str, ...]
    name: str
    own_task: str = ""
    detail: str = ""
    from_zone: str = ""
    to_zone: str = ""
    format: str = ""
    trays: float | None = None
    count: float | None = None
    unit: str = ""
    seeds: float | None = None
    skill: str | None = None
    hours: float = 0.0
    role: str = ""

    @property
    def task(self) -> str:
        """Name of the task: the nursery's own, or that of the step, with the role."""
        return self.own_task or in_role(self.step.task, self.role)

    @property
    def where(self) -> str:
        """Zones from and to; blank for care and tending, whose ``name`` is the zone."""
        if self.step in (Step.CARE, Step.TEND):
            return ""
        if self.step is Step.OWN_TASK:
            return f"in {self.from_zone}"
        words = (self.from_zone and f"from {self.from_zone}", self.to_zone and f"to {self.to_zone}")
        return " ".join(word for word in words if word)


def _for_zones(flow: FlowKey) -> str:
    """The zones chosen for a flow, in words; nothing where its method has no choice."""
    return f"; in zones: {flow[2]}" if flow[2] else ""


def jobs(scenario: Scenario, tables: Tables, washed: Mapping[tuple[str, date], str]) -> list[Job]:
    """All jobs of a plan, by day and in the order of work. Care and tending: one a zone, role and day.

    ``washed``: what to say of groups kept apart at the washing of an item used on a day.
    """
    maker = _Maker(scenario, tables)
    found = [
        *maker.wave_jobs(),
        *maker.practice_jobs(),
        *maker.flow_jobs(),
        *maker.order_jobs(),
        *maker.standing_jobs(),
        *maker.own_jobs(),
        *maker.attending_jobs(),
        *maker.washing_jobs(washed),
        *maker.change_over_jobs(),
        *maker.buying_jobs(),
    ]
    # What was done to plants on hand before the first day is nobody's job.
    ahead = [job for job in found if job.day >= scenario.nursery.first_day]
    return sorted(ahead, key=lambda job: (job.day, job.step.position, job.series, job.detail))


def numbered(n: int) -> str:
    """Number of the job at position n, from 0."""
    return f"J{n + 1:05d}"


def job_rows(found: Sequence[Job]) -> list[dict[str, Any]]:
    """Jobs as rows of the table ``jobs``, numbered in their order."""
    rows, series = [], json.JSONEncoder(ensure_ascii=False)
    columns, cells = JOBS.names, attrgetter(*JOBS.names[1:])
    for n, job in enumerate(found):
        row = dict(zip(columns, (numbered(n), *cells(job)), strict=True))
        row |= {"step": job.step.value, "series": series.encode(job.series)}
        row |= {name: row[name] or None for name in WORDS}
        rows.append(row)
    return rows


def jobs_of(plan: Plan) -> dict[str, Job]:
    """The jobs of a plan by their numbers, in the order of work."""
    found = {}
    for row in rows_of(plan.jobs, *JOBS.names):
        cells: dict[str, Any] = dict(zip(JOBS.names, row, strict=True))
        number, step, series = cells.pop("job"), Step(cells.pop("step")), json.loads(cells.pop("series"))
        cells |= {name: cells[name] or "" for name in WORDS}
        found[number] = Job(step=step, series=tuple(series), **cells)
    return found


Cells = dict[str, Any]
"""Cells of a job by column."""

WORDS = ("own_task", "role", "detail", "from_zone", "to_zone", "format", "unit")
"""Columns of words that may be blank."""


_Tended = tuple[date, Step, str, str | None, str]
"""Day, step, zone, skill and role of care or tending."""


class _Stands(NamedTuple):
    """Trays that stand in a zone up to, but not including, their day out, and the climate they want."""

    zone: str
    first: date
    out: date
    trays: float
    method: str | None
    format: str
    step: Step
    climate: str = ""
    care: float = 1.0
    """Time of care or tending, as a multiple of the labour standard."""


class _Maker(PlanReading):
    def __init__(self, scenario: Scenario, tables: Tables) -> None:
        super().__init__(scenario, tables)
        self.roles = roles_of(scenario.labour_standards)
        self.last = last_days(scenario, tables)
        columns = ("lot", "format", "sow_day", "wave")
        self.wave_names = {tuple(wave): name for *wave, name in rows_of(tables["waves"], *columns)}

    def work(self, step: Step, method: str | None, format_: str) -> tuple[TimedRole | None, ...]:
        """The roles of a step's task; None alone if it takes no time."""
        return self.roles(TASKS[step], method, format_) or (None,)

    def job(
        self, day: date, step: Step, name: str, detail: str, at: tuple[str, ...] = (), **fields: Any
    ) -> Job:
        """A job without hours; ``at``: its series after the step, else its name."""
        return Job(day, step, (step.name, *(at or (name,))), name, detail=detail, **fields)

    def timed(self, job: Job, work: float, method: str | None = None) -> Iterator[Job]:
        """The job with the hours of its ``work``: one job for each role of its task."""
        for n, of in enumerate(self.work(job.step, method, job.format)):
            if of is None:
                yield job
                continue
            series = (*job.series, of.role) if of.role else job.series
            hours, seeds = work * of.seconds / 3600, job.seeds if n == 0 else None
            yield replace(job, series=series, role=of.role or "", skill=of.skill, hours=hours, seeds=seeds)

    # Waves

    def wave_jobs(self) -> Iterator[Job]:
        """Sowing, and moving from germination to the bench."""
        for wave, there in self.germinating():
            lot, at = self.seed_lots[wave.lot], (wave.lot, wave.format, *([] if there.own else [there.zone]))
            germinates, part = wave.bench > wave.sown, there.trays / wave.trays
            moved: Cells = {"format": wave.format, "trays": there.trays}
            zone = there.zone if germinates else lot.bench_zone
            last = self.last.waves[self.wave_names[wave.lot, wave.format, wave.sown]]
            about = f"{wave.variety}; for {self._used_for(wave)}{last.words(wave.sown)}"
            first = self.calendar.first
            if wave.sown >= first:
                sown: Cells = {"to_zone": zone, "seeds": wave.seeds * part}
                sowing = self.job(wave.sown, Step.SOW, wave.lot, about, at, **sown, **moved)
                yield from self.timed(sowing, there.trays)
            if germinates and there.bench >= first and there.zone != lot.bench_zone:
                moved |= {"from_zone": there.zone, "to_zone": lot.bench_zone}
                moving = self.job(there.bench, Step.MOVE_TO_BENCH, wave.lot, f"sown {wave.sown}", at, **moved)
                yield from self.timed(moving, there.trays)

    def practice_jobs(self) -> Iterator[Job]:
        """Sowing what new hands practise on, and moving it to the bench."""
        for row, trays, hands, training, sown, bench, out in self.practised():
            format_ = row.format
            if format_ is None:
                continue
            lot, at = self.seed_lots[row.item], ("practice", row.crew, row.item, format_)
            moved: Cells = {"format": format_, "trays": trays}
            new = f"{hands:.3g} new hand{'' if hands == 1 else 's'}"
            about = f"{lot.variety}; for {new} of {row.crew} to practise on from {training}"
            zone = lot.germination_zone if lot.germination_days else lot.bench_zone
            seeds = trays * self.cells[format_] * lot.seeds_per_cell
            sowing = self.job(sown, Step.SOW, lot.lot, about, at, to_zone=zone, seeds=seeds, **moved)
            yield from self.timed(sowing, trays)
            if sown < bench < out and lot.germination_zone != lot.bench_zone:
                moved |= {"from_zone": lot.germination_zone, "to_zone": lot.bench_zone}
                about += f"; sown {sown}"
                yield from self.timed(self.job(bench, Step.MOVE_TO_BENCH, lot.lot, about, at, **moved), trays)

    def _used_for(self, wave: SownWave) -> str:
        flows = self.lots.grafts[wave]
        return "; ".join(sorted({product for product, *_ in flows}))

    # Flows

    def flow_jobs(self) -> Iterator[Job]:
        """Jobs of all flows, from the graft day to the ready day."""
        names = (*FLOW, "joins", "trays_loaded", "healed", "trays_finishing", "finished")
        for *named, joins, loaded, healed, finishing, finished in rows_of(self.tables["flows"], *names):
            flow = flow_key(named)
            product, graft, _ = flow
            method, stays = self.methods[self.products[product].method], self.stays(flow)
            grafted = method.kind is not MethodKind.OWN_ROOT
            if grafted:
                yield from self._grafts(flow, method)
            if method.kind is MethodKind.ROOT_CUT:
                stuck: Cells = {"trays": loaded, "count": joins, "unit": "joins"}
                yield from self._flow_jobs(Step.STICK, flow, graft, joins, **stuck)
            bench = self._bench_of(flow)
            first = stays[0].zone if stays else self.holding(product, flow[2])[0]
            if grafted or (stays and first != bench):
                step = Step.MOVE_TO_HEALING if grafted else Step.MOVE_ON
                yield from self._moved(step, flow, graft, loaded, "" if grafted else bench, first)
            for before, after in pairwise(stays):
                if before.zone != after.zone:
                    trays = loaded if after.part is Part.HEALING else finishing
                    day = self.calendar.date(after.start)
                    yield from self._moved(Step.MOVE_ON, flow, day, trays, before.zone, after.zone)
            ends = [stay for stay in stays if stay.part is Part.HEALING]
            if method.consolidate and ends:
                yield from self._flow_jobs(
                    Step.CONSOLIDATE,
                    flow,
                    self.calendar.date(ends[-1].end),
                    healed / self.cells[self.products[product].final_format],
                    from_zone=ends[-1].zone,
                    trays=finishing,
                    count=healed,
                    unit="plants",
                )
            ready = self.calendar.date(stays[-1].end) if stays else graft
            zone = stays[-1].zone if stays else ""
            yield from self._flow_jobs(
                Step.GRADE, flow, ready, finished, from_zone=zone, count=finished, unit="plants"
            )

    def _bench_of(self, flow: FlowKey) -> str:
        return self.seed_lots[self.lots.pairs[flow][0].scion.lot].bench_zone

    def _grafts(self, flow: FlowKey, method: Method) -> Iterator[Job]:
        """One job for each pair of waves and role: its trays are fetched together, its joins counted."""
        for pair in self.lots.pairs[flow]:
            trays = zip(pair.waves, map(whole, pair.trays), strict=True)
            fetched = [f"{wave.named} ({n} tray{'' if n == 1 else 's'})" for wave, n in trays]
            zones = {self.seed_lots[wave.lot].bench_zone: None for wave in pair.waves}
            on_tray = pair.rootstock is not None and method.kind is MethodKind.ON_TRAY
            mind = f"; {method.at_bench}" if method.at_bench else ""
            if method.open_cuts_most is not None:
                mind += f"; cuts open at a time: at most {method.open_cuts_most}"
            yield from self._flow_jobs(
                Step.GRAFT,
                flow,
                flow[1],
                pair.joins,
                f"{method.method}: {' with '.join(fetched)}{_for_zones(flow)}"
                f"{self.last.flows[flow].words(flow[1])}{mind}",
                from_zone=", ".join(zones),
                trays=pair.trays[0] if on_tray else None,
                count=pair.joins,
                unit="joins",
            )

    def _moved(
        self, step: Step, flow: FlowKey, day: date, trays: float, start: str, end: str
    ) -> Iterator[Job]:
        return self._flow_jobs(step, flow, day, trays, from_zone=start, to_zone=end, trays=trays)

    def _flow_jobs(
        self, step: Step, flow: FlowKey, day: date, work: float, detail: str = "", **fields: Any
    ) -> Iterator[Job]:
        product = self.products[flow[0]]
        grafted = self.methods[product.method].kind is not MethodKind.OWN_ROOT
        came = f"grafted {flow[1]}: " if grafted and day > flow[1] else ""
        about = detail or f"{came}{self.lots.named(flow)}{_for_zones(flow)}"
        at = tuple(filter(None, (flow[0], fields.get("to_zone"), flow[2])))
        fields["format"] = product.final_format
        return self.timed(self.job(day, step, flow[0], about, at, **fields), work, product.method)

    # Orders

    def order_jobs(self) -> Iterator[Job]:
        """Moving to holding, packing, delivering."""
        packed: dict[tuple[str, str, date], float] = defaultdict(float)
        sources: dict[tuple[str, str, date], list[tuple[float, str]]] = defaultdict(list)
        delivered: dict[tuple[str, date], float] = defaultdict(float)
        late_by: dict[tuple[str, date], int] = {}
        columns = ("order", "source", *FLOW, "ready_day", "due_day", "days_late", "pack_day")
        rows = rows_of(self.tables["deliveries"], *columns, "plants", "margin_plants", "offer")
        for order, source, *named, ready, due, late, pack, plants, margin, offer in rows:
            leaves = due + timedelta(days=late)
            flow = flow_key(named)
            product, graft, _ = flow
            packed[order, product, pack] += plants
            delivered[order, leaves] += plants
            late_by[order, leaves] = late
            origin = f"grafted {graft}" if source == "own" else f"from {offer} on {ready}"
            if self.methods[self.products[product].method].kind is MethodKind.OWN_ROOT and source == "own":
                origin = f"moved on {graft}"
            sources[order, product, pack].append((plants, f"{origin}{_for_zones(flow)}"))
            if source == "own" and leaves > ready:
                yield from self._held(order, flow, ready, plants + margin)
        for (order, name, pack), plants in packed.items():
            item = self.products[name]
            amounts, origins = zip(*sources[order, name, pack], strict=True)
            counts = in_whole_plants(amounts, whole(plants))
            told = (f"{count} {origin}" for count, origin in zip(counts, origins, strict=True) if count)
            detail = f"{name}: {'; '.join(told)}"
            amount: Cells = {"count": plants, "unit": "plants"}
            packing = self.job(pack, Step.PACK, order, detail, format=item.final_format, **amount)
            yield from self.timed(packing, plants, item.method)
        orders = {row.order: row for row in self.scenario.orders}
        by_customer = run_by_customer(self.scenario)
        for (order, leaves), plants in delivered.items():
            row, amount = orders[order], {"count": plants, "unit": "plants"}
            after = f", {days} days late" if (days := late_by[order, leaves]) else ""
            run = by_customer.get(row.customer)
            by = "" if run is None else f", by {run.run}"
            about = f"{row.product}, to {row.customer}{by}{after}"
            yield self.job(leaves, Step.DELIVER, order, about, **amount)

    def _held(self, order: str, flow: FlowKey, ready: date, plants: float) -> Iterator[Job]:
        product = self.products[flow[0]]
        method = self.methods[product.method]
        stays = self.stays(flow)
        last, zone = stays[-1].zone if stays else "", self.holding(flow[0], flow[2])[0]
        if last != zone:
            trays = plants / self.cells[product.final_format]
            about = f"{flow[0]}: {self.lots.named(flow)}{_for_zones(flow)}"
            moved: Cells = {"from_zone": last, "to_zone": zone, "format": product.final_format}
            moved |= {"trays": trays, "count": plants, "unit": "plants"}
            moving = self.job(ready, Step.MOVE_TO_HOLDING, order, about, **moved)
            yield from self.timed(moving, trays, method.method)

    # What stands

    def standing_jobs(self) -> Iterator[Job]:
        """Care and tending: one job a zone, skill, role and day."""
        sums: dict[_Tended, list[float]] = defaultdict(lambda: [0.0, 0.0])
        climates: dict[_Tended, set[str]] = defaultdict(set)
        for s in self._standing():
            for of in self.work(s.step, s.method, s.format) if s.trays > TINY else ():
                skill, role = (None, "") if of is None else (of.skill, of.role or "")
                hours = 0.0 if of is None else s.trays * s.care * of.seconds / 3600
                for n in range((s.out - s.first).days):
                    key = s.first + timedelta(days=n), s.step, s.zone, skill, role
                    sums[key][0] += s.trays
                    sums[key][1] += hours
                    if s.climate:
                        climates[key].add(s.climate)
        for key, (trays, hours) in sums.items():
            day, step, zone, skill, role = key
            at = (step.name, zone, skill or "", *([role] if role else []))
            detail = "; ".join(sorted(climates[key]))
            about: Cells = {"role": role, "detail": detail, "from_zone": zone}
            yield Job(day, step, at, zone, **about, trays=trays, skill=skill, hours=hours)

    def _standing(self) -> Iterator[_Stands]:
        """All trays that stand in a zone."""
        for wave, there in self.germinating():
            start = max(wave.sown, self.calendar.first)
            span = start, there.bench
            yield _Stands(there.zone, *span, there.trays, None, wave.format, Step.TEND, care=there.care)
        for name, start, end, trays in rows_of(
            self.tables["bench_trays"], "wave", "from_day", "to_day", "trays"
        ):
            wave = self.lots.waves[name]
            zone = self.seed_lots[wave.lot].bench_zone
            yield _Stands(zone, start, end, trays, None, wave.format, Step.TEND)
        for practised in self.practised():
            if practised.row.format is not None:
                lot, what = (
                    self.seed_lots[practised.row.item],
                    (practised.amount, None, practised.row.format, Step.TEND),
                )
                yield _Stands(lot.germination_zone, practised.day, practised.bench, *what)
                yield _Stands(lot.bench_zone, practised.bench, practised.out, *what)
        for *named, loaded, finishing in rows_of(
            self.tables["flows"], *FLOW, "trays_loaded", "trays_finishing"
        ):
            flow = flow_key(named)
            product = self.products[flow[0]]
            made = product.method, product.final_format
            for (stage, first, out), care in zip(self.spans(flow), self.route(flow).care, strict=True):
                trays, step = (loaded, Step.CARE) if stage.part is Part.HEALING else (finishing, Step.TEND)
                climate = f"{stage.stage}: {stage.climate}" if stage.climate else ""
                yield _Stands(stage.zone, first, out, trays, *made, step, climate, care)
        held = ("product", "in_zones", "ready_day", "due_day", "days_late", "plants", "margin_plants")
        for name, in_zones, ready, due, late, plants, margin in rows_of(self.tables["deliveries"], *held):
            product = self.products[name]
            method, format_ = self.methods[product.method], product.final_format
            trays = (plants + margin) / self.cells[format_]
            leaves = due + timedelta(days=late)
            zone, care = self.holding(name, in_zones)
            kind = method.method, format_
            yield _Stands(zone, ready, leaves, trays, *kind, Step.TEND, care=care)

    # The nursery's own tasks

    def own_jobs(self) -> Iterator[Job]:
        """One job for each own task, day, and lot, product or order."""
        for done in own_tasks_done(self.scenario, self.tables):
            task, per_tray = done.task, done.task.per is TaskPer.TRAY
            timed = task.skill is not None and task.seconds > 0
            yield Job(
                done.day,
                Step.OWN_TASK,
                (Step.OWN_TASK.name, task.task, task.stage, done.name),
                done.name,
                task.task,
                done.detail,
                from_zone=done.zone,
                format=done.format,
                trays=done.trays,
                count=None if per_tray else done.number,
                unit="" if per_tray else f"{task.per.value}s",
                skill=task.skill if timed else None,
                hours=done.number * task.seconds / 3600 if timed else 0.0,
            )

    # Machines

    def attending_jobs(self) -> Iterator[Job]:
        """One job for each machine and day: its attendants, and what it does meanwhile."""
        crews = {crew.crew: crew for crew in self.scenario.crews if crew.attendants > 0}
        run: dict[tuple[date, str], dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for name, day, task, hours in rows_of(self.tables["hours"], "crew", "day", "task", "hours"):
            if name in crews:
                run[day, name][task] += hours
        for (day, name), tasks in run.items():
            crew, hours = crews[name], sum(tasks.values())
            at = (Step.ATTEND.name, name)
            about = f"{', '.join(sorted(tasks))}: {crew.attendants:g} hands while it runs"
            yield Job(
                day,
                Step.ATTEND,
                at,
                name,
                detail=about,
                skill=crew.attendant_skill,
                hours=hours * crew.attendants,
            )

    # Changing over

    def change_over_jobs(self) -> Iterator[Job]:
        """One job for each seed lot at the grafting table on a day."""
        nursery, step = self.scenario.nursery, Step.CHANGE_OVER
        for day, lot, number in rows_of(self.tables["change_overs"], "day", "lot", "number"):
            yield Job(
                day,
                step,
                (step.name, lot),
                lot,
                detail=f"{self.seed_lots[lot].variety}; blades and table, before its first graft of the day",
                count=number,
                unit="change-overs",
                skill=nursery.change_over_skill,
                hours=number * nursery.change_over_seconds / 3600,
            )

    # Washing

    def washing_jobs(self, washed: Mapping[tuple[str, date], str]) -> Iterator[Job]:
        """One job for each supply that comes back and each day on which it was used."""
        coming = {row.supply: row for row in self.scenario.supplies if row.return_share > 0}
        for item, day, used in rows_of(self.tables["item_uses"], "item", "day", "used"):
            supply = coming.get(item)
            if supply is None or used <= TINY:
                continue
            back = self.calendar.next_working(self.calendar.day(day) + supply.return_days)
            if back is not None:
                number, timed = used * supply.return_share, supply.wash_seconds > 0
                apart = f"; {washed[item, day]}" if (item, day) in washed else ""
                yield Job(
                    self.calendar.date(back),
                    Step.WASH,
                    (Step.WASH.name, item),
                    item,
                    detail=f"used {day}{apart}",
                    count=number,
                    unit=supply.unit,
                    skill=supply.wash_skill if timed else None,
                    hours=number * supply.wash_seconds / 3600 if timed else 0.0,
                )

    # Buying

    def buying_jobs(self) -> Iterator[Job]:
        """Orders to place, each on its last possible day, and finished plants to receive."""
        units: dict[str, str] = dict(rows_of(self.tables["items"], "item", "unit"))
        packs: dict[tuple[str, str, date], list[tuple[float, float]]] = defaultdict(list)
        columns = ("item", "kind", "order_by", "packs", "ordered", "size")
        for item, kind, by, number, ordered, size in rows_of(self.tables["purchases"], *columns):
            if by is not None and number > ordered:
                packs[item, kind, by].append((number - ordered, size))
        for (item, kind, by), bought in packs.items():
            detail = f"{kind}: " + ", ".join(f"{whole(n):,} × {size:,.10g}" for n, size in bought)
            count = sum(number * size for number, size in bought)
            yield self.job(by, Step.ORDER, item, detail, (kind, item), count=count, unit=units[item])
        finished = ("offer", "product", "order", "order_by", "arrival_day", "plants", "spare")
        for offer, product, order, by, arrival, plants, spare in rows_of(self.tables["buy_in"], *finished):
            zone = self.methods[self.products[product].method].holding_zone
            about = f"{product}, for {order}" + (f" and {whole(spare):,} spare" if spare else "")
            amount: Cells = {"count": plants + spare, "unit": "plants"}
            to_come = f"{about}; to come on {arrival}"
            yield self.job(by, Step.ORDER, offer, to_come, ("buy-in", offer, order), **amount)
            yield self.job(arrival, Step.RECEIVE, offer, about, (offer, order), to_zone=zone, **amount)
