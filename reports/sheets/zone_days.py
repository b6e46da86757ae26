"""Sheets of the zones: every zone by week, healing chambers by day, units."""

from __future__ import annotations

from model.planned.plan_tables import records
from model.planned.tables.declared import BATCH
from model.planned.tables.job_tables import CLEANING
from model.program.apart_sets import GRAFTING_TABLE
from model.scenario.calendar import week_of
from reports.book.parts import Formula, SheetColumn
from reports.book.style import CellKind
from reports.plan.figures import healing_zones, is_full, share_of, zone_weeks
from reports.plan.report import Report, in_zones

SHARE = "=IF({available}=0,0,{used}/{available})"


def zones(report: Report) -> None:
    """Every zone's fullest day of each week; healing chambers first."""
    report.open(
        "Zones",
        "Zones by week",
        "The fullest day of each week in each zone, and the slot-days of the whole week. A slot holds one "
        "standard flat (nominal 1020). FULL: every slot is in use on that day."
        + ("" if report.plan.bays.empty else " Bays open: those that the week is heated for."),
        cautions=["chamber"],
    )
    by_zone = zone_weeks(report.plan)
    healing = healing_zones(report.scenario)
    uses = {zone.zone: zone.use.value for zone in report.scenario.zones}
    ordered = [*healing, *(zone for zone in by_zone if zone not in healing)]
    open_ = {(row["zone"], week_of(row["week_day"])): row["bays"] for row in records(report.plan.bays)}
    rows = [
        week._asdict()
        | {"bays": open_.get((zone, week.week))}
        | {"use": uses[zone], "share": Formula(SHARE, week.share), "full": _full(week.used, week.available)}
        for zone in ordered
        for week in by_zone.get(zone, [])
    ]
    columns = [
        report.column("slots", "zone"),
        SheetColumn("use", "Use"),
        SheetColumn("week", "Week from", CellKind.DAY),
        SheetColumn("day", "Fullest day", CellKind.DAY),
        *report.columns("slots", "used", "available"),
        SheetColumn("share", "Share used", CellKind.SHARE),
        SheetColumn("full", "Mark"),
        SheetColumn("slot_days", "Slot-days of the week", CellKind.DECIMAL, total=True),
        *([report.column("bays", "bays")] if open_ else ()),
    ]
    report.table("Zones", columns, rows, "zone")


def _full(used: float, available: float) -> str | None:
    return "FULL" if is_full(used, available) else None


def chamber(report: Report) -> None:
    """Healing chambers by day."""
    sheet = report.open(
        "Chamber",
        "Healing chamber by day",
        "Slots in use in every healing zone on every day of the plan. A busy unit counts with all its "
        "slots. Joins in healing need care on every day, days off too.",
        cautions=["chamber"],
    )
    healing = healing_zones(report.scenario)
    rows = [row for row in records(report.plan.slots) if row["zone"] in healing]
    for row in rows:
        used, available = row["used"], row["available"]
        row["free"] = available - used
        row["share"] = Formula(SHARE, share_of(used, available))
        row["full"] = _full(used, available)
    columns = [
        *report.columns("slots", "zone", "day", "used", "available"),
        SheetColumn("free", "Slots free", CellKind.DECIMAL),
        SheetColumn("share", "Share used", CellKind.SHARE),
        SheetColumn("full", "Mark"),
    ]
    sheet.table(columns, rows)


def units(report: Report) -> None:
    """What is loaded into units run all-in all-out, and when they are shut."""
    sheet = report.open(
        "Units",
        "Chamber units",
        "Units run all-in all-out: opened, loaded on the days listed, and shut until every tray has left.",
        cautions=["chamber"],
    )
    batches = {tuple(row[name] for name in BATCH): row for row in records(report.plan.unit_batches)}
    rows = [batches[tuple(row[name] for name in BATCH)] | row for row in records(report.plan.unit_loads)]
    parted = ["not_for"] if any(row["not_for"] for row in rows) else []
    columns = [
        *report.columns("unit_batches", "zone", "open_day", *parted, "units", "shut_until"),
        *report.columns("unit_loads", "load_day", "product", "graft_day"),
        *in_zones(report, "unit_loads"),
        report.column("unit_loads", "trays", total=True),
    ]
    sheet.table(columns, rows)


def kept_apart(report: Report) -> None:
    """Where groups kept apart are on which days, and when places are cleaned between them."""
    sheet = report.open(
        "Kept apart",
        "Groups kept apart",
        "Where the plants of each group named in table apart are, from a day up to another, and the days on "
        "which a place rests for cleaning before the other group comes. Seedlings belong to the groups of "
        "their lot, joined plants to those of both lots; a customer's are the plants of its orders from the "
        "graft day on. Local law on plant health says what must be kept apart, and how places are cleaned.",
    )
    rows = [
        row | {"zone": row["zone"] or GRAFTING_TABLE, "what": f"{row['what']}{_mark(row['what'])}"}
        for row in records(report.plan.kept_apart)
    ]
    names = ("zone", "what", "by", "group", "from_day", "to_day")
    sheet.table(report.columns("kept_apart", *names), rows)


def _mark(what: str) -> str:
    return " after" if what == CLEANING else ""
