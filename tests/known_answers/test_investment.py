"""Machines that stick cuttings, judged by net present value and payback.

Source: Univ. Florida, economic evaluation of transplant robots for plant cuttings, Scientia Horticulturae
2018/19 (read in the abstract): one machine of 125,000 dollars saves 29,891 a year over ten years: net present
value 105,807, discounted payback 4.8 years. The same group, Acta Horticulturae (abstract, cut before the net
present value): four machines of 500,000 save 62,488 a year at 5 % and ten years; their value is worked out
here from those figures: -17,484. What the four cost to run is not in the abstract, so their season is not
planned here.
"""

from __future__ import annotations

import pytest

from model.questions.investment import net_present_value, own_flows, payback_years, worth_left
from model.rates.yields import capital_recovery
from model.scenario.records.trade import Module
from scenarios.studies.invest import invest_study
from tests.known_answers.test_machines import machine, sticking

ONE = [-125_000.0, *[29_891.0] * 10]
FOUR = [-500_000.0, *[62_488.0] * 10]


def test_one_machine_pays() -> None:
    assert net_present_value(0.05, ONE) == pytest.approx(105_807, abs=5)
    assert payback_years(ONE, 0.05) == pytest.approx(4.8, abs=0.05)
    assert payback_years(ONE) == pytest.approx(125_000 / 29_891)


def test_the_machine_planned_in_seasons_pays_as_published() -> None:
    """The season of the source, a thousandth of a year in a day: its machine saves 29.887 a year.

    A machine that is not there yet is a crew of 0 heads and a module of it.
    """
    robot = Module("robot", None, None, 0, 125.0, 0.0, 10, "machine")
    scenario = sticking(machine(heads=0.0), modules=(robot,))
    study = invest_study(
        scenario,
        most=1,
        years=10,
        rate=0.05,
        growth=0.0,
        price_growth=0.0,
        pay_growth=0.0,
        budget=None,
        workers=1,
    )
    (section,) = [section for section in study.sections if section.name == "Sets"]
    none, one = (
        {column.key: cell for column, cell in zip(section.columns, row, strict=True)} for row in section.rows
    )
    assert none["value"].value == 0.0
    assert [one["now"], one["year1"], one["year10"]] == pytest.approx([-125.0, 29.891, 29.891], abs=0.005)
    assert one["value"].value == pytest.approx(105.807, abs=0.04)
    assert one["discounted"] == pytest.approx(4.8, abs=0.05)
    assert study.answer[0].startswith("Buy 1 robot: ")


def test_four_machines_do_not() -> None:
    assert net_present_value(0.05, FOUR) == pytest.approx(-17_484, abs=5)
    assert payback_years(FOUR, 0.05) is None


def test_capital_recovery_says_the_same() -> None:
    """16,188 a year is below 29,891; 64,752 above 62,488."""
    assert capital_recovery(125_000, 0, 0.05, 10) == pytest.approx(16_188, abs=1)
    assert capital_recovery(500_000, 0, 0.05, 10) == pytest.approx(64_752, abs=1)


@pytest.mark.parametrize("salvage", [0.0, 800.0])
@pytest.mark.parametrize("life", [1, 4, 8])
def test_owning_for_whole_lives_costs_the_capital_recovery(salvage: float, life: int) -> None:
    """The present value of what owning costs is that of its yearly cost, over two lives."""
    flows = own_flows(9_600.0, salvage, life, 2 * life)
    yearly = capital_recovery(9_600.0, salvage, 0.08, life)
    assert net_present_value(0.08, flows) == pytest.approx(
        -net_present_value(0.08, [0.0, *[yearly] * 2 * life])
    )


def test_what_is_left_of_a_part_of_a_life_comes_back() -> None:
    """By hand: 9,600 falls to 800 in 8 years, 1,100 a year; after 11 years the second one is 3 years old."""
    assert worth_left(9_600.0, 800.0, 8, 3) == 6_300.0
    flows = own_flows(9_600.0, 800.0, 8, 11)
    assert (flows[0], flows[8], flows[11]) == (-9_600.0, -8_800.0, 6_300.0)
    assert sum(flows) == -9_600.0 - 8_800.0 + 6_300.0


def test_what_costs_nothing_has_paid_back_at_once() -> None:
    assert payback_years([0.0, 5.0]) == 0.0
    assert payback_years([-10.0, 5.0, 0.0]) is None
