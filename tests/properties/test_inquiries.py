"""Random inquiries and cancellations: against every outcome by itself, and every number held tried."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import prod

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.inquiries.demand import demands
from model.scenario.entities import Scenario
from model.scenario.records.trade import Inquiry
from model.solve import solve
from scenarios.holding.hold import holding
from tests.depth import deep
from tests.known_answers.build import day, lot, order, own_root, seed_price

CHANCE = st.sampled_from([0.0, 0.1, 0.25, 0.5, 0.9])
PLANTS = st.integers(1, 12)
PRICE = st.sampled_from([1.0, 1.5, 2.0, 3.0])


@st.composite
def books(draw: st.DrawFn) -> Scenario:
    """Two orders of one product and day, up to four inquiries, salvage, plants at a constant cost."""
    orders = [
        order(name, draw(PLANTS), 2, price=5.0, cancel_chance=draw(CHANCE), cancel_kept=0.0) for name in "XY"
    ]
    asked = []
    for name in "ABCD"[: draw(st.integers(0, 4))]:
        grows = draw(st.sampled_from([None, None, "X", "Y"]))
        for quantity in draw(st.lists(PLANTS, min_size=1, max_size=2, unique=True)):
            chance = draw(CHANCE) / 2
            asked.append(Inquiry(name, "customer", "plant", quantity, day(2), draw(PRICE), chance, grows))
    plain = own_root(
        3, orders, seed_lots=(lot(stock=0),), packs=(seed_price(draw(st.sampled_from([0.6, 1.1]))),)
    )
    sold = replace(plain.products[0], salvage_price=0.5, salvage_most=draw(st.sampled_from([0, 3, 100])))
    return replace(plain, products=(sold,), inquiries=tuple(asked))


def earned(scenario: Scenario, held: int) -> float:
    """What plants held and plants freed sell for, expected: outcome by outcome."""
    names = sorted({row.inquiry for row in scenario.inquiries})
    rows = [[row for row in scenario.inquiries if row.inquiry == name] for name in names]
    wares = scenario.products[0]
    total = 0.0
    for cancelled in product([False, True], repeat=2):
        gone = {o.order for o, is_gone in zip(scenario.orders, cancelled, strict=True) if is_gone}
        chance = prod(o.cancel_chance if o.order in gone else 1 - o.cancel_chance for o in scenario.orders)
        for chosen in product(*([None, *of] for of in rows)):
            weight, buyers = chance, [(wares.salvage_price, wares.salvage_most)]
            for row, of in zip(chosen, rows, strict=True):
                weight *= 1 - sum(r.chance for r in of) if row is None else row.chance
                if row is not None and row.grows not in gone:
                    buyers.append((row.price, row.quantity))
            left = held + sum(o.quantity for o in scenario.orders if o.order in gone)
            for price, plants in sorted(buyers, reverse=True):
                total += weight * price * min(left, plants)
                left -= min(left, plants)
    return total


@settings(max_examples=deep(100), deadline=None)
@given(books(), st.integers(0, 30))
def test_sales_as_outcome_by_outcome(scenario: Scenario, held: int) -> None:
    for demand in demands(scenario):
        assert demand.resold == pytest.approx(earned(scenario, 0))
        assert demand.resold + demand.sales(held) == pytest.approx(earned(scenario, held))


@settings(max_examples=deep(40), deadline=None)
@given(books())
def test_no_other_number_held_earns_more(scenario: Scenario) -> None:
    cost = scenario.packs[0].price
    most = max((demand.most for demand in demands(scenario)), default=0)
    best = max(earned(scenario, q) - cost * q for q in range(most + 1))
    found = holding(scenario, solve(scenario))
    assert earned(scenario, found.held.plants) - cost * found.held.plants == pytest.approx(best, abs=1e-6)


@settings(max_examples=deep(60), deadline=None)
@given(books())
def test_steps_put_together_are_exact_where_they_end(scenario: Scenario) -> None:
    for demand in demands(scenario):
        end, total, above = 0, 0.0, float("inf")
        for plants, value in demand.steps(4):
            end, total = end + plants, total + plants * value
            assert total == pytest.approx(demand.sales(end))
            assert value <= above + 1e-12
            above = value
