"""Remarks on what is silent and costs most: seed that comes too late, odd prices, work without hours.

How far a figure may lie from its like before it is remarked on is common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from math import inf
from statistics import median

from model.scenario.about_cells import Remark
from model.scenario.capacity import CrewLimits
from model.scenario.choices import Happened, MethodKind, Part, Source, Task
from model.scenario.entities import Order, Product, Scenario
from model.scenario.records.methods import Method
from model.scenario.tables import TABLES, records_of
from reports.book.words import counted
from scenarios.cells.draft import DraftRow, draft_of
from scenarios.cells.faults import shown
from scenarios.rules.timing import NEVER, Ways, calendar_of, last_ready

FAR = 10
"""A price so many times above or below the median of its like is remarked on."""

SEED_FAR, SEED_LEAST = 20, 1000
"""A seed is dear or cheap where it costs so many times more or less than other seeds, or than a plant."""

FEW = 3
"""Prices of others from which a median is taken."""

NEAR_DAYS = 3
"""Days beyond the holding limit that days off may put between orders of one graft day."""

LIKELY_LEFT = 2
"""Rows of a table like the demo's from which on they are remarked on: one alike may be chance."""


def seed_in_time(scenario: Scenario) -> Iterator[Remark]:
    """Orders due before plants from seed that must be ordered first can be ready, once for each product."""
    draft = draft_of(scenario)
    calendar = calendar_of(draft)
    if calendar is None:
        return
    today = calendar.day(scenario.nursery.today or scenario.nursery.first_day)
    sown = {row.lot for row in scenario.progress if row.what is Happened.SOWN}
    none = [lot for lot in scenario.seed_lots if not lot.stock and lot.lot not in sown]
    late = {lot.lot: lot for lot in none if lot.lead_days}
    if not late:
        return
    ways = Ways(draft, calendar, {name: today + lot.lead_days for name, lot in late.items()})
    others = draft.grouped("products", "sold_as")
    found: dict[str, list[tuple[int, Order]]] = defaultdict(list)
    ready: dict[str, int] = {}
    for (row, product), order in zip(
        draft.targets(draft.rows("orders"), "product"), scenario.orders, strict=True
    ):
        made: list[DraftRow] = [product, *others[order.product]]
        ready[order.product] = min({ways.earliest(way) or 0 for way in made} - {NEVER}, default=NEVER)
        due, own = calendar.day(order.due_day), order.late_days_most
        last = last_ready(calendar, due, scenario.nursery.late_days_most if own is None else own)
        in_time = ready[order.product] != NEVER and ready[order.product] <= last
        if not in_time and not ways.bought(product, due):
            found[order.product].append((row.number, order))
    for product_, orders in found.items():
        varieties = {v for p in scenario.products if p.product == product_ for v in (p.scion, p.rootstock)}
        lots = [lot for lot in late.values() if lot.variety in varieties]
        number, order = min(orders, key=lambda one: one[1].due_day)
        seed = " and ".join(f"'{shown(lot.lot)}' takes {lot.lead_days} days to come" for lot in lots)
        first = ready[product_]
        says = f"is too early: seed of {seed}, and none is in stock"
        says += "" if first == NEVER else f"; the first plants are ready on {calendar.date(first)}"
        says += f" (and {counted(len(orders) - 1, 'more order')} of the product)" if orders[1:] else ""
        yield Remark("orders", number, order.order, "due_day", str(order.due_day), says)


def pack_prices(scenario: Scenario) -> Iterator[Remark]:
    """Packs of seed whose price looks like that of one seed, or the other way round."""
    lots = {lot.lot for lot in scenario.seed_lots}
    each: dict[str, list[float]] = defaultdict(list)
    for pack in scenario.packs:
        if pack.price:
            each[pack.item].append(pack.price / pack.size)
    plants = [order.price for order in scenario.orders if order.price]
    for number, pack in enumerate(scenario.packs, 2):
        if not pack.price:
            continue
        one = pack.price / pack.size
        same = [price for price in each[pack.item] if price != one]
        seeds = [price for item, prices in each.items() if item in lots - {pack.item} for price in prices]
        likes = [(same, FAR, "the item's other packs")] if same else []
        if pack.item in lots:
            likes += [(seeds, SEED_FAR, "other seed")] if len(seeds) >= FEW else []
            likes += [(plants, SEED_LEAST, "a plant sold")] if plants else []
        for prices, far, what in likes:
            usual = median(prices)
            if one * far < usual or (one > usual * far and what != "a plant sold"):
                way = f"{usual / one:,.0f} times less" if one < usual else f"{one / usual:,.0f} times more"
                says = (
                    f"for {pack.size:,g} makes one cost {one:.2g}, {way} than {what} ({_money(usual)}): "
                    "the price is that of the whole pack"
                )
                yield Remark("packs", number, pack.item, "price", f"{pack.price:g}", says)
                break


