"""Rules for single rows of progress and of trays on hand: their columns, days and numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import NamedTuple

from model.scenario.choices import Happened, ZoneMode
from model.scenario.schema import LONGEST
from model.scenario.tables import BY_NAME
from scenarios.cells.draft import Draft, DraftRow, Rule, repeated, text_of
from scenarios.cells.faults import Fault, shown
from scenarios.cells.parse import plain, wanted
from scenarios.rules.nursery import outside
from scenarios.rules.timing import calendar_of

PROGRESS = BY_NAME["progress"]

SCION = ("lot", "format", "sow_day")
ROOTSTOCK = ("rootstock_lot", "rootstock_format", "rootstock_sow_day")


class Wants(NamedTuple):
    """Columns that a kind of row must fill, and those that it may."""

    must: tuple[str, ...]
    may: tuple[str, ...] = ()


WANTS: Mapping[Happened, Wants] = {
    Happened.SOWN: Wants(("lot", "format"), ("counted", "in_zones")),
    Happened.GRAFTED: Wants(("product", *SCION), (*ROOTSTOCK, "counted", "in_zones")),
    Happened.FINISHED: Wants(("product", "graft_day"), ("in_zones",)),
    Happened.DELIVERED: Wants(("order", "graft_day"), ("product", "in_zones")),
    Happened.BOUGHT_IN: Wants(("order", "offer", "arrival_day")),
    Happened.PACKS: Wants(("item", "size", "arrival_day")),
    Happened.HIRED: Wants(("crew",)),
    Happened.CALLED: Wants(("crew",)),
    Happened.OVERTIME: Wants(("crew",)),
    Happened.WORKED: Wants(("crew",)),
    Happened.STANDING: Wants(("zone",)),
}
"""Columns of each kind besides day, what, number and note; all others are blank."""

FREE = ("day", "what", "number", "note")
"""Columns that rows of all kinds may fill."""

IN_WHOLES = {
    Happened.SOWN: "trays",
    Happened.PACKS: "packs",
    Happened.HIRED: "hands",
    Happened.CALLED: "hands",
    Happened.STANDING: "trays",
}
"""Kinds whose number is counted in whole things."""

NONE_TELLS = {Happened.FINISHED, Happened.WORKED, Happened.STANDING}
"""Kinds in which a number of 0 has a meaning."""


def told(draft: Draft, what: Happened, *needs: str) -> list[DraftRow]:
    """Rows of a kind whose cells in the columns ``needs`` are sound, by day."""
    rows = [row for row in draft.rows("progress", "what", "day", *needs) if row["what"] is what]
    return sorted(rows, key=lambda row: row["day"])


def all_told(draft: Draft, what: Happened, *columns: str) -> bool:
    """Whether all rows of a kind are known and sound in ``columns``: then anything else did not happen."""
    if "progress" in draft.unsure:
        return False
    rows = draft.tables["progress"]
    return all("what" in row.values for row in rows) and all(
        column in row.values for row in rows if row["what"] is what for column in columns
    )


def _today(draft: Draft) -> Iterator[Fault]:
    """Today lies in the horizon, and is given where table progress has rows."""
    for row in draft.rows("nursery", "today")[:1]:
        if row["today"] is not None:
            yield from outside(draft, row, "today", late=", or a later last_day")
        elif draft.tables["progress"]:
            wrong = "is blank, but table progress has rows of the days before it"
            remedy = "write the first day that can still be planned: the day after the last one recorded"
            yield row.fault("today", wrong, remedy)


def _columns(draft: Draft) -> Iterator[Fault]:
    """A row fills the columns that its kind needs, and leaves the others blank."""
    for row in draft.rows("progress", "what"):
        kind, wants = row["what"].value, WANTS[row["what"]]
        for column in PROGRESS.columns:
            if column.name not in (*FREE, *wants.may):
                blank = f"is blank in a row '{kind}'", wanted(column)
                had = f"clear it; such a row has {', '.join((*wants.must, *wants.may))}"
                given = f"does not belong to a row '{kind}'", had
                yield from draft.misfilled(row, column.name, column.name in wants.must, blank, given)


def _rootstocks(draft: Draft) -> Iterator[Fault]:
    """Joins of a grafted product name the rootstock's wave; own-root plants have none."""
    for row, product in draft.targets(told(draft, Happened.GRAFTED, "product"), "product", "rootstock"):
        name = shown(row["product"])
        given = f"is given, but '{name}' is own-root", "clear it"
        for column in ROOTSTOCK:
            blank = f"is blank, but '{name}' is grafted", wanted(PROGRESS.by_name[column])
            yield from draft.misfilled(row, column, product["rootstock"] is not None, blank, given)


