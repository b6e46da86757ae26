"""What if: a table, a row, a column and a new figure become a variant, a file that one can read and share."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from model.scenario.entities import Scenario
from model.scenario.schema import Column, Type
from model.scenario.tables import BY_NAME, TABLES, Table, records_of
from scenarios.cells.draft import text_of
from scenarios.cells.typed import plain_day

WAYS = {"value": "set to", "times": "times", "plus": "plus"}
EVERY = "*"
NUMBERS = (Type.NUMBER, Type.SHARE, Type.WHOLE)

SLIDERS: tuple[tuple[str, str, str], ...] = (
    ("Take of every method", "methods", "take"),
    ("Plants that finish", "methods", "finish_survival"),
    ("Germination of every lot", "seed_lots", "germination"),
    ("Pay an hour", "crews", "pay_per_hour"),
    ("Hands of every crew", "crews", "heads"),
    ("Hours a hand and day", "crews", "hours_per_head_day"),
    ("Overtime a hand and day", "crews", "overtime_hours_per_head_day"),
    ("Temporary hands", "crews", "temp_heads_most"),
    ("Pay of temporary hands", "crews", "temp_pay_per_hour"),
    ("Time of every task", "labour_standards", "seconds"),
    ("Slots of every zone", "zones", "slots"),
    ("Cost of a slot-day", "zones", "cost_per_slot_day"),
    ("Cost of a bay a week", "bays", "cost_per_bay_week"),
    ("Price of every pack", "packs", "price"),
    ("Price of bought-in plants", "buy_in_offers", "price"),
    ("Plants ordered", "orders", "quantity"),
    ("Prices of orders", "orders", "price"),
    ("Overhead", "nursery", "overhead"),
    ("Penalty for a plant short", "nursery", "shortfall_penalty"),
    ("Days of every stage", "stages", "days"),
    ("Seed on hand", "seed_lots", "stock"),
)
"""Figures that matter most, each with its table and column; a slider multiplies all its rows."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change: ``row`` is a key, ``EVERY``, or blank for the nursery's one row."""

    table: str
    row: tuple[tuple[str, str], ...] | str
    column: str
    way: str
    figure: str


def sliders() -> list[tuple[str, str, str]]:
    """The sliders whose columns the tables have."""
    return [
        (label, table, column)
        for label, table, column in SLIDERS
        if column in BY_NAME[table].by_name and holds_number(table, column)
    ]


def holds_number(table: str, column: str) -> bool:
    """Whether a column holds numbers; raises ``KeyError`` where there is none of that name."""
    return BY_NAME[table].by_name[column].type in NUMBERS


def tables(scenario: Scenario) -> list[str]:
    """Tables with rows that a variant can name."""
    return [table.name for table in TABLES if records_of(scenario, table) and table.name != "progress"]


def keys(scenario: Scenario, table: Table) -> list[tuple[str, str]]:
    """Rows of a table by their keys: the key as JSON, and in words."""
    if table.name == "nursery":
        return []
    found = []
    for record in records_of(scenario, table):
        key = {name: text_of(getattr(record, name)) for name in table.key}
        found.append((json.dumps(key, ensure_ascii=False), ", ".join(filter(None, key.values()))))
    return found


def columns(table: Table) -> list[Column]:
    """Columns that a change can name: all but those of the key."""
    return [column for column in table.columns if column.name not in table.key]


def text_of_variant(name: str, parent: str, changes: Sequence[Change]) -> str:
    """The variant's file (TOML)."""
    lines = [f"name = {_text(name)}", f"parent = {_text(parent)}", 'note = "made at the desk"']
    for change in changes:
        lines += ["", "[[change]]", f"table = {_text(change.table)}"]
        if isinstance(change.row, tuple):
            inside = ", ".join(
                f"{column} = {_cell(change.table, column, text)}" for column, text in change.row
            )
            lines.append(f"row = {{ {inside} }}")
        elif change.row:
            lines.append(f"row = {_text(change.row)}")
        lines.append(f"column = {_text(change.column)}")
        figure = change.figure.strip()
        cell = _cell(change.table, change.column, figure) if change.way == "value" else _figure(figure)
        lines.append(f"{change.way} = {cell}")
    return "\n".join([*lines, ""])


def _cell(table: str, column: str, text: str) -> str:
    """A cell as TOML: a number, a day or yes and no as such where the column holds them, else a text."""
    kind = BY_NAME[table].by_name[column].type
    if holds_number(table, column) and text:
        return _figure(text)
    if kind is Type.DATE and re.fullmatch(r"\d{4}-\d\d-\d\d", day := plain_day(text)):
        return date.fromisoformat(day).isoformat()
    if kind is Type.YES_NO and text.casefold() in ("yes", "no"):
        return "true" if text.casefold() == "yes" else "false"
    return _text(text)


def _figure(text: str) -> str:
    """A number as TOML; raises ``ValueError`` where the text is none."""
    value = float(text)
    if value != value or abs(value) > 1e12:
        raise ValueError(text)
    return repr(int(value)) if value.is_integer() else repr(value)


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def faults_of(path: Path) -> list[str]:
    """Faults of a variant's file in words; none where it can be planned."""
    from scenarios.cells.faults import BadInput, Refused
    from scenarios.variants.variants import read_case

    try:
        read_case(path)
    except BadInput as bad:
        return [str(fault) for fault in bad.faults]
    except Refused as refused:
        return [str(refused)]
    return []
