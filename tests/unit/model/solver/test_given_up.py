"""A dive is given up where it costs as much as a known plan; a least batch is where it leaves no room."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csc_array

from model.phases import silent
from model.program.variables import VARIABLES
from model.solve import solve
from model.solver import dive
from model.solver.compiled import Compiled, Solution, SolveError, run, solver
from model.solver.whole import dived
from tests.demo import demo_solved
from tests.specimens import SPECIMENS


def test_a_dive_is_given_up_at_a_known_cost(monkeypatch: pytest.MonkeyPatch) -> None:
    runs: list[Solution] = []

    def counted(highs: object) -> Solution:
        runs.append(run(highs))
        return runs[-1]

    monkeypatch.setattr("model.solver.dive.run", counted)
    solved = demo_solved()
    program, compiled, near = solved.program, solved.compiled, solved.continuous
    whole = dived(program, compiled, near)
    costs = [each.objective for each in runs]
    assert dived(program, compiled, near, whole.objective + 1).objective == whole.objective
    runs.clear()
    halfway = (near.objective + whole.objective) / 2
    with pytest.raises(SolveError):
        dived(program, compiled, near, halfway)
    below = [each.objective for each in runs if each.objective < halfway]
    assert below == costs[: len(below)]
    assert costs[len(below)] >= halfway
    assert len(runs) <= len(below) + 1 < len(costs)


def test_a_choice_is_given_up_only_where_both_ways_are_too_dear() -> None:
    """One bay fewer costs 815 more, one more costs 1.24."""
    solved = solve(SPECIMENS["bays"])
    compiled, near = solved.compiled, solved.continuous
    bays, none = compiled.columns(("bays_open",)), np.empty(0, dtype=np.intp)

    def chosen(dearest: float) -> float:
        tried = dive.Dive(compiled, near, none, dearest)
        tried.choose(bays)
        return tried.found.objective

    cost = chosen(np.inf)
    assert near.objective + 1.24 <= cost < near.objective + 100
    assert chosen(near.objective + 100) == pytest.approx(cost)
    with pytest.raises(SolveError):
        chosen(near.objective + 1)


@pytest.mark.parametrize("together", [True, False])
def test_a_least_batch_is_given_up_where_it_leaves_no_room_for_whole_trays(together: bool) -> None:
    """Three plants are asked for; a tray gives two, 1.5 trays have room, and a batch is three joins or none.

    With the batch held neither two trays nor one is possible. One tray is then sown, and no batch made.
    """
    batch, trays, joins, short = range(4)
    nothing: dict[str, np.ndarray] = {name: np.empty(0, dtype=np.intp) for name in VARIABLES}
    named = {"batch_set_up": batch, "sown": trays, "joins": joins, "short": short}
    rows = np.array([[-3.0, 0, 1, 0], [-4, 0, 1, 0], [0, -2, 1, 0], [0, 0, 1, 1]])
    compiled = Compiled(
        csc_array(rows),
        np.array([0.0, -np.inf, -np.inf, 3.0]),
        np.array([np.inf, 0.0, 0.0, 3.0]),
        np.zeros(4),
        np.array([1.0, 1.5, np.inf, np.inf]),
        np.array([0.0, 0.1, 0.0, 1.0]),
        0.0,
        nothing | {name: np.array([column]) for name, column in named.items()},
        {},
    )
    tried = dive.Dive(compiled, run(solver(compiled)), np.empty(0, dtype=np.intp))
    for columns in [[trays, batch]] if together else [[batch], [trays]]:
        tried.make_whole(np.array(columns), 0.5, silent)
    assert tried.found.columns.tolist() == pytest.approx([0, 1, 0, 3])
