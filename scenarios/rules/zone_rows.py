"""Rules of zones that a stage may choose from, of bays, and of zones that progress says were chosen."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Any

from model.network.rooms import Passed, ways_through
from model.scenario.choices import Happened, MethodKind, Part, ZoneMode, ZoneUse
from model.scenario.own_tasks import HOLDING, SEEDLINGS
from model.scenario.records.methods import Stage
from model.scenario.records.rooms import StageZone
from scenarios.cells.draft import Draft, DraftRow, Rule, names
from scenarios.cells.faults import Fault, bounded_nearest, shown, suggested
from scenarios.rules.crops import STANDS, pooled

MOST_WAYS = 24
"""Most ways of a method through its zones; each is a batch of its own on every graft day."""


def _stages(draft: Draft) -> Iterator[Fault]:
    """Zones are given for stages that the method has, or for holding."""
    if not draft.sure("stages", "method", "stage"):
        return
    names: dict[str, set[str]] = defaultdict(set)
    for stage in draft.rows("stages", "method", "stage"):
        names[stage["method"]].add(stage["stage"])
    near = bounded_nearest()
    for row in draft.rows("stage_zones", "method", "stage"):
        has = names[row["method"]]
        if row["stage"] == HOLDING and HOLDING in has:
            wrong = f"is also the name of a stage in table stages; it stands for {HOLDING} in general"
            yield draft.spoiled(row, "stage", wrong, "give the stage in table stages another name")
        elif row["stage"] not in {*has, HOLDING}:
            wrong = f"is no stage of method '{row['method']}'"
            if row["stage"] in SEEDLINGS:
                wrong += "; zones to germinate in stand in table germination_zones"
            otherwise = f"write {', '.join([*sorted(has), HOLDING])}"
            yield draft.spoiled(
                row, "stage", wrong, suggested(near(row["stage"], frozenset({*has, HOLDING})), otherwise)
            )


def _parts(draft: Draft) -> Iterator[tuple[DraftRow, DraftRow]]:
    """Each row with each stage that it is for; holding is none."""
    stages: dict[tuple[str, str], list[DraftRow]] = defaultdict(list)
    for stage in draft.rows("stages", "method", "stage", "part", "zone"):
        stages[stage["method"], stage["stage"]].append(stage)
    for row in draft.rows("stage_zones", "method", "stage"):
        for stage in stages[row["method"], row["stage"]]:
            yield row, stage


def _uses(draft: Draft) -> Iterator[Fault]:
    """A further zone serves what the stage is for, and is not the stage's own."""
    fit = {part: (uses, purpose) for table, _, part, uses, purpose in STANDS if table == "stages"}
    zones = draft.by("zones", "zone", "use")
    for row, stage in list(_parts(draft)):
        if row.values.get("zone") is None:
            continue
        if row["zone"] == stage["zone"]:
            wrong, remedy = "is the stage's own zone already", "name another zone, or delete the row"
            yield draft.spoiled(row, "zone", wrong, remedy)
            continue
        yield from _fits(draft, row, zones, *fit[stage["part"]])


def _fits(
    draft: Draft, row: DraftRow, zones: Mapping[str, DraftRow], uses: set[ZoneUse], purpose: str
) -> Iterator[Fault]:
    zone = zones.get(row["zone"])
    if zone is not None and zone["use"] not in uses:
        kinds = " or ".join(sorted(use.value for use in uses))
        wrong = f"is a zone for {zone['use'].value}; it cannot serve for {purpose}"
        yield draft.spoiled(row, "zone", wrong, f"name a zone whose use is {kinds}")


def _holding(draft: Draft) -> Iterator[Fault]:
    """A further zone to wait in is not the method's own, may hold plants, and has no days or take."""
    (uses, purpose), *_ = [(uses, what) for _, column, _, uses, what in STANDS if column == "holding_zone"]
    zones, methods = draft.by("zones", "zone", "use"), draft.by("methods", "method", "holding_zone")
    modes = draft.by("zones", "zone", "use", "mode")
    for row in draft.rows("stage_zones", "method", "stage"):
        if row["stage"] != HOLDING:
            continue
        for column, why in (
            ("days", "plants wait until they leave"),
            ("take", "the take is counted when healing ends"),
        ):
            if row.values.get(column) is not None:
                yield row.fault(column, f"does not belong here: {why}", "clear it")
        method = methods.get(row["method"])
        if row.values.get("zone") is None:
            continue
        if method is not None and row["zone"] == method["holding_zone"]:
            wrong, remedy = "is the method's holding zone already", "name another zone, or delete the row"
            yield draft.spoiled(row, "zone", wrong, remedy)
        else:
            yield from _fits(draft, row, zones, uses, purpose)
            if row.values.get("zone") in modes:
                yield from pooled(row, "zone", modes[row["zone"]], uses, purpose)


