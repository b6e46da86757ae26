"""Records of trade: customers, what they ask for; supplies, packs, plants from other nurseries, modules."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import Per, PriceOf
from model.scenario.ranges import HEADS, PLANTS, SLOTS, TASK, UNIT_PRICE, UNITS, USED
from model.scenario.schema import NOTE, amount, blank, days, number, price, ref, share, weekdays, whole

_METHOD = ("methods", "method")
_PRODUCT = ("products", "product")
_SUPPLY = ("supplies", "supply")
_FORMAT = ("tray_formats", "format")
_ZONE = ("zones", "zone")
_LOT = ("seed_lots", "lot")
_CREW = ("crews", "crew")
_ORDER = ("orders", "order")
_RUN = ("runs", "run")


@dataclass(frozen=True, slots=True)
class Customer:
    """Customers who pay in another way than table nursery says, or whose plants leave by a run.

    A blank cell of what they pay: as the nursery says.
    """

    customer: Annotated[str, "Name of the customer, as in table orders."]
    terms_days: Annotated[int | None, "Days after plants leave on which the customer pays.", days()] = None
    deposit_share: Annotated[
        float | None, "Share of an order's price that the customer pays as a deposit.", share()
    ] = None
    deposit_days: Annotated[int | None, "Days before the due day on which the deposit is paid.", days()] = (
        None
    )
    early_discount: Annotated[
        float | None, "Share of the list price that an order placed early is spared.", share()
    ] = None
    early_days: Annotated[
        int | None, "Days before the due day by which an early order is placed.", days()
    ] = None
    extra_share: Annotated[
        float | None, "Plants sent beyond an order and not billed, as a share of it.", share()
    ] = None
    whole_trays_to_customer: Annotated[
        bool | None, "Whether an order leaves in whole trays, the last one filled."
    ] = None
    run: Annotated[
        str | None,
        "Run by which plants for this customer leave; blank: the customer fetches them.",
        ref(_RUN),
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Run:
    """Runs: vehicles that leave with plants on set weekdays. Orders of all its customers ride together.

    An order leaves with the last run on or before its due day.
    """

    run: Annotated[str, "Name of the run: where it goes, or whose vehicle."]
    weekdays: Annotated[tuple[str, ...], "Weekdays on which it leaves, separated by ';'.", weekdays()]
    fixed_cost: Annotated[
        float, "Cost of a vehicle that leaves, however full: driver, fuel, hire.", amount("vehicle")
    ]
    cost_per_tray: Annotated[float, "Cost of each tray on it, besides.", price("tray", 0.0)]
    trays: Annotated[
        int,
        "Trays that a vehicle carries; of trolleys, their number times the trays on each.",
        whole("trays", low=1, high=SLOTS),
    ]
    vehicles_most: Annotated[
        int | None, "Most vehicles on one day; blank: no limit.", whole("vehicles", low=1, high=HEADS)
    ] = None
    from_day: Annotated[date | None, "First day on which it leaves; blank: no limit."] = None
    to_day: Annotated[date | None, "Last day on which it leaves; blank: no limit."] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class ListPrice:
    """List prices, by steps of quantity and by day: what an order without a price of its own is charged.

    The rows of the latest from_day that is not after the due day count, and of them the largest step.
    """

    product: Annotated[str, "Product sold, as orders name it.", ref(_PRODUCT)]
    from_quantity: Annotated[
        int, "The price holds for orders of so many plants and more.", whole("plants", 1, low=1, high=PLANTS)
    ]
    from_day: Annotated[date | None, "First due day of the price; blank: any day."]
    price: Annotated[float, "Price of a plant or a tray.", number("currency", high=UNIT_PRICE)]
    per: Annotated[
        PriceOf,
        "What the price is for. plant: each plant billed. tray: each tray, and a part of one as that part.",
        blank(PriceOf.PLANT),
    ] = PriceOf.PLANT
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Inquiry:
    """Plants asked for and not booked. No plan is made for them, but `hold` says what to hold for them.

    Rows of one inquiry exclude each other: 400 plants with the chance 0.3, or 600 with 0.2.
    """

    inquiry: Annotated[str, "Name of the inquiry. Inquiries of different names come about independently."]
    customer: Annotated[str, "Customer who asks."]
    product: Annotated[str, "Product asked for.", ref(_PRODUCT)]
    quantity: Annotated[int, "Plants asked for, all of them or none.", whole("plants", low=1, high=PLANTS)]
    due_day: Annotated[
        date,
        "Day on which the plants would leave; where the customer has a run, with the last run until then.",
    ]
    price: Annotated[float, "Price of a plant.", price("plant")]
    chance: Annotated[float, "Chance that these plants are ordered.", share()]
    grows: Annotated[
        str | None,
        "Order by which these plants would be more, of the same product and day. The chance is that where "
        "the order is not cancelled. Blank: an order of its own.",
        ref(_ORDER),
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Supply:
    """Supplies: clips, stakes, trays, media, labels.

    Clips that come off after healing, and trays that customers send back, are stock again once they are
    washed.
    """

    supply: Annotated[str, "Name of the supply."]
    unit: Annotated[str, "Unit in which it is counted."]
    stock: Annotated[float, "Units on hand.", number("units", 0.0, high=UNITS)]
    lead_days: Annotated[int, "Days from ordering the supply to having it.", days(0)]
    return_share: Annotated[
        float,
        "Share of the units used that come back and can be used again: those not lost, broken or thrown "
        "away. 0: none.",
        share(),
    ] = 0.0
    return_days: Annotated[
        int,
        "Days from use to the day on which they are back, the longest that it may take: for clips the days "
        "until they come off, for trays sown and sold until the customer has sent them back. They are washed "
        "then, on a day off on the next working day, and are stock from that day on.",
        days(),
    ] = 0
    wash_seconds: Annotated[
        float, "Time to wash a unit that comes back, at the standard pace.", number("s", high=TASK)
    ] = 0.0
    wash_skill: Annotated[str | None, "Skill that washing needs; needed where it takes time."] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class SupplyUse:
    """Supplies used for each tray, join or plant. If several rows fit, the most specific counts."""

    supply: Annotated[str, "Supply that is used.", ref(_SUPPLY)]
    per: Annotated[Per, "The quantity is used for each of these."]
    method: Annotated[str | None, "Method that the row is for; blank for all.", ref(_METHOD)]
    format: Annotated[str | None, "Tray format that the row is for; blank for all.", ref(_FORMAT)]
    quantity: Annotated[float, "Units used.", number("units", high=USED)]


@dataclass(frozen=True, slots=True)
class Pack:
    """Packs in which seed lots and supplies are bought, with their prices."""

    item: Annotated[str, "Seed lot or supply in the pack.", ref(_LOT, _SUPPLY)]
    size: Annotated[float, "Seeds or units in the pack.", number("units", low=0.001, high=UNITS)]
    price: Annotated[float, "Price of the pack.", amount("pack")]
    terms_days: Annotated[int, "Days after ordering on which the pack is paid; 0: at order.", days()] = 0


@dataclass(frozen=True, slots=True)
class BuyInOffer:
    """Offers of finished plants from other nurseries."""

    offer: Annotated[str, "Name of the offer."]
    product: Annotated[str, "Product offered.", ref(_PRODUCT)]
    price: Annotated[float, "Price of a plant, delivery included.", price("plant")]
    lead_days: Annotated[int, "Days from ordering to delivery.", days(0)]
    delivery_weekdays: Annotated[tuple[str, ...], "Weekdays of delivery, separated by ';'.", weekdays()]
    from_day: Annotated[date | None, "First day of delivery; blank: no limit."]
    to_day: Annotated[date | None, "Last day of delivery; blank: no limit."]
    least_quantity: Annotated[int, "Fewest plants in one delivery.", whole("plants", 0, high=PLANTS)]
    most_per_delivery: Annotated[
        int | None, "Most plants in one delivery; blank: no limit.", whole("plants", low=1, high=PLANTS)
    ]
    terms_days: Annotated[int, "Days after delivery on which the plants are paid.", days()] = 0
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Module:
    """What could be bought for a zone or a crew, and how much of it this scenario adds.

    A module enlarges a zone, or it is one more machine or trained hand of a crew. For a hand, the training is
    the first cost, the years until it leaves are the life, and nothing is left at the end. Its pay, or what
    an hour of the machine costs, is that of the crew.
    """

    module: Annotated[str, "Name of the module."]
    zone: Annotated[str | None, "Zone that the module enlarges; blank for one of a crew.", ref(_ZONE)]
    slots: Annotated[
        float | None,
        "Slots of one module. In a zone of units, one module is one unit. Blank for one of a crew.",
        number("slots", high=SLOTS),
    ]
    added: Annotated[
        int, "Modules added in this scenario. Their yearly cost is charged.", whole("modules", 0, high=HEADS)
    ]
    first_cost: Annotated[float, "Price of one module, installed.", amount("module")]
    salvage_value: Annotated[float, "Value of one module at the end of its life.", amount("module", 0.0)]
    life_years: Annotated[int, "Years for which a module is used.", whole("years", low=1, high=100)]
    crew: Annotated[
        str | None,
        "Crew that gets one more machine or hand by the module, on every day; blank for one of a zone.",
        ref(_CREW),
    ] = None
    note: Annotated[str | None, NOTE] = None
