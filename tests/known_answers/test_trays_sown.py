"""How many trays a number of plants needs, by the cells of a tray.

Source: Tohoku agricultural research, leek plugs: 40,000 plants need 47, 61 and 76 trays of 864, 660 and 528
cells (authors and year not noted).

Mapping: an order of 40,000 own-root plants, every seed a usable seedling, trays sown whole. What is sown,
stands and is worked on counts whole trays until the seedlings leave the bench.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from model.scenario.entities import Product, TrayFormat
from tests.known_answers.build import HOUR_A_TRAY, crew, order, own_root, planned

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
