"""Rules of the nursery, its orders, zones, crews, offers and modules."""

from __future__ import annotations

from collections.abc import Iterator

from model.scenario.calendar import WEEKDAYS
from model.scenario.choices import Decline, ZoneMode
from model.scenario.currencies import CODES
from scenarios.cells.draft import Draft, DraftRow, Rule, names
from scenarios.cells.faults import Fault, meant

LONGEST_HORIZON = 1096
"""Days of the longest horizon: three years."""


def _one_nursery(draft: Draft) -> Iterator[Fault]:
    for row in draft.tables["nursery"][1:]:
        yield row.fault("name", "is a second row of settings", "keep one row; a scenario is one nursery")


def _currency(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("nursery", "currency"):
        if row["currency"] not in CODES:
            code = row["currency"].upper()
            yield row.fault(
                "currency",
                "is not a currency of ISO 4217",
                f"write {code}" if code in CODES else "write three capitals, such as USD, EUR or JPY",
            )


def _horizon(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("nursery", "first_day", "last_day"):
        days = (row["last_day"] - row["first_day"]).days + 1
        if days < 1:
            yield row.fault("last_day", f"is before first_day ({row['first_day']})", "write a later day")
        elif days > LONGEST_HORIZON:
            wrong = f"makes a plan of {days:,} days"
            yield row.fault("last_day", wrong, f"plan at most {LONGEST_HORIZON:,} days")
        else:
            continue
        draft.spoil(row, "last_day")


def _due_in_horizon(draft: Draft) -> Iterator[Fault]:
    first, last = draft.first_day, draft.last_day
    for row in draft.rows("orders", "due_day"):
        if first is not None and row["due_day"] < first:
            yield row.fault("due_day", f"is before first_day ({first})", f"write a day from {first} on")
        elif last is not None and row["due_day"] > last:
            yield row.fault("due_day", f"is after last_day ({last})", f"write a day up to {last}")
        else:
            continue
        draft.spoil(row, "due_day")


_POOL, _UNITS = ("slots",), ("units", "unit_slots", "load_days")


def _zone_columns(draft: Draft) -> Iterator[Fault]:
    """A zone fills the columns that its mode needs, and leaves the others blank."""
    for row in draft.rows("zones", "mode"):
        pool = row["mode"] is ZoneMode.POOL
        for column in _POOL + _UNITS:
            if column not in row.values:
                continue
            wants, given = (column in _POOL) == pool, row[column] is not None
            if wants and not given:
                yield row.fault(
                    column, f"is blank in a zone run as {row['mode'].value}", f"write how many {column}"
                )
            elif given and not wants:
                yield row.fault(
                    column,
                    f"does not belong to a zone run as {row['mode'].value}",
                    "clear it, or change the mode",
                )
            else:
                continue
            draft.spoil(row, column)


def _zone_days(draft: Draft) -> Iterator[Fault]:
    zones = draft.by("zones", "zone", "mode")
    for row in draft.rows("zone_days", "zone", "slots", "units", "cost_per_slot_day"):
        zone = zones.get(row["zone"])
        if row["slots"] is row["units"] is row["cost_per_slot_day"] is None:
            yield row.fault("zone", "has no new figure", "fill in slots, units or cost_per_slot_day")
        if zone is None:
            continue
        wrong = "units" if zone["mode"] is ZoneMode.POOL else "slots"
        if row[wrong] is not None:
            remedy = f"use the column {'slots' if wrong == 'units' else 'units'}"
            yield row.fault(wrong, f"does not belong to a zone run as {zone['mode'].value}", remedy)


def _crew_days(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("crew_days", "crew", "heads", "pay_per_hour"):
        if row["heads"] is row["pay_per_hour"] is None:
            yield row.fault("crew", "has no new figure", "fill in heads or pay_per_hour")


def _room(draft: Draft) -> Iterator[Fault]:
    """Faults of zones that have no slots on any day."""
    if not (draft.sure("zone_days", "zone", "slots", "units") and draft.sure("modules", "zone")):
        return
    growing = {
        row["zone"]
        for row in draft.rows("zone_days", "zone")
        if (row["slots"] or 0) + (row["units"] or 0) > 0
    } | names(draft.rows("modules", "zone"), "zone")
    for row in draft.rows("zones", "zone", "mode", "slots", "units"):
        column = "slots" if row["mode"] is ZoneMode.POOL else "units"
        if row[column] == 0 and row["zone"] not in growing:
            yield row.fault(
                column, f"leaves the zone '{row['zone']}' without slots on any day", "write more than 0"
            )


def _crew_hours(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("crews", "hours_per_head_day", "overtime_hours_per_head_day"):
        hours = row["hours_per_head_day"] + row["overtime_hours_per_head_day"]
        if hours > 24:
            yield row.fault(
                "overtime_hours_per_head_day",
                f"makes a day of {hours:g} hours",
                f"write at most {24 - row['hours_per_head_day']:g}",
            )


def _skills(draft: Draft) -> Iterator[Fault]:
    """Faults of skills that no crew has, once for each skill."""
    if not draft.sure("crews", "skills"):
        return
    known = {skill for row in draft.rows("crews", "skills") for skill in row["skills"]}
    told: set[str] = set()
    for row in draft.rows("labour_standards", "skill"):
        if row["skill"] not in known and row["skill"] not in told:
            told.add(row["skill"])
            remedy = meant(row["skill"], known, "give it to a crew, in the column skills of table crews")
            yield row.fault("skill", "is a skill that no crew has", remedy)


def _sowing_standards(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("labour_standards", "task", "method"):
        if row["task"].value == "sow" and row["method"] is not None:
            yield row.fault(
                "method",
                "is given for sowing, which comes before the choice of a method",
                "clear it, or name a format",
            )


def _offers(draft: Draft) -> Iterator[Fault]:
    working = {day for row in draft.rows("nursery", "working_weekdays") for day in row["working_weekdays"]}
    for row in draft.rows("buy_in_offers"):
        yield from _offer_dates(row)
        most = row.values.get("most_per_delivery")
        least = row.values.get("least_quantity")
        if most is not None and least is not None and least > most:
            yield row.fault("least_quantity", f"is above most_per_delivery ({most})", f"write at most {most}")
        days = row.values.get("delivery_weekdays")
        if days is not None and working and not working.intersection(days):
            yield row.fault(
                "delivery_weekdays",
                "includes no working weekday",
                f"add one of {', '.join(sorted(working, key=WEEKDAYS.index))}",
            )


def _offer_dates(row: DraftRow) -> Iterator[Fault]:
    first, last = row.values.get("from_day"), row.values.get("to_day")
    if first is not None and last is not None and last < first:
        yield row.fault("to_day", f"is before from_day ({first})", f"write a day from {first} on")


def _modules(draft: Draft) -> Iterator[Fault]:
    zones = draft.by("zones", "zone", "mode", "unit_slots")
    for row in draft.rows("modules", "zone", "slots"):
        zone = zones.get(row["zone"])
        if zone is None or zone["mode"] is ZoneMode.POOL or zone["unit_slots"] is None:
            continue
        if row["slots"] != zone["unit_slots"]:
            yield row.fault(
                "slots",
                "differs from the zone's unit_slots: a module is one unit",
                f"write {zone['unit_slots']:g}",
            )


def _declinable(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("orders", "decline", "price"):
        if row["decline"] is not Decline.NO and not row["price"]:
            yield row.fault(
                "decline", "needs a price, and the order has none", "write the order's price, or no here"
            )


NURSERY = (
    Rule("a scenario is one nursery", _one_nursery),
    Rule("the currency is in ISO 4217", _currency),
    Rule("the last day is not before the first, nor too long after it", _horizon),
    Rule("orders are due within the horizon", _due_in_horizon),
    Rule("an order that may be declined has a price", _declinable),
    Rule("a zone has the columns of its mode", _zone_columns),
    Rule("a row of zone_days changes a figure that the zone's mode has", _zone_days),
    Rule("a row of crew_days changes a figure", _crew_days),
    Rule("a zone has slots on some day", _room),
    Rule("a crew's day has at most 24 hours", _crew_hours),
    Rule("some crew has every skill that work needs", _skills),
    Rule("sowing has no method", _sowing_standards),
    Rule("offers can deliver on some day", _offers),
    Rule("a module of a zone run in units is one unit", _modules),
)
