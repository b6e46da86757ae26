"""Overheads as a published budget lists them, and what a square-foot-week carries of each.

Source: Rutgers New Jersey Agricultural Experiment Station, Bedding Plants, Greenhouse Costs of Production
Budget, the table of overhead costs of a 20,000 square feet polyethylene greenhouse, read whole: a year's
amount of each line, and its cost a square-foot-week of bench. The square-foot-weeks are not printed; the
rates, rounded to a tenth of a cent, leave 800,600 to 802,500 of them, such as 77 % of 20,000 for 52 weeks,
800,800, computed here. The printed total of the rates, 0.200, is the sum of the rounded rates.

Mapping: a slot is a square foot, a week 7 slot-days; every line is a row of the table overheads. Pots of
0.11 square feet for 6 weeks stand for one crop, as in the same station's budget of geraniums; others fill the
rest.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from model.planned.results import result_of
from model.questions.traced_costs import traced_costs, traced_parts
from model.scenario.choices import OverheadKind, OverheadRule, Period
from model.scenario.entities import Product, Scenario, TrayFormat
from model.scenario.records.overheads import Overhead
from model.solve import plan_of, solve
from tests.known_answers.build import nursery, order, own_root, own_root_method, through_tables

BUDGET = {
    "overhead labor and benefits": (63_000, 0.079),
    "heating fuel": (13_420, 0.017),
    "electricity": (1_935, 0.002),
    "telephone": (1_273, 0.002),
    "depreciation": (25_000, 0.031),
    "interest": (15_000, 0.019),
    "insurance": (4_852, 0.006),
    "repairs": (12_409, 0.015),
    "property taxes": (769, 0.001),
    "advertising": (716, 0.001),
    "dues and subscriptions": (344, 0.000),
    "travel and entertainment": (1_697, 0.002),
    "office expenses": (796, 0.001),
    "professional fees": (1_000, 0.001),
    "truck expenses and equipment rental": (14_000, 0.017),
    "land rental": (1_565, 0.002),
    "contributions": (400, 0.000),
    "miscellaneous": (2_800, 0.003),
    "bad debts": (700, 0.001),
}
"""Amount a year, and cost a square-foot-week as printed."""

PRINTED = 161_675
IN_USE, POTS, SPACE, WEEKS = 800_800, 10_000, 0.11, 6
OTHERS = int((IN_USE - POTS * SPACE * WEEKS) / 4)
KINDS = {"interest": OverheadKind.INTEREST, "depreciation": OverheadKind.DEPRECIATION}


def house(period: Period, last: int, **rules: OverheadRule) -> Scenario:
    """The greenhouse with the budget's lines; ``rules``: lines with a rule of their own."""
    scenario = own_root(
        60,
        [order("pots", POTS, 42, "pot"), order("others", OTHERS, 28, "other")],
        products=(
            Product("pot", "crop", "variety", None, "slow", "half"),
            Product("other", "crop", "variety", None, "fast", "one"),
        ),
        tray_formats=(TrayFormat("half", 1, SPACE), TrayFormat("one", 1, 1.0)),
        methods=(
            own_root_method(method="slow", scion_age_min=42, scion_age_max=42),
            own_root_method(method="fast", scion_age_min=28, scion_age_max=28),
        ),
    )
    rows = tuple(
        Overhead(name, amount, period, KINDS.get(name, OverheadKind.OVERHEAD), rules.get(name))
        for name, (amount, _) in BUDGET.items()
    )
    of = nursery(60)
    return replace(
        scenario, nursery=replace(of, last_day=of.first_day + timedelta(days=last)), overheads=rows
    )


def test_a_square_foot_week_carries_what_the_budget_prints(tmp_path: Path) -> None:
    scenario = through_tables(house(Period.SEASON, 59), tmp_path)
    parts = traced_parts(solve(scenario, whole=False))
    carried = parts.groupby(["order", "detail"])["amount"].sum()
    for name, (_, rate) in BUDGET.items():
        assert carried["pots", name] / (POTS * SPACE * WEEKS) == pytest.approx(rate, abs=0.0005), name
    assert sum(rate for _, rate in BUDGET.values()) == pytest.approx(0.2)


def test_a_years_lines_are_a_years_result() -> None:
    """Over 365 days a year's amounts are charged whole; what is interest and what is no cash stand apart."""
    found = result_of(plan_of(solve(house(Period.YEAR, 364), whole=False)))
    assert found.overhead + found.capital == pytest.approx(PRINTED, abs=1.5)
    assert (found.capital, found.not_cash) == (pytest.approx(40_000), pytest.approx(25_000))


def test_a_line_is_shared_by_its_own_rule() -> None:
    """By plants, a pot carries as much of it as any other plant; the rest goes by space."""
    traced = traced_costs(
        solve(house(Period.SEASON, 59, repairs=OverheadRule.PLANTS, insurance=OverheadRule.NONE), whole=False)
    )
    amount = traced.groupby("order", dropna=False)["amount"].sum()
    by_space = sum(a for a, _ in BUDGET.values()) - 12_409 - 4_852
    pots = by_space * POTS * SPACE * WEEKS / IN_USE + 12_409 * POTS / (POTS + OTHERS)
    assert amount["pots"] == pytest.approx(pots)
    assert amount.sum() - amount["pots"] - amount["others"] == pytest.approx(4_852)
