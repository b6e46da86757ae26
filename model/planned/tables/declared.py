"""The declarations of the plan's tables: each column with type, unit and help."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from model.planned.tables.job_tables import CHANGE_OVERS, KEPT_APART, PIECES
from model.planned.tables.plan_schema import (
    PlanColumn,
    choice,
    day,
    money,
    number,
    ref,
    share,
    table,
    text,
    whole,
)

MONEY, PER_PLANT = "currency", "currency/plant"

LIMITS = (
    "order",
    "slots",
    "units",
    "regular hours",
    "overtime hours",
    "week hours",
    "skill hours",
    "one graft day",
    "share of a lot",
    "share of a unit",
    "stock",
    "buy-in",
)
"""Kinds of limits that have shadow prices."""

FLOW = ("product", "graft_day", "in_zones")
"""Columns that name a flow."""

BATCH = ("zone", "open_day", "shut_until", "not_for")
"""Columns that name units opened together."""

FlowKey = tuple[str, date, str | None]
"""Product, graft day and zones chosen of a flow."""


def flow_key(cells: Sequence[Any]) -> FlowKey:
    """The key of a flow from its cells in the columns ``FLOW``."""
    product, graft, in_zones = cells
    return product, graft, in_zones


def _in_zones() -> PlanColumn:
    """The zones chosen for a flow."""
    return text(
        "in_zones",
        "In zones",
        "zones chosen, in the order of the stages that have several, holding last; blank where none has",
        blank=True,
    )


def _shut_until() -> PlanColumn:
    return day("shut_until", "Empty again on", "day on which the units are empty again", end=True)


def _not_for() -> PlanColumn:
    """Groups that units are not for."""
    return text(
        "not_for",
        "Not for",
        "groups whose plants may not be in these units, as table apart says; blank: none is kept out",
        blank=True,
    )


_WAVE, _LOT, _FORMAT = ("waves", "wave"), ("seed_lots", "lot"), ("tray_formats", "format")
_PRODUCT, _METHOD, _ORDER = ("products", "product"), ("methods", "method"), ("orders", "order")
_ZONE, _CREW, _OFFER = ("zones", "zone"), ("crews", "crew"), ("buy_in_offers", "offer")
_ITEM = (_LOT, ("supplies", "supply"))

DECLARED = (
    table(
        "waves",
        "What is sown when, and the trays on hand on the first day.",
        ("wave",),
        text("wave", "Wave", "name of the wave; names follow the order of sowing"),
        ref("lot", "Seed lot", "seed lot", _LOT),
        text("variety", "Variety", "variety of the lot"),
        ref("format", "Tray format", "tray format", _FORMAT),
        day("sow_day", "Sow on", "day of sowing; before the first day for trays on hand", early=True),
        day("bench_day", "To bench", "day on which trays leave germination_zone for the bench", early=True),
        number("trays", "Trays", "trays sown, or on hand", "trays"),
        number("seeds", "Seeds", "seeds sown from the first day on; 0 for trays on hand", "seeds"),
        number(
            "usable_per_tray",
            "Usable per tray",
            "usable seedlings expected per tray, less a fixed sowing margin",
            "seedlings/tray",
            above_zero=True,
        ),
        number(
            "drawn",
            "Seedlings drawn",
            "seedlings brought to the bench for joins (own-root: moved on)",
            "seedlings",
        ),
        day(
            "clear_day",
            "Cleared",
            "first day without a tray of the wave on the seedling bench",
            end=True,
            early=True,
        ),
    ),
    table(
        "germination",
        "Trays of waves that germinate in another zone than germination_zone of their lot; the others stand "
        "in that.",
        ("wave", "zone"),
        ref("wave", "Wave", "name of the wave", _WAVE),
        ref("zone", "Germinates in", "zone in which the trays germinate", _ZONE),
        number("trays", "Trays", "trays that germinate there", "trays"),
        day("bench_day", "To bench", "day on which they move from there to the bench"),
    ),
    table(
        "bench_trays",
        "Trays of each wave on the seedling bench.",
        ("wave", "from_day"),
        ref("wave", "Wave", "name of the wave", _WAVE),
        day("from_day", "From day", "first day with this number of trays on the seedling bench"),
        day("to_day", "To day", "day on which the number changes; not part of the span", end=True),
        number("trays", "Trays", "trays on the seedling bench", "trays"),
    ),
    table(
        "joins",
        "What is grafted when, from which waves.",
        (*FLOW, "rootstock_wave", "scion_wave"),
        ref("product", "Product", "product", _PRODUCT),
        day(
            "graft_day",
            "Graft day",
            "graft day (own-root: day on which seedlings leave the bench); before the first day for plants "
            "on hand",
            early=True,
        ),
        _in_zones(),
        ref(
            "rootstock_wave", "Rootstock wave", "wave of the rootstock; blank for own-root", _WAVE, blank=True
        ),
        ref("scion_wave", "Scion wave", "wave of the scion", _WAVE),
        whole("rootstock_age", "Rootstock age", "days from sowing; blank for own-root", "days", blank=True),
        whole("scion_age", "Scion age", "days from sowing", "days"),
        number("joins", "Joins", "joins made (own-root: seedlings moved on)", "joins"),
        share("match", "Stem match", "stem match, share of seedlings", above_zero=True),
        share("take", "Take", "take at these ages, share of joins"),
        number(
            "seedlings",
            "Seedlings of each",
            "seedlings drawn from each of the two waves: joins / match",
            "seedlings",
        ),
    ),
    table(
        "spare_seedlings",
        "Seedlings kept as sowing margin, with sowing policy 'level'.",
        (*FLOW, "side", "wave"),
        ref("product", "Product", "product for which they are kept", _PRODUCT),
        day("graft_day", "Graft day", "graft day on which they stand in for seedlings that fail"),
        _in_zones(),
        choice("side", "Side", "rootstock or scion (own-root: scion)", ("rootstock", "scion")),
        ref("wave", "Wave", "wave of the seedlings", _WAVE),
        number("seedlings", "Spare seedlings", "seedlings expected beyond those drawn", "seedlings"),
    ),
    table(
        "ways",
        "Products that can be made in several ways: what is made in which way on each graft day, and what "
        "another plant made so would cost more.",
        ("way", "graft_day", "in_zones"),
        ref("product", "Product", "product as orders name it", _PRODUCT),
        ref("way", "Made as", "row of products by which it is made", _PRODUCT),
        ref("method", "Method", "method", _METHOD),
        day("graft_day", "Graft day", "graft day; before the first day for plants on hand", early=True),
        _in_zones(),
        number("joins", "Joins", "joins made in this way on that day", "joins"),
        number("finished", "Finished", "plants ready for sale", "plants"),
        number(
            "dearer",
            "Dearer by",
            "what another plant costs more when made in this way on that day than where it costs least, at "
            "least, in the continuous program; blank where no order can have it",
            PER_PLANT,
            blank=True,
        ),
    ),
    table(
        "flows",
        "All joins of one product on one day that go through the same zones, from graft day to ready day.",
        FLOW,
        ref("product", "Product", "product", _PRODUCT),
        day("graft_day", "Graft day", "graft day; before the first day for plants on hand", early=True),
        _in_zones(),
        ref("method", "Method", "method", _METHOD),
        number("joins", "Joins", "joins (own-root: seedlings moved on)", "joins"),
        number(
            "trays_loaded",
            "Trays in healing",
            "trays from the graft day through healing; whole ones where orders leave in whole trays",
            "trays",
        ),
        number("healed", "Healed", "plants healed", "plants"),
        number(
            "trays_finishing",
            "Trays in finishing",
            "trays through finishing; whole ones where orders leave in whole trays",
            "trays",
        ),
        number("finished", "Finished", "plants ready for sale", "plants"),
        day("ready_day", "Ready day", "ready day", early=True),
        number("delivered", "For orders", "plants for orders", "plants"),
        number("margin_plants", "Margin", "plants kept beyond the orders as overseeding margin", "plants"),
        number("surplus", "Surplus", "plants finished beyond orders and margin", "plants"),
    ),
    table(
        "deliveries",
        "Where the plants of each order come from.",
        ("order", "source", *FLOW, "offer", "ready_day"),
        ref("order", "Order", "order", _ORDER),
        ref("product", "Product", "product", _PRODUCT),
        choice("source", "From", "own growing or buy-in", ("own", "buy-in")),
        day("graft_day", "Graft day", "graft day of the flow; blank for buy-in", blank=True, early=True),
        _in_zones(),
        ref("offer", "Offer", "buy-in offer; blank for own", _OFFER, blank=True),
        day("ready_day", "Ready or delivered", "ready day, or day of arrival for buy-in", early=True),
        day("due_day", "Due day", "due day", end=True),
        day("pack_day", "Pack on", "day of packing"),
        whole(
            "days_late", "Days late", "days after the due day on which the plants leave; 0: in time", "days"
        ),
        number("plants", "Plants", "plants for the order", "plants"),
        number(
            "margin_plants",
            "Held as margin",
            "plants held for the order as overseeding margin; 0 for buy-in",
            "plants",
        ),
    ),
    table(
        "trace",
        "Which lots the plants of each order come from, own plants only.",
        ("order", *FLOW, "rootstock_wave", "scion_wave"),
        ref("order", "Order", "order", _ORDER),
        ref("product", "Product", "product", _PRODUCT),
        day("graft_day", "Graft day", "graft day of the flow", early=True),
        _in_zones(),
        ref(
            "rootstock_wave", "Rootstock wave", "wave of the rootstock; blank for own-root", _WAVE, blank=True
        ),
        ref("scion_wave", "Scion wave", "wave of the scion", _WAVE),
        day("pack_day", "Pack on", "day of packing"),
        number("plants", "Plants", "plants for the order from this pair of waves", "plants"),
    ),
    table(
        "orders",
        "How each order is filled.",
        ("order",),
        ref("order", "Order", "order", _ORDER),
        text("customer", "Customer", "customer"),
        ref("product", "Product", "product", _PRODUCT),
        day("due_day", "Due day", "due day", end=True),
        whole("quantity", "Plants ordered", "plants to send: those ordered, and extra ones", "plants"),
        whole("extra", "Of them extra", "of these plants, extra ones that are not billed", "plants"),
        number("own", "Own", "plants from own growing", "plants"),
        number("bought", "Bought in", "plants bought in", "plants"),
        number("short", "Short", "plants short", "plants"),
        number("declined", "Declined", "plants declined", "plants"),
        number(
            "late", "Late", "of the plants own and bought in, those that come after the due day", "plants"
        ),
        money("late_discount", "Late discount", "price given up for plants that come late"),
        number(
            "price",
            "Price",
            "price per plant sent, be it billed or extra; blank if there is none",
            PER_PLANT,
            blank=True,
        ),
        share("margin", "Graft margin", "graft margin: expected plants beyond the order, as a share of it"),
        number(
            "penalty",
            "Shortfall penalty",
            "penalty per plant short, with the plant's price if the order may be declined",
            PER_PLANT,
        ),
        text("short_because", "Why short", "why plants are short; blank if none are", blank=True),
    ),
    table(
        "salvage",
        "Plants left over.",
        ("product",),
        ref("product", "Product", "product", _PRODUCT),
        number("surplus", "Surplus", "surplus plants", "plants"),
        number("sold", "Sold", "surplus plants sold at the salvage price", "plants"),
        number("price", "Salvage price", "salvage price per plant", PER_PLANT),
        money("amount", "Amount", "income"),
    ),
    table(
        "slots",
        "How full each zone is on each day.",
        ("zone", "day"),
        ref("zone", "Zone", "zone", _ZONE),
        day("day", "Day", "day"),
        number("used", "Slots used", "slots used; a busy unit counts with all its slots", "slots"),
        number("available", "Slots available", "slots available, modules included", "slots"),
        number("cost_per_slot_day", "Cost", "cost of a slot in use", "currency/slot-day"),
        money("amount", "Amount", "cost"),
    ),
    table(
        "bays",
        "Bays that are opened whole: how many are open in each week, and how full they are.",
        ("zone", "week_day"),
        ref("zone", "Zone", "zone with bays", _ZONE),
        day("week_day", "Week from", "first day of the week in the plan"),
        number("bays", "Bays open", "bays open in the week", "bays"),
        number("used", "Slots used", "slots used on the fullest day of the week", "slots"),
        number("room", "Slots of open bays", "slots of the open bays on that day", "slots"),
        money("cost_per_bay", "Cost of a bay", "cost of a bay open in the week"),
        money("amount", "Amount", "cost"),
    ),
    table(
        "unit_batches",
        "Units run all-in all-out: when they are opened, and when they are empty again.",
        BATCH,
        ref("zone", "Zone", "zone run all-in all-out", _ZONE),
        day("open_day", "Opened on", "first day of loading"),
        _shut_until(),
        _not_for(),
        number("units", "Units opened", "units opened", "units"),
        number("slots_loaded", "Slots loaded", "slots of the trays loaded over all loading days", "slots"),
    ),
    table(
        "unit_loads",
        "What is loaded into these units.",
        (*BATCH, *FLOW, "load_day"),
        ref("zone", "Zone", "zone run all-in all-out", _ZONE),
        day("open_day", "Opened on", "first day of loading of the batch"),
        _shut_until(),
        _not_for(),
        ref("product", "Product", "product of the flow", _PRODUCT),
        day("graft_day", "Graft day", "graft day of the flow"),
        _in_zones(),
        day("load_day", "Load on", "day on which the flow's stay in the zone starts"),
        number("trays", "Trays", "trays of the flow loaded on this day into units of this batch", "trays"),
    ),
    KEPT_APART,
    CHANGE_OVERS,
    table(
        "hours",
        "Hours of work by crew, hands, day, skill and task.",
        ("crew", "hands", "day", "skill", "task"),
        ref("crew", "Crew", "crew", _CREW),
        choice("hands", "Hands", "the crew's own hands or temporary hands", ("own", "temporary")),
        day("day", "Day", "day"),
        text("skill", "Skill", "skill"),
        text(
            "task",
            "Task",
            "task: one with a labour standard (of one in roles, task: role), one of the nursery's own, or "
            "attend (a machine)",
        ),
        number("hours", "Worked", "hours worked, by the clock", "h"),
    ),
    table(
        "crew_days",
        "Hours of each crew on each day.",
        ("crew", "day"),
        ref("crew", "Crew", "crew", _CREW),
        day("day", "Day", "day"),
        number("regular", "Regular", "regular hours worked", "h"),
        number("overtime", "Overtime", "overtime, or hours on a day off", "h"),
        number("regular_available", "Regular available", "regular hours available", "h"),
        number("overtime_available", "Overtime available", "overtime hours available", "h"),
        number("training", "Training", "own hours spent with new temporary hands", "h"),
        number("temporary", "Temporary hands", "hours worked by temporary hands, at their full pace", "h"),
        number(
            "temporary_available",
            "Temporary available",
            "hours of temporary hands at their full pace, overtime included and training left out",
            "h",
        ),
        number(
            "called", "Called", "trained temporary hands called, where they are hired by the day", "heads"
        ),
        number(
            "temporary_overtime",
            "Temporary overtime",
            "overtime in the hours of temporary hands",
            "h",
        ),
        money(
            "amount",
            "Amount",
            "pay of regular hours and overtime; a committed crew is paid all its regular hours",
        ),
    ),
    PIECES,
    table(
        "guaranteed",
        "Guaranteed hours of a crew that are paid without work, by week.",
        ("crew", "week_day"),
        ref("crew", "Crew", "crew", _CREW),
        day("week_day", "Week from", "first day of the week in the plan"),
        number("guaranteed", "Guaranteed", "hours for which the crew is paid in the week at least", "h"),
        number("idle", "Without work", "hours of these without work", "h"),
        money("amount", "Amount", "pay of the hours without work"),
    ),
    table(
        "temporary",
        "Temporary hands by week.",
        ("crew", "week_day"),
        ref("crew", "Crew", "crew", _CREW),
        day("week_day", "Week from", "first day of the week in the plan"),
        number("heads", "Temporary hands", "temporary hands; hired by the day: those on the list", "heads"),
        number("new", "New hands", "temporary hands new in this week", "heads"),
        number("paid_hours", "Paid", "regular hours paid, training included", "h"),
        number("overtime_hours", "Temporary overtime", "hours of overtime paid", "h"),
        money("amount", "Amount", "pay, overtime and training"),
    ),
    table(
        "purchases",
        "Packs of seed and supplies to buy.",
        ("item", "size", "price"),
        ref("item", "Seed lot or supply", "seed lot or supply", *_ITEM),
        choice("kind", "Kind", "seed or supply", ("seed", "supply")),
        number("size", "In a pack (units)", "seeds or units in the pack", "units"),
        number("packs", "Packs", "packs bought, with those ordered before today", "packs"),
        number("price", "Price", "price of a pack", "currency/pack"),
        money("amount", "Amount", "cost"),
        day(
            "needed_day", "First needed on", "first day on which the stock on hand is not enough", blank=True
        ),
        day("order_by", "Order by", "last day to order: the day needed less the lead time", blank=True),
        number("ordered", "Packs ordered before today", "packs ordered before today", "packs"),
    ),
    table(
        "items",
        "Seed lots and supplies: on hand, bought, used, come back, left.",
        ("item",),
        ref("item", "Seed lot or supply", "seed lot or supply", *_ITEM),
        choice("kind", "Kind", "seed or supply", ("seed", "supply")),
        text("unit", "Unit", "unit"),
        number("stock", "On hand", "units on hand", "units"),
        number("bought", "Bought", "units bought", "units"),
        number("used", "Used", "units used", "units"),
        number("back", "Come back", "units that come back and are stock again", "units"),
        number("left", "Left", "units left at the end", "units", signed=True),
        whole("lead_days", "Lead time", "lead time", "days"),
    ),
    table(
        "item_uses",
        "Use of seed and supplies by day, and supplies that come back.",
        ("item", "day"),
        ref("item", "Seed lot or supply", "seed lot or supply", *_ITEM),
        day("day", "Day", "day of use, or on which units come back"),
        number("used", "Used", "units used on that day", "units"),
        number("back", "Come back", "units that are stock again from that day on", "units"),
    ),
    table(
        "buy_in",
        "Finished plants bought from other nurseries.",
        ("offer", "order", "arrival_day"),
        ref("offer", "Offer", "offer", _OFFER),
        ref("product", "Product", "product", _PRODUCT),
        ref("order", "For order", "order served", _ORDER),
        day("arrival_day", "Delivery", "day of delivery"),
        day("order_by", "Order by", "last day to order"),
        number("plants", "Plants", "plants", "plants"),
        number(
            "spare", "Spare", "plants bought with them for no order, to reach the offer's least", "plants"
        ),
        number("price", "Price", "price per plant", PER_PLANT),
        money("amount", "Amount", "cost"),
    ),
    table(
        "runs",
        "Vehicles that leave with plants, by run and day.",
        ("run", "day"),
        ref("run", "Run", "run", ("runs", "run")),
        day("day", "Leaves on", "day on which the vehicles leave"),
        number("vehicles", "Vehicles", "vehicles that leave", "vehicles"),
        number("trays", "Trays", "trays on them, whole ones for each order", "trays"),
        number("carries", "Room for", "trays that they carry", "trays"),
        money("amount", "Amount", "cost of the vehicles and of the trays on them"),
    ),
    table(
        "costs",
        "The plan's cost, line by line. The line declined is the price of plants declined.",
        ("line", "detail"),
        text("line", "Cost line", "cost line"),
        text("detail", "For", "item, crew, zone, offer or other thing that the cost is for"),
        money("amount", "Amount", "cost; income is negative"),
    ),
    table(
        "shadow_prices",
        "What one more of each limit is worth, and the range in which that holds.",
        ("limit", "name", "day"),
        choice("limit", "Limit", "kind of limit", LIMITS),
        text("name", "Of", "order, zone, crew, item or offer of the limit"),
        day("day", "Day", "day; blank if the limit has none", blank=True),
        text("unit", "Unit", "what one more of the limit is"),
        money(
            "value",
            "Change of cost with one more",
            "change of least cost with one more of the limit: a cost for a plant, a saving (negative) for a "
            "slot or hour",
        ),
        number("at", "Limit now", "the limit in this plan", "", signed=True),
        number(
            "low",
            "Holds down to",
            "the value holds down to this limit, or lower",
            "",
            signed=True,
        ),
        number(
            "high",
            "Holds up to",
            "the value holds up to this limit, or higher; blank: up to any",
            "",
            blank=True,
            signed=True,
        ),
    ),
)
