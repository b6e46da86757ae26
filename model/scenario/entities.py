"""What a scenario is: frozen, typed records, one class per scenario table.

Every class is one row of a table. Every attribute is one column, declared once with its type, default, help,
unit and range. Shares are numbers between 0 and 1, money is in the scenario's currency,
ages and durations are whole days, dates are ``datetime.date``. ``None`` stands for a blank cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario import batches
from model.scenario.batches import Mishap
from model.scenario.choices import (
    Decline,
    Happened,
    MarginPolicy,
    MatchFrom,
    MethodKind,
    OverheadRule,
    Part,
    Source,
    SowingPolicy,
    ZoneMode,
    ZoneUse,
)
from model.scenario.overheads import Overhead
from model.scenario.people import Crew, CrewDay, LabourStandard, OwnTask, PieceRate, SkillLimit
from model.scenario.ranges import AMOUNT, HEADS, LEAST_SHARE, PLANTS, SLOTS, UNITS
from model.scenario.rooms import StageZone
from model.scenario.schema import NOTE, amount, blank, days, number, price, ref, refs, share, weekdays, whole
from model.scenario.trade import BuyInOffer, Customer, ListPrice, Module, Pack, Supply, SupplyUse

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
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Order:
    """The order book. Each row orders plants of one product for one customer and one due day."""

    order: Annotated[str, "Order number or name."]
    customer: Annotated[str, "Customer who ordered."]
    product: Annotated[str, "Product ordered.", ref(_PRODUCT)]
    quantity: Annotated[int, "Plants ordered.", whole("plants", low=1, high=PLANTS)]
    due_day: Annotated[date, "Day on which the plants leave."]
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
    note: Annotated[str | None, NOTE] = None


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
        "other formats to raise it in. Orders and offers name that product, and its source and salvage "
        "columns count. The plan makes each graft day what costs least. Blank: itself.",
        ref(_PRODUCT),
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
class Method:
    """Methods of grafting, or of raising own-root plants: graft windows, match, take, holding."""

    method: Annotated[str, "Name of the method. Use one method for each crop where windows or take differ."]
    kind: Annotated[
        MethodKind,
        "on-tray: the rootstock stays in its final cell. root-cut: the rootstock is cut off its roots and "
        "stuck into a fresh cell. own-root: not grafted.",
    ]
    scion_age_min: Annotated[int, "Least age of the scion on graft day, counted from sowing.", days()]
    scion_age_max: Annotated[int, "Greatest age of the scion on graft day, counted from sowing.", days()]
    rootstock_age_min: Annotated[
        int | None,
        "Least age of the rootstock on graft day, counted from sowing; blank for own-root.",
        days(),
    ]
    rootstock_age_max: Annotated[
        int | None,
        "Greatest age of the rootstock on graft day, counted from sowing; blank for own-root.",
        days(),
    ]
    match_from: Annotated[
        MatchFrom,
        "Where the stem match comes from. number: column 'match'. ages: table age_effects. diameters: the "
        "stem diameters of the lots and 'stem_tolerance_mm'.",
        blank(MatchFrom.NUMBER),
    ]
    match: Annotated[
        float | None,
        "Stem match: share of seedlings brought to the bench that find a partner of like stem diameter.",
        share(low=LEAST_SHARE),
    ]
    stem_tolerance_mm: Annotated[
        float | None,
        "Largest difference between the stem diameters of two seedlings that can be joined.",
        number("mm", low=0.01, high=100),
    ]
    take: Annotated[float | None, "Share of joins that heal; blank for own-root.", share(low=LEAST_SHARE)]
    consolidate: Annotated[
        bool,
        "Whether the gaps left by blanks and failed joins are filled after healing, so that fewer trays go "
        "on.",
        blank(False),
    ]
    finish_survival: Annotated[float, "Share of healed plants that can be sold.", share(1.0, low=LEAST_SHARE)]
    holding_zone: Annotated[str, "Zone in which ready plants wait for their due day.", ref(_ZONE)]
    holding_limit_days: Annotated[int, "Most days from ready day to due day.", days(0)]
    take_correlation: Annotated[
        float | None,
        "How alike the joins of one graft day fare: intra-lot correlation of take. 0: each join heals or "
        "fails independently. Higher: the whole day does better or worse than the take. Blank: "
        f"{batches.GRAFT_DAY:g} (common practice, no source).",
        share(high=0.9),
    ] = None
    at_bench: Annotated[
        str | None,
        "What to mind when joining by this method, for the work lists: how the seedlings look, what is cut, "
        "what is kept.",
    ] = None
    note: Annotated[str | None, NOTE] = None

    @property
    def between_days(self) -> float:
        """Correlation within a graft day: the method's own, or what stands in for it; 0 for own-root."""
        if self.kind is MethodKind.OWN_ROOT:
            return 0.0
        return batches.GRAFT_DAY if self.take_correlation is None else self.take_correlation


