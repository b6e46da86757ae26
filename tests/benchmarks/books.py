"""Seeded, invented order books of any size, as plausible as a small table can make them.

A book holds several crops, on-tray, root-cut and own-root products, windows three days wide, and a
season in which some slots and hours bind and some plants are bought in. The same arguments always give
the same book.
"""

from __future__ import annotations

import math
import random
from datetime import date, timedelta

from model.scenario import choices
from model.scenario import entities as e
from model.scenario.records import methods, people

FIRST_DAY = date(2027, 1, 4)
WORKING = ("Mon", "Tue", "Wed", "Thu", "Fri")
DAYS_BEFORE_FIRST_DUE = 60

GERMINATION, BENCH, CHAMBER, HOUSE, HOLDING = "germination", "bench", "chamber", "house", "holding"

SPLICE, HOLE, ROOT_CUT, OWN = "splice", "hole insertion", "root-cut splice", "own-root"
CROPS = (
    ("tomato", SPLICE),
    ("eggplant", SPLICE),
    ("cucumber", HOLE),
    ("watermelon", ROOT_CUT),
    ("tomato", OWN),
)
# method, days in the dark, days of ramp, days in the house
STAGES = ((SPLICE, 2, 5, 7), (HOLE, 2, 4, 7), (ROOT_CUT, 3, 4, 9), (OWN, 0, 0, 7))


def room(orders: int) -> float:
    """Slots of the chamber and hours of the grafters over the season's mean, so that the peak binds.

    Few orders make a rougher season, so they need more.
    """
    return 1.6 * (1 + 4 / math.sqrt(orders))


def book(orders: int, products: int, days: int, seed: int) -> e.Scenario:
    """A scenario with so many orders and products over so many days (at least 90) from 4 January 2027."""
    rng = random.Random(seed)
    grown = _products(rng, products)
    asked = _orders(rng, orders, grown, days)
    lots = _seed_lots(grown)
    plants_a_day = sum(order.quantity for order in asked) / (days - DAYS_BEFORE_FIRST_DUE)
    return e.Scenario(
        nursery=_nursery(days),
        orders=asked,
        products=grown,
        seed_lots=lots,
        tray_formats=(e.TrayFormat("128", 128, 1.0), e.TrayFormat("72", 72, 1.0)),
        methods=_methods(),
        stages=_stages(),
        zones=_zones(plants_a_day / 72, room(orders)),
        crews=_crews(plants_a_day, room(orders)),
        labour_standards=_labour_standards(),
        packs=_packs(rng, lots),
        supplies=(e.Supply("clips", "clips", 0.0, 5), e.Supply("media", "litres", 0.0, 3)),
        supply_uses=(
            e.SupplyUse("clips", choices.Per.JOIN, None, None, 1.0),
            e.SupplyUse("media", choices.Per.TRAY_SOWN, None, None, 3.0),
            e.SupplyUse("media", choices.Per.TRAY_STUCK, None, None, 3.0),
        ),
        buy_in_offers=_offers(grown),
        days_off=(e.DayOff(date(2027, 3, 26), "holiday"),),
    )


def _nursery(days: int) -> e.Nursery:
    return e.Nursery(
        name="benchmark",
        currency="USD",
        first_day=FIRST_DAY,
        last_day=FIRST_DAY + timedelta(days=days - 1),
        working_weekdays=WORKING,
        margin_policy=choices.MarginPolicy.LEVEL,
        service_level=0.95,
        graft_margin=0.0,
        sowing_margin=0.03,
        shortfall_penalty=10.0,
        wave_cost=0.0,
        overhead=0.0,
        interest_rate=0.0,
    )