def _money(price: float) -> str:
    return f"{price:,.2f}" if price >= 1 else f"{price:.2g}"


def odd_prices(scenario: Scenario) -> Iterator[Remark]:
    """Prices and pay many times above or below those of their like."""
    sold = [(n, o.order, o.product, o.price) for n, o in enumerate(scenario.orders, 2) if o.price]
    by_product: dict[str, list[float]] = defaultdict(list)
    for _, _, product, price in sold:
        by_product[product].append(price)
    crop_of = {product.product: product.crop for product in scenario.products}
    by_crop: dict[str, list[float]] = defaultdict(list)
    for product, prices in by_product.items():
        by_crop[crop_of[product]] += prices
    for number, name, product, price in sold:
        like, what = by_product[product], "the product's other orders"
        if len(like) <= FEW:
            like, what = by_crop[crop_of[product]], "the crop's other orders"
        yield from _odd("orders", number, name, "price", price, like, what)
    what = "the product's orders"
    for number, offer in enumerate(scenario.buy_in_offers, 2):
        if offer.price:
            like = [offer.price, *by_product[offer.product]]
            yield from _odd("buy_in_offers", number, offer.offer, "price", offer.price, like, what)
    pay = [crew.pay_per_hour for crew in scenario.crews if crew.pay_per_hour]
    for number, crew in enumerate(scenario.crews, 2):
        if crew.pay_per_hour:
            yield from _odd("crews", number, crew.crew, "pay_per_hour", crew.pay_per_hour, pay, "other crews")


def _odd(
    table: str, row: int, name: str, column: str, price: float, like: Sequence[float], what: str
) -> Iterator[Remark]:
    """The remark on a price far from the median of the others; ``like``: all of them, this one included."""
    others = list(like)
    others.remove(price)
    if len(others) < FEW:
        return
    usual = median(others)
    if usual * FAR < price or price * FAR < usual:
        times = f"{price / usual:,.0f} times" if price > usual else f"one part in {usual / price:,.0f} of"
        says = f"is {times} the median of {what} ({usual:g}): check where the decimal point stands"
        yield Remark(table, row, name, column, f"{price:g}", says)


def tasks_without_hours(scenario: Scenario) -> Iterator[Remark]:
    """Work that the nursery does and that takes no hour, as no labour standard is there for it."""
    if not scenario.crews:
        return
    made = {product.method for product in scenario.products}
    methods = [method for method in scenario.methods if method.method in made]
    lacking = []
    for task in Task:
        of_task = [row for row in scenario.labour_standards if row.task is task]
        doing = [method for method in methods if _does(scenario, method, task)]
        without = [m.method for m in doing if not any(row.method in (None, m.method) for row in of_task)]
        if without:
            some = len(without) < len(doing)
            lacking.append(f"{task.value} ({', '.join(map(shown, without))})" if some else task.value)
    if lacking:
        have = "has" if len(lacking) == 1 else "have"
        says = f"{', '.join(lacking)} {have} no standard, so the work takes no hour and costs nothing"
        yield Remark("labour_standards", None, "tasks", "", "", says)


def days_without_care(scenario: Scenario) -> Iterator[Remark]:
    """Days on which nobody has hours to look after plants, once for each skill that this takes."""
    calendar = calendar_of(draft_of(scenario))
    if calendar is None:
        return
    today = calendar.day(scenario.nursery.today or scenario.nursery.first_day)
    tended = [row for row in scenario.labour_standards if row.task in (Task.TEND, Task.CARE) and row.seconds]
    for skill in sorted({row.skill for row in tended}):
        crews = [CrewLimits(scenario, crew, calendar) for crew in scenario.crews if skill in crew.skills]
        without = [t for t in range(max(today, 0), calendar.days) if not any(map(_at_work(t), crews))]
        if crews and without:
            first = calendar.date(without[0])
            days = f"{len(without)} days, the first {first}" if without[1:] else str(first)
            says = (
                f"nobody with the skill '{shown(skill)}' has hours on {days}: no tray that they look after "
                "can stand in the nursery then"
            )
            yield Remark("crews", None, "", "day_off_hours_per_head", "", says)


def _at_work(day: int) -> Callable[[CrewLimits], bool]:
    """Whether a crew has hours on the day, be they of hands hired for it."""

    def has_hours(limits: CrewLimits) -> bool:
        hired = limits.crew.temp_heads_most * limits.hours[day]
        return limits.regular[day] + limits.overtime[day] + hired > 0

    return has_hours


