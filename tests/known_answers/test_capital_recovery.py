"""K6 capital recovery: the yearly cost of a chamber module.

Source: Blank, Tarquin, Engineering Economy, ch. 6: 50,000 first cost, 5,000 salvage, 5 years, 10 %: 12,371
a year; A/P factors of the interest tables.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.rates.yields import capital_recovery
from model.scenario.choices import ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.trade import Module
from tests.known_answers.build import lot, nursery, order, own_root, own_root_method, planned, pool


def test_yearly_cost_of_a_module() -> None:
    assert capital_recovery(50_000, 5_000, 0.10, 5) == pytest.approx(12_371, abs=0.5)


@pytest.mark.parametrize(
    "interest, years, factor", [(0.08, 10, 0.14903), (0.10, 5, 0.26380), (0.12, 10, 0.17698)]
)
def test_factors_of_the_interest_tables(interest: float, years: int, factor: float) -> None:
    assert capital_recovery(1.0, 0.0, interest, years) == pytest.approx(factor, abs=5e-6)


def test_without_interest_the_loss_of_worth_is_spread_evenly() -> None:
    assert capital_recovery(50_000, 5_000, 0.0, 5) == pytest.approx(9_000)


def bench_too_small(added: int) -> Scenario:
    """20 plants need 20 slots for a day; there are 10, and a module has 6."""
    return own_root(
        2,
        [order("late", 20, 1, shortfall_penalty=5_000)],
        nursery=nursery(2, interest_rate=0.10),
        methods=(own_root_method(scion_age_min=1, scion_age_max=1),),
        seed_lots=(lot(),),
        zones=(pool("bench", ZoneUse.BENCH, slots=10), pool("hold", ZoneUse.HOLDING)),
        modules=(Module("more bench", "bench", 6, added, 50_000, 5_000, 5),),
    )


@pytest.mark.parametrize("added, short", [(0, 10), (1, 4), (2, 0)])
def test_an_added_module_gives_slots_and_costs_its_yearly_cost(
    tmp_path: Path, added: int, short: int
) -> None:
    result = planned(bench_too_small(added), tmp_path, whole=True)
    lines = result.costs.groupby("line")["amount"].sum().to_dict()
    assert lines.get("modules", 0.0) == pytest.approx(added * 12_370.887, abs=0.01)
    assert lines.get("shortfall", 0.0) == pytest.approx(5_000 * short)
    assert result.cost == pytest.approx(added * 12_370.887 + 5_000 * short, abs=0.01)


def test_a_module_elsewhere_costs_the_same_and_gives_the_bench_no_slots(tmp_path: Path) -> None:
    """The module's cost does not depend on the zone it stands in."""
    scenario = bench_too_small(1)
    elsewhere = tuple(replace(module, zone="hold") for module in scenario.modules)
    result = planned(replace(scenario, modules=elsewhere), tmp_path, whole=True)
    assert result.short == 10
    assert result.cost == pytest.approx(50_000 + 12_370.887, abs=0.01)
