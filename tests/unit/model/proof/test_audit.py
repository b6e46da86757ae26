"""The audit passes sound plans, worked by hand or solved, and fails the right check of broken ones."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from model.planned.plan_tables import PLAN_TABLES, Plan, frame
from model.proof.audit import CHECKS, Check, audit
from model.scenario.entities import Scenario
from model.solve import plan
from tests.by_hand import BY_HAND
from tests.mutations import MUTATIONS
from tests.specimens import SPECIMENS

ENOUGH = 4
"""Plans in which each thing is broken here; tests/properties/test_audit.py breaks it in random plans."""


@cache
def solved(name: str) -> Plan:
    return plan(SPECIMENS[name])


def failing(scenario: Scenario, made: Plan) -> dict[str, Check]:
    return {check.name: check for check in audit(scenario, made) if not check.passed}


@pytest.mark.parametrize("name", BY_HAND)
def test_passes_plans_worked_by_hand(name: str) -> None:
    assert failing(*BY_HAND[name]) == {}


@pytest.mark.parametrize("name", SPECIMENS)
def test_passes_solved_plans(name: str) -> None:
    assert failing(SPECIMENS[name], solved(name)) == {}


@pytest.mark.parametrize("name", SPECIMENS)
def test_passes_plans_in_parts(name: str) -> None:
    assert failing(SPECIMENS[name], plan(SPECIMENS[name], whole=False)) == {}


@pytest.mark.parametrize("mutation", MUTATIONS)
def test_fails_what_is_broken(mutation: str) -> None:
    case = MUTATIONS[mutation]
    tried = 0
    for name, scenario in SPECIMENS.items():
        broken = case.change(solved(name))
        if broken is not None:
            tried += 1
            assert case.check in failing(scenario, broken), name
        if tried == ENOUGH:
            break
    assert tried


def test_mutations_reach_every_check() -> None:
    assert {mutation.check for mutation in MUTATIONS.values()} == set(CHECKS) - {"the past is kept"}


@pytest.mark.parametrize("mutation", MUTATIONS)
@pytest.mark.parametrize("name", BY_HAND)
def test_fails_what_is_broken_by_hand(name: str, mutation: str) -> None:
    scenario, made = BY_HAND[name]
    broken = MUTATIONS[mutation].change(made)
    assert broken is None or MUTATIONS[mutation].check in failing(scenario, broken)


def test_names_the_row() -> None:
    broken = MUTATIONS["an order overfilled"].change(solved("on-tray"))
    assert broken is not None
    check = failing(SPECIMENS["on-tray"], broken)["orders are met or short"]
    assert "O-1" in check.detail
    assert "101" in check.detail
    assert "100" in check.detail
    assert check.worst == pytest.approx(1.0)


def test_short_is_not_wrong() -> None:
    scenario = replace(SPECIMENS["on-tray"], packs=())
    made = plan(scenario)
    assert made.short == 100
    assert failing(scenario, made) == {}


@pytest.mark.parametrize("table", PLAN_TABLES)
def test_fails_an_emptied_table(table: str) -> None:
    if table in ("salvage", "shadow_prices"):
        name = "on-tray"
    elif table in ("unit_batches", "unit_loads"):
        name = "units"
    elif table == "buy_in":
        name = "buy-in"
    elif table == "spare_seedlings":
        name = "priced"
    elif table == "pieces":
        name = "piece rates"
    elif table == "runs":
        name = "runs"
    elif table == "guaranteed":
        name = "guaranteed hours"
    elif table == "bays":
        name = "bays"
    elif table == "germination":
        name = "places to germinate"
    elif table == "ways":
        name = "two ways"
    elif table == "kept_apart":
        name = "kept apart"
    elif table == "change_overs":
        name = "skill limits"
    else:
        name = "temporary hands"
    sound = solved(name)
    emptied = replace(sound, **{table: frame(table, [])})
    told = failing(SPECIMENS[name], emptied)
    assert bool(told) == (table not in ("salvage", "shadow_prices"))


def test_a_plan_with_no_tables_fails() -> None:
    nothing = replace(solved("work"), **{table: frame(table, []).iloc[:, :0] for table in PLAN_TABLES})
    told = failing(SPECIMENS["work"], nothing)
    assert "tables have their columns" in told
    assert "orders are met or short" in told
