"""The chamber study: its figures against plans with as many modules."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.program.cost_terms import yearly_cost
from model.scenario.entities import Scenario
from model.scenario.records.trade import Module
from model.solve import plan
from scenarios.studies.chamber import Sized, chamber_study, in_order, recommended, with_modules
from tests.demo import demo as the_demo
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_rows
from tests.study_rows import least, records, section, worth


@pytest.fixture(scope="module")
def demo() -> Scenario:
    return the_demo()


def test_the_chamber_study_is_the_plans_with_that_many_modules(demo: Scenario) -> None:
    study = chamber_study(demo, module="chamber rack", most=2, workers=1)
    rows = records(section(study, "Modules"))
    yearly = yearly_cost(demo.nursery, demo.modules[0])
    plans = [plan(with_modules(demo, "chamber rack", n)) for n in range(3)]
    for n, row in enumerate(rows):
        assert worth(row["cost"]) == pytest.approx(
            min(made.cost - m * yearly for m, made in enumerate(plans[: n + 1])), abs=0.01
        )
        assert worth(row["cost"]) + n * yearly == pytest.approx(worth(row["total"]))
        sized = with_modules(demo, "chamber rack", n)
        assert worth(row["fractional"]) + n * yearly == pytest.approx(least(sized), abs=0.01)
    costs = [worth(row["cost"]) for row in rows]
    assert costs == sorted(costs, reverse=True)
    for n, row in enumerate(rows[1:], 1):
        assert worth(row["saved"]) == pytest.approx(costs[n - 1] - costs[n])
        assert 0 <= worth(row["least"]) <= worth(row["saved"]) <= worth(row["most"])
        gaps = sum(made.cost - made.facts.bound for made in plans[n - 1 : n + 1])
        assert worth(row["most"]) - worth(row["least"]) <= gaps + 0.01
    totals = [worth(row["total"]) for row in rows]
    assert study.figures[0].value == float(totals.index(min(totals)))


def test_more_modules_never_cost_more() -> None:
    """A plan for fewer modules is one for more, too; the bound stays that of its own number."""
    found = in_order(
        [
            Sized(0, 90.0, 80.0, 3.0, 9.0, 5.0),
            Sized(1, 95.0, 70.0, 4.0, 12.0, 1.0),
            Sized(2, 60.0, 50.0, 0.0, 0.0, 35.0),
        ]
    )
    assert found == [
        Sized(0, 90.0, 80.0, 3.0, 9.0, 5.0),
        Sized(1, 90.0, 70.0, 3.0, 9.0, 5.0),
        Sized(2, 60.0, 50.0, 0.0, 0.0, 35.0),
    ]


def test_one_more_slot_saves_at_most_its_dual(demo: Scenario) -> None:
    study = chamber_study(demo, module="chamber rack", most=1, workers=1)
    rows = records(section(study, "Slots by date"))
    assert rows
    for row in rows:
        assert -1e-3 <= worth(row["saving"]) <= worth(row["dual"]) + 1e-3


def test_a_module_that_costs_money_and_saves_penalties_is_told_both_ways() -> None:
    """Plants without room: the module brings them, their seed, and no penalty of 50 each."""
    tight = with_rows(base_scenario(), "zones", lambda z: replace(z, slots=4.0) if z.zone == "Chamber" else z)
    sized = replace(tight, modules=(Module("rack", "Chamber", 20.0, 0, 100.0, 0.0, 10),))
    study = chamber_study(sized, module=None, most=1, workers=1)
    assert "; the first costs " in study.answer[0]
    assert "USD more (saves " in study.answer[0]


def test_units_are_sized_as_slots_are() -> None:
    units = SPECIMENS["units"] if "units" in SPECIMENS else SPECIMENS["units all-in all-out"]
    zone = next(z for z in units.zones if z.units is not None)
    module = Module("unit", zone.zone, zone.unit_slots or 0.0, 0, 100.0, 0.0, 10)
    with_unit = replace(
        units,
        modules=(module,),
        zones=tuple(replace(z, units=1) if z is zone else z for z in units.zones),
    )
    study = chamber_study(with_unit, module="unit", most=2, workers=1)
    for n, row in enumerate(records(section(study, "Modules"))):
        assert worth(row["fractional"]) == pytest.approx(
            least(with_modules(with_unit, "unit", n)) - n * yearly_cost(with_unit.nursery, module), abs=0.01
        )


def test_the_fewest_modules_of_equal_cost_are_recommended() -> None:
    assert recommended([100.0, 90.0, 80.0], 10.0, "USD") == 0
    assert recommended([100.0, 80.0, 65.0, 60.0], 10.0, "USD") == 2
    assert recommended([100.0], 10.0, "USD") == 0
    # Half a yen is not shown, so 100 and 99.6 are equal there.
    assert [recommended([100.0, 89.6], 10.0, code) for code in ("USD", "JPY", "KWD")] == [1, 0, 1]
    assert [recommended([100.0, 89.998], 10.0, code) for code in ("USD", "JPY", "KWD")] == [0, 0, 1]
