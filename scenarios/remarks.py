"""Remarks on a valid scenario: figures outside published ranges, and things that look forgotten.

A remark never stops anything. The ranges stand in ``published_ranges.csv`` with their sources; ``read``
there says how each was known: R read in the source, A in the paper's abstract, C computed from such figures.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from model.entities import (
    Kind,
    MarginPolicy,
    Method,
    Part,
    Product,
    Scenario,
    Task,
    ZoneUse,
)
from scenarios.faults import shown


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to look at: which row and column, its value, what is remarkable.

    ``range`` and ``source`` are blank where no published figure is meant.
    """

    table: str
    name: str
    column: str
    value: str
    says: str
    range: str = ""
    source: str = ""

    def __str__(self) -> str:
        published = f" {self.range} ({self.source})" if self.range else ""
        value = f" {shown(self.value)}" if self.value else ""
        return f"{self.table}, {shown(self.name)}, {self.column}{value}: {self.says}{published}"


@dataclass(frozen=True, slots=True)
class Published:
    """A published range; crop and word (of the method's name) are blank where it holds for all."""

    figure: str
    crop: str
    word: str
    low: float | None
    high: float | None
    unit: str
    read: str
    source: str

    @property
    def range(self) -> str:
        """The range in words."""
        low = "" if self.low is None else f"{self.low:g}"
        high = "" if self.high is None else f"{self.high:g}"
        unit = "" if self.unit == "share" else f" {self.unit}"
        if not low or not high or low == high:
            bound = "" if low == high else "at least " if low else "at most "
            return f"{bound}{low or high}{unit}"
        return f"{low} to {high}{unit}"

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
    """All remarks on a scenario, in the order of its tables."""
    return [
        remark
        for part in (_nursery, _orders, _products, _lots, _methods, _labour, _zones, _crews, _days, _offers)
        for remark in part(scenario)
    ]


def _outside(
    range_: Published | None, table: str, name: str, column: str, value: float | None, to: float | None = None
) -> Iterator[Remark]:
    """The remark on a figure (or a run of figures from ``value`` to ``to``) outside a published range."""
    if range_ is None or value is None or range_.holds(value, value if to is None else to):
        return
    told = f"{value:g}" if to is None else f"{value:g} to {to:g}"
    yield Remark(table, name, column, told, "published is", range_.range, range_.source)


def _nursery(scenario: Scenario) -> Iterator[Remark]:
    nursery = scenario.nursery
    if nursery.interest_rate > 0.5:
        yield Remark(
            "nursery",
            nursery.name,
            "interest_rate",
            f"{nursery.interest_rate:g}",
            f"is {nursery.interest_rate:.0%} a year",
        )
    for offer in scenario.buy_in_offers:
        if nursery.shortfall_penalty < offer.price:
            yield Remark(
                "nursery",
                nursery.name,
                "shortfall_penalty",
                f"{nursery.shortfall_penalty:g}",
                f"is below the price of offer {shown(offer.offer)} ({offer.price:g}): being short pays",
            )


def _orders(scenario: Scenario) -> Iterator[Remark]:
    nursery = scenario.nursery
    kinds = _kinds(scenario)
    offered: dict[str, float] = {}
    for offer in scenario.buy_in_offers:
        offered[offer.product] = min(offer.price, offered.get(offer.product, offer.price))
    for order in scenario.orders:
        penalty = order.shortfall_penalty
        price = offered.get(order.product)
        if penalty is not None and price is not None and penalty < price:
            says = f"is below the price of buying in ({price:g}): being short pays"
            yield Remark("orders", order.order, "shortfall_penalty", f"{penalty:g}", says)
        if order.service_level is not None and nursery.margin_policy is MarginPolicy.FIXED:
            says = "counts for nothing: the nursery's margin_policy is fixed"
            yield Remark("orders", order.order, "service_level", f"{order.service_level:g}", says)
        if nursery.currency == "USD":
            yield from _outside(_price(kinds.get(order.product)), "orders", order.order, "price", order.price)


def _kinds(scenario: Scenario) -> dict[str, Kind]:
    """The kind of method of each product."""
    kinds = {method.method: method.kind for method in scenario.methods}
    return {product.product: kinds[product.method] for product in scenario.products}


def _price(kind: Kind | None) -> Published | None:
    return published("own_root_price" if kind is Kind.OWN_ROOT else "grafted_price")


def _products(scenario: Scenario) -> Iterator[Remark]:
    ordered = {order.product for order in scenario.orders}
    for product in scenario.products:
        if product.product not in ordered and not (product.salvage_price and product.salvage_most):
            yield Remark("products", product.product, "product", "", "has no orders")


def _lots(scenario: Scenario) -> Iterator[Remark]:
    crops = {product.scion: product.crop for product in reversed(scenario.products)}
    used = set(crops) | {product.rootstock for product in scenario.products}
    packed = {pack.item for pack in scenario.packs}
    for lot in scenario.seed_lots:
        if lot.variety not in used:
            yield Remark(
                "seed_lots", lot.lot, "variety", lot.variety, "is in no product; the lot is not used"
            )
        elif not lot.stock and lot.lot not in packed:
            yield Remark("seed_lots", lot.lot, "stock", "0", "and no pack can be bought: nothing can be sown")
        crop = lot.crop or crops.get(lot.variety, "")
        yield from _outside(
            published("germination", crop), "seed_lots", lot.lot, "germination", lot.germination
        )
        yield from _outside(
            published("germination_days", crop),
            "seed_lots",
            lot.lot,
            "germination_days",
            lot.germination_days,
        )


