"""What a scenario is: frozen, typed records, one class per scenario table.

Every class is one row of the table of the same meaning; every attribute is one column and
carries the column's name. Shares are numbers between 0 and 1, money is in the scenario's
currency, ages and durations are whole days, dates are ``datetime.date``. ``None`` stands for a
blank cell. The tables' schema (units, ranges, help) is ``model.scenario.tables``; a test keeps the
two in step.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class MarginPolicy(StrEnum):
    """How the overseeding margin of an order is found."""

    FIXED = "fixed"
    LEVEL = "level"
    PRICED = "priced"


class SowingPolicy(StrEnum):
    """How the sowing margin of a seed lot is found."""

    FIXED = "fixed"
    LEVEL = "level"


class MethodKind(StrEnum):
    """What a method does with the rootstock."""

    ON_TRAY = "on-tray"
    ROOT_CUT = "root-cut"
    OWN_ROOT = "own-root"


class MatchFrom(StrEnum):
    """Where a method's stem match comes from."""

    NUMBER = "number"
    AGES = "ages"
    DIAMETERS = "diameters"


class Part(StrEnum):
    """The part of a plant's way that a stage belongs to; take shows when healing ends."""

    HEALING = "healing"
    FINISHING = "finishing"


class Task(StrEnum):
    """Work with a labour standard; ``PER`` in ``model.scenario.tables`` says per what."""

    SOW = "sow"
    MOVE = "move"
    TEND = "tend"
    GRAFT = "graft"
    STICK = "stick"
    CARE = "care"
    CONSOLIDATE = "consolidate"
    GRADE = "grade"
    PACK = "pack"


class Per(StrEnum):
    """What a supply is used per."""

    TRAY_SOWN = "tray sown"
    JOIN = "join"
    TRAY_STUCK = "tray stuck"
    PLANT_DELIVERED = "plant delivered"


class Decline(StrEnum):
    """Whether an order may be declined, where it has a price."""

    NO = "no"
    PART = "in part"
    WHOLE = "whole"


class Source(StrEnum):
    """Where a product's plants may come from."""

    EITHER = "either"
    GROW = "grow"
    BUY = "buy"


class ZoneUse(StrEnum):
    """What a zone is for."""

    GERMINATION = "germination"
    BENCH = "bench"
    HEALING = "healing"
    FINISHING = "finishing"
    HOLDING = "holding"


class ZoneMode(StrEnum):
    """A zone's slots are one pool, or units run all-in all-out."""

    POOL = "pool"
    UNITS = "units"


class Happened(StrEnum):
    """What a row of progress tells."""

    SOWN = "sown"
    GRAFTED = "grafted"
    FINISHED = "finished"
    DELIVERED = "delivered"
    BOUGHT_IN = "bought in"
    PACKS = "packs"
    HIRED = "hired"
    WORKED = "worked"
    STANDING = "standing"


class PayBasis(StrEnum):
    """A crew is paid for the hours used, or for its whole calendar."""

    USED = "used"
    COMMITTED = "committed"


@dataclass(frozen=True, slots=True)
class Nursery:
    """The one row of settings that hold for the whole scenario."""

    name: str
    currency: str
    first_day: date
    last_day: date
    working_weekdays: tuple[str, ...]
    margin_policy: MarginPolicy
    service_level: float
    graft_margin: float
    sowing_margin: float
    shortfall_penalty: float
    wave_cost: float
    overhead: float
    interest_rate: float
    sowing_policy: SowingPolicy = SowingPolicy.FIXED
    plant_cost: float | None = None
    today: date | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class DayOff:
    """A day on which nobody works but for the daily care of growing plants."""

    day: date
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """Plants of one product promised to one customer for one due day."""

    order: str
    customer: str
    product: str
    quantity: int
    due_day: date
    price: float | None = None
    shortfall_penalty: float | None = None
    service_level: float | None = None
    graft_margin: float | None = None
    decline: Decline = Decline.NO
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Product:
    """What is sold: a scion on a rootstock by a method (or own-root), in a tray format."""

    product: str
    crop: str
    scion: str
    rootstock: str | None
    method: str
    final_format: str
    scion_formats: tuple[str, ...] = ()
    rootstock_formats: tuple[str, ...] = ()
    salvage_price: float = 0.0
    salvage_most: int = 0
    source: Source = Source.EITHER
    note: str | None = None


