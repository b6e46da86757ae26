"""Remarks on a valid scenario: figures outside published ranges, and rows that look forgotten.

A remark never stops a command. ``published_ranges.csv`` has the ranges with their sources. Its column
``read`` says how each figure was found: R read in the source, A read in the paper's abstract, C computed from
such figures.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TypeVar

from model.network.past import given
from model.rates.overseeding import chance_of_enough
from model.rates.yields import stand, take_at
from model.scenario.about_cells import Remark
from model.scenario.calendar import Calendar
from model.scenario.choices import Happened, MarginPolicy, MethodKind, Part, SowingPolicy, ZoneUse
from model.scenario.entities import Progress, Scenario
from scenarios.cells.faults import shown
from scenarios.rules.look_alikes import look_alikes


def in_words(remark: Remark) -> str:
    """A remark in one line: its place, its value and its sentence."""
    value = f" {shown(remark.value)}" if remark.value else ""
    place = ", ".join(part for part in (remark.table, shown(remark.name), remark.column) if part)
    return f"{place}{value}: {remark.sentence}"


@dataclass(frozen=True, slots=True)
class _Place:
    """A row of a table, and its name in words."""

    table: str
    row: int
    name: str

    def remark(self, column: str, value: float | str | None, message: str, source: str = "") -> Remark:
        """A remark on one of the row's cells."""
        told = "" if value is None else value if isinstance(value, str) else f"{value:g}"
        return Remark(self.table, self.row, self.name, column, told, message, source)

    def outside(
        self, range_: Published | None, column: str, value: float | None, to: float | None = None
    ) -> Iterator[Remark]:
        """The remark on a figure (or a run of figures from ``value`` to ``to``) outside a published range."""
        if range_ is None or value is None or range_.holds(value, value if to is None else to):
            return
        told = f"{value:g}" if to is None else f"{value:g} to {to:g}"
        crop = f" for {range_.crop}" if range_.crop else ""
        yield self.remark(column, told, f"published{crop}: {range_.range}", range_.cited)


Record = TypeVar("Record")


