"""What a scenario is: frozen, typed records, one class per scenario table.

Every class is one row of a table. Every attribute is one column, declared once with its type, default, help,
unit and range. Shares are numbers between 0 and 1, money is in the scenario's currency,
ages and durations are whole days, dates are ``datetime.date``. ``None`` stands for a blank cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import (
    Decline,
    Happened,
    MarginPolicy,
    MatchFrom,
    MethodKind,
    Part,
    Per,
    Source,
    SowingPolicy,
    ZoneMode,
    ZoneUse,
)
from model.scenario.people import Crew, CrewDay, LabourStandard
from model.scenario.ranges import (
    AMOUNT,
    HEADS,
    LEAST_SHARE,
    PLANTS,
    SLOTS,
    UNIT_PRICE,
    UNITS,
    USED,
)
from model.scenario.schema import (
    choice,
    day,
    days,
    note,
    number,
    ref,
    refs,
    share,
    text,
    weekdays,
    whole,
    yes_no,
)

MONEY = "currency"
PER_PLANT = "currency/plant"

_METHOD = ("methods", "method")
_FORMAT = ("tray_formats", "format")
_ZONE = ("zones", "zone")
_VARIETY = ("seed_lots", "variety")
_LOT = ("seed_lots", "lot")


@dataclass(frozen=True, slots=True)
class Nursery:
    """The settings of the whole scenario, in one row."""

    name: Annotated[str, text("Name of the nursery and the season, as printed on every page.")]
    currency: Annotated[str, text("Currency of all money in the scenario, as an ISO 4217 code.")]
    first_day: Annotated[date, day("First day on which anything can be done.")]
    last_day: Annotated[date, day("Last day of the plan; no order is due later.")]
    working_weekdays: Annotated[tuple[str, ...], weekdays("Weekdays on which people work, separated by ';'.")]
    margin_policy: Annotated[
        MarginPolicy,
        choice(
            "How far beyond expectation each order is grafted. fixed: by the share "
            "'graft_margin'. level: until the chance of filling the order reaches "
            "'service_level'. priced: until one more join would cost more than it saves, given "
            "'plant_cost', the penalty and the salvage price.",
            default=MarginPolicy.LEVEL,
        ),
    ]
    service_level: Annotated[
        float,
        share(
            "Chance that an order's joins leave enough plants (policy 'level').",
            0.95,
            above_low=True,
            high=0.999999,
        ),
    ]
    graft_margin: Annotated[
        float,
        share(
            "Plants grown beyond the order, in expectation, as a share of the order (policy 'fixed').", 0.0
        ),
    ]
    sowing_margin: Annotated[
        float,
        share(
            "Seedlings raised beyond those that the joins use, in expectation, as a share of "
            "them (sowing policy 'fixed').",
            0.0,
        ),
    ]
    shortfall_penalty: Annotated[
        float,
        number(
            "Cost of each ordered plant that is not delivered, where the order has no penalty of "
            "its own. Set it above the cost of any plant; otherwise leaving orders short is "
            "cheaper than growing them.",
            PER_PLANT,
            above_low=True,
            high=UNIT_PRICE,
        ),
    ]
    wave_cost: Annotated[
        float, number("Fixed cost of sowing a wave, whatever its size.", "currency/wave", 0.0, high=AMOUNT)
    ]
    overhead: Annotated[float, number("Overhead of the season, counted once.", MONEY, 0.0, high=AMOUNT)]
    interest_rate: Annotated[
        float, share("Yearly interest rate, used for the yearly cost of modules.", 0.0, high=10)
    ]
    sowing_policy: Annotated[
        SowingPolicy,
        choice(
            "How far beyond expectation each seed lot is sown. fixed: by the share "
            "'sowing_margin'. level: so far that a wave for the variety's smallest order holds "
            "enough seedlings with the highest service level of the variety's orders."
        ),
    ] = SowingPolicy.FIXED
    plant_cost: Annotated[
        float | None,
        number(
            "Cost of growing one more plant (policy 'priced'). Must be below every penalty and "
            "above every salvage price.",
            PER_PLANT,
            above_low=True,
            high=UNIT_PRICE,
        ),
    ] = None
    today: Annotated[
        date | None,
        day(
            "First day that can still be planned. Table progress records what happened before "
            "it. Blank: first_day."
        ),
    ] = None
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Order:
    """The order book. Each row orders plants of one product for one customer and one due day."""

    order: Annotated[str, text("Order number or name.")]
    customer: Annotated[str, text("Customer who ordered.")]
    product: Annotated[str, ref("Product ordered.", ("products", "product"))]
    quantity: Annotated[int, whole("Plants ordered.", "plants", low=1, high=PLANTS)]
    due_day: Annotated[date, day("Day on which the plants leave.")]
    price: Annotated[float | None, number("Agreed price of a plant.", PER_PLANT, high=UNIT_PRICE)] = None
    shortfall_penalty: Annotated[
        float | None,
        number(
            "Cost of each plant not delivered; blank: the nursery's penalty.",
            PER_PLANT,
            above_low=True,
            high=UNIT_PRICE,
        ),
    ] = None
    service_level: Annotated[
        float | None,
        share(
            "Chance that this order gets enough plants; blank: the nursery's service level.",
            above_low=True,
            high=0.999999,
        ),
    ] = None
    graft_margin: Annotated[
        float | None,
        share(
            "Plants grown beyond the order, in expectation, as a share of the order; blank: set "
            "by the nursery's margin_policy.",
            high=9,
        ),
    ] = None
    decline: Annotated[
        Decline,
        choice(
            "Whether the plan may decline the order because its price is too low. no: never. in "
            "part: any number of its plants. whole: all of it or none. If any order may be "
            "declined, the plan seeks the greatest contribution."
        ),
    ] = Decline.NO
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Product:
    """Products: a scion grafted on a rootstock by a method, or an own-root plant, in a tray format."""

    product: Annotated[str, text("Name of the product.")]
    crop: Annotated[str, text("Crop, used to group products and to compare figures with published ranges.")]
    scion: Annotated[str, ref("Variety of the scion, the top of the plant.", _VARIETY)]
    rootstock: Annotated[str | None, ref("Variety of the rootstock; blank for own-root.", _VARIETY)]
    method: Annotated[str, ref("Method by which the product is grafted or raised.", _METHOD)]
    final_format: Annotated[str, ref("Tray format in which the product is sold.", _FORMAT)]
    scion_formats: Annotated[
        tuple[str, ...],
        refs(
            "Tray formats in which scions may be raised, separated by ';'. For own-root, blank "
            "means the final format.",
            _FORMAT,
        ),
    ] = ()
    rootstock_formats: Annotated[
        tuple[str, ...],
        refs(
            "Tray formats in which rootstocks of a root-cut method may be raised, separated by "
            "';'; blank for the other methods.",
            _FORMAT,
        ),
    ] = ()
    salvage_price: Annotated[
        float, number("Price at which a surplus plant can be sold.", PER_PLANT, high=UNIT_PRICE)
    ] = 0.0
    salvage_most: Annotated[int, whole("Most surplus plants that can be sold.", "plants", high=PLANTS)] = 0
    source: Annotated[
        Source,
        choice(
            "either: grown or bought in, whichever costs less. grow: never bought in. buy: only "
            "bought in, from the offers."
        ),
    ] = Source.EITHER
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class SeedLot:
    """Seed lots: seed of one variety, with its germination, stock and lead time."""

    lot: Annotated[str, text("Name of the lot.")]
    variety: Annotated[str, text("Variety of the seed. A variety may have several lots.")]
    crop: Annotated[str | None, text("Crop, used to compare figures with published ranges.")]
    germination: Annotated[float, share("Share of seeds that germinate.", low=LEAST_SHARE)]
    grade_out: Annotated[float, share("Share of seedlings rejected as not usable.", 0.0, high=0.99)]
    seeds_per_cell: Annotated[
        int, whole("Seeds sown in each cell, later thinned to one plant.", "seeds", 1, low=1, high=20)
    ]
    stock: Annotated[int, whole("Seeds on hand.", "seeds", 0, high=UNITS)]
    lead_days: Annotated[int, days("Days from ordering seed to having it.", 0)]
    germination_days: Annotated[int, days("Days in the germination room.", 0)]
    germination_zone: Annotated[str, ref("Zone in which trays germinate.", _ZONE)]
    bench_zone: Annotated[str, ref("Zone in which seedlings grow until graft day.", _ZONE)]
    diameter_start_mm: Annotated[
        float | None,
        number(
            "Mean stem diameter at age 0, extrapolated from later ages. Needed where match_from "
            "is 'diameters'.",
            "mm",
            low=-100,
            high=100,
        ),
    ] = None
    diameter_growth_mm_per_day: Annotated[
        float | None, number("Daily growth of the mean stem diameter.", "mm/day", high=100)
    ] = None
    diameter_spread_mm: Annotated[
        float | None, number("Standard deviation of the stem diameter at age 0.", "mm", high=100)
    ] = None
    diameter_spread_growth_mm_per_day: Annotated[
        float, number("Daily growth of the standard deviation.", "mm/day", high=100)
    ] = 0.0
    germination_correlation: Annotated[
        float,
        share(
            "How alike the seeds of the lot fare: intra-lot correlation of germination. 0: each "
            "seed germinates or fails independently. Higher: the whole lot does better or worse "
            "than its germination.",
            high=0.9,
        ),
    ] = 0.0
    sowing_margin: Annotated[
        float | None,
        share(
            "Seedlings raised beyond those that the joins use, in expectation, as a share of "
            "them; blank: set by the nursery's sowing_policy.",
            high=9,
        ),
    ] = None
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class TrayFormat:
    """Tray formats: the cells in a tray, and the slots that a tray takes."""

    format: Annotated[str, text("Name of the format.")]
    cells: Annotated[int, whole("Cells in a tray.", "cells", low=1, high=5000)]
    slots: Annotated[float, number("Slots that a tray takes.", "slots", 1.0, low=0.01, high=100)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Method:
    """Methods of grafting, or of raising own-root plants: graft windows, match, take, holding."""

    method: Annotated[
        str, text("Name of the method. Use one method for each crop where windows or take differ.")
    ]
    kind: Annotated[
        MethodKind,
        choice(
            "on-tray: the rootstock stays in its final cell. root-cut: the rootstock is cut off "
            "its roots and stuck into a fresh cell. own-root: not grafted."
        ),
    ]
    scion_age_min: Annotated[int, days("Least age of the scion on graft day, counted from sowing.")]
    scion_age_max: Annotated[int, days("Greatest age of the scion on graft day, counted from sowing.")]
    rootstock_age_min: Annotated[
        int | None, days("Least age of the rootstock on graft day, counted from sowing; blank for own-root.")
    ]
    rootstock_age_max: Annotated[
        int | None,
        days("Greatest age of the rootstock on graft day, counted from sowing; blank for own-root."),
    ]
    match_from: Annotated[
        MatchFrom,
        choice(
            "Where the stem match comes from. number: column 'match'. ages: table age_effects. "
            "diameters: the stem diameters of the lots and 'stem_tolerance_mm'.",
            default=MatchFrom.NUMBER,
        ),
    ]
    match: Annotated[
        float | None,
        share(
            "Stem match: share of seedlings brought to the bench that find a partner of like stem diameter.",
            low=LEAST_SHARE,
        ),
    ]
    stem_tolerance_mm: Annotated[
        float | None,
        number(
            "Largest difference between the stem diameters of two seedlings that can be joined.",
            "mm",
            low=0.01,
            high=100,
        ),
    ]
    take: Annotated[float | None, share("Share of joins that heal; blank for own-root.", low=LEAST_SHARE)]
    consolidate: Annotated[
        bool,
        yes_no(
            "Whether the gaps left by blanks and failed joins are filled after healing, so that "
            "fewer trays go on.",
            False,
        ),
    ]
    finish_survival: Annotated[float, share("Share of healed plants that can be sold.", 1.0, low=LEAST_SHARE)]
    holding_zone: Annotated[str, ref("Zone in which ready plants wait for their due day.", _ZONE)]
    holding_limit_days: Annotated[int, days("Most days from ready day to due day.", 0)]
    take_correlation: Annotated[
        float,
        share(
            "How alike the joins of one graft day fare: intra-lot correlation of take. 0: each "
            "join heals or fails independently. Higher: the whole day does better or worse than "
            "the take.",
            high=0.9,
        ),
    ] = 0.0
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Stage:
    """Stages: runs of days in one zone, after graft day (own-root: after the seedling bench)."""

    method: Annotated[str, ref("Method that the stage belongs to.", _METHOD)]
    step: Annotated[int, whole("Position among the stages of the method: 1, 2, 3 ...", "", low=1, high=100)]
    stage: Annotated[str, text("Name of the stage: dark, ramp, hardening ...")]
    part: Annotated[
        Part,
        choice("healing: until the union holds; the take is counted at its end. finishing: after healing."),
    ]
    zone: Annotated[str, ref("Zone in which the plants stand.", _ZONE)]
    days: Annotated[int, days("Days in the stage.")]


@dataclass(frozen=True, slots=True)
class AgeEffect:
    """Stem match and take by the ages of both seedlings, where the nursery has counted them."""

    method: Annotated[str, ref("Method that the figures belong to.", _METHOD)]
    rootstock_age: Annotated[int, days("Age of the rootstock on graft day.")]
    scion_age: Annotated[int, days("Age of the scion on graft day.")]
    match: Annotated[float | None, share("Stem match at these ages.", low=LEAST_SHARE)] = None
    take: Annotated[float | None, share("Take at these ages; blank: the method's take.", low=LEAST_SHARE)] = (
        None
    )


@dataclass(frozen=True, slots=True)
class Supply:
    """Supplies: clips, stakes, trays, media, labels."""

    supply: Annotated[str, text("Name of the supply.")]
    unit: Annotated[str, text("Unit in which it is counted.")]
    stock: Annotated[float, number("Units on hand.", "units", 0.0, high=UNITS)]
    lead_days: Annotated[int, days("Days from ordering the supply to having it.", 0)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class SupplyUse:
    """Supplies used for each tray, join or plant. If several rows fit, the most specific counts."""

    supply: Annotated[str, ref("Supply that is used.", ("supplies", "supply"))]
    per: Annotated[Per, choice("The quantity is used for each of these.")]
    method: Annotated[str | None, ref("Method that the row is for; blank for all.", _METHOD)]
    format: Annotated[str | None, ref("Tray format that the row is for; blank for all.", _FORMAT)]
    quantity: Annotated[float, number("Units used.", "units", high=USED)]


@dataclass(frozen=True, slots=True)
class Pack:
    """Packs in which seed lots and supplies are bought, with their prices."""

    item: Annotated[str, ref("Seed lot or supply in the pack.", ("seed_lots", "lot"), ("supplies", "supply"))]
    size: Annotated[float, number("Seeds or units in the pack.", "units", low=0.001, high=UNITS)]
    price: Annotated[float, number("Price of the pack.", "currency/pack", high=AMOUNT)]


@dataclass(frozen=True, slots=True)
class Zone:
    """Zones: places with slots. A slot takes one standard flat (nominal 1020 footprint)."""

    zone: Annotated[str, text("Name of the zone.")]
    use: Annotated[ZoneUse, choice("What the zone is for.")]
    mode: Annotated[
        ZoneMode,
        choice(
            "pool: any slot can be used on any day. units: chambers that are loaded and emptied as a whole.",
            default=ZoneMode.POOL,
        ),
    ]
    slots: Annotated[float | None, number("Slots of a pool; blank for units.", "slots", high=SLOTS)]
    units: Annotated[int | None, whole("Number of units; blank for a pool.", "units", high=HEADS)]
    unit_slots: Annotated[
        float | None, number("Slots in one unit; blank for a pool.", "slots", above_low=True, high=SLOTS)
    ]
    load_days: Annotated[
        int | None, days("Most consecutive days on which a unit may be loaded; blank for a pool.", low=1)
    ]
    cost_per_slot_day: Annotated[
        float,
        number("Heat and light for one slot in use on one day.", "currency/slot-day", 0.0, high=UNIT_PRICE),
    ]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class ZoneDay:
    """Changes of a zone from a date on. A blank cell leaves the figure as it was."""

    zone: Annotated[str, ref("Zone that changes.", _ZONE)]
    from_day: Annotated[date, day("First day of the new figures.")]
    slots: Annotated[float | None, number("Slots of a pool from that day on.", "slots", high=SLOTS)] = None
    units: Annotated[int | None, whole("Units from that day on.", "units", high=HEADS)] = None
    cost_per_slot_day: Annotated[
        float | None, number("Heat and light from that day on.", "currency/slot-day", high=UNIT_PRICE)
    ] = None


@dataclass(frozen=True, slots=True)
class DayOff:
    """Days off besides the weekly ones. On a day off only growing plants are looked after."""

    day: Annotated[date, day("The day off.")]
    reason: Annotated[str | None, text("Reason: holiday, fair, works outing.")] = None


@dataclass(frozen=True, slots=True)
class BuyInOffer:
    """Offers of finished plants from other nurseries."""

    offer: Annotated[str, text("Name of the offer.")]
    product: Annotated[str, ref("Product offered.", ("products", "product"))]
    price: Annotated[float, number("Price of a plant, delivery included.", PER_PLANT, high=UNIT_PRICE)]
    lead_days: Annotated[int, days("Days from ordering to delivery.", 0)]
    delivery_weekdays: Annotated[tuple[str, ...], weekdays("Weekdays of delivery, separated by ';'.")]
    from_day: Annotated[date | None, day("First day of delivery; blank: no limit.")]
    to_day: Annotated[date | None, day("Last day of delivery; blank: no limit.")]
    least_quantity: Annotated[int, whole("Fewest plants in one delivery.", "plants", 0, high=PLANTS)]
    most_per_delivery: Annotated[
        int | None, whole("Most plants in one delivery; blank: no limit.", "plants", low=1, high=PLANTS)
    ]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Module:
    """Modules that could be added to a zone, and how many of them this scenario adds."""

    module: Annotated[str, text("Name of the module.")]
    zone: Annotated[str, ref("Zone that the module enlarges.", _ZONE)]
    slots: Annotated[
        float, number("Slots of one module. In a zone of units, one module is one unit.", "slots", high=SLOTS)
    ]
    added: Annotated[
        int, whole("Modules added in this scenario. Their yearly cost is charged.", "modules", 0, high=HEADS)
    ]
    first_cost: Annotated[float, number("Price of one module, installed.", "currency/module", high=AMOUNT)]
    salvage_value: Annotated[
        float, number("Value of one module at the end of its life.", "currency/module", 0.0, high=AMOUNT)
    ]
    life_years: Annotated[int, whole("Years for which a module is used.", "years", low=1, high=100)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Progress:
    """What happened before 'today': a row for each sowing, graft, count, delivery or purchase."""

    day: Annotated[date, day("Day on which it happened. Packs, bought in: day of the order.")]
    what: Annotated[
        Happened,
        choice(
            "sown: trays of a lot. grafted: joins of a product from two waves (own-root: "
            "seedlings moved on). finished: plants counted as ready. delivered: plants delivered "
            "to an order. bought in: plants ordered from another nursery. packs: packs ordered. "
            "hired: temporary hands for a week. worked: hours of a crew on a day. standing: "
            "trays counted in a zone."
        ),
    ]
    number: Annotated[float, number("Number of trays, joins, plants, packs, hands or hours.", "", high=UNITS)]
    counted: Annotated[
        float | None,
        number(
            "Sown: usable seedlings in all the trays, including those already joined. Grafted: "
            "joins that healed. Blank: not counted yet.",
            "",
            high=UNITS,
        ),
    ] = None
    lot: Annotated[str | None, ref("Sown: the seed lot. Grafted: the scion's seed lot.", _LOT)] = None
    format: Annotated[
        str | None, ref("Sown: the tray format. Grafted: the scion's tray format.", _FORMAT)
    ] = None
    sow_day: Annotated[date | None, day("Grafted: day on which the scion was sown.")] = None
    rootstock_lot: Annotated[str | None, ref("Grafted: the rootstock's seed lot.", _LOT)] = None
    rootstock_format: Annotated[str | None, ref("Grafted: the rootstock's tray format.", _FORMAT)] = None
    rootstock_sow_day: Annotated[date | None, day("Grafted: day on which the rootstock was sown.")] = None
    product: Annotated[
        str | None, ref("Grafted, finished, delivered: the product.", ("products", "product"))
    ] = None
    graft_day: Annotated[date | None, day("Finished, delivered: graft day of the plants.")] = None
    order: Annotated[str | None, ref("Delivered, bought in: the order served.", ("orders", "order"))] = None
    offer: Annotated[str | None, ref("Bought in: the offer used.", ("buy_in_offers", "offer"))] = None
    item: Annotated[str | None, ref("Packs: the seed lot or supply.", _LOT, ("supplies", "supply"))] = None
    size: Annotated[float | None, number("Packs: seeds or units in one pack.", "", low=0.001, high=UNITS)] = (
        None
    )
    arrival_day: Annotated[
        date | None, day("Packs, bought in: day on which they arrived or will arrive.")
    ] = None
    crew: Annotated[str | None, ref("Hired, worked: the crew.", ("crews", "crew"))] = None
    zone: Annotated[str | None, ref("Standing: the zone.", _ZONE)] = None
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Scenario:
    """A scenario as a set of tables. Each attribute holds the rows of the table of that name."""

    nursery: Nursery
    orders: tuple[Order, ...]
    products: tuple[Product, ...]
    seed_lots: tuple[SeedLot, ...]
    tray_formats: tuple[TrayFormat, ...]
    methods: tuple[Method, ...]
    stages: tuple[Stage, ...]
    zones: tuple[Zone, ...]
    crews: tuple[Crew, ...] = ()
    labour_standards: tuple[LabourStandard, ...] = ()
    packs: tuple[Pack, ...] = ()
    supplies: tuple[Supply, ...] = ()
    supply_uses: tuple[SupplyUse, ...] = ()
    age_effects: tuple[AgeEffect, ...] = ()
    zone_days: tuple[ZoneDay, ...] = ()
    crew_days: tuple[CrewDay, ...] = ()
    days_off: tuple[DayOff, ...] = ()
    buy_in_offers: tuple[BuyInOffer, ...] = ()
    modules: tuple[Module, ...] = ()
    progress: tuple[Progress, ...] = ()
