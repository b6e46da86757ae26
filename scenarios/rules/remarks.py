"""Remarks on a valid scenario: figures outside published ranges, and rows that look forgotten.

A remark never stops a command. ``published_ranges.csv`` has the ranges with their sources. Its column
``read`` says how each figure was found: R read in the source, A read in the paper's abstract, C computed from
such figures.
"""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from model.network.past import given, raised_in
from model.rates.overseeding import chance_of_enough
from model.rates.yields import stand, take_at
from model.scenario.about_cells import Remark
from model.scenario.batches import together
from model.scenario.calendar import Calendar
from model.scenario.choices import (
    Decline,
    Happened,
    MarginPolicy,
    MethodKind,
    Part,
    Source,
    SowingPolicy,
    Task,
    ZoneUse,
)
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.scenario.records.people import LabourStandard
from scenarios.cells.faults import nearest, shown
from scenarios.rules.costly import COSTLY
from scenarios.rules.look_alikes import look_alikes


def in_words(remark: Remark) -> str:
    """A remark in one line: its row, its value and its sentence."""
    value = f" {shown(remark.value)}" if remark.value else ""
    place = ", ".join(part for part in (remark.table, shown(remark.name), remark.column) if part)
    return f"{place}{value}: {remark.sentence}"


Record = TypeVar("Record")

MANY_PRICES = 5
"""A penalty above this many times the price of a plant is remarked on (common practice, no source)."""

MOSTLY = "the cost of a plan that leaves plants short is then mostly penalty"

OWN = object()
"""Stands for the cell's own value."""


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of a table: its number, its name in words, and its record."""

    table: str
    number: int
    name: str
    record: Any

    def remark(self, column: str, message: str, value: Any = OWN, source: str = "") -> Remark:
        """A remark on one of the row's cells, which shows ``value``."""
        shows = getattr(self.record, column) if value is OWN else value
        told = "" if shows is None else f"{shows:g}" if isinstance(shows, int | float) else str(shows)
        return Remark(self.table, self.number, self.name, column, told, message, source)

    def outside(
        self, range_: Published | None, column: str, value: Any = OWN, to: float | None = None
    ) -> Iterator[Remark]:
        """The remark on a figure (or a run of figures from ``value`` to ``to``) outside a published range."""
        low = getattr(self.record, column) if value is OWN else value
        if range_ is None or low is None or range_.holds(low, low if to is None else to):
            return
        told = f"{low:g}" if to is None else f"{low:g} to {to:g}"
        crop = f" for {range_.crop}" if range_.crop else ""
        yield self.remark(column, f"published{crop}: {range_.range}", told, range_.cited)


def _rows(table: str, records: tuple[Record, ...], name: str) -> Iterator[tuple[_Row, Record]]:
    """The records of a table with their rows; ``name`` is the column that names a row."""
    for number, record in enumerate(records, 2):
        yield _Row(table, number, str(getattr(record, name)), record), record


MANY_CUTS = 6
"""More cuts open at a time are remarked on: about five is common practice, no source."""

_READ = {"R": "read in the source", "A": "read in the abstract", "C": "computed from these"}


@dataclass(frozen=True, slots=True)
class Published:
    """A published range; ``crop`` and ``word`` (of a method's name) are blank where it holds for all."""

    figure: str
    crop: str
    word: str
    low: float | None
    high: float | None
    unit: str
    read: str
    source: str

    @property
    def cited(self) -> str:
        """The source, and how the figure was found."""
        return f"{self.source}; {_READ[self.read]}"

    @property
    def range(self) -> str:
        """The range in words."""
        low = "" if self.low is None else f"{self.low:g}"
        high = "" if self.high is None else f"{self.high:g}"
        unit = "" if self.unit == "share" else f" {self.unit}"
        if low and high:
            return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"
        return f"at least {low}{unit}" if low else f"at most {high}{unit}"

    def holds(self, low: float, high: float) -> bool:
        """Whether figures from ``low`` to ``high`` touch the range."""
        return (self.low is None or high >= self.low) and (self.high is None or low <= self.high)


