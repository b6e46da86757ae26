"""The last days on which plants can be made again: sown again for a wave, grafted again for a graft day.

Where an order may come late, its last day is that of the latest delivery. They follow from the calendar, the
graft windows and the stages alone. Room, hands, seed and the other half of
the pair are taken to be there; a new plan says whether they are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache

from model.network.expansion import stays_after
from model.network.rooms import Route, Routes, routes_of
from model.planned.plan_tables import Plan, Tables, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.scenario.calendar import Calendar
from model.scenario.choices import MethodKind, Part
from model.scenario.entities import Nursery, Order, Scenario, SeedLot
from model.scenario.lateness import days_late_most
from model.scenario.records.methods import Method, Stage
from model.scenario.records.trade import Run
from model.scenario.run_days import last_run, run_by_customer, with_runs

TABLES = ("waves", "germination", "joins", "flows", "deliveries")
"""Tables of the plan that say what is made again, and for which orders."""


@dataclass(frozen=True, slots=True)
class LastDay:
    """A day by which to begin again, and the day on which a loss is counted.

    ``again``: the last day on which sowing or grafting again still reaches all orders served; None where no
    order is served, what is made again was counted before the first day, or no day of the season is early
    enough (``never``). ``counted``: the stand of a wave is counted when it comes to the bench, the last of
    its trays where some germinate longer in a further zone; the take of a graft day when healing ends,
    own-root plants when they are ready.
    """

    again: date | None
    counted: date
    never: bool = False

    @property
    def in_time(self) -> bool:
        """Whether a loss is counted in time to begin again."""
        return not self.never and (self.again is None or self.counted <= self.again)

    def words(self, day: date) -> str:
        """What a job done on ``day`` says of doing it again."""
        if self.again is None and not self.never:
            return ""
        late = self.again is None or self.again <= day
        return "; no time to do it again" if late else f"; again by {self.again}"


@dataclass(frozen=True, slots=True)
class LastDays:
    """Last days by wave and by flow, and the orders for which a loss is counted too late.

    ``sown_too_late``: some wave of the order is counted after the last day to sow again for it;
    ``grafted_too_late``: the take of some graft day of it after the last day to graft again for it.
    """

    waves: dict[str, LastDay]
    flows: dict[FlowKey, LastDay]
    sown_too_late: frozenset[str]
    grafted_too_late: frozenset[str]


def last_days(scenario: Scenario, tables: Tables) -> LastDays:
    """The last days of the waves and flows of a plan, given its tables."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    methods = {method.method: method for method in scenario.methods}
    of = {product.product: methods[product.method] for product in scenario.products}
    counts: dict[str, date] = dict(rows_of(tables["waves"], "wave", "bench_day"))
    for wave, bench in rows_of(tables["germination"], "wave", "bench_day"):
        counts[wave] = max(counts[wave], bench)
    too_late: dict[str, set[str]] = {"sown": set(), "grafted": set()}
    routes = routes_of(scenario)
    grafts = _last_grafts(scenario, calendar, of, routes)
    orders: dict[FlowKey, list[str]] = defaultdict(list)
    own = tables["deliveries"][tables["deliveries"]["source"] == "own"]
    for order, *named in rows_of(own, "order", *FLOW):
        orders[flow_key(named)].append(order)
    flows: dict[FlowKey, LastDay] = {}

    def by(days: Sequence[int], counted: date) -> LastDay:
        """``days``: last day for each order served, −1 if there is none."""
        never = min(days, default=0) < 0
        return LastDay(calendar.date(min(days)) if days and not never else None, counted, never)

    @cache
    def healed(method: str, in_zones: str | None, day: date) -> date:
        return _healed(routes[method][in_zones], calendar, day)

    for flow in map(flow_key, rows_of(tables["flows"], *FLOW)):
        method = of[flow[0]].method
        stood = flow[1] < scenario.nursery.first_day
        served = {} if stood else {order: grafts[order, method] for order in orders[flow]}
        flows[flow] = by([*served.values()], healed(method, flow[2], flow[1]))
        if of[flow[0]].kind is not MethodKind.OWN_ROOT:
            counted = calendar.day(flows[flow].counted)
            too_late["grafted"] |= {order for order, last in served.items() if last < counted}
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    sown: dict[str, list[int]] = defaultdict(list)
    lot_of = dict(rows_of(tables["waves"], "wave", "lot"))

    @cache
    def last_sowing(lot: str, window: tuple[int, int], graft: int) -> int:
        return _last_sowing(calendar, lots[lot], window, graft)

    for *named, root, scion in rows_of(tables["joins"], *FLOW, "rootstock_wave", "scion_wave"):
        rule = of[named[0]]
        for n, wave in enumerate((root, scion) if named[1] >= scenario.nursery.first_day else ()):
            window = _window(rule, rootstock=n == 0)
            for order in orders[flow_key(named)] if wave is not None else ():
                last = last_sowing(lot_of[wave], window, grafts[order, rule.method])
                sown[wave].append(last)
                if last < calendar.day(counts[wave]):
                    too_late["sown"].add(order)
    waves = {wave: by(sown[wave], bench) for wave, bench in counts.items()}
    return LastDays(waves, flows, *map(frozenset, too_late.values()))


