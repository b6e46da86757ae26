"""The scenario's tables: one schema, the single source of columns, types, units, ranges and help.

The reader, the writer, the blank workbook, the reference page and every error message come from
``TABLES``. Column names are the attribute names of the records in ``model.scenario.entities``.
"""

from __future__ import annotations

from typing import Any

from model.scenario import entities as e
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
    Column,
    Table,
    Type,
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
)
from model.scenario.tables_progress import PROGRESS

__all__ = ["BY_NAME", "TABLES", "Column", "Table", "Type"]

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
            text("name", "The nursery and season, as printed on every page."),
            text("currency", "Currency of all money in the scenario: its ISO 4217 code."),
            day("first_day", "First day on which anything can be done."),
            day("last_day", "Last day of the plan; no order is due later."),
            weekdays("working_weekdays", "Weekdays on which people work, parted by ';'."),
            choice(
                "margin_policy",
                "fixed: every order is grafted 'graft_margin' over expectation. level: over "
                "expectation so far that it is filled with the chance 'service_level'. priced: so far as "
                "one join more is worth it, by 'plant_cost', the penalty and the salvage price.",
                e.MarginPolicy,
                e.MarginPolicy.LEVEL,
            ),
            share(
                "service_level",
                "Chance with which an order's joins leave enough plants (policy 'level').",
                0.95,
                above_low=True,
                high=0.999999,
            ),
            share("graft_margin", "Plants over the order, in expectation (policy 'fixed').", 0.0),
            share(
                "sowing_margin",
                "Seedlings sown over what the joins draw, in expectation (sowing policy 'fixed').",
                0.0,
            ),
            number(
                "shortfall_penalty",
                "What an ordered plant that is not delivered costs, where the order names nothing "
                "else. Above any cost of a plant, or leaving orders short would pay.",
                PER_PLANT,
                above_low=True,
                high=UNIT_PRICE,
            ),
            number(
                "wave_cost", "Fixed cost of sowing a wave, however small.", "currency/wave", 0.0, high=AMOUNT
            ),
            number("overhead", "Overhead carried by the plan, once.", MONEY, 0.0, high=AMOUNT),
            share("interest_rate", "Interest a year, for the yearly cost of modules.", 0.0, high=10),
            choice(
                "sowing_policy",
                "fixed: every lot is sown 'sowing_margin' over expectation. level: so far that a wave for "
                "the smallest order that draws on it holds enough with the order's service level.",
                e.SowingPolicy,
                e.SowingPolicy.FIXED,
            ),
            number(
                "plant_cost",
                "What growing one plant more costs (policy 'priced'): below every penalty, above every "
                "salvage price.",
                PER_PLANT,
                required=False,
                above_low=True,
                high=UNIT_PRICE,
            ),
            day(
                "today",
                "First day that can still be planned; all before it has happened, as table progress says. "
                "Blank: first_day.",
                False,
            ),
            note(),
        ),
        required=True,
    ),
    Table(
        "orders",
        e.Order,
        ("order",),
        "The order book: plants of one product for one customer and due day a row.",
        (
            text("order", "Order number or name."),
            text("customer", "Who ordered."),
            ref("product", "What is ordered.", ("products", "product")),
            whole("quantity", "Plants ordered.", "plants", low=1, high=PLANTS),
            day("due_day", "Day on which the plants leave."),
            number("price", "Price agreed.", PER_PLANT, required=False, high=UNIT_PRICE),
            number(
                "shortfall_penalty",
                "What a plant not delivered costs; blank: the nursery's.",
                PER_PLANT,
                required=False,
                above_low=True,
                high=UNIT_PRICE,
            ),
            share(
                "service_level",
                "Chance of enough plants for this order; blank: the nursery's.",
                required=False,
                above_low=True,
                high=0.999999,
            ),
            share(
                "graft_margin",
                "Plants over the order, in expectation; blank: by the nursery's margin_policy.",
                required=False,
                high=9,
            ),
            choice(
                "decline",
                "May the order be declined, for want of its price? no; in part; whole: all of it or none. "
                "Where any may, the plan is that of greatest contribution.",
                e.Decline,
                e.Decline.NO,
            ),
            note(),
        ),
        required=True,
    ),
    Table(
        "products",
        e.Product,
        ("product",),
        "What is sold: a scion on a rootstock by a method, or own-root, in a tray format.",
        (
            text("product", "Name of the product."),
            text("crop", "Crop, for grouping and for remarks against published ranges."),
            ref("scion", "Variety of the top.", _VARIETY),
            ref("rootstock", "Variety of the bottom; blank for own-root.", _VARIETY, required=False),
            ref("method", "How it is grafted or raised.", _METHOD),
            ref("final_format", "Tray format in which it is sold.", _FORMAT),
            refs(
                "scion_formats",
                "Tray formats in which scions may be raised, parted by ';'. Own-root: blank for the "
                "final format.",
                _FORMAT,
            ),
            refs(
                "rootstock_formats",
                "Tray formats in which rootstocks of a root-cut method may be raised; blank for the "
                "other methods.",
                _FORMAT,
            ),
            number(
                "salvage_price", "What a plant left over can be sold for.", PER_PLANT, 0.0, high=UNIT_PRICE
            ),
            whole("salvage_most", "Most plants left over that can be sold.", "plants", 0, high=PLANTS),
            choice(
                "source",
                "either: whichever costs least; grow: not bought in; buy: bought in only, by the offers.",
                e.Source,
                e.Source.EITHER,
            ),
            note(),
        ),
        required=True,
    ),
    Table(
        "seed_lots",
        e.SeedLot,
        ("lot",),
        "Seed lots: seed of one variety, with its germination, stock and lead time.",
        (
            text("lot", "Name of the lot."),
            text("variety", "Variety; several lots may be of one variety."),
            text("crop", "Crop, for remarks against published ranges.", False),
            share("germination", "Share of seeds that germinate.", low=LEAST_SHARE),
            share("grade_out", "Share of seedlings not usable.", 0.0, high=0.99),
            whole(
                "seeds_per_cell", "Seeds sown in a cell, thinned to one plant.", "seeds", 1, low=1, high=20
            ),
            whole("stock", "Seeds on hand.", "seeds", 0, high=UNITS),
            days("lead_days", "Days from ordering to seed in hand.", 0),
            days("germination_days", "Days in the germination room.", 0),
            ref("germination_zone", "Where trays germinate.", _ZONE),
            ref("bench_zone", "Where seedlings grow until graft day.", _ZONE),
            number(
                "diameter_start_mm",
                "Mean stem diameter at age 0, extended back from later ages; for match from diameters.",
                "mm",
                required=False,
                low=-100,
                high=100,
            ),
            number(
                "diameter_growth_mm_per_day",
                "Growth of the mean stem diameter.",
                "mm/day",
                required=False,
                high=100,
            ),
            number(
                "diameter_spread_mm",
                "Standard deviation of the stem diameter at age 0.",
                "mm",
                required=False,
                high=100,
            ),
            number(
                "diameter_spread_growth_mm_per_day",
                "Growth of the standard deviation.",
                "mm/day",
                0.0,
                high=100,
            ),
            share(
                "germination_correlation",
                "How alike seeds of the lot fare beyond its germination: intra-lot correlation. 0: each "
                "comes up or not on its own.",
                0.0,
                high=0.9,
            ),
            share(
                "sowing_margin",
                "Seedlings sown over what the joins draw, in expectation; blank: by the nursery's "
                "sowing_policy.",
                required=False,
                high=9,
            ),
            note(),
        ),
        required=True,
    ),
    Table(
        "tray_formats",
        e.TrayFormat,
        ("format",),
        "Tray formats: cells a tray and the slots it takes.",
        (
            text("format", "Name of the format."),
            whole("cells", "Cells in a tray.", "cells", low=1, high=5000),
            number("slots", "Slots that a tray takes.", "slots", 1.0, low=0.01, high=100),
            note(),
        ),
        required=True,
    ),
    Table(
        "methods",
        e.Method,
        ("method",),
        "Methods of grafting, or of raising own-root plants: windows, match, take, holding.",
        (
            text("method", "Name of the method; one a crop where windows or take differ."),
            choice(
                "kind",
                "on-tray: the rootstock stays in its final cell. root-cut: it is cut off its roots "
                "and stuck into a fresh cell. own-root: not grafted.",
                e.MethodKind,
            ),
            days("scion_age_min", "Youngest scion on graft day, from sowing."),
            days("scion_age_max", "Oldest scion on graft day, from sowing."),
            days("rootstock_age_min", "Youngest rootstock on graft day; blank for own-root.", required=False),
            days("rootstock_age_max", "Oldest rootstock on graft day; blank for own-root.", required=False),
            choice(
                "match_from",
                "number: 'match'. ages: table age_effects. diameters: from the lots' stem diameters "
                "and 'stem_tolerance_mm'.",
                e.MatchFrom,
                e.MatchFrom.NUMBER,
            ),
            share(
                "match",
                "Stem match: share of seedlings at the bench that find a partner.",
                required=False,
                low=LEAST_SHARE,
            ),
            number(
                "stem_tolerance_mm",
                "Largest difference of stem diameters that can be joined.",
                "mm",
                required=False,
                low=0.01,
                high=100,
            ),
            share("take", "Share of joins that heal; blank for own-root.", required=False, low=LEAST_SHARE),
            Column(
                "consolidate",
                Type.YES_NO,
                "Whether blanks and failed joins are filled up after healing, so that fewer trays go on.",
                required=False,
                default=False,
            ),
            share("finish_survival", "Share of healed plants that can be sold.", 1.0, low=LEAST_SHARE),
            ref("holding_zone", "Where ready plants wait for their due day.", _ZONE),
            days("holding_limit_days", "Most days from ready day to due day.", 0),
            share(
                "take_correlation",
                "How alike joins of one graft day fare beyond the take: intra-lot correlation. 0: each "
                "heals or fails on its own.",
                0.0,
                high=0.9,
            ),
            note(),
        ),
        required=True,
    ),
    Table(
        "stages",
        e.Stage,
        ("method", "step"),
        "What follows graft day (own-root: leaving the seedling bench): runs of days in zones.",
        (
            ref("method", "Whose stage it is.", _METHOD),
            whole("step", "Order of the stages: 1, 2, 3 ...", "", low=1, high=100),
            text("stage", "Name of the stage: dark, ramp, hardening ..."),
            choice(
                "part",
                "healing: until the union holds; take shows at its end. finishing: after it.",
                e.Part,
            ),
            ref("zone", "Where the plants stand.", _ZONE),
            days("days", "Days in the stage."),
        ),
    ),
    Table(
        "age_effects",
        e.AgeEffect,
        ("method", "rootstock_age", "scion_age"),
        "Stem match and take by the ages of both seedlings, where a nursery has counted them.",
        (
            ref("method", "Whose figures these are.", _METHOD),
            days("rootstock_age", "Age of the rootstock on graft day."),
            days("scion_age", "Age of the scion on graft day."),
            share("match", "Stem match at these ages.", required=False, low=LEAST_SHARE),
            share("take", "Take at these ages; blank: the method's.", required=False, low=LEAST_SHARE),
        ),
    ),
    Table(
        "labour_standards",
        e.LabourStandard,
        ("task", "method", "format"),
        "Seconds that a task takes at the standard pace; the closest matching row counts.",
        (
            choice(
                "task",
                "sow, move, consolidate: a tray. tend (outside healing), care (in healing): a tray "
                "and day. graft, stick: a join. grade: a finished plant. pack: a plant delivered.",
                e.Task,
            ),
            text("skill", "Skill that the task wants."),
            ref("method", "Only for this method; blank for all.", _METHOD, required=False),
            ref("format", "Only for this tray format; blank for all.", _FORMAT, required=False),
            number("seconds", "Time at the standard pace.", "s", high=TASK),
            note(),
        ),
    ),
    Table(
        "supplies",
        e.Supply,
        ("supply",),
        "Supplies: clips, stakes, trays, media, labels.",
        (
            text("supply", "Name of the supply."),
            text("unit", "Unit in which it is counted."),
            number("stock", "Units on hand.", "units", 0.0, high=UNITS),
            days("lead_days", "Days from ordering to having it.", 0),
            note(),
        ),
    ),
    Table(
        "supply_uses",
        e.SupplyUse,
        ("supply", "per", "method", "format"),
        "What is used up of each supply; of rows for one supply and 'per', the closest counts.",
        (
            ref("supply", "What is used.", ("supplies", "supply")),
            choice("per", "What the quantity is used per.", e.Per),
            ref("method", "Only for this method; blank for all.", _METHOD, required=False),
            ref("format", "Only for this tray format; blank for all.", _FORMAT, required=False),
            number("quantity", "Units used.", "units", high=USED),
        ),
    ),
    Table(
        "packs",
        e.Pack,
        ("item", "size"),
        "Packs in which seed lots and supplies are bought, with their price.",
        (
            ref("item", "Seed lot or supply.", ("seed_lots", "lot"), ("supplies", "supply")),
            number("size", "Seeds or units in the pack.", "units", low=0.001, high=UNITS),
            number("price", "Price of the pack.", "currency/pack", high=AMOUNT),
        ),
    ),
    Table(
        "zones",
        e.Zone,
        ("zone",),
        "Places with slots. A slot takes one standard flat (nominal 1020 footprint).",
        (
            text("zone", "Name of the zone."),
            choice("use", "What it is for.", e.ZoneUse),
            choice(
                "mode",
                "pool: any slot at any time. units: chambers filled and emptied as a whole.",
                e.ZoneMode,
                e.ZoneMode.POOL,
            ),
            number("slots", "Slots of a pool; blank for units.", "slots", required=False, high=SLOTS),
            whole("units", "Number of units; blank for a pool.", "units", required=False, high=HEADS),
            number(
                "unit_slots",
                "Slots in one unit; blank for a pool.",
                "slots",
                required=False,
                above_low=True,
                high=SLOTS,
            ),
            days(
                "load_days",
                "Most consecutive days on which a unit is loaded; blank for a pool.",
                required=False,
                low=1,
            ),
            number(
                "cost_per_slot_day",
                "Heat and light of a slot in use.",
                "currency/slot-day",
                0.0,
                high=UNIT_PRICE,
            ),
            note(),
        ),
        required=True,
    ),
    Table(
        "zone_days",
        e.ZoneDay,
        ("zone", "from_day"),
        "Changes of a zone by date: from that day on. A blank leaves the figure as it was.",
        (
            ref("zone", "Which zone.", _ZONE),
            day("from_day", "First day of the new figures."),
            number("slots", "Slots of a pool from then on.", "slots", required=False, high=SLOTS),
            whole("units", "Units from then on.", "units", required=False, high=HEADS),
            number(
                "cost_per_slot_day",
                "Heat and light from then on.",
                "currency/slot-day",
                required=False,
                high=UNIT_PRICE,
            ),
        ),
    ),
    Table(
        "crews",
        e.Crew,
        ("crew",),
        "Crews: hands with the same skills, pay and calendar. Pay rules are the owner's to check.",
        (
            text("crew", "Name of the crew."),
            Column("skills", Type.CHOICES, "Skills of all its hands, parted by ';'."),
            number("heads", "Hands.", "heads", high=HEADS),
            number("hours_per_head_day", "Regular hours a working day.", "h", high=24),
            number("pay_per_hour", "Pay with all that goes on top.", PER_HOUR, high=UNIT_PRICE),
            choice(
                "pay_basis",
                "used: regular hours are paid as worked. committed: those of the whole calendar are paid.",
                e.PayBasis,
                e.PayBasis.USED,
            ),
            number(
                "pace", "Pace relative to the labour standards.", "ratio", 1.0, low=PACES[0], high=PACES[1]
            ),
            number("overtime_hours_per_head_day", "Most overtime a working day.", "h", 0.0, high=24),
            number(
                "overtime_pay_per_hour",
                "Pay of overtime and of hours on days off; blank: the regular pay.",
                PER_HOUR,
                required=False,
                high=UNIT_PRICE,
            ),
            number("day_off_hours_per_head", "Most hours on a day off, for daily care.", "h", 0.0, high=24),
            number(
                "week_hours_per_head",
                "Most hours a week, overtime included; blank: no limit.",
                "h",
                required=False,
                high=168,
            ),
            whole("temp_heads_most", "Most temporary hands at once.", "heads", 0, high=HEADS),
            number("temp_pay_per_hour", "Pay of temporary hands.", PER_HOUR, 0.0, high=UNIT_PRICE),
            number("temp_pace", "Pace of temporary hands.", "ratio", 1.0, low=PACES[0], high=PACES[1]),
            whole("temp_training_days", "Working days of training before work.", "days", 0, high=7),
            number(
                "temp_training_cost",
                "Cost of training a hand, beside its pay.",
                "currency/head",
                0.0,
                high=AMOUNT,
            ),
            note(),
        ),
    ),
    Table(
        "crew_days",
        e.CrewDay,
        ("crew", "from_day"),
        "Changes of a crew by date: from that day on. A blank leaves the figure as it was.",
        (
            ref("crew", "Which crew.", ("crews", "crew")),
            day("from_day", "First day of the new figures."),
            number("heads", "Hands from then on.", "heads", required=False, high=HEADS),
            number("pay_per_hour", "Regular pay from then on.", PER_HOUR, required=False, high=UNIT_PRICE),
        ),
    ),
    Table(
        "days_off",
        e.DayOff,
        ("day",),
        "Days off beside the weekly ones: only growing plants are looked after.",
        (
            day("day", "The day."),
            text("reason", "Why: holiday, fair, works outing.", False),
        ),
    ),
    Table(
        "buy_in_offers",
        e.BuyInOffer,
        ("offer",),
        "Offers of finished plants from other nurseries.",
        (
            text("offer", "Name of the offer."),
            ref("product", "What is offered.", ("products", "product")),
            number("price", "Price with delivery.", PER_PLANT, high=UNIT_PRICE),
            days("lead_days", "Days from ordering to delivery.", 0),
            weekdays("delivery_weekdays", "Weekdays of delivery, parted by ';'."),
            day("from_day", "First delivery; blank: no limit.", False),
            day("to_day", "Last delivery; blank: no limit.", False),
            whole("least_quantity", "Least plants a delivery.", "plants", 0, high=PLANTS),
            whole(
                "most_per_delivery",
                "Most plants a delivery; blank: no limit.",
                "plants",
                required=False,
                low=1,
                high=PLANTS,
            ),
            note(),
        ),
    ),
    Table(
        "modules",
        e.Module,
        ("module",),
        "Modules that could be added to a zone, and how many of them this scenario adds.",
        (
            text("module", "Name of the module."),
            ref("zone", "Zone that it enlarges.", _ZONE),
            number(
                "slots", "Slots of one module; in a zone of units a module is one unit.", "slots", high=SLOTS
            ),
            whole(
                "added",
                "Modules added in this scenario; their yearly cost is charged.",
                "modules",
                0,
                high=HEADS,
            ),
            number("first_cost", "Price of one module, set up.", "currency/module", high=AMOUNT),
            number("salvage_value", "Worth at the end of its life.", "currency/module", 0.0, high=AMOUNT),
            whole("life_years", "Life.", "years", low=1, high=100),
            note(),
        ),
    ),
    PROGRESS,
)

BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}


def records_of(scenario: e.Scenario, table: Table) -> tuple[Any, ...]:
    """The rows of a table of the scenario."""
    records = getattr(scenario, table.name)
    return records if isinstance(records, tuple) else (records,)
