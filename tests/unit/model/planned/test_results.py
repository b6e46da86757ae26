"""The result of a plan: its parts by hand, and one figure however it is asked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.planned.results import NOT_CASH, PART_OF, ResultPart, has_prices, result_in, result_of
from model.program.cost_terms import COST_LINES
from model.questions.traced_costs import overhead_shares, traced_costs
from model.risk.simulation import simulate
from model.scenario.entities import Scenario
from model.scenario.records.overheads import Overhead
from model.solve import plan_of, solve
from tests.report_scenario import report_plan, report_scenario
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery


def priced(scenario: Scenario) -> Scenario:
    """The same with a price for every order but the last."""
    *first, last = scenario.orders
    return replace(scenario, orders=(*(replace(o, price=1.5) for o in first), replace(last, price=None)))


def test_every_cost_line_has_one_part() -> None:
    assert set(PART_OF) == set(COST_LINES)
    apart = {line for line, part in PART_OF.items() if part is ResultPart.APART}
    assert apart == {"shortfall", "declined"}
    assert not apart & set(NOT_CASH)


def test_the_parts_of_a_small_plan() -> None:
    """Sales 90 at 1.50, 40 at 2.00 and 4, late, at 0.70; a month's rent of 30, a year's 520, for 28 days."""
    found, sums = result_of(report_plan()), report_plan().costs.groupby("line")["amount"].sum()
    assert found.sales == pytest.approx(90 * 1.5 + 40 * 2.0 + 4 * 0.7)
    assert found.unpriced == 30
    assert found.overhead == pytest.approx(100 + 30 * 28 * 12 / 365)
    assert found.capital == pytest.approx(sums["modules"] + 12.5 + 520 * 28 / 365)
    assert found.not_cash == pytest.approx(sums["modules"] + 520 * 28 / 365)
    assert found.apart == pytest.approx(sums["shortfall"] + 20 * 0.05)
    assert found.result == pytest.approx(found.sales - report_plan().cost + found.apart)
    assert found.before - found.overhead - found.capital == pytest.approx(found.result)


@pytest.mark.parametrize("name", ["buy-in", "tight chamber", "units", "overheads"])
def test_a_solution_has_the_result_of_its_plan(name: str) -> None:
    solved = solve(priced(SPECIMENS[name]), whole=False)
    made = plan_of(solved)
    left = result_in(solved.program, solved.compiled, solved.solution)
    assert has_prices(made.orders)
    assert left == pytest.approx(result_of(made).result, abs=0.005)


def test_a_book_without_prices_has_no_result() -> None:
    base = base_scenario()
    solved = solve(replace(base, orders=(replace(base.orders[0], price=None),)), whole=False)
    assert result_in(solved.program, solved.compiled, solved.solution) is None
    assert not has_prices(plan_of(solved).orders)


def test_a_season_as_planned_leaves_what_is_planned() -> None:
    """Seasons in which nothing is lost but what the plan is short of anyway."""
    base = base_scenario()
    sure = replace(
        priced(replace(base, orders=(base.orders[0], replace(base.orders[0], order="O-2")))),
        methods=tuple(replace(method, take=1.0, take_correlation=0.0) for method in base.methods),
        seed_lots=tuple(
            replace(lot, germination=1.0, germination_correlation=0.0, sowing_correlation=0.0)
            for lot in base.seed_lots
        ),
    )
    made = plan_of(solve(sure))
    seasons = simulate(sure, made, seasons=3, seed=1).totals["result"]
    assert seasons.tolist() == pytest.approx([result_of(made).result] * 3)


@pytest.mark.parametrize("scenario", [report_scenario(), SPECIMENS["buy-in"], SPECIMENS["units"]])
def test_one_row_of_overhead_is_the_one_sum(scenario: Scenario) -> None:
    """Traced, shared and told alike to the cent, whether a sum of the nursery or a row of its own."""
    one = with_nursery(replace(scenario, overheads=()), overhead=321.09)
    rows = with_nursery(replace(scenario, overheads=(Overhead("all", 321.09),)), overhead=0.0)
    plain, listed = solve(one), solve(rows)
    assert plan_of(listed).cost == pytest.approx(plan_of(plain).cost, abs=0.005)
    assert overhead_shares(listed) == pytest.approx(overhead_shares(plain), abs=0.005)
    traced = [
        traced_costs(solved).set_index(["order", "line"])["amount"].to_dict() for solved in (plain, listed)
    ]
    assert traced[1] == pytest.approx(traced[0], abs=0.005)
