"""How many trays a number of plants needs, by the cells of a tray, and what they and their filling cost.

Source: Tohoku agricultural research, leek plugs, read (authors and year not noted): 40,000 plants need 47, 61
and 76 trays for 864, 660 and 528 plants each. Trays of the first two cost 8,460 and 29,890 yen, at 180 and
490 yen a tray; media and the like 9,260 (7,080 + 1,230 + 950), 25,680 and 49,400 yen.

Mapping: an order of 40,000 own-root plants, every seed a usable seedling, trays sown whole. What is sown,
stands and is worked on counts whole trays until the seedlings leave the bench. Trays are a supply of each
tray sown. So is what else is used: the source prints it for all trays, and each bears its part. Where plants
leave in whole trays, the vehicle carries as many, and their plants are billed.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from model.planned.results import result_of
from model.scenario.choices import Per
from model.scenario.entities import Product, TrayFormat
from model.scenario.records.trade import Customer, Pack, Run, Supply, SupplyUse
from tests.known_answers.build import HOUR_A_TRAY, crew, nursery, order, own_root, planned

PLANTS = 40_000


@pytest.mark.parametrize(("cells", "trays"), [(864, 47), (660, 61), (528, 76)])
def test_trays_of_40000_plants(cells: int, trays: int, tmp_path: Path) -> None:
    """An hour a tray sown: so many hours too, and as many seeds as the trays have cells."""
    leeks = own_root(
        3,
        [order("leeks", PLANTS, 1)],
        products=(Product("plant", "leek", "variety", None, "own-root", "plug"),),
        tray_formats=(TrayFormat("plug", cells, 1.0),),
        crews=(crew(heads=100.0),),
        labour_standards=(HOUR_A_TRAY,),
    )
    made = planned(leeks, tmp_path, whole=True)
    assert made.short == 0
    assert made.waves["trays"].sum() == trays
    assert made.waves["seeds"].sum() == trays * cells
    assert made.hours["hours"].sum() == pytest.approx(trays)


@pytest.mark.parametrize(
    ("cells", "a_tray", "media", "for_trays"),
    [(864, 180.0, 9_260.0, 8_460.0), (660, 490.0, 25_680.0, 29_890.0)],
)
def test_what_trays_and_media_cost(
    cells: int, a_tray: float, media: float, for_trays: float, tmp_path: Path
) -> None:
    leeks = own_root(
        3,
        [order("leeks", PLANTS, 1)],
        products=(Product("plant", "leek", "variety", None, "own-root", "plug"),),
        tray_formats=(TrayFormat("plug", cells, 1.0),),
        supplies=(Supply("trays", "tray", 0.0, 0), Supply("media", "of all trays", 0.0, 0)),
        supply_uses=tuple(SupplyUse(name, Per.TRAY_SOWN, None, None, 1.0) for name in ("trays", "media")),
        packs=(Pack("trays", 1.0, a_tray), Pack("media", 1.0, media * a_tray / for_trays)),
    )
    made = planned(leeks, tmp_path, whole=True)
    assert made.short == 0
    bought = made.purchases.groupby("item")["amount"].sum()
    assert bought["trays"] == pytest.approx(for_trays)
    assert bought["media"] == pytest.approx(media)
    assert made.cost == pytest.approx(for_trays + media)


@pytest.mark.parametrize(("cells", "trays"), [(864, 47), (660, 61), (528, 76)])
def test_plants_leave_in_as_many_whole_trays(cells: int, trays: int, tmp_path: Path) -> None:
    """Grown, loaded and billed: the 40,000, and those that fill the last tray."""
    leeks = own_root(
        3,
        [order("leeks", PLANTS, 1, price=0.5)],
        nursery=nursery(3, whole_trays_to_customer=True),
        products=(Product("plant", "leek", "variety", None, "own-root", "plug"),),
        tray_formats=(TrayFormat("plug", cells, 1.0),),
        customers=(Customer("customer", run="field"),),
        runs=(Run("field", ("Tue",), 0.0, 1.0, trays),),
    )
    made = planned(leeks, tmp_path, whole=True)
    assert made.short == 0
    assert made.orders["own"].sum() == trays * cells
    assert made.waves["seeds"].sum() == trays * cells
    assert made.cost == pytest.approx(trays), "one a tray that rides"
    assert result_of(made).sales == pytest.approx(0.5 * trays * cells)