@cache
def published_ranges() -> tuple[Published, ...]:
    """All published ranges that come with the tool."""
    with (Path(__file__).parent / "published_ranges.csv").open(encoding="utf-8", newline="") as file:
        rows: Iterable[dict[str, Any]] = csv.DictReader(file)
        ends = ("low", "high")
        return tuple(
            Published(**row | {end: float(row[end]) if row[end] else None for end in ends}) for row in rows
        )


def published(figure: str, crop: str = "", method: str = "") -> Published | None:
    """The range of a figure that fits crop and method most closely; None where none was published."""
    crops, methods = set(crop.casefold().split()), method.casefold()
    fitting = [
        p
        for p in published_ranges()
        if p.figure == figure and (not p.crop or p.crop in crops) and (not p.word or p.word in methods)
    ]
    return max(fitting, key=lambda p: (bool(p.word), bool(p.crop)), default=None)


def remarks(scenario: Scenario) -> list[Remark]:
    """All remarks on a scenario."""
    return [remark for part in _PARTS for remark in part(scenario)]


def _nursery(scenario: Scenario) -> Iterator[Remark]:
    nursery = scenario.nursery
    row = _Row("nursery", 2, nursery.name, nursery)
    if nursery.interest_rate > 0.5:
        yield row.remark("interest_rate", f"is {nursery.interest_rate:.0%} a year")
    dearest = max((offer.price for offer in scenario.buy_in_offers), default=0.0)
    if nursery.shortfall_penalty < dearest:
        says = f"is below the price of an offer ({dearest:g}): being short pays"
        yield row.remark("shortfall_penalty", says)
    priced = [order for order in scenario.orders if order.price and order.shortfall_penalty is None]
    far = [order for order in priced if nursery.shortfall_penalty > MANY_PRICES * given(order.price)]
    if far:
        order = min(far, key=lambda order: given(order.price))
        most = nursery.shortfall_penalty / given(order.price)
        says = (
            f"is more than {MANY_PRICES} times the price of {len(far)} of {len(priced)} orders, {most:,.0f} "
            f"times that of order '{shown(order.order)}': {MOSTLY}"
        )
        yield row.remark("shortfall_penalty", says)


def _orders(scenario: Scenario) -> Iterator[Remark]:
    nursery = scenario.nursery
    kinds = _kinds(scenario)
    offered: dict[str, float] = {}
    for offer in scenario.buy_in_offers:
        offered[offer.product] = min(offer.price, offered.get(offer.product, offer.price))
    for row, order in _rows("orders", scenario.orders, "order"):
        penalty, price = order.shortfall_penalty, offered.get(order.product)
        if penalty is not None and price is not None and penalty < price:
            says = f"is below the price of buying in ({price:g}): being short pays"
            yield row.remark("shortfall_penalty", says)
        if penalty is not None and order.price and penalty > MANY_PRICES * order.price:
            says = f"is more than {MANY_PRICES} times the price ({order.price:g}): {MOSTLY}"
            yield row.remark("shortfall_penalty", says)
        fixed = nursery.margin_policy is MarginPolicy.FIXED and nursery.sowing_policy is SowingPolicy.FIXED
        if order.service_level is not None and (fixed or nursery.margin_policy is MarginPolicy.PRICED):
            says = f"has no effect: the nursery's margin_policy is {nursery.margin_policy.value}"
            yield row.remark("service_level", says)
        if order.decline is not Decline.NO and order.price == 0:
            yield row.remark("price", "so the plan declines the order wherever it costs anything")
        elif nursery.currency == "USD":
            yield from row.outside(_price(kinds[order.product]), "price")


def _spread(scenario: Scenario) -> Iterator[Remark]:
    """Orders of which the lots on sale or in stock may not give all plants; those made in one way alone."""
    kinds = {product.product: product for product in scenario.products}
    in_ways = {product.sold_as for product in scenario.products}
    packed = {pack.item for pack in scenario.packs}
    lots = Counter(lot.variety for lot in scenario.seed_lots if lot.stock or lot.lot in packed)
    for row, order in _rows("orders", scenario.orders, "order"):
        own, product = order.most_share_of_one_lot, kinds[order.product]
        share = scenario.nursery.most_share_of_one_lot if own is None else own
        if share is None or product.source is Source.BUY or product.product in in_ways:
            continue
        for variety in filter(None, (product.scion, product.rootstock)):
            if share * lots[variety] < 1:
                number = f"{lots[variety]} seed lot{'s' * (lots[variety] != 1)}"
                most = f"{share * lots[variety]:.0%} of the plants"
                says = f"lets at most {most} be grown: {variety} has {number}"
                yield row.remark("most_share_of_one_lot", says, share)


