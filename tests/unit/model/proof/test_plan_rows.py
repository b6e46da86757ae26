"""Rows of a plan that cannot be replayed: each fault with its place, and the row is left out."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from math import inf, nan
from typing import Any

import numpy as np
import pytest

from model.proof.plan_rows import Rows
from model.proof.world import World
from tests.by_hand import BY_HAND
from tests.mutations import rows_of, with_table
from tests.scenario_parts import day

SCENARIO, PLAN = BY_HAND["on-tray in units"]


def read(table: str, column: str, cell: Any) -> Rows:
    """The plan's rows with another cell in the first row of a table."""
    rows = rows_of(PLAN, table)
    rows[0][column] = cell
    return Rows(World(SCENARIO), with_table(PLAN, table, rows))


def faults(found: Rows) -> dict[str, list[tuple[str, float]]]:
    """The problems found, by kind."""
    kinds = ("columns", "values", "days", "names", "repeats")
    return {kind: getattr(found, kind) for kind in kinds if getattr(found, kind)}


@pytest.mark.parametrize(
    "table, column, cell, kind, told, size",
    [
        ("waves", "sow_day", datetime(2027, 3, 3), "values", "2027-03-03 00:00:00 is not a day", 1.0),
        ("waves", "sow_day", "today", "values", "today is not a day", 1.0),
        ("waves", "sow_day", None, "values", "None is not a day", 1.0),
        ("waves", "sow_day", day(21), "days", "2027-03-22 is outside the plan's days", 1.0),
        ("waves", "sow_day", day(-3), "days", "2027-02-26 is outside the plan's days", 3.0),
        ("deliveries", "due_day", day(23), "days", "2027-03-24 is outside the plan's days", 2.0),
        ("orders", "own", "many", "values", "many is not a number", 1.0),
        ("orders", "own", None, "values", "None is not a number", 1.0),
        ("orders", "own", nan, "values", "nan is not a number", 1.0),
        ("orders", "own", -inf, "values", "-inf is not a number", 1.0),
        ("orders", "own", -0.5, "values", "-0.5 is below 0", 0.5),
        ("joins", "match", 0, "values", "0 is not above 0", 1.0),
        ("orders", "quantity", 36.5, "values", "36.5 is not a whole number", 1.0),
        ("orders", "customer", 5, "values", "5 is not a text", 1.0),
        ("orders", "product", "Nothing", "names", "Nothing is not a name in the scenario or the plan", 1.0),
        ("joins", "scion_wave", "W9", "names", "W9 is not a name in the scenario or the plan", 1.0),
        ("hours", "hands", "paws", "names", "paws is not a name in the scenario or the plan", 1.0),
    ],
)
def test_a_fault_is_told_and_its_row_left_out(
    table: str, column: str, cell: Any, kind: str, told: str, size: float
) -> None:
    found = read(table, column, cell)
    assert faults(found)[kind][0] == (f"{table}, row 1, {column}: {told}", size)
    assert len(found.tables[table]) == len(PLAN.table(table)) - 1


@pytest.mark.parametrize(
    "table, column, cell",
    [
        ("deliveries", "due_day", day(21)),  # a due day may be the day after the last
        ("waves", "sow_day", day(0)),
        ("waves", "sow_day", day(20)),
        ("orders", "own", -0.00009),
        ("orders", "own", np.int64(36)),
        ("orders", "quantity", 36.0),
        ("orders", "price", None),
        ("orders", "customer", "anybody"),
        ("costs", "amount", -5.0),
        ("joins", "match", 1e-9),
    ],
)
def test_what_may_stand_in_a_cell(table: str, column: str, cell: Any) -> None:
    found = read(table, column, cell)
    assert faults(found) == {}
    assert len(found.tables[table]) == len(PLAN.table(table))


def test_faults_of_further_rows_and_cells() -> None:
    rows = rows_of(PLAN, "waves")
    rows[0] |= {"trays": nan, "lot": "None such"}
    rows[1] |= {"seeds": nan}
    found = Rows(World(SCENARIO), with_table(PLAN, "waves", rows))
    assert found.tables["waves"] == []
    assert [text for text, _ in found.values[:2]] == [
        "waves, row 1, trays: nan is not a number",
        "waves, row 2, seeds: nan is not a number",
    ]
    assert found.names[0] == ("waves, row 1, lot: None such is not a name in the scenario or the plan", 1.0)
    # Rows that name a wave left out are left out as well.
    assert found.tables["joins"] == found.tables["bench_trays"] == []


def test_columns() -> None:
    lacking = replace(PLAN, waves=PLAN.waves.drop(columns="trays").assign(more=1.0, most=2.0))
    found = Rows(World(SCENARIO), lacking)
    assert found.columns == [("waves: columns missing, unknown or out of order: more, most, trays", 3.0)]
    assert found.tables["waves"] == []
    further = Rows(World(SCENARIO), replace(PLAN, waves=PLAN.waves.assign(more=1.0)))
    assert further.columns == [("waves: columns missing, unknown or out of order: more", 1.0)]
    assert further.tables == Rows(World(SCENARIO), PLAN).tables


def test_a_source_and_its_column() -> None:
    found = read("deliveries", "graft_day", None)
    assert found.values == [("deliveries, order O-1: source own, but graft_day is blank", 1.0)]
    assert found.tables["deliveries"] == []
    found = read("deliveries", "source", "buy-in")
    assert found.values == [("deliveries, order O-1: source buy-in, but offer is blank", 1.0)]


def test_rows_that_occur_twice_are_told_and_kept() -> None:
    rows = rows_of(PLAN, "slots")
    found = Rows(World(SCENARIO), with_table(PLAN, "slots", [rows[0], *rows, rows[0]]))
    assert found.repeats == [("slots: Warm room, 2027-03-01 occurs more than once", 1.0)] * 2
    assert len(found.tables["slots"]) == len(rows) + 2


def test_facts_that_are_no_numbers() -> None:
    facts = replace(PLAN.facts, bound=nan, gap=inf)
    found = Rows(World(SCENARIO), replace(PLAN, facts=facts))
    assert found.values == [
        ("facts, bound: nan is not a number", 1.0),
        ("facts, gap: inf is not a number", 1.0),
    ]
