"""Overhead by space and time: what a pot on the bench carries of it.

Source: Fisher, Five keys to accurate greenhouse production costing. 1,560,000 square-foot-weeks in use and
1,000,000 of overhead make 0.64 a square-foot-week; a pot of 0.5 square feet for 8 weeks carries 2.56.

Mapping: a slot is a square foot, a week 7 slot-days. 1,000 pots stand for 56 days on half a slot each; other
pots, on a slot each for 28 days, fill the rest.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.questions.cost_flows import WASTE
from model.questions.traced_costs import traced_costs
from model.scenario.entities import Product, Scenario, TrayFormat
from model.solve import solve
from tests.known_answers.build import nursery, order, own_root, own_root_method, through_tables

IN_USE, OVERHEAD = 1_560_000, 1_000_000.0
POTS, SPACE, WEEKS = 1_000, 0.5, 8
OTHERS = int((IN_USE - POTS * SPACE * WEEKS) / 4)


def house() -> Scenario:
    scenario = own_root(
        60,
        [order("pots", POTS, 56, "pot"), order("others", OTHERS, 28, "other")],
        products=(
            Product("pot", "crop", "variety", None, "slow", "half"),
            Product("other", "crop", "variety", None, "fast", "one"),
        ),
        tray_formats=(TrayFormat("half", 1, SPACE), TrayFormat("one", 1, 1.0)),
        methods=(
            own_root_method(method="slow", scion_age_min=56, scion_age_max=56),
            own_root_method(method="fast", scion_age_min=28, scion_age_max=28),
        ),
    )
    return replace(scenario, nursery=nursery(60, overhead=OVERHEAD))


def test_a_pot_carries_its_share(tmp_path: Path) -> None:
    traced = traced_costs(solve(through_tables(house(), tmp_path), whole=False)).set_index(["order", "line"])
    carried = traced["amount"]["pots", "overhead"]
    assert carried / POTS == pytest.approx(2.56, abs=0.005)
    assert carried / (POTS * SPACE * WEEKS) == pytest.approx(0.64, abs=0.005)
    assert traced["amount"].sum() == pytest.approx(OVERHEAD)


def test_the_overhead_of_plants_grown_over_is_waste_and_margin(tmp_path: Path) -> None:
    """A quarter over: a fifth of all slot-days is for plants that nobody gets, 0.512 of 2.56 a pot."""
    house_with_more = replace(house(), nursery=nursery(60, overhead=OVERHEAD, graft_margin=0.25))
    traced = traced_costs(solve(through_tables(house_with_more, tmp_path), whole=False))
    amount = traced.set_index(["order", "line"])["amount"]
    assert amount["pots", "overhead"] / POTS == pytest.approx(0.8 * 2.56, abs=0.005)
    assert amount["pots", WASTE] / POTS == pytest.approx(0.2 * 2.56, abs=0.005)
    assert amount.sum() == pytest.approx(OVERHEAD)