def _customers(scenario: Scenario) -> Iterator[Remark]:
    ordering = {order.customer for order in scenario.orders}
    for row, customer in _rows("customers", scenario.customers, "customer"):
        if customer.customer not in ordering:
            near = nearest(customer.customer, ordering)
            like = f"; the nearest name is '{shown(near)}'" if near else ""
            yield row.remark("customer", f"has no orders, so that these terms are nobody's{like}")


def _kinds(scenario: Scenario) -> dict[str, MethodKind]:
    """The kind of method of each product."""
    kinds = {method.method: method.kind for method in scenario.methods}
    return {product.product: kinds[product.method] for product in scenario.products}


def _price(kind: MethodKind) -> Published | None:
    return published("own_root_cost" if kind is MethodKind.OWN_ROOT else "grafted_cost")


def _products(scenario: Scenario) -> Iterator[Remark]:
    ordered = {order.product for order in scenario.orders}
    for row, product in _rows("products", scenario.products, "product"):
        if product.ordered_as not in ordered and not (product.salvage_price and product.salvage_most):
            yield row.remark("product", "has no orders", None)


def _lots(scenario: Scenario) -> Iterator[Remark]:
    crops = {product.scion: product.crop for product in reversed(scenario.products)}
    used = set(crops) | {product.rootstock for product in scenario.products}
    packed = {pack.item for pack in scenario.packs}
    practised = {row.item for row in scenario.practice}
    ordering = {order.customer for order in scenario.orders}
    for row, lot in _rows("seed_lots", scenario.seed_lots, "lot"):
        if lot.variety not in used and lot.lot not in practised:
            yield row.remark("variety", "is in no product: the lot is not used")
        elif not lot.stock and lot.lot not in packed:
            yield row.remark("stock", "and no pack to buy: the lot cannot be sown")
        if lot.customer is not None and lot.customer not in ordering:
            yield row.remark("customer", "has no orders, so that nothing is raised from this seed")
        crop = lot.crop or crops.get(lot.variety, "")
        for figure in ("germination", "germination_days"):
            yield from row.outside(published(figure, crop), figure)


def _crops(scenario: Scenario) -> dict[str, set[str]]:
    """The crops of each method's products."""
    crops: dict[str, set[str]] = defaultdict(set)
    for product in scenario.products:
        crops[product.method].add(product.crop)
    return crops


def _methods(scenario: Scenario) -> Iterator[Remark]:
    crops = _crops(scenario)
    healing: dict[str, int] = defaultdict(int)
    for stage in scenario.stages:
        if stage.part is Part.HEALING:
            healing[stage.method] += stage.days
    for row, method in _rows("methods", scenario.methods, "method"):
        if method.method not in crops:
            yield row.remark("method", "is in no product", None)
        yield from row.outside(published("holding_days"), "holding_limit_days")
        if method.kind is MethodKind.OWN_ROOT:
            continue
        yield from row.outside(published("match"), "match")
        if method.open_cuts_most is not None and method.open_cuts_most > MANY_CUTS:
            says = "is many: open cuts dry, and about five at a time is common practice (no source)"
            yield row.remark("open_cuts_most", says)
        for crop in sorted(crops[method.method]):
            yield from row.outside(published("take", crop, method.method), "take")
            window = published("scion_age", crop)
            yield from row.outside(window, "scion_age_min", to=method.scion_age_max)
        if method.method in healing:
            for remark in row.outside(published("chamber_days"), "method", healing[method.method]):
                yield replace(remark, message=f"days of healing; {remark.message}")


def _stage_zones(scenario: Scenario) -> Iterator[Remark]:
    crops = _crops(scenario)
    for row, zone in _rows("stage_zones", scenario.stage_zones, "zone"):
        for crop in sorted(crops[zone.method]):
            yield from row.outside(published("take", crop, zone.method), "take")


