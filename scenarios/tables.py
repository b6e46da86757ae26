"""The scenario's tables: one schema, the single source of columns, types, units, ranges and help.

The reader, the writer, the blank workbook, the reference page and every error message come from
``TABLES``. Column names are the attribute names of the records in ``model.entities``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from model import entities as e

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


class Type(Enum):
    """How a cell is read. Lists stand in one cell, parted by ';'."""

    TEXT = "text"
    DATE = "date"
    WHOLE = "whole number"
    NUMBER = "number"
    SHARE = "share"
    YES_NO = "yes or no"
    CHOICE = "choice"
    CHOICES = "choices"
    REFERENCE = "reference"
    REFERENCES = "references"


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its type, unit, range, default and help.

    ``required`` columns may not be blank. A blank cell of another column takes ``default``.
    ``low`` and ``high`` are inclusive unless ``above_low``. ``references`` names table and column
    (several tables where the value may stand in any of them).
    """

    name: str
    type: Type
    help: str
    unit: str = ""
    required: bool = True
    default: Any = None
    low: float | None = None
    high: float | None = None
    above_low: bool = False
    choices: tuple[str, ...] = ()
    references: tuple[tuple[str, str], ...] = ()
    enum: type[Enum] | None = None

    @property
    def heading(self) -> str:
        """The heading written to a file: the name, and the unit in brackets."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns, the columns that make a row unique, its record class and help."""

    name: str
    record: type[Any]
    key: tuple[str, ...]
    help: str
    columns: tuple[Column, ...]
    required: bool = False
    by_name: dict[str, Column] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {c.name: c for c in self.columns})


def _text(name: str, help: str, required: bool = True) -> Column:
    return Column(name, Type.TEXT, help, required=required)


def _note() -> Column:
    return _text("note", "Where the figures of this row come from, or anything else to remember.", False)


def _number(
    name: str,
    help: str,
    unit: str,
    default: float | None = None,
    *,
    low: float | None = 0,
    high: float | None = None,
    above_low: bool = False,
    required: bool | None = None,
    type: Type = Type.NUMBER,
) -> Column:
    """A number from 0 up unless said; one with a default need not be given."""
    return Column(
        name,
        type,
        help,
        unit=unit,
        required=(default is None) if required is None else required,
        default=default,
        low=low,
        high=high,
        above_low=above_low,
    )


def _whole(name: str, help: str, unit: str, default: int | None = None, **more: Any) -> Column:
    return _number(name, help, unit, default, type=Type.WHOLE, **more)


def _share(name: str, help: str, default: float | None = None, **more: Any) -> Column:
    return _number(name, help, "share", default, type=Type.SHARE, **({"high": 1} | more))


def _choice(name: str, help: str, enum: type[Enum], default: Enum | None = None) -> Column:
    choices = tuple(str(member.value) for member in enum)
    return Column(
        name, Type.CHOICE, help, required=default is None, default=default, choices=choices, enum=enum
    )


def _weekdays(name: str, help: str) -> Column:
    return Column(name, Type.CHOICES, help, choices=WEEKDAYS)


def _ref(name: str, help: str, *targets: tuple[str, str], required: bool = True) -> Column:
    return Column(name, Type.REFERENCE, help, required=required, references=targets)


def _refs(name: str, help: str, *targets: tuple[str, str]) -> Column:
    return Column(name, Type.REFERENCES, help, required=False, default=(), references=targets)


def _date(name: str, help: str, required: bool = True) -> Column:
    return Column(name, Type.DATE, help, required=required)


MONEY = "currency"
PER_PLANT = "currency/plant"
PER_HOUR = "currency/h"

_METHOD = ("methods", "method")
_FORMAT = ("tray_formats", "format")
_ZONE = ("zones", "zone")
_VARIETY = ("seed_lots", "variety")

