"""Three small nurseries that are unlike each other and unlike the demo, each with an order that is asked for.

Salad: plugs of lettuce beside grafted watermelon, with packs, a fixed cost of each wave and an offer. Trader:
all plants are bought in. Pair: two people and a chamber in units.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from model.scenario.choices import MethodKind, Part, Per, Source, Task
from model.scenario.entities import Order, Product, Scenario, TrayFormat
from model.scenario.records.methods import Stage
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import BuyInOffer, Pack, Supply, SupplyUse
from tests.scenario_parts import WORK, crew, healing, lot, method, order, units
from tests.strategies import base_scenario, with_nursery, with_rows

WORKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri")
MELON, PLUG, RED, GOLD = "Melon", "Lettuce", "Red on Stout", "Gold on Stout"


def _base(**choices: Any) -> Scenario:
    """A nursery that works on workdays; ``choices``: columns of its nursery."""
    return with_nursery(base_scenario(), working_weekdays=WORKDAYS, **choices)


def salad() -> Scenario:
    """Own-root lettuce in trays of a hundred beside root-cut watermelon, in euros."""
    base = _base(name="Salad", currency="EUR", shortfall_penalty=3.0, wave_cost=12.0, overhead=240.0)
    return replace(
        with_rows(base, "zones", lambda zone: replace(zone, cost_per_slot_day=0.03)),
        orders=(
            order("M-1", MELON, 180, 18, price=1.4),
            order("L-1", PLUG, 900, 18, price=0.11),
            order("L-2", PLUG, 400, 15, price=0.09, customer="Shop"),
        ),
        products=(
            Product(MELON, "watermelon", "Sweet", "Squash", "cut", "ten", ("twenty",), ("twenty",)),
            Product(PLUG, "lettuce", "Crisp", None, "plug", "hundred", ("hundred",)),
        ),
        seed_lots=(
            lot("Sweet A", "Sweet", crop="watermelon", stock=50),
            lot("Squash A", "Squash", crop="squash", stock=0),
            lot("Crisp A", "Crisp", crop="lettuce", stock=0),
        ),
        tray_formats=(*base.tray_formats, TrayFormat("hundred", 100, 1.0)),
        methods=(
            method("cut", MethodKind.ROOT_CUT),
            method("plug", MethodKind.OWN_ROOT, scion_age_min=5, scion_age_max=8),
        ),
        stages=(*healing("cut"), Stage("plug", 1, "grow", Part.FINISHING, "House", 4)),
        packs=(
            Pack("Sweet A", 100, 18.0),
            Pack("Squash A", 100, 9.0),
            Pack("Crisp A", 500, 4.0),
            Pack("clip", 100, 3.0),
        ),
        supplies=(Supply("clip", "clip", 0, 1),),
        supply_uses=(SupplyUse("clip", Per.JOIN, None, None, 1.0),),
        crews=(crew("Hands", "general", "grafting", pay_per_hour=17.0),),
        labour_standards=WORK,
        buy_in_offers=(BuyInOffer("Melons", MELON, 1.2, 5, WORKDAYS, None, None, 50, None),),
    )


def trader() -> Scenario:
    """Grows nothing: buys all plants in, finishes them where they wait, and packs them, in dollars."""
    base = _base(name="Trader", shortfall_penalty=6.0, overhead=150.0)
    red = replace(base.products[0], source=Source.BUY)
    return replace(
        base,
        orders=(
            order("T-1", RED, 120, 14, price=1.6),
            order("T-2", RED, 75, 18, price=1.2, customer="Shop"),
            order("T-3", GOLD, 90, 18, price=1.5),
        ),
        products=(red, replace(red, product=GOLD, scion="Gold")),
        seed_lots=(*base.seed_lots, lot("Gold A", "Gold", stock=0)),
        packs=(*base.packs, Pack("Gold A", 1.0, 0.5)),
        crews=(crew("Hand", "general", heads=1.0, pay_per_hour=18.0),),
        labour_standards=(LabourStandard(Task.PACK, "general", None, None, 15.0),),
        buy_in_offers=(
            BuyInOffer("Reds", RED, 0.9, 4, ("Tue", "Fri"), None, None, 100, None),
            BuyInOffer("Golds", GOLD, 1.1, 4, ("Thu",), None, None, 0, 80),
        ),
    )


def pair() -> Scenario:
    """Two people, and a chamber of two units loaded on two days, in yen. Packs hold fifty seeds."""
    base = _base(name="Pair", currency="JPY", shortfall_penalty=600.0, wave_cost=1500.0, overhead=20000.0)
    heated = with_rows(base, "zones", lambda zone: replace(zone, cost_per_slot_day=4.0))
    chamber = units("Chamber", 2, 8.0, 2, cost=9.0)
    return replace(
        with_rows(heated, "zones", lambda zone: chamber if zone.zone == "Chamber" else zone),
        orders=(
            order("P-1", RED, 60, 15, price=190.0),
            order("P-2", RED, 50, 17, price=260.0, customer="Shop"),
        ),
        packs=(Pack("Red A", 50, 900.0), Pack("Stout A", 50, 500.0)),
        crews=(crew("Two", "general", "grafting", pay_per_hour=1500.0),),
        labour_standards=WORK,
    )


def asked(product: str, quantity: int, price: float) -> Order:
    """An order of a product due on a Friday, for which a price list gives prices too."""
    return order("asked", product, quantity, 18, price=price)


NURSERIES = {
    "plugs": (salad, asked(PLUG, 300, 0.12)),
    "melons": (salad, asked(MELON, 40, 1.5)),
    "bought": (trader, asked(RED, 40, 1.5)),
    "units": (pair, asked(RED, 30, 300.0)),
}
"""A nursery and an order that is asked for there, by what is asked for."""
