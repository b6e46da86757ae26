"""A first scenario from a dozen answers and a list of orders; the rest are stated defaults."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from model.scenario.choices import (
    MarginPolicy,
    MatchFrom,
    MethodKind,
    Part,
    PayBasis,
    Per,
    SowingPolicy,
    Task,
    ZoneMode,
    ZoneUse,
)
from model.scenario.entities import Nursery, Order, Product, Scenario, SeedLot, TrayFormat, Zone
from model.scenario.records.methods import Method, Stage
from model.scenario.records.people import Crew, LabourStandard
from model.scenario.records.trade import BuyInOffer, Pack, Supply, SupplyUse
from scenarios.start import library
from scenarios.start.library import DEFAULT, Grafted, OwnRoot, grafted, own_root, task_times
from scenarios.start.start_orders import StartOrder

GERMINATION, BENCH, CHAMBER, HOUSE = (
    "germination room",
    "seedling bench",
    "healing chamber",
    "finishing house",
)
GRAFTERS, GROWERS = "grafters", "growers"
GRAFTING, GENERAL = "grafting", "general"
CLIPS, MEDIA = "grafting clips", "growing media"
SPARE_DAYS = 7
"""Days before the first sowing that the season begins, besides the time that seed takes to arrive."""

PENALTY = 4.0
"""Default penalty for a plant short, as a multiple of its price."""

NO_PRICE = 1.0
"""Price from which the penalty comes where no order has one, in the scenario's currency."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What the start asks. Seed prices are for 1,000 seeds, pay is for an hour, money in ``currency``."""

    name: str
    currency: str
    seedling_cells: int
    germination_slots: float
    bench_slots: float
    healing_slots: float
    finishing_slots: float
    grafters: float
    grafter_hours: float
    grafter_pay: float
    growers: float
    grower_hours: float
    grower_pay: float
    temporary: int
    temporary_pay: float
    scion_seed: float
    rootstock_seed: float
    overhead: float
    buy_in_price: float | None = None
    buy_in_days: int = 35
    locale: str | None = None


def first_scenario(answers: Answers, orders: Sequence[StartOrder]) -> Scenario:
    """The scenario; each row that the start filled in says so in its note, with the source."""
    ways = {order: _way(order) for order in orders}
    graft_ways = {way.method: way for way in ways.values() if isinstance(way, Grafted)}
    own_ways = {_own_method(way): way for way in ways.values() if isinstance(way, OwnRoot)}
    products = {_product(order): order for order in orders}
    lots = _lots(orders)
    formats = _formats(answers, orders)
    return Scenario(
        nursery=_nursery(answers, orders, ways.values()),
        orders=tuple(_order(n, order) for n, order in enumerate(orders, 1)),
        products=tuple(_product_row(name, order, answers) for name, order in products.items()),
        seed_lots=tuple(lots),
        tray_formats=tuple(formats),
        methods=(*map(_grafting, graft_ways.values()), *map(_raising, own_ways.values())),
        stages=tuple(_stages(graft_ways.values(), own_ways)),
        zones=tuple(_zones(answers)),
        crews=tuple(_crews(answers)),
        labour_standards=tuple(_standards(graft_ways.values())),
        packs=tuple(_packs(answers, lots, orders, formats)),
        supplies=tuple(_supplies(formats)),
        supply_uses=tuple(_uses(graft_ways.values(), formats)),
        buy_in_offers=tuple(_offers(answers, products, orders)),
    )


def _order(number: int, order: StartOrder) -> Order:
    penalty = round(PENALTY * order.price, 4) if order.price else None
    note = _note(f"penalty {PENALTY:g} times the price") if penalty else None
    return Order(
        order=f"O-{number:03d}",
        customer=order.customer,
        product=_product(order),
        quantity=order.quantity,
        due_day=order.due_day,
        price=order.price,
        shortfall_penalty=penalty,
        note="; ".join(filter(None, (order.note, note))) or None,
    )


def _note(source: str) -> str:
    return f"{DEFAULT}: {source}"


def _way(order: StartOrder) -> Grafted | OwnRoot:
    return own_root()[order.crop] if order.rootstock is None else grafted()[order.crop]


def _own_method(way: OwnRoot) -> str:
    return f"own-root {way.crop}"


def _product(order: StartOrder) -> str:
    how = "own-root" if order.rootstock is None else f"on {order.rootstock}"
    return f"{order.variety} {how}, {order.cells}"


def _tray(cells: int) -> str:
    return f"{cells} cell"


def _product_row(name: str, order: StartOrder, answers: Answers) -> Product:
    own = order.rootstock is None
    method = _own_method(own_root()[order.crop]) if own else grafted()[order.crop].method
    scions = () if own else (_tray(answers.seedling_cells),)
    return Product(name, order.crop, order.variety, order.rootstock, method, _tray(order.cells), scions)


