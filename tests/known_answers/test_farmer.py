"""K4 The farmer: how much of 500 acres to give to wheat, corn and beets, with yields known and not known.

Source: Birge, Louveaux, Introduction to Stochastic Programming, section 1.1. Planting an acre costs 150,
230 and 260; an acre yields 2.5, 3 and 20 tons on average; 200 tons of wheat and 240 of corn are needed and
may be bought at 238 and 210, what is over sells at 170 and 150; beets sell at 36 up to 6,000 tons and at 10
beyond. Profit 118,600 at average yields with 120, 80 and 300 acres; 108,390 if yields 0.8, 1 and 1.2 times
the average are as likely as each other and acres must be chosen before. An acre more is worth 275 at
average yields (computed beside the example).

Mapping: an acre is a slot, a ton a plant; a tray of own-root seedlings stands on its acre for a day. What
is needed is an order that an offer may fill, what is over is surplus with a salvage price, beets up to
6,000 are an order that may be declined in part for its price.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from scipy.optimize import linprog

from model.planned.plan_tables import Plan
from model.scenario.calendar import WEEKDAYS
from model.scenario.choices import Decline, ZoneUse
from model.scenario.entities import Product, Scenario, TrayFormat
from model.scenario.records.trade import BuyInOffer
from model.solve import plan
from tests.known_answers.build import (
    PLENTY,
    lot,
    only_price,
    order,
    own_root,
    own_root_method,
    planned,
    pool,
    seed_price,
)

ACRES = 500.0


class Crop(NamedTuple):
    """Cost of planting an acre, mean tons an acre, plants of a tray at best, price of a ton over."""

    cost: float
    tons: float
    cells: int
    over: float


CROPS = {
    "wheat": Crop(150, 2.5, 4, 170),
    "corn": Crop(230, 3.0, 4, 150),
    "beets": Crop(260, 20.0, 24, 10),
}
ORDERS = [
    order("wheat", 200, 1, "wheat"),
    order("corn", 240, 1, "corn"),
    order("beets", 6000, 1, "beets", price=36.0, decline=Decline.PART),
]
BEETS = 36.0 * 6000
"""Price of all beets ordered; the plan's cost counts what is not delivered of it as forgone."""


def farm(acres: dict[str, float], factor: float, planting: float = 1.0) -> Scenario:
    """The farm with its acres in fields by crop or in one; yields and planting cost times factors."""
    field = {name: name if name in acres else "land" for name in CROPS}
    return own_root(
        2,
        ORDERS,
        products=tuple(
            Product(name, "crop", name, None, "own-root", name, salvage_price=crop.over, salvage_most=PLENTY)
            for name, crop in CROPS.items()
        ),
        seed_lots=tuple(
            lot(
                name,
                stock=0,
                germination=factor * crop.tons / crop.cells,
                germination_zone=field[name],
                bench_zone=field[name],
            )
            for name, crop in CROPS.items()
        ),
        packs=tuple(
            seed_price(planting * crop.cost / crop.cells, f"{name} lot") for name, crop in CROPS.items()
        ),
        tray_formats=tuple(TrayFormat(name, crop.cells, 1.0) for name, crop in CROPS.items()),
        methods=(own_root_method(scion_age_min=1, scion_age_max=1),),
        zones=(
            *(pool(name, ZoneUse.BENCH, slots) for name, slots in acres.items()),
            pool("hold", ZoneUse.HOLDING),
        ),
        buy_in_offers=(
            BuyInOffer("wheat bought", "wheat", 238.0, 0, WEEKDAYS, None, None, 0, None),
            BuyInOffer("corn bought", "corn", 210.0, 0, WEEKDAYS, None, None, 0, None),
        ),
    )


def test_profit_and_acres_at_average_yields(tmp_path: Path) -> None:
    made = planned(farm({"land": ACRES}, 1.0), tmp_path)
    assert BEETS - made.cost == pytest.approx(118_600)
    acres = made.waves.set_index("format")["trays"]
    assert acres[list(CROPS)].tolist() == pytest.approx([120, 80, 300])
    assert only_price(made, "slots").value == pytest.approx(-275)


@pytest.mark.parametrize(("factor", "profit"), [(1.2, 167_667), (0.8, 59_950)])
def test_profit_at_good_and_bad_yields_known_before(tmp_path: Path, factor: float, profit: float) -> None:
    """Perfect information: 167,667 in a good year, 59,950 in a bad one (same source, from memory)."""
    made = planned(farm({"land": ACRES}, factor), tmp_path)
    assert BEETS - made.cost == pytest.approx(profit, abs=1)


def _recourse(acres: np.ndarray, factor: float) -> tuple[float, np.ndarray]:
    """Least cost after planting so many acres, and what an acre more of each crop adds to it."""
    sown = dict(zip(CROPS, (float(a) for a in acres), strict=True))
    made: Plan = plan(farm(sown, factor, planting=0.0), whole=False)
    slots = made.shadow_prices.query("limit == 'slots'").set_index("name")["value"]
    return made.cost, np.array([float(slots.get(name, 0.0)) for name in CROPS])


def test_profit_where_acres_are_chosen_before_yields_are_known() -> None:
    """Cuts from the plan's shadow prices of land reach the optimum of the two-stage problem."""
    factors, planting = (0.8, 1.0, 1.2), np.array([crop.cost for crop in CROPS.values()])
    size = len(CROPS) + len(factors)
    rows, rhs = [np.r_[np.ones(3), np.zeros(3)]], [ACRES]
    acres, best = np.array([120.0, 80.0, 300.0]), np.inf
    for _ in range(60):
        total = float(planting @ acres)
        for k, factor in enumerate(factors):
            cost, slope = _recourse(acres, factor)
            total += cost / 3
            row = np.zeros(size)
            row[:3], row[3 + k] = slope, -1.0
            rows.append(row)
            rhs.append(float(slope @ acres) - cost)
        best = min(best, total)
        found = linprog(
            np.r_[planting, np.full(3, 1 / 3)],
            np.array(rows),
            np.array(rhs),
            bounds=[(0, None)] * 3 + [(-1e7, None)] * 3,
        )
        acres = found.x[:3]
        if best - found.fun < 1e-4:
            break
    assert BEETS - best == pytest.approx(108_390)
    assert acres == pytest.approx([170, 80, 250], abs=0.1)


def test_the_scenario_is_the_same_with_fields_apart() -> None:
    """Given its 120, 80 and 300 acres apart, the farm earns what it earns with one field."""
    acres = dict(zip(CROPS, (120.0, 80.0, 300.0), strict=True))
    apart = farm(acres, 1.0)
    assert BEETS - plan(replace(apart), whole=False).cost == pytest.approx(118_600)
