"""Orders spread over graft days by rule, worked by hand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.network.expansion import SPREAD_BY
from model.planned.plan_tables import Plan, rows_of
from model.planned.shadow_prices import limit_name
from model.proof.audit import audit
from model.risk.mishaps import _in_zones
from model.scenario.choices import MethodKind, ZoneUse
from model.scenario.entities import Scenario
from model.solve import plan, plan_of, solve
from tests.depth import deep
from tests.independent import least_cost
from tests.known_answers.build import (
    day,
    lot,
    nursery,
    only_price,
    order,
    own_root,
    planned,
    pool,
    seed_price,
)
from tests.least import least
from tests.scenario_parts import day as parts_day
from tests.scenario_parts import method, units
from tests.strategies import base_scenario, small_scenarios, with_nursery


def held_at_a_price(share: float | None, of_all: float | None = None) -> Scenario:
    """10 plants due on day 2, raised in a day; each day that a plant is held costs 1."""
    return own_root(
        3,
        [order("one", 10, 2, most_share_of_one_day=share)],
        nursery=nursery(3, most_share_of_one_day=of_all),
        zones=(pool("bench", ZoneUse.BENCH), pool("hold", ZoneUse.HOLDING, cost=1.0)),
    )


@pytest.mark.parametrize(
    ("share", "of_all", "cost", "by_day"),
    [
        (None, None, 0, [0, 0, 10]),
        (0.7, None, 3, [0, 3, 7]),
        (0.4, None, 4 + 2 * 2, [2, 4, 4]),
        (None, 0.4, 4 + 2 * 2, [2, 4, 4]),
        (0.7, 0.4, 3, [0, 3, 7]),
        (1.0, 0.4, 0, [0, 0, 10]),
    ],
)
@pytest.mark.parametrize("whole", [True, False])
def test_plants_go_to_the_next_best_days(
    tmp_path: Path, share: float | None, of_all: float | None, cost: float, by_day: list[int], whole: bool
) -> None:
    result = planned(held_at_a_price(share, of_all), tmp_path, whole=whole)
    assert result.cost == pytest.approx(cost)
    made = dict(rows_of(result.deliveries, "graft_day", "plants"))
    assert [made.get(day(t), 0.0) for t in range(3)] == pytest.approx(by_day)


def test_the_price_of_the_rule_is_the_difference(tmp_path: Path) -> None:
    """One more plant of the last day saves a day of holding."""
    found = only_price(planned(held_at_a_price(0.7), tmp_path), "one graft day")
    assert (found.name, found.day, found.at) == ("one", day(2), 7)
    assert found.value == pytest.approx(-1)


def test_what_the_days_do_not_give_is_short(tmp_path: Path) -> None:
    """Three days of a fifth each: four of ten plants are short, and the reason says what would fill them."""
    result = planned(held_at_a_price(0.2), tmp_path, whole=True)
    ((short, why),) = rows_of(result.orders, "short", "short_because")
    assert short == 4
    assert "of order one from" in why


def two_lots(share: float | None, more: int = 0) -> Scenario:
    """10 plants, and more for a second order without a rule; seed of one lot is free, of the other at 1."""
    second = [order("two", more, 2, most_share_of_one_lot=1.0)] if more else []
    return own_root(
        3,
        [order("one", 10, 2, most_share_of_one_lot=share), *second],
        seed_lots=(lot(lot="cheap"), lot(lot="dear", stock=0)),
        packs=(seed_price(1.0, "dear"),),
    )


def of_lots(result: Plan, name: str) -> dict[str, float]:
    """Plants of an order by lot, as traced."""
    lots, found = dict(rows_of(result.waves, "wave", "lot")), defaultdict[str, float](float)
    for to, wave, plants in rows_of(result.trace, "order", "scion_wave", "plants"):
        found[lots[wave]] += plants if to == name else 0
    return {lot: plants for lot, plants in found.items() if plants}


@pytest.mark.parametrize(
    ("share", "cost", "lots"),
    [
        (None, 0, {"cheap": 10}),
        (1.0, 0, {"cheap": 10}),
        (0.7, 3, {"cheap": 7, "dear": 3}),
        (0.5, 5, {"cheap": 5, "dear": 5}),
    ],
)
@pytest.mark.parametrize("more", [0, 12])
@pytest.mark.parametrize("whole", [True, False])
def test_plants_come_of_other_lots(
    tmp_path: Path, share: float | None, cost: float, lots: dict[str, float], more: int, whole: bool
) -> None:
    """Plants of one day are told apart by their lots: the second order has the free ones alone."""
    result = planned(two_lots(share, more), tmp_path, whole=whole)
    assert result.cost == pytest.approx(cost)
    assert of_lots(result, "one") == pytest.approx(lots)
    assert of_lots(result, "two") == pytest.approx({"cheap": more} if more else {})


def test_the_price_of_a_lot_and_what_lots_do_not_give(tmp_path: Path) -> None:
    """One more plant of the free lot saves 1; two lots at .4 leave two of ten short."""
    found = only_price(planned(two_lots(0.7), tmp_path), "share of a lot")
    assert (found.name, found.day, found.at) == ("one from cheap", None, 7)
    assert found.value == pytest.approx(-1)
    ((short, why),) = rows_of(planned(two_lots(0.4), tmp_path, whole=True).orders, "short", "short_because")
    assert (short, why) == (2, "least relief: 1 more plant of order one from each seed lot")


def in_units(share: float | None, number: int = 3) -> Scenario:
    """40 plants in a chamber of units of four trays of 10, which cost something; stand and take are 1."""
    sure_splice = method(
        "splice", MethodKind.ON_TRAY, take=1.0, match=1.0, finish_survival=1.0, holding_limit_days=0
    )
    sure = dict.fromkeys(("germination_correlation", "sowing_correlation"), 0.0)
    scenario = base_scenario(
        orders=(replace(order("one", 40, 0), product="Red on Stout", due_day=parts_day(16)),),
        seed_lots=tuple(
            replace(row, germination=1.0, grade_out=0.0, stock=1000, **sure)
            for row in base_scenario().seed_lots
        ),
        packs=(),
        methods=(sure_splice,),
        zones=(*base_scenario().zones[:2], units("Chamber", number, 4.0, 1, 1.0), base_scenario().zones[3]),
    )
    return with_nursery(scenario, most_share_of_one_unit=share)


@pytest.mark.parametrize(
    ("share", "units_whole", "units_in_parts"), [(None, 1, 1), (1.0, 1, 1), (0.5, 2, 2), (0.4, 3, 2.5)]
)
@pytest.mark.parametrize("is_whole", [True, False])
def test_plants_go_to_more_units(
    share: float | None, units_whole: float, units_in_parts: float, is_whole: bool
) -> None:
    """All 40 would fit into one unit."""
    made = plan(in_units(share), whole=is_whole)
    opened = sum(units for (units,) in rows_of(made.unit_batches, "units"))
    assert opened == pytest.approx(units_whole if is_whole else units_in_parts)
    assert made.short == 0


def test_what_units_do_not_hold_is_short() -> None:
    """Two units at .4 hold 32 of 40 plants."""
    made = plan(in_units(0.4, number=2))
    ((short, why),) = rows_of(made.orders, "short", "short_because")
    assert short == 8
    assert "of order one in the units opened" in why or "of Chamber" in why
    price = only_price(made, "share of a unit")
    assert price.at == pytest.approx(32)
    assert price.name == "one in units of Chamber until 2027-03-15"
    label = "one", "2027-03-08", "Chamber", "2027-03-15", "customer Shop"
    told = "one in units of Chamber until 2027-03-15 not for customer Shop"
    assert limit_name("unit_share", label) == told


def test_a_mishap_takes_what_is_in_a_unit() -> None:
    """At .5 each unit holds half of the flow, so that a unit lost never takes more."""
    for share, parts in ((None, [1.0]), (0.5, [0.5, 0.5])):
        scenario = in_units(share)
        made = plan(scenario)
        batches = _in_zones(scenario, made)
        (found,) = (each for (_, zone), each in batches.items() if zone == "Chamber")
        assert list(found.values()) == pytest.approx(parts)


def test_a_plan_that_does_not_know_the_rules_fails_the_audit() -> None:
    for loose, strict in ((two_lots(None), two_lots(0.5)), (in_units(None), in_units(0.5))):
        found = {check.name: check.passed for check in audit(strict, plan(loose))}
        assert not found["orders are spread"]


@settings(max_examples=deep(60), deadline=None)
@given(
    small_scenarios(),
    st.dictionaries(st.sampled_from(SPREAD_BY), st.sampled_from([0.2, 0.5, 0.8]), min_size=1),
)
def test_least_cost_is_that_of_the_second_statement(drawn: Scenario, shares: dict[str, float]) -> None:
    """No order draws more than its share from a graft day, lot or unit; no rule makes a plan cheaper.

    The rule of days is about those to come: plants on hand were grafted before.
    """
    scenario = with_nursery(drawn, **shares)
    made = plan_of(solve(scenario, whole=False))
    assert made.cost == pytest.approx(least_cost(scenario, whole=False), rel=1e-6, abs=1e-6)
    assert made.cost >= least(drawn) - 1e-6 * max(1.0, abs(made.cost))
    assert [check for check in audit(scenario, made) if not check.passed] == []
    quantity = dict(rows_of(made.orders, "order", "quantity"))
    share = shares.get("most_share_of_one_day", 1.0)
    for name, graft, plants in rows_of(made.deliveries, "order", "graft_day", "plants"):
        to_come = graft is not None and graft >= scenario.nursery.first_day
        assert not to_come or plants <= share * quantity[name] + 1e-6
