"""Heat by degree-days: a worked example in print, and both measures alike.

Source: How to use heating degree days to determine oil consumption (ehow.com, read): a building that loses
675 Btu an hour and degree Fahrenheit, in a season of 5,000 degree-days, needs 81,000,000 Btu. A gallon of
oil has 138,690 Btu (US Energy Information Administration), of which a boiler of efficiency 0.78 gives
108,178.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.rates.heat import Heating, Measures
from model.solve import plan
from scenarios.commands.command_line import DONE, main
from scenarios.files.write_scenario import write_folder
from scenarios.variants.by_name import read
from tests.known_answers.build import order, own_root, own_root_method

LOSS, DEGREE_DAYS, NEEDED = 675.0, 5_000, 81_000_000
OIL = Heating(Measures.US, 0.675, 1_000.0, 65.0, 3.0, 138.690, 0.78)
"""U · A is 675 Btu an hour and degree; oil at 3 a gallon."""


def test_heat_and_oil_of_a_season() -> None:
    outdoor = OIL.set_point - DEGREE_DAYS / 365
    weeks = 365 / 7
    assert weeks * OIL.degree_days(outdoor) == pytest.approx(DEGREE_DAYS)
    assert weeks * OIL.heat(outdoor) * 1_000 == pytest.approx(NEEDED)
    assert pytest.approx(108_178, abs=0.5) == 138_690 * 0.78
    assert weeks * OIL.fuel(outdoor) == pytest.approx(NEEDED / 108_178, rel=1e-5)
    assert weeks * OIL.week_cost(outdoor) == pytest.approx(3 * NEEDED / 108_178, rel=1e-5)


def test_warmer_outside_costs_nothing() -> None:
    assert OIL.week_cost(70.0) == 0.0


def test_both_measures_say_the_same() -> None:
    """1 Btu/(h ft2 F) is 5.678 W/(m2 K), a square foot 0.092903 m2, 1,000 Btu 0.29307 kWh."""
    inside, outside = ((f - 32) / 1.8 for f in (65, 40))
    metric = Heating(Measures.METRIC, 0.675 * 5.678263, 92.903, inside, 3.0, 138.690 * 0.293071, 0.78)
    assert metric.week_cost(outside) == pytest.approx(OIL.week_cost(40.0), rel=1e-4)


def test_the_variant_heats_the_house(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Twelve plants that stand for the four weeks of March: two bays of ten slots, at its cost."""
    march = own_root(
        29,
        [order("one", 12, 28)],
        methods=(own_root_method(scion_age_min=28, scion_age_max=28, holding_limit_days=0),),
    )
    write_folder(march, tmp_path / "march")
    asked = [
        *("--zone", "bench", "--slots-per-bay", "10", "--area", "1000", "--u-value", "0.675"),
        *("--measures", "us", "--set-point", "65", "--outdoor=20,30,40,50,60,70,75,70,60,50,40,30"),
        *("--fuel-price", "3", "--fuel-heat", "138.69", "--efficiency", "0.78"),
    ]
    assert main(["heat", str(tmp_path / "march"), *asked, "-o", str(tmp_path / "heat")]) == DONE
    heated = read(str(tmp_path / "heat" / "heated_bays.toml"))
    assert [row.cost_per_bay_week for row in heated.bays] == [pytest.approx(OIL.week_cost(40.0), abs=1e-4)]
    assert plan(heated).cost == pytest.approx(2 * 4 * OIL.week_cost(40.0), abs=0.01)
    # asked again of the variant, the rows give way to the new ones
    cheap = ["3" if word == "0.78" else word for word in asked]
    again = ["heat", str(tmp_path / "heat" / "heated_bays.toml"), *cheap, "-o", str(tmp_path / "again")]
    assert main(again) == DONE
    pump = replace(OIL, efficiency=3.0)
    rows = read(str(tmp_path / "again" / "heated_bays.toml")).bays
    assert [row.cost_per_bay_week for row in rows] == [pytest.approx(pump.week_cost(40.0), abs=1e-4)]
    capsys.readouterr()
