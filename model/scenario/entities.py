"""What a scenario is: frozen, typed records, one class per scenario table.

Every class is one row of a table. Every attribute is one column, declared once with its type, default, help,
unit and range. Shares are numbers between 0 and 1, money is in the scenario's currency,
ages and durations are whole days, dates are ``datetime.date``. ``None`` stands for a blank cell.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Annotated

from model.scenario import batches
from model.scenario.batches import Mishap
from model.scenario.choices import (
    Decline,
    Health,
    MarginPolicy,
    OverheadRule,
    Source,
    SowingPolicy,
    TraceabilityCode,
    ZoneMode,
    ZoneUse,
)
from model.scenario.ranges import AMOUNT, HEADS, LEAST_SHARE, PLANTS, SLOTS, TASK, UNITS
from model.scenario.records.kept_apart import Apart
from model.scenario.records.methods import AgeEffect, Method, Stage
from model.scenario.records.overheads import Overhead
from model.scenario.records.past import PlantsOnHand, Progress, TraysOnHand
from model.scenario.records.people import (
    Crew,
    CrewDay,
    LabourStandard,
    OwnTask,
    PieceRate,
    Practice,
    Shift,
    SkillLimit,
    WeekPace,
)
from model.scenario.records.rooms import Bays, GerminationZone, StageZone
from model.scenario.records.trade import (
    BuyInOffer,
    Customer,
    Inquiry,
    ListPrice,
    Module,
    Pack,
    Run,
    Supply,
    SupplyUse,
)
from model.scenario.schema import NOTE, amount, blank, days, number, price, ref, refs, share, weekdays, whole

_METHOD = ("methods", "method")
_PRODUCT = ("products", "product")
_SUPPLY = ("supplies", "supply")
_FORMAT = ("tray_formats", "format")
_ZONE = ("zones", "zone")
_VARIETY = ("seed_lots", "variety")
_LOT = ("seed_lots", "lot")


@dataclass(frozen=True, slots=True)
class Nursery:
    """The settings of the whole scenario, in one row."""

    name: Annotated[str, "Name of the nursery and the season, as printed on every page."]
    currency: Annotated[str, "Currency of all money in the scenario, as an ISO 4217 code."]
    first_day: Annotated[date, "First day on which anything can be done."]
    last_day: Annotated[date, "Last day of the plan; no order is due later."]
    working_weekdays: Annotated[
        tuple[str, ...], "Weekdays on which people work, separated by ';'.", weekdays()
    ]
    margin_policy: Annotated[
        MarginPolicy,
        "How far beyond expectation each order is grafted. fixed: by the share 'graft_margin'. level: until "
        "the chance of filling the order reaches 'service_level'. priced: until one more join would cost "
        "more than it saves, given 'plant_cost', the penalty and the salvage price.",
        blank(MarginPolicy.LEVEL),
    ]
    service_level: Annotated[
        float,
        "Chance that an order's joins leave enough plants (policy 'level').",
        share(0.95, above_low=True, high=0.999999),
    ]
    graft_margin: Annotated[
        float,
        "Plants grown beyond the order, in expectation, as a share of the order (policy 'fixed').",
        share(0.0),
    ]
    sowing_margin: Annotated[
        float,
        "Seedlings raised beyond those that the joins use, in expectation, as a share of them (sowing policy "
        "'fixed').",
        share(0.0),
    ]
    shortfall_penalty: Annotated[
        float,
        "Cost of each ordered plant that is not delivered, where the order has no penalty of its own. Set it "
        "above the cost of any plant; otherwise leaving orders short is cheaper than growing them.",
        price("plant", above_low=True),
    ]
    wave_cost: Annotated[float, "Fixed cost of sowing a wave, whatever its size.", amount("wave", 0.0)]
    overhead: Annotated[float, "Overhead of the season, counted once.", amount(default=0.0)]
    interest_rate: Annotated[
        float, "Yearly interest rate, used for the yearly cost of modules.", share(0.0, high=10)
    ]
    sowing_policy: Annotated[
        SowingPolicy,
        "How far beyond expectation is sown. fixed: by the share 'sowing_margin'. level: for each order so "
        "far that enough of its seedlings come up with the chance of its service level.",
    ] = SowingPolicy.FIXED
    overhead_by: Annotated[
        OverheadRule,
        "What overhead, and paid hours without work, are shared by among the orders. slot-days: slots held "
        "and for how long. plants: plants delivered. hours: hours of work. none: no order bears any, and "
        "prices hold none.",
    ] = OverheadRule.SLOT_DAYS
    plant_cost: Annotated[
        float | None,
        "Cost of growing one more plant (policy 'priced'). Must be below every penalty and above every "
        "salvage price.",
        price("plant", above_low=True),
    ] = None
    most_share_of_one_day: Annotated[
        float | None,
        "Most of an order's plants that may come from one graft day, as a share of the order, so that one "
        "bad day does not cost all of it; blank: no limit.",
        share(above_low=True),
    ] = None
    one_lot: Annotated[
        bool,
        "Whether all own plants of an order come from one seed lot of the scion and one of the rootstock. An "
        "order may say otherwise.",
    ] = False
    most_share_of_one_lot: Annotated[
        float | None,
        "Most of an order's plants that may come from one seed lot, of the scion or of the rootstock, as a "
        "share of the order; blank: no limit.",
        share(above_low=True),
    ] = None
    most_share_of_one_unit: Annotated[
        float | None,
        "Most of an order's plants that may be in one load of one unit, in zones run in units, as a share "
        "of the order; blank: no limit.",
        share(above_low=True),
    ] = None
    change_over_seconds: Annotated[
        float,
        "Time to change over for a seed lot at the grafting table, at the standard pace: blades and table "
        "are cleaned or changed. Once for each lot of a scion or rootstock that is there on a day.",
        number("s", 0.0, high=TASK),
    ] = 0.0
    change_over_skill: Annotated[
        str | None, "Skill that changing over needs; needed where it takes time."
    ] = None
    today: Annotated[
        date | None,
        "First day that can still be planned. Table progress records what happened before it. Blank: "
        "first_day.",
    ] = None
    late_days_most: Annotated[
        int,
        "Most days that the plants of an order may come after its due day, where the order says nothing. 0: "
        "no plant comes late.",
        days(),
    ] = 0
    late_discount: Annotated[
        float | None,
        "Share of the price given up for each week, or part of one, that a plant comes late, where the order "
        "says nothing.",
        share(),
    ] = None
    terms_days: Annotated[
        int, "Days after plants leave on which customers pay, where they have no own.", days()
    ] = 0
    deposit_share: Annotated[float, "Share of an order's price paid as a deposit, likewise.", share()] = 0.0
    deposit_days: Annotated[int, "Days before the due day on which a deposit is paid, likewise.", days()] = 0
    tax_note: Annotated[str | None, "Note on sales tax for offer sheets; no plan and no result holds it."] = (
        None
    )
    least_charge: Annotated[float, "Least that an order by list prices is charged.", amount("order")] = 0.0
    part_tray_charge: Annotated[
        float, "Charge for an order by list prices that does not fill whole trays.", amount("order")
    ] = 0.0
    early_discount: Annotated[
        float,
        "Share of the list price that an order placed early is spared, where its customer has no own.",
        share(),
    ] = 0.0
    early_days: Annotated[
        int, "Days before the due day by which an early order is placed, likewise.", days()
    ] = 0
    extra_share: Annotated[
        float,
        "Plants sent beyond an order and not billed, as a share of it, in whole plants, rounded up, where "
        "neither the order nor its customer says.",
        share(),
    ] = 0.0
    whole_trays_to_customer: Annotated[
        bool,
        "Whether an order leaves in whole trays, where neither it nor its customer says: the last tray is "
        "filled with plants that are grown, sent and billed with the others. From the graft day on, plants "
        "of a product of which some order leaves so stand in whole trays.",
    ] = False
    opening_balance: Annotated[
        float,
        "Balance of the account before first_day; below 0: overdrawn.",
        number("currency", low=-AMOUNT, high=AMOUNT),
    ] = 0.0
    overdraft_rate: Annotated[
        float,
        "Yearly interest rate on an overdrawn account, for the cash by week; no result and no plan holds it. "
        "0, if a row of table overheads holds it.",
        share(high=10),
    ] = 0.0
    locale: Annotated[
        str | None,
        "How days, numbers and money are written on screens and papers: a language and a country of the "
        "Unicode CLDR, such as en-GB, de-DE, fr-FR or ja-JP. Words stay English. Blank: days as 2027-03-31, "
        "numbers as 1,234.5, money as 1,234.50 EUR.",
    ] = field(default=None, repr=False)  # it changes no plan, and so not the hash of the inputs
    registration_number: Annotated[
        str | None,
        "Number under which the nursery is registered for plant passports (part B), as dispatch notes print "
        "it.",
    ] = None
    traceability_code: Annotated[
        TraceabilityCode,
        "Traceability code (part C) that dispatch notes print. lots: the lots of the plants. own: the number "
        "of the order, for a nursery whose own records lead from it to the lots.",
    ] = TraceabilityCode.LOTS
    country_of_origin: Annotated[
        str | None, "Country of origin (part D), as its ISO 3166 code of two letters."
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Order:
    """The order book. Each row orders plants of one product for one customer and one due day."""

    order: Annotated[str, "Order number or name."]
    customer: Annotated[str, "Customer who ordered."]
    product: Annotated[str, "Product ordered.", ref(_PRODUCT)]
    quantity: Annotated[int, "Plants ordered.", whole("plants", low=1, high=PLANTS)]
    due_day: Annotated[
        date,
        "Day on which the plants leave; where the customer has a run, the last day on which they may: they "
        "leave with the last run until then.",
    ]
    price: Annotated[float | None, "Agreed price of a plant; blank: by list prices.", price("plant")] = None
    shortfall_penalty: Annotated[
        float | None,
        "Cost of each plant not delivered; blank: the nursery's penalty.",
        price("plant", above_low=True),
    ] = None
    service_level: Annotated[
        float | None,
        "Chance that this order gets enough plants; blank: the nursery's service level.",
        share(above_low=True, high=0.999999),
    ] = None
    graft_margin: Annotated[
        float | None,
        "Plants grown beyond the order, in expectation, as a share of the order; blank: set by the nursery's "
        "margin_policy.",
        share(high=9),
    ] = None
    decline: Annotated[
        Decline,
        "Whether the plan may decline the order because its price is too low. no: never. in part: any number "
        "of its plants. whole: all of it or none. If any order may be declined, the plan seeks the greatest "
        "contribution.",
    ] = Decline.NO
    most_share_of_one_day: Annotated[
        float | None,
        "Most of the order's plants that may come from one graft day, as a share of the order. 1: all of "
        "them. Blank: the nursery's.",
        share(above_low=True),
    ] = None
    most_share_of_one_lot: Annotated[
        float | None,
        "Most of the order's plants that may come from one seed lot, of the scion or of the rootstock, as a "
        "share of the order. 1: all of them. Blank: the nursery's.",
        share(above_low=True),
    ] = None
    most_share_of_one_unit: Annotated[
        float | None,
        "Most of the order's plants that may be in one load of one unit, as a share of the order. 1: all of "
        "them. Blank: the nursery's.",
        share(above_low=True),
    ] = None
    late_days_most: Annotated[
        int | None,
        "Most days that plants may come after the due day, at a discount. 0: none comes late. Blank: the "
        "nursery's. An order that may be late needs a price and a discount.",
        days(),
    ] = None
    late_discount: Annotated[
        float | None,
        "Share of the price given up for each week, or part of one, that a plant comes late; blank: the "
        "nursery's.",
        share(),
    ] = None
    ordered_day: Annotated[
        date | None,
        "Day on which the order was placed, for the discount of an early order; blank: no discount.",
    ] = None
    extra_share: Annotated[
        float | None,
        "Plants sent beyond the quantity and not billed, as a share of it; blank: as its customer or the "
        "nursery says.",
        share(),
    ] = None
    whole_trays_to_customer: Annotated[
        bool | None,
        "Whether the order leaves in whole trays, the last one filled; blank: as its customer or the nursery "
        "says.",
    ] = None
    cancel_chance: Annotated[
        float,
        "Chance that the customer cancels the order once its plants are grown. The plan fills the order all "
        "the same; `hold` counts with it.",
        share(),
    ] = 0.0
    cancel_kept: Annotated[
        float | None,
        "Share of the price that the nursery keeps where the order is cancelled; blank: the deposit.",
        share(),
    ] = None
    held: Annotated[
        bool,
        "Whether the plants are held for inquiries: nobody has ordered them yet, and they have no price.",
    ] = False
    one_lot: Annotated[
        bool | None,
        "Whether all own plants of the order come from one seed lot of the scion and one of the rootstock. "
        "Blank: as the nursery says.",
    ] = None
    note: Annotated[str | None, NOTE] = None

    def of_one_lot(self, nursery: Nursery) -> bool:
        """Whether its own plants come from one lot of the scion and one of the rootstock."""
        return nursery.one_lot if self.one_lot is None else self.one_lot


@dataclass(frozen=True, slots=True)
class Product:
    """Products: a scion grafted on a rootstock by a method, or an own-root plant, in a tray format."""

    product: Annotated[str, "Name of the product."]
    crop: Annotated[str, "Crop, used to group products and to compare figures with published ranges."]
    scion: Annotated[str, "Variety of the scion, the top of the plant.", ref(_VARIETY)]
    rootstock: Annotated[str | None, "Variety of the rootstock; blank for own-root.", ref(_VARIETY)]
    method: Annotated[str, "Method by which the product is grafted or raised.", ref(_METHOD)]
    final_format: Annotated[str, "Tray format in which the product is sold.", ref(_FORMAT)]
    scion_formats: Annotated[
        tuple[str, ...],
        "Tray formats in which scions may be raised, separated by ';'. For own-root, blank means the final "
        "format.",
        refs(_FORMAT),
    ] = ()
    rootstock_formats: Annotated[
        tuple[str, ...],
        "Tray formats in which rootstocks of a root-cut method may be raised, separated by ';'; blank for "
        "the other methods.",
        refs(_FORMAT),
    ] = ()
    salvage_price: Annotated[float, "Price at which a surplus plant can be sold.", price("plant")] = 0.0
    salvage_most: Annotated[int, "Most surplus plants that can be sold.", whole("plants", high=PLANTS)] = 0
    source: Annotated[
        Source,
        "either: grown or bought in, whichever costs less. grow: never bought in. buy: only bought in, from "
        "the offers.",
    ] = Source.EITHER
    sold_as: Annotated[
        str | None,
        "Product that these plants are sold as, where this row is another way to make it: another method, or "
        "other formats to raise it in; or the same again, where rows of table apart have the share unit: a "
        "batch for units of its own. Orders and offers name that product, and its source and salvage "
        "columns count. The plan makes each graft day what costs least. Blank: itself.",
        ref(_PRODUCT),
    ] = None
    botanical_name: Annotated[
        str | None, "Botanical name of the plants (part A of a plant passport), as dispatch notes print it."
    ] = None
    note: Annotated[str | None, NOTE] = None

    @property
    def ordered_as(self) -> str:
        """The product that orders name."""
        return self.product if self.sold_as is None else self.sold_as


@dataclass(frozen=True, slots=True)
class SeedLot:
    """Seed lots: seed of one variety, with its germination, stock and lead time."""

    lot: Annotated[str, "Name of the lot."]
    variety: Annotated[str, "Variety of the seed. A variety may have several lots."]
    crop: Annotated[str | None, "Crop, used to compare figures with published ranges."]
    germination: Annotated[float, "Share of seeds that germinate.", share(low=LEAST_SHARE)]
    grade_out: Annotated[float, "Share of seedlings rejected as not usable.", share(0.0, high=0.99)]
    seeds_per_cell: Annotated[
        int, "Seeds sown in each cell, later thinned to one plant.", whole("seeds", 1, low=1, high=20)
    ]
    stock: Annotated[int, "Seeds on hand.", whole("seeds", 0, high=UNITS)]
    lead_days: Annotated[int, "Days from ordering seed to having it.", days(0)]
    germination_days: Annotated[int, "Days in the germination room.", days(0)]
    germination_zone: Annotated[str, "Zone in which trays germinate.", ref(_ZONE)]
    bench_zone: Annotated[str, "Zone in which seedlings grow until graft day.", ref(_ZONE)]
    diameter_start_mm: Annotated[
        float | None,
        "Mean stem diameter at age 0, extrapolated from later ages. Needed where match_from is 'diameters'.",
        number("mm", low=-100, high=100),
    ] = None
    diameter_growth_mm_per_day: Annotated[
        float | None, "Daily growth of the mean stem diameter.", number("mm/day", high=100)
    ] = None
    diameter_spread_mm: Annotated[
        float | None, "Standard deviation of the stem diameter at age 0.", number("mm", high=100)
    ] = None
    diameter_spread_growth_mm_per_day: Annotated[
        float, "Daily growth of the standard deviation.", number("mm/day", high=100)
    ] = 0.0
    germination_correlation: Annotated[
        float | None,
        "How far the lot as a whole may be off its germination: intra-lot correlation. 0: not at all. "
        f"Higher: the whole lot does better or worse. Blank: {batches.LOT:g} (common practice, no source).",
        share(high=0.9),
    ] = None
    sowing_correlation: Annotated[
        float | None,
        "How much sowings of the lot differ from each other: intra-lot correlation of germination within a "
        f"wave. 0: not at all. Blank: {batches.SOWING:g} (common practice, no source).",
        share(high=0.9),
    ] = None
    sowing_margin: Annotated[
        float | None,
        "Seedlings raised beyond those that the joins use, in expectation, as a share of them; blank: set by "
        "the nursery's sowing_policy.",
        share(high=9),
    ] = None
    customer: Annotated[
        str | None,
        "Customer who sends this seed, free and at the customer's own risk, for own orders alone; blank: the "
        "nursery's seed. Packs of it cost 0, and lead_days say how long before sowing it must be there.",
    ] = None
    health: Annotated[
        Health | None,
        "What is known of the lot's health: untested, tested, or seed that a customer sent; table apart may "
        "keep such lots apart. Blank: not said.",
    ] = None
    note: Annotated[str | None, NOTE] = None

    @property
    def between_lots(self) -> float:
        """Correlation within the lot: its own, or what stands in for it."""
        own = self.germination_correlation
        return batches.LOT if own is None else own

    @property
    def between_sowings(self) -> float:
        """Correlation within a wave, about the lot's rate: its own, or what stands in for it."""
        return batches.SOWING if self.sowing_correlation is None else self.sowing_correlation