def _nursery(answers: Answers, orders: Sequence[StartOrder], ways: Iterable[Grafted | OwnRoot]) -> Nursery:
    longest = max(_days(way) for way in ways)
    first = min(order.due_day for order in orders)
    begin = first - timedelta(days=longest + library.SEED_LEAD[0] + SPARE_DAYS)
    dearest = max((order.price for order in orders if order.price), default=NO_PRICE)
    return Nursery(
        name=answers.name,
        currency=answers.currency,
        first_day=begin,
        last_day=max(order.due_day for order in orders) + timedelta(days=1),
        working_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"),
        margin_policy=MarginPolicy.LEVEL,
        service_level=0.95,
        graft_margin=0.0,
        sowing_margin=0.0,
        shortfall_penalty=PENALTY * dearest,
        wave_cost=0.0,
        overhead=answers.overhead,
        interest_rate=0.0,
        locale=answers.locale,
        sowing_policy=SowingPolicy.LEVEL,
        note=_note(
            f"five days a week; service level 0.95; penalty {PENALTY:g} times the dearest price where an "
            "order has none; season from the first order's earliest sowing, with time for seed to arrive"
        ),
    )


def _days(way: Grafted | OwnRoot) -> int:
    """Most days from sowing to ready."""
    if isinstance(way, OwnRoot):
        return way.age_max + way.finish_days
    return max(way.scion_age_max, way.rootstock_age_max) + way.dark_days + way.ramp_days + way.finish_days


def _lots(orders: Sequence[StartOrder]) -> list[SeedLot]:
    varieties: dict[str, str] = {}
    for order in orders:
        varieties.setdefault(order.variety, order.crop)
        if order.rootstock is not None:
            varieties.setdefault(order.rootstock, grafted()[order.crop].rootstock_crop)
    germination, source = library.GERMINATION
    return [
        SeedLot(
            lot=f"{variety} seed",
            variety=variety,
            crop=crop,
            germination=germination,
            grade_out=library.GRADE_OUT[0],
            seeds_per_cell=1,
            stock=0,
            lead_days=library.SEED_LEAD[0],
            germination_days=grafted()[crop].germination_days if crop in grafted() else library.SQUASH_DAYS,
            germination_zone=GERMINATION,
            bench_zone=BENCH,
            note=_note(f"germination {source}; {library.EMERGENCE}"),
        )
        for variety, crop in varieties.items()
    ]


def _formats(answers: Answers, orders: Sequence[StartOrder]) -> list[TrayFormat]:
    cells = sorted({answers.seedling_cells, *(order.cells for order in orders)})
    return [TrayFormat(_tray(number), number, 1.0, note=_note(library.SLOT)) for number in cells]


def _grafting(way: Grafted) -> Method:
    return Method(
        method=way.method,
        kind=way.kind,
        scion_age_min=way.scion_age_min,
        scion_age_max=way.scion_age_max,
        rootstock_age_min=way.rootstock_age_min,
        rootstock_age_max=way.rootstock_age_max,
        match_from=MatchFrom.NUMBER,
        match=way.match,
        stem_tolerance_mm=None,
        take=way.take,
        consolidate=True,
        finish_survival=way.finish_survival,
        holding_zone=HOUSE,
        holding_limit_days=way.holding_limit_days,
        at_bench=way.at_bench,
        note=_note(way.source),
    )


def _raising(way: OwnRoot) -> Method:
    return Method(
        method=_own_method(way),
        kind=MethodKind.OWN_ROOT,
        scion_age_min=way.age_min,
        scion_age_max=way.age_max,
        rootstock_age_min=None,
        rootstock_age_max=None,
        match_from=MatchFrom.NUMBER,
        match=None,
        stem_tolerance_mm=None,
        take=None,
        consolidate=False,
        finish_survival=0.97,
        holding_zone=HOUSE,
        holding_limit_days=5,
        note=_note(way.source),
    )


def _stages(grafts: Iterable[Grafted], own: dict[str, OwnRoot]) -> Iterable[Stage]:
    for way in grafts:
        yield Stage(way.method, 1, "dark", Part.HEALING, CHAMBER, way.dark_days)
        yield Stage(way.method, 2, "ramp", Part.HEALING, CHAMBER, way.ramp_days)
        yield Stage(way.method, 3, "hardening", Part.FINISHING, HOUSE, way.finish_days)
    for method, raised in own.items():
        yield Stage(method, 1, "hardening", Part.FINISHING, HOUSE, raised.finish_days)


