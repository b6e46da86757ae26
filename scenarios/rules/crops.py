"""Rules of methods, stages, products, seed lots and age effects."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from model.scenario.choices import MatchFrom, MethodKind, Part, ZoneMode, ZoneUse
from model.scenario.tables import BY_NAME
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown
from scenarios.cells.parse import wanted

AGES = (("scion_age_min", "scion_age_max"), ("rootstock_age_min", "rootstock_age_max"))

STANDS: tuple[tuple[str, str, Part | None, set[ZoneUse], str], ...] = (
    ("seed_lots", "germination_zone", None, {ZoneUse.GERMINATION, ZoneUse.BENCH}, "germination"),
    ("seed_lots", "bench_zone", None, {ZoneUse.BENCH, ZoneUse.FINISHING}, "raising seedlings"),
    ("germination_zones", "zone", None, {ZoneUse.GERMINATION, ZoneUse.BENCH}, "germination"),
    ("methods", "holding_zone", None, {ZoneUse.HOLDING, ZoneUse.FINISHING, ZoneUse.BENCH}, "holding plants"),
    ("stages", "zone", Part.HEALING, {ZoneUse.HEALING}, "healing"),
    ("stages", "zone", Part.FINISHING, {ZoneUse.FINISHING, ZoneUse.BENCH}, "finishing"),
)
"""Columns that name a zone, the part of a stage, the uses that the zone may have, and what stands there.