@dataclass(frozen=True, slots=True)
class TrayFormat:
    """Tray formats: the cells in a tray, and the slots that a tray takes."""

    format: Annotated[str, "Name of the format."]
    cells: Annotated[int, "Cells in a tray.", whole("cells", low=1, high=5000)]
    slots: Annotated[float, "Slots that a tray takes.", number("slots", 1.0, low=0.01, high=100)]
    billed: Annotated[
        int | None,
        "Plants billed of a full tray, by list prices: 125 of 128 cells, for instance; blank: all.",
        whole("plants", low=1, high=5000),
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Zone:
    """Zones: places with slots. A slot takes one standard flat (nominal 1020 footprint)."""

    zone: Annotated[str, "Name of the zone."]
    use: Annotated[ZoneUse, "What the zone is for."]
    mode: Annotated[
        ZoneMode,
        "pool: any slot can be used on any day. units: chambers that are loaded and emptied as a whole, "
        "for stages only: seedlings, and plants that wait, stand in pools.",
        blank(ZoneMode.POOL),
    ]
    slots: Annotated[float | None, "Slots of a pool; blank for units.", number("slots", high=SLOTS)]
    units: Annotated[int | None, "Number of units; blank for a pool.", whole("units", high=HEADS)]
    unit_slots: Annotated[
        float | None, "Slots in one unit; blank for a pool.", number("slots", above_low=True, high=SLOTS)
    ]
    load_days: Annotated[
        int | None, "Most consecutive days on which a unit may be loaded; blank for a pool.", days(low=1)
    ]
    cost_per_slot_day: Annotated[
        float, "Heat and light for one slot in use on one day.", price("slot-day", 0.0)
    ]
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class ZoneDay:
    """Changes of a zone from a date on. A blank cell leaves the figure as it was."""

    zone: Annotated[str, "Zone that changes.", ref(_ZONE)]
    from_day: Annotated[date, "First day of the new figures."]
    slots: Annotated[float | None, "Slots of a pool from that day on.", number("slots", high=SLOTS)] = None
    units: Annotated[int | None, "Units from that day on.", whole("units", high=HEADS)] = None
    cost_per_slot_day: Annotated[float | None, "Heat and light from that day on.", price("slot-day")] = None


@dataclass(frozen=True, slots=True)
class DayOff:
    """Days off besides the weekly ones. On a day off only growing plants are looked after."""

    day: Annotated[date, "The day off."]
    reason: Annotated[str | None, "Reason: holiday, fair, works outing."] = None


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
    stage_zones: tuple[StageZone, ...] = ()
    germination_zones: tuple[GerminationZone, ...] = ()
    apart: tuple[Apart, ...] = ()
    customers: tuple[Customer, ...] = ()
    runs: tuple[Run, ...] = ()
    list_prices: tuple[ListPrice, ...] = ()
    inquiries: tuple[Inquiry, ...] = ()
    crews: tuple[Crew, ...] = ()
    labour_standards: tuple[LabourStandard, ...] = ()
    own_tasks: tuple[OwnTask, ...] = ()
    packs: tuple[Pack, ...] = ()
    supplies: tuple[Supply, ...] = ()
    supply_uses: tuple[SupplyUse, ...] = ()
    age_effects: tuple[AgeEffect, ...] = ()
    zone_days: tuple[ZoneDay, ...] = ()
    shifts: tuple[Shift, ...] = ()
    bays: tuple[Bays, ...] = ()
    practice: tuple[Practice, ...] = ()
    pace_by_week: tuple[WeekPace, ...] = ()
    crew_days: tuple[CrewDay, ...] = ()
    skill_limits: tuple[SkillLimit, ...] = ()
    piece_rates: tuple[PieceRate, ...] = ()
    days_off: tuple[DayOff, ...] = ()
    buy_in_offers: tuple[BuyInOffer, ...] = ()
    modules: tuple[Module, ...] = ()
    overheads: tuple[Overhead, ...] = ()
    mishaps: tuple[Mishap, ...] = ()
    trays_on_hand: tuple[TraysOnHand, ...] = ()
    plants_on_hand: tuple[PlantsOnHand, ...] = ()
    progress: tuple[Progress, ...] = ()

    @property
    def zone_modules(self) -> list[Module]:
        """Modules that enlarge a zone; the others are machines or hands of a crew."""
        return [module for module in self.modules if module.zone is not None]

    @property
    def ordered_products(self) -> tuple[Product, ...]:
        """The products that orders may name: without the other ways to make them."""
        return tuple(product for product in self.products if product.sold_as is None)