TABLES: tuple[Table, ...] = (
    Table(
        "nursery",
        e.Nursery,
        (),
        "One row: the settings that hold for the whole scenario.",
        (
            _text("name", "The nursery and season, as printed on every page."),
            _text("currency", "Currency of all money in the scenario: its ISO 4217 code."),
            _date("first_day", "First day on which anything can be done; the plan's today."),
            _date("last_day", "Last day of the plan; no order is due later."),
            _weekdays("working_weekdays", "Weekdays on which people work, parted by ';'."),
            _choice(
                "margin_policy",
                "fixed: every order is grafted 'graft_margin' over expectation. level: over "
                "expectation so far that it is filled with the chance 'service_level'.",
                e.MarginPolicy,
                e.MarginPolicy.LEVEL,
            ),
            _share(
                "service_level",
                "Chance with which an order's joins leave enough plants (policy 'level').",
                0.95,
                above_low=True,
                high=0.999999,
            ),
            _share("graft_margin", "Plants over the order, in expectation (policy 'fixed').", 0.0),
            _share("sowing_margin", "Seedlings sown over what the joins draw, in expectation.", 0.0),
            _number(
                "shortfall_penalty",
                "What an ordered plant that is not delivered costs, where the order names nothing "
                "else. Above any cost of a plant, or leaving orders short would pay.",
                PER_PLANT,
                above_low=True,
            ),
            _number("wave_cost", "Fixed cost of sowing a wave, however small.", "currency/wave", 0.0),
            _number("overhead", "Overhead carried by the plan, once.", MONEY, 0.0),
            _share("interest_rate", "Interest a year, for the yearly cost of modules.", 0.0, high=None),
            _note(),
        ),
        required=True,
    ),
    Table(
        "orders",
        e.Order,
        ("order",),
        "The order book: plants of one product for one customer and due day a row.",
        (
            _text("order", "Order number or name."),
            _text("customer", "Who ordered."),
            _ref("product", "What is ordered.", ("products", "product")),
            _whole("quantity", "Plants ordered.", "plants", low=1),
            _date("due_day", "Day on which the plants leave."),
            _number("price", "Price agreed.", PER_PLANT, required=False),
            _number(
                "shortfall_penalty",
                "What a plant not delivered costs; blank: the nursery's.",
                PER_PLANT,
                required=False,
                above_low=True,
            ),
            _share(
                "service_level",
                "Chance of enough plants for this order; blank: the nursery's.",
                required=False,
                above_low=True,
                high=0.999999,
            ),
            _note(),
        ),
        required=True,
    ),
    Table(
        "products",
        e.Product,
        ("product",),
        "What is sold: a scion on a rootstock by a method, or own-root, in a tray format.",
        (
            _text("product", "Name of the product."),
            _text("crop", "Crop, for grouping and for remarks against published ranges."),
            _ref("scion", "Variety of the top.", _VARIETY),
            _ref("rootstock", "Variety of the bottom; blank for own-root.", _VARIETY, required=False),
            _ref("method", "How it is grafted or raised.", _METHOD),
            _ref("final_format", "Tray format in which it is sold.", _FORMAT),
            _refs(
                "scion_formats",
                "Tray formats in which scions may be raised, parted by ';'. Own-root: blank for the "
                "final format.",
                _FORMAT,
            ),
            _refs(
                "rootstock_formats",
                "Tray formats in which rootstocks of a root-cut method may be raised; blank for the "
                "other methods.",
                _FORMAT,
            ),
            _number("salvage_price", "What a plant left over can be sold for.", PER_PLANT, 0.0),
            _whole("salvage_most", "Most plants left over that can be sold.", "plants", 0),
            _note(),
        ),
        required=True,
    ),
    Table(
        "seed_lots",
        e.SeedLot,
        ("lot",),
        "Seed lots: seed of one variety, with its germination, stock and lead time.",
        (
            _text("lot", "Name of the lot."),
            _text("variety", "Variety; several lots may be of one variety."),
            _text("crop", "Crop, for remarks against published ranges.", False),
            _share("germination", "Share of seeds that germinate.", above_low=True),
            _share("grade_out", "Share of seedlings not usable.", 0.0, high=0.99),
            _whole("seeds_per_cell", "Seeds sown in a cell, thinned to one plant.", "seeds", 1, low=1),
            _whole("stock", "Seeds on hand.", "seeds", 0),
            _whole("lead_days", "Days from ordering to seed in hand.", "days", 0),
            _whole("germination_days", "Days in the germination room.", "days", 0),
            _ref("germination_zone", "Where trays germinate.", _ZONE),
            _ref("bench_zone", "Where seedlings grow until graft day.", _ZONE),
            _number(
                "diameter_start_mm",
                "Mean stem diameter at age 0, extended back from later ages; for match from diameters.",
                "mm",
                required=False,
                low=-100,
                high=100,
            ),
            _number(
                "diameter_growth_mm_per_day",
                "Growth of the mean stem diameter.",
                "mm/day",
                required=False,
                high=100,
            ),
            _number(
                "diameter_spread_mm",
                "Standard deviation of the stem diameter at age 0.",
                "mm",
                required=False,
                high=100,
            ),
            _number(
                "diameter_spread_growth_mm_per_day",
                "Growth of the standard deviation.",
                "mm/day",
                0.0,
                high=100,
            ),
            _note(),
        ),
        required=True,
    ),
    Table(
        "tray_formats",
        e.TrayFormat,
        ("format",),
        "Tray formats: cells a tray and the slots it takes.",
        (
            _text("format", "Name of the format."),
            _whole("cells", "Cells in a tray.", "cells", low=1),
            _number("slots", "Slots that a tray takes.", "slots", 1.0, above_low=True),
            _note(),
        ),
        required=True,
    ),
    Table(
        "methods",
        e.Method,
        ("method",),
        "Methods of grafting, or of raising own-root plants: windows, match, take, holding.",
        (
            _text("method", "Name of the method; one a crop where windows or take differ."),
            _choice(
                "kind",
                "on-tray: the rootstock stays in its final cell. root-cut: it is cut off its roots "
                "and stuck into a fresh cell. own-root: not grafted.",
                e.Kind,
            ),
            _whole("scion_age_min", "Youngest scion on graft day, from sowing.", "days"),
            _whole("scion_age_max", "Oldest scion on graft day, from sowing.", "days"),
            _whole(
                "rootstock_age_min",
                "Youngest rootstock on graft day; blank for own-root.",
                "days",
                required=False,
            ),
            _whole(
                "rootstock_age_max",
                "Oldest rootstock on graft day; blank for own-root.",
                "days",
                required=False,
            ),
            _choice(
                "match_from",
                "number: 'match'. ages: table age_effects. diameters: from the lots' stem diameters "
                "and 'stem_tolerance_mm'.",
                e.MatchFrom,
                e.MatchFrom.NUMBER,
            ),
            _share(
                "match",
                "Stem match: share of seedlings at the bench that find a partner.",
                required=False,
                above_low=True,
            ),
            _number(
                "stem_tolerance_mm",
                "Largest difference of stem diameters that can be joined.",
                "mm",
                required=False,
                above_low=True,
            ),
            _share("take", "Share of joins that heal; blank for own-root.", required=False, above_low=True),
            Column(
                "consolidate",
                Type.YES_NO,
                "Whether blanks and failed joins are filled up after healing, so that fewer trays go on.",
                required=False,
                default=False,
            ),
            _share("finish_survival", "Share of healed plants that can be sold.", 1.0, above_low=True),
            _ref("holding_zone", "Where ready plants wait for their due day.", _ZONE),
            _whole("holding_limit_days", "Most days from ready day to due day.", "days", 0),
            _note(),
        ),
        required=True,
    ),
    Table(
        "stages",
        e.Stage,
        ("method", "step"),
        "What follows graft day (own-root: leaving the seedling bench): runs of days in zones.",
        (
            _ref("method", "Whose stage it is.", _METHOD),
            _whole("step", "Order of the stages: 1, 2, 3 ...", "", low=1),
            _text("stage", "Name of the stage: dark, ramp, hardening ..."),
            _choice(
                "part",
                "healing: until the union holds; take shows at its end. finishing: after it.",
                e.Part,
            ),
            _ref("zone", "Where the plants stand.", _ZONE),
            _whole("days", "Days in the stage.", "days"),
        ),
    ),
    Table(
        "age_effects",
        e.AgeEffect,
        ("method", "rootstock_age", "scion_age"),
        "Stem match and take by the ages of both seedlings, where a nursery has counted them.",
        (
            _ref("method", "Whose figures these are.", _METHOD),
            _whole("rootstock_age", "Age of the rootstock on graft day.", "days"),
            _whole("scion_age", "Age of the scion on graft day.", "days"),
            _share("match", "Stem match at these ages.", required=False, above_low=True),
            _share("take", "Take at these ages; blank: the method's.", required=False, above_low=True),
        ),
    ),
    Table(
        "labour_standards",
        e.LabourStandard,
        ("task", "method", "format"),
        "Seconds that a task takes at the standard pace; the closest matching row counts.",
        (
            _choice(
                "task",
                "sow, move, consolidate: a tray. tend (outside healing), care (in healing): a tray "
                "and day. graft, stick: a join. grade: a finished plant. pack: a plant delivered.",
                e.Task,
            ),
            _text("skill", "Skill that the task wants."),
            _ref("method", "Only for this method; blank for all.", _METHOD, required=False),
            _ref("format", "Only for this tray format; blank for all.", _FORMAT, required=False),
            _number("seconds", "Time at the standard pace.", "s"),
            _note(),
        ),
    ),
    Table(
        "supplies",
        e.Supply,
        ("supply",),
        "Supplies: clips, stakes, trays, media, labels.",
        (
            _text("supply", "Name of the supply."),
            _text("unit", "Unit in which it is counted."),
            _number("stock", "Units on hand.", "units", 0.0),
            _whole("lead_days", "Days from ordering to having it.", "days", 0),
            _note(),
        ),
    ),
    Table(
        "supply_uses",
        e.SupplyUse,
        ("supply", "per", "method", "format"),
        "What is used up of each supply; of rows for one supply and 'per', the closest counts.",
        (
            _ref("supply", "What is used.", ("supplies", "supply")),
            _choice("per", "What the quantity is used per.", e.Per),
            _ref("method", "Only for this method; blank for all.", _METHOD, required=False),
            _ref("format", "Only for this tray format; blank for all.", _FORMAT, required=False),
            _number("quantity", "Units used.", "units"),
        ),
    ),
    Table(
        "packs",
        e.Pack,
        ("item", "size"),
        "Packs in which seed lots and supplies are bought, with their price.",
        (
            _ref("item", "Seed lot or supply.", ("seed_lots", "lot"), ("supplies", "supply")),
            _number("size", "Seeds or units in the pack.", "units", above_low=True),
            _number("price", "Price of the pack.", "currency/pack"),
        ),
    ),
    Table(
        "zones",
        e.Zone,
        ("zone",),
        "Places with slots. A slot takes one standard flat (nominal 1020 footprint).",
        (
            _text("zone", "Name of the zone."),
            _choice("use", "What it is for.", e.ZoneUse),
            _choice(
                "mode",
                "pool: any slot at any time. units: chambers filled and emptied as a whole.",
                e.ZoneMode,
                e.ZoneMode.POOL,
            ),
            _number("slots", "Slots of a pool; blank for units.", "slots", required=False),
            _whole("units", "Number of units; blank for a pool.", "units", required=False),
            _number(
                "unit_slots",
                "Slots in one unit; blank for a pool.",
                "slots",
                required=False,
                above_low=True,
            ),
            _whole(
                "load_days",
                "Most consecutive days on which a unit is loaded; blank for a pool.",
                "days",
                required=False,
                low=1,
            ),
            _number("cost_per_slot_day", "Heat and light of a slot in use.", "currency/slot-day", 0.0),
            _note(),
        ),
        required=True,
    ),
    Table(
        "zone_days",
        e.ZoneDay,
        ("zone", "from_day"),
        "Changes of a zone by date: from that day on. A blank leaves the figure as it was.",
        (
            _ref("zone", "Which zone.", _ZONE),
            _date("from_day", "First day of the new figures."),
            _number("slots", "Slots of a pool from then on.", "slots", required=False),
            _whole("units", "Units from then on.", "units", required=False),
            _number("cost_per_slot_day", "Heat and light from then on.", "currency/slot-day", required=False),
        ),
    ),
    Table(
        "crews",
        e.Crew,
        ("crew",),
        "Crews: hands with the same skills, pay and calendar. Pay rules are the owner's to check.",
        (
            _text("crew", "Name of the crew."),
            Column("skills", Type.CHOICES, "Skills of all its hands, parted by ';'."),
            _number("heads", "Hands.", "heads"),
            _number("hours_per_head_day", "Regular hours a working day.", "h", high=24),
            _number("pay_per_hour", "Pay with all that goes on top.", PER_HOUR),
            _choice(
                "pay_basis",
                "used: regular hours are paid as worked. committed: all regular hours of the calendar are paid.",
                e.PayBasis,
                e.PayBasis.USED,
            ),
            _number("pace", "Pace relative to the labour standards.", "ratio", 1.0, above_low=True),
            _number("overtime_hours_per_head_day", "Most overtime a working day.", "h", 0.0, high=24),
            _number(
                "overtime_pay_per_hour",
                "Pay of overtime and of hours on days off; blank: the regular pay.",
                PER_HOUR,
                required=False,
            ),
            _number("day_off_hours_per_head", "Most hours on a day off, for daily care.", "h", 0.0, high=24),
            _number(
                "week_hours_per_head",
                "Most hours a week, overtime included; blank: no limit.",
                "h",
                required=False,
                high=168,
            ),
            _whole("temp_heads_most", "Most temporary hands at once.", "heads", 0),
            _number("temp_pay_per_hour", "Pay of temporary hands.", PER_HOUR, 0.0),
            _number("temp_pace", "Pace of temporary hands.", "ratio", 1.0, above_low=True),
            _whole("temp_training_days", "Working days of training before work.", "days", 0, high=7),
            _number("temp_training_cost", "Cost of training a hand, beside its pay.", "currency/head", 0.0),
            _note(),
        ),
    ),
    Table(
        "crew_days",
        e.CrewDay,
        ("crew", "from_day"),
        "Changes of a crew by date: from that day on. A blank leaves the figure as it was.",
        (
            _ref("crew", "Which crew.", ("crews", "crew")),
            _date("from_day", "First day of the new figures."),
            _number("heads", "Hands from then on.", "heads", required=False),
            _number("pay_per_hour", "Regular pay from then on.", PER_HOUR, required=False),
        ),
    ),
    Table(
        "days_off",
        e.DayOff,
        ("day",),
        "Days off beside the weekly ones: only growing plants are looked after.",
        (
            _date("day", "The day."),
            _text("reason", "Why: holiday, fair, works outing.", False),
        ),
    ),
    Table(
        "buy_in_offers",
        e.BuyInOffer,
        ("offer",),
        "Offers of finished plants from other nurseries.",
        (
            _text("offer", "Name of the offer."),
            _ref("product", "What is offered.", ("products", "product")),
            _number("price", "Price with delivery.", PER_PLANT),
            _whole("lead_days", "Days from ordering to delivery.", "days", 0),
            _weekdays("delivery_weekdays", "Weekdays of delivery, parted by ';'."),
            _date("from_day", "First delivery; blank: no limit.", False),
            _date("to_day", "Last delivery; blank: no limit.", False),
            _whole("least_quantity", "Least plants a delivery.", "plants", 0),
            _whole(
                "most_per_delivery",
                "Most plants a delivery; blank: no limit.",
                "plants",
                required=False,
                low=1,
            ),
            _note(),
        ),
    ),
    Table(
        "modules",
        e.Module,
        ("module",),
        "Modules that could be added to a zone, and how many of them this scenario adds.",
        (
            _text("module", "Name of the module."),
            _ref("zone", "Zone that it enlarges.", _ZONE),
            _number("slots", "Slots of one module; in a zone of units a module is one unit.", "slots"),
            _whole("added", "Modules added in this scenario; their yearly cost is charged.", "modules", 0),
            _number("first_cost", "Price of one module, set up.", "currency/module"),
            _number("salvage_value", "Worth at the end of its life.", "currency/module", 0.0),
            _whole("life_years", "Life.", "years", low=1),
            _note(),
        ),
    ),
)

BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
