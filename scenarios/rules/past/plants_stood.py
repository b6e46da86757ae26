"""Rules of the healed and finished plants that stand in the nursery on the first day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from model.network.expansion import stays_after
from model.scenario.choices import MethodKind, Part, ZoneMode
from model.scenario.schema import LONGEST
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown
from scenarios.rules.timing import calendar_of
from scenarios.rules.zone_rows import in_zones, ways_of

TABLE = "plants_on_hand"

SIDES = (("lot", "sow_day", "scion"), ("rootstock_lot", "rootstock_sow_day", "rootstock"))
"""Lot, sowing day and the column of the product for each part of a plant."""


def _days(draft: Draft) -> Iterator[Fault]:
    """Plants were sown, came to the bench, and were grafted before the first day, not long ago."""
    first = draft.first_day
    for row in draft.rows(TABLE, "graft_day"):
        graft = row["graft_day"]
        if first is not None and graft >= first:
            remedy = "write the graft day; record what is grafted later in table progress, as 'grafted'"
            yield draft.spoiled(row, "graft_day", f"is not before first_day ({first})", remedy)
        elif first is not None and (first - graft).days > LONGEST:
            wrong = f"is more than {LONGEST} days before first_day ({first})"
            remedy = f"write a day from {first - timedelta(days=LONGEST)} on, or remove the row"
            yield draft.spoiled(row, "graft_day", wrong, remedy)
    lots = draft.by("seed_lots", "lot", "germination_days")
    for lot_column, day_column, _ in SIDES:
        for row in draft.rows(TABLE, "graft_day", day_column):
            lot = lots.get(row.values.get(lot_column) or "")
            if row[day_column] is None or lot is None:
                continue
            bench = row[day_column] + timedelta(days=lot["germination_days"])
            if bench > row["graft_day"]:
                wrong = f"is so late that the seedlings come to the bench on {bench}, after the graft day"
                yield draft.spoiled(row, day_column, wrong, "write the day on which they were sown")
            elif (row["graft_day"] - row[day_column]).days > LONGEST:
                wrong = f"is more than {LONGEST} days before the graft day"
                yield draft.spoiled(row, day_column, wrong, "write the day on which they were sown")


def _parts(draft: Draft) -> Iterator[Fault]:
    """Grafted plants have a rootstock, own-root ones none; lots are of the product's varieties."""
    lots = draft.by("seed_lots", "lot", "variety")
    rows = draft.rows(TABLE, "product")
    for row, product in list(draft.targets(rows, "product", "scion", "rootstock")):
        name = shown(row["product"])
        given = f"is given, but '{name}' is own-root", "clear it"
        for column, wanted in (
            ("rootstock_lot", "name the seed lot of the rootstocks"),
            ("rootstock_sow_day", "write the day on which the rootstocks were sown"),
        ):
            blank = f"is blank, but '{name}' is grafted", wanted
            yield from draft.misfilled(row, column, product["rootstock"] is not None, blank, given)
        for column, _, part in SIDES:
            lot = lots.get(row.values.get(column) or "")
            if lot is not None and lot["variety"] != product[part] and product[part] is not None:
                wrong = f"is of '{shown(lot['variety'])}', not the {part} of '{name}'"
                yield draft.spoiled(row, column, wrong, f"name a lot of '{shown(product[part])}'")


def _healed(draft: Draft) -> Iterator[Fault]:
    """Healing is over by the first day, the plants are ready by the last, and no unit is half through."""
    calendar, ways = calendar_of(draft), ways_of(draft)
    if calendar is None or ways is None:
        return
    units = {row["zone"] for row in draft.rows("zones", "zone", "mode") if row["mode"] is ZoneMode.UNITS}
    for row, product in draft.targets(draft.rows(TABLE, "product", "graft_day"), "product", "method"):
        ways_of_method = ways.get(product["method"], {})
        chosen = in_zones(draft, row, row["product"])
        if chosen not in ways_of_method:
            if row.values.get("in_zones") is not None:
                known = "; ".join(str(name) for name in ways_of_method if name is not None)
                remedy = f"write one of: {known}" if known else "clear it"
                yield row.fault("in_zones", "are no zones that its method may choose", remedy)
            continue
        stages = [stage for stage, _ in ways_of_method[chosen]]
        way = stays_after(stages, calendar.day(row["graft_day"]), calendar)
        if way is None:
            wrong = "is so late that the plants are ready after last_day"
            yield row.fault("graft_day", wrong, "write a later last_day in table nursery")
            continue
        healing = max((stay.end for stay in way[0] if stay.part is Part.HEALING), default=0)
        if healing > 0:
            wrong = f"is so late that the plants heal until {calendar.date(healing)}"
            remedy = (
                "begin the scenario on an earlier first_day and record the graft in table progress, or leave "
                "the plants out"
            )
            yield row.fault("graft_day", wrong, remedy)
            continue
        for stay in way[0]:
            if stay.end > 0 and stay.start < 0 and stay.zone in units:
                wrong = f"puts the plants into '{shown(stay.zone)}' before first_day, a zone run in units"
                remedy = "begin the scenario on an earlier first_day, or make the zone a pool"
                yield row.fault("graft_day", wrong, remedy)


def _counted(draft: Draft) -> Iterator[Fault]:
    """Seedlings left of the same sowing are counted, so that they can be told from those joined."""
    open_rows = {
        (row["lot"], row["format"], row["sow_day"]): row
        for row in draft.rows("trays_on_hand", "lot", "format", "sow_day", "seedlings")
        if row["seedlings"] is None
    }
    methods = draft.by("methods", "method", "kind")
    columns = ("method", "final_format", "scion_formats", "rootstock_formats")
    for row, product in draft.targets(draft.rows(TABLE, "product"), "product", *columns):
        method = methods.get(product["method"])
        if method is None:
            continue
        for lot_column, day_column, format_ in _formats(product, method["kind"]):
            wave = row.values.get(lot_column), format_, row.values.get(day_column)
            other = open_rows.pop(wave, None)
            if other is not None:
                wrong = f"is blank, but seedlings of this sowing were joined ({row.place})"
                yield other.fault("seedlings", wrong, "count the usable seedlings that are left")


def _formats(product: DraftRow, kind: MethodKind) -> Iterator[tuple[str, str, str]]:
    """Columns of the lot and its day, and the format in which the plan counts its seedlings."""
    final = (product["final_format"],)
    roots = final if kind is MethodKind.ON_TRAY else product["rootstock_formats"]
    scions = product["scion_formats"] or final
    for (lot, day, _), formats in zip(SIDES, (scions, roots), strict=True):
        if formats:
            yield lot, day, formats[0]


PLANTS_ON_HAND = (
    Rule("plants on hand were grafted before the first day", _days),
    Rule("plants on hand have the parts of their product", _parts),
    Rule("plants on hand have healed by the first day", _healed),
    Rule("seedlings left of a sowing joined before the first day are counted", _counted),
)