def _days(draft: Draft) -> Iterator[Fault]:
    """Rows lie between the first day and the day before today."""
    first, today = draft.first_day, draft.today
    for row in draft.rows("progress", "day"):
        if first is not None and row["day"] < first:
            earlier = "count seed and supplies that came earlier as stock"
            if row.values.get("what") is Happened.SOWN:
                earlier = "trays that stand there from earlier belong in table trays_on_hand"
            remedy = f"write a day from {first} on; {earlier}"
            yield draft.spoiled(row, "day", f"is before first_day ({first})", remedy)
        elif today is not None and row["day"] >= today:
            remedy = "write an earlier day; to record today's work, first set today to the next day"
            yield draft.spoiled(row, "day", f"is not before today ({today})", remedy)


def _other_days(draft: Draft) -> Iterator[Fault]:
    """Plants are grafted before they are counted or delivered; goods arrive after they are ordered."""
    for row in draft.rows("progress", "day"):
        day = row["day"]
        if (graft := row.values.get("graft_day")) is not None and graft > day:
            wrong = f"is after the row's day ({day})"
            yield draft.spoiled(row, "graft_day", wrong, f"write a day up to {day}")
        arrival = row.values.get("arrival_day")
        if arrival is not None and arrival < day:
            wrong = f"is before the day of ordering ({day})"
            yield draft.spoiled(row, "arrival_day", wrong, f"write a day from {day} on")
        elif arrival is not None and row.values.get("what") is Happened.BOUGHT_IN:
            yield from outside(draft, row, "arrival_day", late=", or a later last_day")


def _numbers(draft: Draft) -> Iterator[Fault]:
    """Trays, packs and hands are whole; a number of 0 stands only where it has a meaning."""
    for row in draft.rows("progress", "what", "number"):
        what, number = row["what"], row["number"]
        if what in IN_WHOLES and not float(number).is_integer():
            wrong = f"is not a whole number of {IN_WHOLES[what]}"
            yield draft.spoiled(row, "number", wrong, "write a whole number")
        elif number == 0 and what not in NONE_TELLS:
            wrong = "says that no work was done"
            yield draft.spoiled(row, "number", wrong, "write more than 0, or remove the row")


def _counted(draft: Draft) -> Iterator[Fault]:
    """A count is possible: at most a seedling for each cell, and a healed plant for each join."""
    sown = told(draft, Happened.SOWN, "number", "counted", "format")
    for row, tray in draft.targets(sown, "format", "cells"):
        yield from _over(draft, row, row["number"] * tray["cells"], "cells sown")
    for row in told(draft, Happened.GRAFTED, "number", "counted"):
        yield from _over(draft, row, row["number"], "joins made")


def _over(draft: Draft, row: DraftRow, most: float, things: str) -> Iterator[Fault]:
    if row["counted"] is not None and row["counted"] > most:
        wrong = f"is more than the {plain(most)} {things}"
        remedy = f"write at most {plain(most)}, or correct the number"
        yield draft.spoiled(row, "counted", wrong, remedy)


def _twice(draft: Draft) -> Iterator[Fault]:
    """No row is recorded twice; a zone is counted once a day. Later rules skip repeated rows."""
    again: set[int] = set()
    for row, other in repeated(draft.rows("progress", *PROGRESS.by_name), list(PROGRESS.by_name)):
        remedy = "keep one of the two, or say in the notes which is which"
        yield row.fault("day", f"is the same record as {other.place}", remedy)
        again.add(id(row))
    draft.tables["progress"] = [row for row in draft.tables["progress"] if id(row) not in again]
    for row, other in repeated(told(draft, Happened.STANDING, "zone"), ("zone", "day")):
        wrong = f"is already counted on {row['day']} in {other.place}"
        yield row.fault("zone", wrong, "keep one count for each zone and day")


def _standing(draft: Draft) -> Iterator[Fault]:
    """Trays stand only where there are slots for them."""
    smallest = min((row["slots"] for row in draft.rows("tray_formats", "slots")), default=None)
    for row, zone in draft.targets(told(draft, Happened.STANDING, "zone", "number"), "zone", "mode"):
        slots = _slots(draft, zone, row["day"])
        if slots is None or smallest is None or not draft.sure("tray_formats", "slots"):
            continue
        if slots == 0 and row["number"] > 0:
            remedy = "name the zone where they stand, or give it slots in zones or zone_days"
            yield row.fault("zone", f"has no slots on {row['day']}", remedy)
        elif row["number"] * smallest > slots:
            wrong = f"is more trays than fit into the {plain(slots)} slots of '{shown(row['zone'])}'"
            yield row.fault("number", wrong, "count again, or correct the zone's slots")


