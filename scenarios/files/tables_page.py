"""The reference page of the tables, made from the schema: ``python -m scenarios.tables_page``."""

from __future__ import annotations

from enum import Enum

from model.scenario.tables import TABLES, Column, Table, Type

HEAD = """# The scenario's tables

A scenario is one workbook (.xlsx) with a sheet for each table, or a folder with a CSV file for each.
Headings are the column names; the unit may follow in brackets, as in `pay_per_hour [currency/h]`.
Dates in CSV files are written 2027-03-15, decimals with a point, shares as 0.85; several values in
one cell are parted by ';'. Text that starts with = + - or @ carries an apostrophe before it in CSV files,
so that no spreadsheet runs it; the reader takes it away. This page is made from `model/scenario/tables.py`.
"""


def _range(column: Column) -> str:
    if column.choices:
        return " / ".join(column.choices)
    if column.references:
        return " or ".join(f"{column_} of {table}" for table, column_ in column.references)
    if column.type not in (Type.WHOLE, Type.NUMBER, Type.SHARE):
        return ""
    low = "" if column.low is None else f"{'above' if column.above_low else 'from'} {column.low:g}"
    high = "" if column.high is None else f"to {column.high:g}"
    return f"{low} {high}".strip()


def _default(column: Column) -> str:
    if column.required:
        return "required"
    value = column.default
    if value is None or value == ():
        return "may be blank"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value.value) if isinstance(value, Enum) else f"{value:g}"


def _section(table: Table) -> str:
    rows = [
        f"| `{c.name}` | {c.type.value} | {c.unit} | {_range(c)} | {_default(c)} | {c.help} |"
        for c in table.columns
    ]
    key = f" One row for each {', '.join(f'`{name}`' for name in table.key)}." if table.key else ""
    need = "required" if table.required else "may be missing"
    return "\n".join(
        [
            f"## {table.name}",
            "",
            f"{table.help}{key} This table {'is ' if table.required else ''}{need}.",
            "",
            "| column | type | unit | range | if blank | meaning |",
            "|---|---|---|---|---|---|",
            *rows,
            "",
        ]
    )


def page() -> str:
    """The page as Markdown."""
    return "\n".join([HEAD, *(_section(table) for table in TABLES)])


if __name__ == "__main__":
    print(page(), end="")