def _does(scenario: Scenario, method: Method, task: Task) -> bool:
    """Whether plants by the method need the task."""
    if task is Task.MOVE:
        return any(lot.germination_days for lot in scenario.seed_lots)
    if task is Task.STICK:
        return method.kind is MethodKind.ROOT_CUT
    if task is Task.CONSOLIDATE:
        return method.consolidate
    if task is Task.CARE:
        return any(stage.method == method.method and stage.part is Part.HEALING for stage in scenario.stages)
    return task is not Task.GRAFT or method.kind is not MethodKind.OWN_ROOT


def no_variation(scenario: Scenario) -> Iterator[Remark]:
    """Joins that all heal, and batches said to be all alike."""
    for number, method in enumerate(scenario.methods, 2):
        if method.kind is MethodKind.OWN_ROOT:
            continue
        if method.take == 1:
            says = "so every join heals, and no plant is made more than ordered: write the share that heals"
            yield Remark("methods", number, method.method, "take", "1", says)
        elif method.take_correlation == 0:
            says = "so no graft day does better or worse than another: margins and risk come out too low"
            yield Remark("methods", number, method.method, "take_correlation", "0", says)


def batches_too_large(scenario: Scenario) -> Iterator[Remark]:
    """Least batches that no day can hold, and orders too small for one with all that can join them."""
    sizes = {row.method: row.least_batch for row in scenario.methods if row.least_batch is not None}
    for number, method in enumerate(scenario.methods, 2):
        most = _most_healing(scenario, method) if method.method in sizes else inf
        if most < sizes.get(method.method, 0):
            says = (
                f"is more than the healing zones hold ({most:,.0f} joins): by this method nothing is joined"
            )
            at = str(sizes[method.method])
            yield Remark("methods", number, method.method, "least_batch", at, says)
    made: dict[str, list[Product]] = defaultdict(list)
    for product in scenario.products:
        made[product.ordered_as].append(product)
    for number, order in enumerate(scenario.orders, 2):
        ways = made[order.product]
        if not ways or any(way.method not in sizes or way.source is Source.BUY for way in ways):
            continue
        lacking = {way.method: sizes[way.method] - _joins_with(scenario, order, way) for way in ways}
        name, joins = min(lacking.items(), key=lambda item: item[1])
        if joins > 0:
            says = (
                f"is, with the orders due near it, about {joins:,.0f} joins below the least batch of "
                f"{name} ({sizes[name]:,}): it is left short, or that many more are joined for nobody"
            )
            yield Remark("orders", number, order.order, "quantity", str(order.quantity), says)


def _most_healing(scenario: Scenario, method: Method) -> float:
    """Most joins that the zones of a method's healing hold; ∞ where a zone can be chosen, or grows."""
    if any(row.method == method.method for row in scenario.stage_zones):
        return inf
    cells = {row.format: row.cells / row.slots for row in scenario.tray_formats if row.slots > 0}
    each = [cells.get(row.final_format, inf) for row in scenario.products if row.method == method.method]
    grows = {row.zone for row in scenario.zone_days} | {row.zone for row in scenario.modules}
    healing = {
        row.zone for row in scenario.stages if row.method == method.method and row.part is Part.HEALING
    }
    slots = [
        inf if zone.zone in grows else zone.slots or (zone.units or 0) * (zone.unit_slots or 0.0)
        for zone in scenario.zones
        if zone.zone in healing
    ]
    return min(slots, default=inf) * max(each, default=inf)


def _joins_with(scenario: Scenario, order: Order, way: Product) -> float:
    """Joins that an order asks of a way to make it, with all orders that may come from the same graft day."""
    rules = {row.method: row for row in scenario.methods}
    sold_as = {row.ordered_as for row in scenario.products if row.method == way.method}
    rule = rules[way.method]
    near = [
        other.quantity
        for other in scenario.orders
        if other.product in sold_as
        and abs((other.due_day - order.due_day).days) <= rule.holding_limit_days + NEAR_DAYS
    ]
    return sum(near) / ((rule.take or 1.0) * rule.finish_survival)


def left_from(example: Scenario, scenario: Scenario) -> Iterator[Remark]:
    """Rows that are an example's, word for word, told once; none where the nursery is the example's own."""
    if scenario.nursery.name == example.nursery.name:
        return
    left = []
    for table in TABLES:
        known = set(records_of(example, table))
        count = sum(record in known for record in records_of(scenario, table))
        if count >= LIKELY_LEFT:
            left.append((count, table.name))
    if left:
        told = ", ".join(f"{count} rows of {name}" for count, name in left)
        says = f"{told} are the demo's, word for word: take out or mend those that are not yours"
        yield Remark("", None, "the tables", "", "", says)


COSTLY = (
    seed_in_time,
    pack_prices,
    odd_prices,
    tasks_without_hours,
    days_without_care,
    no_variation,
    batches_too_large,
)
"""The remarks on a scenario alone."""