def _ages(scenario: Scenario) -> Iterator[Remark]:
    crops = _crops(scenario)
    for row, effect in _rows("age_effects", scenario.age_effects, "method"):
        yield from row.outside(published("match"), "match")
        for crop in sorted(crops[effect.method]):
            yield from row.outside(published("take", crop, effect.method), "take")


def _climate(scenario: Scenario) -> Iterator[Remark]:
    """Climates of healing stages outside published practice; light is judged where it is not dark."""
    for row, stage in _rows("stages", scenario.stages, "stage"):
        if stage.part is Part.HEALING:
            yield from row.outside(published("healing_temperature"), "temperature")
            yield from row.outside(published("healing_humidity"), "humidity")
            if stage.light:
                yield from row.outside(published("healing_light"), "light")


def _labour(scenario: Scenario) -> Iterator[Remark]:
    own_root = {method.method for method in scenario.methods if method.kind is MethodKind.OWN_ROOT}
    for row, standard in _rows("labour_standards", scenario.labour_standards, "task"):
        if standard.task in (Task.GRAFT, Task.STICK) and standard.method in own_root:
            yield row.remark("method", "is own-root: its plants are not grafted, so no plan has these hours")
            continue
        range_ = published(f"{standard.task.value}_seconds")
        if standard.role is None:
            yield from row.outside(range_, "seconds")
        elif range_ is not None:
            alike = [other for other in scenario.labour_standards if _same_work(standard, other)]
            seconds = sum(other.seconds for other in alike)
            if standard == alike[0] and not range_.holds(seconds, seconds):
                says = f"published: {range_.range}; this is the time of all roles"
                yield row.remark("seconds", says, seconds, range_.cited)
    wanted = {row.skill for row in scenario.labour_standards}
    wanted |= {task.skill for task in scenario.own_tasks if task.skill is not None}
    wanted |= {supply.wash_skill for supply in scenario.supplies if supply.wash_skill is not None}
    wanted |= {scenario.nursery.change_over_skill or ""}
    for row, crew in _rows("crews", scenario.crews, "crew"):
        for skill in crew.skills:
            if skill not in wanted:
                yield row.remark("skills", "is in no labour standard: no work needs it", skill)


def _same_work(one: LabourStandard, other: LabourStandard) -> bool:
    """Whether two rows are for the same task, method and format."""
    return (one.task, one.method, one.format) == (other.task, other.method, other.format)


def _zones(scenario: Scenario) -> Iterator[Remark]:
    used = {stage.zone for stage in scenario.stages} | {method.holding_zone for method in scenario.methods}
    used |= {row.zone for row in scenario.stage_zones} | {row.zone for row in scenario.germination_zones}
    used |= {zone for lot in scenario.seed_lots for zone in (lot.germination_zone, lot.bench_zone)}
    for row, zone in _rows("zones", scenario.zones, "zone"):
        if zone.zone not in used:
            yield row.remark("zone", "is not used", None)
        if zone.use is ZoneUse.HOLDING and scenario.nursery.currency == "USD" and zone.cost_per_slot_day:
            yield from row.outside(published("holding_slot_day"), "cost_per_slot_day")
    for row, module in _rows("modules", scenario.modules, "module"):
        if module.salvage_value > module.first_cost:
            yield row.remark("salvage_value", f"is above first_cost ({module.first_cost:g})")


def _crews(scenario: Scenario) -> Iterator[Remark]:
    for row, crew in _rows("crews", scenario.crews, "crew"):
        for column in ("pay_per_hour", "temp_pay_per_hour") if crew.temp_heads_most else ("pay_per_hour",):
            if getattr(crew, column) == 0:
                yield row.remark(column, "makes these hours free")
            elif scenario.nursery.currency == "USD":
                yield from row.outside(published("pay"), column)
        overtime = crew.overtime_pay_per_hour
        if overtime is not None and overtime < crew.pay_per_hour:
            yield row.remark("overtime_pay_per_hour", f"is below the regular pay ({crew.pay_per_hour:g})")
    untrained = {c.crew for c in scenario.crews if c.temp_heads_most > 0 and c.temp_training_days == 0}
    for row, practice in _rows("practice", scenario.practice, "crew"):
        if practice.crew in untrained:
            yield row.remark("crew", "has temporary hands without training days, so nobody practises")


