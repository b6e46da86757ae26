"""Figures of a plan that several reports show: by week, what binds, what to do next.

Weeks start on Monday (ISO 8601) and carry the date of that Monday. Money is in the scenario's currency.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

import pandas as pd

from model.network.charges import filling_plants, with_charges
from model.planned.last_days import LastDays, last_days_of
from model.planned.plan_tables import TINY, Plan, rows_of
from model.questions.traced_costs import PENALTIES
from model.scenario.calendar import WEEKDAYS, week_of
from model.scenario.choices import ZoneUse
from model.scenario.entities import Scenario
from reports.book.words import one_more, plants_in_words, small_price
from reports.book.writing import grouped


def share_of(part: float, whole: float) -> float:
    """``part`` over ``whole``; 0 where ``whole`` is 0."""
    return part / whole if whole else 0.0


def is_full(used: float, available: float) -> bool:
    """Whether a capacity counts as used up: its printed share is 100.0 %."""
    return used > TINY and used >= 0.9995 * available


def weekday(day: date) -> str:
    """The day's weekday, as in the scenario."""
    return WEEKDAYS[day.weekday()]


# The plan in a few numbers


@dataclass(frozen=True, slots=True)
class KeyNumbers:
    """What an owner asks first."""

    cost: float
    ordered: float
    extra: float
    """Of the plants ordered, those that are sent unbilled."""
    filling: float
    """Of the plants ordered, those that fill last trays, billed with the others."""
    own: float
    bought: float
    short: float
    declined: float
    forgone: float
    """Price of plants declined: part of the cost, though not paid."""
    late: float
    late_discount: float
    """Price given up for plants that come late, part of the cost."""
    penalties: float
    """Penalties for plants short: part of the cost, though not paid."""
    hours: float
    seeds: float
    trays: float
    joins: float

    @property
    def delivered(self) -> float:
        """Plants delivered, own and bought in."""
        return self.own + self.bought

    @property
    def ordered_words(self) -> str:
        """Plants ordered, in words: those billed, and the extra ones."""
        return plants_in_words(self.ordered - self.extra, self.filling, self.extra)

    @property
    def cost_per_plant(self) -> float:
        """Cost per plant delivered, without penalties and the price of plants declined; 0 where none is."""
        return share_of(self.cost - self.forgone - self.penalties, self.delivered)


def key_numbers(scenario: Scenario, plan: Plan) -> KeyNumbers:
    """The plan in a few numbers; joins are those of grafted products alone."""
    return KeyNumbers(
        cost=plan.cost,
        ordered=_total(plan.orders, "quantity"),
        extra=_total(plan.orders, "extra"),
        filling=sum(filling_plants(order) for order in with_charges(scenario).orders),
        own=_total(plan.orders, "own"),
        bought=_total(plan.orders, "bought"),
        short=plan.short,
        declined=_total(plan.orders, "declined"),
        forgone=cost_by_line(plan).get("declined", 0.0),
        late=_total(plan.orders, "late"),
        late_discount=_total(plan.orders, "late_discount"),
        penalties=plan.penalties,
        hours=_total(plan.hours, "hours"),
        seeds=_total(plan.waves, "seeds"),
        trays=_total(waves_sown(plan), "trays"),
        joins=joins_made(scenario, plan),
    )


def joins_made(scenario: Scenario, plan: Plan) -> float:
    """Joins of two seedlings from the first day on, without those of plants on hand."""
    rows = rows_of(plan.joins, "graft_day", "rootstock_wave", "joins")
    first = scenario.nursery.first_day
    return float(sum(joins for day, wave, joins in rows if wave is not None and day >= first))


def _total(frame: pd.DataFrame, column: str) -> float:
    return float(sum(frame[column].tolist()))


def cost_by_line(plan: Plan) -> dict[str, float]:
    """Cost of each line of the plan, in the order of the table of costs."""
    sums: dict[str, float] = defaultdict(float)
    for line, amount in rows_of(plan.costs, "line", "amount"):
        sums[line] += amount
    return dict(sums)


def waves_sown(plan: Plan) -> pd.DataFrame:
    """The plan's waves without the trays on hand on the first day."""
    return plan.waves[plan.waves["seeds"] > 0]


