"""Upper bounds of whole numbers: they lose no solution as cheap as the known one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from model.network.expansion import expand
from model.program.build import build
from model.program.variables import WHOLE
from model.scenario.entities import Scenario
from model.solver.caps import ROOM, at_most, capped
from model.solver.compiled import EXACT, Compiled, compile_program, run, solver
from tests.depth import deep
from tests.scenario_parts import order
from tests.strategies import base_scenario, small_scenarios


def compiled_of(scenario: Scenario) -> Compiled:
    return compile_program(build(expand(scenario)))


def cheapest(compiled: Compiled) -> float:
    """Least cost of a whole solution."""
    return run(solver(compiled, compiled.columns(WHOLE), **EXACT), stopped_early=True).objective


def test_a_tray_beyond_the_room_costs_more_than_the_known_plan() -> None:
    """100 and 70 plants take 10 and 7 trays of scions of 10.00 each; twice that is no reason for 14 more."""
    orders = order("O-1", "Red on Stout", 100, 16), order("O-2", "Red on Stout", 70, 16)
    compiled = compiled_of(replace(base_scenario(), orders=orders))
    columns, known = compiled.columns(WHOLE), cheapest(compiled)
    few, optimum = capped(compiled, columns, known)
    caps = np.flatnonzero(few.upper < compiled.upper)
    assert len(caps)
    assert few.upper[caps] == pytest.approx(np.ceil(optimum.columns[caps]) + ROOM)
    for k in caps.tolist():
        beyond = compiled.lower.copy()
        beyond[k] = few.upper[k] + 1
        assert run(solver(replace(compiled, lower=beyond))).objective > known
    dearer, _ = capped(compiled, columns, 100 * known)
    assert (dearer.upper >= few.upper).all()
    assert (dearer.upper[caps] == compiled.upper[caps]).any()


@settings(max_examples=deep(20))
@given(small_scenarios())
def test_no_cheaper_plan_is_lost(scenario: Scenario) -> None:
    compiled = compiled_of(scenario)
    least = cheapest(compiled)
    for known in (least, 1.5 * abs(least) + 1):
        few, _ = capped(compiled, compiled.columns(WHOLE), known)
        assert cheapest(few) == pytest.approx(least)


def test_no_cap_lies_below_a_lower_bound() -> None:
    compiled = compiled_of(base_scenario())
    columns = compiled.columns(("sown",))
    lower = compiled.lower.copy()
    lower[columns] = 9.0
    held = at_most(replace(compiled, lower=lower), columns, np.zeros(len(columns)))
    assert (held.upper[columns] == 9.0).all()
