"""What to invest in: against the study of the chamber and plans made by hand, in a budget, growing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.program.cost_terms import yearly_cost
from model.questions.investment import net_present_value
from model.scenario.choices import PayBasis
from model.scenario.entities import Scenario
from model.scenario.records.people import CrewDay
from model.scenario.records.trade import ListPrice, Module
from model.solve import plan
from reports.book.parts import Formula
from reports.study.study import Study
from scenarios.cells.faults import Refused
from scenarios.studies.chamber import chamber_study
from scenarios.studies.invest import Growth, invest_study
from tests.scenario_parts import WORK
from tests.specimens import HANDS
from tests.strategies import base_scenario, with_nursery

GRAFTER = Module("trained grafter", None, None, 0, 30.0, 0.0, 3, "Grafters")
RACK = Module("rack", "Chamber", 4.0, 0, 60.0, 10.0, 4)
TABLE = Module("table", "House", 4.0, 0, 20.0, 0.0, 4)


def tight(*modules: Module, price: float | None = 3.0) -> Scenario:
    """The small scenario with a chamber too small for its order."""
    base = base_scenario()
    zones = tuple(replace(zone, slots=8.0) if zone.zone == "Chamber" else zone for zone in base.zones)
    orders = tuple(replace(order, price=price, shortfall_penalty=5.0) for order in base.orders)
    made = replace(base, zones=zones, orders=orders, modules=modules)
    return with_nursery(made, interest_rate=0.1)


def invest(scenario: Scenario, **more: Any) -> Study:
    asked: dict[str, Any] = {
        "most": 2,
        "years": 1,
        "rate": None,
        "growth": 0.0,
        "price_growth": 0.0,
        "pay_growth": 0.0,
        "budget": None,
        "workers": 1,
    }
    return invest_study(scenario, **(asked | more))


def cells(study: Study, name: str, key: str) -> list[Any]:
    section = next(section for section in study.sections if section.name == name)
    at = [shown.key for shown in section.columns].index(key)
    return [row[at].value if isinstance(row[at], Formula) else row[at] for row in section.rows]


def test_one_kind_one_year_no_growth_is_the_study_of_the_chamber() -> None:
    scenario = tight(RACK)
    chamber = chamber_study(scenario, module=None, most=2, workers=1)
    invested = invest(scenario)
    for key in ("cost", "total", "paid", "penalties", "short"):
        assert cells(invested, "Seasons", key) == pytest.approx(cells(chamber, "Modules", key))
    assert cells(invested, "Sets", "yearly") == pytest.approx(cells(chamber, "Modules", "yearly"))
    none, one = (cells(chamber, "Modules", "penalties")[n] for n in range(2))
    assert none > one
    assert "with penalties for plants short), with them surely between" in " ".join(chamber.answer)
    assert "The first module saves, with penalties (USD)" in [figure.label for figure in chamber.figures]


def test_the_better_of_two_sets_is_the_better_when_both_are_planned_by_hand() -> None:
    scenario = tight(RACK, TABLE)
    study = invest(scenario, years=4, most=1)
    values = dict(zip(cells(study, "Sets", "set"), cells(study, "Sets", "value"), strict=True))
    assert set(values) == {"nothing", "1 table", "1 rack", "1 rack and 1 table"}

    def left(*numbers: int) -> float:
        modules = tuple(replace(m, added=n) for m, n in zip((RACK, TABLE), numbers, strict=True))
        made = plan(replace(scenario, modules=modules))
        own = sum(n * yearly_cost(scenario.nursery, m) for m, n in zip((RACK, TABLE), numbers, strict=True))
        sales = float((3.0 * (made.orders["own"] + made.orders["bought"])).sum())
        return sales - (made.cost - made.penalties - own)

    for name, numbers, first, worth in (("1 rack", (1, 0), 60.0, 10.0), ("1 table", (0, 1), 20.0, 0.0)):
        gain = left(*numbers) - left(0, 0)
        right = net_present_value(0.1, [-first, gain, gain, gain, gain + worth])
        assert values[name] == pytest.approx(right)
    best = max(values, key=lambda name: values[name])
    assert study.answer[0].startswith("Buy nothing" if best == "nothing" else f"Buy {best}: ")
    assert best != "nothing"
    season = left(*(int(f"1 {name}" in best) for name in ("rack", "table")))
    told = f"leaves a result of {season:,.2f} USD before they are paid, {season - left(0, 0):,.2f} USD more"
    assert told in study.answer[2]


def short_of_hands(*modules: Module, **crew: Any) -> Scenario:
    """The same with work to do, and changes of the grafters."""
    return replace(
        tight(*modules, price=20.0), labour_standards=WORK, crews=(HANDS[0], replace(HANDS[1], **crew))
    )


def test_room_and_hands_together_are_as_planned_by_hand() -> None:
    """One set of each kind and both, in one year: a trained hand is one head more, a rack slots more."""
    scenario = short_of_hands(RACK, GRAFTER, heads=0.125)
    study = invest(scenario, most=1)
    gains = dict(zip(cells(study, "Sets", "set"), cells(study, "Sets", "year1"), strict=True))
    assert set(gains) == {"nothing", "1 rack", "1 trained grafter", "1 rack and 1 trained grafter"}

    def left(racks: int, heads: float) -> float:
        zones = tuple(
            replace(zone, slots=8.0 + 4.0 * racks) if zone.zone == "Chamber" else zone
            for zone in scenario.zones
        )
        crews = tuple(
            replace(crew, heads=heads) if crew.crew == "Grafters" else crew for crew in scenario.crews
        )
        made = plan(replace(scenario, zones=zones, crews=crews, modules=()))
        sales = float((20.0 * (made.orders["own"] + made.orders["bought"])).sum())
        return sales - (made.cost - made.penalties)

    none, worth = left(0, 0.125), {"rack": 60 - 50 / 4, "hand": 30 - 30 / 3}
    assert gains["1 rack"] == pytest.approx(left(1, 0.125) - none + worth["rack"], abs=0.01)
    assert gains["1 trained grafter"] == pytest.approx(left(0, 1.125) - none + worth["hand"], abs=0.01)
    both = left(1, 1.125) - none + sum(worth.values())
    assert gains["1 rack and 1 trained grafter"] == pytest.approx(both, abs=0.01)
    assert both > gains["1 trained grafter"] > worth["hand"] + 1


def test_a_hand_paid_worked_or_not_may_cost_more_than_it_saves() -> None:
    """The plan with one hand fewer is no plan with it: its pay is due all the same."""
    committed = short_of_hands(GRAFTER, heads=2.0, pay_basis=PayBasis.COMMITTED)
    study = invest(committed, most=1)
    none, one = cells(study, "Seasons", "cost")
    assert one - none == pytest.approx(21 * 8 * 25)
    assert study.answer[0].startswith("Buy nothing")


def test_the_chamber_is_asked_of_zones_alone() -> None:
    scenario = short_of_hands(RACK, GRAFTER)
    assert chamber_study(scenario, module=None, most=0, workers=1).answer
    with pytest.raises(Refused, match="adds to the crew Grafters, not to a zone: ask invest"):
        chamber_study(scenario, module="trained grafter", most=0, workers=1)
    with pytest.raises(Refused, match="no modules of a zone"):
        chamber_study(short_of_hands(GRAFTER), module=None, most=0, workers=1)


def test_a_budget_leaves_out_what_it_cannot_buy() -> None:
    study = invest(tight(RACK, TABLE), most=1, budget=60.0)
    assert cells(study, "Sets", "set") == ["nothing", "1 table", "1 rack"]


def test_years_grow_from_the_second_on() -> None:
    scenario = tight(RACK)
    grown = Growth(0.1, 0.5, 1.0).of_year(scenario, 3)
    (before,), (after,) = scenario.orders, grown.orders
    assert after.quantity == round(before.quantity * 1.21)
    assert after.price == pytest.approx(3.0 * 2.25)
    assert [crew.pay_per_hour for crew in grown.crews] == [4 * crew.pay_per_hour for crew in scenario.crews]
    assert Growth(0.1, 0.5, 1.0).of_year(scenario, 1) == scenario
    study = invest(scenario, years=2, most=1, growth=0.1)
    costs = cells(study, "Seasons", "cost")
    assert len(costs) == 4
    assert costs[1] == pytest.approx(plan(Growth(0.1, 0.0, 0.0).of_year(scenario, 2)).cost)


def test_prices_of_the_list_and_pay_from_a_date_on_grow_too() -> None:
    scenario = short_of_hands(GRAFTER)
    (grafters, *_), (order, *_) = scenario.crews, scenario.orders
    listed = ListPrice(order.product, 1, None, 2.0)
    scenario = replace(
        scenario,
        crew_days=(CrewDay(grafters.crew, order.due_day, pay_per_hour=30.0, temp_pay_per_hour=10.0),),
        list_prices=(listed,),
        nursery=replace(scenario.nursery, least_charge=40.0),
    )
    grown = Growth(0.0, 0.5, 1.0).of_year(scenario, 2)
    (dated,) = grown.crew_days
    assert (dated.pay_per_hour, dated.temp_pay_per_hour) == (60.0, 20.0)
    assert (grown.list_prices[0].price, grown.nursery.least_charge) == (3.0, 60.0)


def test_the_value_follows_the_interest_in_the_workbook() -> None:
    study = invest(tight(RACK), years=3, most=1)
    (section,) = [section for section in study.sections if section.name == "Sets"]
    at = [shown.key for shown in section.columns].index("value")
    cell = section.rows[1][at]
    assert isinstance(cell, Formula)
    assert cell.text == "={now}+NPV(Interest,{year1},{year2},{year3})"


def test_without_prices_plants_delivered_count_for_nothing_and_it_says_so() -> None:
    study = invest(tight(RACK, price=None), most=1)
    assert any("give the orders prices" in sentence for sentence in study.answer)


def test_what_cannot_be_asked_is_refused() -> None:
    with pytest.raises(Refused, match="no modules"):
        invest(tight())
    with pytest.raises(Refused, match="seasons to plan"):
        invest(tight(RACK, TABLE), most=100, years=2, growth=0.1)
