"""Whether grafted plants pay in the field: three published cases.

Watermelon, Tunisia, abstract: plants at 0.75 against 0.175 TND, 1,200 TND a hectare more for plants and about
500 on all costs, 56 against 40 t a hectare, 5,785 TND more net. Computed here: a tonne leaves 392.8 TND, so
the break-even lies 1.27 t above on all costs and 3.05 t on plants alone.

Tomato, north Florida, Djidonou, Gao, Zhao 2013, HortTechnology 23(5):613-621, abstract: 0.67 against
0.15 $ a plant, 3,020.16 $ an acre more for plants, 4,488 to 5,190 $ in all, 253 to 2,458 $ more net, 1,890
to 2,166 against 1,457 to 1,526 cartons. Computed here: 5,808 plants; one cost of harvest and packing, 3.39 $
a carton, gives both totals with the lower yields together and the higher together.

Cantaloupe, western Arizona, Tronstad, Gupta, Kubota 2021, Acta Hort. 1302, abstract: plants at 0.60 against
0.06 $, rows 80 inches and plants 14 inches apart, 3,024 $ an acre more.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from scenarios.studies.payback import Field

TUNISIA_PLANTS = 1_200 / (0.75 - 0.175)
TONNE = (5_785 + 500) / (56 - 40)
TUNISIA = Field(
    0.75, 0.175, TUNISIA_PLANTS, TUNISIA_PLANTS, 40.0, TONNE, other_costs=500.0 - 1_200, grafted_yield=56.0
)

FLORIDA = Field(0.67, 0.15, 5_808, 5_808, 1_457, 11.0, harvest_cost=3.39, grafted_yield=1_890)

INCHES_AN_ACRE = 43_560 * 144
"""Square inches: 43,560 square feet of 144."""


def test_watermelon_in_tunisia() -> None:
    assert pytest.approx(392.8, abs=0.05) == TONNE
    assert TUNISIA.plants_cost_more == pytest.approx(1_200)
    assert TUNISIA.all_cost_more == pytest.approx(500)
    assert TUNISIA.gain == pytest.approx(5_785)
    assert TUNISIA.break_even_yield == pytest.approx(41.27, abs=0.005)
    assert TUNISIA.more_yield(TUNISIA.plants_cost_more) == pytest.approx(3.055, abs=0.005)


def test_tomato_in_north_florida() -> None:
    """Extra cost with harvest: that of the plants, and of each carton more."""
    assert FLORIDA.plants_cost_more == pytest.approx(3_020.16)
    for own_root, grafted, total in ((1_457, 1_890, 4_488), (1_526, 2_166, 5_190)):
        field = replace(FLORIDA, own_root_yield=own_root, grafted_yield=grafted)
        harvest = (grafted - own_root) * field.harvest_cost
        assert field.all_cost_more + harvest == pytest.approx(total, abs=1.0)
        for net in (253, 2_458):
            price = (total + net) / (grafted - own_root)
            sold = replace(field, fruit_price=price)
            assert sold.gain == pytest.approx(net, abs=1.0)
            at = sold.break_even_yield
            assert at is not None
            assert own_root < at < grafted


def test_cantaloupe_in_western_arizona() -> None:
    plants = INCHES_AN_ACRE / (80 * 14)
    field = Field(0.60, 0.06, plants, plants, 1_000, 10.0)
    assert field.plants_cost_more == pytest.approx(3_024, abs=0.5)


@pytest.mark.parametrize("field", [TUNISIA, FLORIDA])
def test_at_each_break_even_nothing_is_gained(field: Field) -> None:
    """At the break-even yield, at the highest price and at the most plants the customer is as well off."""
    at, most = field.break_even_yield, field.most_plants
    assert at is not None
    assert most is not None
    for changed in (
        replace(field, grafted_yield=at),
        replace(field, grafted_price=field.highest_price),
        replace(field, grafted_plants=most),
    ):
        assert changed.gain == pytest.approx(0.0, abs=1e-6)
        assert replace(changed, grafted_price=changed.grafted_price * 1.01).gain < 0
