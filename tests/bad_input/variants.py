"""Smallest bad variants of the small scenario, each with the place and words of its one fault."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Case:
    """A variant's text after its head of two lines, and the place and words of its one fault."""

    name: str
    text: str
    line: int
    where: tuple[str, str, str]
    """Table, key of the row, column."""
    value: str
    wrong: str
    remedy: str


def change(table: str, row: str, column: str, new: str) -> str:
    """A change on the lines 3 to 7: header, table, row, column, new."""
    return f'[[change]]\ntable = "{table}"\nrow = {row}\ncolumn = "{column}"\n{new}\n'


def add(table: str, values: str) -> str:
    """An addition on the lines 3 to 5."""
    return f'[[add]]\ntable = "{table}"\nvalues = {{ {values} }}\n'


TAKE = change("methods", '"tomato splice"', "take", "value = 0.9")
CREW_DAY = 'crew = "Grafters", from_day = 2027-04-12'

CASES = [
    # keys of the file
    Case("unknown key", 'notes = "x"', 3, ("", "", ""), "notes", "is not a key of a variant", "'note'"),
    Case(
        "strange key", "zzzz = 1", 3, ("", "", ""), "zzzz", "is not a key of a variant", "name, parent, note"
    ),
    Case("note a number", "note = 3", 3, ("", "", "note"), "3", "is not a text", '"3"'),
    Case("change a table", "[change]\n", 3, ("", "", ""), "", "'change' is not a list", "[[change]]"),
    Case("remove a number", "remove = 3", 3, ("", "", ""), "", "'remove' is not a list", "[[remove]]"),
    # keys of the entries
    Case(
        "misspelt value",
        change("methods", '"tomato splice"', "take", "vlaue = 0.9"),
        7,
        ("", "", ""),
        "vlaue",
        "is not a key of [[change]]",
        "did you mean 'value'?",
    ),
    Case("no table", "[[remove]]\nrow = 'O-1'", 3, ("", "", ""), "", "[[remove]] has no table", "table ="),
    Case(
        "no row", '[[remove]]\ntable = "orders"', 3, ("", "", ""), "", "[[remove]] has no row", "the order of"
    ),
    Case(
        "no column",
        '[[change]]\ntable = "orders"\nrow = "O-1"\nvalue = 1',
        3,
        ("", "", ""),
        "",
        "[[change]] has no column",
        "quantity",
    ),
    Case("no values", '[[add]]\ntable = "orders"', 3, ("", "", ""), "", "[[add]] has no values", "values ="),
    Case(
        "values a text",
        '[[add]]\ntable = "orders"\nvalues = "O-9"',
        5,
        ("orders", "", ""),
        "O-9",
        "is not a table",
        "column",
    ),
    Case(
        "two of value, times, plus",
        change("methods", '"tomato splice"', "take", "times = 0.9\nplus = 0.1"),
        8,
        ("methods", "tomato splice", ""),
        "",
        "[[change]] has times and plus",
        "exactly one",
    ),
    Case(
        "none of value, times, plus",
        change("methods", '"tomato splice"', "take", "# nothing"),
        3,
        ("methods", "tomato splice", ""),
        "",
        "[[change]] has none of value, times, plus",
        "exactly one",
    ),
    # tables, rows, columns
    Case(
        "unknown table",
        change("method", '"tomato splice"', "take", "value = 0.9"),
        4,
        ("", "", ""),
        "method",
        "is not the name of a table",
        "did you mean 'methods'?",
    ),
    Case(
        "table a number",
        '[[remove]]\ntable = 3\nrow = "O-1"',
        4,
        ("", "", ""),
        "3",
        "is not the name of a table",
        "the tables are nursery",
    ),
    Case(
        "unknown row",
        change("methods", '"tomato slice"', "take", "value = 0.9"),
        5,
        ("methods", "", ""),
        "tomato slice",
        "is not a row of the table",
        "did you mean 'tomato splice'?",
    ),
    Case(
        "row unlike any",
        change("orders", '"zzz"', "quantity", "value = 9"),
        5,
        ("orders", "", ""),
        "zzz",
        "is not a row of the table",
        "4 rows",
    ),
    Case(
        "unknown column",
        change("methods", '"tomato splice"', "takes", "value = 0.9"),
        6,
        ("methods", "", ""),
        "takes",
        "is not a column",
        "did you mean 'take'?",
    ),
    Case(
        "text for a key of several columns",
        change("stages", '"tomato splice"', "days", "value = 3"),
        5,
        ("stages", "", ""),
        "tomato splice",
        "the key has 2 columns",
        "row = {method = ..., step = ...}",
    ),
    Case(
        "strange column of the key",
        change("stages", '{ method = "tomato splice", stp = 1 }', "days", "value = 3"),
        5,
        ("stages", "", ""),
        "stp",
        "is not a column of the key",
        "'step'",
    ),
    Case(
        "text in a key's number",
        change("stages", '{ method = "tomato splice", step = "two" }', "days", "value = 3"),
        5,
        ("stages", "", ""),
        "two",
        "step is text where a number belongs",
        "whole number",
    ),
    Case(
        "key not a text",
        change("orders", "17", "quantity", "value = 3"),
        5,
        ("orders", "", ""),
        "17",
        "is not a text",
        "double quotes",
    ),
    Case(
        "row of the one row",
        change("nursery", '"Test nursery"', "overhead", "value = 3"),
        5,
        ("nursery", "", ""),
        "Test nursery",
        "the table has one row",
        "leave row out",
    ),
    Case(
        "row of rows without names",
        change("progress", "2", "note", 'value = "by post"'),
        5,
        ("progress", "", ""),
        "2",
        "rows have no names",
        "leave row out",
    ),
    # cells
    Case(
        "text for a number",
        change("methods", '"tomato splice"', "take", 'value = "0.9"'),
        7,
        ("methods", "tomato splice", "take"),
        "0.9",
        "is a text where a number belongs",
        "without quotes",
    ),
    Case(
        "number for a text",
        change("orders", '"O-1"', "customer", "value = 17"),
        7,
        ("orders", "O-1", "customer"),
        "17",
        "is not a text",
        '"17"',
    ),
    Case(
        "text for a date",
        change("orders", '"O-1"', "due_day", 'value = "2027-04-30"'),
        7,
        ("orders", "O-1", "due_day"),
        "2027-04-30",
        "is a text where a date belongs",
        "without quotes",
    ),
    Case(
        "time of day",
        change("orders", '"O-1"', "due_day", "value = 2027-04-30T08:00:00"),
        7,
        ("orders", "O-1", "due_day"),
        "2027-04-30T08:00:00",
        "has a time of day",
        "2027-04-30",
    ),
    Case(
        "list for a cell",
        change("products", '"Melon on Gourd"', "rootstock_formats", 'value = ["128"]'),
        7,
        ("products", "Melon on Gourd", "rootstock_formats"),
        "[...]",
        "is a list or table",
        "separated by ';'",
    ),
    Case(
        "out of range",
        change("methods", '"tomato splice"', "take", "value = 85"),
        7,
        ("methods", "tomato splice", "take"),
        "85",
        "is above 1",
        "write 0.85",
    ),
    Case(
        "negative",
        change("crews", '"Grafters"', "heads", "value = -1"),
        7,
        ("crews", "Grafters", "heads"),
        "-1",
        "is negative",
        "from 0",
    ),
    Case(
        "infinite",
        change("crews", '"Grafters"', "heads", "value = inf"),
        7,
        ("crews", "Grafters", "heads"),
        "inf",
        "is infinite",
        "from 0",
    ),
    Case(
        "beyond any figure",
        change("crews", '"Grafters"', "heads", f"value = {10**400}"),
        7,
        ("crews", "Grafters", "heads"),
        hex(10**400),
        "is larger than any figure",
        "from 0",
    ),
    Case(
        "blank where a cell is needed",
        change("crews", '"Grafters"', "heads", 'value = ""'),
        7,
        ("crews", "Grafters", "heads"),
        "",
        "is blank",
        "write a number",
    ),
    Case(
        "misspelt choice",
        change("methods", '"tomato splice"', "kind", 'value = "on tray"'),
        7,
        ("methods", "tomato splice", "kind"),
        "on tray",
        "is not one of the choices",
        "did you mean 'on-tray'?",
    ),
    Case(
        "times on text",
        change("orders", '"O-1"', "customer", "times = 2"),
        7,
        ("orders", "O-1", "customer"),
        "2",
        "is times on a text",
        "value",
    ),
    Case(
        "plus on a date",
        change("orders", '"O-1"', "due_day", "plus = 7"),
        7,
        ("orders", "O-1", "due_day"),
        "7",
        "is plus on a date",
        "value",
    ),
    Case(
        "times a text",
        change("orders", '"O-1"', "quantity", 'times = "2"'),
        7,
        ("orders", "O-1", ""),
        "2",
        "times is not a number",
        "times = 1.1",
    ),
    Case(
        "times on a blank cell",
        change("orders", '"O-1"', "price", "times = 2"),
        7,
        ("orders", "O-1", "price"),
        "2",
        "is times on a blank cell",
        "value",
    ),
    Case(
        "times out of range",
        change("methods", '"tomato splice"', "take", "times = 1.25"),
        7,
        ("methods", "tomato splice", "take"),
        "1.25",
        "turns 0.92 into 1.15, which is above 1",
        "choose an amount that makes the cell a share from 0.01 to 1",
    ),
    # added rows
    Case(
        "misspelt column of an added row",
        add("crew_days", f"{CREW_DAY}, head = 2"),
        5,
        ("crew_days", "", ""),
        "head",
        "is not a column",
        "'heads'",
    ),
    Case(
        "added row without a column",
        add("crew_days", 'crew = "Grafters", heads = 2'),
        5,
        ("crew_days", "", "from_day"),
        "",
        "is missing",
        "write a date",
    ),
    Case(
        "added row of a bad cell",
        '[[add]]\ntable = "crew_days"\n[add.values]\ncrew = "Grafters"\nfrom_day = "soon"\nheads = 2',
        7,
        ("crew_days", "", "from_day"),
        "soon",
        "is a text where a date belongs",
        "write a date",
    ),
    Case(
        "added row that is there",
        add("crew_days", 'crew = "Grafters", from_day = 2027-04-05, heads = 2'),
        3,
        ("crew_days", "", ""),
        "Grafters, 2027-04-05",
        "is already a row",
        "[[change]]",
    ),
    Case(
        "added twice",
        add("crew_days", f"{CREW_DAY}, heads = 2") + add("crew_days", f"{CREW_DAY}, heads = 3"),
        6,
        ("crew_days", "", ""),
        "Grafters, 2027-04-12",
        "is added twice, first in line 3",
        "once",
    ),
    # the same cell twice
    Case(
        "changed twice",
        TAKE + TAKE,
        8,
        ("methods", "tomato splice", "take"),
        "",
        "is changed twice in this file: lines 3 and 8",
        "keep one",
    ),
    Case(
        "changed with all rows",
        TAKE + change("methods", '"*"', "take", "times = 0.9"),
        8,
        ("methods", "tomato splice", "take"),
        "",
        "is changed twice in this file: lines 3 and 8",
        "keep one",
    ),
    Case(
        "changed after removal",
        '[[remove]]\ntable = "orders"\nrow = "O-1"\n' + change("orders", '"O-1"', "quantity", "value = 9"),
        6,
        ("orders", "O-1", ""),
        "",
        "is both changed and removed in this file: lines 3 and 6",
        "keep one",
    ),
    Case(
        "removed twice",
        '[[remove]]\ntable = "orders"\nrow = "O-1"\n' * 2,
        6,
        ("orders", "O-1", ""),
        "",
        "is removed twice in this file: lines 3 and 6",
        "keep one",
    ),
    # what the changes make of the scenario
    Case(
        "reference to nothing",
        change("orders", '"O-1"', "product", 'value = "Red on Stuot"'),
        3,
        ("orders", "O-1", "product"),
        "Red on Stuot",
        "is not in table products",
        "'Red on Stout'",
    ),
    Case(
        "rule between cells",
        change("methods", '"tomato splice"', "scion_age_max", "value = 10"),
        3,
        ("methods", "tomato splice", "scion_age_max"),
        "10",
        "is below scion_age_min (16)",
        "at least 16",
    ),
    Case(
        "rule on an added row",
        add("crew_days", CREW_DAY),
        5,
        ("crew_days", "Grafters, 2027-04-12", "crew"),
        "Grafters",
        "has no new figure",
        "heads",
    ),
    Case(
        "all rows removed",
        '[[remove]]\ntable = "crews"\nrow = "*"\n[[remove]]\ntable = "crew_days"\nrow = "*"',
        0,
        ("labour_standards", "sow", "skill"),
        "general",
        "is a skill that no crew has",
        "column skills",
    ),
]