def _days(scenario: Scenario) -> Iterator[Remark]:
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    for row, off in _rows("days_off", scenario.days_off, "day"):
        if not first <= off.day <= last:
            yield row.remark("day", "lies outside the horizon")
    for table, name in (("zone_days", "zone"), ("crew_days", "crew")):
        for change, record in _rows(table, getattr(scenario, table), name):
            if record.from_day > last:
                yield change.remark("from_day", "lies after the horizon")


def _offers(scenario: Scenario) -> Iterator[Remark]:
    ordered = {order.product for order in scenario.orders}
    kinds = _kinds(scenario)
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    for row, offer in _rows("buy_in_offers", scenario.buy_in_offers, "offer"):
        if offer.product not in ordered:
            yield row.remark("product", "has no orders")
        if offer.from_day is not None and offer.from_day > last:
            yield row.remark("from_day", "lies after the horizon")
        if offer.to_day is not None and offer.to_day < first:
            yield row.remark("to_day", "lies before the horizon")
        if scenario.nursery.currency == "USD":
            yield from row.outside(_price(kinds[offer.product]), "price")


def _names(scenario: Scenario) -> Iterator[Remark]:
    """Names that look like another of their column."""
    for table, row, column, name, other in look_alikes(scenario):
        says = f"looks like '{ascii(other)[1:-1]}' and is another name (here '{ascii(name)[1:-1]}')"
        yield Remark(table, row, name, column, name, f"{says}: write both alike if one is meant")


def _salvage(scenario: Scenario) -> Iterator[Remark]:
    """Salvage prices that make it pay to grow for no order, or to leave orders short."""
    nursery = scenario.nursery
    penalties: dict[str, float] = {}
    for order in scenario.orders:
        own = order.shortfall_penalty
        penalty = nursery.shortfall_penalty if own is None else own
        penalties[order.product] = min(penalty, penalties.get(order.product, penalty))
    for row, product in _rows("products", scenario.products, "product"):
        salvage = product.salvage_price
        if not salvage or not product.salvage_most:
            continue
        penalty = penalties.get(product.product, nursery.shortfall_penalty)
        if salvage > penalty:
            says = f"is above the penalty of a plant short ({penalty:g}): surplus pays better than orders"
            yield row.remark("salvage_price", says)
        if nursery.plant_cost is not None and salvage > nursery.plant_cost:
            says = f"is above plant_cost ({nursery.plant_cost:g}): growing plants without an order pays"
            yield row.remark("salvage_price", says)


HARDLY = 0.0005
"""Chance of so low a count at which it is remarked on: the lower end of a two-sided interval of 99.9 %."""


def _told(scenario: Scenario) -> Iterator[tuple[_Row, Progress]]:
    """The rows of progress with their records."""
    for number, record in enumerate(scenario.progress, 2):
        yield _Row("progress", number, f"{record.what.value} on {record.day}", record), record


def _counts(scenario: Scenario) -> Iterator[Remark]:
    """Remarks on takes and stands counted far below those of the scenario."""
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    for row, told in _told(scenario):
        if told.counted is None or told.number <= 0:
            continue
        if told.what is Happened.SOWN:
            lot, tried = lots[given(told.lot)], told.number * cells[given(told.format)]
            share, alike = stand(lot), together(lot.between_lots, lot.between_sowings)
            what, again = f"seedlings of lot '{shown(lot.lot)}'", "sowing"
        elif told.what is Happened.GRAFTED and told.rootstock_lot is not None:
            tried, (share, alike) = told.number, _take_of(scenario, told)
            what, again = "joins healed", "grafting"
        else:
            continue
        if _hardly(told.counted, tried, share, alike):
            says = f"{what} where about {share * tried:,.0f} were expected"
            yield row.remark("counted", f"{says}: look into it before {again} more")


