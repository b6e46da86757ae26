"""The smallest bad inputs: each changes one thing in the small valid scenario and has one fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from tests.bad_input.small import Tables

Change = Callable[[Tables], None]


@dataclass(frozen=True)
class Case:
    """A change, and the fault that it must give: place, value, words of what is wrong and of the remedy."""

    name: str
    change: Change
    table: str
    row: int | None
    column: str
    value: str
    wrong: str
    remedy: str


def cell(
    name: str,
    table: str,
    row: int,
    column: str,
    value: Any,
    wrong: str,
    remedy: str,
    shown: str | None = None,
) -> Case:
    """A case in which one cell holds ``value``; ``row`` is the spreadsheet's row number."""

    def change(tables: Tables) -> None:
        tables[table][row - 2][column] = value

    told = ("" if value is None else str(value).strip()) if shown is None else shown
    return Case(name, change, table, row, column, told, wrong, remedy)


def rows(*changes: tuple[str, int, str, Any]) -> Change:
    """A change of several cells."""

    def change(tables: Tables) -> None:
        for table, row, column, value in changes:
            tables[table][row - 2][column] = value

    return change


def added(table: str, **cells: Any) -> Change:
    """A change that adds a row."""
    return lambda tables: tables.setdefault(table, []).append(cells)


def copied(table: str, row: int, **cells: Any) -> Change:
    """A change that adds a copy of a row, with some cells changed."""
    return lambda tables: tables[table].append(tables[table][row - 2] | cells)


def both(*changes: Change) -> Change:
    """Several changes."""

    def change(tables: Tables) -> None:
        for one in changes:
            one(tables)

    return change


def renamed(table: str, old: str, new: str) -> Change:
    """A change of a column's heading."""

    def change(tables: Tables) -> None:
        tables[table] = [{new if k == old else k: v for k, v in row.items()} for row in tables[table]]

    return change


def without(table: str, column: str) -> Change:
    """A change that takes a column away."""

    def change(tables: Tables) -> None:
        for row in tables[table]:
            row.pop(column, None)

    return change


def no_table(table: str) -> Change:
    """A change that takes a table away."""
    return lambda tables: tables.pop(table) and None


def renamed_table(old: str, new: str) -> Change:
    """A change of a table's name."""

    def change(tables: Tables) -> None:
        tables[new] = tables.pop(old)

    return change


def headed(table: str) -> Change:
    """A change that leaves only a table's heading."""

    def change(tables: Tables) -> None:
        tables[table] = [dict.fromkeys(tables[table][0])]

    return change


def consolidates_without_healing(tables: Tables) -> None:
    """A method that consolidates, left with its finishing stage alone."""
    tables["methods"][0]["consolidate"] = "yes"
    tables["stages"] = [tables["stages"][2] | {"step": 1}, *tables["stages"][3:]]


TABLES_AND_COLUMNS = [
    Case(
        "missing table",
        no_table("tray_formats"),
        "tray_formats",
        None,
        "",
        "",
        "is missing",
        "add this table",
    ),
    Case("no rows", headed("zones"), "zones", 2, "", "", "no rows", "at least one row"),
    Case(
        "unknown table", renamed_table("orders", "ordres"), "ordres", None, "", "", "not the name", "'orders'"
    ),
    Case("missing column", without("orders", "due_day"), "orders", 1, "due_day", "", "is missing", "due_day"),
    Case(
        "misspelt column",
        renamed("orders", "quantity", "quantiy"),
        "orders",
        1,
        "quantiy",
        "quantiy",
        "not a column",
        "'quantity'",
    ),
    Case(
        "wrong unit",
        renamed("crews", "pay_per_hour", "pay_per_hour [currency/min]"),
        "crews",
        1,
        "pay_per_hour",
        "pay_per_hour [currency/min]",
        "wrong unit",
        "[currency/h]",
    ),
    Case(
        "unit where none belongs",
        renamed("orders", "customer", "customer [kg]"),
        "orders",
        1,
        "customer",
        "customer [kg]",
        "wrong unit",
        "no unit",
    ),
    Case(
        "blank heading",
        renamed("orders", "customer", ""),
        "orders",
        2,
        "",
        "Market farm",
        "under no heading",
        "row 1",
    ),
    Case(
        "column twice",
        lambda tables: tables["orders"][0].update({"quantity ": 480}),
        "orders",
        1,
        "quantity",
        "quantity",
        "twice",
        "keep one",
    ),
]

