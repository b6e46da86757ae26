"""What a graft costs, and the share that must be saleable for a price to pay.

Source: Qiu 2016, Guangxi Sericulture (1), grafted mulberry, read in its abstract alone: 30,000 grafts cost
8,900 yuan, 46.10 % of it labour; the break-even price is 0.48 yuan. Worked out here: 0.297 yuan a graft, and
8,900 / 0.48 = 18,542 plants sold, 61.8 % of the grafts.

Mapping: all else than labour is a supply of each graft. The plants that can be sold are ordered at 0.48. The
abstract does not say what the labour is for, so it stands as seconds of joining.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from model.planned.results import result_of
from model.scenario.choices import Per, Task
from model.scenario.entities import Product, Scenario, TrayFormat
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import BuyInOffer, Pack, Supply, SupplyUse
from tests.known_answers.build import (
    crew,
    grafted_method,
    lot,
    nursery,
    order,
    own_root,
    planned,
)

GRAFTS, COST, LABOUR, PRICE = 30_000, 8_900.0, 0.4610, 0.48
SALEABLE = 18_542
WAGE = 10.0
"""Yuan an hour; any gives the same answer, as the hours follow from it."""


def mulberry(take: float, plants: int, *offers: BuyInOffer) -> Scenario:
    """An order of so many plants, of which this share of the grafts can be sold."""
    a_graft = COST / GRAFTS
    return own_root(
        3,
        [order("mulberry", plants, 1, price=PRICE)],
        nursery=nursery(3, currency="CNY"),
        products=(Product("plant", "mulberry", "variety", "stock", "splice", "single", ("single",)),),
        seed_lots=(lot(), lot("stock")),
        tray_formats=(TrayFormat("single", 1, 0.01),),
        methods=(grafted_method(take=take),),
        crews=(crew(skills=("joining",), heads=100.0, pay_per_hour=WAGE),),
        labour_standards=(LabourStandard(Task.GRAFT, "joining", None, None, LABOUR * a_graft / WAGE * 3600),),
        supplies=(Supply("materials", "yuan", 0.0, 0),),
        supply_uses=(SupplyUse("materials", Per.JOIN, None, None, (1 - LABOUR) * a_graft),),
        packs=(Pack("materials", 1.0, 1.0),),
        buy_in_offers=offers,
    )


def test_the_whole_cost_of_30000_grafts(tmp_path: Path) -> None:
    made = planned(mulberry(SALEABLE / GRAFTS, SALEABLE), tmp_path)
    joins = made.joins["joins"].sum()
    lines = made.costs.groupby("line")["amount"].sum()
    assert made.short == pytest.approx(0)
    assert joins == pytest.approx(GRAFTS)
    assert made.cost == pytest.approx(COST)
    assert made.cost / joins == pytest.approx(0.297, abs=0.0005)
    assert made.cost / SALEABLE == pytest.approx(PRICE, abs=0.00005)
    assert lines["labour"] / made.cost == pytest.approx(LABOUR)
    assert result_of(made).result == pytest.approx(0, abs=PRICE)


@pytest.mark.parametrize(("take", "grafted"), [(0.617, 0.0), (0.619, 1.0)])
def test_grafting_pays_from_a_take_of_618_in_a_thousand(take: float, grafted: float, tmp_path: Path) -> None:
    """The same plants can be bought at the break-even price."""
    offer = BuyInOffer(
        "grower", "plant", PRICE, 0, ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), None, None, 0, None
    )
    made = planned(mulberry(take, 1_000, offer), tmp_path)
    assert made.orders["own"].sum() == pytest.approx(1_000 * grafted)
    assert made.orders["bought"].sum() == pytest.approx(1_000 * (1 - grafted))