def _on_hand(scenario: Scenario) -> Iterator[Remark]:
    """Remarks on trays on hand that no product can use, and on few seedlings counted in them."""
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    oldest, today = _oldest(scenario), scenario.nursery.today or scenario.nursery.first_day
    for row, stood in _rows("trays_on_hand", scenario.trays_on_hand, "lot"):
        lot, age = lots[stood.lot], (today - stood.sow_day).days
        last = oldest.get((lot.variety, stood.format))
        if last is None:
            says = f"no product raises seedlings of '{shown(lot.variety)}' in it: these trays are of no use"
            yield row.remark("format", says)
        elif age > last:
            says = f"{age} days old on {today}, and grafted up to {last} days: these trays are of no use"
            yield row.remark("sow_day", says)
        expected, alike = stand(lot), together(lot.between_lots, lot.between_sowings)
        tried = stood.trays * cells[stood.format]
        if stood.seedlings is not None and _hardly(stood.seedlings, tried, expected, alike):
            says = f"usable seedlings where about {expected * tried:,.0f} were expected: look into it"
            yield row.remark("seedlings", says)


def _oldest(scenario: Scenario) -> dict[tuple[str, str], int]:
    """The greatest age at which seedlings of a variety in a format are grafted or moved on."""
    methods = {method.method: method for method in scenario.methods}
    found: dict[tuple[str, str], int] = {}
    for product in scenario.products:
        method = methods[product.method]
        rootstocks, scions = raised_in(product, method.kind)
        sides = [(product.scion, scions, method.scion_age_max)]
        if product.rootstock is not None:
            sides.append((product.rootstock, rootstocks, given(method.rootstock_age_max)))
        for variety, formats, age in sides:
            for name in formats:
                found[variety, name] = max(age, found.get((variety, name), 0))
    return found


def _hardly(counted: float, tried: float, share: float, alike: float) -> bool:
    """Whether chance alone could hardly explain so few successes at the scenario's share."""
    return 1 - chance_of_enough(round(tried), round(counted) + 1, share, alike) < HARDLY


def _take_of(scenario: Scenario, row: Progress) -> tuple[float, float]:
    """The expected take of a row of joins, and the correlation of takes within a graft day."""
    product = next(product for product in scenario.products if product.product == row.product)
    method = next(method for method in scenario.methods if method.method == product.method)
    effects = {(e.method, e.rootstock_age, e.scion_age): e for e in scenario.age_effects}
    ages = (row.day - given(row.rootstock_sow_day)).days, (row.day - given(row.sow_day)).days
    return take_at(method, effects, *ages), method.between_days


def _standing(scenario: Scenario) -> Iterator[Remark]:
    """Remarks on trays counted in a germination room that do not agree with the recorded sowings."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    rooms = {zone.zone for zone in scenario.zones if zone.use is ZoneUse.GERMINATION}
    days = {(row.lot, row.zone): row.days for row in scenario.germination_zones}
    stays = []
    for sowing in scenario.progress:
        if sowing.what is Happened.SOWN and lots[given(sowing.lot)].germination_days:
            lot, sown = lots[given(sowing.lot)], calendar.day(sowing.day)
            zone = sowing.in_zones or lot.germination_zone
            further = days.get((lot.lot, zone))
            out = calendar.next_working(sown + (lot.germination_days if further is None else further))
            stays.append((zone, sown, calendar.days if out is None else out, sowing.number))
    stood = []
    for trays in scenario.trays_on_hand:
        lot, sown = lots[trays.lot], calendar.day(trays.sow_day)
        bench = given(calendar.next_working(sown + lot.germination_days))
        stood.append((lot.germination_zone, sown, bench, trays.trays))
    for row, told in _told(scenario):
        if told.what is not Happened.STANDING or told.zone not in rooms:
            continue
        day = calendar.day(told.day)
        least = sum(n for zone, sown, bench, n in stays if zone == told.zone and sown < day < bench)
        kept_or_not = [*stays, *stood]  # trays on hand may have been cleared
        most = sum(n for zone, sown, bench, n in kept_or_not if zone == told.zone and sown <= day <= bench)
        if not least <= told.number <= most:
            there = f"{least:g}" if least == most else f"{least:g} to {most:g}"
            says = f"trays in '{shown(told.zone)}'; by the recorded sowings there are {there}"
            yield row.remark("number", says)


_PARTS = (
    _nursery,
    _orders,
    _customers,
    _products,
    _spread,
    _lots,
    _methods,
    _stage_zones,
    _ages,
    _climate,
    _labour,
    _zones,
    _crews,
    _days,
    _offers,
    _counts,
    _on_hand,
    _standing,
    _names,
    _salvage,
    *COSTLY,
)