CELLS = [
    cell("blank", "orders", 3, "quantity", None, "is blank", "whole number from 1"),
    cell("blank name", "crews", 2, "crew", None, "is blank", "write a text"),
    cell("blank reference", "products", 2, "final_format", None, "is blank", "tray_formats"),
    cell(
        "misspelt reference",
        "orders",
        2,
        "product",
        "Red on Stuot",
        "not in table products",
        "'Red on Stout'",
    ),
    cell(
        "case of reference", "orders", 2, "product", "red on stout", "not in table products", "'Red on Stout'"
    ),
    cell("strange reference", "orders", 2, "product", "Quince", "not in table products", "add it there"),
    cell(
        "misspelt item",
        "products",
        3,
        "rootstock_formats",
        "128;127",
        "not in table tray_formats",
        "'128'",
        "127",
    ),
    cell("item of two tables", "packs", 3, "item", "Clip", "seed_lots or table supplies", "'Clips'"),
    cell("unknown zone of a change", "zone_days", 2, "zone", "Hause", "not in table zones", "'House'"),
    cell("unknown crew of a change", "crew_days", 2, "crew", "Grafter", "not in table crews", "'Grafters'"),
    cell("unknown zone of a module", "modules", 2, "zone", "Chambre", "not in table zones", "'Chamber'"),
    cell("the name of the one sum", "overheads", 2, "overhead", "nursery", "table nursery", "paid for"),
    cell("unknown period", "overheads", 2, "period", "quarter", "not one of the choices", "month"),
    cell("text for number", "orders", 2, "quantity", "many", "text where a number", "whole number"),
    cell("unit in a number", "crews", 2, "pay_per_hour", "$21.50", "text where a number", "a number"),
    cell("underscore in a number", "orders", 2, "quantity", "1_000", "text where a number", "whole number"),
    cell("decimal comma among points", "packs", 2, "price", "90,5", "decimal comma", "90.5"),
    cell("decimal comma in a count", "orders", 2, "quantity", "480,5", "not a whole number", "480"),
    cell("comma either way", "orders", 2, "quantity", "1,480", "may be 1480", "decimal=point or"),
    cell("thousands of two digits", "orders", 2, "quantity", "1 48", "text where a number", "whole number"),
    cell("thousands of two kinds", "orders", 2, "quantity", "1,480 000", "text where", "whole number"),
    cell("percent as 85", "seed_lots", 2, "germination", 85, "above 1", "0.85"),
    cell("percent sign", "crews", 2, "pay_per_hour", "85%", "percentage", "0.85"),
    cell("percent beyond all", "seed_lots", 2, "germination", "185%", "above 1", "0.0185", "185%"),
    cell("share over range", "seed_lots", 2, "germination", 850, "above 1", "share from 0.01"),
    cell("negative", "seed_lots", 2, "stock", -5, "negative", "from 0"),
    cell("zero", "nursery", 2, "shortfall_penalty", 0, "not above 0", "above 0"),
    cell("hardly a slot", "tray_formats", 2, "slots", 0.001, "below 0.01", "from 0.01"),
    cell("a trillion plants", "orders", 2, "quantity", 10**12, "above 10,000,000", "to 10,000,000"),
    cell("one join in a million", "methods", 2, "take", 1e-6, "below 0.01", "from 0.01"),
    cell("below one", "orders", 2, "quantity", 0, "below 1", "from 1"),
    cell("NaN", "crews", 2, "heads", "NaN", "not a number", "number from 0"),
    cell("infinite", "crews", 2, "heads", "inf", "infinite", "number from 0"),
    cell("infinite by size", "crews", 2, "heads", "1e999", "infinite", "number from 0"),
    cell("over range", "crews", 2, "hours_per_head_day", 25, "above 24", "from 0 to 24"),
    cell("beyond all", "nursery", 2, "shortfall_penalty", 1e13, "above 10,000,000", "up to 10,000,000"),
    cell("not whole", "orders", 2, "quantity", 480.5, "not a whole number", "480"),
    cell("date impossible", "orders", 2, "due_day", "2027-04-31", "no day of the calendar", "exists"),
    cell("date in words", "orders", 2, "due_day", "30 April 2027", "year-month-day", "2026-03-31"),
    cell(
        "day and month either way", "orders", 2, "due_day", "05/04/2027", "2027-04-05 or 2027-05-04", "dates="
    ),
    cell("no thirteenth month", "orders", 2, "due_day", "30.13.2027", "year-month-day", "2026-03-31"),
    cell("date with words", "orders", 2, "due_day", "2027-04-30 noon", "year-month-day", "2026-03-31"),
    cell("time of day", "orders", 2, "due_day", "2027-04-30T08:00", "time of day", "2027-04-30"),
    cell("zoned time", "orders", 2, "due_day", "2027-04-30T23:30+02:00", "time zone", "2027-04-30"),
    cell("zoned day", "orders", 2, "due_day", "2027-04-30Z", "time zone", "at the nursery"),
    cell("number for date", "orders", 2, "due_day", "46507", "number where a date", "write 2027-04-30"),
    cell("date long ago", "days_off", 2, "day", "0207-04-02", "year 207", "2000 to 2100"),
    cell("neither yes nor no", "methods", 2, "consolidate", "perhaps", "neither", "yes or no"),
    cell("wrong choice", "methods", 2, "kind", "on tray", "not one of the choices", "'on-tray'"),
    cell("strange choice", "zones", 2, "use", "parking", "not one of the choices", "germination, bench"),
    cell(
        "declined for no price", "orders", 2, "decline", "in part", "needs a price", "write the order's price"
    ),
    Case(
        "late without a price",
        rows(("orders", 2, "late_days_most", 7), ("orders", 2, "late_discount", 0.1)),
        "orders",
        2,
        "price",
        "",
        "may come up to 7 days late",
        "write the price, or 0",
    ),
    Case(
        "late without a discount",
        rows(("orders", 2, "late_days_most", 7), ("orders", 2, "price", 1.0)),
        "orders",
        2,
        "late_discount",
        "",
        "may come late",
        "write the discount a week",
    ),
    Case(
        "late for nothing",
        rows(
            ("orders", 2, "late_days_most", 14),
            ("orders", 2, "price", 1.0),
            ("nursery", 2, "late_discount", 0.6),
        ),
        "orders",
        2,
        "late_discount",
        "",
        "more than the whole price within 14 days",
        "write at most 0.5",
    ),
    cell("wrong weekday", "buy_in_offers", 2, "delivery_weekdays", "Mon;Tues", "holds 'Tues'", "'Tue'"),
    cell("strange day", "buy_in_offers", 2, "delivery_weekdays", "Noday", "is not one of", "Mon, Tue"),
    cell("comma between weekdays", "nursery", 2, "working_weekdays", "Mon, Tue", "not one", "separated by"),
    cell("item twice", "crews", 2, "skills", "general;grafting;general", "twice", "once"),
    cell("empty item", "crews", 2, "skills", "general;;grafting", "empty item", "one ';'"),
    cell("mark of lists in a name", "labour_standards", 2, "skill", "general;odd", "';'", "without"),
    cell("control character", "orders", 2, "customer", "Market\x07farm", "control character", "again"),
    cell("line break in a name", "orders", 2, "customer", "Market\nfarm", "line break", "one line"),
    cell("long name", "orders", 2, "customer", "x" * 201, "201 characters", "at most 200"),
    cell("currency", "nursery", 2, "currency", "Taler", "ISO 4217", "USD"),
    cell("currency in small letters", "nursery", 2, "currency", "usd", "ISO 4217", "write USD"),
]

