"""Healed and finished plants on hand on the first day: their lots and age, kept where somebody needs them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.proof.audit import audit
from model.questions.ungrafted import ungrafted
from model.risk.batches import Seasons
from model.risk.simulation import live
from model.scenario.choices import Happened, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.past import PlantsOnHand, Progress, TraysOnHand
from model.scenario.records.trade import BuyInOffer
from model.season.as_planned import as_planned
from model.solve import plan
from reports.plan.figures import joins_made
from scenarios.cells.draft import draft_of
from scenarios.rules.all_rules import check
from tests.independent import least_cost
from tests.mutations import rows_of, with_table
from tests.scenario_parts import WORK, day, order, pool
from tests.specimens import HANDS, SPECIMENS
from tests.strategies import base_scenario, with_nursery

NAME = "Red on Stout"
READY = PlantsOnHand(NAME, day(-6), 25, "Red A", day(-10), "Stout A", day(-11))
"""Three days of healing and two of finishing: ready on day -1, and held until day 2 at the latest."""
HEALED = PlantsOnHand(NAME, day(-4), 40, "Red A", day(-8), "Stout A", day(-9))
"""Healed on day -1, ready on day 1 as 40 · .95 = 38 plants, and held until day 4."""


def stood(*rows: PlantsOnHand, quantity: int = 30, due: int = 2, **changes: Any) -> Scenario:
    """Plants due so early that only those on hand can reach them."""
    return base_scenario(
        orders=(order("O-1", NAME, quantity, due),), plants_on_hand=rows or (READY, HEALED), **changes
    )


def failing(scenario: Scenario, planned: Plan) -> dict[str, str]:
    """Checks that fail, with what they say."""
    return {check.name: check.detail for check in audit(scenario, planned) if not check.passed}


@pytest.mark.parametrize(
    ("rows", "quantity", "due", "short"),
    [
        ((READY,), 30, 2, 5.0),
        ((READY,), 30, 3, 30.0),
        ((HEALED,), 40, 2, 2.0),
        ((HEALED,), 40, 4, 2.0),
        ((HEALED,), 40, 5, 40.0),
        ((READY, HEALED), 70, 2, 7.0),
    ],
)
def test_orders_get_plants_that_stood_there_while_they_may_be_held(
    rows: tuple[PlantsOnHand, ...], quantity: int, due: int, short: float
) -> None:
    """A plant short costs 50, and nothing else costs anything."""
    scenario = stood(*rows, quantity=quantity, due=due)
    for whole in (False, True):
        planned = plan(scenario, whole=whole)
        assert planned.facts.objective == pytest.approx(50 * short)
        assert least_cost(scenario, whole=whole) == pytest.approx(50 * short)
        assert failing(scenario, planned) == {}


def test_they_stand_in_the_trays_that_they_fill() -> None:
    """Ready ones count by the cells that they fill, those that finish by their trays: four for 40."""
    made = stood(quantity=60)
    zones = [replace(z, cost_per_slot_day=1.0) if z.use is ZoneUse.FINISHING else z for z in made.zones]
    scenario = replace(made, zones=tuple(zones))
    planned = plan(scenario)
    used = {row["day"]: row["used"] for row in rows_of(planned, "slots") if row["zone"] == "House"}
    assert used[day(0)] == pytest.approx(2.5 + 4 * (60 - 25) / 38)
    assert used[day(1)] == pytest.approx(2.5 + 3.5)
    assert failing(scenario, planned) == {}


def test_plants_that_nobody_needs_are_not_kept() -> None:
    planned = plan(stood(quantity=19))
    assert planned.flows["joins"].sum() == pytest.approx(19 if len(planned.flows) == 1 else 20)
    assert planned.flows["surplus"].sum() == pytest.approx(0)


def test_their_lots_are_traced_and_nothing_is_made_for_them() -> None:
    scenario = stood(labour_standards=WORK, crews=HANDS)
    planned = plan(scenario)
    waves = {row["wave"]: row for row in rows_of(planned, "waves")}
    traced = {
        (waves[r["rootstock_wave"]]["lot"], waves[r["scion_wave"]]["sow_day"])
        for r in rows_of(planned, "trace")
    }
    assert traced == {("Stout A", day(-10)), ("Stout A", day(-8))}
    assert {row["seeds"] for row in waves.values()} == {0}
    assert planned.purchases.empty
    assert min(planned.jobs["day"]) >= day(0)
    assert set(planned.jobs["step"]) == {"tend", "grade", "pack", "deliver"}
    assert joins_made(scenario, planned) == 0
    assert failing(scenario, planned) == {}


def test_the_audit_knows_how_many_there_were() -> None:
    scenario = stood(READY)
    made = plan(scenario)
    rows = rows_of(made, "joins")
    rows[0]["joins"] = 26.0
    told = failing(scenario, with_table(made, "joins", rows))
    assert "26.0000 is more than 25.0000" in told["the past is kept"]


def test_the_audit_knows_when_they_are_ready() -> None:
    scenario = stood(READY)
    made = plan(scenario)
    rows = rows_of(made, "flows")
    rows[0]["ready_day"] = day(0)
    assert "flows add up" in failing(scenario, with_table(made, "flows", rows))


def test_what_was_counted_does_not_vary() -> None:
    """Ready plants are there in every season; of healed ones, finishing may lose some."""
    for row, varies in ((READY, False), (HEALED, True)):
        scenario = stood(row, quantity=row.plants)
        finished = live(Seasons(40, 7), scenario, plan(scenario)).finished
        assert (len(set(finished[0].tolist())) > 1) == varies


def test_deliveries_of_them_are_recorded() -> None:
    """Planned on day 0, packed on day 2, planned again on day 3."""
    scenario = stood()
    made = plan(scenario)
    told = as_planned(made, day(3), since=day(0))
    assert {row.what for row in told} == {Happened.DELIVERED}
    later = replace(with_nursery(scenario, today=day(3)), progress=told)
    assert check(draft_of(later)) == []
    planned = plan(later)
    assert failing(later, planned) == {}
    assert planned.facts.objective == pytest.approx(made.facts.objective)


def test_no_more_are_delivered_than_stood_there() -> None:
    row = Progress(day(2), Happened.DELIVERED, 26.0, order="O-1", graft_day=READY.graft_day)
    later = replace(with_nursery(stood(READY), today=day(3)), progress=(row,))
    (fault,) = check(draft_of(later))
    assert "25" in fault.wrong


def test_an_order_that_only_they_can_reach_is_no_fault() -> None:
    assert check(draft_of(stood())) == []
    (fault,) = check(draft_of(replace(stood(), plants_on_hand=())))
    assert "comes before any" in fault.wrong


def test_seedlings_left_of_the_same_sowing_may_still_be_grafted() -> None:
    """A wave whose seedlings are counted holds those left and those joined."""
    left = TraysOnHand("Stout A", "ten", day(-9), 2, 15)
    scenario = stood(HEALED, trays_on_hand=(left,))
    (wave,) = [w for w in expand(scenario).waves if w.lot.lot == "Stout A" and w.on_hand]
    assert wave.usable == pytest.approx((40 + 15) / (4 + 2))


def test_they_are_the_same_plants_where_nothing_is_grafted() -> None:
    plain = ungrafted(stood())
    assert check(draft_of(plain)) == []
    assert [row.plants for row in plain.plants_on_hand] == [25, 40]


def test_zones_of_healing_are_left() -> None:
    """A chamber without room holds nobody up."""
    made = stood()
    zones = [pool("Chamber", ZoneUse.HEALING, 0.0) if z.zone == "Chamber" else z for z in made.zones]
    scenario = replace(made, zones=tuple(zones))
    assert plan(scenario).short == 0


def test_an_offer_is_taken_whole_beside_plants_whose_waves_cost_nothing() -> None:
    """The offer's column is the last; the fixed cost of a wave on hand has none. Cheaper than to grow."""
    offer = BuyInOffer("Neighbour", NAME, 0.5, 2, ("Mon", "Tue", "Wed", "Thu", "Fri"), None, None, 10, None)
    scenario = with_nursery(replace(SPECIMENS["plants on hand"], buy_in_offers=(offer,)), wave_cost=15.0)
    made = plan(scenario)
    assert failing(scenario, made) == {}
    assert made.facts.objective == pytest.approx(least_cost(scenario, whole=True), abs=1e-6)
