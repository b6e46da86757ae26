"""The program of docs/maths.md stated a second time, plainly, from the scenario alone.

It shares nothing with ``model`` but the records of a scenario, so that a slip in one statement does
not hide in the other. Where the meaning allows it is stated otherwise: trays on the bench day by day,
stem match by pairing two sorted lists, margins by counting up.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from itertools import product as product_of
from math import inf

from model.scenario.choices import Decline, MethodKind, Part, Per, Source, Task, TaskPer
from model.scenario.entities import Order, Product, Scenario, SeedLot, TrayFormat
from model.scenario.records.methods import Method, Stage
from model.scenario.records.people import Crew
from model.scenario.records.trade import BuyInOffer
from tests.independent_charges import as_sent, cells_of_full
from tests.independent_labour import Kind
from tests.independent_packs import Packs
from tests.independent_parts import (
    Builder,
    Coefs,
    Days,
    Flow,
    Join,
    Stay,
    Wave,
    overheads,
    plus,
    sum_after,
    times,
)
from tests.independent_rooms import ZonesChosen, zones_chosen
from tests.independent_runs import Freight


def least_cost(scenario: Scenario, whole: bool) -> float:
    """Least cost of the scenario, with lumpy things whole or in parts, in its currency."""
    return Statement(scenario).builder.solve(whole)


class Statement(Packs):
    """All of the program for one scenario."""

    def __init__(self, scenario: Scenario) -> None:
        self.at_once, scenario = cells_of_full(scenario), as_sent(scenario)
        self.in_trays = {order.product for order in scenario.orders if order.order in self.at_once}
        super().__init__(scenario)
        self.days = Days(scenario)
        self.freight = Freight(scenario, self.days)
        self.builder = Builder()
        self.formats = {row.format: row for row in scenario.tray_formats}
        self.zones = {row.zone: row for row in scenario.zones}
        self.slots: dict[tuple[str, int], Coefs] = defaultdict(dict)
        self.hours: dict[tuple[str, int], Coefs] = defaultdict(dict)
        self.spent: dict[tuple[str, int], Coefs] = {}
        self.new_hands: dict[tuple[str, int], int] = {}
        self.by_piece: list[tuple[Crew, str, int, int, float]] = []
        self.kinds: dict[tuple[str, int], dict[Kind, Coefs]] = defaultdict(dict)
        self.used: dict[str, list[tuple[int, Coefs]]] = defaultdict(list)
        self.back: dict[str, list[tuple[int, Coefs]]] = defaultdict(list)
        self.loads: dict[str, list[tuple[Stay, Coefs, Flow]]] = defaultdict(list)
        self.into: dict[tuple[str, int], dict[int, int]] = defaultdict(dict)
        self.served: dict[str, Coefs] = defaultdict(dict)
        self.reach: dict[int, list[Order]] = defaultdict(list)
        self.sent: dict[int, dict[str, int]] = defaultdict(dict)
        self.filled: dict[int, Coefs] = {}
        self.spare: dict[Wave, dict[int, Coefs]] = defaultdict(lambda: defaultdict(dict))
        self.most_spare: dict[Wave, float] = defaultdict(float)

        self.flows = self.find_flows()
        self.waves = self.find_waves()
        for flow in self.flows:
            self.state_flow(flow)
        self.state_deliveries()
        self.state_buy_in()
        self.state_orders()
        self.state_salvage()
        for flow in self.flows:
            self.state_spare(flow)
        for wave, x in self.waves.items():
            self.state_wave(wave, x)
        self.state_apart()
        self.hire()
        self.state_zones()
        self.wash_supplies()
        self.state_spread()
        self.state_batches()
        self.state_labour()
        self.state_packs()
        self.freight.state(self.builder)
        self.builder.constant += scenario.nursery.overhead + sum(
            row.added * self.yearly_cost(row) for row in scenario.modules
        )
        self.builder.constant += overheads(scenario)

    # What is possible

    def sown(self, variety: str, formats: Iterable[str], graft: int, low: int, high: int) -> list[Wave]:
        """Waves whose seedlings may be grafted on that day."""
        waves = []
        for lot in self.scenario.seed_lots:
            if lot.variety != variety:
                continue
            for name in formats:
                for sow in range(max(graft - high, 0), graft - low + 1):
                    bench = self.days.next(sow + lot.germination_days) if lot.germination_days else sow
                    if self.days.working[sow] and bench is not None and bench <= graft:
                        tray = self.formats[name]
                        waves.append(Wave(lot, tray, sow, bench, self.usable(lot, tray)))
            waves += [
                wave
                for wave in self.on_hand(lot)
                if wave.tray.format in formats and low <= graft - wave.sow <= high and wave.bench <= graft
            ]
        return waves

    def on_hand(self, lot: SeedLot) -> Iterable[Wave]:
        """Waves of a lot of which trays stand there on the first day."""
        for row in self.scenario.trays_on_hand:
            if row.lot == lot.lot:
                tray, sow = self.formats[row.format], self.days.number(row.sow_day)
                bench = sow + lot.germination_days
                late = self.days.next(bench) if bench >= 0 and lot.germination_days else bench
                if late is not None:
                    counted = row.seedlings is not None
                    usable = row.seedlings / row.trays if counted else self.usable(lot, tray)
                    yield Wave(lot, tray, sow, late, usable, row.trays, counted)

    def way(self, stages: Sequence[Stage], graft: int) -> tuple[list[Stay], int] | None:
        """Stays after the graft day and the ready day, if inside the horizon."""
        stays, now = [], graft
        for (zone, part), run in groupby(stages, lambda s: (s.zone, s.part)):
            length = sum(s.days for s in run)
            end: int | None = now + length
            if length > 0 and now + length >= 0:
                end = self.days.next(now + length)
            if end is None:
                return None
            stays.append(Stay(zone, part is Part.HEALING, now, end))
            now = end
        return stays, now

    def reaches(self, method: Method, ready: int, order: Order) -> bool:
        """Whether plants ready on that day can serve the order."""
        due = self.freight.due(order)
        pack = self.days.prev(due)
        if not self.freight.may_leave(order, due):
            return False
        if self.freight.leaves(order, ready) - ready > method.holding_limit_days:
            return False
        return self.late(order, ready) > 0 or (pack is not None and ready <= pack)

    def late(self, order: Order, ready: int) -> int:
        """Days after the due day on which plants ready on that day leave, if the order may be so late."""
        own, days = order.late_days_most, self.freight.leaves(order, ready) - self.freight.due(order)
        most = self.scenario.nursery.late_days_most if own is None else own
        return days if days in range(1, most + 1) else 0

    def late_cost(self, order: Order, ready: int) -> float:
        """Price that a plant ready on that day loses."""
        weekly = order.late_discount
        if weekly is None:
            weekly = self.scenario.nursery.late_discount or 0.0
        return (order.price or 0.0) * weekly * ((self.late(order, ready) + 6) // 7)

    def find_flows(self) -> list[Flow]:
        """Flows with their joins."""
        flows = []
        for product in self.scenario.products:
            tray, sold_as = self.formats[product.final_format], self.sold_as(product)
            if sold_as.source is Source.BUY:
                continue
            chosen = zones_chosen(self.scenario, product.method)
            days = (t for t in range(self.days.count) if self.days.working[t])
            for graft, rooms in product_of(days, chosen):
                method, way = rooms.method, self.way(rooms.stages, graft)
                if way is None:
                    continue
                wanted = any(
                    o.product == sold_as.product and self.reaches(method, way[1], o)
                    for o in self.scenario.orders
                )
                if wanted or (sold_as.salvage_price > 0 and sold_as.salvage_most > 0):
                    joins = self.find_joins(product, rooms, graft)
                    if joins:
                        flows.append(Flow(product, method, tray, graft, *way, joins, rooms, len(flows)))
        return flows + self.find_plants(len(flows))

    def find_plants(self, number: int) -> list[Flow]:
        """Flows of the plants on hand on the first day, which draw on nothing any more."""
        plants: dict[tuple[str, int, str | None], int] = defaultdict(int)
        for row in self.scenario.plants_on_hand:
            plants[row.product, self.days.number(row.graft_day), row.in_zones] += row.plants
        flows = []
        for (name, graft, _), count in plants.items():
            product = self.products[name]
            rooms = zones_chosen(self.scenario, product.method)[0]
            way = self.way(rooms.stages, graft)
            assert way is not None
            tray = self.formats[product.final_format]
            flow = Flow(product, rooms.method, tray, graft, *way, [], rooms, number + len(flows))
            flow.plants = count
            flows.append(flow)
        return flows

    def find_joins(self, product: Product, rooms: ZonesChosen, graft: int) -> list[Join]:
        """Joins of a product on a day for these zones, each with its variable."""
        method = rooms.method
        y = f"y {product.product} {graft}"
        final = (product.final_format,)
        if method.kind is MethodKind.OWN_ROOT:
            formats = product.scion_formats or final
            tops = self.sown(product.scion, formats, graft, method.scion_age_min, method.scion_age_max)
            return [Join(self.builder.add_var(y), (top,), 1.0, 1.0) for top in tops]
        assert product.rootstock is not None
        assert method.rootstock_age_min is not None
        assert method.rootstock_age_max is not None
        formats = final if method.kind is MethodKind.ON_TRAY else product.rootstock_formats
        roots = self.sown(
            product.rootstock, formats, graft, method.rootstock_age_min, method.rootstock_age_max
        )
        tops = self.sown(
            product.scion, product.scion_formats, graft, method.scion_age_min, method.scion_age_max
        )
        joins = []
        for root in roots:
            for top in tops:
                ages = graft - root.sow, graft - top.sow
                match, take = self.match_and_take(self.methods[method.method], root.lot, top.lot, ages)
                take = min(1.0, take * rooms.take)
                if match is not None:
                    joins.append(Join(self.builder.add_var(y), (root, top), match, take))
        return joins

    def find_waves(self) -> dict[Wave, int]:
        """Waves that some join draws on, with the variable of their trays."""
        found = {wave for flow in self.flows for join in flow.joins for wave in join.waves}
        return {
            wave: self.builder.add_var(
                f"x {wave.lot.lot} {wave.tray.format} {wave.sow}",
                lumpy=True,
                upper=inf if wave.trays is None else wave.trays,
            )
            for wave in sorted(found, key=lambda w: (w.lot.lot, w.tray.format, w.sow))
        }

    # What things take

    def place(
        self,
        trays: Coefs,
        tray: TrayFormat,
        zone: str,
        start: int,
        end: int,
        method: str | None,
        task: Task,
        care: Callable[[int], float] = lambda t: 1.0,
    ) -> None:
        """Trays stand in a zone from start to end and are looked after, ``care`` times the standard."""
        for t in range(max(start, 0), end):
            self.slots[zone, t] = plus(self.slots[zone, t], trays, tray.slots)
            self.work(task, method, tray.format, t, times(trays, care(t)))

    def work(self, task: Task, method: str | None, format_: str, day: int, amount: Coefs) -> None:
        """Hours of a task on a day."""
        rows = [row for row in self.scenario.labour_standards if row.task is task]
        for row in self.by_role(rows, method, format_) if day >= 0 else ():
            kind = task.value, row.role, method, format_
            self.need(row.skill, day, kind, times(amount, row.seconds / 3600))

    def own_tasks(
        self,
        stage: str,
        begins: int,
        days: range,
        amounts: dict[TaskPer, Coefs],
        kind: dict[str, str],
        left: float = inf,
    ) -> None:
        """The nursery's own tasks on what stands in a stage on these days; ``left``: gone from its room."""
        for row in self.scenario.own_tasks:
            wanted = (row.method, row.product, row.lot, row.format)
            here = (kind.get("method"), kind.get("product"), kind.get("lot"), kind["format"])
            if row.stage != stage or any(a not in (None, b) for a, b in zip(wanted, here, strict=True)):
                continue
            for t in [t for t in days if t >= 0] if row.per in amounts else ():
                day: int | None = t
                if row.day is not None:
                    if t != begins + row.day - 1:
                        continue
                    day = self.days.next(t)
                    day = self.days.prev(t) if day is None or day > left else day
                assert day is not None
                if row.skill is not None:
                    hours = times(amounts[row.per], row.seconds / 3600)
                    self.need(row.skill, day, (f"own {row.task}", None, None, None), hours)
                if row.supply is not None:
                    self.used[row.supply].append((day, times(amounts[row.per], row.quantity)))

    # Groups of the program

    def state_flow(self, flow: Flow) -> None:
        """Joins, trays, healed plants of a flow, its way through the zones and the work on it."""
        add, method, cells = self.builder.add_var, flow.method, flow.tray.cells
        name = f"{flow.product.product} {flow.graft}"
        flow.made, flow.healed = add(f"J {name}"), add(f"H {name}")
        lumpy = flow.plants is None and self.sold_as(flow.product).product in self.in_trays
        flow.trays, flow.surplus = add(f"T {name}", lumpy=lumpy), add(f"u {name}")
        if flow.plants is not None:
            whole_trays = float(-(-flow.plants // cells))
            stood = flow.plants / cells if method.kind is MethodKind.ROOT_CUT else whole_trays
            kept = self.builder.add_var(f"kept {name}", upper=1.0)
            for amount, most in ((flow.made, flow.plants), (flow.healed, flow.plants), (flow.trays, stood)):
                self.builder.equal({amount: 1.0}, {kept: float(most)})
        else:
            self.builder.equal({flow.made: 1.0}, {j.variable: 1.0 for j in flow.joins})
            self.builder.equal({flow.healed: 1.0}, {j.variable: j.take for j in flow.joins})
        if method.kind is MethodKind.ROOT_CUT:
            filled = {j.variable: 1 / cells for j in flow.joins}
        else:
            filled = {j.variable: 1 / (j.match * j.waves[0].usable) for j in flow.joins}
        self.filled[flow.number] = filled

        loaded: Coefs = {flow.trays: 1.0}
        after = self.trays_closed_up(flow, lumpy=lumpy) if method.consolidate else loaded
        bench = flow.joins[0].waves[0].lot.bench_zone if flow.joins else None
        if flow.grafted or (flow.stays and flow.stays[0].zone != bench):
            self.work(Task.MOVE, method.method, flow.tray.format, flow.graft, loaded)
        for n, stay in enumerate(flow.stays):
            trays = loaded if stay.healing else after
            task = Task.CARE if stay.healing else Task.TEND
            if n > 0 and flow.stays[n - 1].zone != stay.zone:
                self.work(Task.MOVE, method.method, flow.tray.format, stay.start, trays)
            self.place(trays, flow.tray, stay.zone, stay.start, stay.end, method.method, task, flow.care_on)
            if stay.end > max(stay.start, 0):
                self.loads[stay.zone].append((stay, times(trays, flow.tray.slots), flow))
        self.own_tasks_of(flow, loaded, after)
        paid = flow.plants is not None
        for stage, cost in () if paid else zip(flow.rooms.stages, flow.rooms.costs, strict=True):
            for variable, trays_each in (loaded if stage.part is Part.HEALING else after).items():
                self.builder.costs[variable] += cost * trays_each
        if flow.grafted:
            self.work(Task.GRAFT, method.method, flow.tray.format, flow.graft, {flow.made: 1.0})
            self.use_supplies(Per.JOIN, method.method, flow.tray.format, flow.graft, {flow.made: 1.0})
        if method.kind is MethodKind.ROOT_CUT:
            self.work(Task.STICK, method.method, flow.tray.format, flow.graft, {flow.made: 1.0})
            self.use_supplies(Per.TRAY_STUCK, method.method, flow.tray.format, flow.graft, loaded)
        ends = [stay.end for stay in flow.stays if stay.healing]
        if method.consolidate and ends:
            self.work(Task.CONSOLIDATE, method.method, flow.tray.format, ends[-1], {flow.healed: 1 / cells})
        graded = {flow.healed: flow.kept}
        self.work(Task.GRADE, method.method, flow.tray.format, flow.ready, graded)

    def own_tasks_of(self, flow: Flow, loaded: Coefs, after: Coefs) -> None:
        """Own tasks in the stages after the graft day; a stage with others in one stay starts as they end."""
        stages = flow.rooms.stages
        kind = {"method": flow.method.method, "product": flow.product.product, "format": flow.tray.format}
        start = flow.graft
        for n, stage in enumerate(stages):
            last = n + 1 == len(stages) or (stages[n + 1].zone, stages[n + 1].part) != (
                stage.zone,
                stage.part,
            )
            end = start + stage.days
            if last:
                end = next(stay.end for stay in flow.stays if stay.end >= end and stay.start <= start)
            healing = stage.part is Part.HEALING
            amounts: dict[TaskPer, Coefs] = {
                TaskPer.TRAY: loaded if healing else after,
                TaskPer.PLANT: {flow.made if healing else flow.healed: 1.0},
            }
            if flow.grafted:
                amounts[TaskPer.JOIN] = {flow.made: 1.0}
            left = min(stay.end for stay in flow.stays if stay.start <= start and stay.end >= end)
            self.own_tasks(stage.stage, start, range(start, end), amounts, kind, left)
            start = end

    def state_deliveries(self) -> None:
        """Plants of each flow for orders, and what is over."""
        for flow in self.flows:
            ends: Coefs = {flow.surplus: 1.0}
            for order in self.scenario.orders:
                wanted = order.product == self.sold_as(flow.product).product
                if not wanted or not self.reaches(flow.method, flow.ready, order):
                    continue
                d = self.builder.add_var(f"d {flow.number} {order.order}", self.late_cost(order, flow.ready))
                share = 1 + self.margin_of(order, flow)
                ends[d] = share
                self.sent[flow.number][order.order] = d
                self.reach[flow.number].append(order)
                held = {d: share / flow.tray.cells}
                due, zone = self.freight.leaves(order, flow.ready), flow.method.holding_zone
                if due > flow.ready and (not flow.stays or flow.stays[-1].zone != zone):
                    self.work(Task.MOVE, flow.method.method, flow.tray.format, flow.ready, held)
                kind = flow.method.method, Task.TEND, flow.held_care_on
                self.place(held, flow.tray, zone, flow.ready, due, *kind)
                if due > flow.ready >= 0:
                    self.builder.costs[d] += flow.rooms.held_cost * held[d]
                self.held_places.append((flow, order, d, zone, flow.ready, due))
                self.own_tasks_held(held, order, flow.product, flow.ready)
                self.pack(order, flow.product, d, flow.ready)
            self.builder.equal(ends, {flow.healed: flow.kept})

    def own_tasks_held(self, trays: Coefs, order: Order, product: Product, start: int) -> None:
        """Own tasks on the plants of an order that are held from a day on."""
        plants = times(trays, self.formats[product.final_format].cells)
        kind = {"method": product.method, "product": product.product, "format": product.final_format}
        days = range(start, self.freight.leaves(order, start))
        self.own_tasks("holding", start, days, {TaskPer.TRAY: trays, TaskPer.PLANT: plants}, kind, days.stop)

    def state_spare(self, flow: Flow) -> None:
        """Spare seedlings on each side of a flow, and the trays that it fills with them among others."""
        filled = self.filled[flow.number]
        if flow.plants is not None:
            return
        for side in range(len(flow.joins[0].waves)):
            waves = dict.fromkeys(join.waves[side] for join in flow.joins)
            unsure = {wave for wave in waves if self.by_order(wave.lot) and not wave.counted}
            lots = {wave.lot.lot: wave.lot for wave in unsure}
            if not lots or not (orders := self.reach[flow.number]):
                continue
            shares = {
                o.order: max(self.sowing_margin(o, lot, flow.method) for lot in lots.values()) for o in orders
            }
            least, most = min(shares.values()), max(shares.values())
            if self.sold_as(flow.product).salvage_price > 0 and self.sold_as(flow.product).salvage_most > 0:
                least = 0.0
            best = max(join.match * join.take for join in flow.joins) * flow.method.finish_survival
            need: Coefs = {}
            for order in orders:
                plants = (1 + self.margin(order, flow.method)) / best
                need[self.sent[flow.number][order.order]] = (shares[order.order] - least) * plants
            for join in flow.joins:
                share = least if join.waves[side] in unsure else least - most
                need[join.variable] = share / join.match
            self.most_spares[flow.number] += most
            kept: Coefs = {}
            for wave in waves:
                if wave in unsure:
                    e = self.builder.add_var(f"e {flow.number} {side} {wave.lot.lot} {wave.sow}")
                    kept[e] = self.spare[wave][flow.graft][e] = 1.0
                    self.most_spare[wave] = max(self.most_spare[wave], most)
                    self.flow_spares[flow.number].append((wave, e))
                    if side == 0 and flow.method.kind is not MethodKind.ROOT_CUT:
                        filled[e] = 1 / wave.usable
            self.builder.at_most(need, kept)
        self.builder.at_most(filled, {flow.trays: 1.0})

    def pack(self, order: Order, product: Product, plants: int, ready: int) -> None:
        """Plants packed for an order count for it; late ones are packed when they are ready."""
        day = ready if self.late(order, ready) else self.days.prev(self.freight.due(order))
        self.freight.load(order, plants, self.formats[product.final_format].cells, ready)
        assert day is not None
        self.work(Task.PACK, product.method, product.final_format, day, {plants: 1.0})
        self.use_supplies(Per.PLANT_DELIVERED, product.method, product.final_format, day, {plants: 1.0})
        self.served[order.order][plants] = 1.0

    def state_buy_in(self) -> None:
        """Deliveries of each offer on each day."""
        for offer in self.scenario.buy_in_offers:
            for t in range(self.days.count):
                if self.days.brings(offer, t):
                    self.state_arrival(offer, t)

    def state_arrival(self, offer: BuyInOffer, t: int) -> None:
        """Plants of an offer that arrive on day t."""
        product = self.products[offer.product]
        if product.source is Source.GROW:
            return
        method, tray = self.methods[product.method], self.formats[product.final_format]
        orders = [
            o for o in self.scenario.orders if o.product == offer.product and self.reaches(method, t, o)
        ]
        if not orders:
            return
        comes = self.builder.add_var(f"B {offer.offer} {t}", lumpy=True, upper=1.0)
        bought: Coefs = {}
        for order in orders:
            price = offer.price + self.late_cost(order, t)
            b = self.builder.add_var(f"b {offer.offer} {t} {order.order}", price, lumpy=True)
            bought[b] = 1.0
            due, held = self.freight.leaves(order, t), {b: 1 / tray.cells}
            self.place(held, tray, method.holding_zone, t, due, method.method, Task.TEND)
            self.held_places.append((None, order, b, method.holding_zone, t, due))
            self.own_tasks_held(held, order, product, t)
            self.pack(order, product, b, t)
        most = offer.most_per_delivery
        if most is None:
            most = max(sum(order.quantity for order in orders), offer.least_quantity)
        if offer.least_quantity > 0:
            bought[self.builder.add_var(f"spare {offer.offer} {t}", offer.price)] = 1.0
        self.builder.at_most({comes: offer.least_quantity}, bought)
        self.builder.at_most(bought, {comes: most})

    def state_orders(self) -> None:
        """Every order is grown, bought in or short."""
        for order in self.scenario.orders:
            penalty = order.shortfall_penalty
            if penalty is None:
                penalty = self.scenario.nursery.shortfall_penalty
            price = order.price or 0.0
            may = order.decline is not Decline.NO
            short = self.builder.add_var(f"s {order.order}", penalty + price * may, lumpy=True)
            left: Coefs = {short: 1.0}
            if may:
                size = order.quantity if order.decline is Decline.WHOLE else self.at_once.get(order.order, 1)
                no = f"declined {order.order}"
                refused = self.builder.add_var(no, price * size, lumpy=True, upper=order.quantity / size)
                left[refused] = size
            self.builder.equal(plus(self.served[order.order], left), {}, order.quantity)

    def state_salvage(self) -> None:
        """Surplus sold, up to the most that can be."""
        for product in self.scenario.products:
            if product.salvage_price > 0:
                over = {f.surplus: 1.0 for f in self.flows if self.sold_as(f.product) is product}
                sold = self.builder.add_var(
                    f"z {product.product}", -product.salvage_price, upper=product.salvage_most
                )
                self.builder.at_most({sold: 1.0}, over)

    def state_wave(self, wave: Wave, x: int) -> None:
        """Seedlings drawn from a wave, its trays day by day, the work and seed, its fixed cost."""
        drawn: dict[int, Coefs] = defaultdict(dict)
        for flow in self.flows:
            for join in flow.joins:
                if wave in join.waves:
                    drawn[flow.graft][join.variable] = 1 / join.match
        for day, kept in self.spare[wave].items():
            drawn[day] |= kept
        self.builder.at_most(sum_after(drawn, -1), {x: wave.usable})
        lot, tray = wave.lot, wave.tray
        here, bench = max(wave.sow, 0), max(wave.bench, 0)
        for n, zone, out, care in self.germinating(wave, x, min(drawn)):
            self.place({n: 1.0}, tray, zone, here, out, None, Task.TEND, care)
            self.place({n: 1.0}, tray, lot.bench_zone, out, min(drawn), None, Task.TEND)
            self.wave_places.append((wave, n, zone, here, max(out, 0)))
            self.wave_places.append((wave, n, lot.bench_zone, max(out, 0), min(drawn)))
            if wave.bench > wave.sow and out >= 0 and zone != lot.bench_zone:
                self.work(Task.MOVE, None, tray.format, out, {n: 1.0})
        kind = {"lot": lot.lot, "format": tray.format}
        self.own_tasks("germination", wave.sow, range(here, bench), {TaskPer.TRAY: {x: 1.0}}, kind)
        seedlings: dict[TaskPer, Coefs] = {TaskPer.TRAY: {x: 1.0}, TaskPer.PLANT: {x: wave.usable}}
        self.own_tasks("bench", wave.bench, range(bench, min(drawn)), seedlings, kind)
        for t in range(min(drawn), max(drawn)):
            left = self.builder.add_var(f"left {self.builder.names[x]} {t}")
            self.builder.at_most(sum_after(drawn, t), {left: wave.usable})
            self.place({left: 1.0}, tray, lot.bench_zone, t, t + 1, None, Task.TEND)
            self.wave_places.append((wave, left, lot.bench_zone, t, t + 1))
            seedlings = {TaskPer.TRAY: {left: 1.0}, TaskPer.PLANT: {left: wave.usable}}
            self.own_tasks("bench", wave.bench, range(t, t + 1), seedlings, kind)
        if wave.trays is not None:
            return
        self.work(Task.SOW, None, tray.format, wave.sow, {x: 1.0})
        self.use_supplies(Per.TRAY_SOWN, None, tray.format, wave.sow, {x: 1.0})
        self.used[lot.lot].append((wave.sow, {x: float(tray.cells * lot.seeds_per_cell)}))
        if self.scenario.nursery.wave_cost > 0:
            sown = self.builder.add_var("O", self.scenario.nursery.wave_cost, lumpy=True, upper=1.0)
            self.builder.at_most({x: 1.0}, {sown: self.most_trays(wave)})