@dataclass(frozen=True, slots=True)
class Stage:
    """Stages: runs of days in one zone, after graft day (own-root: after the seedling bench)."""

    method: Annotated[str, "Method that the stage belongs to.", ref(_METHOD)]
    step: Annotated[int, "Position among the stages of the method: 1, 2, 3 ...", whole("", low=1, high=100)]
    stage: Annotated[str, "Name of the stage: dark, ramp, hardening ..."]
    part: Annotated[
        Part, "healing: until the union holds; the take is counted at its end. finishing: after healing."
    ]
    zone: Annotated[str, "Zone in which the plants stand.", ref(_ZONE)]
    days: Annotated[int, "Days in the stage.", days()]
    temperature: Annotated[
        float | None, "Air temperature to keep, for lists and tags.", number("°C", low=-10, high=60)
    ] = None
    humidity: Annotated[float | None, "Relative humidity to keep, for lists and tags.", share()] = None
    light: Annotated[
        float | None, "Light on the plants, for lists and tags; 0 is dark.", number("µmol/m²/s", high=3000)
    ] = None
    light_hours: Annotated[
        float | None, "Hours of light a day, for lists and tags.", number("h", high=24)
    ] = None

    @property
    def climate(self) -> str:
        """The climate in words, such as "26 °C, 95 % humidity, dark"; blank if none is given."""
        light = None if self.light is None else f"{self.light:g} µmol/m²/s" if self.light else "dark"
        if light and self.light and self.light_hours is not None:
            light = f"{light} for {self.light_hours:g} h a day"
        words = (
            None if self.temperature is None else f"{self.temperature:g} °C",
            None if self.humidity is None else f"{100 * self.humidity:g} % humidity",
            light,
        )
        return ", ".join(word for word in words if word)


@dataclass(frozen=True, slots=True)
class AgeEffect:
    """Stem match and take by the ages of both seedlings, where the nursery has counted them."""

    method: Annotated[str, "Method that the figures belong to.", ref(_METHOD)]
    rootstock_age: Annotated[int, "Age of the rootstock on graft day.", days()]
    scion_age: Annotated[int, "Age of the scion on graft day.", days()]
    match: Annotated[float | None, "Stem match at these ages.", share(low=LEAST_SHARE)] = None
    take: Annotated[float | None, "Take at these ages; blank: the method's take.", share(low=LEAST_SHARE)] = (
        None
    )


