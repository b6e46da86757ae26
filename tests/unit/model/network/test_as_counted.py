"""Shares of a network with a past, by hand: what was grafted had its seedlings, up to one a cell."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.network.as_counted import gone, joins_made, plants_delivered, trays_sown
from model.network.expansion import expand
from model.network.types import Network
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from tests.scenario_parts import day, order
from tests.strategies import base_scenario, with_nursery

ROOT, SCION, GRAFT = 5, 6, 9
"""Days: 10 trays of rootstock in tens, 10 of scions in twenties, joined at 4 and 3 days."""


def grown(joins: float, today: int = GRAFT + 1, **counts: float) -> Scenario:
    """The base scenario (8.1 and 16.2 seedlings a tray, match .9, take .8, survival .95) with one past.

    ``counts``: seedlings counted of root and scion, and joins healed.
    """
    red, stout = ({"lot": "Red A", "format": "twenty"}, {"lot": "Stout A", "format": "ten"})
    told = (
        Progress(day(ROOT), Happened.SOWN, 10.0, counted=counts.get("root"), **stout),
        Progress(day(SCION), Happened.SOWN, 10.0, counted=counts.get("scion"), **red),
        Progress(
            day(GRAFT),
            Happened.GRAFTED,
            joins,
            counted=counts.get("healed"),
            sow_day=day(SCION),
            rootstock_lot="Stout A",
            rootstock_format="ten",
            rootstock_sow_day=day(ROOT),
            product="Red on Stout",
            **red,
        ),
    )
    return with_nursery(base_scenario(progress=told), today=day(today))


def usable(network: Network) -> tuple[float, float]:
    """Usable seedlings a tray of the rootstock and the scion wave of the past."""
    at = {(wave.lot.lot, wave.sow): wave.usable for wave in network.waves if wave.sow in (ROOT, SCION)}
    return at["Stout A", ROOT], at["Red A", SCION]


def match(network: Network) -> float:
    """Stem match of the joins made."""
    (j,) = [j for j, joins in joins_made(network).items() if joins > 0]
    return network.joins[j].match


def test_what_expectation_covers_stays_as_expected() -> None:
    network = expand(grown(joins=72.0))
    assert usable(network) == pytest.approx((8.1, 16.2))
    assert match(network) == pytest.approx(0.9)


def test_more_joins_than_expected_had_more_seedlings() -> None:
    """81 joins of 90 seedlings a side: 9 a tray of rootstock where 8.1 are expected; scions are plenty."""
    network = expand(grown(joins=81.0))
    assert usable(network) == pytest.approx((9.0, 16.2))
    assert match(network) == pytest.approx(0.9)


def test_no_tray_gives_more_seedlings_than_it_has_cells() -> None:
    """99 joins would take 110 seedlings of 100 cells: all cells are full, and the match was .99."""
    network = expand(grown(joins=99.0))
    assert usable(network) == pytest.approx((10.0, 16.2))
    assert match(network) == pytest.approx(0.99)
    assert match(expand(grown(joins=100.0))) == pytest.approx(1.0)


def test_counted_seedlings_stand_and_the_match_gives_way() -> None:
    """70 joins of 72 counted seedlings matched by 70 of 72, not by .9; 9 a tray of scions are enough."""
    network = expand(grown(joins=70.0, root=72.0, scion=90.0))
    assert usable(network) == pytest.approx((7.2, 9.0))
    assert match(network) == pytest.approx(70 / 72)


def test_finished_plants_counted_stand_for_the_survival() -> None:
    scenario = grown(joins=72.0, today=15, healed=60.0)
    ready = Progress(day(14), Happened.FINISHED, 45.0, product="Red on Stout", graft_day=day(GRAFT))
    network = expand(replace(scenario, progress=(*scenario.progress, ready)))
    (flow,) = [flow for flow in network.flows if flow.graft == GRAFT]
    (j,) = [j for j, joins in joins_made(network).items() if joins > 0]
    assert network.joins[j].take == pytest.approx(60 / 72)
    assert flow.survival == pytest.approx(45 / 60)


@pytest.mark.parametrize("today", [ROOT, SCION, SCION + 1, GRAFT, GRAFT + 1])
def test_what_is_due_today_is_still_open(today: int) -> None:
    """Sown and grafted is what lies before today; today's own waves and flows are to be decided."""
    network = expand(replace(grown(joins=72.0, today=today), progress=()))
    sown = {network.waves[w].sow for w in trays_sown(network)}
    assert sown == {wave.sow for wave in network.waves if wave.sow < today}
    settled = {network.flows[network.joins[j].flow].graft for j in joins_made(network)}
    assert settled == {flow.graft for flow in network.flows if flow.graft < today}


@pytest.mark.parametrize("today, packed", [(15, set()), (16, set()), (17, {0}), (18, {0})])
def test_an_order_is_gone_after_its_packing_day(today: int, packed: set[int]) -> None:
    two = (order("O-1", "Red on Stout", 100, 16), order("O-2", "Red on Stout", 10, 19))
    network = expand(with_nursery(base_scenario(orders=two), today=day(today)))
    assert gone(network) == packed
    assert {network.deliveries[i].order for i in plants_delivered(network)} == packed


@pytest.mark.parametrize(
    "plants, survival, margin", [(40.0, 0.95, 0.2), (50.0, 0.95, 4.72 / 50), (57.0, 57 / 57.6, 0.0)]
)
def test_plants_delivered_eat_their_margin_and_then_more_have_finished(
    plants: float, survival: float, margin: float
) -> None:
    """72 joins at .8 and .95: 54.72 finished. 40 leave the margin of 20 %, 50 part of it, 57 none."""
    scenario = with_nursery(grown(joins=72.0, today=18), graft_margin=0.2)
    gone_out = Progress(
        day(16), Happened.DELIVERED, plants, product="Red on Stout", graft_day=day(GRAFT), order="O-1"
    )
    network = expand(replace(scenario, progress=(*scenario.progress, gone_out)))
    (flow,) = [flow for flow in network.flows if flow.graft == GRAFT]
    (delivery,) = [d for d in network.deliveries if network.flows[d.flow].graft == GRAFT]
    assert flow.survival == pytest.approx(survival)
    assert delivery.margin == pytest.approx(margin, abs=1e-9)


def test_more_delivered_than_expected_has_finished_even_where_no_margin_was_planned() -> None:
    """57 plants of 57.6 healed, where .95 of them were expected and the margin is 0."""
    gone_out = Progress(
        day(16), Happened.DELIVERED, 57.0, product="Red on Stout", graft_day=day(GRAFT), order="O-1"
    )
    scenario = grown(joins=72.0, today=18)
    network = expand(replace(scenario, progress=(*scenario.progress, gone_out)))
    (flow,) = [flow for flow in network.flows if flow.graft == GRAFT]
    assert flow.survival == pytest.approx(57 / 57.6)
    assert {delivery.margin for delivery in network.deliveries} == {0.0}
