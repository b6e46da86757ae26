"""Whole trays from the graft day on find room together where a dive raises them one by one."""

from __future__ import annotations

from model.phases import silent
from model.solve import solve
from model.solver.compiled import Effort, Floats
from model.solver.dive import Columns
from model.solver.filling import SHORT, filled
from model.solver.strong import Strong
from model.solver.whole import SHARES, _dived, _groups, _with_room
from tests.benchmarks.books import book
from tests.strategies import with_nursery


def test_no_order_is_short_for_part_filled_trays() -> None:
    """A dive leaves 37 plants of twelve orders short; together the trays have room, at less cost."""
    made = solve(with_nursery(book(12, 3, 95, 1), whole_trays_to_customer=True), whole=False)
    compiled, near = made.compiled, made.continuous
    fillable, groups = filled(compiled, near), _groups(made.program, compiled)
    one_by_one = _dived(compiled, near, fillable, groups, SHARES[0], silent)
    strong, effort = Strong(compiled, near), Effort(compiled)
    roomy = _with_room(compiled, strong, (compiled, near), fillable, one_by_one, groups, effort, silent)
    assert _most(one_by_one.columns, fillable) > SHORT
    assert _most(roomy.columns, fillable) <= SHORT
    assert near.objective < roomy.objective < one_by_one.objective


def _most(columns: Floats, fillable: Columns) -> float:
    return float(columns[fillable].max())
