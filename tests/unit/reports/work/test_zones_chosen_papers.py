"""Papers of a plan with zones to choose from: they say in which zones each batch goes, and its cost."""

from __future__ import annotations

from functools import cache

import pytest

from model.planned.jobs import jobs_of
from model.planned.plan_tables import Plan, rows_of
from model.questions.traced_costs import traced_parts
from model.solve import Solved, plan_of, solve
from reports.work.tray_tags import tags
from tests.specimens import SPECIMENS

OF = SPECIMENS["zones chosen"]


@cache
def solved() -> Solved:
    return solve(OF)


@cache
def made() -> Plan:
    return plan_of(solved())


def test_the_plan_under_test_uses_both_zones() -> None:
    zones = set(made().flows["in_zones"])
    assert any("Tunnel" in name for name in zones)
    assert any("Chamber" in name for name in zones)


def test_grafters_and_tags_are_told_the_zones() -> None:
    grafting = [job.detail for job in jobs_of(made()).values() if job.step == "graft"]
    nursery = OF.nursery
    days = (nursery.last_day - nursery.first_day).days + 1
    lines = [line for tag in tags(OF, made(), first=nursery.first_day, days=days) for line in tag.lines]
    for zones in made().flows["in_zones"]:
        assert any(detail.find(f"in zones: {zones}") > 0 for detail in grafting)
        assert any(line.endswith(f", in {zones}") for line in lines)


def test_trays_are_moved_to_the_zones_chosen() -> None:
    """Trays moved to healing on a day are those loaded, zone by zone."""
    moved: dict[tuple[object, str], float] = {}
    for job in jobs_of(made()).values():
        if job.step == "move to healing":
            at = job.day, job.to_zone
            moved[at] = moved.get(at, 0.0) + (job.trays or 0.0)
    loaded: dict[tuple[object, str], float] = {}
    for day, zones, trays in rows_of(made().flows, "graft_day", "in_zones", "trays_loaded"):
        at = day, zones.split("; ")[0]
        loaded[at] = loaded.get(at, 0.0) + trays
    assert moved == pytest.approx(loaded)


def test_what_the_zones_cost_is_traced_to_orders() -> None:
    """Trays in the tunnel cost .10 each; the cost follows them to the orders."""
    trays = sum(n for zones, n in rows_of(made().flows, "in_zones", "trays_loaded") if "Tunnel" in zones)
    costs = dict(rows_of(made().costs, "line", "amount"))
    assert costs["zones chosen"] == pytest.approx(0.10 * trays)
    parts = traced_parts(solved())
    assert parts.loc[parts["cost_line"] == "zones chosen", "amount"].sum() == pytest.approx(0.10 * trays)
    assert parts["amount"].sum() == pytest.approx(made().cost)


def test_plants_are_moved_to_where_they_wait_and_bear_its_cost() -> None:
    """Ten plants a tray; a tray that waits in the store costs .20, borne by its order as holding."""
    chosen = solve(SPECIMENS["places to wait in"])
    of = plan_of(chosen)
    columns = ("order", "in_zones", "plants")
    trays = {(order, zone): plants / 10 for order, zone, plants in rows_of(of.deliveries, *columns)}
    moved = {
        (job.name, job.to_zone): job.trays for job in jobs_of(of).values() if job.step == "move to holding"
    }
    stored = {at: number for at, number in trays.items() if at[1] == "Store"}
    assert stored
    assert moved == pytest.approx(stored)
    parts = traced_parts(chosen)
    borne = parts.loc[parts["cost_line"] == "zones chosen"]
    assert set(borne["line"]) == {"holding"}
    assert borne["amount"].sum() == pytest.approx(0.2 * sum(stored.values()))