def waves_charged(scenario: Scenario, plan: Plan) -> dict[date, float]:
    """Waves charged with the fixed cost of a wave, by week; fractional in a continuous plan."""
    charged = cost_by_line(plan).get("waves", 0.0)
    if not charged:
        return {}
    counts = Counter(week_of(day) for day in waves_sown(plan)["sow_day"].tolist())
    each = charged / scenario.nursery.wave_cost / counts.total()
    return {week: count * each for week, count in counts.items()}


class ProductCost(NamedTuple):
    """A product: plants delivered, own and bought in, and their traced cost."""

    product: str
    plants: float
    cost: float


def product_costs(plan: Plan, traced: pd.DataFrame) -> list[ProductCost]:
    """Products ordered, those with the most plants delivered first; their costs are without penalties.

    ``traced``: from ``traced_parts``.
    """
    plants: dict[str, float] = defaultdict(float)
    costs: dict[str, float] = defaultdict(float)
    product_of: dict[str, str] = {}
    for order, product, own, bought in rows_of(plan.orders, "order", "product", "own", "bought"):
        product_of[order] = product
        plants[product] += own + bought
    for order, line, amount in rows_of(traced, "order", "line", "amount"):
        if order is not None and line not in PENALTIES:
            costs[product_of[order]] += amount
    found = [ProductCost(product, of, costs[product]) for product, of in plants.items()]
    return sorted(found, key=lambda of: (-of.plants, of.product))


# Zones and crews by week


class ZoneWeek(NamedTuple):
    """A zone's fullest day of a week, and its slot-days in use in that week."""

    zone: str
    week: date
    day: date
    used: float
    available: float
    slot_days: float

    @property
    def share(self) -> float:
        """Share of the slots in use on the fullest day."""
        return share_of(self.used, self.available)


def zone_weeks(plan: Plan) -> dict[str, list[ZoneWeek]]:
    """The weeks of each zone, in order."""
    days: dict[tuple[str, date], list[tuple[date, float, float]]] = defaultdict(list)
    for zone, day, used, available in rows_of(plan.slots, "zone", "day", "used", "available"):
        days[zone, week_of(day)].append((day, used, available))
    found: dict[str, list[ZoneWeek]] = defaultdict(list)
    for (zone, week), entries in days.items():
        day, used, available = max(entries, key=lambda e: (share_of(e[1], e[2]), e[1], e[0].toordinal() * -1))
        found[zone].append(ZoneWeek(zone, week, day, used, available, sum(used for _, used, _ in entries)))
    return dict(found)


def healing_zones(scenario: Scenario) -> list[str]:
    """The healing chambers, in the scenario's order."""
    return [zone.zone for zone in scenario.zones if zone.use is ZoneUse.HEALING]


FILLS = 0.9
"""Share of its slots from which a room counts as one that fills: every chart of rooms shows it."""


def rooms_drawn(scenario: Scenario, plan: Plan) -> list[str]:
    """The healing chambers in use, then every other zone that fills, in the scenario's order."""
    fullest = {zone: max(week.share for week in weeks) for zone, weeks in zone_weeks(plan).items()}
    healing = [zone for zone in healing_zones(scenario) if zone in fullest]
    others = [zone.zone for zone in scenario.zones if zone.use is not ZoneUse.HEALING]
    return [*healing, *(zone for zone in others if fullest.get(zone, 0.0) >= FILLS)]


def fullest_chamber(scenario: Scenario, plan: Plan) -> ZoneWeek | None:
    """The fullest day of any healing chamber; None where there is none."""
    by_zone = zone_weeks(plan)
    found = [week for zone in healing_zones(scenario) for week in by_zone.get(zone, [])]
    return max(found, key=lambda week: week.share, default=None)


class CrewWeek(NamedTuple):
    """A crew's hours in a week: worked and available; ``training``: own hours with new temporary hands.

    ``temporary_overtime`` is part of ``temporary``; ``called``: days of temporary hands called by the day.
    """

    crew: str
    week: date
    regular: float
    overtime: float
    training: float
    temporary: float
    regular_available: float
    overtime_available: float
    temporary_available: float
    temporary_overtime: float
    called: float

    @property
    def worked(self) -> float:
        """All hours worked."""
        return self.regular + self.overtime + self.temporary

    @property
    def available(self) -> float:
        """All hours available."""
        return self.regular_available + self.overtime_available + self.temporary_available


