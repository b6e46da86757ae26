"""Which prices are ranged, and what each moves."""

from dataclasses import replace
from datetime import date

import pytest

from model.network.expansion import expand
from model.program.build import build
from model.questions.ranging import Price, price_ranges, prices
from model.scenario.choices import PayBasis
from model.scenario.entities import Scenario, ZoneDay
from model.scenario.records.people import Crew, CrewDay
from model.solve import solve
from tests.scenario_parts import day
from tests.specimens import HANDS, SPECIMENS
from tests.strategies import base_scenario


def named(scenario: Scenario) -> dict[tuple[str, str], Price]:
    """Prices of a scenario by kind and name."""
    return {(price.kind, price.name): price for price in prices(build(expand(scenario)))}


def variables(price: Price) -> set[str]:
    """Names of the variables that the price moves."""
    return {variable for variable, _ in price.direction}


def with_crews(*crews: Crew, crew_days: tuple[CrewDay, ...] = ()) -> Scenario:
    return replace(SPECIMENS["work"], crews=crews, crew_days=crew_days)


def test_overtime_without_a_rate_moves_with_the_pay() -> None:
    found = named(with_crews(replace(HANDS[0], overtime_pay_per_hour=None), HANDS[1]))
    assert variables(found["pay", "Growers"]) == {"regular", "overtime"}
    assert ("overtime pay", "Growers") not in found
    own = named(with_crews(*HANDS))
    assert variables(own["pay", "Growers"]) == {"regular"}
    assert variables(own["overtime pay", "Growers"]) == {"overtime"}


def test_pay_that_is_committed_moves_nothing() -> None:
    committed = replace(HANDS[0], pay_basis=PayBasis.COMMITTED)
    assert ("pay", "Growers") not in named(with_crews(committed, HANDS[1]))


def test_temporary_pay_moves_whole_weeks() -> None:
    price = named(SPECIMENS["temporary hands"])["temporary pay", "Grafters"]
    assert set(price.direction.values()) <= {8.0 * days for days in range(1, 6)}
    assert variables(price) == {"temporary_hands"}


@pytest.mark.parametrize("from_day", [day(1), day(10)])
def test_pay_that_changes_by_date_moves_on_all_days(from_day: date) -> None:
    dated = with_crews(*HANDS, crew_days=(CrewDay("Growers", from_day, None, 33.0),))
    plain = named(with_crews(*HANDS))["pay", "Growers"].direction
    assert named(dated)["pay", "Growers"].direction == pytest.approx(plain)


def test_a_zone_moves_by_the_slot_days_of_each_decision() -> None:
    scenario = replace(base_scenario(), zone_days=(ZoneDay("House", day(9), None, None, 2.0),))
    direction = named(scenario)["slots", "House"].direction
    # the house's stay of two days after healing, of trays of one slot
    assert {value for (variable, _), value in direction.items() if variable == "loaded"} == {2.0}
    plain = named(base_scenario())["slots", "House"].direction
    assert direction == pytest.approx(plain)


def test_packs_have_a_price_for_each_size() -> None:
    packs = [price for price in prices(build(expand(SPECIMENS["packs"]))) if price.kind == "pack"]
    assert [(p.name, p.detail, p.value) for p in packs] == [
        ("Red A", "100", 30.0),
        ("Red A", "500", 110.0),
        ("Stout A", "50", 20.0),
        ("Clips", "80", 4.0),
    ]


def test_salvage_is_less_cost() -> None:
    price = named(SPECIMENS["salvage"])["salvage", "Red on Stout"]
    assert set(price.direction.values()) == {-1.0}


def test_penalties_only_of_orders_short() -> None:
    assert "penalty" not in set(price_ranges(solve(base_scenario(), whole=False))["kind"])
    table = price_ranges(solve(SPECIMENS["tight chamber"], whole=False))
    assert set(table[table["kind"] == "penalty"]["name"]) <= {"O-1", "O-2"}


def test_the_effect_of_a_seed_price_is_the_packs_bought() -> None:
    table = price_ranges(solve(base_scenario(), whole=False)).set_index("name")
    # 100 / (.8 · .95) joins, / match .9 seedlings, / stand .81 seeds
    assert table.loc["Red A", "effect"] == pytest.approx(100 / (0.8 * 0.95 * 0.9 * 0.81))


def test_hands_held_as_in_a_whole_plan_do_not_limit_the_range() -> None:
    table = price_ranges(solve(SPECIMENS["temporary hands"]))
    row = table[table["kind"] == "temporary pay"].iloc[0]
    assert row["low"] == 0
    assert row["high"] != row["high"]
