"""K5 scrap in series, and K8 a tray of pots: shares on the plants' way."""

from __future__ import annotations

from pathlib import Path

import pytest

from model.rates.yields import stand
from model.scenario.entities import Product, Scenario, TrayFormat
from tests.known_answers.build import (
    grafted_method,
    lot,
    order,
    own_root,
    own_root_method,
    planned,
    seed_price,
)

GOOD, START = 97_000, 105_219
"""Tompkins et al., Facilities Planning, ch. 2: losses of 4, 1 and 3 % in order."""


def grafted(match: float, take: float, survival: float, germination: float) -> Scenario:
    """The same plants grafted, rootstock and scion alike."""
    method = grafted_method(match=match, take=take, finish_survival=survival)
    product = Product("plant", "tomato", "scion", "rootstock", "splice", "single", ("single",))
    lots = tuple(lot(v, germination=germination, stock=0) for v in ("scion", "rootstock"))
    return own_root(
        1,
        [order("good", GOOD, 0)],
        products=(product,),
        methods=(method,),
        seed_lots=lots,
        packs=(seed_price(1.0, "scion lot"), seed_price(2.0, "rootstock lot")),
    )


@pytest.mark.parametrize("whole, start", [(False, GOOD / (0.96 * 0.99 * 0.97)), (True, START)])
def test_scrap_in_series_of_own_root_plants(tmp_path: Path, whole: bool, start: float) -> None:
    """4 % do not germinate, 1 % are graded out, 3 % die in finishing: rounded up once, at the start."""
    scenario = own_root(
        1,
        [order("good", GOOD, 0)],
        seed_lots=(lot(germination=0.96, grade_out=0.01, stock=0),),
        methods=(own_root_method(finish_survival=0.97),),
        packs=(seed_price(1.0),),
    )
    result = planned(scenario, tmp_path, whole=whole)
    assert result.waves["seeds"].sum() == pytest.approx(start)
    assert result.cost == pytest.approx(start)
    assert result.short == pytest.approx(0)


@pytest.mark.parametrize(
    "shares", [(1.0, 0.99, 0.97, 0.96), (0.96, 0.99, 0.97, 1.0)], ids=["germination", "match"]
)
@pytest.mark.parametrize("whole, start", [(False, GOOD / (0.96 * 0.99 * 0.97)), (True, START)])
def test_scrap_in_series_of_grafted_plants(
    tmp_path: Path, shares: tuple[float, float, float, float], whole: bool, start: float
) -> None:
    """4 % do not germinate or find no partner, 1 % of joins fail, 3 % die in finishing.

    Both the rootstock's and the scion's seeds start with the same number, at 1 and 2 a seed.
    """
    result = planned(grafted(*shares), tmp_path, whole=whole)
    assert result.waves["seeds"].tolist() == pytest.approx([start, start])
    assert result.cost == pytest.approx(3 * start)
    assert result.joins["joins"].sum() == pytest.approx(GOOD / (0.99 * 0.97), rel=2e-5)


def test_seedlings_in_a_pot() -> None:
    """Cambridge Pre-U 9794/3, June 2015, question 5: three seeds a pot, germination .7."""
    pot = stand(lot(germination=0.7, seeds_per_cell=3))
    assert pot == pytest.approx(0.973)
    assert pot**6 == pytest.approx(0.8485, abs=5e-5)


@pytest.mark.parametrize("cells", [1, 10])
@pytest.mark.parametrize("whole", [False, True])
def test_three_seeds_a_cell(tmp_path: Path, cells: int, whole: bool) -> None:
    """973 plants at .973 a cell need 1,000 cells and 3,000 seeds."""
    scenario = own_root(
        1,
        [order("pots", 973, 0)],
        seed_lots=(lot(germination=0.7, seeds_per_cell=3, stock=0),),
        tray_formats=(TrayFormat("single", cells, 1.0),),
        packs=(seed_price(0.5),),
    )
    result = planned(scenario, tmp_path, whole=whole)
    assert result.waves["trays"].sum() * cells == pytest.approx(1_000)
    assert result.waves["seeds"].sum() == pytest.approx(3_000)
    assert result.cost == pytest.approx(1_500)


def test_one_seed_a_cell_costs_less_seed_and_more_cells(tmp_path: Path) -> None:
    """973 / .7 = 1,390 cells and as many seeds."""
    scenario = own_root(
        1, [order("pots", 973, 0)], seed_lots=(lot(germination=0.7, stock=0),), packs=(seed_price(0.5),)
    )
    result = planned(scenario, tmp_path, whole=True)
    assert result.waves["trays"].sum() == 1_390
    assert result.cost == pytest.approx(695)
