"""Rules of groups kept apart: groups that exist, that are two, and that no lot belongs to both of."""

from __future__ import annotations

from collections.abc import Iterator

from model.scenario.choices import GroupBy, Health, Shared, ZoneMode
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, bounded_nearest, suggested

SIDES = (("by", "group"), ("other_by", "other"))
"""Columns that name each of the two groups."""

FOUND_IN = {
    GroupBy.LOT: ("is no seed lot", "write the name of a lot in table seed_lots"),
    GroupBy.CROP: ("is no crop", "write a crop of table products"),
    GroupBy.CUSTOMER: ("is no customer", "write a customer of table orders"),
    GroupBy.HEALTH: ("is no state of health", f"write {', '.join(Health)}"),
}
"""What is wrong with a name of no group, and the remedy."""


def _known(draft: Draft, by: GroupBy) -> frozenset[str] | None:
    """Names of groups of a kind; None where they are not all known."""
    if by is GroupBy.HEALTH:
        return frozenset(Health)
    table, column = {
        GroupBy.LOT: ("seed_lots", "lot"),
        GroupBy.CROP: ("products", "crop"),
        GroupBy.CUSTOMER: ("orders", "customer"),
    }[by]
    return frozenset(row[column] for row in draft.rows(table, column)) if draft.sure(table, column) else None


def _groups(draft: Draft) -> Iterator[Fault]:
    near = bounded_nearest()
    for row in draft.rows("apart"):
        for by, name in SIDES:
            if by not in row.values or name not in row.values:
                continue
            known = _known(draft, row[by])
            if known is not None and row[name] not in known:
                wrong, otherwise = FOUND_IN[row[by]]
                yield draft.spoiled(row, name, wrong, suggested(near(row[name], known), otherwise))


def _two(draft: Draft) -> Iterator[Fault]:
    """A group is kept apart from another, not from itself, and each pair is told once."""
    first: dict[tuple[object, ...], DraftRow] = {}
    for row in draft.rows("apart", "by", "group", "other_by", "other", "share", "zone"):
        one, other = (row["by"], row["group"]), (row["other_by"], row["other"])
        if one == other:
            wrong = "is the group itself: plants of one group may always be together"
            yield draft.spoiled(row, "other", wrong, "name another group, or delete the row")
            continue
        before = first.setdefault((*sorted((one, other)), row["share"], row["zone"]), row)
        if before is not row and one != (before["by"], before["group"]):
            wrong = f"is kept apart from '{row['group']}' in {before.place} already"
            yield draft.spoiled(row, "other", wrong, "keep one of the two rows")


def _zones(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("apart", "share", "zone"):
        if row["share"] is Shared.GRAFT_DAY and row["zone"] is not None:
            wrong = "does not belong here: a graft day is a day at the grafting table"
            yield draft.spoiled(row, "zone", wrong, "clear it, or write zone in column share")


def _units(draft: Draft) -> Iterator[Fault]:
    """Only zones run in units have units to tell apart, and these are emptied whole."""
    if not draft.sure("zones", "zone", "mode"):
        return
    parted = {zone["zone"] for zone in draft.rows("zones", "zone", "mode") if zone["mode"] is ZoneMode.UNITS}
    for row in draft.rows("apart", "share", "zone", "cleaning_days"):
        if row["share"] is not Shared.UNIT:
            continue
        if row["zone"] is not None and row["zone"] not in parted:
            yield draft.spoiled(
                row, "zone", "is a pool, which has no units", "write zone in column share, or a zone in units"
            )
        elif not parted:
            wrong = "is of no use: no zone is run in units"
            yield draft.spoiled(row, "share", wrong, "write zone, or say units in table zones")
        if row["cleaning_days"]:
            wrong = "does not belong here: a unit is emptied whole before it is loaded again"
            remedy = "write 0, or add the days to the last stage there"
            yield draft.spoiled(row, "cleaning_days", wrong, remedy)


def _lots(draft: Draft) -> Iterator[Fault]:
    """No lot belongs to both groups: its plants could be nowhere."""
    if not draft.sure("seed_lots", "lot", "variety", "crop", "health"):
        return
    crops: dict[str, set[str]] = {}
    for product in draft.rows("products", "crop", "scion", "rootstock"):
        for variety in (product["scion"], product["rootstock"]):
            crops.setdefault(variety, set()).add(product["crop"])
    for row in draft.rows("apart", "by", "group", "other_by", "other"):
        for lot in draft.rows("seed_lots", "lot", "variety", "crop", "health"):
            of = {lot["crop"]} if lot["crop"] is not None else crops.get(lot["variety"], set())
            groups = {(GroupBy.LOT, lot["lot"]), (GroupBy.HEALTH, lot["health"])}
            groups |= {(GroupBy.CROP, crop) for crop in of}
            if {(row["by"], row["group"]), (row["other_by"], row["other"])} <= groups:
                wrong = f"has seed lot '{lot['lot']}' in common with '{row['group']}'"
                yield draft.spoiled(row, "other", wrong, "name groups that have no lot in common")
                break


APART = (
    Rule("groups kept apart exist", _groups),
    Rule("groups kept apart are two", _two),
    Rule("a graft day has no zone", _zones),
    Rule("units told apart are units", _units),
    Rule("groups kept apart have no lot in common", _lots),
)
