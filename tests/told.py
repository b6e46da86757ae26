"""What the audit tells of a plan worked by hand, changed in a cell or held against another scenario."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from model.planned.plan_tables import Plan
from model.proof.audit import CHECKS
from model.proof.replay import Replay
from model.scenario.entities import Scenario
from tests.by_hand import BY_HAND
from tests.by_hand_later import LATER
from tests.mutations import rows_of, with_table
from tests.strategies import with_rows

PLANS = {**BY_HAND, **LATER}


Problems = list[tuple[str, float]]


def told(check: str, scenario: Scenario, made: Plan) -> Problems:
    """The problems that a check finds, in order of their texts."""
    return sorted(CHECKS[check](Replay(scenario, made)))


def apart(plan: Plan, change: str) -> Plan:
    """The plan with one change, as told.txt writes it."""
    where, _, text = change.partition(" = ")
    table, number, column = where.split(" ")
    rows, n = rows_of(plan, table), int(number) - 1
    rows[n][column] = value(text, rows[n][column])
    return with_table(plan, table, rows)


def value(text: str, before: Any) -> Any:
    """The value that a text stands for, of the kind of the one before."""
    if text == "blank" or isinstance(before, str):
        return None if text == "blank" else text
    if isinstance(before, int | float):
        return type(before)(text) if text.lstrip("-").isdigit() else float(text)
    return type(before).fromisoformat(text)


def with_row(table: str, **changes: Any) -> Callable[[Scenario], Scenario]:
    """A change of all rows of a table."""
    return lambda scenario: with_rows(scenario, table, lambda row: replace(row, **changes))


def with_store(scenario: Scenario) -> Scenario:
    """Ready plants are held in a zone of their own."""
    zones = (*scenario.zones, replace(scenario.zones[-1], zone="Store"))
    return with_row("methods", holding_zone="Store")(replace(scenario, zones=zones))