@dataclass(frozen=True, slots=True)
class Zone:
    """Zones: places with slots. A slot takes one standard flat (nominal 1020 footprint)."""

    zone: Annotated[str, "Name of the zone."]
    use: Annotated[ZoneUse, "What the zone is for."]
    mode: Annotated[
        ZoneMode,
        "pool: any slot can be used on any day. units: chambers that are loaded and emptied as a whole.",
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
class TraysOnHand:
    """Trays of seedlings that stand in the nursery on the first day, sown before it.

    The plan keeps those that it has use for; the others can be cleared.
    """

    lot: Annotated[str, "Seed lot of the trays.", ref(_LOT)]
    format: Annotated[str, "Tray format.", ref(_FORMAT)]
    sow_day: Annotated[
        date, "Day on which they were sown, before first_day; the seedlings' age counts from it."
    ]
    trays: Annotated[int, "Trays that stand there.", whole("trays", low=1, high=UNITS)]
    seedlings: Annotated[
        int | None,
        "Usable seedlings counted in all the trays; blank: not counted yet.",
        whole("seedlings", low=1, high=UNITS),
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Progress:
    """What happened before 'today': a row for each sowing, graft, count, delivery or purchase."""

    day: Annotated[date, "Day on which it happened. Packs, bought in: day of the order."]
    what: Annotated[
        Happened,
        "sown: trays of a lot. grafted: joins of a product from two waves (own-root: seedlings moved on). "
        "finished: plants counted as ready. delivered: plants delivered to an order. bought in: plants "
        "ordered from another nursery. packs: packs ordered. hired: temporary hands for a week. worked: "
        "hours of a crew on a day. standing: trays counted in a zone.",
    ]
    number: Annotated[float, "Number of trays, joins, plants, packs, hands or hours.", number("", high=UNITS)]
    counted: Annotated[
        float | None,
        "Sown: usable seedlings in all the trays, including those already joined. Grafted: joins that "
        "healed. Blank: not counted yet.",
        number("", high=UNITS),
    ] = None
    lot: Annotated[str | None, "Sown: the seed lot. Grafted: the scion's seed lot.", ref(_LOT)] = None
    format: Annotated[
        str | None, "Sown: the tray format. Grafted: the scion's tray format.", ref(_FORMAT)
    ] = None
    sow_day: Annotated[date | None, "Grafted: day on which the scion was sown."] = None
    rootstock_lot: Annotated[str | None, "Grafted: the rootstock's seed lot.", ref(_LOT)] = None
    rootstock_format: Annotated[str | None, "Grafted: the rootstock's tray format.", ref(_FORMAT)] = None
    rootstock_sow_day: Annotated[date | None, "Grafted: day on which the rootstock was sown."] = None
    product: Annotated[str | None, "Grafted, finished, delivered: the product.", ref(_PRODUCT)] = None
    graft_day: Annotated[date | None, "Finished, delivered: graft day of the plants."] = None
    order: Annotated[str | None, "Delivered, bought in: the order served.", ref(("orders", "order"))] = None
    offer: Annotated[str | None, "Bought in: the offer used.", ref(("buy_in_offers", "offer"))] = None
    item: Annotated[str | None, "Packs: the seed lot or supply.", ref(_LOT, _SUPPLY)] = None
    size: Annotated[float | None, "Packs: seeds or units in one pack.", number("", low=0.001, high=UNITS)] = (
        None
    )
    arrival_day: Annotated[date | None, "Packs, bought in: day on which they arrived or will arrive."] = None
    crew: Annotated[str | None, "Hired, worked: the crew.", ref(("crews", "crew"))] = None
    zone: Annotated[str | None, "Standing: the zone.", ref(_ZONE)] = None
    in_zones: Annotated[
        str | None,
        "Grafted, finished, delivered: the zones chosen for the plants, as the plan names them, where stages "
        "of their method have several; blank: each stage in its own zone.",
    ] = None
    note: Annotated[str | None, NOTE] = None


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
    customers: tuple[Customer, ...] = ()
    list_prices: tuple[ListPrice, ...] = ()
    crews: tuple[Crew, ...] = ()
    labour_standards: tuple[LabourStandard, ...] = ()
    own_tasks: tuple[OwnTask, ...] = ()
    packs: tuple[Pack, ...] = ()
    supplies: tuple[Supply, ...] = ()
    supply_uses: tuple[SupplyUse, ...] = ()
    age_effects: tuple[AgeEffect, ...] = ()
    zone_days: tuple[ZoneDay, ...] = ()
    crew_days: tuple[CrewDay, ...] = ()
    skill_limits: tuple[SkillLimit, ...] = ()
    piece_rates: tuple[PieceRate, ...] = ()
    days_off: tuple[DayOff, ...] = ()
    buy_in_offers: tuple[BuyInOffer, ...] = ()
    modules: tuple[Module, ...] = ()
    overheads: tuple[Overhead, ...] = ()
    mishaps: tuple[Mishap, ...] = ()
    trays_on_hand: tuple[TraysOnHand, ...] = ()
    progress: tuple[Progress, ...] = ()

    @property
    def ordered_products(self) -> tuple[Product, ...]:
        """The products that orders may name: without the other ways to make them."""
        return tuple(product for product in self.products if product.sold_as is None)
