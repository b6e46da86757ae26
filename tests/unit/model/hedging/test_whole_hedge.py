"""What the plan in whole trays keeps to of a hedge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.hedging.hedged_plan import best_over
from model.hedging.whole_hedge import SPLINTER, Aim, aim_of
from model.network.expansion import expand
from model.program.build import build
from model.solver.compiled import compile_program
from tests.known_answers.test_chance_rows import luck_of, nursery


def aim(least: int | None, **values: tuple[float, float]) -> tuple[Aim, float]:
    """The aim of the hedge of the known answer, with these values put in; and the plants that it buys."""
    program = build(expand(nursery(least)))
    compiled = compile_program(program)
    joins = np.ones(2, dtype=bool)
    hedge, found = best_over(program, compiled, luck_of(program), joins)
    columns = found.columns.copy()
    for name, put_in in values.items():
        columns[hedge.plan.position[name]] = put_in
    bought = hedge.plan.values(columns[: len(hedge.plan.cost)])["bought"].sum()
    return aim_of(program, hedge, replace(found, columns=columns), joins), float(bought)


def test_splinters_of_a_tray_are_left_out() -> None:
    """A tray has one cell."""
    assert SPLINTER == 0.05
    found, _ = aim(None, sown=(0.04, 0.06), joins=(0.06, 0.04))
    assert found.values["sown"].tolist() == [0.0, 0.06]
    assert found.values["joins"].tolist() == [0.06, 0.0]


def test_what_a_season_buys_late_is_no_aim() -> None:
    """50 plants in one season of ten are 5 in the mean, which nobody orders early."""
    found, bought = aim(40)
    assert bought == pytest.approx(5)
    assert found.values["bought"].tolist() == [0.0] * len(found.values["bought"])
