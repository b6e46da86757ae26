"""Where groups kept apart may be, bays and vehicles are decided together, before all else is made whole."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.program.needless import leave_out_vehicles
from model.scenario.choices import GroupBy, Shared
from model.scenario.entities import Scenario
from model.scenario.records.kept_apart import Apart
from model.solve import solve
from model.solver import whole
from model.solver.book_parts import SMALL_BOOK
from model.solver.compiled import SolveError, run, solver, with_fixed
from model.solver.dive import Columns
from model.solver.strong import Strong
from tests.benchmarks.books import book
from tests.specimens import SPECIMENS
from tests.strategies import with_rows


def two_crops_in_one_chamber() -> Scenario:
    """Nine orders whose tomatoes and cucumbers may not share the chamber, which is cleaned for two days."""
    rule = Apart(GroupBy.CROP, "tomato", GroupBy.CROP, "cucumber", Shared.ZONE, "chamber", 2)
    return replace(book(9, 6, 100, 4), apart=(rule,))


def test_a_plan_with_two_days_of_cleaning_is_close_to_its_bound() -> None:
    """Rounded one after the other, the days of each crop make a plan of more than twice the bound."""
    solved = solve(two_crops_in_one_chamber())
    assert len(solved.program.network.waves) > SMALL_BOOK
    assert solved.continuous.objective < 0.7 * solved.bound
    assert solved.solution.objective < 1.01 * solved.bound


def test_the_dive_decides_where_no_solution_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search is refused: the plan of a small book, which is searched to the end, is the same."""
    scenario = SPECIMENS["kept apart"]
    solved, searched, refused = solve(scenario), whole.solver, []

    def refusing(*args: Any, **options: Any) -> Any:
        if options.items() >= whole.APART.items():
            refused.append(options)
            raise SolveError("Unknown")
        return searched(*args, **options)

    monkeypatch.setattr(whole, "solver", refusing)
    assert solve(scenario).solution.objective == pytest.approx(solved.solution.objective)
    assert refused


@pytest.mark.parametrize("name", ["bays", "runs"])
def test_bays_and_vehicles_decided_first_give_a_bound_of_any_plan(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The least cost of a small book, searched to its end, lies between bound and plan made otherwise."""
    best = solve(SPECIMENS[name])
    monkeypatch.setattr(whole, "SMALL_BOOK", 0)
    decided = solve(SPECIMENS[name])
    assert decided.bound <= best.solution.objective + 1e-4
    assert best.bound <= decided.solution.objective + 1e-4
    assert decided.solution.objective < 1.02 * best.solution.objective


def test_vehicles_decided_first_that_nothing_rides_on_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The dive may use fewer than were decided: here one more is held on each day than is best."""
    many = with_rows(SPECIMENS["runs"], "runs", lambda row: replace(row, vehicles_most=9))
    decide = whole._decided

    def generous(strong: Strong, columns: Columns, *limits: Any) -> tuple[Strong, float]:
        held, bound = decide(strong, columns, *limits)
        more = with_fixed(held.compiled, columns, held.compiled.lower[columns] + 1)
        return Strong(more, run(solver(more))), bound

    monkeypatch.setattr(whole, "SMALL_BOOK", 0)
    monkeypatch.setattr(whole, "SEARCHED", 0)
    monkeypatch.setattr(whole, "_decided", generous)
    solved = solve(many)
    values = {name: v.tolist() for name, v in solved.compiled.values(solved.solution.columns).items()}
    vehicles = values["vehicles"].copy()
    leave_out_vehicles(solved.program, values)
    assert values["vehicles"] == pytest.approx(vehicles)