def _zones(answers: Answers) -> Iterable[Zone]:
    for name, use, slots in (
        (GERMINATION, ZoneUse.GERMINATION, answers.germination_slots),
        (BENCH, ZoneUse.BENCH, answers.bench_slots),
        (CHAMBER, ZoneUse.HEALING, answers.healing_slots),
        (HOUSE, ZoneUse.FINISHING, answers.finishing_slots),
    ):
        yield Zone(
            zone=name,
            use=use,
            mode=ZoneMode.POOL,
            slots=slots,
            units=None,
            unit_slots=None,
            load_days=None,
            cost_per_slot_day=library.SLOT_COSTS[use.value],
            note=_note(f"cost of a slot-day: {library.SLOT_COST}"),
        )


def _crews(answers: Answers) -> Iterable[Crew]:
    for name, skill, heads, hours, pay, temporary in (
        (GRAFTERS, GRAFTING, answers.grafters, answers.grafter_hours, answers.grafter_pay, answers.temporary),
        (GROWERS, GENERAL, answers.growers, answers.grower_hours, answers.grower_pay, 0),
    ):
        yield Crew(
            crew=name,
            skills=(skill,),
            heads=heads,
            hours_per_head_day=hours,
            pay_per_hour=pay,
            pay_basis=PayBasis.USED,
            pace=1.0,
            overtime_hours_per_head_day=0.0,
            overtime_pay_per_hour=None,
            day_off_hours_per_head=0.0 if skill == GRAFTING else hours,
            week_hours_per_head=None,
            temp_heads_most=temporary,
            temp_pay_per_hour=answers.temporary_pay if temporary else 0.0,
            temp_pace=0.7,
            temp_training_days=3 if temporary else 0,
            temp_training_cost=0.0,
            note=_note(
                "no overtime; temporary hands at 0.7 of the pace after 3 days (common practice, no source)"
            ),
        )


def _standards(grafts: Iterable[Grafted]) -> Iterable[LabourStandard]:
    for row in task_times():
        yield LabourStandard(row.task, row.skill, None, None, row.seconds, note=_note(row.source))
    for way in grafts:
        source = "from memory: 100 to 250 an hour practised; write your own pace"
        yield LabourStandard(Task.GRAFT, GRAFTING, way.method, None, way.graft_seconds, note=_note(source))


def _supplies(formats: Iterable[TrayFormat]) -> Iterable[Supply]:
    note = _note(f"lead time {library.SUPPLY_LEAD[1]}; price {library.SUPPLY_PRICE}")
    yield Supply(CLIPS, "clips", 0.0, library.SUPPLY_LEAD[0], note=note)
    yield Supply(MEDIA, "litres", 0.0, library.SUPPLY_LEAD[0], note=note)
    for tray in formats:
        yield Supply(_trays(tray), "trays", 0.0, library.SUPPLY_LEAD[0], note=note)


def _trays(tray: TrayFormat) -> str:
    return f"{tray.format} trays"


def _uses(grafts: Iterable[Grafted], formats: Iterable[TrayFormat]) -> Iterable[SupplyUse]:
    for way in grafts:
        yield SupplyUse(CLIPS, Per.JOIN, way.method, None, 1.0 if way.clip else 0.0)
    yield SupplyUse(MEDIA, Per.TRAY_SOWN, None, None, library.LITRES[0])
    for tray in formats:
        yield SupplyUse(_trays(tray), Per.TRAY_SOWN, None, tray.format, 1.0)


def _packs(
    answers: Answers, lots: Iterable[SeedLot], orders: Sequence[StartOrder], formats: Iterable[TrayFormat]
) -> Iterable[Pack]:
    roots = {order.rootstock for order in orders}
    for lot in lots:
        thousand = answers.rootstock_seed if lot.variety in roots else answers.scion_seed
        for size in (100.0, 1000.0):
            yield Pack(lot.lot, size, round(thousand * size / 1000, 4))
    yield Pack(CLIPS, 1000.0, 1000 * library.CLIP)
    yield Pack(MEDIA, 100.0, 100 * library.MEDIA)
    for tray in formats:
        yield Pack(_trays(tray), 10.0, 10 * library.TRAY)


def _offers(
    answers: Answers, products: dict[str, StartOrder], orders: Sequence[StartOrder]
) -> Iterable[BuyInOffer]:
    if answers.buy_in_price is None:
        return
    for name, order in products.items():
        if order.rootstock is not None:
            yield BuyInOffer(
                offer=f"finished {name}",
                product=name,
                price=answers.buy_in_price,
                lead_days=answers.buy_in_days,
                delivery_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"),
                from_day=None,
                to_day=None,
                least_quantity=1,
                most_per_delivery=None,
            )
