"""A second, independent reading of the scenario for the audit alone: days, shares, limits, standards.

The program shares no code with this module. Here the calendar counts dates, the stem match is integrated,
and margins come from the beta function. If the two disagree, docs/maths.md decides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from itertools import product as product_of
from math import ceil, log, sqrt
from typing import Any, NamedTuple

import numpy as np
from scipy.special import betainc, betaincc, gammaln, ndtr

from model.proof.progress_sums import ProgressSums
from model.proof.sent import as_sent, ordered_full
from model.proof.zones_chosen import Rooms
from model.scenario.choices import (
    Decline,
    Happened,
    MarginPolicy,
    MatchFrom,
    MethodKind,
    Part,
    PayBasis,
    SowingPolicy,
    ZoneMode,
)
from model.scenario.entities import Order, Product, Scenario, SeedLot, Zone
from model.scenario.records.methods import Method, Stage
from model.scenario.records.people import Crew
from model.scenario.records.trade import Run

ONE_DAY = timedelta(days=1)

STRIPS = 200_000
"""Strips of germination in the sum that approximates an integral, exact to about 1e-6 in chance."""


def days_from(day: date, end: date) -> Iterator[date]:
    """The days from one up to, but not including, another."""
    while day < end:
        yield day
        day += ONE_DAY


def _enough(n: int, q: int, take: float, alike: float, kept: float) -> float:
    """Chance that q of n joins survive: Σ over healed h of BetaBinomial(h) · P(Binomial(h, kept) ≥ q)."""
    h = np.arange(q, n + 1, dtype=float)
    survive = 1.0 if kept >= 1 else betainc(q, h - q + 1, kept)
    return float((_healed(h, n, take, alike) * survive).sum())


def _short(n: int, q: int, take: float, alike: float, kept: float) -> float:
    """Expected plants short of q from n joins: Σ over healed h of BetaBinomial(h) · E(q − kept of h)⁺.

    E(q − X)⁺ = q · P(X < q) − h · kept · P(X' < q − 1), X ~ Binomial(h, kept), X' ~ Binomial(h − 1, kept).
    """
    h = np.arange(n + 1, dtype=float)
    few = np.where(h < q, 1.0, betaincc(q, np.maximum(h - q + 1, 0.5), kept))
    fewer = 0.0 if q == 1 else np.where(h < q, 1.0, betaincc(q - 1, np.maximum(h - q + 1, 0.5), kept))
    return float((_healed(h, n, take, alike) * (q * few - h * kept * fewer)).sum())


def _healed(h: Any, n: int, take: float, alike: float) -> Any:
    """Chance that h of n joins heal: beta-binomial."""
    size = (1 - alike) / alike
    a, b = take * size, (1 - take) * size
    ways = gammaln(n + 1) - gammaln(h + 1) - gammaln(n - h + 1)
    rates = gammaln(h + a) - gammaln(a) + gammaln(n - h + b) - gammaln(b) + gammaln(size) - gammaln(n + size)
    return np.exp(ways + rates)


def _fewest(least: int, enough: Callable[[int], float], level: float) -> int:
    """Smallest number, from ``least`` up, for which ``enough`` reaches ``level``; found by bisection."""
    low, high = least - 1, 2 * least
    while enough(high) < level:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) >= level else (middle, high)
    return high


def _cells_filled(n: int, q: int, lot: SeedLot) -> float:
    """Chance that n cells of a lot hold q usable seedlings.

    With intra-lot correlation, the chance is a sum over narrow strips of the lot's germination.
    """
    sound, seeds = 1.0 - lot.grade_out, lot.seeds_per_cell
    alike = lot.between_lots + lot.between_sowings - lot.between_lots * lot.between_sowings
    if alike == 0 or lot.germination >= 1:
        return float(betainc(q, n - q + 1, (1.0 - (1.0 - lot.germination) ** seeds) * sound))
    size = (1 - alike) / alike
    ends = np.linspace(0.0, 1.0, STRIPS + 1)
    weights = np.diff(betainc(lot.germination * size, (1 - lot.germination) * size, ends))
    middle = (ends[1:] + ends[:-1]) / 2
    return float(weights @ betainc(q, n - q + 1, (1.0 - (1.0 - middle) ** seeds) * sound))


class RoleOf(NamedTuple):
    """What one role does of a task, or the whole task: its name, the role, and seconds of a skill."""

    name: str
    role: str | None
    skill: str
    seconds: float


class World:
    """A scenario with the look-ups and rules that a replay of its plan needs. Days are dates."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario, self.extra = as_sent(scenario)
        self.in_whole_trays = ordered_full(scenario)
        self.first, self.last = scenario.nursery.first_day, scenario.nursery.last_day
        self.off = {entry.day for entry in scenario.days_off}
        self.days = [self.first + n * ONE_DAY for n in range((self.last - self.first).days + 1)]
        self.lots = {lot.lot: lot for lot in scenario.seed_lots}
        self.further = {(row.lot, row.zone): row for row in scenario.germination_zones}
        """Further zones to germinate in, by lot and zone."""
        self.products = {product.product: product for product in scenario.products}
        self.methods = {method.method: method for method in scenario.methods}
        self.formats = {tray.format: tray for tray in scenario.tray_formats}
        self.zones = {zone.zone: zone for zone in scenario.zones}
        self.crews = {crew.crew: crew for crew in scenario.crews}
        self.runs = {run.run: run for run in scenario.runs}
        self.rides = {row.customer: self.runs[row.run] for row in scenario.customers if row.run is not None}
        self.orders = {
            order.order: replace(order, due_day=self._leaves_by(order)) for order in self.scenario.orders
        }
        self.offers = {offer.offer: offer for offer in scenario.buy_in_offers}
        self.supplies = {supply.supply: supply for supply in scenario.supplies}
        self.rooms = Rooms(scenario)
        self.record = ProgressSums(scenario)
        self.effects = {(e.method, e.rootstock_age, e.scion_age): e for e in scenario.age_effects}
        self.match = cache(self._match)
        self.way = cache(self._way)
        self.roles = cache(self._roles)
        self.piece_rate = cache(self._piece_rate)
        self.supply_used = cache(self._supply_used)
        self.margin = cache(self._margin)
        self.sowing_margin = cache(self._sowing_margin)
        self.finishing_margin = cache(self._finishing_margin)
        self.zone_day = cache(self._zone_day)
        self.crew_day = cache(self._crew_day)
        self.works = cache(self._works)
        self.packed = cache(self._packed)
        for (name, graft, in_zones), plants in self.record.plants.items():
            ready = self.way(self.products[name].method, graft, in_zones)[1]
            if ready is not None and ready <= self.first:
                self.record.sums[Happened.FINISHED][name, graft, in_zones] = plants

    def _works(self, day: date) -> bool:
        return f"{day:%a}" in self.scenario.nursery.working_weekdays and day not in self.off

    def next_working(self, day: date) -> date | None:
        """First working day on or after; None past the last day. A day before the first stands for itself."""
        if day < self.first:
            return day
        while day <= self.last:
            if self.works(day):
                return day
            day += ONE_DAY
        return None

    def previous_working(self, day: date) -> date | None:
        """Last working day on or before; None before the first day."""
        while day >= self.first:
            if self.works(day):
                return day
            day -= ONE_DAY
        return None

    def week(self, day: date) -> date:
        """Monday of the day's week."""
        return day - day.weekday() * ONE_DAY

    def week_days(self, monday: date) -> list[date]:
        """Days of a week inside the horizon."""
        return [monday + n * ONE_DAY for n in range(7) if self.first <= monday + n * ONE_DAY <= self.last]

    def bench_day(self, lot: SeedLot, sown: date, days: int | None = None) -> date | None:
        """Day on which trays leave germination, after the lot's own number of days or another."""
        days = lot.germination_days if days is None else days
        return self.next_working(sown + days * ONE_DAY) if days else sown

    def usable(self, lot: SeedLot, cells: int) -> float:
        """Usable seedlings expected from a tray, less a fixed margin."""
        blank = (1.0 - lot.germination) ** lot.seeds_per_cell
        kept = cells * (1.0 - blank) * (1.0 - lot.grade_out)
        return kept / (1.0 + (self.fixed_sowing(lot) or 0.0))

    def fixed_sowing(self, lot: SeedLot) -> float | None:
        """The margin of all seedlings of a lot; None if each order has its own."""
        if lot.sowing_margin is not None:
            return lot.sowing_margin
        fixed = self.scenario.nursery.sowing_policy is SowingPolicy.FIXED
        return self.scenario.nursery.sowing_margin if fixed else None

    def _sowing_margin(self, order_name: str, lot_name: str, made: str, in_zones: str | None = None) -> float:
        """Sowing margin of an order's own seedlings, raised from a lot for a flow, with policy 'level'."""
        order, lot = self.orders[order_name], self.lots[lot_name]
        grown = order.quantity * (1.0 + self.margin(order_name, made, in_zones))
        q = ceil(grown / self._survive(self.made_by(made), in_zones) - 1e-6)
        n = _fewest(q, lambda cells: _cells_filled(cells, q, lot), self.level(order))
        share = (1.0 - (1.0 - lot.germination) ** lot.seeds_per_cell) * (1.0 - lot.grade_out)
        return max(0.0, n * share / q - 1.0)

    def reached(self, product: str, graft: date, in_zones: str | None = None) -> list[Order]:
        """Orders that plants of a flow can serve."""
        ready = self.way(self.products[product].method, graft, in_zones)[1]
        limit = self.methods[self.products[product].method].holding_limit_days
        if ready is None:
            return []
        return [
            order
            for order, pack in self.packed(self.products[product].ordered_as)
            if ((pack is not None and ready <= pack) or self.days_late(order, ready))
            and (self.leaves(order, ready) - ready).days <= limit
            and self.rides_on(order, order.due_day)
        ]

    def _packed(self, product: str) -> list[tuple[Order, date | None]]:
        """Orders of a product, and their pack days, where they have one."""
        return [(o, self.previous_working(o.due_day)) for o in self.orders.values() if o.product == product]

    def days_late(self, order: Order, ready: date) -> int:
        """Days by which plants ready on a day miss the due day, if the order takes them so late; else 0."""
        nursery = self.scenario.nursery
        most = nursery.late_days_most if order.late_days_most is None else order.late_days_most
        last = min(order.due_day + most * ONE_DAY, self.last if order.customer in self.rides else date.max)
        for day in days_from(max(ready, order.due_day + ONE_DAY), last + ONE_DAY):
            if ready > order.due_day and self.rides_on(order, day):
                return (day - order.due_day).days
        return 0

    def leaves(self, order: Order, ready: date) -> date:
        """Day on which plants ready on a day leave."""
        return order.due_day + self.days_late(order, ready) * ONE_DAY

    def rides_on(self, order: Order, day: date) -> bool:
        """Whether the order's plants can leave on a day: with its run, if its customer has one."""
        run = self.rides.get(order.customer)
        return run is None or self.run_leaves(run, day)

    def run_leaves(self, run: Run, day: date) -> bool:
        """Whether a run leaves on a day."""
        late = run.to_day is not None and day > run.to_day
        early = run.from_day is not None and day < run.from_day
        return not late and not early and f"{day:%a}" in run.weekdays

    def _leaves_by(self, order: Order) -> date:
        """The due day; with a run, the last day of the week up to it on which it leaves, if any."""
        week = [order.due_day - n * ONE_DAY for n in range(7)]
        return next((day for day in week if day >= self.first and self.rides_on(order, day)), order.due_day)

    def packed_on(self, order: Order, ready: date | None) -> date | None:
        """Day on which plants ready on a day are packed: late ones at once, all others for the due day."""
        late = ready is not None and self.days_late(order, ready)
        return ready if late else self.previous_working(order.due_day)

    def late_discount(self, order: Order, days: int) -> float:
        """Money given up for a plant that comes some days late: for each week begun a share of its price."""
        week = self.scenario.nursery.late_discount if order.late_discount is None else order.late_discount
        return (order.price or 0.0) * (week or 0.0) * ceil(days / 7)

    def raised_for(self, product: Product, graft: date, side: str) -> list[tuple[str, str, date]]:
        """Waves (lot, format, sowing day) whose age and bench day let them be grafted on that day."""
        rule, (roots, scions) = self.methods[product.method], self.raised_in(product)
        own = side == "scion"
        variety, formats = (product.scion, scions) if own else (product.rootstock, roots)
        young = rule.scion_age_min if own else rule.rootstock_age_min or 0
        old = rule.scion_age_max if own else rule.rootstock_age_max or 0
        found = []
        for lot in (lot for lot in self.scenario.seed_lots if lot.variety == variety):
            for format_, age in product_of(formats, range(young, old + 1)):
                sown = graft - age * ONE_DAY
                past = self.record.recorded(Happened.SOWN, lot.lot, format_, sown) > 0
                bench = self.bench_day(lot, sown)
                new = sown >= self.first and self.works(sown)
                if (past or new) and bench is not None and bench <= graft:
                    found.append((lot.lot, format_, sown))
        return found

    def made_by(self, product: str) -> Method:
        """Method by which a product is made."""
        return self.methods[self.products[product].method]

    def _survive(self, rule: Method, in_zones: str | None) -> float:
        """Share of joins that become saleable plants, at the method's take in the zones chosen."""
        take = 1.0 if rule.kind is MethodKind.OWN_ROOT or rule.take is None else rule.take
        return min(1.0, take * self.rooms.take(rule.method, in_zones)) * rule.finish_survival

    def most_of_one(self, what: str, order: Order) -> float:
        """Plants of an order that may come from one graft ``day``, ``lot`` or ``unit``."""
        own, all_orders = (
            getattr(row, f"most_share_of_one_{what}") for row in (order, self.scenario.nursery)
        )
        share: float = next((share for share in (own, all_orders) if share is not None), 1.0)
        return share * order.quantity

    def level(self, order: Order) -> float:
        """Chance with which an order must be filled."""
        nursery = self.scenario.nursery
        if nursery.margin_policy is MarginPolicy.PRICED:
            short, over = self._newsvendor(order)
            return short / (short + over)
        return nursery.service_level if order.service_level is None else order.service_level

    def _newsvendor(self, order: Order) -> tuple[float, float]:
        """Cost of a plant short and of a plant over, in currency."""
        product, grown = self.products[order.product], self.scenario.nursery.plant_cost or 0.0
        sold = product.salvage_price if product.salvage_most else 0.0
        return self.penalty(order) - grown, grown - sold

    def _way(
        self, method: str, graft: date, in_zones: str | None = None
    ) -> tuple[tuple[tuple[str, Part, date, date], ...], date | None]:
        """Stays (zone, part, first day, day out) after the graft day, and the ready day."""
        stages = self.rooms.stages(method, in_zones)
        stays: list[tuple[str, Part, date, date]] = []
        day: date | None = graft
        while stages and day is not None:
            head = stages[0]
            run: list[Stage] = []
            while stages and (stages[0].zone, stages[0].part) == (head.zone, head.part):
                run.append(stages.pop(0))
            length = sum(stage.days for stage in run)
            out = self.next_working(day + length * ONE_DAY) if length else day
            if out is not None:
                stays.append((head.zone, head.part, day, out))
            day = out
        return tuple(stays), day

    def _match(self, method: str, rootstock: str | None, scion: str, root_age: int | None, age: int) -> float:
        """Stem match; 0 where the two cannot be joined."""
        rule = self.methods[method]
        if rule.kind is MethodKind.OWN_ROOT or rootstock is None or root_age is None:
            return 1.0
        if rule.match_from is MatchFrom.NUMBER:
            return rule.match or 0.0
        if rule.match_from is MatchFrom.AGES:
            effect = self.effects.get((method, root_age, age))
            return (effect.match or 0.0) if effect else 0.0
        return matched_share(
            self._diameter(rootstock, root_age), self._diameter(scion, age), rule.stem_tolerance_mm or 0.0
        )

    def _diameter(self, lot_name: str, age: int) -> tuple[float, float]:
        lot = self.lots[lot_name]
        mean = (lot.diameter_start_mm or 0.0) + (lot.diameter_growth_mm_per_day or 0.0) * age
        return mean, (lot.diameter_spread_mm or 0.0) + lot.diameter_spread_growth_mm_per_day * age

    def take(self, method: str, root_age: int | None, age: int, in_zones: str | None = None) -> float:
        """Take at these ages in the zones chosen."""
        rule = self.methods[method]
        if rule.kind is MethodKind.OWN_ROOT or root_age is None:
            return 1.0
        effect = self.effects.get((method, root_age, age))
        share = 1.0 if rule.take is None else rule.take
        if effect is not None and effect.take is not None:
            share = effect.take
        return min(1.0, share * self.rooms.take(method, in_zones))

    def _margin(self, order_name: str, made: str, in_zones: str | None = None) -> float:
        """Graft margin of an order on a flow: its own, the fixed one, or by the fewest joins that do."""
        order: Order = self.orders[order_name]
        nursery, rule = self.scenario.nursery, self.made_by(made)
        if order.graft_margin is not None:
            return order.graft_margin
        if nursery.margin_policy is MarginPolicy.FIXED:
            return nursery.graft_margin
        q, p = order.quantity, self._survive(rule, in_zones)
        take, alike = p / rule.finish_survival, rule.between_days
        if p >= 1.0:
            return 0.0
        if take in (0, 1) or alike == 0:
            n = _fewest(q, lambda joins: float(betainc(q, joins - q + 1, p)), self.level(order))
        elif nursery.margin_policy is MarginPolicy.PRICED:
            n = _fewest(
                q, lambda n: self._cost(n + 1, order, rule, take) - self._cost(n, order, rule, take), 0.0
            )
        else:
            kept = rule.finish_survival
            n = _fewest(q, lambda joins: _enough(joins, q, take, alike, kept), self.level(order))
        return max(0.0, n * p / q - 1.0)

    def _finishing_margin(self, order_name: str, made: str, in_zones: str | None = None) -> float:
        """Graft margin of an order whose healed plants are counted: it covers finishing alone."""
        order = self.orders[order_name]
        kept, q = self.made_by(made).finish_survival, order.quantity
        if kept >= 1.0:
            return 0.0
        n = _fewest(q, lambda healed: float(betainc(q, healed - q + 1, kept)), self.level(order))
        return min(self.margin(order_name, made, in_zones), max(0.0, n * kept / q - 1.0))

    def _cost(self, n: int, order: Order, rule: Method, take: float) -> float:
        """Expected cost of plants short and over with n joins, if graft days vary, in currency."""
        loss, over = self._newsvendor(order)
        short = _short(n, order.quantity, take, rule.between_days, rule.finish_survival)
        return over * (n * take * rule.finish_survival - order.quantity) + (loss + over) * short

    def penalty(self, order: Order) -> float:
        """Penalty per plant short; includes the price if the order may be declined."""
        own = order.shortfall_penalty
        lost = (order.price or 0.0) if order.decline is not Decline.NO else 0.0
        return (self.scenario.nursery.shortfall_penalty if own is None else own) + lost

    def raised_in(self, product: Product) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Formats of its rootstocks and scions."""
        kind = self.methods[product.method].kind
        if kind is MethodKind.OWN_ROOT:
            return (), product.scion_formats or (product.final_format,)
        roots = (product.final_format,) if kind is MethodKind.ON_TRAY else product.rootstock_formats
        return roots, product.scion_formats

    def _roles(self, task: str, method: str | None, format_: str) -> tuple[RoleOf, ...]:
        """What each role of a task does, by the closest matching standard; none if it takes no time."""
        rows = [s for s in self.scenario.labour_standards if s.task.value == task]
        best = _closest(rows, method, format_)
        fitting = [s for s in rows if best and (s.method, s.format) == (best.method, best.format)]
        made = [
            RoleOf(task if s.role is None else f"{task}: {s.role}", s.role, s.skill, s.seconds)
            for s in fitting
            if s.seconds > 0
        ]
        return tuple(sorted(made))

    def _piece_rate(
        self, crew: str, work: str, method: str | None, format_: str
    ) -> tuple[float, float] | None:
        """Pay for a piece of the crew's own hands, and its seconds; None if the work is paid by the hour.

        ``work``: name of a task, or of what a role does of it.
        """
        task = work.partition(": ")[0]
        roles = self.roles(task, method, format_)
        rows = [p for p in self.scenario.piece_rates if (p.crew, p.task.value) == (crew, task)]
        for own in (own for own in roles if own.name == work):
            named = _closest((p for p in rows if p.role == own.role), method, format_)
            if named is not None:
                return named.pay_per_piece, own.seconds
            row = _closest((p for p in rows if p.role is None), method, format_)
            if row is not None:
                return row.pay_per_piece * own.seconds / sum(r.seconds for r in roles), own.seconds
        return None

    def _supply_used(self, supply: str, per: str, method: str | None, format_: str) -> float:
        """Units of a supply used per tray, join or plant."""
        row = _closest(
            (u for u in self.scenario.supply_uses if u.supply == supply and u.per.value == per),
            method,
            format_,
        )
        return 0.0 if row is None else row.quantity

    def _zone_day(self, name: str, day: date) -> tuple[float, float]:
        """Slots of a zone on a day (for units, of all units), modules included, and the cost of a slot."""
        zone: Zone = self.zones[name]
        pool = zone.mode is ZoneMode.POOL
        amount, cost = (zone.slots if pool else zone.units) or 0.0, zone.cost_per_slot_day
        for change in sorted(self.scenario.zone_days, key=lambda change: change.from_day):
            if change.zone == name and change.from_day <= day:
                new = change.slots if pool else change.units
                amount = amount if new is None else new
                cost = cost if change.cost_per_slot_day is None else change.cost_per_slot_day
        for module in self.scenario.modules:
            if module.zone == name:
                amount += module.added * ((module.slots or 0.0) if pool else 1)
        return amount * (1.0 if pool else zone.unit_slots or 0.0), cost

    def _crew_day(self, name: str, day: date) -> tuple[float, float, float]:
        """Heads, modules included, regular pay and overtime pay of a crew on a day."""
        crew: Crew = self.crews[name]
        heads, pay = crew.heads, crew.pay_per_hour
        for change in sorted(self.scenario.crew_days, key=lambda change: change.from_day):
            if change.crew == name and change.from_day <= day:
                heads = heads if change.heads is None else change.heads
                pay = pay if change.pay_per_hour is None else change.pay_per_hour
        for module in self.scenario.modules:
            if module.crew == name:
                heads += module.added
        return heads, pay, pay if crew.overtime_pay_per_hour is None else crew.overtime_pay_per_hour

    def payroll(self, crew: Crew) -> float:
        """Pay of all regular hours of a committed crew's calendar."""
        if crew.pay_basis is not PayBasis.COMMITTED:
            return 0.0
        days = ((*self.crew_day(crew.crew, day), self.shift(crew.crew, day) or 0.0) for day in self.days)
        return sum(heads * hours * pay for heads, pay, _, hours in days)

    def shift(self, name: str, day: date) -> float | None:
        """Regular hours of a hand of a crew on a day; None where the crew has no shift."""
        crew: Crew = self.crews[name]
        weekday = f"{day:%a}"
        if day in self.off:
            return None
        for row in self.scenario.shifts:
            if row.crew == name and weekday in row.weekdays:
                return row.hours_per_head_day or None
        return crew.hours_per_head_day if self.works(day) else None

    def shifts(self, name: str, monday: date) -> list[date]:
        """Days of a week on which a crew has a shift."""
        return [day for day in self.week_days(monday) if self.shift(name, day) is not None]

    def weekdays_with_a_shift(self, name: str) -> int:
        """Number of weekdays on which a crew has a shift."""
        own = {row.weekdays: row.hours_per_head_day for row in self.scenario.shifts if row.crew == name}
        changed = {weekday for weekdays in own for weekday in weekdays}
        kept = set(self.scenario.nursery.working_weekdays) - changed
        return len(kept) + sum(len(weekdays) for weekdays, hours in own.items() if hours > 0)

    def temporary_pay(self, name: str, day: date) -> tuple[float, float]:
        """Pay of an hour of a temporary hand of a crew on a day, and of an hour of its overtime."""
        pay, overtime = self.crews[name].temp_pay_per_hour, self.crews[name].temp_overtime_pay_per_hour
        for change in sorted(self.scenario.crew_days, key=lambda change: change.from_day):
            if change.crew == name and change.from_day <= day:
                new, more = change.temp_pay_per_hour, change.temp_overtime_pay_per_hour
                pay, overtime = pay if new is None else new, overtime if more is None else more
        return pay, pay if overtime is None else overtime


def _closest(rows: Iterable[Any], method: str | None, format_: str | None) -> Any | None:
    exact: Callable[[Any], int] = lambda r: 2 * (r.method is not None) + (r.format is not None)  # noqa: E731
    fits = [r for r in rows if r.method in (method, None) and r.format in (format_, None)]
    return max(fits, key=exact) if fits else None


def matched_share(a: tuple[float, float], b: tuple[float, float], tolerance: float) -> float:
    """Largest share of two Normal populations (mean, sd in mm) that can be paired within tolerance.

    By Strassen's theorem this is 1 − sup over sets S of P_a(S) − P_b(S widened by the tolerance δ). On a line
    S is a union of intervals [s, e]. Each adds F_a(e) − F_b(e + δ) and subtracts F_a(s) − F_b(s − δ). Both
    have their extremes where the two densities are equal, so only a few ends must be tried.
    """
    spread = max(a[1], 1e-9), max(b[1], 1e-9)
    starts = _equal_densities((a[0], spread[0]), (b[0] + tolerance, spread[1]))
    ends = _equal_densities((a[0], spread[0]), (b[0] - tolerance, spread[1]))
    closed, open_ = 0.0, 0.0
    for x in sorted([*starts, *ends]):
        below = ndtr((x - a[0]) / spread[0])
        closes = float(below - ndtr((x + tolerance - b[0]) / spread[1]))
        opens = float(ndtr((x - tolerance - b[0]) / spread[1]) - below)
        closed, open_ = max(closed, open_ + closes), max(open_, closed + opens)
    return 1.0 - max(closed, open_)


def _equal_densities(a: tuple[float, float], b: tuple[float, float]) -> list[float]:
    """Where two Normal densities (mean, sd) meet: the roots of a quadratic equation."""
    p, q = 1 / a[1] ** 2, 1 / b[1] ** 2
    square, linear = p - q, -2 * (a[0] * p - b[0] * q)
    constant = a[0] ** 2 * p - b[0] ** 2 * q + 2 * log(a[1] / b[1])
    if abs(square) <= 1e-12 * max(p, q):
        return [-constant / linear] if linear else []
    root = linear**2 - 4 * square * constant
    return [(-linear + sign * sqrt(root)) / (2 * square) for sign in (1, -1)] if root >= 0 else []