def _rows(table: str, records: tuple[Record, ...], name: str) -> Iterator[tuple[_Place, Record]]:
    """The records of a table with their places; ``name`` is the column that names a row."""
    for row, record in enumerate(records, 2):
        yield _Place(table, row, str(getattr(record, name))), record


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
        return tuple(
            Published(
                row["figure"],
                row["crop"],
                row["word"],
                float(row["low"]) if row["low"] else None,
                float(row["high"]) if row["high"] else None,
                row["unit"],
                row["read"],
                row["source"],
            )
            for row in csv.DictReader(file)
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
    place = _Place("nursery", 2, nursery.name)
    if nursery.interest_rate > 0.5:
        says = f"is {nursery.interest_rate:.0%} a year"
        yield place.remark("interest_rate", nursery.interest_rate, says)
    dearest = max((offer.price for offer in scenario.buy_in_offers), default=0.0)
    if nursery.shortfall_penalty < dearest:
        says = f"is below the price of an offer ({dearest:g}): being short pays"
        yield place.remark("shortfall_penalty", nursery.shortfall_penalty, says)


def _orders(scenario: Scenario) -> Iterator[Remark]:
    nursery = scenario.nursery
    kinds = _kinds(scenario)
    offered: dict[str, float] = {}
    for offer in scenario.buy_in_offers:
        offered[offer.product] = min(offer.price, offered.get(offer.product, offer.price))
    for place, order in _rows("orders", scenario.orders, "order"):
        penalty, price = order.shortfall_penalty, offered.get(order.product)
        if penalty is not None and price is not None and penalty < price:
            says = f"is below the price of buying in ({price:g}): being short pays"
            yield place.remark("shortfall_penalty", penalty, says)
        fixed = nursery.margin_policy is MarginPolicy.FIXED and nursery.sowing_policy is SowingPolicy.FIXED
        if order.service_level is not None and (fixed or nursery.margin_policy is MarginPolicy.PRICED):
            says = f"has no effect: the nursery's margin_policy is {nursery.margin_policy.value}"
            yield place.remark("service_level", order.service_level, says)
        if nursery.currency == "USD":
            yield from place.outside(_price(kinds[order.product]), "price", order.price)


def _kinds(scenario: Scenario) -> dict[str, MethodKind]:
    """The kind of method of each product."""
    kinds = {method.method: method.kind for method in scenario.methods}
    return {product.product: kinds[product.method] for product in scenario.products}


def _price(kind: MethodKind) -> Published | None:
    return published("own_root_cost" if kind is MethodKind.OWN_ROOT else "grafted_cost")


def _products(scenario: Scenario) -> Iterator[Remark]:
    ordered = {order.product for order in scenario.orders}
    for place, product in _rows("products", scenario.products, "product"):
        if product.product not in ordered and not (product.salvage_price and product.salvage_most):
            yield place.remark("product", None, "has no orders")


def _lots(scenario: Scenario) -> Iterator[Remark]:
    crops = {product.scion: product.crop for product in reversed(scenario.products)}
    used = set(crops) | {product.rootstock for product in scenario.products}
    packed = {pack.item for pack in scenario.packs}
    for place, lot in _rows("seed_lots", scenario.seed_lots, "lot"):
        if lot.variety not in used:
            yield place.remark("variety", lot.variety, "is in no product: the lot is not used")
        elif not lot.stock and lot.lot not in packed:
            yield place.remark("stock", lot.stock, "and no pack to buy: the lot cannot be sown")
        crop = lot.crop or crops.get(lot.variety, "")
        yield from place.outside(published("germination", crop), "germination", lot.germination)
        yield from place.outside(
            published("germination_days", crop), "germination_days", lot.germination_days
        )


def _methods(scenario: Scenario) -> Iterator[Remark]:
    crops: dict[str, set[str]] = defaultdict(set)
    for product in scenario.products:
        crops[product.method].add(product.crop)
    healing: dict[str, int] = defaultdict(int)
    for stage in scenario.stages:
        if stage.part is Part.HEALING:
            healing[stage.method] += stage.days
    for place, method in _rows("methods", scenario.methods, "method"):
        if method.method not in crops:
            yield place.remark("method", None, "is in no product")
        yield from place.outside(published("holding_days"), "holding_limit_days", method.holding_limit_days)
        if method.kind is MethodKind.OWN_ROOT:
            continue
        yield from place.outside(published("match"), "match", method.match)
        for crop in sorted(crops[method.method]):
            yield from place.outside(published("take", crop, method.method), "take", method.take)
            window = published("scion_age", crop)
            yield from place.outside(window, "scion_age_min", method.scion_age_min, method.scion_age_max)
        if method.method in healing:
            for remark in place.outside(published("chamber_days"), "method", healing[method.method]):
                yield replace(remark, message=f"days of healing; {remark.message}")


def _ages(scenario: Scenario) -> Iterator[Remark]:
    crops: dict[str, set[str]] = defaultdict(set)
    for product in scenario.products:
        crops[product.method].add(product.crop)
    for place, effect in _rows("age_effects", scenario.age_effects, "method"):
        yield from place.outside(published("match"), "match", effect.match)
        for crop in sorted(crops[effect.method]):
            yield from place.outside(published("take", crop, effect.method), "take", effect.take)


def _labour(scenario: Scenario) -> Iterator[Remark]:
    for place, standard in _rows("labour_standards", scenario.labour_standards, "task"):
        range_ = published(f"{standard.task.value}_seconds")
        yield from place.outside(range_, "seconds", standard.seconds)
    wanted = {standard.skill for standard in scenario.labour_standards}
    for place, crew in _rows("crews", scenario.crews, "crew"):
        for skill in crew.skills:
            if skill not in wanted:
                yield place.remark("skills", skill, "is in no labour standard: no work needs it")


def _zones(scenario: Scenario) -> Iterator[Remark]:
    used = {stage.zone for stage in scenario.stages} | {method.holding_zone for method in scenario.methods}
    used |= {zone for lot in scenario.seed_lots for zone in (lot.germination_zone, lot.bench_zone)}
    for place, zone in _rows("zones", scenario.zones, "zone"):
        if zone.zone not in used:
            yield place.remark("zone", None, "is not used")
        if zone.use is ZoneUse.HOLDING and scenario.nursery.currency == "USD" and zone.cost_per_slot_day:
            range_ = published("holding_slot_day")
            yield from place.outside(range_, "cost_per_slot_day", zone.cost_per_slot_day)
    for place, module in _rows("modules", scenario.modules, "module"):
        if module.salvage_value > module.first_cost:
            says = f"is above first_cost ({module.first_cost:g})"
            yield place.remark("salvage_value", module.salvage_value, says)


def _crews(scenario: Scenario) -> Iterator[Remark]:
    for place, crew in _rows("crews", scenario.crews, "crew"):
        pays = [("pay_per_hour", crew.pay_per_hour)]
        if crew.temp_heads_most:
            pays.append(("temp_pay_per_hour", crew.temp_pay_per_hour))
        for column, pay in pays:
            if pay == 0:
                yield place.remark(column, pay, "makes these hours free")
            elif scenario.nursery.currency == "USD":
                yield from place.outside(published("pay"), column, pay)
        overtime = crew.overtime_pay_per_hour
        if overtime is not None and overtime < crew.pay_per_hour:
            says = f"is below the regular pay ({crew.pay_per_hour:g})"
            yield place.remark("overtime_pay_per_hour", overtime, says)


def _days(scenario: Scenario) -> Iterator[Remark]:
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    for place, off in _rows("days_off", scenario.days_off, "day"):
        if not first <= off.day <= last:
            yield place.remark("day", str(off.day), "lies outside the horizon")
    changes = [(place, zone.from_day) for place, zone in _rows("zone_days", scenario.zone_days, "zone")]
    changes += [(place, crew.from_day) for place, crew in _rows("crew_days", scenario.crew_days, "crew")]
    for place, day in changes:
        if day > last:
            yield place.remark("from_day", str(day), "lies after the horizon")


def _offers(scenario: Scenario) -> Iterator[Remark]:
    ordered = {order.product for order in scenario.orders}
    kinds = _kinds(scenario)
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    for place, offer in _rows("buy_in_offers", scenario.buy_in_offers, "offer"):
        if offer.product not in ordered:
            yield place.remark("product", offer.product, "has no orders")
        if offer.from_day is not None and offer.from_day > last:
            yield place.remark("from_day", str(offer.from_day), "lies after the horizon")
        if offer.to_day is not None and offer.to_day < first:
            yield place.remark("to_day", str(offer.to_day), "lies before the horizon")
        if scenario.nursery.currency == "USD":
            yield from place.outside(_price(kinds[offer.product]), "price", offer.price)


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
    for place, product in _rows("products", scenario.products, "product"):
        salvage = product.salvage_price
        if not salvage or not product.salvage_most:
            continue
        penalty = penalties.get(product.product, nursery.shortfall_penalty)
        if salvage > penalty:
            says = f"is above the penalty of a plant short ({penalty:g}): surplus pays better than orders"
            yield place.remark("salvage_price", salvage, says)
        if nursery.plant_cost is not None and salvage > nursery.plant_cost:
            says = f"is above plant_cost ({nursery.plant_cost:g}): growing plants without an order pays"
            yield place.remark("salvage_price", salvage, says)


HARDLY = 0.0005
"""Chance of so low a count at which it is remarked on: the lower end of a two-sided interval of 99.9 %."""


def _told(scenario: Scenario) -> Iterator[tuple[_Place, Progress]]:
    """The rows of progress with their places."""
    for number, row in enumerate(scenario.progress, 2):
        yield _Place("progress", number, f"{row.what.value} on {row.day}"), row


def _counts(scenario: Scenario) -> Iterator[Remark]:
    """Remarks on takes and stands counted far below those of the scenario."""
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    for place, row in _told(scenario):
        if row.counted is None or row.number <= 0:
            continue
        if row.what is Happened.SOWN:
            lot, sown = lots[given(row.lot)], row.number * cells[given(row.format)]
            if _hardly(row.counted, sown, stand(lot), lot.germination_correlation):
                says = (
                    f"seedlings of lot '{shown(lot.lot)}' where about {stand(lot) * sown:,.0f} were expected"
                )
                yield place.remark("counted", row.counted, f"{says}: look into it before sowing more")
        elif row.what is Happened.GRAFTED and row.rootstock_lot is not None:
            take, alike = _take_of(scenario, row)
            if _hardly(row.counted, row.number, take, alike):
                says = f"joins healed where about {take * row.number:,.0f} were expected"
                yield place.remark("counted", row.counted, f"{says}: look into it before grafting more")


def _hardly(counted: float, tried: float, share: float, alike: float) -> bool:
    """Whether chance alone could hardly explain so few successes at the scenario's share."""
    return 1 - chance_of_enough(round(tried), round(counted) + 1, share, alike) < HARDLY


def _take_of(scenario: Scenario, row: Progress) -> tuple[float, float]:
    """The expected take of a row of joins, and the correlation of takes within a graft day."""
    product = next(product for product in scenario.products if product.product == row.product)
    method = next(method for method in scenario.methods if method.method == product.method)
    effects = {(e.method, e.rootstock_age, e.scion_age): e for e in scenario.age_effects}
    ages = (row.day - given(row.rootstock_sow_day)).days, (row.day - given(row.sow_day)).days
    return take_at(method, effects, *ages), method.take_correlation


def _standing(scenario: Scenario) -> Iterator[Remark]:
    """Remarks on trays counted in a germination room that do not agree with the recorded sowings."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    rooms = {zone.zone for zone in scenario.zones if zone.use is ZoneUse.GERMINATION}
    stays = []
    for row in scenario.progress:
        if row.what is Happened.SOWN and lots[given(row.lot)].germination_days:
            lot, sown = lots[given(row.lot)], calendar.day(row.day)
            bench = given(calendar.next_working(sown + lot.germination_days))
            stays.append((lot.germination_zone, sown, bench, row.number))
    for place, row in _told(scenario):
        if row.what is not Happened.STANDING or row.zone not in rooms:
            continue
        day = calendar.day(row.day)
        least = sum(n for zone, sown, bench, n in stays if zone == row.zone and sown < day < bench)
        most = sum(n for zone, sown, bench, n in stays if zone == row.zone and sown <= day <= bench)
        if not least <= row.number <= most:
            told = f"{least:g}" if least == most else f"{least:g} to {most:g}"
            says = f"trays in '{shown(row.zone)}'; by the recorded sowings there are {told}"
            yield place.remark("number", row.number, says)


_PARTS = (
    _nursery,
    _orders,
    _products,
    _lots,
    _methods,
    _ages,
    _labour,
    _zones,
    _crews,
    _days,
    _offers,
    _counts,
    _standing,
    _names,
    _salvage,
)
