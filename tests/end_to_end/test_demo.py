"""Hollow Ash, the demo nursery: what its plan shows, and that it is the same plan every time."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections import Counter
from datetime import date

import pandas as pd
import pytest

from model.planned.plan_tables import PLAN_TABLES, Plan
from model.proof.audit import audit
from model.scenario.choices import MatchFrom, MethodKind
from model.scenario.entities import Scenario
from scenarios.rules.remarks import remarks
from tests.demo import demo, demo_plan
from tests.places import ROOT

CHAMBER, GRAFTERS = "healing chamber", "grafters"


def digest(made: Plan) -> str:
    """A line for each table of a plan, and one for its facts: the same for the same plan alone."""
    tables = {name: made.table(name).to_csv(index=False).encode() for name in PLAN_TABLES}
    lines = [f"{name} {hashlib.sha256(table).hexdigest()}" for name, table in tables.items()]
    return "\n".join([*lines, f"{made.facts.objective!r} {made.facts.bound!r} {made.facts.input_hash}"])


@pytest.fixture(name="demo", scope="module")
def _demo() -> Scenario:
    return demo()


@pytest.fixture(scope="module")
def base() -> Plan:
    return demo_plan()


def weeks(days: pd.Series) -> int:
    """Number of different weeks that the days lie in."""
    return len({day.isocalendar()[:2] for day in days})


def test_size(demo: Scenario) -> None:
    methods = {method.method: method for method in demo.methods}
    kinds = Counter(methods[product.method].kind for product in demo.products)
    assert {product.crop for product in demo.products} == {"tomato", "cucumber", "watermelon", "eggplant"}
    assert kinds == {MethodKind.ON_TRAY: 7, MethodKind.ROOT_CUT: 4, MethodKind.OWN_ROOT: 2}
    assert len(demo.orders) == 33
    assert len({order.customer for order in demo.orders}) == 7
    assert len(demo.zones) == 5
    assert {crew.crew: crew.temp_heads_most for crew in demo.crews} == {GRAFTERS: 5, "growing crew": 0}
    due = [order.due_day for order in demo.orders]
    assert 11 * 7 <= (max(due) - min(due)).days <= 12 * 7


def test_every_product_and_way_of_matching_is_used(demo: Scenario, base: Plan) -> None:
    assert {order.product for order in demo.orders} == {p.product for p in demo.ordered_products}
    assert len(demo.ordered_products) == 11
    assert set(base.flows["method"]) == {method.method for method in demo.methods}
    assert {p.ordered_as for p in demo.products if p.product in set(base.flows["product"])} == {
        product.product for product in demo.ordered_products
    }
    grafted = {method.match_from for method in demo.methods if method.kind is not MethodKind.OWN_ROOT}
    assert grafted == set(MatchFrom)


def test_a_holiday_on_a_weekday_is_kept(demo: Scenario, base: Plan) -> None:
    holiday = date(2027, 3, 26)
    assert holiday.weekday() < 5
    assert holiday in {off.day for off in demo.days_off}
    assert holiday not in set(base.waves["sow_day"]) | set(base.joins["graft_day"])
    worked = base.hours[base.hours["day"] == holiday]
    assert set(worked["task"]) == {"care", "tend"}


def test_chamber_is_full_in_two_weeks_or_more(base: Plan) -> None:
    chamber = base.slots[base.slots["zone"] == CHAMBER]
    assert weeks(chamber["day"][chamber["used"] >= chamber["available"] - 1e-6]) >= 2


def test_grafters_work_all_they_can_in_two_weeks_or_more(base: Plan) -> None:
    days = base.crew_days[(base.crew_days["crew"] == GRAFTERS) & (base.crew_days["regular_available"] > 0)]
    free = days["regular_available"] + days["overtime_available"] - days["regular"] - days["overtime"]
    idle = days["temporary_available"] - days["temporary"]
    assert weeks(days["day"][(free <= 1e-6) & (idle <= 1e-6)]) >= 2


@pytest.mark.parametrize(
    ("limit", "name"), [("slots", CHAMBER), ("regular hours", GRAFTERS), ("overtime hours", GRAFTERS)]
)
def test_one_more_would_save_in_two_weeks_or_more(base: Plan, limit: str, name: str) -> None:
    prices = base.shadow_prices[(base.shadow_prices["limit"] == limit) & (base.shadow_prices["name"] == name)]
    assert weeks(prices["day"][prices["value"] < -0.01]) >= 2


def test_buying_in_is_dearer_than_growing_and_fills_the_peak(demo: Scenario, base: Plan) -> None:
    bought = base.orders[base.orders["bought"] > 0]
    assert bought["bought"].sum() > 1000
    price = {offer.product: offer.price for offer in demo.buy_in_offers}
    limits = base.shadow_prices
    growing = limits[limits["limit"] == "order"].set_index("name")["value"]
    for product in set(bought["product"]):
        grown = base.orders[(base.orders["product"] == product) & (base.orders["bought"] == 0)]
        assert min(growing[order] for order in grown["order"]) < price[product]


def test_temporary_hands_are_taken_on(base: Plan) -> None:
    assert base.temporary["heads"].max() >= 1


def test_nothing_is_short(base: Plan) -> None:
    assert base.short == 0


def test_whole_trays_come_near_the_bound(base: Plan) -> None:
    assert base.facts.whole
    assert 0 <= base.facts.gap <= 0.005
    assert base.facts.bound >= base.facts.continuous_objective - 1e-6


def test_cost_of_a_plant_is_plausible(demo: Scenario, base: Plan) -> None:
    assert 0.5 <= base.cost / sum(order.quantity for order in demo.orders) <= 1.3


def test_audit_passes(demo: Scenario, base: Plan) -> None:
    checks = audit(demo, base)
    assert checks
    assert [(check.name, check.detail) for check in checks if not check.passed] == []


def test_figures_lie_inside_the_published_ranges(demo: Scenario) -> None:
    """Offers at short notice alone are remarked on, which are meant to be dear."""
    assert {(remark.table, remark.column) for remark in remarks(demo)} == {("buy_in_offers", "price")}


def test_same_plan_in_every_process(base: Plan) -> None:
    """However a process orders its sets: this one's seed of hashes is drawn anew in each run."""
    code = "from tests.end_to_end.test_demo import demo_plan, digest; print(digest(demo_plan()))"
    made = subprocess.run(
        [sys.executable, "-c", code],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": "2027"},
    )
    assert made.stdout == f"{digest(base)}\n"