ROWS = [
    Case(
        "duplicate key",
        copied("orders", 2),
        "orders",
        6,
        "order",
        "O-1",
        "already in row 2",
        "one row for each order",
    ),
    Case(
        "duplicate pair",
        copied("stages", 3),
        "stages",
        12,
        "method",
        "tomato splice, 2",
        "already in row 3",
        "method and step",
    ),
    Case(
        "duplicate day",
        copied("days_off", 2, reason="again"),
        "days_off",
        3,
        "day",
        "2027-04-02",
        "already in row 2",
        "each day",
    ),
    Case(
        "names alike",
        both(copied("tray_formats", 2, format="Pot"), copied("tray_formats", 2, format="POT")),
        "tray_formats",
        5,
        "format",
        "POT",
        "letter case",
        "alike",
    ),
    Case(
        "two nurseries",
        copied("nursery", 2, name="Other"),
        "nursery",
        3,
        "name",
        "Other",
        "second row",
        "keep one",
    ),
    Case(
        "lot and supply of one name",
        copied("supplies", 2, supply="Red 26A"),
        "supplies",
        3,
        "supply",
        "Red 26A",
        "seed lot (row 2)",
        "another name",
    ),
    cell("last day first", "nursery", 2, "last_day", date(2027, 2, 1), "before first_day", "later"),
    cell("endless horizon", "nursery", 2, "last_day", date(2099, 1, 1), "days", "at most 1,096"),
    cell("due too soon", "orders", 2, "due_day", date(2027, 2, 27), "before first_day", "2027-03-01"),
    cell("due too late", "orders", 2, "due_day", date(2027, 6, 1), "after last_day", "2027-05-30"),
    cell(
        "due before ready", "orders", 4, "due_day", date(2027, 3, 26), "before any 'Red plain'", "2027-03-29"
    ),
    cell(
        "due before first working day",
        "orders",
        4,
        "due_day",
        date(2027, 3, 1),
        "before any",
        "2027-03-29",
    ),
    cell("empty zone", "zones", 3, "slots", 0, "without slots", "more than 0"),
    cell("pool without slots", "zones", 3, "slots", None, "blank in a zone run as pool", "how many slots"),
    cell("pool with units", "zones", 3, "units", 2, "run as pool", "clear it"),
    cell(
        "units without unit_slots",
        "zones",
        4,
        "unit_slots",
        None,
        "blank in a zone run as units",
        "how many unit_slots",
    ),
    cell("units with slots", "zones", 4, "slots", 60, "run as units", "clear it"),
    cell("change of units in a pool", "zone_days", 2, "units", 3, "run as pool", "column slots"),
    Case(
        "change of a zone by nothing",
        rows(("zone_days", 2, "slots", None)),
        "zone_days",
        2,
        "zone",
        "House",
        "no new figure",
        "slots, units",
    ),
    Case(
        "change of nothing",
        rows(("crew_days", 2, "heads", None)),
        "crew_days",
        2,
        "crew",
        "Grafters",
        "no new figure",
        "heads",
    ),
    cell("25 hours", "crews", 2, "overtime_hours_per_head_day", 17, "25 hours", "at most 16"),
    cell("skill of no crew", "labour_standards", 3, "skill", "graftng", "no crew has", "'grafting'"),
    cell("sowing by method", "labour_standards", 2, "method", "root cut", "sowing", "clear it"),
    cell(
        "offer never delivers",
        "buy_in_offers",
        2,
        "delivery_weekdays",
        "Sat;Sun",
        "no working weekday",
        "Mon",
    ),
    cell(
        "offer of least over most", "buy_in_offers", 2, "least_quantity", 3000, "above most", "at most 2000"
    ),
    Case(
        "offer ends first",
        rows(
            ("buy_in_offers", 2, "from_day", date(2027, 4, 2)),
            ("buy_in_offers", 2, "to_day", date(2027, 4, 1)),
        ),
        "buy_in_offers",
        2,
        "to_day",
        "2027-04-01",
        "before from_day",
        "2027-04-02",
    ),
    cell("module of another size", "modules", 2, "slots", 30, "unit_slots", "write 24"),
    cell("window ends first", "methods", 2, "scion_age_max", 15, "below scion_age_min", "at least 16"),
    Case(
        "window no working day meets",
        rows(
            ("methods", 2, "scion_age_min", 17),
            ("methods", 2, "scion_age_max", 17),
            ("nursery", 2, "working_weekdays", "Mon;Tue"),
            ("nursery", 2, "last_day", date(2027, 7, 30)),
        ),
        "methods",
        2,
        "scion_age_max",
        "17",
        "no two working weekdays",
        "at least 20",
    ),
    cell(
        "germination past the window", "seed_lots", 5, "germination_days", 22, "past the window", "at most 21"
    ),
    cell(
        "grafted without rootstock age",
        "methods",
        2,
        "rootstock_age_min",
        None,
        "blank in a grafted method",
        "whole number from 0",
    ),
    cell("no match", "methods", 2, "match", None, "match from a number", "share from 0.01"),
    cell("no tolerance", "methods", 3, "stem_tolerance_mm", None, "match from diameters", "number from 0.01"),
    cell("no take", "methods", 2, "take", None, "is blank", "share from 0.01"),
    cell("own-root with take", "methods", 5, "take", 0.9, "own-root", "clear it"),
    cell("own-root with match from ages", "methods", 5, "match_from", "ages", "own-root", "write number"),
    cell("own-root consolidates", "methods", 5, "consolidate", "yes", "do not heal", "write no"),
    cell("own-root with rootstock", "products", 4, "rootstock", "Stout", "is own-root", "clear it"),
    cell(
        "grafted without rootstock",
        "products",
        2,
        "rootstock",
        None,
        "grafted product",
        "name from table seed_lots",
    ),
    cell("no scion formats", "products", 2, "scion_formats", None, "grafted product", "tray formats"),
    cell("on-tray with rootstock formats", "products", 2, "rootstock_formats", "128", "on-tray", "clear it"),
    cell(
        "root-cut without rootstock formats",
        "products",
        3,
        "rootstock_formats",
        None,
        "root-cut",
        "tray formats",
    ),
    cell("lot without diameter", "seed_lots", 6, "diameter_start_mm", None, "stem diameters", "number of mm"),
    cell(
        "no spread", "seed_lots", 6, "diameter_spread_mm", 0, "spread of stem diameters of 0 mm", "above 0 mm"
    ),
    cell("negative diameter", "seed_lots", 6, "diameter_start_mm", -5, "mean stem diameter of", "above 0 mm"),
    cell("ages outside the window", "age_effects", 2, "scion_age", 30, "outside", "age from 16 to 21"),
    cell("ages without match", "age_effects", 2, "match", None, "match from ages", "write a share"),
    Case(
        "ages that say nothing",
        added("age_effects", method="tomato splice", rootstock_age=20, scion_age=18),
        "age_effects",
        4,
        "take",
        "",
        "has no effect",
        "match or take",
    ),
    cell("ages of own-root", "age_effects", 2, "method", "own root", "own-root", "grafted"),
    Case(
        "no ages",
        no_table("age_effects"),
        "methods",
        4,
        "match_from",
        "ages",
        "needs a match by age",
        "age_effects",
    ),
    cell("gap in steps", "stages", 4, "step", 4, "gap", "write 3"),
    Case(
        "healing after finishing",
        rows(("stages", 3, "step", 3), ("stages", 4, "step", 2)),
        "stages",
        3,
        "part",
        "healing",
        "comes after finishing",
        "healing stages first",
    ),
    cell("own-root heals", "stages", 11, "part", "healing", "own-root", "finishing"),
    cell("zone not for healing", "stages", 2, "zone", "House", "cannot serve for healing", "healing"),
    cell("zone not for finishing", "stages", 4, "zone", "Chamber", "cannot serve for finishing", "finishing"),
    cell(
        "zone not for germination",
        "seed_lots",
        2,
        "germination_zone",
        "Chamber",
        "cannot serve for germination",
        "germination",
    ),
    cell("zone not for seedlings", "seed_lots", 2, "bench_zone", "Warm room", "raising seedlings", "bench"),
    cell("zone not for holding", "methods", 2, "holding_zone", "Chamber", "holding plants", "holding"),
    Case(
        "consolidates without healing",
        consolidates_without_healing,
        "methods",
        2,
        "consolidate",
        "yes",
        "needs a healing stage",
        "write no",
    ),
    Case(
        "no working day",
        rows(
            ("nursery", 2, "first_day", date(2027, 4, 3)),
            ("nursery", 2, "last_day", date(2027, 4, 4)),
            ("nursery", 2, "today", date(2027, 4, 4)),
            ("progress", 2, "day", date(2027, 4, 3)),
            ("progress", 2, "arrival_day", date(2027, 4, 3)),
            *(("orders", row, "due_day", date(2027, 4, 4)) for row in (2, 3, 4, 5)),
        ),
        "nursery",
        2,
        "working_weekdays",
        "Mon;Tue;Wed;Thu;Fri",
        "no working day",
        "later last_day",
    ),
]