def _methods(scenario: Scenario) -> Iterator[Remark]:
    products: dict[str, list[Product]] = defaultdict(list)
    for product in scenario.products:
        products[product.method].append(product)
    healing: dict[str, int] = defaultdict(int)
    for stage in scenario.stages:
        if stage.part is Part.HEALING:
            healing[stage.method] += stage.days
    for method in scenario.methods:
        name = method.method
        if not products[name]:
            yield Remark("methods", name, "method", "", "is in no product")
        yield from _outside(
            published("holding_days"), "methods", name, "holding_limit_days", method.holding_limit_days
        )
        if method.kind is Kind.OWN_ROOT:
            continue
        yield from _outside(published("match"), "methods", name, "match", method.match)
        for crop in sorted({product.crop for product in products[name]}):
            yield from _crop_figures(scenario, method, crop)
        if name in healing:
            yield from _outside(published("chamber_days"), "methods", name, "days of healing", healing[name])


def _crop_figures(scenario: Scenario, method: Method, crop: str) -> Iterator[Remark]:
    """Remarks on take and window of a method for a crop."""
    take = published("take", crop, method.method)
    yield from _outside(take, "methods", method.method, f"take ({shown(crop)})", method.take)
    for effect in scenario.age_effects:
        if effect.method == method.method:
            ages = f"{method.method} at ages {effect.rootstock_age} and {effect.scion_age}"
            yield from _outside(take, "age_effects", ages, f"take ({shown(crop)})", effect.take)
    yield from _outside(
        published("scion_age", crop),
        "methods",
        method.method,
        f"scion ages ({shown(crop)})",
        method.scion_age_min,
        method.scion_age_max,
    )


def _labour(scenario: Scenario) -> Iterator[Remark]:
    for standard in scenario.labour_standards:
        if standard.task in (Task.SOW, Task.GRAFT, Task.STICK):
            name = " ".join(filter(None, (standard.task.value, standard.method, standard.format)))
            range_ = published(f"{standard.task.value}_seconds")
            yield from _outside(range_, "labour_standards", name, "seconds", standard.seconds)
    wanted = {standard.skill for standard in scenario.labour_standards}
    for crew in scenario.crews:
        for skill in crew.skills:
            if skill not in wanted:
                yield Remark("crews", crew.crew, "skills", skill, "is wanted by no labour standard")


def _zones(scenario: Scenario) -> Iterator[Remark]:
    holding = {zone.zone for zone in scenario.zones if zone.use is ZoneUse.HOLDING}
    used = {stage.zone for stage in scenario.stages} | {method.holding_zone for method in scenario.methods}
    used |= {zone for lot in scenario.seed_lots for zone in (lot.germination_zone, lot.bench_zone)}
    for zone in scenario.zones:
        if zone.zone not in used:
            yield Remark("zones", zone.zone, "zone", "", "is not used")
        if zone.zone in holding and scenario.nursery.currency == "USD" and zone.cost_per_slot_day:
            range_ = published("slot_day_holding")
            yield from _outside(range_, "zones", zone.zone, "cost_per_slot_day", zone.cost_per_slot_day)
    for module in scenario.modules:
        if module.salvage_value > module.first_cost:
            says = f"is above first_cost ({module.first_cost:g})"
            yield Remark("modules", module.module, "salvage_value", f"{module.salvage_value:g}", says)


def _crews(scenario: Scenario) -> Iterator[Remark]:
    for crew in scenario.crews:
        pays = [("pay_per_hour", crew.pay_per_hour)]
        if crew.temp_heads_most:
            pays.append(("temp_pay_per_hour", crew.temp_pay_per_hour))
        for column, pay in pays:
            if pay == 0:
                yield Remark("crews", crew.crew, column, "0", "makes these hours free")
            elif scenario.nursery.currency == "USD":
                yield from _outside(published("pay"), "crews", crew.crew, column, pay)
        overtime = crew.overtime_pay_per_hour
        if overtime is not None and overtime < crew.pay_per_hour:
            says = f"is below the regular pay ({crew.pay_per_hour:g})"
            yield Remark("crews", crew.crew, "overtime_pay_per_hour", f"{overtime:g}", says)


def _days(scenario: Scenario) -> Iterator[Remark]:
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    for off in scenario.days_off:
        if not first <= off.day <= last:
            yield Remark("days_off", str(off.day), "day", "", "lies outside the horizon")
    for zone in scenario.zone_days:
        if zone.from_day > last:
            yield Remark("zone_days", zone.zone, "from_day", str(zone.from_day), "lies after the horizon")
    for crew in scenario.crew_days:
        if crew.from_day > last:
            yield Remark("crew_days", crew.crew, "from_day", str(crew.from_day), "lies after the horizon")


def _offers(scenario: Scenario) -> Iterator[Remark]:
    ordered = {order.product for order in scenario.orders}
    kinds = _kinds(scenario)
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    for offer in scenario.buy_in_offers:
        if offer.product not in ordered:
            yield Remark("buy_in_offers", offer.offer, "product", offer.product, "has no orders")
        if (offer.from_day or first) > last or (offer.to_day or last) < first:
            yield Remark("buy_in_offers", offer.offer, "from_day", "", "the offer lies outside the horizon")
        if scenario.nursery.currency == "USD":
            range_ = _price(kinds.get(offer.product))
            yield from _outside(range_, "buy_in_offers", offer.offer, "price", offer.price)