def crew_weeks(plan: Plan) -> dict[str, list[CrewWeek]]:
    """The weeks of each crew, in order."""
    columns = CrewWeek._fields[2:]
    sums: dict[tuple[str, date], list[float]] = defaultdict(lambda: [0.0] * len(columns))
    for crew, day, *hours in rows_of(plan.crew_days, "crew", "day", *columns):
        entry = sums[crew, week_of(day)]
        for n, value in enumerate(hours):
            entry[n] += value
    found: dict[str, list[CrewWeek]] = defaultdict(list)
    for (crew, week), entry in sums.items():
        found[crew].append(CrewWeek(crew, week, *entry))
    return dict(found)


def busiest_crew(plan: Plan) -> str | None:
    """The crew with the highest share of its regular hours worked in any week; None without a crew."""
    best = {
        crew: max((share_of(w.regular, w.regular_available), w.worked) for w in by_week)
        for crew, by_week in crew_weeks(plan).items()
    }
    return max(best, key=lambda crew: best[crew], default=None)


# Orders


def latest_ready(plan: Plan) -> dict[str, tuple[date, date]]:
    """Ready day of the last plants, and packing day, of each order that gets plants."""
    found: dict[str, tuple[date, date]] = {}
    for order, ready, pack in rows_of(plan.deliveries, "order", "ready_day", "pack_day"):
        found[order] = max(found.get(order, (ready, pack)), (ready, pack))
    return found


NO_DAY, NO_DAY_BOUGHT, NO_MARGIN = "no spare day", "bought in, no spare day", "no margin"
NO_SOWING, NO_GRAFTING, LATE = "no time to sow again", "no time to graft again", "late"


class AtRisk(NamedTuple):
    """An order that is short, or that one mishap would leave short; ``why``: the reasons in words."""

    order: str
    customer: str | None
    due_day: date
    quantity: float
    short: float
    why: tuple[str, ...]


def orders_at_risk(scenario: Scenario, plan: Plan, last_days: LastDays | None = None) -> list[AtRisk]:
    """Orders that the plan alone shows to be at risk, the worst first; ``last_days``: its own, where known.

    An order is at risk if it is short, if plants of it come late, if its last plants, own or bought in, are
    ready only on the packing day, if its own plants have no graft margin (plants held need none, and a plan
    over many seasons grows its spare plants for no order), or if there is no time to sow again once a stand
    is counted, or to graft again once a take is (``model.planned.last_days``). The chance to fill it takes a
    simulation.
    """
    last_days = last_days or last_days_of(scenario, plan)
    last: dict[tuple[str, str], bool] = defaultdict(bool)
    columns: tuple[str, ...] = ("order", "source", "ready_day", "pack_day", "days_late")
    for order, source, ready, pack, days_late in rows_of(plan.deliveries, *columns):
        last[order, source] |= ready >= pack and not days_late
    found = []
    held = {order.order for order in scenario.orders if order.held}
    by_margins = not plan.facts.seasons
    columns = ("order", "customer", "due_day", "quantity", "short", "own", "margin", "late")
    for order, customer, due, quantity, short, own, margin, late in rows_of(plan.orders, *columns):
        signs = {
            "SHORT": short > 0,
            LATE: late > 0,
            NO_DAY: last[order, "own"],
            NO_DAY_BOUGHT: last[order, "buy-in"],
            NO_MARGIN: by_margins and own > 0 and margin <= TINY and order not in held,
            NO_SOWING: order in last_days.sown_too_late,
            NO_GRAFTING: order in last_days.grafted_too_late,
        }
        why = tuple(sign for sign, holds in signs.items() if holds)
        if why:
            found.append(AtRisk(order, customer, due, float(quantity), short, why))
    return sorted(found, key=lambda risk: (-risk.short, -len(risk.why), -risk.quantity, risk.order))


# What binds


class Binding(NamedTuple):
    """A limit that binds: on how many days, and the day on which one more of it saves most.

    ``worth`` ranks limits of different units: Σ saving · limit over its days. One per cent more of the
    limit saves about a hundredth of it.
    """

    limit: str
    name: str
    days: int
    day: date | None
    unit: str
    saving: float
    worth: float


