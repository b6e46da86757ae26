"""The reference pages of the tables, made from the schemas.

``python -m scenarios.files.tables_page`` writes them into the folder docs of the working directory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import Enum
from pathlib import Path

from model.planned.plan_tables import FACTS, PLAN_TABLES
from model.planned.tables.plan_schema import PlanColumn, PlanTable
from model.scenario.tables import TABLES, Column, Table, Type

HEAD = """# The scenario's tables

A scenario is one workbook with a sheet for each table, or a folder with a file for each. Headings are the
column names; the unit may follow in brackets, as in `pay_per_hour [currency/h]`. Separate several values in
one cell by ';'. [Files as you have them](own_files.md) says which files and spellings are read. [The plan's
tables](plan_tables.md) describes the output. This page is made from `model/scenario/tables.py`.
"""

PLAN_HEAD = """# The plan's tables

`graftwright plan` and `graftwright replan` write these tables as CSV files in the folder `tables`. A Python
program finds them as data frames in the plan. The files are UTF-8, with commas between cells, a decimal
point, dates such as 2027-03-15 and full precision. Money is in the scenario's currency. Counts of plants,
joins and seedlings are expectations and may have decimals. An apostrophe stands before text that a
spreadsheet would take for a formula. [The scenario's tables](tables.md) describes the input. This page is
made from `model/planned/plan_tables.py`.
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
        return "never blank" if isinstance(column, PlanColumn) else "required"
    value = column.default
    if value is None or value == ():
        return "may be blank"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value.value) if isinstance(value, Enum) else f"{value:g}"


def _table(columns: Sequence[Column]) -> list[str]:
    """The columns of a table as lines of Markdown."""
    return [
        "| column | type | unit | range | if blank | meaning |",
        "|---|---|---|---|---|---|",
        *(
            f"| `{c.name}` | {c.type.value} | {c.unit} | {_range(c)} | {_default(c)} | {c.help} |"
            for c in columns
        ),
        "",
    ]


def _key(key: Sequence[str]) -> str:
    return f" One row for each {', '.join(f'`{name}`' for name in key)}." if key else ""


def _section(table: Table) -> str:
    need = f"This table {'is required' if table.required else 'may be missing'}."
    return "\n".join(
        [f"## {table.name}", "", f"{table.help}{_key(table.key)} {need}", "", *_table(table.columns)]
    )


def _plan_section(table: PlanTable) -> str:
    return "\n".join([f"## {table.name}", "", f"{table.help}{_key(table.key)}", "", *_table(table.columns)])


def page() -> str:
    """The page of a scenario's tables as Markdown."""
    return "\n".join([HEAD, *(_section(table) for table in TABLES)])


def plan_page() -> str:
    """The page of a plan's tables as Markdown."""
    return "\n".join([PLAN_HEAD, *(_plan_section(table) for table in (*PLAN_TABLES.values(), FACTS))])


PAGES: dict[str, Callable[[], str]] = {"tables.md": page, "plan_tables.md": plan_page}
"""The pages by their names in docs."""


if __name__ == "__main__":
    for name, made in PAGES.items():
        (Path("docs") / name).write_text(made(), encoding="utf-8")
