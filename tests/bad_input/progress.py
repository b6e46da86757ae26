"""Bad progress: each changes little in a record of what has happened, which is sound, and has one fault."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from tests.bad_input.changes import Case, Change, added, both, cell, neither_learns_nor_comes_back, rows
from tests.bad_input.small import Cells, Tables, small

TODAY = date(2027, 4, 17)


def told_by_zones(tables: Tables) -> None:
    """Plants may harden on the bench too."""
    added("stage_zones", method="tomato splice", stage="hard", zone="Bench")(tables)


def told() -> Tables:
    """The small nursery on a day in April, with a row of progress of each kind."""
    tables = small()
    tell(tables)
    return tables


def tell(tables: Tables) -> None:
    """Puts the record of progress into the tables."""
    tables["nursery"][0]["today"] = TODAY
    hired = {"temp_heads_most": 2, "temp_pay_per_hour": 18.0, "temp_training_days": 1}
    tables["crews"][0] |= hired
    tables["progress"] = record()


def record() -> list[Cells]:
    """A row of progress of each kind, and those that they need: rows 2 to 15 of the table."""
    red = {"lot": "Red 26A", "format": "128"}
    return [
        {"day": date(2027, 3, 8), "what": "sown", "number": 3, "counted": 205}
        | {"lot": "Red 26A", "format": "72"},
        {"day": date(2027, 3, 9), "what": "packs", "number": 2, "item": "Red 26A", "size": 1000}
        | {"arrival_day": date(2027, 3, 16)},
        {"day": date(2027, 3, 17), "what": "sown", "number": 8, "lot": "Stout 26A", "format": "72"},
        {"day": date(2027, 3, 18), "what": "sown", "number": 5, "counted": 530} | red,
        {"day": date(2027, 3, 22), "what": "hired", "number": 1, "crew": "Grafters"},
        {"day": date(2027, 3, 30), "what": "grafted", "number": 200, "product": "Red plain"}
        | {"lot": "Red 26A", "format": "72", "sow_day": date(2027, 3, 8)},
        {"day": date(2027, 4, 5), "what": "worked", "number": 30, "crew": "Grafters"},
        {"day": date(2027, 4, 6), "what": "grafted", "number": 500, "counted": 450}
        | {"product": "Red on Stout", **red, "sow_day": date(2027, 3, 18)}
        | {"rootstock_lot": "Stout 26A", "rootstock_format": "72"}
        | {"rootstock_sow_day": date(2027, 3, 17), "note": "a cool week"},
        {"day": date(2027, 4, 7), "what": "finished", "number": 190, "product": "Red plain"}
        | {"graft_day": date(2027, 3, 30)},
        {"day": date(2027, 4, 9), "what": "delivered", "number": 180, "product": "Red plain"}
        | {"order": "O-3", "graft_day": date(2027, 3, 30)},
        {"day": date(2027, 4, 12), "what": "worked", "number": 0, "crew": "Grafters"},
        {"day": date(2027, 4, 13), "what": "bought in", "number": 200, "order": "O-1"}
        | {"offer": "Neighbour", "arrival_day": date(2027, 4, 27)},
        {"day": date(2027, 4, 16), "what": "packs", "number": 1, "item": "Clips", "size": 500}
        | {"arrival_day": date(2027, 4, 21)},
        {"day": date(2027, 4, 16), "what": "standing", "number": 20, "zone": "Bench"},
    ]


RED_72, PACKED_SEED, STOUT, RED_128, HIRED, MOVED, WORKED, GRAFTED = range(2, 10)
FINISHED, DELIVERED, RESTED, BOUGHT, CLIPS, STANDING = range(10, 16)
"""Rows of the record."""


def of(row: int, column: str, value: object, wrong: str, remedy: str, name: str = "") -> Case:
    """A case in which one cell of the record holds another value."""
    return cell(name or f"progress: {wrong}", "progress", row, column, value, wrong, remedy)


def case(name: str, change: Change, row: int, column: str, value: str, wrong: str, remedy: str) -> Case:
    """A case in which several cells change."""
    return Case(f"progress: {name}", change, "progress", row, column, value, wrong, remedy)


def again(row: int, **cells: object) -> Change:
    """A change that adds a row of the record once more, with other cells."""
    return lambda tables: tables["progress"].append(tables["progress"][row - 2] | cells)


NURSERY = [
    cell(
        "today too soon", "nursery", 2, "today", date(2027, 2, 27), "before first_day", "from 2027-03-01 on"
    ),
    cell("today too late", "nursery", 2, "today", date(2027, 6, 1), "after last_day", "up to 2027-05-30"),
    cell(
        "no today",
        "nursery",
        2,
        "today",
        None,
        "table progress has rows",
        "the day after the last one recorded",
    ),
    cell("today in words", "nursery", 2, "today", "next week", "is not a date", "2026-03-31"),
]

COLUMNS = [
    of(RED_72, "what", "sowed", "not one of the choices", "did you mean 'sown'?"),
    of(RED_72, "number", None, "is blank", "write a number from 0"),
    of(WORKED, "number", -8, "is negative", "write a number from 0"),
    of(RED_72, "lot", None, "blank in a row 'sown'", "a name from table seed_lots"),
    of(RED_72, "zone", "Bench", "not belong to a row 'sown'", "such a row has lot, format, counted"),
    of(RED_72, "sow_day", date(2027, 3, 8), "not belong to a row 'sown'", "clear it", "day of sowing twice"),
    of(GRAFTED, "product", None, "blank in a row 'grafted'", "a name from table products"),
    of(GRAFTED, "sow_day", None, "blank in a row 'grafted'", "write a date", "grafted from no day"),
    of(GRAFTED, "rootstock_lot", None, "'Red on Stout' is grafted", "a name from table seed_lots"),
    of(MOVED, "rootstock_format", "72", "'Red plain' is own-root", "clear it"),
    of(FINISHED, "graft_day", None, "blank in a row 'finished'", "write a date"),
    of(GRAFTED, "in_zones", "Chamber", "no way of 'Red on Stout' through its zones", "clear it"),
    of(
        RED_72, "in_zones", "Chamber", "no zone in which 'Red 26A' germinates", "Warm room or Bench, or clear"
    ),
    of(STANDING, "in_zones", "Chamber", "not belong to a row 'standing'", "such a row has zone"),
    Case(
        "joins in zones that are no choice",
        both(told_by_zones, rows(("progress", GRAFTED, "in_zones", "Chamber; Attic"))),
        "progress",
        GRAFTED,
        "in_zones",
        "Chamber; Attic",
        "no way of 'Red on Stout' through its zones",
        "write House or Bench",
    ),
    Case(
        "plants counted that went through other zones",
        both(
            told_by_zones,
            rows(("progress", GRAFTED, "in_zones", "Bench")),
            added(
                "progress",
                day=date(2027, 4, 15),
                what="finished",
                number=9,
                product="Red on Stout",
                graft_day=date(2027, 4, 6),
            ),
        ),
        "progress",
        16,
        "in_zones",
        "",
        "was not grafted for these zones",
        "that stand at its joins",
    ),
    of(
        FINISHED,
        "counted",
        180,
        "not belong to a row 'finished'",
        "such a row has product, graft_day, in_zones",
    ),
    of(DELIVERED, "order", None, "blank in a row 'delivered'", "a name from table orders"),
    of(BOUGHT, "arrival_day", None, "blank in a row 'bought in'", "write a date"),
    of(BOUGHT, "product", "Red on Stout", "not belong to a row 'bought in'", "clear it"),
    of(CLIPS, "size", None, "blank in a row 'packs'", "write a number from 0.001"),
    of(HIRED, "crew", None, "blank in a row 'hired'", "a name from table crews"),
    of(WORKED, "product", "Red plain", "not belong to a row 'worked'", "such a row has crew"),
    of(STANDING, "zone", None, "blank in a row 'standing'", "a name from table zones"),
    of(GRAFTED, "lot", "Red 27A", "not in table seed_lots", "did you mean 'Red 26A'?"),
]

DAYS = [
    of(WORKED, "day", date(2027, 2, 26), "is before first_day", "from 2027-03-01 on"),
    of(STOUT, "day", date(2027, 2, 26), "is before first_day", "in table trays_on_hand", "sown too early"),
    of(STANDING, "day", TODAY, "is not before today (2027-04-17)", "set today to the next"),
    of(STANDING, "day", date(2027, 5, 3), "is not before today", "write an earlier day", "day in the future"),
    of(FINISHED, "graft_day", date(2027, 4, 8), "after the row's day (2027-04-07)", "up to 2027-04-07"),
    of(CLIPS, "arrival_day", date(2027, 4, 15), "before the day of ordering", "from 2027-04-16 on"),
    of(
        BOUGHT,
        "arrival_day",
        date(2027, 6, 1),
        "is after last_day",
        "or a later last_day",
        "arrival too late",
    ),
    of(BOUGHT, "arrival_day", date(2027, 4, 20), "is more than 7 days before order 'O-1'", "2027-04-23"),
    of(BOUGHT, "arrival_day", date(2027, 5, 4), "order 'O-1' is due (2027-04-30)", "set the order's due_day"),
    of(
        DELIVERED,
        "day",
        date(2027, 4, 8),
        "'O-3' is packed (2027-04-09)",
        "set the order's due_day to this day",
    ),
    case(
        "sown too late for the horizon",
        both(
            rows(("nursery", 2, "last_day", date(2027, 5, 28)), ("nursery", 2, "today", date(2027, 5, 28))),
            again(RED_72, day=date(2027, 5, 26), number=1, counted=None),
        ),
        16,
        "day",
        "2027-05-26",
        "seedlings come to the bench after last_day",
        "a later last_day",
    ),
    case(
        "grafted too late for the horizon",
        both(
            rows(("nursery", 2, "last_day", date(2027, 5, 28)), ("nursery", 2, "today", date(2027, 5, 28))),
            again(MOVED, day=date(2027, 5, 25), number=1),
        ),
        16,
        "day",
        "2027-05-25",
        "plants are ready after last_day",
        "a later last_day",
    ),
]

NUMBERS = [
    of(RED_72, "number", 3.5, "not a whole number of trays", "a whole number"),
    of(CLIPS, "number", 0.5, "not a whole number of packs", "a whole number"),
    of(HIRED, "number", 1.5, "not a whole number of hands", "a whole number"),
    of(STOUT, "number", 0, "no work was done", "remove the row", "no trays sown"),
    of(BOUGHT, "number", 0, "no work was done", "remove the row", "no plants bought in"),
    of(RED_72, "counted", 217, "more than the 216 cells sown", "at most 216"),
    of(GRAFTED, "counted", 501, "more than the 500 joins made", "at most 500"),
    of(GRAFTED, "number", 531, "more than the 530 seedlings of lot 'Red 26A' in '128'", "at most 530"),
    case(
        "more joins than cells where nothing is counted",
        rows(("progress", MOVED, "number", 217), ("progress", RED_72, "counted", None)),
        MOVED,
        "number",
        "217",
        "more than the 216 seedlings of lot 'Red 26A' in '72' sown on 2027-03-08",
        "at most 216",
    ),
    case(
        "more joins than seedlings in two rows",
        again(GRAFTED, number=31, counted=None, note="the second table"),
        16,
        "number",
        "31",
        "plus 500 joins of earlier rows is more than the 530 seedlings",
        "at most 30",
    ),
    of(FINISHED, "number", 201, "more than the 200 that healed, or were joined", "at most 200"),
    case(
        "more finished than healed",
        added(
            "progress",
            day=date(2027, 4, 16),
            what="finished",
            number=451,
            product="Red on Stout",
            graft_day=date(2027, 4, 6),
        ),
        16,
        "number",
        "451",
        "more than the 450 that healed",
        "at most 450",
    ),
    of(DELIVERED, "number", 191, "more than the 190 there were of that graft day", "at most 190"),
    case(
        "more delivered than ordered",
        both(
            rows(("orders", 4, "quantity", 185)),
            again(DELIVERED, number=6, note="the rest"),
        ),
        16,
        "number",
        "6",
        "plus 180 plants of earlier rows is more than the 185 of order 'O-3'",
        "at most 5",
    ),
    of(BOUGHT, "number", 481, "more than the 480 of order 'O-1'", "raise the order's quantity"),
    of(
        STOUT,
        "number",
        70,
        "makes 5,040 seeds sown of 'Stout 26A', but only 5,000 were there",
        "the packs that arrived",
    ),
    case(
        "seed sown before its pack came",
        rows(("seed_lots", 2, "stock", 800), ("progress", PACKED_SEED, "arrival_day", date(2027, 3, 19))),
        RED_128,
        "number",
        "5",
        "makes 856 seeds sown of 'Red 26A', but only 800 were there",
        "record the packs that arrived",
    ),
    of(HIRED, "number", 3, "more than the 2 that the crew may have", "raise temp_heads_most to 3"),
    of(WORKED, "number", 97, "more than the 96 hours of its hands", "at most 96"),
    of(STANDING, "number", 201, "fit into the 200 slots of 'Bench'", "correct the zone's slots"),
    case(
        "trays where there are no slots",
        both(
            added("zones", zone="Shed", use="bench", slots=40),
            added("zone_days", zone="Shed", from_day=date(2027, 4, 12), slots=0),
            again(STANDING, zone="Shed"),
        ),
        16,
        "zone",
        "Shed",
        "has no slots on 2027-04-16",
        "name the zone where they stand",
    ),
]

TOGETHER = [
    of(GRAFTED, "lot", "Stout 26A", "is of 'Stout', not the scion of 'Red on Stout'", "name a lot of 'Red'"),
    of(GRAFTED, "rootstock_lot", "Red 26A", "the rootstock of 'Red on Stout'", "name a lot of 'Stout'"),
    of(GRAFTED, "rootstock_format", "128", "not the final format of 'Red on Stout'", "write 72"),
    of(
        GRAFTED,
        "sow_day",
        date(2027, 3, 19),
        "no day on which lot 'Red 26A' was sown in '128'",
        "write 2027-03-18, or add the row",
    ),
    case(
        "grafted from another format",
        rows(("progress", GRAFTED, "format", "72")),
        GRAFTED,
        "sow_day",
        "2027-03-18",
        "no day on which lot 'Red 26A' was sown in '72'",
        "write 2027-03-08",
    ),
    case(
        "grafted before the seedlings came to the bench",
        again(MOVED, day=date(2027, 3, 11), number=1),
        16,
        "sow_day",
        "2027-03-08",
        "come to the bench on 2027-03-12, after the graft day",
        "an older wave",
    ),
    of(
        FINISHED,
        "graft_day",
        date(2027, 3, 29),
        "'Red plain' was grafted",
        "write 2027-03-30, or add the row",
    ),
    of(
        DELIVERED,
        "graft_day",
        date(2027, 3, 31),
        "'Red plain' was grafted",
        "write 2027-03-30",
        "none grafted",
    ),
    of(DELIVERED, "product", "Red on Stout", "not the product of order 'O-3'", "write Red plain"),
    case(
        "bought in for another product",
        rows(("progress", BOUGHT, "order", "O-2")),
        BOUGHT,
        "offer",
        "Neighbour",
        "is of 'Red on Stout'; order 'O-2' is for another product",
        "an offer of 'Melon on Gourd'",
    ),
    of(PACKED_SEED, "size", 900, "not the size of a pack of 'Red 26A'", "write 1,000, or add it"),
    case(
        "no packs at all",
        rows(("progress", PACKED_SEED, "item", "Stout 26A")),
        PACKED_SEED,
        "size",
        "1000",
        "not the size of a pack of 'Stout 26A'",
        "add it to table packs",
    ),
    case(
        "hired where nobody can be",
        rows(("crews", 2, "temp_heads_most", 0)),
        HIRED,
        "number",
        "1",
        "more than the 0 that the crew may have",
        "raise temp_heads_most to 1",
    ),
    case(
        "called from no list",
        both(
            both(neither_learns_nor_comes_back, rows(("crews", 2, "temp_days_least", 0))),
            again(HIRED, what="called", number=2),
        ),
        16,
        "number",
        "2",
        "more than the 1 hands hired for that week",
        "record more hands as hired",
    ),
    case(
        "called, but hired by the week",
        again(HIRED, what="called"),
        16,
        "what",
        "called",
        "are hired by the week",
        "fill in the crew's temp_days_least",
    ),
    case(
        "overtime of hands that have none",
        again(HIRED, what="temporary overtime"),
        16,
        "what",
        "temporary overtime",
        "'Grafters' has none",
        "temp_overtime_hours_per_head_day",
    ),
    case(
        "overtime on a day without a shift",
        both(
            rows(("crews", 2, "temp_overtime_hours_per_head_day", 2)),
            again(HIRED, what="temporary overtime", day=date(2027, 3, 21)),
        ),
        16,
        "day",
        "2027-03-21",
        "'Grafters' has no shift",
        "table shifts",
    ),
    case(
        "told twice",
        again(WORKED),
        16,
        "day",
        "2027-04-05",
        "is the same record as row 8",
        "keep one of the two",
    ),
    case(
        "a zone counted twice",
        again(STANDING, number=21),
        16,
        "zone",
        "Bench",
        "already counted on 2027-04-16 in row 15",
        "one count for each zone and day",
    ),
]

PROGRESS = [
    replace(each, change=both(tell, each.change)) for each in (*NURSERY, *COLUMNS, *DAYS, *NUMBERS, *TOGETHER)
]
