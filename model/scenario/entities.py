"""What a scenario is: frozen, typed records, one class per scenario table.

Every class is one row of a table. Every attribute is one column, declared once: its type, its default, and
beside them its help, unit and range. Shares are numbers between 0 and 1, money is in the scenario's currency,
ages and durations are whole days, dates are ``datetime.date``. ``None`` stands for a blank cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import Decline as Decline
from model.scenario.choices import Happened as Happened
from model.scenario.choices import MarginPolicy as MarginPolicy
from model.scenario.choices import MatchFrom as MatchFrom
from model.scenario.choices import MethodKind as MethodKind
from model.scenario.choices import Part as Part
from model.scenario.choices import PayBasis as PayBasis
from model.scenario.choices import Per as Per
from model.scenario.choices import Source as Source
from model.scenario.choices import SowingPolicy as SowingPolicy
from model.scenario.choices import Task as Task
from model.scenario.choices import ZoneMode as ZoneMode
from model.scenario.choices import ZoneUse as ZoneUse
from model.scenario.ranges import (
    AMOUNT,
    HEADS,
    LEAST_SHARE,
    PACES,
    PLANTS,
    SLOTS,
    TASK,
    UNIT_PRICE,
    UNITS,
    USED,
)
from model.scenario.schema import (
    choice,
    choices,
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
PER_HOUR = "currency/h"

_METHOD = ("methods", "method")
_FORMAT = ("tray_formats", "format")
_ZONE = ("zones", "zone")
_VARIETY = ("seed_lots", "variety")
_LOT = ("seed_lots", "lot")


@dataclass(frozen=True, slots=True)
class Nursery:
    """One row: the settings that hold for the whole scenario."""

    name: Annotated[str, text("The nursery and season, as printed on every page.")]
    currency: Annotated[str, text("Currency of all money in the scenario: its ISO 4217 code.")]
    first_day: Annotated[date, day("First day on which anything can be done.")]
    last_day: Annotated[date, day("Last day of the plan; no order is due later.")]
    working_weekdays: Annotated[tuple[str, ...], weekdays("Weekdays on which people work, parted by ';'.")]
    margin_policy: Annotated[
        MarginPolicy,
        choice(
            "fixed: every order is grafted 'graft_margin' over expectation. level: over "
            "expectation so far that it is filled with the chance 'service_level'. priced: so far as "
            "one join more is worth it, by 'plant_cost', the penalty and the salvage price.",
            default=MarginPolicy.LEVEL,
        ),
    ]
    service_level: Annotated[
        float,
        share(
            "Chance with which an order's joins leave enough plants (policy 'level').",
            0.95,
            above_low=True,
            high=0.999999,
        ),
    ]
    graft_margin: Annotated[float, share("Plants over the order, in expectation (policy 'fixed').", 0.0)]
    sowing_margin: Annotated[
        float, share("Seedlings sown over what the joins draw, in expectation (sowing policy 'fixed').", 0.0)
    ]
    shortfall_penalty: Annotated[
        float,
        number(
            "What an ordered plant that is not delivered costs, where the order names nothing "
            "else. Above any cost of a plant, or leaving orders short would pay.",
            PER_PLANT,
            above_low=True,
            high=UNIT_PRICE,
        ),
    ]
    wave_cost: Annotated[
        float, number("Fixed cost of sowing a wave, however small.", "currency/wave", 0.0, high=AMOUNT)
    ]
    overhead: Annotated[float, number("Overhead carried by the plan, once.", MONEY, 0.0, high=AMOUNT)]
    interest_rate: Annotated[float, share("Interest a year, for the yearly cost of modules.", 0.0, high=10)]
    sowing_policy: Annotated[
        SowingPolicy,
        choice(
            "fixed: every lot is sown 'sowing_margin' over expectation. level: so far that a wave for "
            "the smallest order that draws on it holds enough with the order's service level."
        ),
    ] = SowingPolicy.FIXED
    plant_cost: Annotated[
        float | None,
        number(
            "What growing one plant more costs (policy 'priced'): below every penalty, above every "
            "salvage price.",
            PER_PLANT,
            above_low=True,
            high=UNIT_PRICE,
        ),
    ] = None
    today: Annotated[
        date | None,
        day(
            "First day that can still be planned; all before it has happened, as table progress says. "
            "Blank: first_day."
        ),
    ] = None
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Order:
    """The order book: plants of one product for one customer and due day a row."""

    order: Annotated[str, text("Order number or name.")]
    customer: Annotated[str, text("Who ordered.")]
    product: Annotated[str, ref("What is ordered.", ("products", "product"))]
    quantity: Annotated[int, whole("Plants ordered.", "plants", low=1, high=PLANTS)]
    due_day: Annotated[date, day("Day on which the plants leave.")]
    price: Annotated[float | None, number("Price agreed.", PER_PLANT, high=UNIT_PRICE)] = None
    shortfall_penalty: Annotated[
        float | None,
        number(
            "What a plant not delivered costs; blank: the nursery's.",
            PER_PLANT,
            above_low=True,
            high=UNIT_PRICE,
        ),
    ] = None
    service_level: Annotated[
        float | None,
        share("Chance of enough plants for this order; blank: the nursery's.", above_low=True, high=0.999999),
    ] = None
    graft_margin: Annotated[
        float | None,
        share("Plants over the order, in expectation; blank: by the nursery's margin_policy.", high=9),
    ] = None
    decline: Annotated[
        Decline,
        choice(
            "May the order be declined, for want of its price? no; in part; whole: all of it or none. "
            "Where any may, the plan is that of greatest contribution."
        ),
    ] = Decline.NO
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Product:
    """What is sold: a scion on a rootstock by a method, or own-root, in a tray format."""

    product: Annotated[str, text("Name of the product.")]
    crop: Annotated[str, text("Crop, for grouping and for remarks against published ranges.")]
    scion: Annotated[str, ref("Variety of the top.", _VARIETY)]
    rootstock: Annotated[str | None, ref("Variety of the bottom; blank for own-root.", _VARIETY)]
    method: Annotated[str, ref("How it is grafted or raised.", _METHOD)]
    final_format: Annotated[str, ref("Tray format in which it is sold.", _FORMAT)]
    scion_formats: Annotated[
        tuple[str, ...],
        refs(
            "Tray formats in which scions may be raised, parted by ';'. Own-root: blank for the "
            "final format.",
            _FORMAT,
        ),
    ] = ()
    rootstock_formats: Annotated[
        tuple[str, ...],
        refs(
            "Tray formats in which rootstocks of a root-cut method may be raised; blank for the "
            "other methods.",
            _FORMAT,
        ),
    ] = ()
    salvage_price: Annotated[
        float, number("What a plant left over can be sold for.", PER_PLANT, high=UNIT_PRICE)
    ] = 0.0
    salvage_most: Annotated[int, whole("Most plants left over that can be sold.", "plants", high=PLANTS)] = 0
    source: Annotated[
        Source,
        choice("either: whichever costs least; grow: not bought in; buy: bought in only, by the offers."),
    ] = Source.EITHER
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class SeedLot:
    """Seed lots: seed of one variety, with its germination, stock and lead time."""

    lot: Annotated[str, text("Name of the lot.")]
    variety: Annotated[str, text("Variety; several lots may be of one variety.")]
    crop: Annotated[str | None, text("Crop, for remarks against published ranges.")]
    germination: Annotated[float, share("Share of seeds that germinate.", low=LEAST_SHARE)]
    grade_out: Annotated[float, share("Share of seedlings not usable.", 0.0, high=0.99)]
    seeds_per_cell: Annotated[
        int, whole("Seeds sown in a cell, thinned to one plant.", "seeds", 1, low=1, high=20)
    ]
    stock: Annotated[int, whole("Seeds on hand.", "seeds", 0, high=UNITS)]
    lead_days: Annotated[int, days("Days from ordering to seed in hand.", 0)]
    germination_days: Annotated[int, days("Days in the germination room.", 0)]
    germination_zone: Annotated[str, ref("Where trays germinate.", _ZONE)]
    bench_zone: Annotated[str, ref("Where seedlings grow until graft day.", _ZONE)]
    diameter_start_mm: Annotated[
        float | None,
        number(
            "Mean stem diameter at age 0, extended back from later ages; for match from diameters.",
            "mm",
            low=-100,
            high=100,
        ),
    ] = None
    diameter_growth_mm_per_day: Annotated[
        float | None, number("Growth of the mean stem diameter.", "mm/day", high=100)
    ] = None
    diameter_spread_mm: Annotated[
        float | None, number("Standard deviation of the stem diameter at age 0.", "mm", high=100)
    ] = None
    diameter_spread_growth_mm_per_day: Annotated[
        float, number("Growth of the standard deviation.", "mm/day", high=100)
    ] = 0.0
    germination_correlation: Annotated[
        float,
        share(
            "How alike seeds of the lot fare beyond its germination: intra-lot correlation. 0: each "
            "comes up or not on its own.",
            high=0.9,
        ),
    ] = 0.0
    sowing_margin: Annotated[
        float | None,
        share(
            "Seedlings sown over what the joins draw, in expectation; blank: by the nursery's sowing_policy.",
            high=9,
        ),
    ] = None
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class TrayFormat:
    """Tray formats: cells a tray and the slots it takes."""

    format: Annotated[str, text("Name of the format.")]
    cells: Annotated[int, whole("Cells in a tray.", "cells", low=1, high=5000)]
    slots: Annotated[float, number("Slots that a tray takes.", "slots", 1.0, low=0.01, high=100)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Method:
    """Methods of grafting, or of raising own-root plants: windows, match, take, holding."""

    method: Annotated[str, text("Name of the method; one a crop where windows or take differ.")]
    kind: Annotated[
        MethodKind,
        choice(
            "on-tray: the rootstock stays in its final cell. root-cut: it is cut off its roots "
            "and stuck into a fresh cell. own-root: not grafted."
        ),
    ]
    scion_age_min: Annotated[int, days("Youngest scion on graft day, from sowing.")]
    scion_age_max: Annotated[int, days("Oldest scion on graft day, from sowing.")]
    rootstock_age_min: Annotated[int | None, days("Youngest rootstock on graft day; blank for own-root.")]
    rootstock_age_max: Annotated[int | None, days("Oldest rootstock on graft day; blank for own-root.")]
    match_from: Annotated[
        MatchFrom,
        choice(
            "number: 'match'. ages: table age_effects. diameters: from the lots' stem diameters "
            "and 'stem_tolerance_mm'.",
            default=MatchFrom.NUMBER,
        ),
    ]
    match: Annotated[
        float | None,
        share("Stem match: share of seedlings at the bench that find a partner.", low=LEAST_SHARE),
    ]
    stem_tolerance_mm: Annotated[
        float | None,
        number("Largest difference of stem diameters that can be joined.", "mm", low=0.01, high=100),
    ]
    take: Annotated[float | None, share("Share of joins that heal; blank for own-root.", low=LEAST_SHARE)]
    consolidate: Annotated[
        bool,
        yes_no(
            "Whether blanks and failed joins are filled up after healing, so that fewer trays go on.", False
        ),
    ]
    finish_survival: Annotated[float, share("Share of healed plants that can be sold.", 1.0, low=LEAST_SHARE)]
    holding_zone: Annotated[str, ref("Where ready plants wait for their due day.", _ZONE)]
    holding_limit_days: Annotated[int, days("Most days from ready day to due day.", 0)]
    take_correlation: Annotated[
        float,
        share(
            "How alike joins of one graft day fare beyond the take: intra-lot correlation. 0: each "
            "heals or fails on its own.",
            high=0.9,
        ),
    ] = 0.0
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Stage:
    """What follows graft day (own-root: leaving the seedling bench): runs of days in zones."""

    method: Annotated[str, ref("Whose stage it is.", _METHOD)]
    step: Annotated[int, whole("Order of the stages: 1, 2, 3 ...", "", low=1, high=100)]
    stage: Annotated[str, text("Name of the stage: dark, ramp, hardening ...")]
    part: Annotated[
        Part, choice("healing: until the union holds; take shows at its end. finishing: after it.")
    ]
    zone: Annotated[str, ref("Where the plants stand.", _ZONE)]
    days: Annotated[int, days("Days in the stage.")]


@dataclass(frozen=True, slots=True)
class AgeEffect:
    """Stem match and take by the ages of both seedlings, where a nursery has counted them."""

    method: Annotated[str, ref("Whose figures these are.", _METHOD)]
    rootstock_age: Annotated[int, days("Age of the rootstock on graft day.")]
    scion_age: Annotated[int, days("Age of the scion on graft day.")]
    match: Annotated[float | None, share("Stem match at these ages.", low=LEAST_SHARE)] = None
    take: Annotated[float | None, share("Take at these ages; blank: the method's.", low=LEAST_SHARE)] = None


@dataclass(frozen=True, slots=True)
class LabourStandard:
    """Seconds that a task takes at the standard pace; the closest matching row counts."""

    task: Annotated[
        Task,
        choice(
            "sow, move, consolidate: a tray. tend (outside healing), care (in healing): a tray "
            "and day. graft, stick: a join. grade: a finished plant. pack: a plant delivered."
        ),
    ]
    skill: Annotated[str, text("Skill that the task wants.")]
    method: Annotated[str | None, ref("Only for this method; blank for all.", _METHOD)]
    format: Annotated[str | None, ref("Only for this tray format; blank for all.", _FORMAT)]
    seconds: Annotated[float, number("Time at the standard pace.", "s", high=TASK)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Supply:
    """Supplies: clips, stakes, trays, media, labels."""

    supply: Annotated[str, text("Name of the supply.")]
    unit: Annotated[str, text("Unit in which it is counted.")]
    stock: Annotated[float, number("Units on hand.", "units", 0.0, high=UNITS)]
    lead_days: Annotated[int, days("Days from ordering to having it.", 0)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class SupplyUse:
    """What is used up of each supply; of rows for one supply and 'per', the closest counts."""

    supply: Annotated[str, ref("What is used.", ("supplies", "supply"))]
    per: Annotated[Per, choice("What the quantity is used per.")]
    method: Annotated[str | None, ref("Only for this method; blank for all.", _METHOD)]
    format: Annotated[str | None, ref("Only for this tray format; blank for all.", _FORMAT)]
    quantity: Annotated[float, number("Units used.", "units", high=USED)]


@dataclass(frozen=True, slots=True)
class Pack:
    """Packs in which seed lots and supplies are bought, with their price."""

    item: Annotated[str, ref("Seed lot or supply.", ("seed_lots", "lot"), ("supplies", "supply"))]
    size: Annotated[float, number("Seeds or units in the pack.", "units", low=0.001, high=UNITS)]
    price: Annotated[float, number("Price of the pack.", "currency/pack", high=AMOUNT)]


@dataclass(frozen=True, slots=True)
class Zone:
    """Places with slots. A slot takes one standard flat (nominal 1020 footprint)."""

    zone: Annotated[str, text("Name of the zone.")]
    use: Annotated[ZoneUse, choice("What it is for.")]
    mode: Annotated[
        ZoneMode,
        choice(
            "pool: any slot at any time. units: chambers filled and emptied as a whole.",
            default=ZoneMode.POOL,
        ),
    ]
    slots: Annotated[float | None, number("Slots of a pool; blank for units.", "slots", high=SLOTS)]
    units: Annotated[int | None, whole("Number of units; blank for a pool.", "units", high=HEADS)]
    unit_slots: Annotated[
        float | None, number("Slots in one unit; blank for a pool.", "slots", above_low=True, high=SLOTS)
    ]
    load_days: Annotated[
        int | None, days("Most consecutive days on which a unit is loaded; blank for a pool.", low=1)
    ]
    cost_per_slot_day: Annotated[
        float, number("Heat and light of a slot in use.", "currency/slot-day", 0.0, high=UNIT_PRICE)
    ]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class ZoneDay:
    """Changes of a zone by date: from that day on. A blank leaves the figure as it was."""

    zone: Annotated[str, ref("Which zone.", _ZONE)]
    from_day: Annotated[date, day("First day of the new figures.")]
    slots: Annotated[float | None, number("Slots of a pool from then on.", "slots", high=SLOTS)] = None
    units: Annotated[int | None, whole("Units from then on.", "units", high=HEADS)] = None
    cost_per_slot_day: Annotated[
        float | None, number("Heat and light from then on.", "currency/slot-day", high=UNIT_PRICE)
    ] = None


@dataclass(frozen=True, slots=True)
class Crew:
    """Crews: hands with the same skills, pay and calendar. Pay rules are the owner's to check."""

    crew: Annotated[str, text("Name of the crew.")]
    skills: Annotated[tuple[str, ...], choices("Skills of all its hands, parted by ';'.")]
    heads: Annotated[float, number("Hands.", "heads", high=HEADS)]
    hours_per_head_day: Annotated[float, number("Regular hours a working day.", "h", high=24)]
    pay_per_hour: Annotated[float, number("Pay with all that goes on top.", PER_HOUR, high=UNIT_PRICE)]
    pay_basis: Annotated[
        PayBasis,
        choice(
            "used: regular hours are paid as worked. committed: those of the whole calendar are paid.",
            default=PayBasis.USED,
        ),
    ]
    pace: Annotated[
        float, number("Pace relative to the labour standards.", "ratio", 1.0, low=PACES[0], high=PACES[1])
    ]
    overtime_hours_per_head_day: Annotated[float, number("Most overtime a working day.", "h", 0.0, high=24)]
    overtime_pay_per_hour: Annotated[
        float | None,
        number(
            "Pay of overtime and of hours on days off; blank: the regular pay.", PER_HOUR, high=UNIT_PRICE
        ),
    ]
    day_off_hours_per_head: Annotated[
        float, number("Most hours on a day off, for daily care.", "h", 0.0, high=24)
    ]
    week_hours_per_head: Annotated[
        float | None, number("Most hours a week, overtime included; blank: no limit.", "h", high=168)
    ]
    temp_heads_most: Annotated[int, whole("Most temporary hands at once.", "heads", 0, high=HEADS)]
    temp_pay_per_hour: Annotated[float, number("Pay of temporary hands.", PER_HOUR, 0.0, high=UNIT_PRICE)]
    temp_pace: Annotated[float, number("Pace of temporary hands.", "ratio", 1.0, low=PACES[0], high=PACES[1])]
    temp_training_days: Annotated[int, whole("Working days of training before work.", "days", 0, high=7)]
    temp_training_cost: Annotated[
        float, number("Cost of training a hand, beside its pay.", "currency/head", 0.0, high=AMOUNT)
    ]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class CrewDay:
    """Changes of a crew by date: from that day on. A blank leaves the figure as it was."""

    crew: Annotated[str, ref("Which crew.", ("crews", "crew"))]
    from_day: Annotated[date, day("First day of the new figures.")]
    heads: Annotated[float | None, number("Hands from then on.", "heads", high=HEADS)] = None
    pay_per_hour: Annotated[float | None, number("Regular pay from then on.", PER_HOUR, high=UNIT_PRICE)] = (
        None
    )