TYPED = [
    cell(
        "date as text either way",
        "orders",
        2,
        "due_day",
        "05/04/2027",
        "may be 2027-04-05",
        "format the column",
    ),
    cell(
        "number as text either way", "orders", 2, "quantity", "1.480", "may be 1.480", "write 1.480 or 1480"
    ),
    cell("words for a number", "orders", 2, "quantity", "many", "text where a number", "whole number"),
    cell(
        "number for date",
        "orders",
        2,
        "due_day",
        46507,
        "number where a date",
        "as a date and write 2027-04-30",
    ),
    cell("time with a date", "orders", 2, "due_day", datetime(2027, 4, 30, 8), "time of day", "2027-04-30"),
    cell("time for date", "orders", 2, "due_day", time(8, 30), "time of day where a date", "2026-03-31"),
    cell("truth value for date", "orders", 2, "due_day", True, "truth value", "date", "TRUE"),
    cell("truth value for number", "orders", 2, "quantity", True, "truth value", "whole number", "TRUE"),
    cell("truth value for text", "orders", 2, "customer", False, "truth value", "format the cell", "FALSE"),
    cell(
        "date for number",
        "orders",
        2,
        "quantity",
        date(2027, 4, 30),
        "date where a number",
        "format the cell",
    ),
    cell("date for text", "orders", 2, "customer", date(2027, 4, 2), "date where a text", "format the cell"),
    cell("formula error", "orders", 2, "quantity", "#REF!", "error of a formula", "mend"),
    cell("division by zero", "orders", 2, "product", "#DIV/0!", "error of a formula", "mend"),
    cell("formula never calculated", "orders", 2, "quantity", "=40*12", "never calculated", "save it"),
    cell("name as a formula", "orders", 2, "customer", "=Market", "never calculated", "write the value"),
]
