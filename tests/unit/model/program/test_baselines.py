"""Every constraint group against its baseline, and one of its rows against coefficients worked by hand.

The baselines in tests/baselines make a change of the formulation a readable difference. Variables have the
names of a program file; day 0 is 2027-03-01.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from pyomo.environ import Constraint, Var, value

from model.network.expansion import expand
from model.program.build import GROUPS, build, state
from model.program.index_sets import Row
from model.program.program import Program
from model.program.variables import VARIABLES
from model.scenario.records.people import CrewDay
from model.solve import plan
from model.solver.compiled import arrays
from tests.baselines.scenarios import MONDAY, SCENARIOS, grafted, three_kinds, two_ways, with_two_weeks
from tests.baselines.text import baseline, program, stated
from tests.baselines.worked import WORKED


def named(stating: Program, row: Row) -> dict[str, float]:
    """Coefficients of a row by the names of a program file."""
    return {stating.names[name][n]: coef for (name, n), coef in row.coefs.items()}


def test_every_group_has_a_scenario_a_baseline_and_a_row_worked_by_hand() -> None:
    files = {path.stem for path in baseline("any").parent.glob("*.txt")}
    assert set(GROUPS) == set(SCENARIOS) == files == set(WORKED)


@pytest.mark.parametrize("group", GROUPS)
def test_rows_are_those_of_the_baseline(group: str) -> None:
    """After a wanted change of the formulation: python -m tests.baselines, and read the difference."""
    assert stated(group).splitlines() == baseline(group).read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("group", GROUPS)
def test_a_row_worked_by_hand(group: str) -> None:
    worked, stating = WORKED[group], program(group)
    row = GROUPS[group](stating)[worked.label]
    assert named(stating, row) == pytest.approx(worked.coefs)
    assert (row.lower, row.upper) == (worked.lower, worked.upper)


@pytest.mark.parametrize("group", GROUPS)
def test_the_pyomo_model_states_the_rows(group: str) -> None:
    """With every variable at 1 a constraint's body is the sum of the row's coefficients."""
    stating = program(group)
    pyomo = state(stating)
    for variables in pyomo.variables.values():
        for variable in variables:
            variable.set_value(1.0, skip_validation=True)
    wanted = GROUPS[group](stating)
    constraints = pyomo.model.component(group)
    assert len(constraints) == len(wanted)
    for label, row in wanted.items():
        constraint = constraints[label]
        assert value(constraint.body) == pytest.approx(sum(row.coefs.values()))
        assert (value(constraint.lower), value(constraint.upper)) == (row.lower, row.upper)


def test_a_compiled_model_is_let_go() -> None:
    pyomo = state(program("slots"))
    assert arrays(pyomo).matrix.nnz > 0
    assert not pyomo.variables
    assert not any(len(component) for component in pyomo.model.component_objects((Constraint, Var)))


def test_trays_of_the_other_kinds() -> None:
    """On-tray 1 / (.75 x 8) of a tray for a join, blanks and all; root-cut a fresh cell of 10."""
    rows = GROUPS["flow_trays"](build(expand(three_kinds())))
    assert rows["plant", "2027-03-04"].coefs == pytest.approx({("loaded", 0): -1.0, ("joins", 0): 1 / 6})
    assert rows["cut plant", "2027-03-04"].coefs == pytest.approx({("loaded", 1): -1.0, ("joins", 1): 1 / 10})


def test_an_order_is_filled_by_all_ways_to_make_its_product() -> None:
    """One plant at the level .9: two joins by splice, 1 - .145² ≥ .9; four by root-cut, 1 - .525⁴ ≥ .9."""
    rows = {name: GROUPS[name](build(expand(two_ways()))) for name in ("order", "take", "salvage")}
    order = Row({("delivered", 0): 1.0, ("delivered", 1): 1.0, ("short", 0): 1.0}, 1.0, 1.0)
    assert rows["order"] == {("plant",): order}
    margins = {("plant", "2027-03-04"): 2 * 0.9 * 0.95 - 1, ("cut plant", "2027-03-04"): 4 * 0.5 * 0.95 - 1}
    for label, margin in margins.items():
        finished = {"delivered": 1 + margin, "surplus": 1.0, "healed": -0.95}
        assert {name: coef for (name, _), coef in rows["take"][label].coefs.items()} == pytest.approx(
            finished
        )
    surplus = {("surplus", f): -1.0 for f in range(len(rows["take"]))}
    assert rows["salvage"] == {("plant",): Row({("sold", 0): 1.0} | surplus, None, 0.0)}
    assert {name for name, _ in rows["take"]} == {"plant", "cut plant"}


def test_bounds_of_hours_and_hands() -> None:
    """Wednesday to Tuesday: 2 heads of 8 hours and 2 of overtime; at the weekend 1, as overtime."""
    stating = build(expand(with_two_weeks()))
    upper = {name: stating.bounds(name)[1] for name in VARIABLES}
    assert upper["regular"] == [16.0, 16.0, 16.0, 0.0, 0.0, 16.0, 16.0]
    assert upper["overtime"] == [4.0, 4.0, 4.0, 2.0, 2.0, 4.0, 4.0]
    assert upper["temporary_hands"] == upper["new_hands"] == [3.0, 3.0]


def test_week_hours_follow_the_most_heads_of_the_week() -> None:
    """2 heads, 3 on Thursday alone: 3 x 40 hours in the first week, 2 x 40 in the second."""
    more = (
        CrewDay("hands", MONDAY + timedelta(days=3), heads=3),
        CrewDay("hands", MONDAY + timedelta(days=4), heads=2),
    )
    rows = GROUPS["week_hours"](build(expand(replace(with_two_weeks(), crew_days=more))))
    assert [row.upper for row in rows.values()] == [120.0, 80.0]


def test_least_cost_of_the_nursery_by_hand() -> None:
    """30 plants want 33 finished: 33 / .855 = 38.6 joins, 51.5 seedlings of each, 64.3 seeds of rootstock.

    Seed of days 0 and 1 comes from stock: 50 seeds, 5 trays, 40 seedlings, 30 joins, 23.3 plants; the rest
    is short at 5. Scions: 40 / 18 trays. All sown on day 1 and grafted on day 3 would take a slot-day each
    in room and on the bench, and 5 in the chamber, at .1. But the room has 7 slots, not 5 + 3.33. So some
    joins are made on day 2: each frees 1/6 of a rootstock tray and 1.5 slots x 1 / 13.5 of a scion tray,
    .27778 slots in all, and is held for a day in .855 / 10 of a tray.
    """
    joins = 40 * 0.75
    plants = joins * 0.855 / 1.1
    in_room = 5 + 1.5 * 40 / 18
    early = (in_room - 7) / (1 / 6 + 1.5 / 13.5)
    slots = (2 * in_room + 5 + early * 0.0855) * 0.1
    result = plan(grafted(), whole=False)
    assert result.cost == pytest.approx((30 - plants) * 5 + slots)


def test_penalty_below_the_cost_of_a_plant_leaves_the_order_short() -> None:
    scenario = grafted()
    cheap = replace(scenario, nursery=replace(scenario.nursery, shortfall_penalty=0.01))
    assert plan(cheap, whole=False).cost == pytest.approx(0.30)