def _takes(draft: Draft) -> Iterator[Fault]:
    """Only healing joins have a take."""
    methods = draft.by("methods", "method", "kind")
    told: set[int] = set()
    for row, stage in _parts(draft):
        if row.values.get("take") is None or row.number in told:
            continue
        method = methods.get(row["method"])
        own_root = method is not None and method["kind"] is MethodKind.OWN_ROOT
        if own_root or stage["part"] is Part.FINISHING:
            told.add(row.number)
            wrong = "does not belong here: the take is counted when healing ends"
            yield row.fault("take", wrong, "clear it, or give it at a stage of healing")


def _germination(draft: Draft) -> Iterator[Fault]:
    """A further zone to germinate in is not the lot's own, and its lot germinates."""
    rows = draft.rows("germination_zones", "lot")
    for row, lot in draft.targets(rows, "lot", "germination_zone"):
        if row.values.get("zone") == lot["germination_zone"]:
            wrong, remedy = "is the lot's germination_zone already", "name another zone, or delete the row"
            yield draft.spoiled(row, "zone", wrong, remedy)
    for row, lot in draft.targets(rows, "lot", "germination_days"):
        if lot["germination_days"] == 0:
            wrong = f"'{shown(row['lot'])}' has no germination_days: its trays are on the bench at once"
            yield row.fault("lot", wrong, "give the lot germination_days, or delete the row")


def _sown_into(draft: Draft) -> Iterator[Fault]:
    """Trays sown germinate in a zone of their lot."""
    if not draft.sure("germination_zones", "lot", "zone"):
        return
    zones: dict[str, list[str]] = defaultdict(list)
    for further in draft.rows("germination_zones", "lot", "zone"):
        zones[further["lot"]].append(further["zone"])
    told = [row for row in draft.rows("progress", "what", "lot", "in_zones") if row["in_zones"] is not None]
    for row, lot in draft.targets(told, "lot", "germination_zone"):
        allowed = [lot["germination_zone"], *zones[row["lot"]]]
        if row["what"] is Happened.SOWN and row["in_zones"] not in allowed:
            wrong = f"is no zone in which '{shown(row['lot'])}' germinates"
            yield draft.spoiled(row, "in_zones", wrong, f"write {' or '.join(allowed)}, or clear it")


def _few_ways(draft: Draft) -> Iterator[Fault]:
    """A method has no more than ``MOST_WAYS`` ways through its zones."""
    for method, ways in (ways_of(draft) or {}).items():
        if len(ways) > MOST_WAYS:
            row = next(row for row in draft.rows("stage_zones", "method") if row["method"] == method)
            wrong = f"has more than {MOST_WAYS} ways through its zones"
            yield draft.spoiled(row, "method", wrong, "name fewer zones, or name them for fewer stages")


def ways_of(draft: Draft) -> dict[str, dict[str | None, Passed]] | None:
    """Ways of each method through its zones, by name, at most one more than ``MOST_WAYS``.

    None where a cell that they need is faulty.
    """
    if not draft.sure("stages", *Stage.__slots__) or not draft.sure("stage_zones", *StageZone.__slots__):
        return None
    stages: dict[str, list[Stage]] = defaultdict(list)
    for row in sorted(draft.rows("stages", *Stage.__slots__), key=lambda row: row["step"]):
        stages[row["method"]].append(Stage(**row.values))
    further: dict[str, list[StageZone]] = defaultdict(list)
    for row in draft.rows("stage_zones", *StageZone.__slots__):
        further[row["method"]].append(StageZone(**row.values))
    holds = {row["method"]: row.values.get("holding_zone") for row in draft.rows("methods", "method")}
    waits = {method for method, rows in further.items() if any(row.stage == HOLDING for row in rows)}
    if any(holds.get(method) is None for method in waits):
        return None
    ways = {
        method: ways_through(stages[method], further[method], holds[method] or "") for method in sorted(holds)
    }
    return {
        method: {way.in_zones: way.passed for way in islice(found, MOST_WAYS + 1)}
        for method, found in ways.items()
    }


CHOSEN = (Happened.GRAFTED, Happened.FINISHED, Happened.DELIVERED)
"""Kinds of progress whose plants may have passed zones of several."""


