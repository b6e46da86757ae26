"""Least batches: a published commitment of two generators with least loads, and plans worked by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.planned.plan_tables import Plan, rows_of
from model.proof.audit import audit
from model.questions.whole_differences import declined_plants, order_declined, with_orders
from model.scenario.choices import Decline, Per, ZoneUse
from model.scenario.entities import Order, Product, Scenario
from model.scenario.records.trade import Pack, Supply, SupplyUse
from model.solve import plan, solve
from tests.independent import least_cost
from tests.known_answers.build import (
    PLENTY,
    grafted_method,
    lot,
    nursery,
    order,
    planned,
    pool,
    seed_price,
    through_tables,
)
from tests.known_answers.build import own_root as plain_nursery


def joins_by_day(made: Plan) -> dict[tuple[str, int], float]:
    """Joins of each method on each day of the month, those of 0 left out."""
    rows = made.flows.groupby(["method", "graft_day"])["joins"].sum()
    return {(method, day.day): float(joins) for (method, day), joins in rows.items() if joins > 0}


def two_ways(loads: list[int], least: dict[str, int | None], cost: dict[str, float]) -> Scenario:
    """Orders of one product, each due on its own day and grafted on it, by methods with a cost of a join."""
    base = plain_nursery(len(loads), [order(f"day {t}", load, t) for t, load in enumerate(loads)])
    return replace(
        base,
        products=tuple(
            Product(
                "plant" if n == 0 else f"plant, {name}",
                "tomato",
                "variety",
                "root",
                name,
                "single",
                ("single",),
                sold_as=None if n == 0 else "plant",
            )
            for n, name in enumerate(least)
        ),
        seed_lots=(lot(), lot("root")),
        methods=tuple(
            grafted_method(method=name, holding_limit_days=0, least_batch=few) for name, few in least.items()
        ),
        supplies=tuple(Supply(f"of {name}", "piece", 0.0, 0) for name in least),
        packs=tuple(Pack(f"of {name}", 1.0, price) for name, price in cost.items()),
        supply_uses=tuple(SupplyUse(f"of {name}", Per.JOIN, name, None, 1.0) for name in least),
    )


def test_least_loads_of_two_generators(tmp_path: Path) -> None:
    """PyPSA's example of unit commitment, "Minimum part load demonstration": 356,000.

    Coal makes at least 3,000 of 10,000 MW at 20 EUR, gas at least 100 of 1,000 MW at 70 EUR. Loads of
    4,000, 6,000, 5,000 and 800 MW: in the last hour the load is below the least of coal, and gas serves it.
    (4,000 + 6,000 + 5,000) · 20 + 800 · 70 = 356,000. What the example may not do costs more: coal with
    2,200 for nobody, 3,000 · 20 > 800 · 70. Their most does not bind. Read at
    https://docs.pypsa.org, Unit commitment.
    """
    scenario = two_ways([4000, 6000, 5000, 800], {"coal": 3000, "gas": 100}, {"coal": 20.0, "gas": 70.0})
    made = planned(scenario, tmp_path, whole=True)
    assert made.facts.objective == pytest.approx(356_000, abs=0.01)
    assert joins_by_day(made) == {
        ("coal", 1): 4000,
        ("coal", 2): 6000,
        ("coal", 3): 5000,
        ("gas", 4): 800,
    }
    assert [check for check in audit(scenario, made) if not check.passed] == []
    assert made.facts.bound == pytest.approx(356_000, abs=0.01)


def test_without_leasts_the_cheaper_way_makes_all(tmp_path: Path) -> None:
    """15,800 · 20 = 316,000."""
    of = two_ways([4000, 6000, 5000, 800], {"coal": None, "gas": None}, {"coal": 20.0, "gas": 70.0})
    assert planned(of, tmp_path, whole=True).facts.objective == pytest.approx(316_000, abs=0.01)


@pytest.mark.parametrize(
    ("quantity", "penalty", "cost", "short", "surplus"),
    [
        # A join costs 2: 72 of them 144. 50 plants left short at 2.9 cost 145, at 2.8 140.
        (50, 2.9, 144.0, 0, 22),
        (50, 2.8, 140.0, 50, 0),
        # As many as the least are no more than the order.
        (72, 2.1, 144.0, 0, 0),
        (80, 2.1, 160.0, 0, 0),
    ],
)
def test_a_small_order_fills_the_batch_or_is_left_short(
    quantity: int, penalty: float, cost: float, short: int, surplus: int, tmp_path: Path
) -> None:
    scenario = two_ways([quantity], {"splice": 72}, {"splice": 2.0})
    scenario = replace(scenario, nursery=nursery(1, shortfall_penalty=penalty))
    made = plan(through_tables(scenario, tmp_path))
    assert made.facts.objective == pytest.approx(cost)
    assert (made.short, float(made.flows["surplus"].sum())) == (short, surplus)
    assert least_cost(scenario, whole=True) == pytest.approx(cost)
    assert [check for check in audit(scenario, made) if not check.passed] == []


@pytest.mark.parametrize(
    ("least", "cost", "days"), [(None, 100.0, 2), (50, 100.0, 2), (57, 114.0, 2), (58, 115.0, 1)]
)
def test_two_orders_share_a_day_where_neither_fills_a_batch(
    least: int | None, cost: float, days: int, tmp_path: Path
) -> None:
    """50 plants a day at 1 each, held at .3 a slot and night: 7 spare a day cost less than 15 for a night."""
    scenario = two_ways([50, 50], {"splice": least}, {"splice": 1.0})
    scenario = replace(
        scenario,
        methods=(replace(scenario.methods[0], holding_limit_days=1),),
        zones=(scenario.zones[0], pool("hold", ZoneUse.HOLDING, PLENTY, 0.3)),
    )
    made = planned(scenario, tmp_path, whole=True)
    assert made.facts.objective == pytest.approx(cost)
    assert len(joins_by_day(made)) == days
    assert made.short == 0


def test_products_of_one_method_fill_a_batch_together(tmp_path: Path) -> None:
    """40 of each of two products are 80 joins; neither alone would be set up for."""
    scenario = two_ways([40], {"splice": 72}, {"splice": 1.0})
    other = replace(scenario.products[0], product="other")
    both = replace(
        scenario,
        products=(*scenario.products, other),
        orders=(*scenario.orders, order("other", 40, 0, product="other")),
        packs=(*scenario.packs, seed_price(0.5)),
        seed_lots=(lot(stock=0), lot("root")),
    )
    made = planned(both, tmp_path, whole=True)
    assert sorted(rows_of(made.flows, "product", "joins")) == [("other", 40.0), ("plant", 40.0)]
    assert made.facts.objective == pytest.approx(80 * 1.5)


def a_day_open(small: Order) -> tuple[Scenario, Scenario]:
    """100 plants joined on day 0 at 1 each, least batch 50, without a small order and with it."""
    both = two_ways([100, 20], {"splice": 50}, {"splice": 1.0})
    (booked, _) = both.orders
    return replace(both, orders=(booked,)), replace(both, orders=(booked, small))


@pytest.mark.parametrize(("due", "adds"), [(0, 20.0), (1, 50.0)])
def test_a_small_order_adds_itself_or_the_batch_of_the_day_that_it_opens(due: int, adds: float) -> None:
    """20 plants beside the 100 are 20 joins more; on a day of their own 50, of which 30 are for nobody."""
    small = order("small", 20, due)
    without, _ = a_day_open(small)
    found = with_orders(solve(without), [small])
    assert found.adds == pytest.approx(adds)
    assert found.larger.solution.objective == pytest.approx(100 + adds)


@pytest.mark.parametrize(("due", "price", "declined"), [(0, 0.9, 20), (0, 1.1, 0), (1, 2.4, 20), (1, 2.6, 0)])
def test_a_small_order_is_taken_where_its_price_pays_for_its_batch(
    due: int, price: float, declined: float
) -> None:
    """20 plants are worth taking from 20 / 20 each beside the 100, from 50 / 20 on a day of their own."""
    _, both = a_day_open(order("small", 20, due, price=price, decline=Decline.WHOLE))
    book = solve(both)
    assert declined_plants(book)["small"] == pytest.approx(declined)
    taking = order_declined(book, "small") if declined else None
    assert taking is None or taking.adds == pytest.approx(20.0 if due == 0 else 50.0)
