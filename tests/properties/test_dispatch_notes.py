"""Dispatch notes of random plans: every plant delivered is on one note, from the lots that its flow used."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date

import pytest
from hypothesis import given, settings

from model.planned.lots import whole
from model.planned.plan_tables import Plan, rows_of
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from reports.work.dispatch_notes import ON_PAPERS, Dispatch, PlantSource, deliveries
from tests.depth import deep
from tests.specimens import SPECIMENS
from tests.strategies import small_scenarios


def check_notes(scenario: Scenario, result: Plan) -> None:
    nursery = scenario.nursery
    found = deliveries(
        scenario, result, first=nursery.first_day, days=(nursery.last_day - nursery.first_day).days + 1
    )
    check_counts(result, found)
    check_lots(result, found)


def check_counts(result: Plan, found: list[Dispatch]) -> None:
    """Counts by order are the plan's, rounded up, and each is noted on its packing day."""
    noted: Counter[str] = Counter()
    for delivery in found:
        noted[delivery.order.order] += delivery.plants
        assert all(source.plants >= 0 for source in delivery.sources)
    for order, own, bought in rows_of(result.orders, "order", "own", "bought"):
        assert noted[order] == whole(own + bought)
    packed = {(order, day) for order, day in rows_of(result.deliveries, "order", "pack_day")}
    assert sorted((delivery.order.order, delivery.packed) for delivery in found) == sorted(packed)
    assert [delivery.packed for delivery in found] == sorted(delivery.packed for delivery in found)


def check_lots(result: Plan, found: list[Dispatch]) -> None:
    """Lots are those of the trace, all joined on the graft day; plants are those delivered."""
    sown = {wave: f"{lot} sown {day}" for wave, lot, day in rows_of(result.waves, "wave", "lot", "sow_day")}
    joined, traced = defaultdict(set), defaultdict(set)
    names = ("graft_day", "rootstock_wave", "scion_wave")
    for graft, rootstock, scion in rows_of(result.joins, *names):
        joined[graft].add((None if rootstock is None else sown[rootstock], sown[scion]))
    for order, graft, rootstock, scion in rows_of(result.trace, "order", *names):
        traced[order, graft].add((None if rootstock is None else sown[rootstock], sown[scion]))
    noted: dict[str, list[PlantSource]] = defaultdict(list)
    for delivery in found:
        noted[delivery.order.order] += delivery.sources
    plants: dict[tuple[str, date | None, str | None, date | None], float] = defaultdict(float)
    columns = ("order", "graft_day", "offer", "ready_day", "plants")
    for order, graft, offer, ready, number in rows_of(result.deliveries, *columns):
        plants[order, graft, offer, None if offer is None else ready] += number
    for (order, graft, offer, ready), number in plants.items():
        own = (f"grafted {graft}, ", f"moved on {graft}, ")
        begins = own if offer is None else (f"arrived {ready}, bought in: {offer}",)
        sources = [source for source in noted[order] if source.origin.startswith(begins)]
        if offer is None:
            assert {(source.rootstock, source.scion) for source in sources} == traced[order, graft]
            assert traced[order, graft] <= joined[graft]
        else:
            assert {source.scion for source in sources} == {ON_PAPERS}
        assert sum(source.plants for source in sources) == pytest.approx(number, abs=len(sources) + 1e-6)


@given(small_scenarios())
@settings(max_examples=deep(40))
def test_notes_add_up_to_the_plan(scenario: Scenario) -> None:
    check_notes(scenario, plan_of(solve(scenario)))


@given(small_scenarios())
@settings(max_examples=deep(20))
def test_notes_of_a_plan_in_parts(scenario: Scenario) -> None:
    check_notes(scenario, plan_of(solve(scenario, whole=False)))


@pytest.mark.parametrize("name", SPECIMENS)
def test_notes_of_the_specimens(name: str) -> None:
    check_notes(SPECIMENS[name], plan_of(solve(SPECIMENS[name])))