def in_zones(draft: Draft, row: DraftRow, product: str) -> str | None:
    """The zones chosen for the plants of a row of progress: as told, else each stage's own."""
    made = draft.by("products", "product", "method").get(product)
    ways = (ways_of(draft) or {}).get(made["method"], {}) if made is not None else {}
    told: Any = row.values.get("in_zones")
    return told or next(iter(ways), None)


def _chosen(draft: Draft) -> Iterator[Fault]:
    """Zones of progress are a way through the zones of the product's method."""
    ways = ways_of(draft)
    told = [row for row in draft.rows("progress", "what", "in_zones") if row["in_zones"] is not None]
    if ways is None or not told:
        return
    products, orders = draft.by("products", "product", "method"), draft.by("orders", "order", "product")
    for row in told:
        name = row.values.get("product")
        if name is None and row.values.get("order") in orders:
            name = orders[row["order"]]["product"]
        if row["what"] not in CHOSEN or name not in products:
            continue
        allowed = ways[products[name]["method"]]
        if row["in_zones"] not in allowed:
            known = [way for way in allowed if way is not None]
            wrong = f"is no way of '{shown(name)}' through its zones"
            remedy = f"write {' or '.join(known)}" if known else "clear it"
            yield draft.spoiled(row, "in_zones", wrong, remedy)


BAY_FIGURES = ("slots_per_bay", "cost_per_bay_week")


def _bays(draft: Draft) -> Iterator[Fault]:
    """Only pools are divided into bays, which have slots and a cost from the first day on."""
    rows = draft.rows("bays", "zone", "from_day", *BAY_FIGURES)
    for row, zone in draft.targets(rows, "zone", "mode"):
        if zone["mode"] is not ZoneMode.POOL:
            wrong = f"is run as {zone['mode'].value}: its units are opened whole already"
            yield draft.spoiled(row, "zone", wrong, "name a pool, or delete the row")
    if not draft.sure("bays", "zone", "from_day", *BAY_FIGURES):
        return
    first: dict[str, DraftRow] = {}
    for row in sorted(draft.rows("bays", *BAY_FIGURES), key=lambda row: row["from_day"]):
        earliest = first.setdefault(row["zone"], row) is row
        blank = [column for column in BAY_FIGURES if row[column] is None]
        if earliest:
            for column in blank:
                wrong = f"is blank in the first row of '{shown(row['zone'])}'"
                yield row.fault(column, wrong, "write the figure that counts from the first day on")
            if draft.first_day is not None and row["from_day"] > draft.first_day:
                wrong = f"leaves '{shown(row['zone'])}' without bays from {draft.first_day} on"
                yield row.fault("from_day", wrong, f"write {draft.first_day} or an earlier day")
        elif len(blank) == len(BAY_FIGURES):
            yield row.fault("zone", "has no new figure", f"fill in {' or '.join(BAY_FIGURES)}")


def _bay_sizes(draft: Draft) -> Iterator[Fault]:
    """No bay is larger than its zone can become."""
    if not (draft.sure("zone_days", "zone", "slots") and draft.sure("modules", "zone", "slots")):
        return
    most: dict[str, float] = {
        row["zone"]: row["slots"] for row in draft.rows("zones", "zone", "slots") if row["slots"] is not None
    }
    for row in draft.rows("zone_days", "zone", "slots"):
        most[row["zone"]] = max(most.get(row["zone"], 0.0), row["slots"] or 0.0)
    grown = names(draft.rows("modules", "zone"), "zone")
    for row in draft.rows("bays", "zone", "slots_per_bay"):
        slots, room = row["slots_per_bay"], most.get(row["zone"])
        if slots is not None and room is not None and slots > room and row["zone"] not in grown:
            wrong = f"is above the {room:g} slots of '{shown(row['zone'])}'"
            yield row.fault("slots_per_bay", wrong, f"write at most {room:g}")


ZONES = (
    Rule("further zones are for stages of their method", _stages),
    Rule("a further zone serves the stage, and is not its own", _uses),
    Rule("a further zone to wait in may hold plants, and is not the method's own", _holding),
    Rule("a further zone to germinate in is not the lot's own", _germination),
    Rule("trays sown germinate in a zone of their lot", _sown_into),
    Rule("takes of zones are those of healing", _takes),
    Rule("a method has few ways through its zones", _few_ways),
    Rule("bays are those of pools, from the first day on", _bays),
    Rule("a bay fits into its zone", _bay_sizes),
    Rule("zones of progress are those of the product's method", _chosen),
)