A bench may serve several purposes.
"""


def _zone_uses(draft: Draft) -> Iterator[Fault]:
    for table, column, part, uses, purpose in STANDS:
        for row, zone in draft.targets(draft.rows(table, column), column, "use"):
            if row.values.get("part") is part and zone["use"] not in uses:
                fit = " or ".join(sorted(use.value for use in uses))
                wrong = f"is a zone for {zone['use'].value}; it cannot serve for {purpose}"
                yield row.fault(column, wrong, f"name a zone whose use is {fit}")


def _pools(draft: Draft) -> Iterator[Fault]:
    for table, column, part, uses, purpose in STANDS:
        if part is None:
            for row, zone in draft.targets(draft.rows(table, column), column, "mode", "use"):
                yield from pooled(row, column, zone, uses, purpose)


def pooled(row: DraftRow, column: str, zone: DraftRow, uses: set[ZoneUse], purpose: str) -> Iterator[Fault]:
    """Seedlings, and plants that wait, stand in pools: only stages load units. Each cell has one fault."""
    if zone["mode"] is ZoneMode.UNITS and zone["use"] in uses:
        wrong = f"is run in units, which only stages load; it cannot serve for {purpose}"
        yield row.fault(column, wrong, "name a zone whose mode is pool")


def _windows(draft: Draft) -> Iterator[Fault]:
    for row in draft.tables["methods"]:
        for low, high in AGES:
            youngest, oldest = row.values.get(low), row.values.get(high)
            if youngest is not None and oldest is not None and oldest < youngest:
                yield draft.spoiled(row, high, f"is below {low} ({youngest})", f"write at least {youngest}")


def _method_columns(draft: Draft) -> Iterator[Fault]:
    """A method fills the columns that its kind and stem match need, and leaves the others blank."""
    for row in draft.rows("methods", "kind"):
        if row["kind"] is MethodKind.OWN_ROOT:
            why = "own-root plants are not grafted"
            grafted = ("rootstock_age_min", "rootstock_age_max", "match", "stem_tolerance_mm", "take")
            for column in (*grafted, "open_cuts_most", "least_batch"):
                yield from _unwanted(draft, row, column, None, why)
            yield from _unwanted(draft, row, "match_from", MatchFrom.NUMBER, why)
            yield from _unwanted(draft, row, "consolidate", False, "own-root plants do not heal")
            continue
        for column in ("rootstock_age_min", "rootstock_age_max", "take"):
            yield from _needed(draft, row, column, "grafted method")
        if (match_from := row.values.get("match_from")) in MATCH_IN:
            column, whence = MATCH_IN[match_from]
            yield from _needed(draft, row, column, f"method that takes its match from {whence}")


MATCH_IN = {MatchFrom.NUMBER: ("match", "a number"), MatchFrom.DIAMETERS: ("stem_tolerance_mm", "diameters")}
"""Columns that a method fills, by where its stem match comes from, which stands here in words too."""


def _needed(draft: Draft, row: DraftRow, column: str, where: str) -> Iterator[Fault]:
    if column in row.values and row[column] is None:
        wrong = f"is blank in a {where}"
        yield draft.spoiled(row, column, wrong, wanted(BY_NAME[row.table].by_name[column]))


def _unwanted(draft: Draft, row: DraftRow, column: str, right: Any, why: str) -> Iterator[Fault]:
    if column in row.values and row[column] != right:
        remedy = "clear it" if right is None else "write no" if right is False else f"write {right.value}"
        yield draft.spoiled(row, column, f"does not belong here: {why}", remedy)


def _age_effects(draft: Draft) -> Iterator[Fault]:
    for row, method in draft.targets(draft.rows("age_effects", "method"), "method", "kind", "match_from"):
        if method["kind"] is MethodKind.OWN_ROOT:
            yield row.fault("method", "is own-root: its plants are not grafted", "name a grafted method")
            continue
        for column, (low, high) in zip(("scion_age", "rootstock_age"), AGES, strict=True):
            yield from _within(row, column, method.values.get(low), method.values.get(high))
        if "match" not in row.values or "take" not in row.values or row["match"] is not None:
            continue
        if method["match_from"] is MatchFrom.AGES:
            wrong = f"is blank, and method '{row['method']}' takes its match from ages"
            yield row.fault("match", wrong, "write a share; ages without a match cannot be joined")
        elif row["take"] is None:
            yield row.fault(
                "take", "is blank, and so is match: the row has no effect", "fill in match or take"
            )


def _within(row: DraftRow, column: str, low: int | None, high: int | None) -> Iterator[Fault]:
    age = row.values.get(column)
    if age is not None and low is not None and high is not None and not low <= age <= high:
        yield row.fault(
            column, f"is outside the method's window of {low} to {high}", f"write an age from {low} to {high}"
        )


def _ages_given(draft: Draft) -> Iterator[Fault]:
    """Faults of methods that take their match from ages, but have no rows in age_effects."""
    if not draft.sure("age_effects", "method"):
        return
    given = {row["method"] for row in draft.rows("age_effects", "method")}
    for row in draft.rows("methods", "method", "match_from", "kind"):
        if row["match_from"] is MatchFrom.AGES and row["method"] not in given:
            remedy = "add rows for this method to table age_effects"
            yield row.fault("match_from", "needs a match by age, and the method has none", remedy)


def _steps(draft: Draft) -> Iterator[Fault]:
    """The steps of a method are 1, 2, 3 ..., and healing comes before finishing."""
    if not draft.sure("stages", "method", "step"):
        return
    rows = sorted(
        draft.rows("stages", "method", "step"), key=lambda row: (row["method"], row["step"], row.number)
    )
    for _, group in groupby(rows, key=lambda row: str(row["method"])):
        finishing: DraftRow | None = None
        for step, row in enumerate({row["step"]: row for row in group}.values(), 1):
            if row["step"] != step:
                yield row.fault("step", "leaves a gap in the method's steps", f"write {step}")
                break
            if row.values.get("part") is Part.FINISHING:
                finishing = finishing or row
            elif row.values.get("part") is Part.HEALING and finishing:
                wrong = f"comes after finishing (step {finishing['step']})"
                yield row.fault("part", wrong, "write finishing, or put the healing stages first")


def _healing(draft: Draft) -> Iterator[Fault]:
    """Own-root plants do not heal; trays are consolidated only after healing."""
    healing = [row for row in draft.rows("stages", "method", "part") if row["part"] is Part.HEALING]
    for row, method in draft.targets(healing, "method", "kind"):
        if method["kind"] is MethodKind.OWN_ROOT:
            wrong = f"is given for '{row['method']}', which is own-root"
            yield draft.spoiled(row, "part", wrong, "write finishing")
    if not draft.sure("stages", "method", "part"):
        return
    heal = {row["method"] for row in healing}
    for row in draft.rows("methods", "method", "consolidate"):
        if row["consolidate"] and row["method"] not in heal:
            wrong = "needs a healing stage, and the method has none"
            yield row.fault("consolidate", wrong, "write no, or add a healing stage")


def _product_columns(draft: Draft) -> Iterator[Fault]:
    """A product has the rootstock and the tray formats that its method needs."""
    for row, method in draft.targets(draft.rows("products", "method"), "method", "kind"):
        kind: MethodKind = method["kind"]
        if kind is MethodKind.OWN_ROOT:
            yield from _unwanted(draft, row, "rootstock", None, f"method '{row['method']}' is own-root")
        else:
            yield from _needed(draft, row, "rootstock", "grafted product")
            yield from _no_items(row, "scion_formats", "grafted product")
        if kind is MethodKind.ROOT_CUT:
            yield from _no_items(row, "rootstock_formats", "root-cut product")
        elif row.values.get("rootstock_formats"):
            why = "an own-root product has no rootstock"
            if kind is MethodKind.ON_TRAY:
                why = "the rootstock of an on-tray method stays in the final format"
            yield row.fault("rootstock_formats", f"does not belong here: {why}", "clear it")


def _no_items(row: DraftRow, column: str, where: str) -> Iterator[Fault]:
    if row.values.get(column) == ():
        yield row.fault(column, f"is blank in a {where}", "name the tray formats in which they are raised")


def _diameters(draft: Draft) -> Iterator[Fault]:
    """Lots whose stem match comes from diameters have them, positive at all ages in the window."""
    lots = draft.grouped("seed_lots", "variety")
    told: set[tuple[int, str]] = set()
    for product, method in draft.targets(draft.rows("products", "method"), "method", "match_from"):
        if method["match_from"] is not MatchFrom.DIAMETERS:
            continue
        for part, ages in zip(("scion", "rootstock"), AGES, strict=True):
            window = [method.values.get(age) for age in ages]
            for lot in lots.get(product.values.get(part, ""), []):
                for fault in _lot_diameters(lot, method["method"], window):
                    if (lot.number, fault.column) not in told:
                        told.add((lot.number, fault.column))
                        yield fault


def _lot_diameters(lot: DraftRow, method: str, window: list[int | None]) -> Iterator[Fault]:
    columns = ("diameter_start_mm", "diameter_growth_mm_per_day", "diameter_spread_mm")
    for column in columns:
        if column in lot.values and lot[column] is None:
            wrong = f"is blank, and method '{method}' takes its match from stem diameters"
            yield lot.fault(column, wrong, "write a number of mm")
    for first, growth, what in (
        ("diameter_start_mm", "diameter_growth_mm_per_day", "a mean stem diameter"),
        ("diameter_spread_mm", "diameter_spread_growth_mm_per_day", "a spread of stem diameters"),
    ):
        start, a_day = lot.values.get(first), lot.values.get(growth)
        for age in window:
            if start is not None and a_day is not None and age is not None and start + a_day * age <= 0:
                wrong = f"makes {what} of {start + a_day * age:g} mm at age {age} days"
                yield lot.fault(first, wrong, "write figures that are above 0 mm in the whole window")
                break


def _own_seed(draft: Draft) -> Iterator[Fault]:
    """A customer's seed is free, and nobody else's order is raised from it."""
    lots = [
        row for row in draft.rows("seed_lots", "lot", "variety", "customer") if row["customer"] is not None
    ]
    sent = {row["lot"]: row["customer"] for row in lots}
    for row in draft.rows("packs", "item", "price"):
        if row["item"] in sent and row["price"] > 0:
            wrong = f"is above 0, but '{shown(sent[row['item']])}' sends this seed and bears its cost"
            yield row.fault("price", wrong, "write 0")
    senders: dict[object, DraftRow] = {}
    for row in lots:
        first = senders.setdefault(row["variety"], row)
        if first["customer"] != row["customer"]:
            wrong = f"is not '{shown(first['customer'])}', who sends seed of the same variety"
            yield row.fault("customer", wrong, "give the seed of each customer a variety of its own")
    raised: dict[str, DraftRow] = {}
    for row in draft.rows("products", "product", "scion", "rootstock", "sold_as"):
        lot = senders.get(row["scion"]) or senders.get(row["rootstock"])
        if lot is None:
            continue
        raised[row["product"] if row["sold_as"] is None else row["sold_as"]] = lot
        if row.values.get("salvage_price") and row.values.get("salvage_most"):
            wrong = f"would sell plants of seed that '{shown(lot['customer'])}' sends"
            yield row.fault("salvage_most", wrong, "write 0, or give that seed a variety of its own")
    for row in draft.rows("orders", "product", "customer"):
        found = raised.get(row["product"])
        if found is not None and found["customer"] != row["customer"]:
            whose, name = shown(found["customer"]), shown(found["lot"])
            wrong = f"is raised from lot '{name}', which '{whose}' sends for own orders alone"
            remedy = "give that seed a variety and a product of its own, or clear the customer of the lot"
            yield row.fault("product", wrong, remedy)


GROWING = (
    Rule("a customer's seed is free and for that customer's orders", _own_seed),
    Rule("windows do not end before they begin", _windows),
    Rule("a method has the columns of its kind and match", _method_columns),
    Rule("age effects lie in the window and have an effect", _age_effects),
    Rule("a method that matches by age has rows in age_effects", _ages_given),
    Rule("steps are 1, 2, 3, and healing comes first", _steps),
    Rule("only grafted plants heal; trays are consolidated only after healing", _healing),
    Rule("each zone serves its own purpose", _zone_uses),
    Rule("seedlings, and plants that wait, stand in pools", _pools),
    Rule("a product has what its method needs", _product_columns),
    Rule("lots matched by diameter have diameters", _diameters),
)