@dataclass(frozen=True, slots=True)
class DayOff:
    """Days off beside the weekly ones: only growing plants are looked after."""

    day: Annotated[date, day("The day.")]
    reason: Annotated[str | None, text("Why: holiday, fair, works outing.")] = None


@dataclass(frozen=True, slots=True)
class BuyInOffer:
    """Offers of finished plants from other nurseries."""

    offer: Annotated[str, text("Name of the offer.")]
    product: Annotated[str, ref("What is offered.", ("products", "product"))]
    price: Annotated[float, number("Price with delivery.", PER_PLANT, high=UNIT_PRICE)]
    lead_days: Annotated[int, days("Days from ordering to delivery.", 0)]
    delivery_weekdays: Annotated[tuple[str, ...], weekdays("Weekdays of delivery, parted by ';'.")]
    from_day: Annotated[date | None, day("First delivery; blank: no limit.")]
    to_day: Annotated[date | None, day("Last delivery; blank: no limit.")]
    least_quantity: Annotated[int, whole("Least plants a delivery.", "plants", 0, high=PLANTS)]
    most_per_delivery: Annotated[
        int | None, whole("Most plants a delivery; blank: no limit.", "plants", low=1, high=PLANTS)
    ]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Module:
    """Modules that could be added to a zone, and how many of them this scenario adds."""

    module: Annotated[str, text("Name of the module.")]
    zone: Annotated[str, ref("Zone that it enlarges.", _ZONE)]
    slots: Annotated[
        float, number("Slots of one module; in a zone of units a module is one unit.", "slots", high=SLOTS)
    ]
    added: Annotated[
        int, whole("Modules added in this scenario; their yearly cost is charged.", "modules", 0, high=HEADS)
    ]
    first_cost: Annotated[float, number("Price of one module, set up.", "currency/module", high=AMOUNT)]
    salvage_value: Annotated[
        float, number("Worth at the end of its life.", "currency/module", 0.0, high=AMOUNT)
    ]
    life_years: Annotated[int, whole("Life.", "years", low=1, high=100)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Progress:
    """What has happened before 'today': a row for each sowing, graft, count, delivery, purchase."""

    day: Annotated[
        date, day("Day on which it happened (packs, plants bought in: on which they were ordered).")
    ]
    what: Annotated[
        Happened,
        choice(
            "sown: trays of a lot. grafted: joins of a product from two waves (own-root: seedlings moved "
            "on). finished: plants counted ready. delivered: plants to an order. bought in: plants "
            "ordered elsewhere. packs: ordered. hired: temporary hands of a week. worked: hours of a "
            "crew on a day. standing: trays counted in a zone."
        ),
    ]
    number: Annotated[float, number("How many trays, joins, plants, packs, hands or hours.", "", high=UNITS)]
    counted: Annotated[
        float | None,
        number(
            "Sown: usable seedlings in all the trays, joins already made too. Grafted: joins healed. "
            "Blank: not counted yet.",
            "",
            high=UNITS,
        ),
    ] = None
    lot: Annotated[str | None, ref("Sown: the lot. Grafted: the scion's.", _LOT)] = None
    format: Annotated[str | None, ref("Sown: the trays. Grafted: the scion's.", _FORMAT)] = None
    sow_day: Annotated[date | None, day("Grafted: day on which the scion was sown.")] = None
    rootstock_lot: Annotated[str | None, ref("Grafted: the rootstock's lot.", _LOT)] = None
    rootstock_format: Annotated[str | None, ref("Grafted: the rootstock's trays.", _FORMAT)] = None
    rootstock_sow_day: Annotated[date | None, day("Grafted: day on which the rootstock was sown.")] = None
    product: Annotated[
        str | None, ref("Grafted, finished, delivered: the product.", ("products", "product"))
    ] = None
    graft_day: Annotated[date | None, day("Finished, delivered: graft day of the plants.")] = None
    order: Annotated[str | None, ref("Delivered, bought in: for which order.", ("orders", "order"))] = None
    offer: Annotated[str | None, ref("Bought in: by which offer.", ("buy_in_offers", "offer"))] = None
    item: Annotated[str | None, ref("Packs: of which seed lot or supply.", _LOT, ("supplies", "supply"))] = (
        None
    )
    size: Annotated[float | None, number("Packs: seeds or units in one.", "", low=0.001, high=UNITS)] = None
    arrival_day: Annotated[date | None, day("Packs, bought in: day on which they came or will come.")] = None
    crew: Annotated[str | None, ref("Hired, worked: which crew.", ("crews", "crew"))] = None
    zone: Annotated[str | None, ref("Standing: in which zone.", _ZONE)] = None
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Scenario:
    """A set of tables. Each attribute holds the rows of the table of that name."""

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