def bindings(plan: Plan) -> list[Binding]:
    """Limits of slots, hours and offers that bind, the greatest worth first.

    Left out are orders, since each has a price; regular hours on days off; and seed and supplies, unless
    one more unit saves more than its pack price.
    """
    dearest = _dearest_unit(plan)
    found: dict[tuple[str, str], list[tuple[float, float, date | None, str]]] = defaultdict(list)
    columns = ("limit", "name", "day", "unit", "value", "at")
    for limit, name, day, unit, value, at in rows_of(plan.shadow_prices, *columns):
        ordinary = limit == "order" or (limit == "stock" and -value <= dearest.get(name, 0.0) + TINY)
        if value < -TINY and not ordinary and not is_day_off(limit, at):
            found[limit, name].append((-value, at, day, unit))
    made = []
    for (limit, name), entries in found.items():
        saving, _, day, unit = max(entries, key=lambda e: (e[0], -(e[2].toordinal() if e[2] else 0)))
        worth = sum(saving * at for saving, at, _, _ in entries)
        made.append(Binding(limit, name, len(entries), day, unit, saving, worth))
    return sorted(made, key=lambda b: (-b.worth, -b.saving, b.limit, b.name))


def is_day_off(limit: str, at: float) -> bool:
    """Whether a limit is the regular hours of a day off, which are always 0."""
    return limit == "regular hours" and at <= TINY


def _dearest_unit(plan: Plan) -> dict[str, float]:
    """For each item bought, the highest price of a unit among its packs."""
    found: dict[str, float] = {}
    for item, size, price in rows_of(plan.purchases, "item", "size", "price"):
        found[item] = max(found.get(item, 0.0), price / size)
    return found


# What to do


class Action(NamedTuple):
    """Work to do on a day, or to order on that day at the latest."""

    day: date
    verb: str
    what: str


def actions(plan: Plan, first: date, last: date) -> list[Action]:
    """What to order, sow, graft and pack from ``first`` to ``last``: one action for each day and verb."""
    lines: dict[tuple[date, int, str], list[str]] = defaultdict(list)

    def add(day: date | None, rank: int, verb: str, what: str) -> None:
        if day is not None and first <= day <= last:
            lines[day, rank, verb].append(what)

    columns = ("item", "size", "packs", "ordered", "order_by")
    for item, size, number, ordered, by in rows_of(plan.purchases, *columns):
        packs = number - ordered
        what = f"{grouped(packs)} {'pack' if packs == 1 else 'packs'} of {grouped(size)} {item}"
        add(by if packs > 0 else None, 0, "order by", what)
    for offer, plants, by in _by_offer(plan):
        add(by, 0, "order by", f"{grouped(plants)} plants of {offer}")
    for day, lot, format_, trays in rows_of(plan.waves, "sow_day", "lot", "format", "trays"):
        add(day, 1, "sow", f"{grouped(trays)} trays {format_} of {lot}")
    for day, product, wave, joins in _by_graft(plan):
        add(day, 2, "graft" if wave else "move on", f"{grouped(joins)} {product}")
    for day, order, plants in rows_of(plan.deliveries, "pack_day", "order", "plants"):
        add(day, 3, "pack", f"{grouped(plants)} for {order}")
    return [Action(day, verb, "; ".join(what)) for (day, _, verb), what in sorted(lines.items())]


def first_week(scenario: Scenario, plan: Plan) -> tuple[date, date]:
    """First and last day of the next week with work, from today on; of today's week if none has work."""
    nursery = scenario.nursery
    start = nursery.today or nursery.first_day
    found = actions(plan, start, nursery.last_day)
    monday = week_of(found[0].day if found else start)
    return max(monday, start), monday + timedelta(days=6)


def _by_graft(plan: Plan) -> list[tuple[date, str, bool, float]]:
    sums: dict[tuple[date, str, bool], float] = defaultdict(float)
    columns = ("graft_day", "product", "rootstock_wave", "joins")
    for day, product, wave, joins in rows_of(plan.joins, *columns):
        sums[day, product, wave is not None] += joins
    return [(*key, joins) for key, joins in sums.items()]


def _by_offer(plan: Plan) -> list[tuple[str, float, date]]:
    sums: dict[tuple[str, date], float] = defaultdict(float)
    for offer, by, plants, spare in rows_of(plan.buy_in, "offer", "order_by", "plants", "spare"):
        sums[offer, by] += plants + spare
    return [(offer, plants, by) for (offer, by), plants in sums.items()]


def saving(binding: Binding, currency: str) -> str:
    """What one more of a binding limit saves, in a sentence or two."""
    what = one_more(binding.limit, binding.name, binding.day)
    if binding.day is None:
        return f"{what} saves {small_price(binding.saving, currency)}."
    on, span = ("in", "week") if binding.limit == "week hours" else ("on", "day")
    many = f"{binding.days} {span}" + ("" if binding.days == 1 else "s")
    return f"{what} saves {small_price(binding.saving, currency)}. Binds {on} {many}."