def last_days_of(scenario: Scenario, plan: Plan) -> LastDays:
    """The last days of a plan's waves and flows."""
    return last_days(scenario, {name: getattr(plan, name) for name in TABLES})


def _last_grafts(
    scenario: Scenario, calendar: Calendar, of: dict[str, Method], routes: Routes
) -> dict[tuple[str, str], int]:
    """For each order, by each method that makes it, the last working day whose joins can still be delivered.

    −1 if there is none. ``of``: method of each product. Where plants may pass several zones, the shortest
    route counts.
    """
    found, last = {}, dict[tuple[str, int | None], int]()
    ways: dict[str, set[str]] = defaultdict(set)
    for product in scenario.products:
        ways[product.ordered_as].add(of[product.product].method)
    by_customer = run_by_customer(scenario)
    for order in with_runs(scenario).orders:
        run = by_customer.get(order.customer)
        for method in ways[order.product]:
            key = method, _last_leaving(order, scenario.nursery, calendar, run)
            if key not in last:
                through = [route.stages for route in routes[method].values()]
                last[key] = max(_last_graft(calendar, stages, key[1]) for stages in through)
            found[order.order, method] = last[key]
    return found


def _last_leaving(order: Order, nursery: Nursery, calendar: Calendar, run: Run | None) -> int | None:
    """The packing day, or the last day on which plants may leave late; None where there is neither."""
    due, late = calendar.day(order.due_day), days_late_most(order, nursery)
    if run is not None and late:
        last = last_run(run, min(calendar.date(due + late), nursery.last_day))
        late = 0 if last is None else calendar.day(last) - due
    return min(due + late, calendar.days - 1) if late else calendar.previous_working(due)


def _last_graft(calendar: Calendar, stages: Sequence[Stage], pack: int | None) -> int:
    """The last working day whose joins pass the stages by the packing day; −1 if there is none."""
    day = -1 if pack is None else pack
    while day >= 0:
        way = stays_after(stages, day, calendar) if calendar.is_working[day] else None
        if way is not None and pack is not None and way[1] <= pack:
            break
        day -= 1
    return day


def _window(method: Method, *, rootstock: bool) -> tuple[int, int]:
    """Least and greatest age of a seedling on the graft day."""
    if rootstock:
        return method.rootstock_age_min or 0, method.rootstock_age_max or 0
    return method.scion_age_min, method.scion_age_max


def _last_sowing(calendar: Calendar, lot: SeedLot, window: tuple[int, int], graft: int) -> int:
    """Last working day on which seed can be sown that is of an age to be grafted by that day; −1 if none."""
    youngest, oldest = window
    for day in range(graft - youngest, -1, -1):
        bench = calendar.next_working(day + lot.germination_days) if calendar.is_working[day] else None
        if bench is not None and any(
            calendar.is_working[g] for g in range(max(day + youngest, bench), min(day + oldest, graft) + 1)
        ):
            return day
    return -1


def _healed(route: Route, calendar: Calendar, day: date) -> date:
    """Day on which a flow's take is counted: the end of healing; without healing, the ready day."""
    way = stays_after(route.stages, calendar.day(day), calendar)
    if way is None:
        return day
    ends = [stay.end for stay in way[0] if stay.part is Part.HEALING]
    return calendar.date(max(ends, default=way[1]))