def _slots(draft: Draft, zone: DraftRow, day: date) -> float | None:
    """Slots of a zone on a day, with its modules; None where they are unknown."""
    pool = zone["mode"] is ZoneMode.POOL
    column, each = ("slots", 1.0) if pool else ("units", zone.values.get("unit_slots"))
    owned: float | None = zone.values.get(column)
    sure = draft.sure("zone_days", "zone", "from_day", column)
    if owned is None or each is None or not sure or not draft.sure("modules", "zone", "slots", "added"):
        return None
    owned = latest(draft, "zone_days", ("zone", zone["zone"]), column, day, owned)
    modules = [row for row in draft.rows("modules", "zone") if row["zone"] == zone["zone"]]
    more: float = sum(row["added"] * (row["slots"] if pool else 1) for row in modules)
    return (owned + more) * each


def latest(draft: Draft, table: str, of: tuple[str, str], column: str, day: date, otherwise: float) -> float:
    """The last figure up to a day in a table of changes, for the row of a name; else ``otherwise``."""
    key, name = of
    changes = [
        (row["from_day"], row[column])
        for row in draft.rows(table, key, "from_day", column)
        if row[key] == name and row["from_day"] <= day and row[column] is not None
    ]
    return float(max(changes)[1]) if changes else otherwise


def listed(days: list[date]) -> str:
    """Days in a message; only the last three where there are more."""
    return " or ".join(text_of(day) for day in sorted(set(days))[-3:])


def _stood_before(draft: Draft) -> Iterator[Fault]:
    """Trays on hand were sown before the first day, and not so long ago that nobody would graft them."""
    first = draft.first_day
    if first is None:
        return
    for row in draft.rows("trays_on_hand", "sow_day"):
        if row["sow_day"] >= first:
            remedy = "write the day of sowing; record what is sown later in table progress, as 'sown'"
            yield draft.spoiled(row, "sow_day", f"is not before first_day ({first})", remedy)
        elif (first - row["sow_day"]).days > LONGEST:
            oldest = first - timedelta(days=LONGEST)
            wrong = f"is more than {LONGEST} days before first_day ({first})"
            yield draft.spoiled(row, "sow_day", wrong, f"write a day from {oldest} on, or remove the row")


def _stood_counts(draft: Draft) -> Iterator[Fault]:
    """No more seedlings are counted than the trays have cells."""
    rows = draft.rows("trays_on_hand", "format", "trays", "seedlings")
    for row, tray in draft.targets(rows, "format", "cells"):
        most = row["trays"] * tray["cells"]
        if row["seedlings"] is not None and row["seedlings"] > most:
            wrong = f"is more than the {plain(most)} cells of the trays"
            yield draft.spoiled(row, "seedlings", wrong, f"write at most {plain(most)}, or correct the trays")


def _stood_benches(draft: Draft) -> Iterator[Fault]:
    """Seedlings on hand come to the bench by the last day."""
    calendar = calendar_of(draft)
    for row, lot in draft.targets(draft.rows("trays_on_hand", "lot", "sow_day"), "lot", "germination_days"):
        out = None if calendar is None else calendar.day(row["sow_day"]) + lot["germination_days"]
        if calendar is not None and out is not None and calendar.next_working(out) is None:
            wrong = "is so late that the seedlings come to the bench after last_day"
            yield draft.spoiled(row, "sow_day", wrong, "write a later last_day in table nursery")


ON_HAND = (
    Rule("trays on hand were sown before the first day", _stood_before),
    Rule("trays on hand have a cell for each seedling", _stood_counts),
    Rule("trays on hand come to the bench by the last day", _stood_benches),
)


PROGRESS_ROWS = (
    Rule("today lies in the horizon, and is given where progress has rows", _today),
    Rule("a row of progress has the columns of its kind", _columns),
    Rule("joins have rootstocks, own-root plants none", _rootstocks),
    Rule("progress lies between the first day and today", _days),
    Rule("grafting comes before counting, ordering before arrival", _other_days),
    Rule("trays, packs and hands are whole numbers above 0", _numbers),
    Rule("a count is possible", _counted),
    Rule("no row is recorded twice", _twice),
    Rule("trays stand where there are slots", _standing),
)