@dataclass(frozen=True, slots=True)
class SeedLot:
    """Seed of one variety, with its germination, stock and lead time."""

    lot: str
    variety: str
    crop: str | None
    germination: float
    grade_out: float
    seeds_per_cell: int
    stock: int
    lead_days: int
    germination_days: int
    germination_zone: str
    bench_zone: str
    diameter_start_mm: float | None = None
    diameter_growth_mm_per_day: float | None = None
    diameter_spread_mm: float | None = None
    diameter_spread_growth_mm_per_day: float = 0.0
    germination_correlation: float = 0.0
    sowing_margin: float | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class TrayFormat:
    """A kind of tray: its cells, and the slots one tray takes."""

    format: str
    cells: int
    slots: float
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Method:
    """A way of grafting (or of raising own-root), with its windows, match and take."""

    method: str
    kind: MethodKind
    scion_age_min: int
    scion_age_max: int
    rootstock_age_min: int | None
    rootstock_age_max: int | None
    match_from: MatchFrom
    match: float | None
    stem_tolerance_mm: float | None
    take: float | None
    consolidate: bool
    finish_survival: float
    holding_zone: str
    holding_limit_days: int
    take_correlation: float = 0.0
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """A run of days in one zone on the way of a method's plants, after the graft day."""

    method: str
    step: int
    stage: str
    part: Part
    zone: str
    days: int


@dataclass(frozen=True, slots=True)
class AgeEffect:
    """Stem match and take of a method for one pair of seedling ages."""

    method: str
    rootstock_age: int
    scion_age: int
    match: float | None = None
    take: float | None = None


@dataclass(frozen=True, slots=True)
class LabourStandard:
    """Seconds of a skill that a task takes; blank method or format stands for all."""

    task: Task
    skill: str
    method: str | None
    format: str | None
    seconds: float
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Supply:
    """A thing bought in packs and used up: clips, stakes, media, labels."""

    supply: str
    unit: str
    stock: float
    lead_days: int
    note: str | None = None


@dataclass(frozen=True, slots=True)
class SupplyUse:
    """Units of a supply used per tray, join or plant; blank method or format stands for all."""

    supply: str
    per: Per
    method: str | None
    format: str | None
    quantity: float


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack size of a seed lot or a supply and its price."""

    item: str
    size: float
    price: float


@dataclass(frozen=True, slots=True)
class Zone:
    """A place with slots, as a pool or as units run all-in all-out."""

    zone: str
    use: ZoneUse
    mode: ZoneMode
    slots: float | None
    units: int | None
    unit_slots: float | None
    load_days: int | None
    cost_per_slot_day: float
    note: str | None = None


@dataclass(frozen=True, slots=True)
class ZoneDay:
    """A zone's slots, units or cost from a day on; a blank leaves it as it was."""

    zone: str
    from_day: date
    slots: float | None = None
    units: int | None = None
    cost_per_slot_day: float | None = None


@dataclass(frozen=True, slots=True)
class Crew:
    """Hands with the same skills, pay and calendar, and the temporary hands beside them."""

    crew: str
    skills: tuple[str, ...]
    heads: float
    hours_per_head_day: float
    pay_per_hour: float
    pay_basis: PayBasis
    pace: float
    overtime_hours_per_head_day: float
    overtime_pay_per_hour: float | None
    day_off_hours_per_head: float
    week_hours_per_head: float | None
    temp_heads_most: int
    temp_pay_per_hour: float
    temp_pace: float
    temp_training_days: int
    temp_training_cost: float
    note: str | None = None


@dataclass(frozen=True, slots=True)
class CrewDay:
    """A crew's heads or pay from a day on; a blank leaves it as it was."""

    crew: str
    from_day: date
    heads: float | None = None
    pay_per_hour: float | None = None


@dataclass(frozen=True, slots=True)
class BuyInOffer:
    """Finished plants of one product offered by another nursery."""

    offer: str
    product: str
    price: float
    lead_days: int
    delivery_weekdays: tuple[str, ...]
    from_day: date | None
    to_day: date | None
    least_quantity: int
    most_per_delivery: int | None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Module:
    """A purchasable addition to a zone; ``added`` of them stand in this scenario."""

    module: str
    zone: str
    slots: float
    added: int
    first_cost: float
    salvage_value: float
    life_years: int
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Progress:
    """Something that has happened before today. Which attributes are filled depends on ``what``.

    ``number``: trays (sown, standing), joins (grafted; own-root: seedlings moved on), plants (finished,
    delivered, bought in), packs, hands hired, hours worked. ``lot``, ``format`` and ``sow_day`` are the
    scion's where joins were made. ``counted``: usable seedlings of all trays sown, or joins healed; None: not
    yet.
    """

    day: date
    what: Happened
    number: float
    counted: float | None = None
    lot: str | None = None
    format: str | None = None
    sow_day: date | None = None
    rootstock_lot: str | None = None
    rootstock_format: str | None = None
    rootstock_sow_day: date | None = None
    product: str | None = None
    graft_day: date | None = None
    order: str | None = None
    offer: str | None = None
    item: str | None = None
    size: float | None = None
    arrival_day: date | None = None
    crew: str | None = None
    zone: str | None = None
    note: str | None = None


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
