"""How far prices may move before the plan changes, in two published product-mix problems.

Dakota furniture: Winston, Operations Research: Applications and Algorithms, 4th ed., ch. 4-6 (from memory).
Desks, tables and chairs at 60, 30 and 20 take 8, 6, 1 feet of lumber of 48, 4, 2, 1.5 hours of finishing of
20 and 2, 1.5, .5 hours of carpentry of 8; at most 5 tables sell. Best 280 with 2 desks and 8 chairs; that
stays best with desks at 56 to 80, tables up to 35, chairs at 15 to 22.5 (published).

Custom molder, see test_custom_molder: with duals u = (20 a − 10 b) / 70 of hours and w = (6 b − 5 a) / 70
of space, both must not be negative and 8 u + 10 w not below 6: a at 4 7/11 to 5 2/5, b at 4 1/6 to 6 1/2,
c up to 6 4/7 (worked by hand from the published problem).

Mapping as in test_custom_molder: what is made is not short, so a gain is a penalty.
"""

from __future__ import annotations

from dataclasses import replace
from math import isnan
from typing import Any

import pytest

from model.questions.ranging import price_ranges
from model.scenario.choices import Task, ZoneUse
from model.scenario.entities import Product, Scenario, TrayFormat
from model.scenario.records.people import LabourStandard
from model.solve import solve
from tests.known_answers.build import crew, order, own_root, own_root_method, pool
from tests.known_answers.test_custom_molder import molder

FURNITURE = {
    "desk": (100, 60.0, 8, 4.0, 2.0),
    "table": (5, 30.0, 6, 2.0, 1.5),
    "chair": (100, 20.0, 1, 1.5, 0.5),
}
"""Ordered, gain, lumber, finishing and carpentry of each."""


def dakota() -> Scenario:
    """Lumber is slots, finishing the hours of sowing, carpentry those of tending them for their one day."""
    orders = [order(name, n, 1, name, shortfall_penalty=gain) for name, (n, gain, *_) in FURNITURE.items()]
    return own_root(
        2,
        orders,
        products=tuple(Product(name, "tomato", "variety", None, "own-root", name) for name in FURNITURE),
        tray_formats=tuple(TrayFormat(name, 1, feet) for name, (_, _, feet, _, _) in FURNITURE.items()),
        methods=(own_root_method(scion_age_min=1, scion_age_max=1, holding_limit_days=0),),
        zones=(pool("bench", ZoneUse.BENCH, 48), pool("hold", ZoneUse.HOLDING)),
        crews=(
            crew(crew="finishers", skills=("finishing",), heads=20, hours_per_head_day=1),
            crew(crew="carpenters", skills=("carpentry",), heads=8, hours_per_head_day=1),
        ),
        labour_standards=tuple(
            standard
            for name, (_, _, _, finishing, carpentry) in FURNITURE.items()
            for standard in (
                LabourStandard(Task.SOW, "finishing", None, name, 3600 * finishing),
                LabourStandard(Task.TEND, "carpentry", None, name, 3600 * carpentry),
            )
        ),
    )


def ranges(scenario: Scenario) -> dict[str, tuple[float, float]]:
    """Low and high end of each order's penalty."""
    table = price_ranges(solve(scenario, whole=False))
    rows: Any = table[table["kind"] == "penalty"].itertuples(index=False)
    return {row.name: (row.low, row.high) for row in rows}


def test_furniture() -> None:
    solved = solve(dakota(), whole=False)
    everything = sum(ordered * gain for ordered, gain, *_ in FURNITURE.values())
    assert everything - solved.continuous.objective == pytest.approx(280)
    found = ranges(dakota())
    assert found["desk"] == pytest.approx((56, 80))
    assert found["chair"] == pytest.approx((15, 22.5))
    assert found["table"] == pytest.approx((0, 35))


def test_glasses() -> None:
    found = ranges(molder())
    assert found["a"] == pytest.approx((4 + 7 / 11, 5 + 2 / 5))
    assert found["b"] == pytest.approx((4 + 1 / 6, 6 + 1 / 2))
    assert found["c"] == pytest.approx((0, 6 + 4 / 7))


@pytest.mark.parametrize("name, made", [("desk", 2), ("chair", 8)])
def test_past_the_ends_something_else_is_made(name: str, made: float) -> None:
    low, high = ranges(dakota())[name]
    for gain, same in ((low - 0.1, False), (low + 0.1, True), (high - 0.1, True), (high + 0.1, False)):
        scenario = dakota()
        orders = tuple(
            replace(row, shortfall_penalty=gain) if row.order == name else row for row in scenario.orders
        )
        solved = solve(replace(scenario, orders=orders), whole=False)
        short = solved.compiled.values(solved.continuous.columns)["short"].tolist()
        at = [row.order for row in orders].index(name)
        assert (FURNITURE[name][0] - short[at] == pytest.approx(made)) is same


def test_a_price_nobody_pays_has_no_upper_end() -> None:
    scenario = molder()
    dear = replace(scenario.crews[0], overtime_hours_per_head_day=1.0, overtime_pay_per_hour=50.0)
    table = price_ranges(solve(replace(scenario, crews=(dear,)), whole=False))
    (row,) = table[table["kind"] == "overtime pay"].itertuples(index=False)
    assert row.low == pytest.approx(11 / 14)
    assert isnan(row.high)
    assert row.effect == 0
