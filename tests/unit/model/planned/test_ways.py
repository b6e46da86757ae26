"""Products made in several ways: which way the plan picks, what another would cost, who bears what."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from scipy.sparse import csc_array

from model.planned.plan_tables import rows_of
from model.proof.audit import audit
from model.questions.traced_costs import traced_parts
from model.scenario.choices import Source, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan, plan_of, solve
from model.solver import compiled
from tests.depth import deep
from tests.scenario_parts import TWO_WAYS, WEEK, pool
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_rows

ROOM = base_scenario(**TWO_WAYS, zones=(*base_scenario().zones, pool("Tunnel", ZoneUse.HEALING, 100.0, 0.05)))
"""Red on Stout by splice and by root-cut, with room for all by splice."""


def seed_of(take: float) -> float:
    """Seed of a plant: a scion seed of .50 and a rootstock seed of .25, match .9, stand .81, survival .95."""
    return 0.75 / (take * 0.95 * 0.9 * 0.81)


def test_the_cheaper_way_is_made_and_the_other_told() -> None:
    """Splice takes at .8, root-cut at .7 and three days of .1 tray a join in a tunnel at .05 a slot-day."""
    made = plan(ROOM, whole=False)
    assert made.cost == pytest.approx(100 * seed_of(0.8))
    dearer = seed_of(0.7) - seed_of(0.8) + 1 / (0.7 * 0.95) * 0.1 * 3 * 0.05
    told = made.ways.set_index("way")["dearer"].to_dict()
    assert told == pytest.approx({"Red on Stout": 0.0, "Red on Stout, cut": dearer}, abs=1e-6)
    assert set(made.deliveries["product"]) == {"Red on Stout"}


def test_without_room_for_one_way_the_other_fills_the_order() -> None:
    shut = with_rows(ROOM, "zones", lambda row: replace(row, slots=0.0) if row.zone == "Chamber" else row)
    made = plan(shut, whole=False)
    assert made.cost == pytest.approx(100 * (seed_of(0.7) + 1 / (0.7 * 0.95) * 0.1 * 3 * 0.05))
    assert made.orders["own"].tolist() == pytest.approx([100.0])
    assert set(made.deliveries["product"]) == {"Red on Stout, cut"}
    jobs = made.jobs[made.jobs["step"] == "deliver"]
    assert jobs["detail"].tolist() == ["Red on Stout, to Market farm"]


def test_old_rootstocks_are_cut() -> None:
    """Rootstocks 8 days old on their last graft day are too old for the tray, whose window ends at 5."""
    late = with_rows(
        ROOM, "methods", lambda row: replace(row, rootstock_age_min=8) if row.method == "cut" else row
    )
    shut = with_rows(late, "zones", lambda row: replace(row, slots=0.0) if row.zone == "Chamber" else row)
    made = plan(shut)
    assert made.joins["rootstock_age"].tolist() == [8] * len(made.joins)
    assert made.short == 0
    assert all(check.passed for check in audit(shut, made))


def test_what_must_only_be_bought_is_made_in_no_way() -> None:
    offer = BuyInOffer("Neighbour", "Red on Stout", 3.0, 5, WEEK, None, None, 0, None)
    bought = replace(
        ROOM,
        products=(replace(ROOM.products[0], source=Source.BUY), ROOM.products[1]),
        buy_in_offers=(offer,),
    )
    made = plan(bought)
    assert made.flows.empty
    assert made.orders["bought"].tolist() == [100.0]


def test_the_bench_reads_what_to_mind() -> None:
    words = "first true leaf out; one cotyledon kept"
    minded = with_rows(
        ROOM, "methods", lambda row: replace(row, at_bench=words if row.method == "splice" else None)
    )
    details = plan(minded).jobs.query("step == 'graft'")["detail"]
    assert len(details) > 0
    assert all(text.endswith(f"; {words}") for text in details)


def test_each_way_bears_its_own_cost() -> None:
    """Both ways are used: their traced parts add up to the plan, each with the seed of its take."""
    solved = solve(SPECIMENS["two ways"], whole=False)
    traced, made = traced_parts(solved), plan_of(solved)
    assert traced["amount"].sum() == pytest.approx(made.cost)
    plants = dict(
        rows_of(made.deliveries.groupby("product", as_index=False)["plants"].sum(), "product", "plants")
    )
    seed = traced[traced["cost_line"] == "seed"].groupby("made")["amount"].sum()
    for way, take in (("Red on Stout", 0.8), ("Red on Stout, cut", 0.7)):
        assert seed[way] == pytest.approx(plants[way] * seed_of(take))


@given(small_scenarios())
@settings(max_examples=deep(200))
def test_a_plant_made_in_another_way_costs_at_least_what_is_told(scenario: Scenario) -> None:
    """Forcing plants of a flow on orders raises the least cost by at least the price told."""
    solved = solve(scenario, whole=False)
    made = plan_of(solved)
    told = [row for row in rows_of(made.ways, "way", "graft_day", "in_zones", "dearer") if row[3] is not None]
    network, position = solved.program.network, solved.compiled.position["delivered"]
    for way, day, zones, dearer in told[:3]:
        columns = [
            int(position[i])
            for i, delivery in enumerate(network.deliveries)
            if (flow := network.flows[delivery.flow]).product.product == way
            and network.calendar.date(flow.graft) == day
            and flow.key.in_zones == zones
        ]
        sent = csc_array(
            (np.ones(len(columns)), (np.zeros(len(columns), int), columns)),
            shape=(1, len(solved.continuous.columns)),
        )
        least = float(solved.continuous.columns[columns].sum()) + 0.5
        forced = compiled.with_rows(solved.compiled, sent, np.array([least]), np.array([np.inf]))
        try:
            cost = compiled.run(compiled.solver(forced)).objective
        except compiled.SolveError:
            continue
        assert cost - solved.continuous.objective >= 0.5 * dearer - 1e-5 * max(1.0, abs(cost))
