"""The consequences of each decision: trays standing, work to do, seed and supplies used.

A ``Key`` names a decision by its variable and its index. The program makes its rows from these amounts,
and the plan its tables.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from model.network.expansion import left_on, stage_spans
from model.network.germination import SownInto, further_places
from model.network.kinds_of_unit import Kind, KindsOfUnit
from model.network.practised import Practised, practice_waves, practised
from model.network.types import Flow, Network, OrderTerms, Stay
from model.scenario.capacity import CrewLimits, TimedRole, ZoneLimits, bay_limits, by_use, closest, roles_of
from model.scenario.choices import MethodKind, Part, Per, Task, TaskPer
from model.scenario.entities import Product, SeedLot, TrayFormat
from model.scenario.own_tasks import HOLDING, SEEDLINGS, days_done, fits
from model.scenario.records.methods import Method
from model.scenario.records.people import OwnTask
from model.scenario.records.rooms import StageZone

Key = tuple[str, int]
"""Name of a variable, and one of its indices."""


class Left(NamedTuple):
    """Trays r[w,k] of a wave left on the bench from its k-th draw day to the next."""

    wave: int
    start: int
    end: int


class Standing(NamedTuple):
    """Trays per unit of a decision that stand in a zone from ``start`` up to, but not including, ``end``.

    ``care``: time of care or tending, as a multiple of the labour standard.
    """

    key: Key
    trays: float
    slots: float
    zone: str
    start: int
    end: int
    healing: bool
    method: str | None
    format: str
    care: float = 1.0


class Work(NamedTuple):
    """Hours of a skill, at the standard pace, that one unit of a decision takes on a day.

    ``of``: the role whose part of a task it is; None for the nursery's own tasks and for washing, which have
    no kind either.
    """

    key: Key
    hours: float
    task: str
    skill: str
    day: int
    method: str | None = None
    format: str | None = None
    of: TimedRole | None = None


class Spell(NamedTuple):
    """Plants that stand in a stage from ``start`` up to, but not including, ``end``.

    ``begins``: first day of the stage. ``left``: day on which they leave its room. ``amounts``: for each
    measure the decision that sets the number of plants, and the number per unit of it.
    """

    stage: str
    begins: int
    start: int
    end: int
    left: int
    amounts: dict[TaskPer, tuple[Key, float]]
    format: str
    method: str | None = None
    product: str | None = None
    lot: str | None = None


class End(NamedTuple):
    """Plants that one unit of a decision brings an order, held from ``ready`` on, and how they are made.

    ``held``: the row of the zone in which they wait, None for the method's own.
    """

    key: Key
    plants: float
    ready: int
    term: OrderTerms
    product: Product
    method: Method
    held: StageZone | None = None


class Use(NamedTuple):
    """Units of an item that one unit of a decision uses on a day."""

    key: Key
    item: str
    units: float
    day: int


WASHING = "wash"
"""Task of washing supplies that come back."""

CHANGING_OVER = "change over"
"""Task of changing over blades and table for a seed lot."""


class LoadStay(NamedTuple):
    """A stay of a flow in a zone run in units, with the trays per unit of ``key`` and the slots per tray."""

    flow: int
    stay: Stay
    key: Key
    trays: float
    slots: float


class Batch(NamedTuple):
    """Units of a zone opened on one day, and the day from which they are free again.

    What stays longer is not loaded into them. Only so does what they take not depend on what might have come.
    ``not_for``: groups whose plants may not be in them, as those of other groups are.
    """

    zone: str
    open: int
    shut: int
    not_for: Kind = ()


class Load(NamedTuple):
    """A stay that may be loaded into a batch, as indices of ``load_stays`` and ``batches``."""

    stay: int
    batch: int


def _seedlings(key: Key, usable: float | None) -> dict[TaskPer, tuple[Key, float]]:
    """Measures of trays of seedlings; ``usable``: usable seedlings a tray, None before they can be told."""
    trays = {TaskPer.TRAY: (key, 1.0)}
    return trays if usable is None else trays | {TaskPer.PLANT: (key, usable)}


def _stays_cared_for(flow: Flow) -> Iterator[tuple[Stay, float]]:
    """The stays of a flow with the multiple of their care; stage by stage where stages differ in it."""
    if all(care == 1 for care in flow.route.care):
        yield from ((stay, 1.0) for stay in flow.stays)
        return
    spans = stage_spans(flow.route.stages, flow.stays)
    for (stage, start, end), care in zip(spans, flow.route.care, strict=True):
        yield Stay(stage.zone, stage.part, start, end), care


class Amounts:
    """All amounts of a network."""

    def __init__(self, network: Network) -> None:
        self.network = network
        scenario = network.scenario
        self.zones = {zone.zone: ZoneLimits(scenario, zone, network.calendar) for zone in scenario.zones}
        self.bays = bay_limits(scenario, network.calendar)
        self.crews = {crew.crew: CrewLimits(scenario, crew, network.calendar) for crew in scenario.crews}
        self._supply_uses = by_use(scenario.supply_uses)
        self._coming_back = {row.supply: row for row in scenario.supplies if row.return_share > 0}
        self.roles = roles_of(scenario.labour_standards)

    @cached_property
    def draw_days(self) -> list[list[int]]:
        """For each wave the days on which some join may draw on it."""
        return [self.network.draw_days(w) for w in range(len(self.network.waves))]

    def first_draw(self, w: int) -> int:
        """First day on which seedlings of a wave may leave the bench.

        If no join can use them: today, or the day on which they come to the bench if that is later.
        """
        days = self.draw_days[w]
        return days[0] if days else max(self.network.past.today, self.network.waves[w].bench)

    @cached_property
    def left(self) -> list[Left]:
        """Index list of r: spans between the draw days of each wave."""
        return [Left(w, start, end) for w, days in enumerate(self.draw_days) for start, end in pairwise(days)]

    @cached_property
    def sown_into(self) -> list[SownInto]:
        """Index list of X: waves whose trays may germinate in a further zone."""
        return further_places(self.network, self.first_draw)

    def finishing_trays(self, f: int) -> tuple[Key, float]:
        """Decision that sets the trays of flow f during finishing, and the trays per unit of it."""
        flow = self.network.flows[f]
        if flow.method.consolidate and f not in self.network.in_whole_trays:
            return ("healed", f), 1 / flow.tray.cells
        return ("finishing" if flow.method.consolidate else "loaded", f), 1.0

    def stay_trays(self, f: int, stay: Stay) -> tuple[Key, float]:
        """Decision that sets the trays of flow f during the stay, and the trays per unit of it."""
        return (("loaded", f), 1.0) if stay.part is Part.HEALING else self.finishing_trays(f)

    @cached_property
    def standing(self) -> list[Standing]:
        """All trays that stand in any zone, from the first day on."""
        waves = *self._waves_standing(), *self._standing_elsewhere()
        found = [*waves, *self._flows_standing(), *self._held(), *self._practice_standing()]
        if not self.network.past.plants:
            return found
        return [s._replace(start=max(s.start, 0)) for s in found if s.end > max(s.start, 0)]

    def _waves_standing(self) -> Iterator[Standing]:
        network = self.network
        for w, wave in enumerate(network.waves):
            tray, on_bench = wave.tray, max(wave.bench, 0)
            spans = [
                (wave.lot.germination_zone, max(wave.sow, 0), on_bench),
                (wave.lot.bench_zone, on_bench, self.first_draw(w)),
            ]
            for zone, start, end in spans:
                if end > start:
                    yield Standing(("sown", w), 1.0, tray.slots, zone, start, end, False, None, tray.format)
        for k, left in enumerate(self.left):
            wave = network.waves[left.wave]
            yield Standing(
                ("left", k),
                1.0,
                wave.tray.slots,
                wave.lot.bench_zone,
                left.start,
                left.end,
                False,
                None,
                wave.tray.format,
            )

    def _standing_elsewhere(self) -> Iterator[Standing]:
        """Trays in further zones for germination; as they are trays of their wave, fewer in its own zone."""
        for n, (w, row, out, _) in enumerate(self.sown_into):
            wave = self.network.waves[w]
            spans = (
                (-1.0, wave.lot.germination_zone, wave.sow, wave.bench, 1.0),
                (-1.0, wave.lot.bench_zone, wave.bench, out, 1.0),
                (1.0, row.zone, wave.sow, out, row.care),
                (1.0, wave.lot.bench_zone, out, wave.bench, 1.0),
            )
            for trays, zone, start, end, care in spans:
                if end > start:
                    kind = wave.tray.slots, zone, start, end, False, None, wave.tray.format, care
                    yield Standing(("sown_into", n), trays, *kind)

    def _flows_standing(self) -> Iterator[Standing]:
        for f, flow in enumerate(self.network.flows):
            kind = flow.method.method, flow.tray.format
            for stay, care in _stays_cared_for(flow):
                if stay.end > stay.start:
                    key, trays = self.stay_trays(f, stay)
                    span, healing = (stay.start, stay.end), stay.part is Part.HEALING
                    yield Standing(key, trays, flow.tray.slots, stay.zone, *span, healing, *kind, care)

    @cached_property
    def ends(self) -> list[End]:
        """All deliveries and plants bought."""
        network = self.network
        found = []
        for i, d in enumerate(network.deliveries):
            flow = network.flows[d.flow]
            made = flow.product, flow.method, flow.route.held
            found.append(End(("delivered", i), 1 + d.margin, flow.ready, network.orders[d.order], *made))
        for i, b in enumerate(network.buy_ins):
            term = network.orders[b.order]
            found.append(End(("bought", i), 1.0, b.day, term, term.product, term.method))
        return found

    def _held(self) -> Iterator[Standing]:
        for end in self.ends:
            tray, due = end.term.tray, end.term.leaves(end.ready)
            if due > end.ready:
                kind = end.method.method, tray.format, 1.0 if end.held is None else end.held.care
                zone, trays = end.method.holding_zone, end.plants / tray.cells
                yield Standing(end.key, trays, tray.slots, zone, end.ready, due, False, *kind)

    @cached_property
    def work(self) -> list[Work]:
        """All work that decisions cause, task by task."""
        own = [
            Work(key, number * task.seconds / 3600, task.task, task.skill, day)
            for key, number, task, day in self.own_tasks
            if task.skill is not None and task.seconds > 0
        ]
        made = [*self._wave_work(), *self._flow_work(), *self._order_work(), *self._daily_work()]
        return [*made, *own, *self._washing(), *self._practice_work()]

    def _at(
        self, key: Key, amount: float, task: Task, method: str | None, format_: str, day: int
    ) -> Iterator[Work]:
        for of in self.roles(task, method, format_) if day >= 0 else ():
            yield Work(key, amount * of.hours, of.name, of.skill, day, method, format_, of)

    def _wave_work(self) -> Iterator[Work]:
        for w, wave in enumerate(self.network.waves):
            format_ = wave.tray.format
            if not wave.on_hand:
                yield from self._at(("sown", w), 1.0, Task.SOW, None, format_, wave.sow)
            if wave.bench > wave.sow and wave.bench >= 0 and wave.lot.germination_zone != wave.lot.bench_zone:
                yield from self._at(("sown", w), 1.0, Task.MOVE, None, format_, wave.bench)
        for n, (w, row, out, _) in enumerate(self.sown_into):
            wave, key = self.network.waves[w], ("sown_into", n)
            bench, format_ = wave.lot.bench_zone, wave.tray.format
            if wave.lot.germination_zone != bench:
                yield from self._at(key, -1.0, Task.MOVE, None, format_, wave.bench)
            if row.zone != bench:
                yield from self._at(key, 1.0, Task.MOVE, None, format_, out)

    def _flow_work(self) -> Iterator[Work]:
        for f, flow in enumerate(self.network.flows):
            method, format_ = flow.method.method, flow.tray.format
            tasks = [(("grafted", f), 1.0, Task.GRAFT, flow.graft)] if flow.grafted else []
            if flow.method.kind is MethodKind.ROOT_CUT:
                tasks.append((("grafted", f), 1.0, Task.STICK, flow.graft))
            tasks += [(key, trays, Task.MOVE, day) for key, trays, day in self._moves(f, flow)]
            healed = [stay.end for stay in flow.stays if stay.part is Part.HEALING]
            if flow.method.consolidate and healed:
                tasks.append((("healed", f), 1 / flow.tray.cells, Task.CONSOLIDATE, healed[-1]))
            tasks.append((("healed", f), flow.survival, Task.GRADE, flow.ready))
            for key, amount, task, day in tasks:
                yield from self._at(key, amount, task, method, format_, day)

    def _moves(self, f: int, flow: Flow) -> Iterator[tuple[Key, float, int]]:
        """Work of moving a flow: from the grafting table (own-root: the bench) and between its stays."""
        if flow.grafted or self._leaves_bench(f, flow):
            yield ("loaded", f), 1.0, flow.graft
        for before, after in pairwise(flow.stays):
            if before.zone != after.zone:
                yield *self.stay_trays(f, after), before.end

    def _leaves_bench(self, f: int, flow: Flow) -> bool:
        scion = self.network.joins[self.network.flow_joins[f][0]].scion
        return bool(flow.stays) and self.network.waves[scion].lot.bench_zone != flow.stays[0].zone

    def _order_work(self) -> Iterator[Work]:
        network = self.network
        for end in self.ends:
            variable, i = end.key
            term, method, format_ = end.term, end.method, end.term.tray.format
            if variable == "delivered":
                flow = network.flows[network.deliveries[i].flow]
                last = flow.stays[-1].zone if flow.stays else None
                if term.leaves(flow.ready) > flow.ready and last != method.holding_zone:
                    trays = end.plants / term.tray.cells
                    yield from self._at(end.key, trays, Task.MOVE, method.method, format_, flow.ready)
            packed = term.packed(end.ready)
            if packed is not None:
                yield from self._at(end.key, 1.0, Task.PACK, method.method, format_, packed)

    def _daily_work(self) -> Iterator[Work]:
        for s in self.standing:
            task = Task.CARE if s.healing else Task.TEND
            for of in self.roles(task, s.method, s.format):
                key, hours, kind = s.key, s.trays * of.hours * s.care, (s.method, s.format, of)
                for day in range(s.start, s.end):
                    yield Work(key, hours, of.name, of.skill, day, *kind)

    @cached_property
    def own_tasks(self) -> list[tuple[Key, float, OwnTask, int]]:
        """The nursery's own tasks: decision, trays, joins or plants per unit of it, task, day."""
        network = self.network
        by_stage: dict[str, list[OwnTask]] = defaultdict(list)
        for task in network.scenario.own_tasks:
            by_stage[task.stage].append(task)
        found = []
        for spell in self._spells() if by_stage else ():
            kind = {"method": spell.method, "product": spell.product, "lot": spell.lot}
            for task in by_stage[spell.stage]:
                if task.per in spell.amounts and fits(task, spell.stage, spell.format, **kind):
                    key, number = spell.amounts[task.per]
                    span = spell.begins, max(spell.start, 0), spell.end, spell.left
                    found += [(key, number, task, t) for t in days_done(task, *span, network.calendar)]
        return found

    def _spells(self) -> Iterator[Spell]:
        germination, bench = SEEDLINGS
        for w, wave in enumerate(self.network.waves):
            kind = {"format": wave.tray.format, "lot": wave.lot.lot}
            germinating, sown = _seedlings(("sown", w), None), _seedlings(("sown", w), wave.usable)
            yield Spell(germination, wave.sow, max(wave.sow, 0), wave.bench, wave.bench, germinating, **kind)
            drawn = self.first_draw(w)
            yield Spell(bench, wave.bench, max(wave.bench, 0), drawn, drawn, sown, **kind)
        for k, left in enumerate(self.left):
            wave = self.network.waves[left.wave]
            kind = {"format": wave.tray.format, "lot": wave.lot.lot}
            seedlings = _seedlings(("left", k), wave.usable)
            yield Spell(bench, wave.bench, left.start, left.end, left.end, seedlings, **kind)
        yield from self._flow_spells()
        for end in self.ends:
            due = end.term.leaves(end.ready)
            if due <= end.ready:
                continue
            key, start, tray = end.key, end.ready, end.term.tray
            amounts = {TaskPer.TRAY: (key, end.plants / tray.cells), TaskPer.PLANT: (key, end.plants)}
            kind = {"method": end.method.method, "product": end.product.product}
            yield Spell(HOLDING, start, start, due, due, amounts, tray.format, **kind)

    def _flow_spells(self) -> Iterator[Spell]:
        for f, flow in enumerate(self.network.flows):
            joins = ("grafted", f), 1.0
            kind = {"method": flow.method.method, "product": flow.product.product}
            for stage, start, end in stage_spans(flow.route.stages, flow.stays):
                healing = stage.part is Part.HEALING
                amounts = {
                    TaskPer.TRAY: (("loaded", f), 1.0) if healing else self.finishing_trays(f),
                    TaskPer.PLANT: joins if healing else (("healed", f), 1.0),
                }
                if flow.grafted:
                    amounts[TaskPer.JOIN] = joins
                left = left_on(flow.stays, start, end)
                yield Spell(stage.stage, start, start, end, left, amounts, flow.tray.format, **kind)

    @cached_property
    def uses(self) -> list[Use]:
        """All seed and supplies used."""
        own = [
            Use(key, task.supply, number * task.quantity, day)
            for key, number, task, day in self.own_tasks
            if task.supply is not None and task.quantity > 0
        ]
        return [*self._seed_uses(), *self._supplies(), *own, *self._practice_uses()]

    def _seed_uses(self) -> Iterator[Use]:
        for w, wave in enumerate(self.network.waves):
            if not wave.on_hand:
                yield Use(("sown", w), wave.lot.lot, wave.seeds, wave.sow)

    def _supplies(self) -> Iterator[Use]:
        network = self.network
        for w, wave in enumerate(network.waves):
            if not wave.on_hand:
                yield from self._used(("sown", w), Per.TRAY_SOWN, None, wave.tray.format, wave.sow)
        for f, flow in enumerate(network.flows):
            method, format_ = flow.method.method, flow.tray.format
            if flow.grafted:
                yield from self._used(("grafted", f), Per.JOIN, method, format_, flow.graft)
            if flow.method.kind is MethodKind.ROOT_CUT:
                yield from self._used(("loaded", f), Per.TRAY_STUCK, method, format_, flow.graft)
        for end in self.ends:
            packed = end.term.packed(end.ready)
            if packed is not None:
                kind = end.method.method, end.term.tray.format
                yield from self._used(end.key, Per.PLANT_DELIVERED, *kind, packed)

    def _used(self, key: Key, per: Per, method: str | None, format_: str, day: int) -> Iterator[Use]:
        for (supply, what), rows in self._supply_uses.items():
            if what == per.value and day >= 0:
                row = closest(rows, method, format_)
                if row is not None and row.quantity > 0:
                    yield Use(key, supply, row.quantity, day)

    @cached_property
    def returns(self) -> list[Use]:
        """Units of supplies that come back, on the day from which they can be used again."""
        found = []
        for use in self.uses:
            supply = self._coming_back.get(use.item)
            if supply is not None:
                day = self.network.calendar.next_working(use.day + supply.return_days)
                if day is not None:
                    found.append(Use(use.key, use.item, use.units * supply.return_share, day))
        return found

    def _washing(self) -> Iterator[Work]:
        for back in self.returns:
            supply = self._coming_back[back.item]
            if supply.wash_skill is not None and supply.wash_seconds > 0:
                hours = back.units * supply.wash_seconds / 3600
                yield Work(back.key, hours, WASHING, supply.wash_skill, back.day)

    @cached_property
    def crew_weeks(self) -> list[tuple[str, int]]:
        """Crews with temporary hands and numbers of weeks: index list of M and A."""
        return [
            (name, q)
            for name, limits in self.crews.items()
            if limits.crew.temp_heads_most > 0
            for q in range(len(self.network.calendar.weeks))
        ]

    @cached_property
    def _practice(self) -> tuple[list[Practised], set[int]]:
        return practised(self.network, self.crews, self.crew_weeks)

    @property
    def too_early(self) -> set[int]:
        """Crew-weeks in which nobody new can begin: what they practise on cannot be sown in time."""
        return self._practice[1]

    @cached_property
    def _practice_waves(self) -> list[tuple[Practised, SeedLot, TrayFormat, int]]:
        return practice_waves(self.network, self._practice[0])

    def _practice_standing(self) -> Iterator[Standing]:
        for (key, row, day, end), lot, tray, bench in self._practice_waves:
            for zone, start, out in ((lot.germination_zone, day, bench), (lot.bench_zone, bench, end)):
                if out > start:
                    yield Standing(key, row.quantity, tray.slots, zone, start, out, False, None, tray.format)

    def _practice_work(self) -> Iterator[Work]:
        for (key, row, day, end), lot, tray, bench in self._practice_waves:
            yield from self._at(key, row.quantity, Task.SOW, None, tray.format, day)
            if day < bench < end and lot.germination_zone != lot.bench_zone:
                yield from self._at(key, row.quantity, Task.MOVE, None, tray.format, bench)

    def _practice_uses(self) -> Iterator[Use]:
        for (key, row, day, _), lot, tray, _ in self._practice_waves:
            yield Use(key, lot.lot, row.quantity * tray.cells * lot.seeds_per_cell, day)
            for use in self._used(key, Per.TRAY_SOWN, None, tray.format, day):
                yield use._replace(units=use.units * row.quantity)
        for key, row, day, _ in self._practice[0]:
            if row.format is None and row.quantity > 0:
                yield Use(key, row.item, row.quantity, day)

    @cached_property
    def load_stays(self) -> list[LoadStay]:
        """All stays in zones run in units."""
        return [
            LoadStay(f, stay, *self.stay_trays(f, stay), flow.tray.slots)
            for f, flow in enumerate(self.network.flows)
            for stay in flow.stays
            if not self.zones[stay.zone].pool and stay.end > max(stay.start, 0)
        ]

    @cached_property
    def _batches_and_loads(self) -> tuple[list[Batch], list[Load]]:
        batches: list[Batch] = []
        loads: list[Load] = []
        kinds = KindsOfUnit(self.network)
        for name, limits in self.zones.items():
            stays = [i for i, load in enumerate(self.load_stays) if load.stay.zone == name]
            load_days = limits.zone.load_days or 1
            # A past graft day may have been a day off, yet units were opened on it.
            grafted = {self.load_stays[i].stay.start for i in stays}
            past = {day for day in grafted if day < self.network.past.today}
            for opened in sorted({*self.network.calendar.working_days, *past}):
                begun = [i for i in stays if opened <= self.load_stays[i].stay.start < opened + load_days]
                for shut in sorted({self.load_stays[i].stay.end for i in begun}):
                    fitting = [i for i in begun if self.load_stays[i].stay.end <= shut]
                    made = kinds.kinds(name, {self.load_stays[i].flow for i in fitting})
                    loads += [
                        Load(i, len(batches) + k)
                        for i in fitting
                        for k in kinds.open_to(self.load_stays[i].flow, made)
                    ]
                    batches += [Batch(name, opened, shut, kind) for kind in made]
        return batches, loads

    @property
    def batches(self) -> list[Batch]:
        """Batches of units that could be opened, of one day by the day on which they are free again."""
        return self._batches_and_loads[0]

    @property
    def loads(self) -> list[Load]:
        """Index list of L."""
        return self._batches_and_loads[1]