def _products(rng: random.Random, count: int) -> tuple[e.Product, ...]:
    """Products in turn of all crops; each crop has a third as many scions and a tenth as many rootstocks."""
    scions, rootstocks = max(1, count // 12), max(1, count // 40)
    made = []
    for number in range(count):
        crop, method = CROPS[number % len(CROPS)]
        scion = f"{crop} {rng.randrange(scions) + 1}"
        rootstock = None if method == OWN else f"root {crop} {rng.randrange(rootstocks) + 1}"
        raised = () if method == OWN else ("128",)
        cut = ("128",) if method == ROOT_CUT else ()
        made.append(e.Product(f"product {number + 1}", crop, scion, rootstock, method, "72", raised, cut))
    return tuple(made)


def _orders(
    rng: random.Random, count: int, products: tuple[e.Product, ...], days: int
) -> tuple[e.Order, ...]:
    """Orders due on working days, thickest two fifths into the season."""
    made = []
    for number in range(count):
        last = days - 1
        due = FIRST_DAY + timedelta(days=round(rng.triangular(DAYS_BEFORE_FIRST_DUE, last, 0.4 * last)))
        while due.strftime("%a") not in WORKING or due == date(2027, 3, 26):
            due -= timedelta(days=1)
        made.append(
            e.Order(
                f"order {number + 1}",
                f"customer {rng.randrange(max(5, count // 8)) + 1}",
                products[rng.randrange(len(products))].product,
                100 * rng.randint(10, 120),
                due,
            )
        )
    return tuple(made)


def _seed_lots(products: tuple[e.Product, ...]) -> tuple[e.SeedLot, ...]:
    varieties = {p.scion for p in products} | {p.rootstock for p in products if p.rootstock}
    return tuple(
        e.SeedLot(f"lot {name}", name, None, 0.9, 0.03, 1, 0, 7, 4, GERMINATION, BENCH)
        for name in sorted(varieties)
    )


def _methods() -> tuple[methods.Method, ...]:
    def grafted(
        name: str, kind: choices.MethodKind, scion: tuple[int, int], rootstock: tuple[int, int], take: float
    ) -> methods.Method:
        return methods.Method(
            name,
            kind,
            *scion,
            *rootstock,
            choices.MatchFrom.NUMBER,
            0.9,
            None,
            take,
            True,
            0.97,
            HOLDING,
            5,
            0.0,
        )

    return (
        grafted(SPLICE, choices.MethodKind.ON_TRAY, (17, 19), (20, 22), 0.95),
        grafted(HOLE, choices.MethodKind.ON_TRAY, (8, 10), (11, 13), 0.92),
        grafted(ROOT_CUT, choices.MethodKind.ROOT_CUT, (14, 16), (10, 12), 0.9),
        methods.Method(
            OWN,
            choices.MethodKind.OWN_ROOT,
            25,
            27,
            None,
            None,
            choices.MatchFrom.NUMBER,
            None,
            None,
            None,
            False,
            0.98,
            HOLDING,
            5,
        ),
    )


def _stages() -> tuple[methods.Stage, ...]:
    made = []
    for method, dark, ramp, finish in STAGES:
        run = (
            ("dark", choices.Part.HEALING, CHAMBER, dark),
            ("ramp", choices.Part.HEALING, CHAMBER, ramp),
            ("hardening", choices.Part.FINISHING, HOUSE, finish),
        )
        lasting = [stage for stage in run if stage[-1] > 0]
        made += [methods.Stage(method, step, *stage) for step, stage in enumerate(lasting, 1)]
    return tuple(made)


def _zones(trays_a_day: float, peak: float) -> tuple[e.Zone, ...]:
    """Ample room, but for the chamber: slots for so many times the season's mean."""

    def pool(name: str, use: choices.ZoneUse, days: float, cost: float) -> e.Zone:
        return e.Zone(name, use, choices.ZoneMode.POOL, math.ceil(trays_a_day * days), None, None, None, cost)

    return (
        pool(GERMINATION, choices.ZoneUse.GERMINATION, 25, 0.01),
        pool(BENCH, choices.ZoneUse.BENCH, 80, 0.02),
        pool(CHAMBER, choices.ZoneUse.HEALING, 8 * peak, 0.08),
        pool(HOUSE, choices.ZoneUse.FINISHING, 30, 0.03),
        pool(HOLDING, choices.ZoneUse.HOLDING, 15, 0.02),
    )


def _crews(plants_a_day: float, peak: float) -> tuple[people.Crew, ...]:
    working_day = 7 / 5 * plants_a_day
    grafting = peak * working_day * 30 / 3600
    general = 2 * working_day * 12 / 3600
    return (
        people.Crew(
            "grafters",
            ("grafting", "general"),
            max(1, math.ceil(grafting / 8)),
            8.0,
            18.0,
            choices.PayBasis.USED,
            1.0,
            1.5,
            27.0,
            0.0,
            50.0,
            max(1, math.ceil(grafting / 80)),
            16.0,
            0.7,
            3,
            100.0,
        ),
        people.Crew(
            "growers",
            ("general",),
            max(2, math.ceil(general / 8)),
            8.0,
            15.0,
            choices.PayBasis.USED,
            1.0,
            2.0,
            22.5,
            4.0,
            None,
            0,
            0.0,
            1.0,
            0,
            0.0,
        ),
    )


def _labour_standards() -> tuple[people.LabourStandard, ...]:
    seconds = (
        (choices.Task.SOW, "general", 180.0),
        (choices.Task.MOVE, "general", 16.0),
        (choices.Task.TEND, "general", 2.0),
        (choices.Task.CARE, "general", 8.0),
        (choices.Task.GRAFT, "grafting", 30.0),
        (choices.Task.STICK, "grafting", 5.0),
        (choices.Task.CONSOLIDATE, "general", 60.0),
        (choices.Task.GRADE, "general", 0.6),
        (choices.Task.PACK, "general", 0.6),
    )
    return tuple(people.LabourStandard(task, skill, None, None, value) for task, skill, value in seconds)


def _packs(rng: random.Random, lots: tuple[e.SeedLot, ...]) -> tuple[e.Pack, ...]:
    made = [e.Pack("clips", 1000.0, 32.0), e.Pack("media", 50.0, 4.0)]
    for lot in lots:
        price = rng.uniform(0.05, 0.25)
        made += [
            e.Pack(lot.lot, 100.0, round(108 * price, 2)),
            e.Pack(lot.lot, 1000.0, round(1000 * price, 2)),
        ]
    return tuple(made)


def _offers(products: tuple[e.Product, ...]) -> tuple[e.BuyInOffer, ...]:
    """Every tenth grafted product can be bought in, once a week."""
    grafted = [product.product for product in products if product.rootstock]
    return tuple(
        e.BuyInOffer(f"finished {name}", name, 1.15, 21, ("Tue",), None, None, 200, None)
        for name in grafted[::10]
    )
